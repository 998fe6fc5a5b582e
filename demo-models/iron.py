"""Machine bodies and the carrier: head, rotary housing, tailstock, pallet, column.

The head stands in the spindle frame (origin on the gauge line, z away from the tip). Rotary
housing, tailstock, pallet and carrier stand in a frame on the rotary axis, z along it, x upward
where the axis lies level.
"""

import math

import numpy as np
from manifold3d import Manifold

from solids import bar, bevelled, box, loft, prism, ring, rounded_rectangle, turned, union

HEAD_HALF, HEAD_FRONT, HEAD_BACK = 175.0, 120.0, 560.0
RING_FRONT = 100.0         # The coolant ring stands before the head, outside a nose of radius 85.
RING_INNER, RING_OUTER = 90.0, 108.0


def head():
    """Spindle head, 350 square with its covers, 120 behind the gauge line."""
    core = bevelled((-170.0, -170.0), (170.0, 170.0), 28.0, 14.0, HEAD_FRONT, HEAD_BACK)
    bodies = [core, side_covers(), front_ring(), motor()]
    bodies.append(rounded_block((-110.0, 150.0), (110.0, HEAD_HALF), 330.0, 540.0, 12.0))
    return union(bodies)


def rounded_block(low, high, z0, z1, radius, count=8):
    """An upright block with rounded upright edges."""
    plan = rounded_rectangle(low, high, [radius] * 4, count)
    return loft([(plan, z0), (plan, z1)])


def side_covers():
    """Sheet covers on both sides and below, each with its screws."""
    made = []
    for quarter in (0, 1, 2):
        plan = rounded_rectangle((-120.0, 150.0), (120.0, 520.0), [18.0] * 4, 6)
        sheet = loft([(plan, 169.0), (plan, 173.2), (plan * 0.99 + [0.0, 3.35], HEAD_HALF - 1.0)])
        screws = [bar(5.0, 170.0, HEAD_HALF, 8).translate([x, y, 0.0])
                  for x in (-105.0, 0.0, 105.0) for y in (165.0, 335.0, 505.0)
                  if x != 0.0]
        louvres = [loft([(rounded_rectangle((-70.0, y), (70.0, y + 12.0), [5.9] * 4, 4), 170.0),
                         (rounded_rectangle((-66.0, y + 1.5), (66.0, y + 8.0), [3.0] * 4, 4),
                          HEAD_HALF)])
                   for y in (240.0, 268.0, 402.0, 430.0)]
        # Sketch x, y, z become head x, z, -y: below; then round to the sides.
        cover = union([sheet, *screws, *louvres]).transform(
            np.array([[1, 0, 0, 0], [0, 0, -1, 0], [0, 1, 0, 0]], float))
        made.append(cover.rotate([0.0, 0.0, -90.0 + 90.0 * quarter]))
    return union(made)


def front_ring():
    """Coolant ring with eight nozzles, and the flange behind it."""
    body = turned([(RING_INNER, RING_FRONT + 3), (RING_INNER + 3, RING_FRONT),
                   (RING_OUTER - 4, RING_FRONT), (RING_OUTER, RING_FRONT + 4),
                   (RING_OUTER, HEAD_FRONT + 2), (RING_INNER, HEAD_FRONT + 2)], 48)
    flange = turned([(88.0, 116.0), (126.0, 116.0), (130.0, 120.0), (130.0, 122.0), (88.0, 122.0)],
                    48)
    nozzles = []
    for turn in range(0, 360, 45):
        nozzle = loft([(ring(3.0, 12), RING_FRONT - 6.0), (ring(5.5, 12), RING_FRONT + 4.0)])
        nozzles.append(nozzle.translate([99.0, 0.0, 0.0]).rotate([0.0, 0.0, turn + 22.5]))
    return union([body, flange, *nozzles])


def motor():
    """Spindle motor with fins and a terminal box, behind the head."""
    fins = [bar(104.0, z, z + 14.0, 32) for z in np.arange(592.0, 700.0, 27.0)]
    return union([
        bar(118.0, HEAD_BACK - 5.0, 585.0, 64), bar(92.0, 580.0, 705.0, 32), *fins,
        bar(100.0, 700.0, 722.0, 48), bar(60.0, 720.0, 738.0, 48),
        rounded_block((60.0, -45.0), (136.0, 45.0), 600.0, 690.0, 10.0),
    ])


