"""Writes path.json: questions and answers for paths over many wheels.

The answers come from 40-digit arithmetic (mpmath) by school geometry: each
tangent from the circle of Thales over the line of centers, each arc from the
arc cosine of its two radii. Positions are found by a scan of 4000 steps and
bisection, slopes by differences. Belt heights, tooth heights and pitch line
differentials are those of tables/sections.csv, or given.
Run: python3 generate_path.py > path.json
"""
import json
from mpmath import mp, mpf, pi, sqrt, acos, cos, sin, degrees, radians, floor

mp.dps = 40

PITCH = {"H5M": "5", "XL": "5.08", "L": "9.525"}
# Belt height, tooth height, pitch line differential.
HEIGHTS = {"H5M": ("3.8", "2.08", "0.5715"), "XL": ("2.3", "1.27", "0.254"), "L": ("3.6", "1.91", "0.381")}


def number(x):
    x = float(x)
    return int(x) if x == int(x) and abs(x) < 1e15 else x


def sub(a, b):
    return (a[0] - b[0], a[1] - b[1])


def cross(a, b):
    return a[0] * b[1] - a[1] * b[0]


def norm(a):
    return sqrt(a[0] ** 2 + a[1] ** 2)


class Wheel:
    def __init__(self, rim, x=None, y=None):
        """rim is 36 for teeth, "d60" for a smooth wheel, "b40" for one on the back."""
        self.rim, self.x, self.y = rim, x, y

    def json(self):
        w = {"kind": "WHEEL_KIND_SMOOTH", "side": "WRAP_SIDE_INSIDE"}
        if isinstance(self.rim, int):
            w["kind"], w["toothCount"] = "WHEEL_KIND_TOOTHED", self.rim
        else:
            w["diameterMm"] = number(mpf(self.rim[1:]))
            if self.rim[0] == "b":
                w["side"] = "WRAP_SIDE_OUTSIDE"
        if self.x is not None:
            w["center"] = {"xMm": number(self.x), "yMm": number(self.y)}
        return w

    def word(self):
        at = "" if self.x is None else "@%s,%s" % (number(self.x), number(self.y))
        return str(self.rim) + at

    def radii(self, p, heights):
        """Radius of the pitch line, and of the wheel itself."""
        belt, tooth, a = (None if h is None else mpf(h) for h in heights)
        if isinstance(self.rim, int):
            r = p * self.rim / (2 * pi)
            return r, r if a is None else r - a
        rim = mpf(self.rim[1:]) / 2
        return (rim + tooth + a if self.rim[0] == "d" else rim + belt - tooth - a), rim


def tangent(c1, r1, s1, c2, r2, s2):
    """The ends of the tangent that leaves circle 1 on its side and meets circle 2."""
    reduced = r1 - r2 if s1 == s2 else r1 + r2
    along = sub(c2, c1)
    d = norm(along)
    # The touching point of the reduced circle lies on the circle of Thales over
    # the centers: its foot is reduced^2/d along, its height by Pythagoras.
    foot = reduced ** 2 / d
    height = sqrt(reduced ** 2 - foot ** 2)
    for side in (1, -1):
        if reduced == 0:
            n = (-along[1] / d * side, along[0] / d * side)
        else:
            t = (foot * along[0] / d - side * height * along[1] / d, foot * along[1] / d + side * height * along[0] / d)
            n = (t[0] / reduced, t[1] / reduced)
        p1 = (c1[0] + r1 * n[0], c1[1] + r1 * n[1])
        k = r2 if s1 == s2 else -r2
        p2 = (c2[0] + k * n[0], c2[1] + k * n[1])
        if cross(sub(p2, p1), sub(c1, p1)) * s1 > 0:
            return p1, p2
    raise ValueError("no tangent")


def path(p, heights, wheels, direction):
    """The parts of the path in the given direction, or None where it does not go round once."""
    n = len(wheels)
    turn = [direction if not str(w.rim).startswith("b") else -direction for w in wheels]
    radii = [w.radii(p, heights) for w in wheels]
    centers = [(mpf(w.x), mpf(w.y)) for w in wheels]
    spans = []
    for i in range(n):
        j = (i + 1) % n
        spans.append(tangent(centers[i], radii[i][0], turn[i], centers[j], radii[j][0], turn[j]))
    out, length, around = [], mpf(0), mpf(0)
    for i in range(n):
        came, goes = spans[i - 1][1], spans[i][0]
        a, b = sub(came, centers[i]), sub(goes, centers[i])
        r = radii[i][0]
        cosine = max(mpf(-1), min(mpf(1), (a[0] * b[0] + a[1] * b[1]) / r ** 2))
        wrap = acos(cosine)
        if cross(a, b) * turn[i] < 0 and wrap > mpf(10) ** -15:
            wrap = 2 * pi - wrap
        around += wrap * turn[i]
        start, end = (came, goes) if turn[i] > 0 else (goes, came)
        out.append({"wrap": wrap, "from": start, "to": end, "r": r, "rim": radii[i][1], "center": centers[i]})
        length += r * wrap + norm(sub(spans[i][1], spans[i][0]))
    if abs(around - 2 * pi * direction) > mpf(10) ** -15:
        return None
    return {"wheels": out, "spans": spans, "length": length, "ccw": direction > 0}


