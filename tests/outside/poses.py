"""Poses as six numbers: three angles in degrees and a shift in millimetres.

common_from_body = shift * Rz(c) * Ry(b) * Rx(a). Quarter turns are exact on both sides.
"""

import math

import numpy as np


def cos_sin_deg(angle_deg):
    """Cosine and sine, exact at multiples of 90 degrees."""
    reduced_deg = angle_deg % 360.0
    exact = {0.0: (1.0, 0.0), 90.0: (0.0, 1.0), 180.0: (-1.0, 0.0), 270.0: (0.0, -1.0)}
    if reduced_deg in exact:
        return exact[reduced_deg]
    angle = math.radians(reduced_deg)
    return math.cos(angle), math.sin(angle)


def about(direction, angle_deg):
    """Rotation matrix by Rodrigues' formula; `direction` is a unit vector."""
    cos, sin = cos_sin_deg(angle_deg)
    x, y, z = direction
    cross = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    return np.eye(3) * cos + cross * sin + np.outer(direction, direction) * (1.0 - cos)


def rotation(pose):
    """The rotation of a pose."""
    turn_x = about(np.array([1.0, 0.0, 0.0]), pose[0])
    turn_y = about(np.array([0.0, 1.0, 0.0]), pose[1])
    turn_z = about(np.array([0.0, 0.0, 1.0]), pose[2])
    return turn_z @ turn_y @ turn_x


def matrix(pose):
    """Rotation and shift."""
    return rotation(pose), np.array(pose[3:6], dtype=float)


def turned(pose_matrix, centre, direction, angle_deg):
    """A pose after a right-handed turn about a line."""
    turn = about(direction, angle_deg)
    centre = np.asarray(centre, dtype=float)
    return turn @ pose_matrix[0], turn @ (pose_matrix[1] - centre) + centre


def random_pose(rng, reach_mm, quarter=False):
    """A pose whose shift is within a cube of half side `reach_mm`."""
    if quarter:
        angles = [float(90 * rng.integers(0, 4)) for _ in range(3)]
    else:
        angles = [round(float(rng.uniform(-180.0, 180.0)), 3) for _ in range(3)]
    shift = [round(float(rng.uniform(-reach_mm, reach_mm)), 4) for _ in range(3)]
    return angles + shift