CENTRE_HEIGHT = 200.0      # Rotary axis over the table, vertical machine.
PLATE = 90.0               # Radius of the rotary's face plate, its face at z 0.


def rotary_housing():
    """Indexing table on its side: face plate, housing with a round crown, motor box."""
    plate = turned([(0.0, -24.0), (PLATE, -24.0), (PLATE, -2.0), (PLATE - 2.0, 0.0), (0.0, 0.0)],
                   120)
    bolt_holes = [bar(6.0, -15.0, 5.0, 32).translate([70.0, 0.0, 0.0]).rotate([0, 0, turn])
                  for turn in range(0, 360, 45)]
    housing = union([
        lying_block(-CENTRE_HEIGHT + 30.0, 60.0, 125.0, -150.0, -22.0, 16.0),
        bar(125.0, -150.0, -22.0, 120),
        bar(100.0, -24.0, -18.0, 120),
        lying_block(-CENTRE_HEIGHT, -CENTRE_HEIGHT + 34.0, 165.0, -160.0, -16.0, 10.0),
    ])
    motor_box = union([
        lying_block(-120.0, 70.0, 80.0, -300.0, -140.0, 14.0),
        bar(52.0, -350.0, -295.0, 72),
        *[bar(58.0, z, z + 5.0, 72) for z in np.arange(-345.0, -300.0, 10.0)],
    ])
    lifting = [turned(eye(), 48).rotate([90.0, 0.0, 0.0]).translate([128.0, 0.0, -90.0])]
    return union([plate, housing, motor_box, *lifting]) - union(bolt_holes)


def eye():
    """Section of a lifting eye: a round bar of 6 on a ring of 14."""
    return [(14.0 + x, y) for x, y in ring(6.0, 24)]


def lying_block(x0, x1, half, z0, z1, radius):
    """A block from height x0 to x1 with rounded edges along the axis."""
    plan = rounded_rectangle((x0, -half), (x1, half), [radius] * 4, 12)
    return loft([(plan, z0), (plan, z1)])


BORE = 80.0                # Of the carrier; the quill's 60 degree cone centres in it at z 0.


def tailstock():
    """Tailstock with its quill out; z 0 is the carrier's end, which the cone just reaches."""
    slope = math.tan(math.radians(30.0))
    cone = turned([(0.0, -14.0), (BORE / 2.0 - 14.0 * slope, -14.0),
                   (BORE / 2.0 + 14.0 * slope, 14.0), (BORE / 2.0 + 14.0 * slope, 22.0),
                   (0.0, 22.0)], 120)
    quill = bar(32.0, 20.0, 80.0, 96)
    body = union([
        bar(62.0, 70.0, 210.0, 96),
        lying_block(-CENTRE_HEIGHT + 20.0, 0.0, 55.0, 70.0, 210.0, 8.0),
        lying_block(-CENTRE_HEIGHT, -CENTRE_HEIGHT + 26.0, 105.0, 60.0, 225.0, 10.0),
        bar(44.0, 62.0, 72.0, 96),
        bar(24.0, 205.0, 240.0, 64), turned(wheel(), 96).translate([0.0, 0.0, 244.0]),
        bar(10.0, 0.0, 92.0, 32).rotate([0.0, 90.0, 0.0]).translate([0.0, 0.0, 110.0]),
        *[bar(9.0, 0.0, 34.0, 6).rotate([0.0, 90.0, 0.0]).translate([-CENTRE_HEIGHT, y, z])
          for y in (-85.0, 85.0) for z in (90.0, 195.0)],
    ])
    return union([cone, quill, body])


def wheel():
    """Section of the hand wheel's rim and web."""
    return [(0.0, -4.0), (64.0, -4.0), (66.0, -9.0), (78.0, -9.0), (80.0, -6.0), (80.0, 6.0),
            (78.0, 9.0), (66.0, 9.0), (64.0, 4.0), (0.0, 4.0)]