def point(at):
    return {"xMm": number(at[0]), "yMm": number(at[1])}


def solution(p, wheels, found, position=None, slope=None):
    s = {
        "wheels": [], "spans": [],
        "beltLengthMm": number(found["length"]),
        "exactToothCount": number(found["length"] / p),
        "counterClockwise": found["ccw"],
    }
    for w, g in zip(wheels, found["wheels"]):
        mesh = int(floor(w.rim * g["wrap"] / (2 * pi) + mpf(10) ** -20)) if isinstance(w.rim, int) else 0
        s["wheels"].append({
            "center": point(g["center"]),
            "pitchRadiusMm": number(g["r"]),
            "rimRadiusMm": number(g["rim"]),
            "wrapAngleDeg": number(degrees(g["wrap"])),
            "contactLengthMm": number(g["r"] * g["wrap"]),
            "meshedToothCount": mesh,
            "wrapFrom": point(g["from"]),
            "wrapTo": point(g["to"]),
        })
    for a, b in found["spans"]:
        s["spans"].append({"from": point(a), "to": point(b), "lengthMm": number(norm(sub(b, a)))})
    if position is not None:
        s["positionMm"], s["lengthPerMm"] = number(position), number(slope)
    return s


def ask(belt, wheels, teeth=None, moving=None, heights=None):
    request = {"wheels": [w.json() for w in wheels]}
    command = ["path"]
    if belt in PITCH:
        request["section"] = belt
        command.append(belt)
    else:
        request["pitchMm"] = number(mpf(belt))
        command += ["--pitch", belt]
    command += [w.word() for w in wheels]
    if heights:
        for key, flag, h in zip(("beltHeightMm", "toothHeightMm", "pitchLineDifferentialMm"),
                                ("--belt-height", "--tooth-height", "--pitch-line"), heights):
            if h is not None:
                request[key] = number(mpf(h))
                command += [flag, h]
    if teeth:
        request["beltToothCount"] = teeth
        command += ["--belt", str(teeth)]
    if moving:
        request["moving"] = moving["json"]
        command += moving["command"]
    return request, command


def pair(name, belt, wheels, notes=(), teeth=None, moving=None, heights=None, directions=(1,)):
    request, command = ask(belt, wheels, teeth, moving, heights)
    p = mpf(PITCH.get(belt, belt))
    held = heights or HEIGHTS.get(belt, (None, None, None))
    solutions = []
    if moving is None:
        found = path(p, held, wheels, directions[0])
        solutions.append(solution(p, wheels, found))
    else:
        solutions = positions(p, held, wheels, p * teeth, moving, directions)
    return {
        "name": name, "rpc": "SolvePath", "request": request, "command": command,
        "response": {"solutions": solutions}, "notes": list(notes), "error": None,
    }


def positions(p, heights, wheels, wanted, moving, directions):
    index = moving["json"]["wheelIndex"]

    def put(s):
        moved = list(wheels)
        x, y = moving["at"](s)
        moved[index] = Wheel(wheels[index].rim, x, y)
        return moved

    found = []
    for direction in directions:
        def excess(s):
            try:
                got = path(p, heights, put(s), direction)
            except ValueError:
                return None
            return None if got is None else got["length"] - wanted
        steps, before = 4000, None
        for k in range(steps + 1):
            s = moving["length"] * k / steps
            now = excess(s)
            if now is not None and before is not None and (now > 0) != (before > 0):
                low, high = s - moving["length"] / steps, s
                for _ in range(140):
                    mid = (low + high) / 2
                    if (excess(mid) > 0) == (before > 0):
                        low = mid
                    else:
                        high = mid
                h = mpf(10) ** -14
                slope = (excess(low + h) - excess(low - h)) / (2 * h)
                moved = put(low)
                found.append((low, solution(p, moved, path(p, heights, moved, direction), low, slope)))
            before = now
    return [s for _, s in sorted(found, key=lambda f: f[0])]


def segment(index, x1, y1, x2, y2):
    x1, y1, x2, y2 = (mpf(v) for v in (x1, y1, x2, y2))
    length = sqrt((x2 - x1) ** 2 + (y2 - y1) ** 2)
    word = lambda x, y: "%s,%s" % (number(x), number(y))
    return {
        "json": {"wheelIndex": index, "segment": {"from": point((x1, y1)), "to": point((x2, y2))}},
        "command": ["--move", str(index + 1), "--from", word(x1, y1), "--to", word(x2, y2)],
        "length": length,
        "at": lambda s: (x1 + (x2 - x1) * s / length, y1 + (y2 - y1) * s / length),
    }


