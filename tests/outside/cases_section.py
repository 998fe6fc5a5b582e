"""Plane sections by trimesh: a body at a random pose, cut with z = 0; area and length.

`trimesh.intersections.mesh_plane` gives the segments; the area is the sum over the segments, each
turned so that material lies on its left (the normal of its triangle says where that is).
"""

import random

import numpy as np
import trimesh

import poses

# A cut nearer to a corner than this may fall on either side of it in the two programs.
CORNER_MM = 1e-7


def section(mesh, pose):
    """Area and length of the section with z = 0; None where the plane touches a corner or misses."""
    turn, shift = poses.matrix(pose)
    points = mesh.vertices @ turn.T + shift
    if np.abs(points[:, 2]).min() < CORNER_MM:
        return None
    cut = trimesh.Trimesh(points, mesh.triangles, process=False)
    lines, faces = trimesh.intersections.mesh_plane(
        cut, [0.0, 0.0, 1.0], [0.0, 0.0, 0.0], return_faces=True)
    if len(lines) == 0:
        return None
    starts, ends = lines[:, 0, :2], lines[:, 1, :2]
    normals = cut.face_normals[faces][:, :2]
    along = ends - starts
    # Left of (dx, dy) is (-dy, dx); the normal points away from material, to the right.
    wrong = along[:, 0] * normals[:, 1] - along[:, 1] * normals[:, 0] > 0
    starts[wrong], ends[wrong] = ends[wrong].copy(), starts[wrong].copy()
    middle = starts.mean(axis=0)
    a, b = starts - middle, ends - middle
    area = float((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum() / 2)
    return area, float(np.linalg.norm(along, axis=1).sum())


def cases(bodies, names, count, seed):
    """Rows [name, pose, area, length]."""
    rng = random.Random(seed)
    rows = []
    while len(rows) < count:
        name = names[len(rows) % len(names)]
        mesh = bodies[name]
        middle = (mesh.vertices.min(axis=0) + mesh.vertices.max(axis=0)) / 2
        half = float(np.linalg.norm(mesh.vertices - middle, axis=1).max())
        angles = [round(rng.uniform(-180, 180), 6) for _ in range(3)]
        turned = poses.rotation(angles) @ middle
        lift = rng.uniform(-0.7, 0.7) * half
        pose = [*angles, 0.0, 0.0, round(lift - float(turned[2]), 6)]
        found = section(mesh, pose)
        if found is not None:
            rows.append([name, pose, *found])
    return rows
