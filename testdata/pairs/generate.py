"""Writes drive.json: questions and answers for the drive methods.

The answers come from the open-belt length equation solved with 40-digit
arithmetic (mpmath, bisection on the length, no involute), not from the
service. Pitches are exact decimals. Run: python3 generate.py > drive.json
"""
import json
from mpmath import mp, mpf, pi, sqrt, asin, acos, degrees, floor, cos, sin

mp.dps = 40

PITCH = {"H5M": "5", "H8M": "8", "T5": "5", "XL": "5.08", "L": "9.525", "MXL": "2.032"}
# 2a, the diametral pitch line differential, as in tables/sections.csv.
TWO_A = {"H5M": "1.143", "H8M": "1.372", "T5": "0.83", "XL": "0.508", "L": "0.762", "MXL": "0.508"}


def length(p, z1, z2, c):
    d = p * (z2 - z1) / (2 * pi)
    return 2 * sqrt(c * c - d * d) + p * (z1 + z2) / 2 + 2 * d * asin(d / c)


def bisect(f, lo, hi):
    for _ in range(200):
        mid = (lo + hi) / 2
        if f(mid) < 0:
            lo = mid
        else:
            hi = mid
    return (lo + hi) / 2


def center(p, z1, z2, zb):
    d = p * abs(z2 - z1) / (2 * pi)
    return bisect(lambda c: length(p, z1, z2, c) - p * zb, d, p * zb)


def number(x):
    x = float(x)
    return int(x) if x == int(x) and abs(x) < 1e15 else x


def pulley(z, p, section, wrap, at, cosine, sine):
    r = p * z / (2 * pi)
    g = {
        "toothCount": z,
        "pitchDiameterMm": number(2 * r),
        "wrapAngleDeg": number(degrees(wrap)),
        "meshedToothCount": int(floor(z * wrap / (2 * pi) + mpf(10) ** -30)),
        "center": {"xMm": number(at), "yMm": 0},
        "upperTangent": {"xMm": number(at + r * cosine), "yMm": number(r * sine)},
        "lowerTangent": {"xMm": number(at + r * cosine), "yMm": number(-r * sine)},
    }
    if section:
        g["outsideDiameterMm"] = number(2 * r - mpf(TWO_A[section]))
    return g


def geometry(belt, z1, z2, zb, flanges=(None, None)):
    section = belt if belt in PITCH else None
    p = mpf(PITCH[belt]) if section else mpf(belt)
    c = center(p, z1, z2, zb)
    cosine = p * (z1 - z2) / (2 * pi * c)
    angle = acos(cosine)
    sine = sin(angle)
    wrap1, wrap2 = 2 * (pi - angle), 2 * angle
    # Of the driver: the spans leave it at +angle and -angle from +x.
    slope = 1 / (2 * sine)
    drive = {
        "driver": {"toothCount": z1},
        "driven": {"toothCount": z2},
        "beltToothCount": zb,
        "beltDesignation": "",
    }
    for name, flange in zip(("driver", "driven"), flanges):
        if flange:
            drive[name]["flangeDiameterMm"] = flange
    drive["section"] = section or ""
    if not section:
        drive["pitchMm"] = float(p)
    return {
        "drive": drive,
        "pitchMm": number(p),
        "beltLengthMm": number(p * zb),
        "centerDistanceMm": number(c),
        "spanLengthMm": number(c * sine),
        "speedRatio": number(mpf(z2) / z1),
        "sensitivity": {
            "perBeltToothMm": number(p * slope),
            "perDriverToothMm": number(-p / (2 * pi) * wrap1 * slope),
            "perDrivenToothMm": number(-p / (2 * pi) * wrap2 * slope),
            "perBeltLength": number(slope),
        },
        "driver": pulley(z1, p, section, wrap1, mpf(0), cosine, sine),
        "driven": pulley(z2, p, section, wrap2, c, cosine, sine),
    }


def ask_drive(belt, z1, z2, zb, designation=None, flanges=(None, None)):
    d = {"driver": {"toothCount": z1}, "driven": {"toothCount": z2}}
    for name, flange in zip(("driver", "driven"), flanges):
        if flange:
            d[name]["flangeDiameterMm"] = flange
    if belt in PITCH:
        d["section"] = belt
    else:
        d["pitchMm"] = float(belt)
    if designation:
        d["beltDesignation"] = designation
    else:
        d["beltToothCount"] = zb
    return d


