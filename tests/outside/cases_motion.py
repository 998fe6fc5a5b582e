"""Lines, index moves and areas, made by a seed, with brackets from sampling."""

import time

import numpy as np

import motions
import poses
from cases_static import _middle_shift as middle_shift

# Bodies whose triangles are few, so that thousands of samples a case cost little.
SMALL = ["block", "cube-tiny", "plate-thin", "needle", "tetra", "angle", "star", "pocket",
         "column-bored", "cone", "lump", "two-boxes"]
TOOLS = ["flat-16", "ball-10", "bull-12", "drill-6", "chamfer-12", "groove-40", "lollipop-8",
         "pin-4"]
SMALL_NAMES = [f"small:{name}" for name in SMALL]
TOOL_NAMES = [f"tool:{name}" for name in TOOLS]
FULL = [("tool:flat-16", "demo:housing-finished"), ("tool:drill-6", "demo:clamp"),
        ("demo:head", "demo:carrier"), ("tool:bull-12", "real:sh2"), ("demo:head", "demo:clamp")]


def _rounded(vector):
    return [round(float(x), 4) for x in vector]


def _unit(rng):
    vector = rng.normal(size=3)
    return vector / np.linalg.norm(vector)


def _placed(rng, body, middle, quarter):
    """A pose with the middle of the body's box at a point."""
    pose = poses.random_pose(rng, 1.0, quarter)
    pose[3:] = _rounded(middle - middle_shift(body, pose))
    return pose


def _miss(rng, bodies, names):
    """A distance of middles at which bodies pass, touch or cross."""
    return sum(min(bodies[name].radius, 120.0) for name in names) * rng.uniform(0.15, 1.3)


def line_case(rng, bodies, names):
    """The first body passes the second on a straight line."""
    quarter = rng.random() < 0.3
    centre = rng.uniform(-500.0, 500.0, 3)
    along, side = _unit(rng), _unit(rng)
    if quarter:
        along = np.eye(3)[rng.integers(3)]
    side -= along * (side @ along)
    way = rng.uniform(5.0, 300.0)
    passing = centre + side / np.linalg.norm(side) * _miss(rng, bodies, names)
    start = -along * way * rng.uniform(0.0, 1.0)
    return {
        "a": names[0], "b": names[1],
        "pose_a": _placed(rng, bodies[names[0]], passing, quarter),
        "pose_b": _placed(rng, bodies[names[1]], centre, quarter),
        "line": [_rounded(start), _rounded(start + along * way)],
    }


def turn_case(rng, bodies, names):
    """The second body turns past the first; sometimes it stands on the axis."""
    quarter = rng.random() < 0.4
    direction = np.eye(3)[rng.integers(3)] if quarter else _unit(rng)
    centre = rng.uniform(-300.0, 300.0, 3)
    radial = np.cross(direction, _unit(rng))
    radial /= np.linalg.norm(radial)
    radius = 0.0 if rng.random() < 0.12 else rng.uniform(20.0, 160.0)
    span = float(rng.choice([90.0, 180.0, rng.uniform(2.0, 170.0)]))
    span *= 1 if rng.random() < 0.5 else -1
    start = float(rng.choice([0.0, 90.0, round(float(rng.uniform(-180.0, 180.0)), 3)]))
    met = start + span * rng.uniform(-0.1, 1.1)
    out = (poses.about(direction, met) @ radial) * (radius + _miss(rng, bodies, names) * 0.8)
    along = direction * rng.uniform(-30.0, 30.0)
    return {
        "a": names[0], "b": names[1],
        "pose_a": _placed(rng, bodies[names[0]], centre + out + along, quarter),
        "pose_b": _placed(rng, bodies[names[1]], centre + radial * radius, quarter),
        "turn": {"centre": _rounded(centre), "direction": [float(x) for x in direction],
                 "from": start, "to": round(start + span, 3)},
    }


def area_case(rng, bodies, names):
    """The first body is anywhere in a triangle, a quadrangle or a disc of positions."""
    case = line_case(rng, bodies, names)
    case.pop("line")
    normal = _unit(rng)
    if rng.random() < 0.35:
        case["disc"] = round(float(rng.uniform(1.0, 25.0)), 3)
        case["normal"] = [float(x) for x in normal]
        case["offsets"] = [_rounded(rng.uniform(-10.0, 10.0, 3))]
        return case
    u = np.cross(normal, _unit(rng))
    u /= np.linalg.norm(u)
    v = np.cross(normal, u)
    size = rng.uniform(5.0, 40.0, 2)
    corners = [-u * size[0] - v * size[1], u * size[0] - v * size[1], u * size[0] + v * size[1]]
    if rng.random() < 0.5:
        corners.append(-u * size[0] + v * size[1])
    case["offsets"] = [_rounded(corner) for corner in corners]
    return case


def measure(bodies, case):
    """Adds the reference values to a case; returns the number of samples."""
    if "offsets" in case:
        low, high, count = motions.sampled_area(bodies, case, 0.02, 1200)
    else:
        most = 160 if "tool" in case["a"] else 300 if "line" in case else 1200
        low, high, count = motions.sampled(bodies, case, 2e-3, most)
    case["lo"], case["hi"] = low, high
    if "line" in case and not any(case[key].startswith("tool") for key in "ab"):
        case["exact"] = motions.line_exact(bodies, case)
    return count


# File, kind, tools or small meshes first, number of cases.
PLAN = [
    ("motion-line", line_case, SMALL_NAMES, 800), ("motion-line-tool", line_case, TOOL_NAMES, 60),
    ("motion-turn", turn_case, SMALL_NAMES, 1000), ("motion-turn-tool", turn_case, TOOL_NAMES, 60),
    ("motion-area", area_case, SMALL_NAMES, 120), ("motion-area-tool", area_case, TOOL_NAMES, 12),
]


def cases(bodies, number, seed):
    """The cases of one file of the plan."""
    _, make, firsts, count = PLAN[number]
    rng, begun, samples, made = np.random.default_rng(seed + number), time.time(), 0, []
    for _ in range(count):
        names = (firsts[rng.integers(len(firsts))], SMALL_NAMES[rng.integers(len(SMALL_NAMES))])
        made.append({"set": "bulk", **make(rng, bodies, names)})
        samples += measure(bodies, made[-1])
    zero = sum(case["hi"] == 0.0 for case in made)
    wide = max(case["hi"] - case["lo"] for case in made)
    print(f"{PLAN[number][0]}: {len(made)}, {samples} samples, {zero} with contact, "
          f"widest {wide:.4f} mm, {time.time() - begun:.0f} s", flush=True)
    return made


def full_size(bodies, seed):
    """A score of cases with meshes of full size."""
    rng, begun, rows = np.random.default_rng(seed), time.time(), []
    for number in range(20):
        make = (line_case, turn_case)[number % 2]
        case = {"set": "full", **make(rng, bodies, FULL[number // 2 % len(FULL)])}
        measure(bodies, case)
        rows.append(case)
    print(f"full size: {len(rows)}, {time.time() - begun:.0f} s", flush=True)
    return rows