def arc(index, x, y, radius, start, end):
    x, y, radius, start, end = (mpf(v) for v in (x, y, radius, start, end))
    sign = 1 if end > start else -1
    return {
        "json": {"wheelIndex": index, "arc": {"center": point((x, y)), "radiusMm": number(radius), "fromDeg": number(start), "toDeg": number(end)}},
        "command": ["--move", str(index + 1), "--pivot", "%s,%s" % (number(x), number(y)), "--radius", str(number(radius)),
                    "--from-angle", str(number(start)), "--to-angle", str(number(end))],
        "length": radius * radians(abs(end - start)),
        "at": lambda s: (x + radius * cos(radians(start) + sign * s / radius), y + radius * sin(radians(start) + sign * s / radius)),
    }


def refusal(name, belt, wheels, reason, fields, contains=(), nearest="", teeth=None, moving=None):
    request, command = ask(belt, wheels, teeth, moving)
    return {
        "name": name, "rpc": "SolvePath", "request": request, "command": command, "response": None, "notes": [],
        "error": {"code": "INVALID_ARGUMENT", "reason": reason, "fields": list(fields), "contains": list(contains), "nearest": nearest},
    }


def main():
    two = [Wheel(36, 0, 0), Wheel(36, 345, 0)]
    listed = "NO_WHOLE_BELT"
    all_pairs = [
        pair("path: two wheels of a drive", "H5M", two),
        pair("path: 12 in exactly", "L", [Wheel(22, 0, 0), Wheel(22, 0, 304.8)], teeth=86),
        pair("path: three pulleys", "H5M", [Wheel(36, 0, 0), Wheel(45, 300, 20), Wheel(24, 120, 180)], [listed]),
        pair("path: three pulleys, clockwise", "XL", [Wheel(20, 0, 0), Wheel(16, 50, 90), Wheel(30, 140, -10)], [listed, "FEW_MESHED_TEETH"], directions=(-1,)),
        pair("path: a wheel on the back", "H5M", two + [Wheel("b40", 170, 28)], [listed, "BACK_WHEEL_UNKNOWN"]),
        pair("path: five wheels, smooth ones on both sides", "XL",
             [Wheel(30, 0, 0), Wheel("b30", 90, -10), Wheel(30, 200, -40), Wheel("d70", 220, 120), Wheel("b50", 80, 60)],
             [listed]),
        pair("path: heights given for a pitch", "8", [Wheel(30, 0, 0), Wheel(40, 400, 0), Wheel("b90", 200, 60), ],
             [listed, "BACK_WHEEL_UNKNOWN"], heights=("6", "3.38", "0.686")),
        pair("path: the center distance of a drive", "H5M", [Wheel(36, 0, 0), Wheel(45)], teeth=178, moving=segment(1, 200, 0, 500, 0)),
        pair("path: two positions of a wheel on the back", "H5M", two + [Wheel("b40")], ["LENGTH_NOT_LISTED", "BACK_WHEEL_UNKNOWN"],
             teeth=175, moving=segment(2, 170, 60, 170, -60), directions=(1, -1)),
        pair("path: a pulley on an arm", "H5M", [Wheel(36, 0, 0), Wheel(24), Wheel(45, 300, 0)], teeth=190,
             moving=arc(1, 0, 0, 190, -80, -10)),
        pair("path: an arm clockwise", "H5M", [Wheel(36, 0, 0), Wheel(45, 300, 0), Wheel("b60")], ["LENGTH_NOT_LISTED", "BACK_WHEEL_UNKNOWN"],
             teeth=161, moving=arc(2, 150, 150, 120, -60, -150)),
        refusal("path: two wheels in one place", "H5M", [Wheel(36, 0, 0), Wheel(36, 50, 0)], "WHEELS_OVERLAP", ["wheels[1].center"],
                ["50.000 mm apart", "56.153 mm"]),
        refusal("path: a wheel that is not reached", "H5M", two + [Wheel("b40", 170, 90)], "WHEEL_NOT_REACHED", ["wheels[2].center"]),
        refusal("path: a belt too long", "H5M", two + [Wheel("b40")], "NO_POSITION_FITS", ["belt_tooth_count"], ["250"],
                teeth=250, moving=segment(2, 170, 60, 170, -60)),
        refusal("path: no heights", "5", two + [Wheel("b40", 170, 28)], "BELT_HEIGHTS_UNKNOWN", ["belt_height_mm"]),
        refusal("path: everything wrong", "H5M", [Wheel(5, 0, 0), Wheel("d0", 345, 0), Wheel(36)], "OUT_OF_RANGE",
                ["belt_tooth_count", "wheels[0].tooth_count", "wheels[1].diameter_mm", "wheels[2].center"], teeth=6),
    ]
    print(json.dumps(all_pairs, indent=1))


main()