def center_pair(name, belt, z1, z2, zb, notes, allowance=None, designation=None, flanges=(None, None)):
    request = {"drive": ask_drive(belt, z1, z2, zb, designation, flanges)}
    g = geometry(belt, z1, z2, zb, flanges)
    p = mpf(PITCH.get(belt, belt))
    drill = center(p, z1, z2, zb)
    if allowance:
        request["allowanceMm"] = float(allowance)
        drill += mpf(allowance)
    command = ["center"] + ([belt] if belt in PITCH else ["--pitch", belt])
    command += [str(z1), str(z2), designation or str(zb)]
    if allowance:
        command += ["--allowance=" + allowance]
    for flag, flange in zip(("--driver-flange=", "--driven-flange="), flanges):
        if flange:
            command += [flag + str(flange)]
    return {
        "name": name, "rpc": "SolveCenterDistance", "request": request, "command": command,
        "response": {"geometry": g, "drillCenterDistanceMm": number(drill)}, "notes": notes,
    }


def belt_pair(name, belt, z1, z2, c, found, notes, neighbors=None, standard=None):
    p = mpf(PITCH.get(belt, belt))
    exact = length(p, z1, z2, mpf(c)) / p
    request = {"driver": {"toothCount": z1}, "driven": {"toothCount": z2}, "centerDistanceMm": float(c)}
    command = ["belt"] + ([belt] if belt in PITCH else ["--pitch", belt]) + [str(z1), str(z2), c]
    if belt in PITCH:
        request["section"] = belt
    else:
        request["pitchMm"] = float(belt)
    if neighbors:
        request["neighborCount"] = neighbors
        command += ["--neighbors", str(neighbors)]
    if standard is not None:
        request["standardLengthsOnly"] = True
        command += ["--standard"]
    candidates = [{
        "geometry": geometry(belt, z1, z2, zb),
        "centerShiftMm": number(center(p, z1, z2, zb) - mpf(c)),
        "standardLength": listed,
    } for zb, listed in found]
    return {
        "name": name, "rpc": "SolveBelt", "request": request, "command": command,
        "response": {"exactToothCount": number(exact), "beltLengthMm": number(exact * p), "candidates": candidates},
        "notes": notes,
    }


def pulley_pair(name, belt, z1, zb, c, found, notes, neighbors=None):
    p = mpf(PITCH.get(belt, belt))
    most = 2 * pi * mpf(c) / p - z1
    exact = bisect(lambda z: length(p, z1, z, mpf(c)) - p * zb, mpf(0), most)
    request = {"driver": {"toothCount": z1}, "beltToothCount": zb, "centerDistanceMm": float(c)}
    command = ["pulley"] + ([belt] if belt in PITCH else ["--pitch", belt]) + [str(z1), str(zb), c]
    if belt in PITCH:
        request["section"] = belt
    else:
        request["pitchMm"] = float(belt)
    if neighbors:
        request["neighborCount"] = neighbors
        command += ["--neighbors", str(neighbors)]
    candidates = [{
        "geometry": geometry(belt, z1, z2, zb),
        "centerShiftMm": number(center(p, z1, z2, zb) - mpf(c)),
    } for z2 in found]
    return {
        "name": name, "rpc": "SolvePulley", "request": request, "command": command,
        "response": {"exactToothCount": number(exact), "candidates": candidates}, "notes": notes,
    }


def refusal(name, rpc, request, reason, fields, contains, command=None, nearest=None):
    out = {
        "name": name, "rpc": rpc, "request": request,
        "error": {"code": "INVALID_ARGUMENT", "reason": reason, "fields": fields, "contains": contains},
    }
    if command:
        out["command"] = command
    if nearest:
        out["error"]["nearest"] = nearest
    return out


def smallest_belt(belt, z1, z2):
    p = mpf(PITCH[belt])
    limit = p * (z1 + z2) / (2 * pi) - mpf(TWO_A[belt])
    zb = max(z1, z2) + 1
    while center(p, z1, z2, zb) <= limit:
        zb += 1
    return str(zb)


