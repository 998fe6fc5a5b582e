"""The reference libraries behind one face: surface distance, solid gap, brackets for tools.

Surface distance: coal 3.0.3, python-fcl 0.7.0.11 as a third vote, numpy by brute force.
Solid gap: manifold3d 3.5.4 `min_gap`, and the surface distance with winding numbers
(van Oosterom and Strackee, 1983, solid angle of a triangle; from memory).
"""

import coal
import fcl
import manifold3d
import numpy as np

import prisms

TOUCH_MM = 1e-6


class Mesh:
    """A mesh with the tree of each library, built when first asked for."""

    def __init__(self, vertices, triangles):
        self.vertices = np.ascontiguousarray(vertices, dtype=np.float64)
        self.triangles = np.ascontiguousarray(triangles, dtype=np.int64)
        self.radius = float(np.linalg.norm(self.vertices, axis=1).max())
        self._made = {}

    def _once(self, name, make):
        if name not in self._made:
            self._made[name] = make()
        return self._made[name]

    @property
    def coal(self):
        """Tree of coal."""
        return self._once("coal", self._make_coal)

    def _make_coal(self):
        model = coal.BVHModelOBBRSS()
        model.beginModel(len(self.triangles), len(self.vertices))
        model.addVertices(self.vertices)
        model.addTriangles(self.triangles)
        model.endModel()
        return model

    @property
    def fcl(self):
        """Tree of fcl."""
        return self._once("fcl", self._make_fcl)

    def _make_fcl(self):
        model = fcl.BVHModel()
        model.beginModel(len(self.vertices), len(self.triangles))
        model.addSubModel(self.vertices, self.triangles)
        model.endModel()
        return model

    @property
    def manifold(self):
        """Solid of manifold3d, or None where it refuses the mesh."""
        return self._once("manifold", self._make_manifold)

    def _make_manifold(self):
        solid = manifold3d.Manifold(
            manifold3d.Mesh64(self.vertices, self.triangles.astype(np.uint64))
        )
        return solid if solid.status() == manifold3d.Error.NoError else None

    @property
    def shells(self):
        """One vertex of each connected shell."""
        return self._once("shells", self._find_shells)

    def _find_shells(self):
        _, weld = np.unique(self.vertices + 0.0, axis=0, return_inverse=True)
        faces = weld.reshape(-1)[self.triangles]
        label = np.arange(len(self.vertices))
        while True:
            least = label[faces].min(axis=1)
            after = label.copy()
            np.minimum.at(after, faces.ravel(), np.repeat(least, 3))
            after = after[after]
            if np.array_equal(after, label):
                break
            label = after
        of_shell = label[faces[:, 0]]
        firsts = [self.triangles[of_shell == value][0][0] for value in np.unique(of_shell)]
        return self.vertices[firsts]

    def winding(self, point):
        """Winding number of the whole mesh about a point in its own frame."""
        a, b, c = (self.vertices[self.triangles[:, k]] - point for k in range(3))
        la, lb, lc = (np.linalg.norm(v, axis=1) for v in (a, b, c))
        volume = np.einsum("ij,ij->i", a, np.cross(b, c))
        dots = [np.einsum("ij,ij->i", p, q) for p, q in ((a, b), (b, c), (c, a))]
        below = la * lb * lc + dots[0] * lc + dots[1] * la + dots[2] * lb
        return float(np.arctan2(volume, below).sum() / (2.0 * np.pi))


class Tool:
    """A solid of revolution: rings of each piece, and its two prisms."""

    def __init__(self, pieces):
        self.pieces = pieces
        self.inner = [Mesh(*prisms.prism(rings, False)) for rings in pieces]
        self.outer = [Mesh(*prisms.prism(rings, True)) for rings in pieces]
        self.radius = max(mesh.radius for mesh in self.outer)


_REQUEST = coal.DistanceRequest()
_RESULT = coal.DistanceResult()


