"""Writes layout.json: sides of bases with their clearances and the room for
standoffs, found with a general geometry library (Shapely, on GEOS).

Nothing here uses tangent points: the pitch line of a belt is the boundary of
the convex hull of its two pitch circles. A convex hull of circles grows and
shrinks with their radii as long as none vanishes, so its back, its tooth side
and what lies nearer to it than some reach are convex hulls as well. All else is
union, difference and distance of polygons.
Circles have 8192 corners, which is 1e-5 mm at most for the radii used. Center
distances come from bisection of the length equation. Lines on which an end of
the free room would shift by more than 0.001 mm if all parts grew by 0.00004 mm
are left out. Run: python3 generate.py > layout.json
"""
import json
import math
import random

from shapely.geometry import LineString, Point
from shapely.ops import unary_union

PITCH, A, HEIGHT, TOOTH = 5.0, 0.5715, 3.8, 2.08  # H5M, as in tables/sections.csv
INSIDE, BACK = A + TOOTH, HEIGHT - TOOTH - A
MARGIN, PLATE_HEIGHT, CLEARANCE, BOLT = 60.0, 400.0, 3.0, 8.0


def disc(x, y, r):
    return Point(x, y).buffer(r, resolution=2048)


def center(z1, z2, teeth):
    d = PITCH * (z2 - z1) / (2 * math.pi)

    def length(c):
        return 2 * math.sqrt(c * c - d * d) + PITCH * (z1 + z2) / 2 + 2 * d * math.asin(d / c)

    low, high = abs(d) + 1e-9, PITCH * teeth
    for _ in range(200):
        mid = (low + high) / 2
        low, high = (mid, high) if length(mid) < PITCH * teeth else (low, mid)
    return low


def signed(shape, x, y, r):
    """The gap of a disc to a shape; None where its center lies in the shape."""
    at = Point(x, y)
    return None if shape.contains(at) else at.distance(shape) - r


def free(line, taken, first, last):
    room = LineString([(first, line), (last, line)]).difference(taken)
    pieces = [] if room.is_empty else getattr(room, "geoms", [room])
    return sorted((p.bounds[0], p.bounds[2]) for p in pieces)


def side(rng, passing):
    while True:
        count = 3 if passing else rng.choice([2, 3, 4])
        scale = rng.choice([1.2, 4.0])
        teeth = [rng.randint(24, 60) for _ in range(count)]
        flanges = [rng.choice([None, round(PITCH * z / math.pi + 6, 1)]) for z in teeth]
        drops = [rng.choice([0, 2, 5, -4, 20]) for _ in range(count)]
        wheels = [scale * z for z in teeth]
        y = [(w - min(wheels)) / 2 - d for w, d in zip(wheels, drops)]
        ends = [(0, 1), (0, 2)] if passing else [(i, i + 1) for i in range(count - 1)]
        x, links = [0.0] * count, []
        for a, b in ends:
            far = rng.randint(130, 240) * (2 if (a, b) == (0, 2) else 1)
            c = center(teeth[a], teeth[b], far)
            dy = y[b] - y[a]
            if c <= abs(dy):
                break
            x[b] = x[a] + math.sqrt(c * c - dy * dy)
            links.append({"from": a, "to": b, "belt": far})
        gaps = [math.hypot(x[j] - x[i], y[j] - y[i]) - (wheels[i] + wheels[j]) / 2 for i in range(count) for j in range(i + 1, count)]
        if len(links) == len(ends) and min(gaps) > 5 and sorted(x) == x and passing in (False, scale > 2):
            return teeth, flanges, drops, wheels, x, y, links


def case(rng, passing=False):
    teeth, flanges, drops, wheels, x, y, links = side(rng, passing)
    radius = [PITCH * z / (2 * math.pi) for z in teeth]

    def hull(link, grown):
        return unary_union([disc(x[i], y[i], radius[i] + grown) for i in (link["from"], link["to"])]).convex_hull

    def belt(link, reach):
        ring = hull(link, BACK + reach).difference(hull(link, -INSIDE - reach))
        return unary_union([ring] + [disc(x[i], y[i], radius[i] + BACK + reach) for i in (link["from"], link["to"])])

    def pulleys(link, reach):
        return [disc(x[i], y[i], max(radius[i] + BACK, (flanges[i] or 0) / 2) + reach) for i in (link["from"], link["to"])]

    def everything(reach):
        parts = [disc(x[i], y[i], wheels[i] / 2 + reach) for i in range(len(x))]
        for link in links:
            parts += [belt(link, reach)] + pulleys(link, reach)
        return unary_union(parts)

    belts, hulls = [belt(link, 0) for link in links], [hull(link, 0) for link in links]
    all_pulleys = unary_union([p for link in links for p in pulleys(link, 0)])
    first, last = x[0] - MARGIN, x[-1] + MARGIN
    all_belts = unary_union(belts)
    standoffs = []
    while len(standoffs) < 12:
        r = rng.choice([3.0, 5.0, 7.0, 12.5])
        at = round(rng.uniform(first + r, last - r), 2), round(rng.uniform(-60, 60), 2)
        standoffs.append({
            "x": at[0], "y": at[1], "diameter": 2 * r,
            "wheel": min(math.hypot(at[0] - x[i], at[1] - y[i]) - wheels[i] / 2 for i in range(len(x))) - r,
            "belt": signed(all_belts, *at, r),
            "pulley": signed(all_pulleys, *at, r),
            "inside": any(h.contains(Point(at)) for h in hulls),
        })
    diameter = rng.choice([6.0, 14.0, 25.0])
    lines = []
    reach = diameter / 2 + CLEARANCE
    taken, more = everything(reach), everything(reach + 4e-5)
    for k in range(8):
        line = round(rng.uniform(-70, 70) if k % 2 else rng.uniform(-20, 20), 1)
        zones, grown = [free(line, t, first + diameter / 2, last - diameter / 2) for t in (taken, more)]
        if len(zones) != len(grown) or any(abs(u - v) > 1e-3 for z, g in zip(zones, grown) for u, v in zip(z, g)):
            continue
        lines.append({"y": line, "zones": [
            {"from": z[0], "to": z[1], "inside": any(h.contains(Point((z[0] + z[1]) / 2, line)) for h in hulls)} for z in zones]})
    passed = None
    if passing:
        passed = signed(belts[1], x[1], y[1], BOLT / 2)
    return {
        "teeth": teeth, "flanges": flanges, "drops": drops, "wheels": wheels, "links": links, "x": x, "y": y,
        "standoffs": standoffs, "standoff_diameter": diameter, "lines": lines, "passed": passed,
    }


if __name__ == "__main__":
    rng = random.Random(20)
    cases = [case(rng) for _ in range(24)] + [case(rng, passing=True) for _ in range(6)]
    print(json.dumps(cases, indent=1))
