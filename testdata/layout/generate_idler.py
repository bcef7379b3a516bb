"""Writes idler.json: two axles with a belt that is too long and an idler that
takes it up, found by bisection and with a general geometry library (Shapely, on
GEOS).

The frame of the tangents has the line of centers as its first axis; an idler
below it is mirrored up. A tangent of two circles is the direction whose normal
sees both at the right distance, found by bisection; the place of the idler is
found by bisection of the length. Where the idler stands inside, the length is
checked with the convex hull of three polygons of 8192 corners. Distances to the
belt are those to its pitch line as a polygon, less the belt's thickness on that
side: every arc is larger than that. Run: python3 generate_idler.py > idler.json
"""
import json
import math
import random

from shapely.geometry import LineString, Point, Polygon
from shapely.ops import unary_union

PITCH, A, HEIGHT, TOOTH = 5.0, 0.5715, 3.8, 2.08  # H5M, as in tables/sections.csv
INSIDE, BACK = A + TOOTH, HEIGHT - TOOTH - A
WHEEL = 160.0


def bisect(f, low, high):
    """The root of f, which falls from above 0 to below."""
    for _ in range(200):
        mid = (low + high) / 2
        low, high = (mid, high) if f(mid) > 0 else (low, mid)
    return (low + high) / 2


def tangent(p, q, k):
    """The direction of a line to the right from circle p to q: along its normal
    q lies k above p."""
    dx, dy = q[0] - p[0], q[1] - p[1]
    return bisect(lambda t: -math.sin(t) * dx + math.cos(t) * dy - k, -math.pi / 2, math.pi / 2)


class Course:
    """The pitch line round pulleys at (0, 0) and (c, 0) and an idler above."""

    def __init__(self, c, ra, rb, at, ri, inside):
        self.a, self.b, self.i, self.ra, self.rb, self.ri, self.inside = (0, 0), (c, 0), at, ra, rb, ri, inside
        s = ri if inside else -ri
        self.up = tangent(self.a, at, ra - s)
        self.down = tangent(at, self.b, s - rb)
        self.low = -tangent(self.a, self.b, ra - rb)
        turn = self.up - self.down
        self.wraps = (math.pi + self.low - self.up, math.pi + self.down - self.low, turn if inside else -turn)
        self.spans = [math.cos(t) * (q[0] - p[0]) + math.sin(t) * (q[1] - p[1])
                      for t, p, q in ((self.up, self.a, at), (self.down, at, self.b), (self.low, self.a, self.b))]
        self.length = sum(self.spans) + ra * self.wraps[0] + rb * self.wraps[1] + ri * self.wraps[2]

    def points(self, n=4096):
        """The pitch line as corners, clockwise over the top."""
        def arc(center, r, start, end):
            return [(center[0] + r * math.cos(start + (end - start) * k / n), center[1] + r * math.sin(start + (end - start) * k / n)) for k in range(n + 1)]
        right = math.pi / 2
        turn = right if self.inside else -right
        return (arc(self.a, self.ra, self.low + 3 * right, self.up + right) + arc(self.i, self.ri, self.up + turn, self.down + turn)
                + arc(self.b, self.rb, self.down + right, self.low - right))


