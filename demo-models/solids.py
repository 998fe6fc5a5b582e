"""Small solid-modelling helpers over manifold3d. All lengths in millimetres, angles in degrees.

Two kinds of polygon stand in for a circle here, and the difference matters:

* `ring` has its corners on the circle (inscribed): used for outer faces, where the mesh then is
  never larger than the drawing says.
* `tangent_ring` has its flats on the circle (circumscribed): used for everything that a tool cuts
  round. A nominal tool then fits without standing in the mesh.
"""

import math

import numpy as np
from manifold3d import CrossSection, FillRule, JoinType, Manifold, OpType


def ring(radius, count, phase_deg=0.0):
    """Corners of a regular polygon on a circle."""
    turn = np.radians(phase_deg + 360.0 * np.arange(count) / count)
    return np.stack([radius * np.cos(turn), radius * np.sin(turn)], axis=1)


def tangent_radius(radius, count):
    """Corner radius of the regular polygon whose flats touch a circle of `radius`."""
    return radius / math.cos(math.pi / count)


def loft(sections):
    """Convex hull of flat sections `(points, z)`; for convex bodies only."""
    layers = [np.column_stack([points, np.full(len(points), z)]) for points, z in sections]
    return Manifold.hull_points(np.concatenate(layers))


def prism(points, low, high):
    """A polygon, convex or not, drawn up from `low` to `high`."""
    section = CrossSection([np.asarray(points)], FillRule.Positive)
    return Manifold.extrude(section, high - low).translate([0.0, 0.0, low])


def box(low, high):
    """An upright box between two corners."""
    size = [h - l for l, h in zip(low, high)]
    return Manifold.cube(size).translate(list(low))


def bar(radius, low, high, count=96):
    """An upright round bar, inscribed."""
    return loft([(ring(radius, count), low), (ring(radius, count), high)])


def turned(profile, count=96):
    """A turned body from `(radius, height)` points around its section, anticlockwise."""
    section = CrossSection([np.asarray(profile)], FillRule.Positive)
    return Manifold.revolve(section, count)


def bore(diameter, depth, count, point_deg=None, rim_diameter=None, over=2.0):
    """A hole as a tool leaves it, to be taken away: opening at z 0, going down.

    The flats touch the tool's cylinder, cone and chamfer, so the tool fits exactly.
    """
    grow = tangent_radius(1.0, count)
    radius = grow * diameter / 2.0
    body = [loft([(ring(radius, count), -depth), (ring(radius, count), over)])]
    if point_deg is not None:
        tip = diameter / 2.0 / math.tan(math.radians(point_deg / 2.0))
        body.append(loft([(np.zeros((1, 2)), -depth - tip), (ring(radius, count), -depth)]))
    if rim_diameter is not None:
        rim = grow * rim_diameter / 2.0
        # 45 degrees: as deep as it is wide.
        fall = (rim_diameter - diameter) / 2.0
        body.append(loft([(ring(radius, count), -fall), (ring(rim, count), 0.0)]))
        body.append(loft([(ring(rim, count), 0.0), (ring(rim, count), over)]))
    return Manifold.batch_boolean(body, OpType.Add)


def rounded_rectangle(low, high, radii, count):
    """Inscribed rounding; `radii` of the corners (+x+y, -x+y, -x-y, +x-y)."""
    (x0, y0), (x1, y1) = low, high
    corners = [(x1, y1, 0), (x0, y1, 90), (x0, y0, 180), (x1, y0, 270)]
    points = []
    for (x, y, start), radius in zip(corners, radii):
        sx, sy = (1 if x == x1 else -1), (1 if y == y1 else -1)
        turn = np.radians(start + 90.0 * np.arange(count + 1) / count)
        centre = np.array([x - sx * radius, y - sy * radius])
        points.append(centre + radius * np.stack([np.cos(turn), np.sin(turn)], axis=1))
    return np.concatenate(points)


def tangent_rectangle(low, high, radius, count):
    """Rounding whose flats touch the corner circles: `count` corners for each quarter turn."""
    (x0, y0), (x1, y1) = low, high
    step = 90.0 / count
    corners = [(x1, y1, 0), (x0, y1, 90), (x0, y0, 180), (x1, y0, 270)]
    points = []
    for x, y, start in corners:
        sx, sy = (1 if x == x1 else -1), (1 if y == y1 else -1)
        turn = np.radians(start + step * (np.arange(count) + 0.5))
        centre = np.array([x - sx * radius, y - sy * radius])
        reach = radius / math.cos(math.radians(step / 2.0))
        points.append(centre + reach * np.stack([np.cos(turn), np.sin(turn)], axis=1))
    return np.concatenate(points)


def tangent_quarter(radius, count):
    """`(inset, rise)` steps from a wall's foot to the floor, with flats on a concave fillet."""
    step = 90.0 / count
    turn = np.radians(step * (np.arange(count) + 0.5))
    reach = radius / math.cos(math.radians(step / 2.0))
    return [(radius - reach * math.cos(t), radius - reach * math.sin(t)) for t in turn]


def rounded_top(low, high, radius, floor, top, edge, count):
    """A convex block with rounded upright edges and a rounded upper rim."""
    sections = [(rounded_rectangle(low, high, [radius] * 4, count), floor)]
    for turn in np.radians(90.0 * np.arange(count + 1) / count):
        inset = edge * (1.0 - math.cos(turn))
        points = rounded_rectangle(
            [v + inset for v in low], [v - inset for v in high], [radius - inset] * 4, count
        )
        sections.append((points, top - edge * (1.0 - math.sin(turn))))
    return loft(sections)


def bevelled(low, high, corner, rim, z0, z1):
    """A block with flats of `corner` on its upright edges and of `rim` on both rims."""
    def plan(inset):
        (x0, y0), (x1, y1) = [v + inset for v in low], [v - inset for v in high]
        c = corner
        return np.array([
            [x1, y0 + c], [x1, y1 - c], [x1 - c, y1], [x0 + c, y1],
            [x0, y1 - c], [x0, y0 + c], [x0 + c, y0], [x1 - c, y0],
        ])
    return loft([(plan(rim), z0), (plan(0), z0 + rim), (plan(0), z1 - rim), (plan(rim), z1)])


def strokes(lines, radius, count):
    """Raised lettering: round bars along lines of `(x, y)` points, centred on z 0."""
    ball = Manifold.sphere(radius, count)
    bars = []
    for line in lines:
        balls = [ball.translate([x, y, 0.0]) for x, y in line]
        bars += [Manifold.batch_hull(pair) for pair in zip(balls, balls[1:])]
    return union(bars)


def union(parts):
    """All of them as one."""
    return Manifold.batch_boolean(list(parts), OpType.Add)


def fillet_outline(outline, radius, count):
    """Rounds the inner corners of an outline by growing and shrinking it."""
    section = CrossSection([np.asarray(outline)], FillRule.Positive)
    return section.offset(radius, JoinType.Miter, 4.0).offset(
        -radius, JoinType.Round, 2.0, 4 * count
    )


