"""Bodies of the cases: small meshes made here, and tools as rings. Nothing is read from a file.

A mesh is (vertices, triangles), closed and oriented outward. A tool is a list of pieces, a piece a
list of rings [radius, height, ball] whose convex hull it is, the tip at height 0.
"""

import math

import numpy as np


def grid(values):
    """Coordinates that a short decimal number holds."""
    return np.round(np.asarray(values, dtype=float), 4)


def box(low, high):
    """A cuboid of 12 triangles."""
    corners = [[(low, high)[i >> axis & 1][axis] for axis in range(3)] for i in range(8)]
    faces = [
        [0, 2, 3], [0, 3, 1], [4, 5, 7], [4, 7, 6], [0, 1, 5], [0, 5, 4],
        [2, 6, 7], [2, 7, 3], [0, 4, 6], [0, 6, 2], [1, 3, 7], [1, 7, 5],
    ]
    return grid(corners), np.array(faces)


def joined(*meshes):
    """Several shells in one mesh."""
    vertices, triangles, base = [], [], 0
    for points, faces in meshes:
        vertices.append(points)
        triangles.append(faces + base)
        base += len(points)
    return np.vstack(vertices), np.vstack(triangles)


def inverted(mesh):
    """Inside out: the wall of a cavity."""
    return mesh[0], mesh[1][:, ::-1]


def shifted(mesh, shift):
    """Moved by a vector."""
    return grid(mesh[0] + np.asarray(shift)), mesh[1]


def ears(outline):
    """Triangles of a simple polygon, counter-clockwise, by ear clipping."""
    left = list(range(len(outline)))
    triangles = []

    def side(a, b, c):
        return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])

    while len(left) > 3:
        for k in range(len(left)):
            i, j, n = left[k - 1], left[k], left[(k + 1) % len(left)]
            a, b, c = outline[i], outline[j], outline[n]
            if side(a, b, c) <= 0.0:
                continue
            others = [outline[m] for m in left if m not in (i, j, n)]
            if any(min(side(a, b, p), side(b, c, p), side(c, a, p)) >= 0.0 for p in others):
                continue
            triangles.append([i, j, n])
            left.pop(k)
            break
        else:
            raise ValueError("not a simple polygon")
    return triangles + [left]


def extruded(outline, low, high):
    """A prism over a simple counter-clockwise polygon."""
    n = len(outline)
    caps = ears(outline)
    vertices = [[x, y, z] for z in (low, high) for x, y in outline]
    faces = [[c, b, a] for a, b, c in caps] + [[a + n, b + n, c + n] for a, b, c in caps]
    for i in range(n):
        j = (i + 1) % n
        faces += [[i, j, j + n], [i, j + n, i + n]]
    return grid(vertices), np.array(faces)


def star(points, outer, inner, low, high):
    """A prism over a star."""
    outline = []
    for k in range(2 * points):
        radius, angle = (outer if k % 2 == 0 else inner), math.pi * k / points
        outline.append((radius * math.cos(angle), radius * math.sin(angle)))
    return extruded(outline, low, high)


def around(profile, sides, closed=False):
    """A profile of (radius, height) turned about z; `closed` for a ring with a hole."""
    loops = len(profile)
    vertices = [
        [r * math.cos(2 * math.pi * k / sides), r * math.sin(2 * math.pi * k / sides), h]
        for r, h in profile
        for k in range(sides)
    ]
    faces = []
    for i in range(loops if closed else loops - 1):
        for k in range(sides):
            n, up = (k + 1) % sides, (i + 1) % loops
            a, b = i * sides + k, i * sides + n
            c, d = up * sides + n, up * sides + k
            faces += [[a, b, c], [a, c, d]]
    if not closed:
        vertices += [[0.0, 0.0, profile[0][1]], [0.0, 0.0, profile[-1][1]]]
        foot, top, last = loops * sides, loops * sides + 1, (loops - 1) * sides
        for k in range(sides):
            n = (k + 1) % sides
            faces += [[foot, n, k], [top, last + k, last + n]]
    return grid(vertices), np.array(faces)


def lump(rng, rings, sides, radius, roughness):
    """A star-shaped, bumpy ball."""
    profile = [
        (radius * math.sin(math.pi * k / rings), -radius * math.cos(math.pi * k / rings))
        for k in range(1, rings)
    ]
    vertices, faces = around(profile, sides)
    vertices = vertices.copy()
    vertices[-2:, 2] = [-radius, radius]
    bumps = 1.0 + roughness * (rng.random(len(vertices)) - 0.5)
    return grid(vertices * bumps[:, None]), faces


