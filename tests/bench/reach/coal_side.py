"""The same pieces through coal 3.0.3, beside the time of the whole map.

Called by `cargo bench --bench reach -- --python PATH` with the folder, how many pieces and how many
squares of the grain the map has, and the processor time that ours took for it. Each piece is asked
about thrice: is its first tip free, at rest; is some tip of those that touch its middle free on the whole
way down, which is what ours answers (for the whole piece); how large is the gap at the first tip. The way
down is asked at once: convex elements are swept upward, which is exact for them; meshes of the tool
group are asked at rest only. All is less than ours, which answers for every tip of the piece, and for
travel. Times are processor time on both sides.
"""

import sys
import time
from pathlib import Path

import coal
import numpy as np

# How far up the way down is followed: beyond all of the demo.
UP = 600.0


def model(folder, number):
    soup = np.fromfile(folder / f"{number}.f64").reshape(-1, 3)
    keys = np.round(soup * 1e6).astype(np.int64)
    _, first, index = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    return bvh(soup[first], index.reshape(-1, 3))


def bvh(vertices, triangles):
    found = coal.BVHModelOBBRSS()
    found.beginModel(len(triangles), len(vertices))
    found.addVertices(np.ascontiguousarray(vertices))
    found.addTriangles(np.ascontiguousarray(triangles, dtype=np.int64))
    found.endModel()
    return found


def swept(rings, up):
    """The rings, and the same moved up."""
    return np.concatenate([rings, rings + [0.0, up]])


def lessened(rings, depth):
    """A convex outline with its sides and its bottom moved inward; the top stays."""
    rings = rings[np.argsort(rings[:, 1], kind="stable")]
    steps = np.diff(rings, axis=0)
    steps = steps[np.linalg.norm(steps, axis=1) > 1e-9]
    # Each line as (normal, offset): the bottom's, then the sides'.
    lines = [(np.array([0.0, -1.0]), -rings[0, 1] - depth)] if rings[0, 0] > 0 else []
    at = rings[0]
    for step in steps:
        out = np.array([step[1], -step[0]]) / np.linalg.norm(step)
        lines.append((out, out @ at - depth))
        at = at + step
    lines.append((np.array([0.0, 1.0]), rings[-1, 1]))
    if rings[0, 0] == 0:
        lines.insert(0, (np.array([-1.0, 0.0]), 0.0))
    pairs = zip(lines[:-1], lines[1:])
    corners = []
    for (p, p_mm), (q, q_mm) in pairs:
        normals = np.array([p, q])
        if abs(np.linalg.det(normals)) > 1e-12:
            corners.append(np.linalg.solve(normals, [p_mm, q_mm]))
    return np.maximum(np.array(corners), [0.0, -np.inf])


def hull(rings, sides):
    """Cylinders where exact, else a hull of rings of points."""
    if np.all(rings[:, 0] == rings[0, 0]):
        low, high = rings[:, 1].min(), rings[:, 1].max()
        middle = np.eye(4)
        middle[2, 3] = (low + high) / 2
        return coal.Cylinder(rings[0, 0], high - low), middle
    turn = np.arange(sides) / sides * 2 * np.pi
    points = np.concatenate(
        [np.c_[np.cos(turn) * r, np.sin(turn) * r, np.full(sides, h)] for r, h in rings]
    )
    points = np.unique(np.round(points, 9), axis=0)
    cloud = coal.StdVec_Vec3s()
    for point in points:
        cloud.append(point)
    return coal.Convex.convexHull(cloud, True, "Qt"), np.eye(4)


def matrix(values):
    return np.array(values, dtype=float).reshape(4, 4)


def placed(pose):
    return coal.Transform3s(np.ascontiguousarray(pose[:3, :3]), pose[:3, 3].copy())


