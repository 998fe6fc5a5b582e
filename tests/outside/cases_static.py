"""Poses of pairs at rest, made by a seed: far, near, touching, overlapping, inside, in a cavity."""

import numpy as np

import oracles
import poses
from oracles import Mesh, TOUCH_MM, gap_bracket

FAR_MM = 10.0
INSIDE = {
    "mesh-mesh": [("small:cube-tiny", "small:block"), ("small:tetra-tiny", "small:ball"),
                  ("small:cube-tiny", "small:cone"), ("small:tetra-tiny", "small:lump"),
                  ("small:tetra-tiny", "demo:head"), ("small:cube-tiny", "real:sh1")],
    "revolved-mesh": [("tool:pin-4", "small:block"), ("tool:pin-4", "small:ball"),
                      ("tool:nose-75", "small:tetra-tiny"), ("tool:flat-16", "small:cube-tiny"),
                      ("tool:pin-4", "demo:head"), ("tool:bull-12", "small:tetra-tiny")],
    "revolved-revolved": [("tool:pin-4", "tool:nose-75"), ("tool:pin-4", "tool:flat-16"),
                          ("tool:lollipop-8", "tool:nose-75")],
}
CAVITY = {
    "mesh-mesh": [("small:cube-tiny", "small:box-hollow"), ("small:tetra", "small:box-hollow")],
    "revolved-mesh": [("tool:pin-4", "small:box-hollow")],
}


def classify(low, high, is_inside):
    """The class of a case by its reference values."""
    if is_inside:
        return "inside"
    if high <= TOUCH_MM:
        return "touching" if low == 0.0 and high > 0.0 else "overlapping"
    return "far" if low >= FAR_MM else "near"


def _base(rng, style):
    """A pose of the first body: general, quarter turns, or far from the origin."""
    pose = poses.random_pose(rng, 700.0, quarter=style == "quarter")
    if style == "off":
        pose[3 + int(rng.integers(3))] += 1e4 * (1 if rng.random() < 0.5 else -1)
    return pose


def _away(rng, bodies, pair, pose_a, style, spacing):
    """A pose of the second body at a random place near the first."""
    direction = rng.normal(size=3)
    direction /= np.linalg.norm(direction)
    reach = sum(bodies[name].radius for name in pair) * spacing
    pose = poses.random_pose(rng, 1.0, quarter=style == "quarter")
    middle = np.array(pose_a[3:]) + _middle_shift(bodies[pair[0]], pose_a)
    own = _middle_shift(bodies[pair[1]], pose)
    pose[3:] = [round(float(x), 4) for x in middle - own + direction * reach]
    return pose


def _middle_shift(body, pose):
    """From the origin of a body to the middle of its box, turned."""
    if isinstance(body, Mesh):
        low, high = body.vertices.min(axis=0), body.vertices.max(axis=0)
    else:
        ends = [mesh.vertices for mesh in body.inner]
        low = np.min([points.min(axis=0) for points in ends], axis=0)
        high = np.max([points.max(axis=0) for points in ends], axis=0)
    return poses.rotation(pose) @ ((low + high) / 2.0)


def _bracket(bodies, pair, pose_a, pose_b, rounds=8):
    return gap_bracket(bodies[pair[0]], poses.matrix(pose_a), bodies[pair[1]],
                       poses.matrix(pose_b), rounds)


def _moved_to(bodies, pair, pose_a, pose_b, target_mm):
    """The second body moved along the nearest line until `target_mm` are left there."""
    for _ in range(3):
        low, high, points, is_in = _bracket(bodies, pair, pose_a, pose_b, 2)
        if is_in or high <= TOUCH_MM:
            return None
        toward = (points[0] - points[1]) / np.linalg.norm(points[0] - points[1])
        shift = np.array(pose_b[3:]) + toward * (0.5 * (low + high) - target_mm)
        if target_mm > 0.0:
            shift = np.round(shift, 6)
        pose_b = pose_b[:3] + [float(x) for x in shift]
        low, high, _, _ = _bracket(bodies, pair, pose_a, pose_b, 2)
        if abs(high - target_mm) <= 1e-7 + 1e-5 * target_mm:
            break
    return pose_b


def _enclosed(rng, bodies, pair, pose_a, style):
    """The inner body near the middle of the outer one."""
    big = bodies[pair[1]].radius > bodies[pair[0]].radius
    spacing = rng.uniform(0.0, 0.25) * (1.0 if big else 0.3)
    return _away(rng, bodies, pair, pose_a, style, spacing)


def one_case(rng, bodies, pair, wish, style):
    """A case [a, b, pose a, pose b, lo, hi, class], or None where the wish could not be met."""
    pose_a = _base(rng, style)
    if wish in ("inside", "cavity"):
        pose_b = _enclosed(rng, bodies, pair, pose_a, style)
    else:
        spacing = {"overlapping": rng.uniform(0.0, 0.4), "far": rng.uniform(0.5, 1.6)}
        pose_b = _away(rng, bodies, pair, pose_a, style, spacing.get(wish, 1.05))
    if wish in ("near", "touching"):
        target_mm = 0.0 if wish == "touching" else float(10.0 ** rng.uniform(-4.0, 1.0))
        pose_b = _moved_to(bodies, pair, pose_a, pose_b, target_mm)
        if pose_b is None:
            return None
    low, high, _, is_in = _bracket(bodies, pair, pose_a, pose_b)
    kind = classify(low, high, is_in)
    if wish == "touching":
        if high > TOUCH_MM:
            return None
        kind = "touching"
    if wish == "cavity":
        kind = "cavity" if kind in ("far", "near") else kind
    if wish in ("inside", "cavity") and kind != wish:
        return None
    return [pair[0], pair[1], pose_a, pose_b, low, high, kind]


WISHES = ["far", "near", "near", "touching", "overlapping", "near"]
STYLES = ["general", "general", "quarter", "off"]


def cases_of(bodies, kind, firsts, seconds, count, seed):
    """`count` cases of one pair kind, the classes and styles in turn."""
    rng = np.random.default_rng(seed)
    cases, tried = [], 0
    while len(cases) < count:
        wish = WISHES[tried % len(WISHES)]
        pair = (firsts[rng.integers(len(firsts))], seconds[rng.integers(len(seconds))])
        if tried % 12 == 10:
            wish, pair = "inside", _choice(rng, bodies, INSIDE[kind])
        elif tried % 24 == 23 and kind in CAVITY:
            wish, pair = "cavity", _choice(rng, bodies, CAVITY[kind])
        case = one_case(rng, bodies, pair, wish, STYLES[tried // 6 % len(STYLES)])
        tried += 1
        if case is not None:
            cases.append(case)
    return cases


def _choice(rng, bodies, pairs):
    there = [pair for pair in pairs if all(bodies.there(name) for name in pair)]
    return there[rng.integers(len(there))]


def votes(bodies, case):
    """Other libraries on a case of two small meshes: fcl always, manifold3d where it is cheap."""
    a, b = bodies[case[0]], bodies[case[1]]
    pose_a, pose_b = poses.matrix(case[2]), poses.matrix(case[3])
    said = {"fcl": oracles.fcl_distance(a, pose_a, b, pose_b)}
    if len(a.triangles) * len(b.triangles) <= 60_000:
        solid = oracles.manifold_gap(a, pose_a, b, pose_b, case[5] + 1.0)
        if solid is not None:
            said["manifold3d"] = solid
    return said
