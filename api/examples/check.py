"""Does every drive of a CSV file fit its holes? Asks a running Beltspan over REST.

    python3 check.py designs.csv    # - reads the standard input

Standard library only. Prints what does not fit and ends with 1 if there is any.
The file goes in chunks, so it may be of any length. Start the service first:
go run ./cmd/beltspan serve
"""
import collections
import csv
import itertools
import json
import os
import sys
import urllib.error
import urllib.request

SERVICE = os.environ.get("BELTSPAN_URL", "http://127.0.0.1:8017")
CHUNK = 500


def check(items):
    request = urllib.request.Request(
        SERVICE + "/v1/drives:check",
        data=json.dumps({"items": items}).encode(),
        headers={"Content-Type": "application/json"},
    )
    try:
        with urllib.request.urlopen(request, timeout=30) as answer:
            return json.load(answer)["results"]
    except urllib.error.HTTPError as refused:
        raise SystemExit(json.load(refused)["message"]) from None


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
        "centerDistanceMm": float(row["center_distance_mm"]),
        **{name: float(text) for name, text in optional.items() if text},
    }


def main(file):
    counts = collections.Counter()
    rows = csv.DictReader(file)
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
    print(", ".join("%d %s" % (n, verdict.lower()) for verdict, n in sorted(counts.items())))
    return 0 if counts.keys() <= {"FITS", "MARGINAL"} else 1


if __name__ == "__main__":
    if sys.argv[1] == "-":
        sys.exit(main(sys.stdin))
    with open(sys.argv[1], newline="", encoding="utf-8-sig") as designs:
        sys.exit(main(designs))
