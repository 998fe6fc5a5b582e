"""Meshes that cross themselves against coal 3.0.3: which pairs of triangles collide.

Reads what the Rust test wrote to target/outside/answers-crossings.json. Two bodies of one mesh: as many
pairs must cross as coal finds to collide, but for a few in a hundred, which a shift of 0.0002 mm parts. Real meshes: where one is told to cross itself, coal must
find colliding triangles without a common corner (a common corner collides for coal in any mesh).
"""

import json
import sys

import coal
import numpy as np

import bodies

# Share of the pairs that may cross by less than counts here.
MOST_SHALLOW = 0.02
# Larger meshes take coal minutes, as all neighbours collide.
MOST_TRIANGLES = 30_000


def model(triangles):
    """A mesh of coal, and the corner numbers of its triangles."""
    vertices, index = np.unique(triangles.reshape(-1, 3) + 0.0, axis=0, return_inverse=True)
    faces = index.reshape(-1, 3)
    made = coal.BVHModelOBBRSS()
    made.beginModel(len(faces), len(vertices))
    made.addVertices(vertices)
    made.addTriangles(faces)
    made.endModel()
    return made, faces


def colliding(one, two):
    """Pairs of triangle numbers that collide."""
    request, result = coal.CollisionRequest(coal.CONTACT, 10_000_000), coal.CollisionResult()
    here = coal.Transform3s.Identity()
    coal.collide(one, here, two, here, request, result)
    return {(contact.b1, contact.b2) for contact in result.getContacts()}


def main():
    """Compares; 1 where something disagrees."""
    path = bodies.ROOT / "target" / "outside" / "answers-crossings.json"
    told = json.loads(path.read_text(encoding="utf-8"))
    wrong, crossing, same = [], 0, 0
    for number, case in enumerate(told["pairs"]):
        one, two = (model(np.array(case[name]))[0] for name in ("one", "two"))
        found = len(colliding(one, two))
        crossing += found > 0
        same += found == case["pairs"]
        few = 1 + MOST_SHALLOW * found
        agrees = found - few <= case["pairs"] <= found and (found > few or found == case["pairs"])
        if not agrees or case["given_up"]:
            wrong.append(f"case {number}: {case['pairs']} pairs, coal {found}")
    print(f"crossings: {len(told['pairs'])} pairs of bodies, {crossing} of them cross, {same} "
          f"with as many pairs of triangles as by coal, "
          f"{len(wrong)} told otherwise than by coal")
    asked = 0
    for case in told["real"]:
        if case["pairs"] == 0 and not case["given_up"]:
            continue
        mesh, faces = model(bodies.read_stl((bodies.ROOT / case["file"]).read_bytes()))
        if len(faces) > MOST_TRIANGLES:
            print(f"not asked, too large: {case}")
            continue
        asked += 1
        apart = [1 for a, b in colliding(mesh, mesh) if a < b and not set(faces[a]) & set(faces[b])]
        print(f"{case['file']}: {case['pairs']} pairs; coal: {len(apart)} without a common corner")
        if not apart:
            wrong.append(f"{case['file']}: nothing collides by coal")
    print(f"crossings: {len(told['real'])} real meshes, {asked} of them cross")
    for line in wrong:
        print("WRONG:", line)
    return 1 if wrong or crossing < 100 else 0


if __name__ == "__main__":
    sys.exit(main())
