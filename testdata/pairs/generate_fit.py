"""Writes fit.json: questions and answers for fits, shared holes and ratings.

The answers come from 40-digit arithmetic (mpmath): the open-belt length
equation solved by bisection, its derivatives, the normal distribution function,
and the rating formulas of beltmath/rate.go written anew. Ratings and tolerances
are those of tables/sections.csv and tables/length_tolerances.csv.
Run: python3 generate_fit.py > fit.json
"""
import json
from mpmath import mp, mpf, pi, sqrt, asin, acos, atan2, cos, sin, ncdf, degrees, floor

mp.dps = 40

PITCH = {"H5M": "5", "T5": "5", "XL": "5.08", "L": "9.525", "AT5": "5"}
# Base width, working tension, mass per meter at the base width.
RATING = {"H5M": ("25.4", "454", None), "L": ("25.4", "244.46", "0.095")}


def length(p, z1, z2, c):
    d = p * (z2 - z1) / (2 * pi)
    return 2 * sqrt(c * c - d * d) + p * (z1 + z2) / 2 + 2 * d * asin(d / c)


def center(p, z1, z2, long):
    if z1 == z2:
        return (long - p * z1) / 2
    lo, hi = p * abs(z2 - z1) / (2 * pi), long
    for _ in range(200):
        mid = (lo + hi) / 2
        if length(p, z1, z2, mid) < long:
            lo = mid
        else:
            hi = mid
    return lo


def number(x):
    x = float(x)
    return int(x) if x == int(x) and abs(x) < 1e15 else x


def drive(section, z1, z2, zb):
    return {"section": section, "driver": {"toothCount": z1}, "driven": {"toothCount": z2}, "beltToothCount": zb}


def words(section, z1, z2, zb):
    return [section, str(z1), str(z2), str(zb)]


def shares(mean, sigma, low, high):
    return ncdf((low - mean) / sigma), ncdf((high - mean) / sigma) - ncdf((low - mean) / sigma), ncdf((mean - high) / sigma)


