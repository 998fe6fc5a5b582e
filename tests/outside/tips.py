"""Tip stops against coal 3.0.3: free at the height found and above it, overlapping a little lower.

Reads what the Rust test wrote to target/outside/answers-tip.json. A tool stands between prisms in
and round it that are turned to the nearest point (prisms.py), so that coal's distance of meshes is
a bracket of the true one. Cases come in an order chosen by a printed seed, as many as there is
time for.
"""

import argparse
import datetime
import json
import random
import sys
import time

import numpy as np

import bodies as bodies_file
from oracles import surface_bracket

# Touching is told within this; where it stops the tool moves down by this over the normal's z.
TOUCH_MM, LOWER_MM, RAISED_MM = 1e-5, 1e-4, 1e-2
FLATTEST = 0.1


def distance(bodies, case, tip_mm, rounds):
    """[lo, hi] of the distance with the tip at a height of the approach frame."""
    name, tool, _, turn, at, _, _ = case
    pose_body = np.array(turn).reshape(3, 3), np.zeros(3)
    pose_tool = np.eye(3), np.array([at[0], at[1], tip_mm])
    return surface_bracket(bodies[tool], pose_tool, bodies[name], pose_body, rounds)[:2]


def fault(bodies, case, rng, counts):
    """What is wrong with a case, if anything."""
    gap_mm, hi_mm = case[2], case[6]
    low, high = distance(bodies, case, hi_mm + TOUCH_MM, 6)
    if low < gap_mm - TOUCH_MM or high <= 0.0:
        return f"not free at the height found: {low} {high} of {gap_mm}"
    _, raised = distance(bodies, case, hi_mm + RAISED_MM, 6)
    normal_z = (raised - gap_mm) / RAISED_MM
    for _ in range(2):
        _, above = distance(bodies, case, hi_mm + rng.uniform(0.0, 80.0), 0)
        if above < gap_mm:
            return f"not free higher up: {above} of {gap_mm}"
    if normal_z <= FLATTEST:
        counts["steep"] += 1
        return None
    counts["lowered"] += 1
    _, lower = distance(bodies, case, hi_mm - LOWER_MM / normal_z, 8)
    if lower > (gap_mm if gap_mm > 0.0 else 0.0):
        return f"still free when lowered, normal {normal_z}: {lower} of {gap_mm}"
    return None


def main():
    """Compares; 1 where something disagrees or too little was compared."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seed", default=datetime.date.today().isoformat())
    parser.add_argument("--tip-seconds", type=float, default=60.0, help="for the tip stops")
    options, _ = parser.parse_known_args()
    print("seed:", options.seed)
    rng = random.Random(options.seed)
    path = bodies_file.ROOT / "target" / "outside" / "answers-tip.json"
    cases = json.loads(path.read_text(encoding="utf-8"))
    rng.shuffle(cases)
    bodies, begun = bodies_file.load(), time.time()
    counts, faults, done = {"lowered": 0, "steep": 0}, [], 0
    for case in cases:
        if done >= 60 and time.time() - begun > options.tip_seconds:
            break
        done += 1
        wrong = fault(bodies, case, rng, counts)
        if wrong:
            faults.append(f"{json.dumps(case)}: {wrong}")
    print(f"tip stops: {done} of {len(cases)} cases: {counts['lowered']} free there and "
          f"overlapping lower down, {counts['steep']} on a steep face, {len(faults)} wrong")
    for wrong in faults:
        print("WRONG:", wrong)
    return 1 if faults or counts["lowered"] < 20 else 0


if __name__ == "__main__":
    sys.exit(main())
