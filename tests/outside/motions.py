"""Least gap over a motion by sampling a library, with a certified bracket.

A gap changes no faster than the motion moves points: r a unit of the motion. From the gaps d0 and
d1 at the ends of an interval h: least >= (d0 + d1 - r h) / 2. Intervals are halved only where that
is below the best found so far. Sampled values of inscribed prisms are upper values, those of
circumscribed prisms lower values.
"""

import heapq
import itertools
import math

import numpy as np

import poses
from oracles import Mesh, TOUCH_MM, coal_distance, contained, sides


def _at(bodies, case, s):
    """Poses of both bodies at a share of the motion."""
    pose_a, pose_b = poses.matrix(case["pose_a"]), poses.matrix(case["pose_b"])
    if "line" in case:
        start, end = (np.array(point) for point in case["line"])
        return (pose_a[0], pose_a[1] + start + (end - start) * s), pose_b
    turn = case["turn"]
    angle = turn["from"] + (turn["to"] - turn["from"]) * s
    return pose_a, poses.turned(pose_b, turn["centre"], np.array(turn["direction"]), angle)


def _gap(a, pose_a, b, pose_b):
    """Lower and upper value of the surface gap."""
    low = high = math.inf
    for one in sides(a, pose_a):
        for two in sides(b, pose_b):
            same = one.rings is None and two.rings is None
            distance, _ = coal_distance(one.outer, pose_a, two.outer, pose_b)
            if not same:
                low = min(low, distance)
                if low <= high:
                    distance, _ = coal_distance(one.inner, pose_a, two.inner, pose_b)
            low, high = min(low, distance), min(high, distance)
    return low, high


def speed(bodies, case):
    """Greatest way of a point of the slower body over the whole motion."""
    if "line" in case:
        start, end = (np.array(point) for point in case["line"])
        return float(np.linalg.norm(end - start))
    turn = case["turn"]
    reach = min(
        _reach(bodies[case[key]], poses.matrix(case[pose]), turn)
        for key, pose in (("a", "pose_a"), ("b", "pose_b"))
    )
    return reach * math.radians(abs(turn["to"] - turn["from"]))


def _reach(body, pose, turn):
    """Radius of the farthest point of a body from the rotary axis."""
    meshes = [body] if isinstance(body, Mesh) else body.outer
    points = np.vstack([mesh.vertices @ pose[0].T + pose[1] for mesh in meshes])
    away = points - np.array(turn["centre"])
    direction = np.array(turn["direction"])
    return float(np.linalg.norm(away - np.outer(away @ direction, direction), axis=1).max())


def _is_in(a, pose_a, b, pose_b):
    pairs = ((one, two) for one in sides(a, pose_a) for two in sides(b, pose_b))
    return any(contained(one.inner, pose_a, two.inner, pose_b) for one, two in pairs)


def sampled(bodies, case, close_mm=2e-3, most=6000):
    """[lo, hi] of the least gap over a line or a turn, and how many samples it took."""
    a, b = bodies[case["a"]], bodies[case["b"]]
    way = speed(bodies, case)
    ends = [_gap(a, *_swap(_at(bodies, case, s), b)) for s in (0.0, 1.0)]
    best = min(ends[0][1], ends[1][1])
    if best > TOUCH_MM and _is_in(a, *_swap(_at(bodies, case, 0.0), b)):
        return 0.0, 0.0, 2
    heap = [((ends[0][0] + ends[1][0] - way) / 2.0, 0.0, 1.0, ends[0][0], ends[1][0])]
    count = 2
    while heap and count < most and best > 0.0:
        bound, s0, s1, low0, low1 = heap[0]
        if bound >= best - close_mm:
            break
        heapq.heappop(heap)
        middle = (s0 + s1) / 2.0
        low, high = _gap(a, *_swap(_at(bodies, case, middle), b))
        best, count = min(best, high), count + 1
        moved = way * (s1 - s0) / 2.0
        heapq.heappush(heap, ((low0 + low - moved) / 2.0, s0, middle, low0, low))
        heapq.heappush(heap, ((low + low1 - moved) / 2.0, middle, s1, low, low1))
    bound = heap[0][0] if heap else best
    return max(0.0, min(bound, best)), best, count


def _swap(placed, b):
    pose_a, pose_b = placed
    return pose_a, b, pose_b


def line_exact(bodies, case):
    """Least gap of two meshes over a line without sampling: the first as swept triangles."""
    a, b = bodies[case["a"]], bodies[case["b"]]
    start, end = (np.array(point) for point in case["line"])
    pose_a, pose_b = poses.matrix(case["pose_a"]), poses.matrix(case["pose_b"])
    at_start = (pose_a[0], pose_a[1] + start)
    way = pose_a[0].T @ (end - start)
    distance, _ = coal_distance(_swept(a, way), at_start, b, pose_b)
    if distance > TOUCH_MM:
        if contained(a, at_start, b, pose_b) or _hit_on_the_way(a, way, at_start, b, pose_b):
            return 0.0
    return distance


