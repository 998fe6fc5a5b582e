"""The same scene and poses through coal 3.0.3, beside the times of the gap engine.

Called by `cargo bench --bench gap -- --python PATH`; the only argument is the folder of the scene.
"""

import sys
import time
from pathlib import Path

import coal
import numpy as np

HEAD_HEIGHT = 40.0
SAMPLES = 900


def read_model(folder, name):
    soup = np.fromfile(folder / f"{name}.f64").reshape(-1, 3)
    keys = np.round(soup * 1e6).astype(np.int64)
    _, first, index = np.unique(keys, axis=0, return_index=True, return_inverse=True)
    model = coal.BVHModelOBBRSS()
    triangles = index.reshape(-1, 3)
    vertices = soup[first]
    model.beginModel(len(triangles), len(vertices))
    model.addVertices(vertices)
    model.addTriangles(triangles.astype(np.int64))
    model.endModel()
    rows = np.loadtxt(folder / f"{name}.poses", ndmin=2).reshape(-1, 4, 4)
    return model, rows


def transform(matrix):
    return coal.Transform3s(np.ascontiguousarray(matrix[:3, :3]), matrix[:3, 3].copy())


def about_x(angle_deg):
    turn = np.eye(4)
    c, s = np.cos(np.radians(angle_deg)), np.sin(np.radians(angle_deg))
    turn[1:3, 1:3] = [[c, -s], [s, c]]
    return turn


def shift(vector):
    pose = np.eye(4)
    pose[:3, 3] = vector
    return pose


def tool_shapes(folder):
    """Cylinders where exact, a hull of 128 points for a cone frustum (coal has no such shape)."""
    shapes = []
    for below, above, low, high in np.loadtxt(folder / "tool.txt"):
        middle = shift([0, 0, (low + high) / 2])
        if below == above:
            shapes.append((coal.Cylinder(below, high - low), middle))
            continue
        turn = np.arange(64) / 64 * 2 * np.pi
        ring = np.stack([np.cos(turn), np.sin(turn)], axis=1)
        points = np.concatenate(
            [np.c_[ring * below, np.full(64, low)], np.c_[ring * above, np.full(64, high)]]
        )
        cloud = coal.StdVec_Vec3s()
        for point in points:
            cloud.append(point)
        shapes.append((hull(points), np.eye(4)))
    return shapes


def hull(points):
    model = coal.BVHModelOBBRSS()
    count = len(points) // 2
    triangles = []
    for i in range(count):
        j = (i + 1) % count
        triangles += [[i, j, count + j], [i, count + j, count + i]]
    model.beginModel(len(triangles), len(points))
    model.addVertices(points)
    model.addTriangles(np.array(triangles, dtype=np.int64))
    model.endModel()
    model.buildConvexRepresentation(False)
    return model.convex


class Work:
    """All bodies in one broad-phase manager; one by one only to check the values."""

    def __init__(self, folder):
        self.objects = []
        self.poses = []
        for name in ["bar", "plate", "housing", "clamp"]:
            model, rows = read_model(folder, name)
            for row in rows:
                self.objects.append(coal.CollisionObject(model))
                self.poses.append(row)
        self.manager = coal.DynamicAABBTreeCollisionManager()
        for item in self.objects:
            self.manager.registerObject(item)

    def turn(self, angle_deg):
        turn = about_x(angle_deg)
        for item, pose in zip(self.objects, self.poses):
            item.setTransform(transform(turn @ pose))
            item.computeAABB()
        self.manager.update()

    def distance(self, movers):
        callback = coal.DistanceCallBackDefault()
        best = np.inf
        for mover in movers:
            callback.init()
            callback.data.done = False
            self.manager.distance(mover, callback)
            best = min(best, callback.data.result.min_distance)
        return best

    def within(self, movers, margin):
        for mover in movers:
            callback = coal.CollisionCallBackDefault()
            callback.data.request.security_margin = margin
            self.manager.collide(mover, callback)
            if callback.data.result.isCollision():
                return True
        return False

    def distance_plain(self, movers):
        request = coal.DistanceRequest(False)
        best = np.inf
        for mover in movers:
            for item in self.objects:
                result = coal.DistanceResult()
                best = min(best, coal.distance(mover, item, request, result))
        return best