def coal_distance(a, pose_a, b, pose_b):
    """Surface distance, 0 where surfaces cross; with the nearest points in the common frame."""
    _RESULT.clear()
    placed_a = coal.Transform3s(pose_a[0], pose_a[1])
    placed_b = coal.Transform3s(pose_b[0], pose_b[1])
    distance = coal.distance(a.coal, placed_a, b.coal, placed_b, _REQUEST, _RESULT)
    points = np.array(_RESULT.getNearestPoint1()), np.array(_RESULT.getNearestPoint2())
    return max(distance, 0.0), points


def fcl_distance(a, pose_a, b, pose_b):
    """Surface distance by fcl, 0 where surfaces cross."""
    one = fcl.CollisionObject(a.fcl, fcl.Transform(pose_a[0], pose_a[1]))
    two = fcl.CollisionObject(b.fcl, fcl.Transform(pose_b[0], pose_b[1]))
    return max(fcl.distance(one, two), 0.0)


def manifold_gap(a, pose_a, b, pose_b, search_mm):
    """Gap of solids by manifold3d, at most `search_mm`; None where it refuses a mesh."""
    if a.manifold is None or b.manifold is None:
        return None
    one = a.manifold.transform(np.column_stack(pose_a))
    two = b.manifold.transform(np.column_stack(pose_b))
    return one.min_gap(two, search_mm)


def holds(outer, pose_outer, inner, pose_inner):
    """Whether a shell of `inner` is in the material of `outer`; surfaces must not cross."""
    for point in inner.shells:
        common = pose_inner[0] @ point + pose_inner[1]
        if outer.winding(pose_outer[0].T @ (common - pose_outer[1])) > 0.5:
            return True
    return False


def contained(a, pose_a, b, pose_b):
    """Whether one is in the material of the other; surfaces must not cross."""
    return holds(a, pose_a, b, pose_b) or holds(b, pose_b, a, pose_a)


def _nearest_frame(point, pose):
    return pose[0].T @ (point - pose[1])


class _Side:
    """A mesh, or one piece of a tool, as one of two sides of a bracket."""

    def __init__(self, inner, outer, rings, pose):
        self.inner, self.outer, self.rings, self.pose = inner, outer, rings, pose

    def faced(self, point):
        """The side with its prisms turned to a point in the common frame."""
        if self.rings is None:
            return self
        turn, extra = prisms.facing(self.rings, _nearest_frame(point, self.pose))
        inner = Mesh(*prisms.prism(self.rings, False, turn, extra, prisms.TURNED))
        outer = Mesh(*prisms.prism(self.rings, True, turn, extra, prisms.TURNED))
        return _Side(inner, outer, self.rings, self.pose)


def sides(body, pose):
    """A body as convex pieces of a tool, or as one mesh."""
    if isinstance(body, Mesh):
        return [_Side(body, body, None, pose)]
    pieces = zip(body.inner, body.outer, body.pieces)
    return [_Side(inner, outer, rings, pose) for inner, outer, rings in pieces]


def _distances(one, two):
    low, _ = coal_distance(one.outer, one.pose, two.outer, two.pose)
    high, points = coal_distance(one.inner, one.pose, two.inner, two.pose)
    return low, high, points


def surface_bracket(a, pose_a, b, pose_b, rounds=8):
    """[lo, hi] of the surface distance, the nearest points, sharpened by turning the prisms."""
    pairs = []
    for one in sides(a, pose_a):
        for two in sides(b, pose_b):
            pairs.append([*_distances(one, two), one, two])
    for _ in range(rounds):
        best = min(pair[1] for pair in pairs)
        for pair in pairs:
            low, high, points, one, two = pair
            if low >= best or high == 0.0 or high - low < 1e-8:
                continue
            one, two = one.faced(points[1]), two.faced(points[0])
            sharper = _distances(one, two)
            pair[0] = max(low, sharper[0])
            if sharper[1] < high:
                pair[1], pair[2] = sharper[1], sharper[2]
            best = min(best, pair[1])
    nearest = min(pairs, key=lambda pair: pair[1])
    return min(pair[0] for pair in pairs), nearest[1], nearest[2]


