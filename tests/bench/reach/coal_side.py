"""The same points through coal 3.0.3, beside the time of the whole map.

Called by `cargo bench --bench reach -- --python PATH` with the folder, the number of points of the map
and the processor time that ours took for it. Asked three times: is the tip free where it touches; is
it free on the way down as well, at steps, which is what ours answers; and how large is the gap there.
Each is less than ours: one tip for each point, no travel, nothing about what lies between points and
steps. Times are processor time on both sides.
"""

import sys
import time
from pathlib import Path

import coal
import numpy as np

# Steps of the way down, and how far up it is followed.
STEP = 2.0
UP = 120.0


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


def hull(rings, sides):
    """Cylinders where exact, else a hull of rings of points."""
    if len(rings) == 2 and rings[0, 0] == rings[1, 0]:
        low, high = sorted(rings[:, 1])
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
        elif kind == "tool":
            self.tools.append([])
        elif kind == "mesh":
            element = (kind, float(words[1]), self.shared(words[2]), matrix(words[3:]))
            self.tools[-1].append(element)
        else:
            wanted, sides = float(words[1]), int(words[2])
            pose, rings = matrix(words[3:19]), np.array(words[19:], dtype=float).reshape(-1, 2)
            shape, middle = hull(rings, sides)
            self.tools[-1].append((kind, wanted, shape, pose @ middle))
            if kind == "flutes":
                # Against its own part: less the gouge tolerance.
                less = rings.copy()
                less[:, 0] = np.maximum(less[:, 0] - 0.01, 0)
                middle_z = rings[:, 1].mean()
                less[:, 1] -= np.sign(less[:, 1] - middle_z) * 0.01
                shape, middle = hull(less, sides)
                self.tools[-1].append(("core", 0.0, shape, pose @ middle))

    def around(self, seat, table_from_carrier):
        """All but the part at the seat in one broad phase, and that part."""
        manager, kept, own = coal.DynamicAABBTreeCollisionManager(), [], None
        for kind, of_seat, shape, _, pose in self.bodies:
            at = pose if kind == "bed" else table_from_carrier @ pose
            item = coal.CollisionObject(shape, placed(at))
            item.computeAABB()
            if of_seat == seat and kind == "last":
                own = item
            elif not (of_seat == seat and kind == "first"):
                manager.registerObject(item)
                kept.append(item)
        manager.setup()
        return manager, kept, own

    def tool(self, number, table_from_tool):
        found = []
        for kind, wanted, shape, pose in self.tools[number]:
            item = coal.CollisionObject(shape, placed(table_from_tool @ pose))
            item.computeAABB()
            # The broad phase knows of no margin: the box grows by it.
            item.getAABB().expand(wanted)
            found.append((kind, wanted, item))
        return found


def is_free(items, manager, own):
    for kind, wanted, item in items:
        if kind != "flutes":
            request, result = coal.CollisionRequest(), coal.CollisionResult()
            request.security_margin = wanted
            if coal.collide(item, own, request, result):
                return False
        if kind != "core":
            callback = coal.CollisionCallBackDefault()
            callback.data.request.security_margin = wanted
            manager.collide(item, callback)
            if callback.data.result.isCollision():
                return False
    return True


def least(items, manager, own):
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


def main():
    folder, points, ours_s = Path(sys.argv[1]), float(sys.argv[2]), float(sys.argv[3])
    bench = Bench(folder)
    rows = np.loadtxt(folder / "sample.txt", ndmin=2)
    times, ways, gaps, free = [], [], [], []
    for row in rows:
        tool, seat = int(row[0]), int(row[1])
        manager, _kept, own = bench.around(seat, matrix(row[4:20]))
        items = bench.tool(tool, matrix(row[20:36]))
        start = time.thread_time()
        at_end = is_free(items, manager, own)
        times.append(time.thread_time() - start)
        start = time.thread_time()
        least(items, manager, own)
        gaps.append(time.thread_time() - start)
        spent, height = times[-1], STEP
        while at_end and height <= UP:
            up = matrix(row[20:36])
            up[:3, 3] += up[:3, 2] * height
            items = bench.tool(tool, up)
            start = time.thread_time()
            at_end = is_free(items, manager, own)
            spent += time.thread_time() - start
            height += STEP
        ways.append(spent)
        free.append(at_end)
    mean, way = np.mean(times), np.mean(ways)
    low, high = rows[:, 2].mean(), rows[:, 3].mean()
    print(f"coal: {len(rows)} points, {mean * 1e3:.3f} ms each (median {np.median(times) * 1e3:.3f})")
    print(f"coal: {np.mean(free):.3f} of the points free; our shares there say {low:.3f} to {high:.3f}")
    for name, each in [("tips alone", mean), ("with the way down", way), ("gaps", np.mean(gaps))]:
        print(
            f"coal for the whole map, {name}: {each * 1e3:.3f} ms a point, {each * points:.0f} s; "
            f"ours {ours_s:.0f} s: {each * points / ours_s:.1f} times as fast"
        )


main()