def pocket_block():
    """A block with an open pocket and a step: faces that look at one another."""
    outline = [
        (-40, -25), (40, -25), (40, 5), (20, 5), (20, -10), (-12, -10), (-12, 14), (20, 14),
        (20, 12), (40, 12), (40, 25), (-40, 25),
    ]
    return extruded(outline, -12.0, 12.0)


def small_meshes(seed=20260101):
    """All small bodies by name; the largest has 480 triangles."""
    rng = np.random.default_rng(seed)
    shell = joined(box((-60, -50, -40), (60, 50, 40)), inverted(box((-50, -40, -30), (50, 40, 30))))
    angle = [(0, 0), (50, 0), (50, 10), (10, 10), (10, 40), (0, 40)]
    torus = [
        (30 + 9 * math.cos(2 * math.pi * k / 10), 9 * math.sin(2 * math.pi * k / 10))
        for k in range(10)
    ]
    return {
        "block": box((-45, -35, -23), (45, 35, 23)),
        "cube-tiny": box((-2, -2, -2), (2, 2, 2)),
        "plate-thin": box((-70, -50, -0.05), (70, 50, 0.05)),
        "needle": extruded([(0, 0), (0.02, 0), (0, 0.02)], 0.0, 120.0),
        "tetra": (
            grid([[0, 0, 0], [31.7, 2.3, 1.1], [4.9, 28.1, -3.7], [8.3, 7.7, 24.9]]),
            np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]]),
        ),
        "angle": extruded(angle, -15.0, 15.0),
        "star": star(7, 30.0, 12.0, -8.0, 8.0),
        "pocket": pocket_block(),
        "column-bored": around([(40, -60), (80, -60), (80, 60), (40, 60)], 8, closed=True),
        "torus": around(torus, 24, closed=True),
        "cone": around([(25, 0), (3, 60)], 32),
        "lump": lump(rng, 9, 16, 35.0, 0.35),
        "ball": lump(rng, 12, 20, 30.0, 0.0),
        "box-hollow": shell,
        "two-boxes": joined(box((-50, -10, -10), (-20, 10, 10)), box((20, -15, -5), (45, 15, 5))),
        "tetra-tiny": (
            grid([[0, 0, 0], [3.1, 0.2, 0.1], [0.4, 2.9, -0.3], [0.8, 0.7, 2.5]]),
            np.array([[0, 2, 1], [0, 1, 3], [1, 2, 3], [2, 0, 3]]),
        ),
    }


def tools():
    """All solids of revolution by name: pieces of rings [radius, height, ball]."""
    disc = lambda radius, height: [radius, height, 0.0]
    return {
        "flat-16": [
            [disc(8, 0), disc(8, 32)], [disc(8, 32), disc(8, 45)], [disc(22, 45), disc(22, 110)],
        ],
        "ball-10": [
            [[0.0, 5.0, 5.0], disc(5, 22)], [disc(4.9, 22), disc(4.9, 50)],
            [disc(12, 50), disc(16, 96)], [disc(31.5, 96), disc(31.5, 130)],
        ],
        "bull-12": [
            [[4.0, 2.0, 2.0], disc(6, 26)], [disc(5.5, 26), disc(5.5, 48)],
            [disc(15, 48), disc(20, 60)], [disc(20, 60), disc(20, 105)],
        ],
        "drill-6": [
            [disc(0, 0), disc(3, 1.8026), disc(3, 66)], [disc(3, 66), disc(3, 105)],
            [disc(13.5, 105), disc(26.1, 265)],
        ],
        "chamfer-12": [
            [disc(0.5, 0), disc(6, 5.5), disc(6, 20)], [disc(6, 20), disc(6, 50)],
            [disc(21, 50), disc(21, 140)],
        ],
        "face-50": [
            [disc(20, 0), disc(25, 5), disc(25, 40)], [disc(24, 40), disc(24, 100)],
            [disc(22.225, 100), disc(12.6875, 165.4)],
        ],
        "groove-40": [
            [disc(20, 0), disc(20, 3)], [disc(6, 3), disc(6, 40)], [disc(16, 40), disc(10, 90)],
        ],
        "lollipop-8": [
            [[0.0, 4.0, 4.0]], [disc(2, 4), disc(2.5, 45)], [disc(10, 45), disc(14, 80)],
        ],
        "pin-4": [[disc(2, 0), disc(2, 6)]],
        "nose-75": [
            [disc(60, 0), disc(75, 25), disc(75, 90)], [[100.0, 100.0, 10.0], [100.0, 160.0, 10.0]],
        ],
    }