def gap_bracket(a, pose_a, b, pose_b, rounds=8):
    """[lo, hi] of the gap of solids, the nearest points, and whether one is in the other."""
    low, high, points = surface_bracket(a, pose_a, b, pose_b, rounds)
    if high > TOUCH_MM:
        for one in sides(a, pose_a):
            for two in sides(b, pose_b):
                if contained(one.inner, pose_a, two.inner, pose_b):
                    return 0.0, 0.0, points, True
    return low, high, points, False


def brute_distance(a, pose_a, b, pose_b):
    """Surface distance of small meshes without any library: all pairs of triangles in numpy."""
    one = (a.vertices @ pose_a[0].T + pose_a[1])[a.triangles]
    two = (b.vertices @ pose_b[0].T + pose_b[1])[b.triangles]
    if _edges_cross(one, two) or _edges_cross(two, one):
        return 0.0
    least = min(_points_to_triangles(one.reshape(-1, 3), two),
                _points_to_triangles(two.reshape(-1, 3), one))
    return min(least, _edges_to_edges(one, two))


def _edges_of(triangles):
    start = triangles.reshape(-1, 3)
    end = np.roll(triangles, -1, axis=1).reshape(-1, 3)
    return start, end - start


def _edges_cross(first, second):
    """Whether an edge of the first goes through a triangle of the second (Moeller, Trumbore)."""
    start, along = _edges_of(first)
    for corner, u, v in zip(second[:, 0], second[:, 1] - second[:, 0], second[:, 2] - second[:, 0]):
        normal = np.cross(u, v)
        rate = along @ normal
        with np.errstate(divide="ignore", invalid="ignore"):
            t = ((corner - start) @ normal) / rate
            at = start + along * t[:, None] - corner
            uu, uv, vv = u @ u, u @ v, v @ v
            p, q = at @ u, at @ v
            s = (vv * p - uv * q) / (uu * vv - uv * uv)
            r = (uu * q - uv * p) / (uu * vv - uv * uv)
            hit = (t >= 0) & (t <= 1) & (s >= 0) & (r >= 0) & (s + r <= 1)
        if hit.any():
            return True
    return False


def _points_to_triangles(points, triangles):
    """Least distance of points whose foot is inside a triangle."""
    least = np.inf
    for a, b, c in triangles:
        u, v = b - a, c - a
        normal = np.cross(u, v)
        area = np.linalg.norm(normal)
        if area == 0.0:
            continue
        at = points - a
        uu, uv, vv = u @ u, u @ v, v @ v
        p, q = at @ u, at @ v
        s = (vv * p - uv * q) / (uu * vv - uv * uv)
        r = (uu * q - uv * p) / (uu * vv - uv * uv)
        inside = (s >= 0) & (r >= 0) & (s + r <= 1)
        if inside.any():
            least = min(least, np.abs(at[inside] @ normal).min() / area)
    return least


def _edges_to_edges(first, second):
    """Least distance of all edges: the segment problem solved on its square by clamping."""
    p, u = _edges_of(first)
    least = np.inf
    for q, v in zip(*_edges_of(second)):
        w = p - q
        a, b, c = np.einsum("ij,ij->i", u, u), u @ v, v @ v
        d, e = np.einsum("ij,ij->i", u, w), w @ v
        below = a * c - b * b
        with np.errstate(divide="ignore", invalid="ignore"):
            s = np.clip(np.nan_to_num((b * e - c * d) / below), 0.0, 1.0)
        t = np.clip((b * s + e) / c, 0.0, 1.0)
        s = np.clip((b * t - d) / a, 0.0, 1.0)
        t = np.clip((b * s + e) / c, 0.0, 1.0)
        gap = w + u * s[:, None] - v * t[:, None]
        least = min(least, float(np.sqrt(np.einsum("ij,ij->i", gap, gap).min())))
    return least
