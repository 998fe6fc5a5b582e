"""Tip stops against coal 3.0.3: free at the height found and above it, overlapping a little lower.

Reads what the Rust test wrote to target/outside/answers-tip.json. A tool is coal's own solids
(cylinder, cone, sphere; a corner radius is the distance from a smaller cylinder, less the radius);
only frusta of holders are prisms, of 4096 sides. Cases come in an order chosen by a printed seed, as many as there is time
for.
"""

import argparse
import datetime
import json
import random
import sys
import time

import coal
import numpy as np

import bodies as bodies_file
from oracles import Mesh

# Touching is told within this; where it stops the tool moves down by this over the normal's z.
TOUCH_MM, LOWER_MM, RAISED_MM = 1e-5, 1e-4, 1e-2
FLATTEST = 0.1


SIDES = 4096
OVER = np.diag([1.0, -1.0, -1.0])


def frustum(low, high):
    """A frustum between two discs [radius, height] as a mesh inscribed in it."""
    angles = 2.0 * np.pi * np.arange(SIDES) / SIDES
    rim = np.column_stack([np.cos(angles), np.sin(angles)])
    rings = [np.column_stack([rim * disc[0], np.full(SIDES, disc[1])]) for disc in (low, high)]
    ends = [[0.0, 0.0, disc[1]] for disc in (low, high)]
    here = np.arange(SIDES)
    after = (here + 1) % SIDES
    foot, top = np.full(SIDES, 2 * SIDES), np.full(SIDES, 2 * SIDES + 1)
    faces = [[here, after, after + SIDES], [here, after + SIDES, here + SIDES],
             [foot, after, here], [top, here + SIDES, after + SIDES]]
    return Mesh(np.vstack([*rings, ends]), np.vstack([np.column_stack(face) for face in faces]))


def solids(pieces):
    """Coal's solids of a tool: rotation, height of the centre, and by how much it is to be grown."""
    found = []
    for rings in pieces:
        for radius, height, ball in rings:
            if ball > 0.0 and radius == 0.0:
                found.append((coal.Sphere(ball), np.eye(3), height, 0.0))
        for (r0, h0, b0), (r1, h1, b1) in zip(rings, rings[1:]):
            assert b1 == 0.0 and (b0 == 0.0 or r0 + b0 == r1), "no solid of coal"
            middle, long = 0.5 * (h0 + h1), h1 - h0
            if b0 > 0.0 and r0 > 0.0:
                found.append((coal.Cylinder(r0, long - b0), np.eye(3), middle - 0.5 * b0, b0))
            if r0 + b0 == r1:
                found.append((coal.Cylinder(r1, long), np.eye(3), middle, 0.0))
            elif r0 == 0.0:
                found.append((coal.Cone(r1, long), OVER, middle, 0.0))
            else:
                found.append((frustum((r0, h0), (r1, h1)).coal, np.eye(3), 0.0, 0.0))
    return found


class Tools:
    """Solids of the tools by name, made once."""

    def __init__(self, bodies):
        self.bodies, self.made = bodies, {}

    def __getitem__(self, name):
        if name not in self.made:
            self.made[name] = solids(self.bodies[name].pieces)
        return self.made[name]


def distance(bodies, tools, case, tip_mm):
    """Distance with the tip at a height of the approach frame; 0 or less where they overlap."""
    name, tool, _, turn, at, _, _ = case
    placed = coal.Transform3s(np.array(turn).reshape(3, 3), np.zeros(3))
    request, least = coal.DistanceRequest(), np.inf
    request.gjk_tolerance = 1e-9
    for solid, rotation, up_mm, grown_mm in tools[tool]:
        result = coal.DistanceResult()
        there = coal.Transform3s(rotation, np.array([at[0], at[1], tip_mm + up_mm]))
        apart = coal.distance(bodies[name].coal, placed, solid, there, request, result)
        least = min(least, apart - grown_mm)
    return least


def fault(bodies, tools, case, rng, counts):
    """What is wrong with a case, if anything."""
    gap_mm, hi_mm = case[2], case[6]
    at = distance(bodies, tools, case, hi_mm)
    if at < gap_mm - TOUCH_MM:
        return f"not free at the height found: {at} of {gap_mm}"
    raised = distance(bodies, tools, case, hi_mm + RAISED_MM)
    for _ in range(2):
        above = distance(bodies, tools, case, hi_mm + rng.uniform(0.0, 80.0))
        if above < gap_mm - TOUCH_MM:
            return f"not free higher up: {above} of {gap_mm}"
    normal_z = (raised - gap_mm) / RAISED_MM
    if normal_z <= FLATTEST:
        counts["steep"] += 1
        return None
    counts["lowered"] += 1
    lower = distance(bodies, tools, case, hi_mm - LOWER_MM / normal_z)
    if lower > max(gap_mm - 0.5 * LOWER_MM, 0.0):
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
    tools = Tools(bodies)
    counts, faults, done = {"lowered": 0, "steep": 0}, [], 0
    for case in cases:
        if done >= 60 and time.time() - begun > options.tip_seconds:
            break
        done += 1
        wrong = fault(bodies, tools, case, rng, counts)
        if wrong:
            faults.append(f"{json.dumps(case)}: {wrong}")
    print(f"tip stops: {done} of {len(cases)} cases: {counts['lowered']} free there and "
          f"overlapping lower down, {counts['steep']} on a steep face, {len(faults)} wrong")
    for wrong in faults:
        print("WRONG:", wrong)
    return 1 if faults or counts["lowered"] < 20 else 0


if __name__ == "__main__":
    sys.exit(main())
