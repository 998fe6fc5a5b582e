"""Prisms in and round a solid of revolution, turned so that they are exact at a chosen point.

Every vertex of an inscribed prism is on the true body, so distances from it are upper values. A
circumscribed prism holds the true body, so distances from it are lower values.
"""

import math

import numpy as np

# Sides round the axis and steps of a half circle: of a prism that looks everywhere, and of one
# that is turned to a point, where it is exact whatever its number of sides.
FULL = (256, 32)
TURNED = (64, 16)


def _tangent_angles(rings):
    """Normals of the lines that touch two rings, so that cones and walls come out exact."""
    angles = []
    for i, (r0, h0, b0) in enumerate(rings):
        for r1, h1, b1 in rings[i + 1 :]:
            apart = math.hypot(r1 - r0, h1 - h0)
            if apart > abs(b0 - b1):
                along, off = math.atan2(h1 - h0, r1 - r0), math.acos((b0 - b1) / apart)
                angles += [along + off, along - off]
    return angles


def profile(rings, outside, extra, steps):
    """(radius, height) from the foot to the top of the hull of the rings, lowest, highest.

    Outside: the tangents at many angles meet. Inside: the points that they touch at. Both are
    exact at the angles `extra`.
    """
    half = math.pi / 2.0
    grid = [-half + math.pi * k / steps for k in range(1, steps)]
    given = [math.remainder(angle, math.tau) for angle in [*_tangent_angles(rings), *extra]]
    angles = sorted([-half, *grid, *(a for a in given if -half < a < half), half])
    lines, touched = [], []
    for index, angle in enumerate(angles):
        if index and angle - angles[index - 1] < 1e-7 and angle != half:
            continue
        n = (math.cos(angle), math.sin(angle))
        if abs(angle) == half:
            n = (0.0, math.copysign(1.0, angle))
        points = [(r + b * n[0], h + b * n[1]) for r, h, b in rings]
        reach = max(n[0] * r + n[1] * h for r, h in points)
        on = [p for p in points if reach - n[0] * p[0] - n[1] * p[1] <= 1e-12 * (1.0 + abs(reach))]
        touched += sorted(on, key=lambda p: n[0] * p[1] - n[1] * p[0])
        lines.append((n, reach))
    low, high = -lines[0][1], lines[-1][1]
    rims = _meetings(lines) if outside else touched
    rims = [p for p in rims if p[0] > 1e-12]
    return [p for i, p in enumerate(rims) if i == 0 or math.dist(p, rims[i - 1]) > 1e-12], low, high


def _meetings(lines):
    """Where each tangent meets the next."""
    points = []
    for ((ax, ay), a), ((bx, by), b) in zip(lines, lines[1:]):
        below = ax * by - ay * bx
        points.append(((a * by - b * ay) / below, (ax * b - bx * a) / below))
    return points


def prism(rings, outside, turn=0.0, extra=(), fineness=FULL):
    """Vertices and triangles of the piece; `turn` and `extra` say where it is exact."""
    sides, steps = fineness
    rims, low, high = profile(rings, outside, extra, steps)
    step = 2.0 * math.pi / sides
    scale = 1.0 / math.cos(step / 2.0) if outside else 1.0
    angles = turn + (np.arange(sides) + (0.5 if outside else 0.0)) * step
    circle = np.column_stack([np.cos(angles), np.sin(angles)]) * scale
    parts = [np.column_stack([circle * r, np.full(sides, h)]) for r, h in rims]
    vertices = np.vstack([*parts, [[0.0, 0.0, low], [0.0, 0.0, high]]])
    here = np.arange(sides)
    after = (here + 1) % sides
    faces = []
    for i in range(len(rims) - 1):
        a, b = i * sides + here, i * sides + after
        c, d = a + sides, b + sides
        faces += [np.column_stack([a, b, d]), np.column_stack([a, d, c])]
    last = (len(rims) - 1) * sides
    foot, top = len(rims) * sides, len(rims) * sides + 1
    faces.append(np.column_stack([np.full(sides, foot), after, here]))
    faces.append(np.column_stack([np.full(sides, top), last + here, last + after]))
    return vertices, np.vstack(faces)


def facing(rings, point):
    """`turn` and `extra` that make a prism exact at a point (in the piece's own frame)."""
    r, z = math.hypot(point[0], point[1]), point[2]
    turn = math.atan2(point[1], point[0])
    return turn, [math.atan2(z - height, r - radius) for radius, height, _ in rings]