D = ask_drive
PAIRS = [
    center_pair("equal pulleys", "H5M", 36, 36, 174, []),
    center_pair("equal pulleys, allowance", "H5M", 36, 36, 178, [], allowance="0.05"),
    center_pair("driven larger", "T5", 38, 114, 198, ["OUTSIDE_DIAMETER_UNVERIFIED"]),
    center_pair("driver larger", "H5M", 45, 36, 169, []),
    center_pair("custom pitch", "5.5", 20, 31, 88, []),
    center_pair("designation, metric", "H5M", 36, 36, 178, [], designation="890 H5M"),
    center_pair("designation, inch, half down", "L", 22, 22, 130, ["LENGTH_NOT_LISTED"], designation="487 L"),
    center_pair("inch frame: exactly 12 in", "L", 22, 22, 86, []),
    center_pair("flanges clear", "H8M", 24, 24, 60, [], flanges=(70, 70)),
    center_pair("few teeth, large ratio", "T5", 14, 120, 144, ["FEW_MESHED_TEETH", "OUTSIDE_DIAMETER_UNVERIFIED"]),
    center_pair("below the least teeth", "H8M", 18, 18, 80, ["BELOW_MIN_TEETH", "BELOW_MIN_TEETH"]),
    center_pair("large allowance", "H5M", 36, 36, 174, ["LARGE_ALLOWANCE"], allowance="1"),
    center_pair("flange that reaches the other pulley", "H5M", 36, 36, 174, ["FLANGE_REACHES_PULLEY"], flanges=(640, None)),
    belt_pair("fractional teeth", "H5M", 36, 36, "347.5", [(175, False)], ["LENGTH_NOT_LISTED"]),
    belt_pair("fractional teeth between", "H5M", 36, 36, "346", [(174, True), (175, False)], ["LENGTH_UNVERIFIED"]),
    belt_pair("unequal, two on each side", "T5", 38, 114, "300",
              [(198, True), (199, False), (197, False), (200, False)],
              ["LENGTH_UNVERIFIED", "OUTSIDE_DIAMETER_UNVERIFIED"], neighbors=2),
    belt_pair("standard lengths", "H5M", 36, 36, "350", [(174, True), (178, True)], ["LENGTH_UNVERIFIED"], standard=True),
    belt_pair("custom pitch", "5.5", 20, 31, "170", [(87, False), (88, False)], []),
    belt_pair("beyond the standard lengths", "H5M", 36, 36, "1094.3", [(470, True)], ["LENGTH_UNVERIFIED", "BEYOND_STANDARD_LENGTHS"], standard=True),
    pulley_pair("whole pulley between", "H5M", 36, 174, "340", [38], []),
    pulley_pair("two on each side", "T5", 38, 198, "300", [], ["OUTSIDE_DIAMETER_UNVERIFIED"], neighbors=2),
    pulley_pair("custom pitch", "5.5", 20, 88, "150", [], []),
]
# Where the candidates are not listed above they are the nearest counts on
# each side of the exact one, least shift first.
for pair in PAIRS:
    r = pair["response"]
    if pair["rpc"] == "SolveCenterDistance":
        continue
    n = pair["request"].get("neighborCount", 1)
    exact = r["exactToothCount"]
    q = pair["request"]
    belt = q.get("section") or str(q["pitchMm"])
    c = mpf(str(q["centerDistanceMm"]))
    p = mpf(PITCH.get(belt, belt))
    if pair["rpc"] == "SolvePulley":
        low = int(exact // 1)
        counts = [z for z in range(low - n + 1, low + n + 1)] if exact != low else list(range(low - n, low + n + 1))
        found = [(z, center(p, q["driver"]["toothCount"], z, q["beltToothCount"]) - c) for z in counts]
        found.sort(key=lambda f: abs(f[1]))
        r["candidates"] = [{
            "geometry": geometry(belt, q["driver"]["toothCount"], z, q["beltToothCount"]), "centerShiftMm": number(s),
        } for z, s in found]
    elif len(r["candidates"]) == 1 and exact == int(exact):
        low = int(exact)
        z1, z2 = q["driver"]["toothCount"], q["driven"]["toothCount"]
        r["candidates"] = [{
            "geometry": geometry(belt, z1, z2, zb), "centerShiftMm": number(center(p, z1, z2, zb) - c),
            "standardLength": zb == 174,
        } for zb in (low, low - 1, low + 1)]
        pair["notes"] = ["LENGTH_UNVERIFIED"]

PAIRS += [
    refusal("unknown section", "SolveCenterDistance", {"drive": D("H5M", 36, 36, 174) | {"section": "H6M"}},
            "UNKNOWN_SECTION", ["drive.section"], ["H5M", "H8M", "H3M"], ["center", "H6M", "36", "36", "174"]),
    refusal("wrong letter case", "SolveCenterDistance", {"drive": D("H5M", 36, 36, 174) | {"section": "h5m"}},
            "UNKNOWN_SECTION", ["drive.section"], ["H5M"], ["center", "h5m", "36", "36", "174"]),
    refusal("all problems at once", "SolveCenterDistance",
            {"drive": {"section": "H6M", "driver": {"toothCount": 0}, "driven": {"toothCount": -3}, "beltToothCount": 100000}, "allowanceMm": 99},
            "UNKNOWN_SECTION",
            ["drive.section", "drive.driver.tooth_count", "drive.driven.tooth_count", "drive.belt_tooth_count", "allowance_mm"],
            ["6 to 600", "7 to 5000", "-5 to 5"], ["center", "H6M", "0", "--allowance=99", "--", "-3", "100000"]),
    refusal("section and pitch", "SolveCenterDistance", {"drive": D("H5M", 36, 36, 174) | {"pitchMm": 5}},
            "EXACTLY_ONE", ["drive.section"], ["section", "pitch_mm"]),
    refusal("neither section nor pitch", "SolveCenterDistance",
            {"drive": {"driver": {"toothCount": 36}, "driven": {"toothCount": 36}, "beltToothCount": 174}},
            "EXACTLY_ONE", ["drive.section"], ["section", "pitch_mm"]),
    refusal("pitch given as zero", "SolveCenterDistance", {"drive": {"pitchMm": 0, "driver": {"toothCount": 36}, "driven": {"toothCount": 36}, "beltToothCount": 174}},
            "OUT_OF_RANGE", ["drive.pitch_mm"], ["0.5 to 100"]),
    refusal("not a number", "SolveCenterDistance", {"drive": D("H5M", 36, 36, 174), "allowanceMm": "NaN"},
            "NOT_FINITE", ["allowance_mm"], ["finite"]),
    refusal("infinite", "SolveBelt", {"section": "H5M", "driver": {"toothCount": 36}, "driven": {"toothCount": 36}, "centerDistanceMm": "Infinity"},
            "NOT_FINITE", ["center_distance_mm"], ["finite"]),
    refusal("no drive at all", "SolveCenterDistance", {}, "EXACTLY_ONE",
            ["drive.section", "drive.driver.tooth_count", "drive.driven.tooth_count", "drive.belt_tooth_count"], ["section"]),
    refusal("belt too short", "SolveCenterDistance", {"drive": D("H5M", 36, 90, 80)}, "BELT_TOO_SHORT",
            ["drive.belt_tooth_count"], ["more than 90 teeth"], ["center", "H5M", "36", "90", "80"], smallest_belt("H5M", 36, 90)),
    refusal("pulleys touch", "SolveCenterDistance", {"drive": D("H5M", 36, 36, 40)}, "PULLEYS_TOUCH",
            ["drive.belt_tooth_count"], ["56.153"], ["center", "H5M", "36", "36", "40"], smallest_belt("H5M", 36, 36)),
    refusal("flanges touch", "SolveCenterDistance", {"drive": D("H5M", 36, 36, 60, None, (62, 62))}, "FLANGES_TOUCH",
            ["drive.belt_tooth_count"], ["62.000"], ["center", "H5M", "36", "36", "60", "--driver-flange=62", "--driven-flange=62"], "61"),
    refusal("allowance that drills the pulleys together", "SolveCenterDistance", {"drive": D("H5M", 36, 36, 59), "allowanceMm": -5},
            "PULLEYS_TOUCH", ["allowance_mm"], ["52.5000", "-1.3472"], ["center", "H5M", "36", "36", "59", "--allowance=-5"]),
    refusal("designation of another section", "SolveCenterDistance", {"drive": D("H5M", 36, 36, 0, "890 H8M")},
            "UNKNOWN_DESIGNATION", ["drive.belt_designation"], ["H5M"], ["center", "H5M", "36", "36", "890 H8M"]),
    refusal("designation that is no whole belt", "SolveCenterDistance", {"drive": D("H5M", 36, 36, 0, "892 H5M")},
            "UNKNOWN_DESIGNATION", ["drive.belt_designation"], ["890 H5M", "895 H5M"], ["center", "H5M", "36", "36", "892 H5M"]),
    refusal("asked center too small", "SolveBelt", {"section": "H5M", "driver": {"toothCount": 36}, "driven": {"toothCount": 36}, "centerDistanceMm": 50},
            "PULLEYS_TOUCH", ["center_distance_mm"], ["56.15"], ["belt", "H5M", "36", "36", "50"]),
    refusal("belt beyond the longest", "SolveBelt", {"section": "H5M", "driver": {"toothCount": 36}, "driven": {"toothCount": 36}, "centerDistanceMm": 20000},
            "NO_BELT_FITS", ["center_distance_mm"], ["5000"], ["belt", "H5M", "36", "36", "20000"], "12410"),
    refusal("too many neighbors", "SolveBelt", {"section": "H5M", "driver": {"toothCount": 36}, "driven": {"toothCount": 36}, "centerDistanceMm": 345, "neighborCount": 21},
            "OUT_OF_RANGE", ["neighbor_count"], ["1 to 20"], ["belt", "H5M", "36", "36", "345", "--neighbors", "21"]),
    refusal("no list of this section", "SolveBelt", {"section": "AT5", "driver": {"toothCount": 36}, "driven": {"toothCount": 36}, "centerDistanceMm": 345, "standardLengthsOnly": True},
            "NO_STANDARD_LENGTHS", ["standard_lengths_only"], ["AT5"], ["belt", "AT5", "36", "36", "345", "--standard"]),
    refusal("no pulley", "SolvePulley", {"section": "T5", "driver": {"toothCount": 38}, "beltToothCount": 198, "centerDistanceMm": 900},
            "NO_PULLEY_FITS", ["center_distance_mm"], ["6 to 184"], ["pulley", "T5", "38", "198", "900"]),
]
print(json.dumps(PAIRS, indent=1))