PALLET_RADIUS = 200.0


def pallet():
    """Round pallet 400, its top at z 0. It turns with the work, but being round it sweeps only
    itself, so it may stand with the bodies that do not turn."""
    disc = turned([(0.0, -55.0), (170.0, -55.0), (170.0, -40.0), (PALLET_RADIUS - 3.0, -40.0),
                   (PALLET_RADIUS, -37.0), (PALLET_RADIUS, -3.0), (PALLET_RADIUS - 3.0, 0.0),
                   (0.0, 0.0)], 240)
    spots = [(x, y) for x in range(-150, 151, 50) for y in range(-150, 151, 50)
             if 120.0 < math.hypot(x, y) < 180.0]
    sink = loft([(ring(8.5, 32), -22.0), (ring(8.5, 32), -1.5), (ring(10.0, 32), 0.0),
                 (ring(10.0, 32), 1.0)])
    hole = loft([(ring(8.5, 32), -22.0), (ring(8.5, 32), 1.0)])
    return disc - union([(hole + sink_rim()).translate([x, y, 0.0]) for x, y in spots])


def sink_rim():
    """Chamfer of a pallet hole."""
    return loft([(ring(8.5, 32), -1.5), (ring(10.5, 32), 0.5)])


def saddle():
    """What the pallet turns on: the rotary's housing under it, with its way covers."""
    return union([
        turned([(0.0, -90.0), (178.0, -90.0), (178.0, -62.0), (172.0, -56.0), (0.0, -56.0)], 180),
        bevelled((-235.0, -235.0), (235.0, 235.0), 40.0, 8.0, -240.0, -88.0),
        bevelled((-300.0, -190.0), (300.0, 190.0), 12.0, 6.0, -330.0, -236.0),
        rounded_block((230.0, -80.0), (330.0, 80.0), -250.0, -110.0, 14.0),
    ])


FLATS, LENGTH, BASE = 160.0, 440.0, 30.0
BASE_RADIUS = 110.0
PAD_HALF, PAD = 40.0, 10.0
SEATS = (130.0, 260.0, 390.0)


def carrier():
    """Four-sided column on a round base, with pads, a bore, tapped holes and broken edges."""
    half, edge = FLATS / 2.0, 2.0
    column = bevelled((-half, -half), (half, half), edge, 1.0, BASE, BASE + LENGTH)
    base = turned([(0.0, 0.0), (BASE_RADIUS - 2.0, 0.0), (BASE_RADIUS, 2.0),
                   (BASE_RADIUS, BASE - 2.0), (BASE_RADIUS - 2.0, BASE), (0.0, BASE)], 180)
    pads = [box((half - 1.0, -PAD_HALF, BASE + 0.5), (half + PAD, PAD_HALF, BASE + LENGTH - 0.5))
            .rotate([0.0, 0.0, 90.0 * side]) for side in range(4)]
    cuts = [bar(BORE / 2.0, -1.0, BASE + LENGTH + 1.0, 120)]
    for side in range(4):
        for seat in SEATS:
            # A cross slot for chips and a dowel each, under the part; the stud's thread.
            slot = box((half + PAD - 2.0, -50.0, seat - 4.0), (half + PAD + 1.0, 50.0, seat + 4.0))
            cuts.append(slot.rotate([0.0, 0.0, 90.0 * side]))
        for height in (65.0, 195.0, 325.0):
            hole = bar(5.1, 0.0, 22.0, 32).rotate([0.0, 90.0, 0.0])
            for y in (-60.0, 60.0):
                cuts.append(hole.translate([half - 20.0, y, height])
                            .rotate([0.0, 0.0, 90.0 * side]))
    bolts = [bar(7.0, -1.0, BASE + 1.0, 40).translate([97.0, 0.0, 0.0])
             .rotate([0.0, 0.0, 22.5 + 45.0 * k]) for k in range(8)]
    counter = [bar(10.5, 16.0, BASE + 1.0, 40).translate([97.0, 0.0, 0.0])
               .rotate([0.0, 0.0, 22.5 + 45.0 * k]) for k in range(8)]
    return union([column, base, *pads]) - union(cuts + bolts + counter)