def fit_pair(name, section, z1, z2, zb, drilled, notes, center_tol=None, belt_tol=None, table=None, measured=None,
             plays=("0", "0"), oversize="0", warm="0", plate="0", belt_warm="0", limits=None, stiffness=None):
    p = mpf(PITCH[section])
    nominal = p * zb
    exact = center(p, z1, z2, nominal)
    cosine = p * abs(z2 - z1) / (2 * pi) / exact
    theta, sine = acos(cosine), sqrt(1 - cosine * cosine)
    request = {"drive": drive(section, z1, z2, zb), "centerDistanceMm": float(drilled)}
    command = ["fit"] + words(section, z1, z2, zb) + [drilled]

    def give(field, flag, value):
        if value not in (None, "0"):
            request[field] = float(value)
            command.append(flag + "=" + value)

    give("centerToleranceMm", "--center-tolerance", center_tol)
    give("beltLengthToleranceMm", "--belt-tolerance", belt_tol)
    give("driverPlayMm", "--driver-play", plays[0])
    give("drivenPlayMm", "--driven-play", plays[1])
    give("pulleyOversizeMm", "--oversize", oversize)
    give("temperatureChangeK", "--warmer", warm)
    give("plateExpansionPerK", "--plate-expansion", plate)
    give("beltExpansionPerK", "--belt-expansion", belt_warm)
    give("stiffnessN", "--stiffness", stiffness)
    low, high = mpf("-0.05"), mpf("0.15")
    if limits:
        low, high = map(mpf, limits)
        request["limits"] = {"fitLowMm": float(low), "fitHighMm": float(high)}
        command += ["--fit-low=" + limits[0], "--fit-high=" + limits[1]]

    # Each part: shift, variance, least, greatest, and what halving changes.
    parts = []

    def both(field, reach, shift=mpf(0), halved_shift=mpf(0)):
        parts.append((field, shift, (reach / 3) ** 2, shift - reach, shift + reach, halved_shift))

    def one_way(field, ends):
        ends = [e for e in ends if e != 0]
        if ends:
            parts.append((field, sum(ends) / 2, sum((e / 6) ** 2 for e in ends),
                          min(mpf(0), sum(ends)), max(mpf(0), sum(ends)), sum(ends) / 4))

    drilled = mpf(drilled)
    parts.append(("center_distance_mm", drilled - exact, mpf(0), drilled - exact, drilled - exact, None))
    both("center_tolerance_mm", mpf(center_tol or "0.05"))
    long = nominal
    if measured:
        m1, m2, at, uncertain = measured
        request["beltMeasurement"] = {"driver": {"toothCount": m1}, "driven": {"toothCount": m2},
                                      "centerDistanceMm": float(at), "uncertaintyMm": float(uncertain)}
        command += ["--measured=" + at, "--measured-on=%d,%d" % (m1, m2), "--uncertainty=" + uncertain]
        long = length(p, m1, m2, mpf(at))
        dm = p * (m2 - m1) / (2 * pi) / mpf(at)
        both("belt_measurement", mpf(uncertain) * sqrt(1 - dm * dm) / sine, exact - center(p, z1, z2, long))
    else:
        both("belt_length_tolerance_mm", mpf(belt_tol or table) / (2 * sine))
    one_way("driver_play_mm", [-mpf(plays[0])])
    one_way("driven_play_mm", [-mpf(plays[1])])
    one_way("pulley_oversize_mm", [mpf(oversize) * theta / (2 * sine), mpf(oversize) * (pi - theta) / (2 * sine)])
    growth = mpf(warm) * (mpf(plate) * drilled - mpf(belt_warm) * long / (2 * sine))
    if growth != 0:
        parts.append(("temperature_change_k", growth, mpf(0), growth, growth, growth / 2))
    parts = [q for q in parts if q[1] != 0 or q[2] != 0]

    mean, variance = sum(q[1] for q in parts), sum(q[2] for q in parts)
    worst_low, worst_high = sum(q[3] for q in parts), sum(q[4] for q in parts)
    sigma = sqrt(variance)
    loose, good, tight = shares(mean, sigma, low, high)
    middle = (low + high) / 2
    levers = [{"name": q[0], "shareGoodIfHalved": number(shares(mean - q[5], sqrt(variance - 3 * q[2] / 4), low, high)[1])}
              for q in parts if q[5] is not None]
    levers.sort(key=lambda l: -l["shareGoodIfHalved"])
    strain = 2 * sine / nominal
    response = {
        "exactCenterDistanceMm": number(exact),
        "deviation": {"meanMm": number(mean), "sigmaMm": number(sigma), "worstLowMm": number(worst_low), "worstHighMm": number(worst_high)},
        "shareLoose": number(loose), "shareGood": number(good), "shareTight": number(tight),
        "bestAllowanceMm": number(drilled - exact + (middle - mean) / (1 + mpf(warm) * mpf(plate))),
        "bestShareGood": number(shares(middle, sigma, low, high)[1]),
        "contributors": [{"name": q[0], "shiftMm": number(q[1]), "varianceShare": number(q[2] / variance)} for q in parts],
        "levers": levers,
        "stretch": {k + "Percent": number(100 * strain * v) for k, v in
                    (("mean", mean), ("sigma", sigma), ("worstLow", worst_low), ("worstHigh", worst_high))},
        "limits": {"fitLowMm": number(low), "fitHighMm": number(high)},
    }
    if stiffness:
        response["tension"] = {k + "N": number(mpf(stiffness) * strain * v) for k, v in
                               (("mean", mean), ("sigma", sigma), ("worstLow", worst_low), ("worstHigh", worst_high))}
    if response["bestShareGood"] > levers[0]["shareGoodIfHalved"]:
        notes = ["ALLOWANCE_FIRST"] + notes
    return {"name": name, "rpc": "AnalyzeFit", "request": request, "command": command, "response": response, "notes": notes}


