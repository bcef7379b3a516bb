// What can replace a belt that is sold out, on holes that are drilled already?
// Asks a running Beltspan over REST.
//
//     node substitutes.mjs H5M 36 36 178 355
//
// Section, driver teeth, driven teeth, belt teeth, center distance of the holes in
// mm. Needs nothing but fetch, so a page can use it as well:
//
//     import { substitutes } from "./substitutes.mjs";
//     const found = await substitutes({ section: "H5M", driver: 36, driven: 36, belt: 178, drilledMm: 355 });
//
// BELTSPAN_URL and BELTSPAN_TOKEN tell of another service than that of this machine.
// Where its certificate is of your own authority, node reads that when it starts:
// NODE_EXTRA_CA_CERTS=ca.pem in place of the BELTSPAN_CA_FILE of the other examples.
//
// The service lets scripts of other sites in where it was told so:
// beltspan serve --allow-origin https://site.example

const environment = globalThis.process?.env ?? {};

// Refused is what the service does not answer; `faults` has a text for each
// field that is wrong.
export class Refused extends Error {
  constructor(status) {
    super(status.message);
    const violations = (status.details ?? []).flatMap((detail) => detail.fieldViolations ?? []);
    this.faults = violations.length ? violations.map((v) => v.description) : [status.message];
  }
}

export async function ask(path, question, options = {}) {
  const { url = environment.BELTSPAN_URL ?? "http://127.0.0.1:8017", token = environment.BELTSPAN_TOKEN } = options;
  const headers = { "Content-Type": "application/json" };
  if (token) headers.Authorization = `Bearer ${token}`;
  const response = await fetch(url.replace(/\/+$/, "") + path, {
    method: "POST",
    headers,
    body: JSON.stringify(question),
    signal: AbortSignal.timeout(30_000),
  });
  const text = await response.text();
  if (response.ok) return JSON.parse(text);
  if (response.headers.get("Content-Type")?.includes("json")) throw new Refused(JSON.parse(text));
  throw new Refused({ message: `the service answers ${response.status} ${response.statusText}` });
}

export async function substitutes({ section, driver, driven, belt, drilledMm }, options) {
  return ask("/v1/drives:searchSubstitutes", {
    drive: { section, driver: { toothCount: driver }, driven: { toothCount: driven }, beltToothCount: belt },
    drilledCenterDistanceMm: drilledMm,
    standardLengthsOnly: true,
    maxResults: 5,
  }, options);
}

function line({ drive, sameHoles, deviationMm, holeMoveMm }) {
  const fit = sameHoles
    ? `fits the holes, off by ${deviationMm.toFixed(3)} mm`
    : `wants a hole moved by ${holeMoveMm.toFixed(3)} mm`;
  return `${drive.beltToothCount} teeth on pulleys ${drive.driver.toothCount} and ${drive.driven.toothCount}: ${fit}`;
}

async function main([section, ...rest]) {
  const [driver, driven, belt, drilledMm] = rest.map(Number);
  if (rest.length !== 4 || !rest.every((text) => text.trim() !== "" && Number.isFinite(Number(text)))) {
    console.error("usage: node substitutes.mjs SECTION DRIVER DRIVEN BELT DRILLED_MM");
    return 2;
  }
  try {
    const answer = await substitutes({ section, driver, driven, belt, drilledMm });
    answer.substitutes.map(line).forEach((text) => console.log(text));
    answer.notes.forEach((note) => console.log(`note: ${note.message}`));
    return answer.substitutes.some((s) => s.sameHoles) ? 0 : 1;
  } catch (fault) {
    const advice = /CERT|SIGNATURE|ISSUER/.test(fault.cause?.code) ? "NODE_EXTRA_CA_CERTS names the file of authorities to trust" : "is the service running?";
    const texts = fault.faults ?? [`no answer: ${fault.cause?.message ?? fault.message}; ${advice}`];
    texts.forEach((text) => console.error(text));
    return 1;
  }
}

// In a page there is no process, and this file is a module of others.
if (globalThis.process?.argv?.[1]?.endsWith("substitutes.mjs")) process.exitCode = await main(process.argv.slice(2));