def _swept(mesh, way):
    """The skins of the prisms that the triangles of a mesh sweep."""
    n = len(mesh.vertices)
    vertices = np.vstack([mesh.vertices, mesh.vertices + way])
    t = mesh.triangles
    parts = [t, t + n]
    for i, j in ((0, 1), (1, 2), (2, 0)):
        parts += [np.column_stack([t[:, i], t[:, j], t[:, j] + n])]
        parts += [np.column_stack([t[:, i], t[:, j] + n, t[:, i] + n])]
    return Mesh(vertices, np.vstack(parts))


def _hit_on_the_way(a, way, pose_a, b, pose_b):
    """Whether a triangle of `a` passes over a shell of `b` without touching it with its rim."""
    corners = a.vertices[a.triangles]
    u, v = corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    normal = np.cross(u, v)
    rate = normal @ way
    for point in b.shells:
        local = pose_a[0].T @ (pose_b[0] @ point + pose_b[1] - pose_a[1])
        away = local - corners[:, 0]
        with np.errstate(divide="ignore", invalid="ignore"):
            t = np.einsum("ij,ij->i", normal, away) / rate
            at = away - t[:, None] * way
            uu, uv, vv = (np.einsum("ij,ij->i", p, q) for p, q in ((u, u), (u, v), (v, v)))
            p, q = np.einsum("ij,ij->i", at, u), np.einsum("ij,ij->i", at, v)
            below = uu * vv - uv * uv
            s, r = (vv * p - uv * q) / below, (uu * q - uv * p) / below
            if ((t >= 0) & (t <= 1) & (s >= 0) & (r >= 0) & (s + r <= 1)).any():
                return True
    return False


def _area_corners(case):
    """Triangles of offsets that fill the area, and by how much the true area may stand out."""
    if "disc" not in case:
        points = [np.array(point) for point in case["offsets"]]
        return [(points[0], points[k], points[k + 1]) for k in range(1, len(points) - 1)], 0.0
    radius, normal, middle = case["disc"], np.array(case["normal"]), np.array(case["offsets"][0])
    across = np.cross(normal, np.eye(3)[int(np.argmin(np.abs(normal)))])
    across *= radius / np.linalg.norm(across)
    other = np.cross(normal, across)
    angles = [math.tau * k / 24 for k in range(25)]
    rim = [middle + across * math.cos(angle) + other * math.sin(angle) for angle in angles]
    fan = [(middle, rim[k], rim[k + 1]) for k in range(24)]
    return fan, radius * (1.0 - math.cos(math.pi / 24)) + 1e-12


def sampled_area(bodies, case, close_mm=0.02, most=4000):
    """[lo, hi] of the least gap over an area of positions, and how many samples it took.

    Within a triangle of positions the gap is at least the mean of its corners' gaps less the
    greatest mean distance of a point from the corners, which a corner has.
    """
    a, b = bodies[case["a"]], bodies[case["b"]]
    pose_a, pose_b = poses.matrix(case["pose_a"]), poses.matrix(case["pose_b"])
    known, order = {}, itertools.count()

    def gap(offset):
        key = offset.tobytes()
        if key not in known:
            known[key] = _gap(a, (pose_a[0], pose_a[1] + offset), b, pose_b)
        return known[key]

    def entry(corners):
        lows = [gap(corner)[0] for corner in corners]
        spread = max(sum(float(np.linalg.norm(p - q)) for q in corners) for p in corners) / 3.0
        return sum(lows) / 3.0 - spread, next(order), corners

    triangles, beyond = _area_corners(case)
    heap = []
    if _is_in(a, (pose_a[0], pose_a[1] + triangles[0][0]), b, pose_b):
        if gap(triangles[0][0])[1] > TOUCH_MM:
            return 0.0, 0.0, 1
    for corners in triangles:
        heap.append(entry(corners))
    heapq.heapify(heap)
    best = min(high for _, high in known.values())
    while len(known) < most and best > 0.0 and heap[0][0] < best - close_mm:
        _, _, corners = heapq.heappop(heap)
        k = max(range(3), key=lambda i: np.linalg.norm(corners[i] - corners[i - 1]))
        p, q, r = corners[k], corners[k - 1], corners[k - 2]
        middle = (p + q) / 2.0
        heapq.heappush(heap, entry((p, middle, r)))
        heapq.heappush(heap, entry((middle, q, r)))
        best = min(best, gap(middle)[1])
    return max(0.0, min(heap[0][0], best) - beyond), best, len(known)