def shared_pair(name, section, first, second, notes, verdicts=("FITS", "FITS"), limits=None):
    p = mpf(PITCH[section])
    low, high = map(mpf, limits or ("-0.05", "0.15"))
    exact = [center(p, z1, z2, p * zb) for z1, z2, zb in (first, second)]
    request = {"drives": [drive(section, *first), drive(section, *second)]}
    command = ["shared-hole", section] + [str(z) for z in first + second]
    if limits:
        request["limits"] = {"fitLowMm": float(low), "fitHighMm": float(high)}
        command += ["--fit-low=" + limits[0], "--fit-high=" + limits[1]]
    middle = (low + high) / 2
    if abs(exact[0] - exact[1]) <= high - low:
        at = [(exact[0] + exact[1]) / 2 + middle] * 2
        response = {"drillCenterDistanceMm": number(at[0])}
    else:
        at = [e + middle for e in exact]
        response = {"slotFromMm": number(min(at)), "slotToMm": number(max(at))}
    response["fits"] = [{"centerDistanceMm": number(e), "deviationMm": number(a - e), "verdict": "VERDICT_" + v}
                        for e, a, v in zip(exact, at, verdicts)]
    return {"name": name, "rpc": "SolveSharedHole", "request": request, "command": command, "response": response, "notes": notes}


def rate_pair(name, section, z1, z2, zb, at, width, notes, torque=None, power=None, rpm="0", service=None, maker=None, wheel=None):
    p, c, b = mpf(PITCH[section]), mpf(at), mpf(width)
    request = {"drive": drive(section, z1, z2, zb), "centerDistanceMm": float(at), "beltWidthMm": float(width)}
    command = ["rate"] + words(section, z1, z2, zb) + [at, width]

    def give(field, flag, value):
        if value not in (None, "0"):
            request[field] = float(value)
            command.append(flag + "=" + value)

    give("torqueNm", "--torque", torque)
    give("powerW", "--power", power)
    give("speedRpm", "--speed", rpm)
    give("serviceFactor", "--service-factor", service)
    base, tension, mass = maker or RATING[section]
    if maker:
        give("workingTensionN", "--working-tension", tension)
        give("baseWidthMm", "--base-width", base)
        give("massKgPerM", "--mass", mass)
    give("wheelDiameterMm", "--wheel", wheel)

    v = p * z1 * mpf(rpm) / 60000
    effective = 2000 * mpf(torque) / (p * z1 / pi) if torque else mpf(power) / v
    wrap = 2 * acos(p * abs(z2 - z1) / (2 * pi) / center(p, z1, z2, p * zb))
    meshed = int(floor(min(z1, z2) * wrap / (2 * pi) + mpf(10) ** -30))
    teeth = max(mpf(0), min(mpf(1), 1 - (6 - meshed) / mpf(5)))
    wide = (b / mpf(base)) ** mpf("1.14")
    own = mpf(mass) * b / mpf(base) if mass else None
    centrifugal = own * v * v if mass else mpf(0)
    allowed = max(mpf(0), teeth * wide * mpf(tension) - centrifugal)
    design = mpf(service or "1.5") * effective
    static = design * 9 / 14 + centrifugal
    rise = p * (z2 - z1) / (2 * pi) / c
    span = c * sqrt(1 - rise * rise)
    x, y = design * 9 / 7 * sqrt(1 - rise * rise), design * rise
    response = {
        "effectiveTensionN": number(effective), "meshedToothFactor": number(teeth), "widthFactor": number(wide),
        "allowableTensionN": number(allowed), "utilization": number(design / allowed), "staticTensionN": number(static),
        "deflectionMm": number(span / 64), "deflectionForceN": number(static / 16),
        "shaftLoadN": number(sqrt(x * x + y * y)), "shaftLoadDirectionDeg": number(degrees(atan2(y, x))), "beltSpeedMPerS": number(v),
    }
    if mass:
        response["centrifugalTensionN"] = number(centrifugal)
        response["spanFrequencyHz"] = number(500 * sqrt(static / own) / span)
    if wheel:
        response["vehicleSpeedMPerS"] = number(pi * mpf(wheel) * mpf(rpm) * z1 / z2 / 60000)
    return {"name": name, "rpc": "RateDrive", "request": request, "command": command, "response": response, "notes": notes}


