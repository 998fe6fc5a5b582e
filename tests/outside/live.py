"""Asks the libraries anew and compares with what the Rust test wrote to target/outside.

Only the poses of the committed cases are used, never their values. Mesh pairs at rest: all of
them, with fcl and manifold3d as further votes. Solids of revolution and motions: a share chosen
by a printed seed, a new one each day.
"""

import argparse
import collections
import datetime
import json
import random
import sys
import time

import bodies as bodies_file
import cases_static
import motions
import poses
from oracles import TOUCH_MM, gap_bracket

MESH_MM, PRISM_MM, SLACK_MM, TOLERANCE_MM = 1e-6, 1e-5, 1e-6, 1e-3
WIDEST_REVOLVED_MM = 2e-5
CLASSES = ["far", "near", "touching", "overlapping", "inside"]
FILES = ["rest-mesh-small", "rest-mesh-large", "rest-tool-small", "rest-tool-large",
         "rest-tool-tool"]
MOTIONS = ["motion-line", "motion-line-tool", "motion-turn", "motion-turn-tool", "motion-area",
           "motion-area-tool", "motion-full"]


def read(path):
    """A JSON file."""
    return json.loads(path.read_text(encoding="utf-8"))


def rest_fault(kind, reference, answer):
    """What is wrong with an answer at rest, if anything."""
    low, high, is_in = reference
    lo, hi, decided, contained = answer
    meshes = kind == "mesh-mesh"
    within = MESH_MM if meshes else PRISM_MM
    if lo > high + within:
        return "lo above the reference: a false clear"
    if hi < low - within:
        return "hi below the reference"
    if hi - lo > (MESH_MM if meshes else WIDEST_REVOLVED_MM):
        return "bracket too wide"
    if high > TOUCH_MM and not decided:
        return "undecided"
    # A piece of a tool is solid: what is in it simply overlaps it.
    if contained != is_in and (contained or meshes):
        return "contained in one, not in the other"
    return None


def compare_rest(bodies, share, rng):
    """Pairs at rest; returns faults and counts."""
    cases = [row for name in FILES for row in read(bodies_file.REFERENCE / f"{name}.json")]
    answers = read(bodies_file.ROOT / "target" / "outside" / "answers-rest.json")
    assert len(cases) == len(answers), "answers of other cases: run the Rust test first"
    counts, faults, largest = collections.Counter(), [], collections.Counter()
    for number, (case, answer) in enumerate(zip(cases, answers)):
        kind, case = case[0], case[1:]
        if answer is None:
            counts[(kind, "skipped")] += 1
            continue
        a, b = bodies[case[0]], bodies[case[1]]
        stale = case[0] in bodies.changed or case[1] in bodies.changed
        if kind != "mesh-mesh" and rng.random() > share and not stale:
            continue
        pose_a, pose_b = poses.matrix(case[2]), poses.matrix(case[3])
        low, high, _, is_in = gap_bracket(a, pose_a, b, pose_b)
        found = cases_static.classify(low, high, is_in)
        if case[6] == "cavity" and found in ("far", "near"):
            found = "cavity"
        elif case[6] == "touching" and high <= TOUCH_MM:
            found = "touching"
        counts[(kind, found)] += 1
        largest[kind] = max(largest[kind], answer[0] - high, low - answer[1])
        fault = rest_fault(kind, (low, high, is_in), answer)
        if fault is None and kind == "mesh-mesh":
            fault = vote_fault(bodies, case, answer, is_in, found)
        if fault:
            faults.append(f"rest {number} {json.dumps(case)}: {fault}: live {low} {high}, "
                          f"answer {answer}")
    if bodies.changed:
        print("changed since the reference values were made:", *sorted(bodies.changed))
    print("largest distance of a bracket from the libraries, mm:", dict(largest))
    return faults, counts


def vote_fault(bodies, case, answer, is_in, found):
    """The votes of fcl and manifold3d on a pair of meshes."""
    for name, value in cases_static.votes(bodies, case).items():
        if name == "fcl" and is_in:
            continue
        if found != "touching" and not answer[0] - MESH_MM <= value <= answer[1] + MESH_MM:
            return f"{name} says {value}"
    return None


def motion_fault(reference, answer, exact):
    """What is wrong with an answer over a motion, if anything."""
    low, high = reference
    lo, hi, decided, _ = answer
    if lo > high + SLACK_MM:
        return "lo above a sampled gap: a false clear"
    if hi < low - SLACK_MM:
        return "hi below what sampling allows"
    if decided and hi - lo > TOLERANCE_MM + SLACK_MM:
        return "bracket too wide"
    if exact is not None and not lo - SLACK_MM <= exact <= hi + SLACK_MM:
        return f"misses the exact gap {exact} of the swept triangles"
    return None


def kind_of(case):
    """Line, index move, area or disc."""
    for key, name in (("line", "line"), ("turn", "index move"), ("disc", "disc")):
        if key in case:
            return name
    return "area"


def compare_motions(bodies, seconds, rng):
    """Motions in a random order, as many as there is time for, at least 60."""
    cases = [row for name in MOTIONS for row in read(bodies_file.REFERENCE / f"{name}.json")]
    answers = read(bodies_file.ROOT / "target" / "outside" / "answers-motion.json")
    assert len(cases) == len(answers), "answers of other cases: run the Rust test first"
    order = [number for number, answer in enumerate(answers) if answer is not None]
    rng.shuffle(order)
    counts, faults, begun = collections.Counter(), [], time.time()
    for done, number in enumerate(order):
        if done >= 60 and time.time() - begun > seconds:
            break
        case, exact = cases[number], None
        if "offsets" in case:
            low, high, _ = motions.sampled_area(bodies, case, 0.02, 300)
        else:
            low, high, _ = motions.sampled(bodies, case, 2e-3, 150)
        if "line" in case and not any(case[key].startswith("tool") for key in "ab"):
            exact = motions.line_exact(bodies, case)
        counts[(kind_of(case), "contact" if high == 0.0 else "apart")] += 1
        fault = motion_fault((low, high), answers[number], exact)
        if fault:
            faults.append(f"motion {number} {json.dumps(case)}: {fault}: live {low} {high}, "
                          f"answer {answers[number]}")
    return faults, counts


def main():
    """Compares, prints the count of each class, returns 1 where something disagrees."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", default=datetime.date.today().isoformat())
    parser.add_argument("--share", type=float, default=0.25, help="of the cases with tools")
    parser.add_argument("--seconds", type=float, default=60.0, help="for the motions")
    options = parser.parse_args()
    print("seed:", options.seed)
    rng = random.Random(options.seed)
    bodies = bodies_file.load()
    faults, counts = compare_rest(bodies, options.share, rng)
    more, moved = compare_motions(bodies, options.seconds, rng)
    for key, count in sorted((counts + moved).items()):
        print(f"  {key[0]:18} {key[1]:12} {count:5}")
    for kind in ("mesh-mesh", "revolved-mesh", "revolved-revolved"):
        faults += [f"no {name} case of {kind}" for name in CLASSES if not counts[(kind, name)]]
    faults += [f"no motion of kind {kind}" for kind in ("line", "index move") if not
               moved[(kind, "apart")] or not moved[(kind, "contact")]]
    for fault in faults + more:
        print("WRONG:", fault)
    return 1 if faults or more else 0


if __name__ == "__main__":
    sys.exit(main())