def case(rng, kind):
    inside = kind != "outside"
    while True:
        za, zb = rng.randint(24, 50), rng.randint(24, 50)
        ra, rb = PITCH * za / (2 * math.pi), PITCH * zb / (2 * math.pi)
        c = round(rng.uniform(230, 420), 3)
        share = rng.choice([None, 0.3, 0.5, 0.62])
        teeth = rng.randint(12, 40) if kind == "toothed" else None
        diameter = None if teeth else rng.choice([30.0, 40.0, 55.5])
        rim = PITCH * teeth / (2 * math.pi) - A if teeth else diameter / 2
        ri = PITCH * teeth / (2 * math.pi) if teeth else rim + (INSIDE if inside else BACK)
        x = c * (share or 0.5)

        def course(h):
            return Course(c, ra, rb, (x, h), ri, inside)

        if inside:  # from where it touches the belt to where the belt is long
            touch = bisect(lambda h: -course(h).wraps[2], 0, 200)
            if touch < 1e-6:
                continue
            low, high = touch + 1, touch + 60
        else:  # from where it comes near the other span to where it leaves the belt
            touch = bisect(lambda h: course(h).wraps[2], 0, 150)
            low, high = bisect(lambda h: -(h - ri - INSIDE + min(ra, rb) - INSIDE - 2), -60, 200), touch - 1
        if high - low < 20:
            continue
        rising = 1 if inside else -1
        ends = sorted([course(low).length, course(high).length])
        whole = [n for n in range(1, 5000) if ends[0] + 1 < n * PITCH < ends[1] - 1]
        if not whole:
            continue
        belt = rng.choice(whole)
        h = bisect(lambda v: rising * (belt * PITCH - course(v).length), low, high)
        start, end = round(rng.uniform(low, h - 0.5), 2), round(rng.uniform(h + 0.5, high), 2)
        if low < start < h < end < high and (inside or not start <= -h <= end):  # one place only
            break
    below = rng.random() < 0.5
    drop = rng.choice([0, 3, -8, 25])
    ux, uy = math.sqrt(c * c - drop * drop) / c, -drop / c
    m = -1 if below else 1

    def place(p):
        return p[0] * ux - m * p[1] * uy, p[0] * uy + m * p[1] * ux

    taut = course(h)
    line = Polygon([place(p) for p in taut.points()])
    assert abs(line.length - belt * PITCH) < 1e-3, line.length
    a, b, i = place(taut.a), place(taut.b), place(taut.i)
    if inside:
        hull = unary_union([Point(*at).buffer(r, resolution=2048) for at, r in ((a, ra), (b, rb), (i, ri))]).convex_hull
        assert abs(hull.length - belt * PITCH) < 1e-3, hull.length
    body = ri + (BACK if inside else INSIDE)

    def reach(at, center, r):
        return math.hypot(at[0] - center[0], at[1] - center[1]) - r

    standoffs = []
    while len(standoffs) < 10:
        r = rng.choice([3.0, 5.0, 7.0])
        at = round(rng.uniform(-40, b[0] + 40), 2), round(rng.uniform(-90, 90), 2)
        pulley = min(reach(at, a, ra + BACK), reach(at, b, rb + BACK), reach(at, i, body)) - r
        if pulley < -r + 1:
            continue
        contains = line.contains(Point(*at))
        belt_gap = line.exterior.distance(Point(*at)) - (INSIDE if contains else BACK) - r
        if belt_gap < -r + 0.1:
            continue  # in the belt
        standoffs.append({"x": at[0], "y": at[1], "diameter": 2 * r, "belt": min(belt_gap, pulley), "pulley": pulley, "inside": contains})
    own = LineString([place((math.sin(taut.low) * r + p[0], -math.cos(taut.low) * r + p[1])) for p, r in ((taut.a, ra), (taut.b, rb))])
    lengths = [course(v).length - belt * PITCH for v in (start, end)]
    return {
        "teeth": [za, zb], "belt": belt, "center_distance": c, "drop": drop, "idler_teeth": teeth, "idler_diameter": diameter, "outside": not inside,
        "share": share, "from": -end if below else start, "to": -start if below else end,
        "offset": m * h, "center": i, "wraps": taut.wraps, "spans": [taut.spans[2], min(taut.spans[:2]), max(taut.spans[:2])],
        "longer": max(lengths), "shorter": -min(lengths), "longer_travel": end - h if inside else h - start, "shorter_travel": h - start if inside else end - h,
        "wheel": min(reach(i, a, WHEEL / 2), reach(i, b, WHEEL / 2)) - body,
        "own_span": own.distance(Point(*i)) - INSIDE - (rim if inside else body),
        "floor": i[1] - body - (min(0, -drop) - WHEEL / 2),
        "standoffs": standoffs,
    }


if __name__ == "__main__":
    rng = random.Random(23)
    print(json.dumps([case(rng, kind) for kind in ("toothed", "smooth", "outside") for _ in range(12)], indent=1))
