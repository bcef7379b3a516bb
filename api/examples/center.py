"""Where do two axles go? Asks a running Beltspan over REST.

Standard library only, so it can be pasted into the Python console or a macro
of a CAD program. BELTSPAN_URL, BELTSPAN_CA_FILE and BELTSPAN_TOKEN tell of
another service than that of this machine. Start that one first:
go run ./cmd/beltspan serve
"""
import json
import os
import ssl
import urllib.error
import urllib.request

SERVICE = os.environ.get("BELTSPAN_URL", "http://127.0.0.1:8017").rstrip("/")
HEADERS = {"Content-Type": "application/json"}
if "BELTSPAN_TOKEN" in os.environ:
    HEADERS["Authorization"] = "Bearer " + os.environ["BELTSPAN_TOKEN"]


def ask(method, question):
    request = urllib.request.Request(
        SERVICE + "/v1/drives:" + method, data=json.dumps(question).encode(), headers=HEADERS)
    trust = ssl.create_default_context(cafile=os.environ.get("BELTSPAN_CA_FILE"))
    try:
        with urllib.request.urlopen(request, timeout=10, context=trust) as answer:
            return json.load(answer)
    except urllib.error.HTTPError as refused:
        raise SystemExit(json.load(refused)["message"]) from None
    except (OSError, ValueError) as fault:
        raise SystemExit("%s does not answer as Beltspan does: %s" % (SERVICE, fault)) from None


answer = ask("solveCenterDistance", {
    "drive": {
        "section": "H5M",
        "driver": {"toothCount": 36},
        "driven": {"toothCount": 45},
        "beltDesignation": "890 H5M",
    },
    "allowanceMm": 0.05,
})
driven = answer["geometry"]["driven"]
print("second axle at x = %.3f mm" % answer["drillCenterDistanceMm"])
print("belt leaves it at x = %.3f, y = %.3f mm"
      % (driven["upperTangent"]["xMm"], driven["upperTangent"]["yMm"]))
for note in answer["notes"]:
    print(note["reason"], note["message"])