def refusal(name, rpc, request, reason, fields, contains, command=None):
    out = {"name": name, "rpc": rpc, "request": request,
           "error": {"code": "INVALID_ARGUMENT", "reason": reason, "fields": fields, "contains": contains}}
    if command:
        out["command"] = command
    return out


ALWAYS_FIT = ["FIT_MODEL", "MEASURING_FORCE"]
ALWAYS_RATE = ["TENSION_RATIO_UNVERIFIED", "TENSION_SET_BY_HOLES", "SHOCK_AND_STALL", "SHAFT_AND_BEARING_LOAD", "GUARDS_AND_LICENSED_PRACTICE"]
OPEN = {"drive": drive("H5M", 36, 36, 174), "centerDistanceMm": 345}
PAIRS = [
    fit_pair("fit, tables and defaults", "H5M", 36, 36, 174, "345",
             ["TOLERANCE_UNVERIFIED", "DEFAULT_CENTER_TOLERANCE", "NOMINAL_PULLEYS", "DEFAULT_LIMITS"] + ALWAYS_FIT, table="0.66"),
    fit_pair("fit, a table seen in two sources", "XL", 10, 20, 50, "90",
             ["TOLERANCE_FROM_TABLE", "DEFAULT_CENTER_TOLERANCE", "NOMINAL_PULLEYS", "DEFAULT_LIMITS", "FEW_MESHED_TEETH"] + ALWAYS_FIT, table="0.406"),
    fit_pair("fit, everything given", "H5M", 36, 45, 178, "343.72", ["PULLEYS_NOT_WARMED"] + ALWAYS_FIT,
             center_tol="0.08", belt_tol="0.3", plays=("0.04", "0.02"), oversize="0.1", warm="20", plate="23e-6", belt_warm="5e-6",
             limits=("-0.1", "0.2"), stiffness="330000"),
    fit_pair("fit, driver larger", "H5M", 45, 36, 178, "343.6",
             ["TOLERANCE_UNVERIFIED", "DEFAULT_CENTER_TOLERANCE", "DEFAULT_LIMITS"] + ALWAYS_FIT, table="0.66", oversize="0.1"),
    fit_pair("fit, belt in hand", "H5M", 36, 45, 178, "343.72",
             ["DEFAULT_CENTER_TOLERANCE", "NOMINAL_PULLEYS", "DEFAULT_LIMITS"] + ALWAYS_FIT, measured=(20, 60, "343.45", "0.02")),
    refusal("fit, tolerance and measurement", "AnalyzeFit",
            OPEN | {"beltLengthToleranceMm": 0.3, "beltMeasurement": {"driver": {"toothCount": 36}, "driven": {"toothCount": 36}, "centerDistanceMm": 345}},
            "EXACTLY_ONE", ["belt_length_tolerance_mm"], ["belt_measurement"],
            ["fit", "H5M", "36", "36", "174", "345", "--belt-tolerance=0.3", "--measured=345"]),
    refusal("fit, no table", "AnalyzeFit",
            {"drive": {"pitchMm": 5.5, "driver": {"toothCount": 36}, "driven": {"toothCount": 36}, "beltToothCount": 174}, "centerDistanceMm": 379.5},
            "NO_TOLERANCE_HELD", ["belt_length_tolerance_mm"], ["957 mm"], ["fit", "--pitch=5.5", "36", "36", "174", "379.5"]),
    refusal("fit, all problems at once", "AnalyzeFit",
            {"drive": drive("H6M", 36, 0, 174), "centerDistanceMm": -1, "centerToleranceMm": 11, "driverPlayMm": -1, "temperatureChangeK": 999},
            "UNKNOWN_SECTION", ["drive.section", "drive.driven.tooth_count", "center_distance_mm", "center_tolerance_mm", "driver_play_mm", "temperature_change_k"],
            ["H5M", "0 to 10", "-300 to 300"],
            ["fit", "--center-tolerance=11", "--driver-play=-1", "--warmer=999", "--", "H6M", "36", "0", "174", "-1"]),
    refusal("fit, another belt measured", "AnalyzeFit",
            OPEN | {"beltMeasurement": {"driver": {"toothCount": 36}, "driven": {"toothCount": 36}, "centerDistanceMm": 348}},
            "OUT_OF_RANGE", ["belt_measurement.center_distance_mm"], ["345.000"], ["fit", "H5M", "36", "36", "174", "345", "--measured=348"]),
    shared_pair("shared hole, same-hole family", "H5M", (36, 36, 178), (32, 32, 174), []),
    shared_pair("shared hole, wide limits", "H5M", (36, 36, 174), (36, 45, 178), [], limits=("-0.7", "0.8")),
    shared_pair("shared hole, slot", "H5M", (36, 36, 178), (32, 32, 172), ["SLOT_NEEDS_CLAMPING"]),
    refusal("shared hole, one drive", "SolveSharedHole", {"drives": [drive("H5M", 36, 36, 174)]}, "OUT_OF_RANGE", ["drives"], ["exactly 2"]),
    refusal("shared hole, second at fault", "SolveSharedHole", {"drives": [drive("H5M", 36, 36, 174), drive("H5M", 36, 90, 80)]},
            "BELT_TOO_SHORT", ["drives[1].belt_tooth_count"], ["more than 90 teeth"], ["shared-hole", "H5M", "36", "36", "174", "36", "90", "80"]),
    rate_pair("rate, no mass held", "H5M", 36, 36, 174, "345", "25",
              ["RATING_UNVERIFIED", "WIDTH_EXPONENT_BORROWED", "MASS_NOT_HELD"] + ALWAYS_RATE, torque="5.5", rpm="45", wheel="160"),
    rate_pair("rate, overloaded", "H5M", 36, 36, 174, "345", "15",
              ["BEYOND_RATING", "RATING_UNVERIFIED", "WIDTH_EXPONENT_BORROWED", "MASS_NOT_HELD"] + ALWAYS_RATE, torque="11", rpm="45", service="1"),
    rate_pair("rate, power and mass", "L", 22, 44, 98, "307.75", "19.1", ["RATING_UNVERIFIED"] + ALWAYS_RATE, power="200", rpm="600"),
    rate_pair("rate, maker's values", "AT5", 30, 20, 100, "187.3", "16",
              ["OUTSIDE_DIAMETER_UNVERIFIED"] + ALWAYS_RATE, torque="4", rpm="900", maker=("16", "1120", "0.05")),
    refusal("rate, no rating held", "RateDrive", {"drive": drive("AT5", 36, 36, 174), "centerDistanceMm": 345, "beltWidthMm": 16, "torqueNm": 8},
            "NO_RATING_HELD", ["working_tension_n"], ["base_width_mm"], ["rate", "AT5", "36", "36", "174", "345", "16", "--torque=8"]),
    refusal("rate, no load", "RateDrive", OPEN | {"beltWidthMm": 25}, "EXACTLY_ONE", ["torque_nm"], ["power_w"],
            ["rate", "H5M", "36", "36", "174", "345", "25"]),
    refusal("rate, power at rest", "RateDrive", OPEN | {"beltWidthMm": 25, "powerW": 100}, "NOT_GIVEN", ["speed_rpm"], ["power_w"],
            ["rate", "H5M", "36", "36", "174", "345", "25", "--power=100"]),
]
print(json.dumps(PAIRS, indent=1))