class Bench:
    def __init__(self, folder):
        self.folder = folder
        self.models = {}
        self.bodies = []
        self.tools = []
        for line in (folder / "scene.txt").read_text().splitlines():
            self.read(line.split())

    def shared(self, number):
        if number not in self.models:
            self.models[number] = model(self.folder, number)
        return self.models[number]

    def read(self, words):
        kind = words[0]
        if kind in ("bed", "iron", "first", "last"):
            seat, number, chord = int(words[1]), words[2], float(words[3])
            body = (kind, seat, self.shared(number), chord, matrix(words[4:]))
            self.bodies.append(body)
        elif kind == "gouge":
            # What the flutes may seem to stand in the own part.
            self.gouge = float(words[1])
        elif kind == "tool":
            self.tools.append([])
        elif kind == "mesh":
            shape, pose = self.shared(words[2]), matrix(words[3:])
            self.tools[-1].append((kind, float(words[1]), [(shape, pose)] * 2))
        else:
            wanted, sides = float(words[1]), int(words[2])
            pose, rings = matrix(words[3:19]), np.array(words[19:], dtype=float).reshape(-1, 2)
            self.element(kind, wanted, rings, sides, pose)
            if kind == "flutes":
                # Against its own part: less the gouge tolerance.
                self.element("core", 0.0, lessened(rings, self.gouge), sides, pose)

    def element(self, kind, wanted, rings, sides, pose):
        """At rest, and swept upward."""
        up = UP * np.sign(pose[2, 2])
        shapes = [hull(some, sides) for some in (rings, swept(rings, up))]
        both = [(shape, pose @ middle) for shape, middle in shapes]
        self.tools[-1].append((kind, wanted, both))

    def around(self, seat, table_from_carrier):
        """All but the part at the seat in one broad phase, and that part."""
        manager, kept, own = coal.DynamicAABBTreeCollisionManager(), [], None
        for kind, of_seat, shape, chord, pose in self.bodies:
            at = pose if kind == "bed" else table_from_carrier @ pose
            item = coal.CollisionObject(shape, placed(at))
            item.computeAABB()
            if of_seat == seat and kind == "last":
                own = item, chord
            elif not (of_seat == seat and kind == "first"):
                manager.registerObject(item)
                kept.append(item)
        manager.setup()
        return manager, kept, own

    def tool(self, number, table_from_tool, way):
        found = []
        for kind, wanted, both in self.tools[number]:
            shape, pose = both[way]
            item = coal.CollisionObject(shape, placed(table_from_tool @ pose))
            item.computeAABB()
            # The broad phase knows of no margin: the box grows by it.
            item.getAABB().expand(wanted)
            found.append((kind, wanted, item))
        return found


def is_free(items, manager, own_and_chord):
    own, chord = own_and_chord
    for kind, wanted, item in items:
        if kind != "flutes":
            request, result = coal.CollisionRequest(), coal.CollisionResult()
            request.security_margin = wanted + (chord if wanted > 0 else 0.0)
            if coal.collide(item, own, request, result):
                return False
        if kind != "core":
            callback = coal.CollisionCallBackDefault()
            callback.data.request.security_margin = wanted
            manager.collide(item, callback)
            if callback.data.result.isCollision():
                return False
    return True


def least(items, manager, own_and_chord):
    own, _ = own_and_chord
    best = np.inf
    for kind, _wanted, item in items:
        if kind != "flutes":
            result = coal.DistanceResult()
            best = min(best, coal.distance(item, own, coal.DistanceRequest(False), result))
        if kind != "core":
            callback = coal.DistanceCallBackDefault()
            manager.distance(item, callback)
            best = min(best, callback.data.result.min_distance)
    return best


class Clock:
    """Processor time of one question after the other."""

    def __init__(self):
        self.each = []

    def __enter__(self):
        self.begun = time.thread_time()

    def __exit__(self, *_):
        self.each.append(time.thread_time() - self.begun)


def asked(bench, row, clocks):
    """Whether coal finds a free tip; it is not asked about tips out of travel, which costs nothing."""
    if len(row) == 20:
        for clock in clocks:
            clock.each.append(0.0)
        return False
    tool, seat = int(row[0]), int(row[1])
    manager, _kept, own = bench.around(seat, matrix(row[4:20]))
    tips = np.array(row[20:], dtype=float).reshape(-1, 4, 4)
    at_rest = bench.tool(tool, tips[0], 0)
    with clocks[0]:
        is_free(at_rest, manager, own)
    ways = [bench.tool(tool, tip, 1) for tip in tips]
    with clocks[1]:
        free = any(is_free(way, manager, own) for way in ways)
    with clocks[2]:
        least(at_rest, manager, own)
    return free


def main():
    folder, ours_s = Path(sys.argv[1]), float(sys.argv[4])
    counts = {"pieces": float(sys.argv[2]), "squares": float(sys.argv[3])}
    bench = Bench(folder)
    lines = (folder / "sample.txt").read_text().splitlines()
    rows = [line.split() for line in lines]
    clocks = [Clock(), Clock(), Clock()]
    free = np.array([asked(bench, row, clocks) for row in rows])
    found = np.array([int(row[2]) for row in rows])
    squares = np.array([float(row[3]) for row in rows])
    tips = np.array([(len(row) - 20) // 16 for row in rows])
    print(f"coal: {len(rows)} pieces, {tips.mean():.2f} tips in travel each, some tip free at {free.mean():.3f}")
    for name, code in [("not reached", 0), ("reached", 1), ("undecided", 2)]:
        here = found == code
        print(f"  {name} by ours {here.mean():.3f}: free by coal {free[here].sum()} of {here.sum()}")
    weights = {"pieces": np.ones(len(rows)), "squares": squares}
    for what, count in counts.items():
        for name, clock in zip(["one tip at rest", "all tips, way down", "gaps"], clocks):
            each = np.average(clock.each, weights=weights[what])
            print(
                f"coal for the whole map, {what}, {name}: {each * 1e3:.3f} ms each, "
                f"{each * count:.0f} s; ours {ours_s:.0f} s: {each * count / ours_s:.1f} times as fast"
            )
    if np.any(~free[found == 1]):
        sys.exit("what is reached by ours is not free by coal")


main()
