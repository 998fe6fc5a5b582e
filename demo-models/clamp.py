"""The strap clamp in seat coordinates: strap on the lug, stud through a slot, tall nut, heel."""

import math

import numpy as np
from manifold3d import Manifold

from solids import bar, loft, ring, rounded_rectangle, union

Y_NOSE, Y_HEEL = 33.0, 79.0
HALF_WIDTH = 12.5
LUG_TOP, STRAP_TOP = 22.0, 38.0
STUD_Y = 63.0
NUT_FLATS, NUT_TOP = 24.0, 60.0
WASHER_TOP = 41.0
NUT_BEVEL_DEG = 30.0       # Usual on hexagon nuts; leaves a flat circle as wide as the flats.
STUD = 16.0


def strap():
    """The strap, its heel end a half circle, its nose slightly rounded."""
    def plan(inset):
        return rounded_rectangle((-HALF_WIDTH + inset, Y_NOSE + inset),
                                 (HALF_WIDTH - inset, Y_HEEL - inset),
                                 [HALF_WIDTH - inset] * 2 + [4.0 - inset] * 2, 48)
    body = loft([(plan(0.8), LUG_TOP), (plan(0.0), LUG_TOP + 0.8),
                 (plan(0.0), STRAP_TOP - 1.2), (plan(1.2), STRAP_TOP)])
    slot = loft([(slot_outline(0.0), 10.0), (slot_outline(0.0), 50.0)])
    slot_rim = loft([(slot_outline(0.0), STRAP_TOP - 0.8), (slot_outline(0.8), STRAP_TOP)])
    # Only the nose bears on the lug: the underside is relieved from there to the heel.
    relief = loft([(rounded_rectangle((-20, 44.0), (20, 71.0), [1.5] * 4, 12), 20.0),
                   (rounded_rectangle((-20, 44.0), (20, 71.0), [1.5] * 4, 12), LUG_TOP + 1.5)])
    return body - slot - slot_rim - relief


def slot_outline(grow):
    """The slot, 17 wide, so that the strap can be drawn back."""
    return rounded_rectangle((-8.5 - grow, 50.0 - grow), (8.5 + grow, 72.0 + grow),
                             [8.5 + grow] * 4, 48)


def nut():
    """A tall hexagon nut, flats toward the neighbours along the axis."""
    corner = NUT_FLATS / 2.0 / math.cos(math.radians(30.0))
    fall = (corner - NUT_FLATS / 2.0) * math.tan(math.radians(NUT_BEVEL_DEG))
    hexagon = loft([(ring(corner, 6), WASHER_TOP), (ring(corner, 6), NUT_TOP)])
    bevel = loft([(ring(corner + 1.0, 96), WASHER_TOP), (ring(corner + 1.0, 96), NUT_TOP - fall
                  - math.tan(math.radians(NUT_BEVEL_DEG))), (ring(NUT_FLATS / 2.0, 96), NUT_TOP)])
    sink = loft([(ring(7.5, 96), NUT_TOP - 1.5), (ring(9.0, 96), NUT_TOP)])
    return (hexagon ^ bevel) - sink


def clamp():
    """All of it, as set."""
    washer = loft([(ring(14.0, 96), STRAP_TOP), (ring(14.0, 96), WASHER_TOP - 0.8),
                   (ring(13.2, 96), WASHER_TOP)])
    stud = loft([(ring(STUD / 2.0, 96), 0.0), (ring(STUD / 2.0, 96), NUT_TOP - 1.4),
                 (ring(STUD / 2.0 - 1.2, 96), NUT_TOP - 0.2)])
    # The heel stands on the pad, inside the strap's outline.
    outline = rounded_rectangle((-HALF_WIDTH, Y_NOSE), (HALF_WIDTH, Y_HEEL),
                                [HALF_WIDTH] * 2 + [4.0] * 2, 48)
    heel = loft([(outline, 0.0), (outline, LUG_TOP + 1.0)]) ^ union([
        Manifold.cube([30.0, 10.0, 30.0]).translate([-15.0, 73.0, 0.0]),
        Manifold.cube([30.0, 14.0, 5.0]).translate([-15.0, 72.0, 0.0]),
    ])
    above = [part.translate([0.0, STUD_Y, 0.0]) for part in (washer, stud, nut())]
    return union([strap(), heel, *above])