def movers(shapes, tip):
    found = []
    for shape, pose in shapes:
        item = coal.CollisionObject(shape, transform(shift(tip) @ pose))
        item.computeAABB()
        found.append(item)
    return found


def timed(call):
    start = time.perf_counter()
    value = call()
    return value, (time.perf_counter() - start) * 1e3


def read_ours(folder):
    ours = {}
    for line in (folder / "ours.txt").read_text().splitlines():
        name, kind, *values = line.split()
        ours[name, kind] = np.array(values, dtype=float).reshape(-1, 3)
    return ours


def main():
    folder = Path(sys.argv[1])
    cases = np.loadtxt(folder / "cases.txt", ndmin=2)
    ours = read_ours(folder)
    start = time.perf_counter()
    work = Work(folder)
    print(f"coal: scene in {time.perf_counter() - start:.2f} s")
    shapes = {
        "tool": (tool_shapes(folder), 0.0),
        "head": ([(read_model(folder, "head")[0], np.eye(4))], HEAD_HEIGHT),
    }
    for name, (parts, height) in shapes.items():
        rests(name, parts, height, cases, work, ours)
    for name, (parts, height) in shapes.items():
        turns(name, parts, height, cases[:5], work, ours)


def rests(name, parts, height, cases, work, ours):
    """Both sides take the best of three runs of each pose."""
    times, values = [], []
    for x, y, z, angle in cases:
        work.turn(angle)
        items = movers(parts, [x, y, z + height])
        runs = [timed(lambda: work.distance(items)) for _ in range(3)]
        plain = work.distance_plain(items)
        assert abs(runs[0][0] - plain) < 1e-6, (runs, plain)
        times.append(min(spent for _, spent in runs))
        values.append(plain)
    theirs = np.mean(times)
    print(f"{name} rest: coal {theirs:.3f} ms")
    for kind in ["rest", "cap10", "enough5"]:
        mean = ours[name, kind][:, 2].mean()
        print(f"  ours {kind:8} {mean:.3f} ms: {theirs / mean:.1f} times as fast")
    rows = ours[name, "rest"]
    off = np.maximum(rows[:, 0] - values, np.array(values) - rows[:, 1])
    print(f"  greatest disagreement outside our bracket {off.max():.2e} mm")


def turns(name, parts, height, cases, work, ours):
    distance, margin, over = [], [], []
    for row, (x, y, z, angle) in enumerate(cases):
        items = movers(parts, [x, y, z + height])
        least, spent, spent_margin, hit = np.inf, 0.0, 0.0, False
        for step in range(SAMPLES):
            work.turn(angle + 90.0 * step / (SAMPLES - 1))
            value, one = timed(lambda: work.distance(items))
            within, two = timed(lambda: work.within(items, 5.0))
            least = min(least, value)
            spent += one
            spent_margin += 0.0 if hit else two
            hit |= within
        distance.append(spent)
        margin.append(spent_margin)
        low, high, _ = ours[name, "turn"][row]
        over.append(max(low - least, 0.0))
        step_rad = np.radians(90.0 / (SAMPLES - 1))
        assert least - 500.0 * step_rad / 2 <= high, (least, low, high)
    for kind, spent in [("turn", distance), ("turn5", margin)]:
        mean = ours[name, kind][: len(cases), 2].mean()
        theirs = np.mean(spent)
        print(f"{name} {kind}: coal {theirs:.1f} ms, ours {mean:.3f}: {theirs / mean:.0f} times")
    print(f"  our lower value over the sampled one by {max(over):.2e} mm at most")


main()
