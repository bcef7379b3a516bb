"""Does every drive of a CSV file fit its holes? Asks a running Beltspan over REST.

    python3 check.py designs.csv    # - reads the standard input

Standard library only. Prints what does not fit and ends with 1 if there is any,
with 2 if the file or the service cannot be asked. The file goes in chunks, so it
may be of any length. BELTSPAN_URL, BELTSPAN_CA_FILE and BELTSPAN_TOKEN tell of
another service. Start it first: go run ./cmd/beltspan serve
"""
import collections
import csv
import itertools
import json
import math
import os
import ssl
import sys
import urllib.error
import urllib.request

SERVICE = os.environ.get("BELTSPAN_URL", "http://127.0.0.1:8017").rstrip("/")
HEADERS = {"Content-Type": "application/json"}
if "BELTSPAN_TOKEN" in os.environ:
    HEADERS["Authorization"] = "Bearer " + os.environ["BELTSPAN_TOKEN"]
COLUMNS = ["id", "section", "driver_tooth_count", "driven_tooth_count", "belt_tooth_count", "center_distance_mm"]
CHUNK = 500


def stop(why):
    print(why, file=sys.stderr)
    sys.exit(2)


def check(items):
    request = urllib.request.Request(
        SERVICE + "/v1/drives:check", data=json.dumps({"items": items}).encode(), headers=HEADERS)
    trust = ssl.create_default_context(cafile=os.environ.get("BELTSPAN_CA_FILE"))
    try:
        with urllib.request.urlopen(request, timeout=30, context=trust) as answer:
            return json.load(answer)["results"]
    except urllib.error.HTTPError as refused:
        stop(json.load(refused)["message"])
    except (OSError, ValueError) as fault:
        stop("%s does not answer as Beltspan does: %s" % (SERVICE, fault))


def number(text):
    value = float(text)
    if not math.isfinite(value):
        raise ValueError("%s is no finite number" % text)
    return value


def item(row):
    optional = {
        "beltWidthMm": row.get("belt_width_mm"),
        "torqueNm": row.get("torque_nm"),
        "heightDifferenceMm": row.get("height_difference_mm"),
    }
    return {
        "id": row["id"],
        "drive": {
            "section": row["section"],
            "driver": {"toothCount": int(row["driver_tooth_count"])},
            "driven": {"toothCount": int(row["driven_tooth_count"])},
            "beltToothCount": int(row["belt_tooth_count"]),
        },
        "centerDistanceMm": number(row["center_distance_mm"]),
        **{name: number(text) for name, text in optional.items() if text},
    }


def main(file):
    counts = collections.Counter()
    rows = csv.DictReader(file)
    missing = [name for name in COLUMNS if name not in (rows.fieldnames or [])]
    if missing:
        stop("the first line has to name these columns too: " + ", ".join(missing))
    while chunk := list(itertools.islice(rows, CHUNK)):
        items = []
        for row in chunk:
            try:
                items.append(item(row))
            except (TypeError, ValueError) as fault:
                print("%s UNREADABLE %s" % (row["id"], fault))
                counts["UNREADABLE"] += 1
        for result in check(items):
            verdict = result["verdict"].removeprefix("VERDICT_")
            counts[verdict] += 1
            if verdict == "INVALID":
                print(result["id"], verdict, result["error"]["message"])
            elif verdict == "REJECTED":
                print(result["id"], verdict, "%+.2f mm" % result["deviationMm"],
                      *[note["message"] for note in result["notes"]][:1])
    if not counts:
        stop("the file has no rows: nothing was checked")
    print(", ".join("%d %s" % (n, verdict.lower()) for verdict, n in sorted(counts.items())))
    return 0 if counts.keys() <= {"FITS", "MARGINAL"} else 1


if __name__ == "__main__":
    if len(sys.argv) != 2:
        stop("usage: check.py FILE, or - for the standard input")
    try:
        if sys.argv[1] == "-":
            sys.exit(main(sys.stdin))
        with open(sys.argv[1], newline="", encoding="utf-8-sig") as designs:
            sys.exit(main(designs))
    except (OSError, UnicodeDecodeError) as fault:
        stop(fault)
