"""The oracles against one another, before anything of ours is asked."""

import sys

import numpy as np

import oracles
import poses
import shapes


def meshes_are_sound(meshes):
    """Every small body is closed, oriented outward and taken by manifold3d."""
    for name, mesh in meshes.items():
        edges = np.concatenate([mesh.triangles[:, [i, (i + 1) % 3]] for i in range(3)])
        there = {tuple(edge) for edge in edges}
        assert len(there) == len(edges), f"{name}: an edge is used twice"
        assert all((b, a) in there for a, b in there), f"{name}: not closed"
        assert len(mesh.triangles) <= 500, f"{name}: too many triangles"
        assert mesh.manifold is not None, f"{name}: refused"
        assert mesh.manifold.volume() > 0.0, f"{name}: inside out"


def votes(meshes, count, seed):
    """Largest differences from coal of fcl, brute force and manifold3d, over random pairs."""
    rng = np.random.default_rng(seed)
    names = sorted(meshes)
    worst = {"fcl": 0.0, "brute": 0.0, "manifold": 0.0}
    inside = 0
    for _ in range(count):
        a, b = (meshes[names[rng.integers(len(names))]] for _ in range(2))
        pose_a = poses.matrix(poses.random_pose(rng, 40.0))
        pose_b = poses.matrix(poses.random_pose(rng, 90.0))
        distance, _ = oracles.coal_distance(a, pose_a, b, pose_b)
        worst["fcl"] = max(worst["fcl"], abs(distance - oracles.fcl_distance(a, pose_a, b, pose_b)))
        brute = oracles.brute_distance(a, pose_a, b, pose_b)
        worst["brute"] = max(worst["brute"], abs(distance - brute))
        is_in = distance > 0.0 and oracles.contained(a, pose_a, b, pose_b)
        inside += is_in
        solid = oracles.manifold_gap(a, pose_a, b, pose_b, distance + 1.0)
        worst["manifold"] = max(worst["manifold"], abs((0.0 if is_in else distance) - solid))
    return worst, inside


def prisms_bracket(seed):
    """Turned prisms close the bracket of a tool against a point-like body to under 1e-7 mm."""
    rng = np.random.default_rng(seed)
    tiny = oracles.Mesh(*shapes.small_meshes()["tetra-tiny"])
    widest = 0.0
    for name, pieces in sorted(shapes.tools().items()):
        tool = oracles.Tool(pieces)
        for _ in range(12):
            pose = poses.matrix(poses.random_pose(rng, 120.0))
            low, high, _, _ = oracles.gap_bracket(tool, poses.matrix([0.0] * 6), tiny, pose)
            assert low <= high + 1e-9, f"{name}: {low} {high}"
            widest = max(widest, high - low)
    return widest


def main():
    """Runs all of it; prints what was found."""
    meshes = {name: oracles.Mesh(*mesh) for name, mesh in shapes.small_meshes().items()}
    meshes_are_sound(meshes)
    print("small bodies:", {name: len(mesh.triangles) for name, mesh in meshes.items()})
    worst, inside = votes(meshes, 400, 11)
    print("largest difference from coal, mm:", worst, "contained:", inside)
    widest = prisms_bracket(12)
    print("widest bracket of a tool, mm:", widest)
    agree = max(worst.values()) < 1e-9 and widest < 1e-5 and inside > 0
    return 0 if agree else 1


if __name__ == "__main__":
    sys.exit(main())
