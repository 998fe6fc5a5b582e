"""The tide-gauge housing, state by state. Origin on the pad; x across the side, y along the rotary
axis, z out of the side. Each cut of the jobs takes the part from one state to the next."""

import math

import numpy as np
from manifold3d import CrossSection, FillRule, JoinType, Manifold

from solids import (
    bore, box, fillet_outline, loft, prism, ring, rounded_rectangle, rounded_top, strokes,
    tangent_quarter, tangent_radius, tangent_rectangle, union,
)

HALF_WIDTH = 35.0          # Sweeps sqrt(139^2 + 35^2) = 143.34 as stock, 90 from the axis.
Y_LOW, Y_BODY, Y_LUG = -45.0, 27.0, 45.0
TOP = 46.0
STOCK = 3.0                # On the top face only.
LUG_TOP = 22.0
LUG_HALF = 28.0            # The clamp is 25 wide: bolts of the lug stay beside it.

POCKET_LOW, POCKET_HIGH = (-22.0, -35.0), (22.0, 15.0)
POCKET_CORNER = 8.5        # More than the radius of the 16 mm end mill.
POCKET_FLOOR = 16.0
FLOOR_FILLET = 1.0         # Corner radius of the finishing end mill.
ROUGH_LEFT = 0.3
ROUGH_FILLET = 0.5         # Corner radius of the roughing end mill.
RIM = 0.5                  # 45 degrees.

GROOVE_OFFSET = 3.0        # Centre line from the pocket wall: leaves a land of 1 beside the rim.
GROOVE_WIDTH, GROOVE_DEPTH = 3.0, 2.0

# 29.5 and 39.5 instead of 30 and 41: walls of 3 to the outside, clear of the rounded corner.
HOLES = [(29.5, -39.5), (-29.5, -39.5), (-29.5, 21.5), (29.5, 21.5)]
HOLE, HOLE_DEPTH, HOLE_RIM = 5.0, 18.0, 5.6

PORT_Y, PORT_Z = -14.0, 23.0
PORT_DRILL, PORT_THREAD, PORT_RIM = 9.0, 10.0, 10.5
PORT_DEPTH = 14.0          # From the face at x 35 through the wall that ends at 22, and 1 more.
GALLERY_Y, GALLERY_Z = 2.0, 8.0
GALLERY, GALLERY_DEPTH = 6.0, 60.0
PILOT, PILOT_DEPTH = 6.02, 15.0
DRILL_POINT = 140.0

CORNER_STEPS = 24          # A quarter turn; chord error at radius 13 is 0.007.
BORE_STEPS = 144         # A full turn; chord error at radius 5.25 is 0.0013.


def pocket_outline(grow=0.0):
    """The pocket's wall, or its parallel curve `grow` outside."""
    return tangent_rectangle(
        [v - grow for v in POCKET_LOW], [v + grow for v in POCKET_HIGH],
        POCKET_CORNER + grow, CORNER_STEPS,
    )


def pocket(left, fillet, top):
    """The pocket with `left` on wall and floor, open to above `top`."""
    floor = POCKET_FLOOR + left
    steps = [(pocket_outline(-left - inset), floor + rise)
             for inset, rise in tangent_quarter(fillet, 8)]
    # The last step lies on the floor: the flat that touches the floor begins there.
    return loft(steps + [(pocket_outline(-left), top + 2.0)])


def rim():
    """The chamfer round the pocket."""
    return union([
        loft([(pocket_outline(), TOP - RIM), (pocket_outline(RIM), TOP)]),
        prism(pocket_outline(RIM), TOP, TOP + 2.0),
    ])


def groove():
    """The seal groove: what a tool of its width sweeps along the centre line."""
    line = CrossSection([pocket_outline(GROOVE_OFFSET)], FillRule.Positive)
    # Mitred, not rounded: an inscribed rounding would stand in the tool's way.
    outer = line.offset(GROOVE_WIDTH / 2.0, JoinType.Miter, 4.0)
    inner = line.offset(-GROOVE_WIDTH / 2.0, JoinType.Miter, 4.0)
    ditch = Manifold.extrude(outer - inner, GROOVE_DEPTH + 2.0)
    return ditch.translate([0.0, 0.0, TOP - GROOVE_DEPTH])


def holes(make):
    """The same thing at each of the four holes."""
    return union([make().translate([x, y, TOP]) for x, y in HOLES])


def spot():
    """What a 90 degree point leaves: half as deep as it is wide."""
    wide = ring(tangent_radius(HOLE_RIM / 2.0, BORE_STEPS), BORE_STEPS)
    return union([loft([(np.zeros((1, 2)), -HOLE_RIM / 2.0), (wide, 0.0)]),
                  loft([(wide, 0.0), (wide, 2.0)])])


def from_side(thing, y, z):
    """Stands something made along z on the face at x +35, opening outward."""
    return thing.rotate([0.0, 90.0, 0.0]).translate([HALF_WIDTH, y, z])


def casting():
    """Outer form with stock on top: body, lug with fillets, feet, panels and lettering."""
    low, high = (-HALF_WIDTH, Y_LOW), (HALF_WIDTH, Y_BODY)
    radii = [4.0, 4.0, 6.0, 6.0]
    body = loft([
        (rounded_rectangle([v + 0.8 for v in low], [v - 0.8 for v in high],
                           [r - 0.8 for r in radii], CORNER_STEPS), 0.0),
        (rounded_rectangle(low, high, radii, CORNER_STEPS), 0.8),
        (rounded_rectangle(low, high, radii, CORNER_STEPS), TOP + STOCK),
    ])
    solid = union([body, lug(), lug_fillets()])
    feet_gap = loft([
        (rounded_rectangle((-20, -60), (20, 60), [3.0] * 4, 8), -1.0),
        (rounded_rectangle((-20, -60), (20, 60), [3.0] * 4, 8), 0.8),
    ]) + loft([
        (rounded_rectangle((-60, -26), (60, 24), [3.0] * 4, 8), -1.0),
        (rounded_rectangle((-60, -26), (60, 24), [3.0] * 4, 8), 0.8),
    ])
    solid = solid - feet_gap
    for x in (-20.5, 20.5):
        hole = bore(6.6, LUG_TOP + 2.0, 64, rim_diameter=7.4)
        solid = solid - hole.translate([x, 37.0, LUG_TOP])
    return solid - front_panel() - side_panel() + lettering()


def lug():
    """The lug at the clamp end, upper rim rounded."""
    return rounded_top((-LUG_HALF, 10.0), (LUG_HALF, Y_LUG), 8.0, 0.0, LUG_TOP, 1.5, 16)


def lug_fillets():
    """Casting fillets where the lug meets the body: beside it and above it."""
    outline = [(-HALF_WIDTH + 4, 20), (HALF_WIDTH - 4, 20), (HALF_WIDTH - 4, Y_BODY),
               (LUG_HALF, Y_BODY), (LUG_HALF, 36), (-LUG_HALF, 36), (-LUG_HALF, Y_BODY),
               (-HALF_WIDTH + 4, Y_BODY)]
    plan = fillet_outline(outline, 3.0, CORNER_STEPS)
    flare = Manifold.extrude(plan, LUG_TOP - 1.5)
    # The strap begins at y 33: a radius of 4 ends at 31.
    radius = 4.0
    strip = box((-LUG_HALF + 1.5, 20.0, LUG_TOP - 1.0),
                (LUG_HALF - 1.5, Y_BODY + radius, LUG_TOP + radius))
    turn = np.radians(180.0 + 90.0 * (np.arange(CORNER_STEPS) + 0.5) / CORNER_STEPS)
    reach = radius / math.cos(math.radians(45.0 / CORNER_STEPS))
    arc = [(Y_BODY + radius + reach * math.cos(t), LUG_TOP + radius + reach * math.sin(t))
           for t in turn]
    open_side = [(y, z) for y, z in arc] + [(60.0, LUG_TOP), (60.0, 60.0), (Y_BODY, 60.0)]
    # Drawn along z, then laid so that (x, y, z) of the sketch becomes (y, z, x) of the part.
    cutter = prism(open_side, -60.0, 60.0).transform(
        np.array([[0, 0, 1, 0], [1, 0, 0, 0], [0, 1, 0, 0]], float))
    return union([flare, strip - cutter])


def panel(low, high, depth, slope):
    """A shallow cast recess with sloping walls, opening at z 0, going down."""
    def at(inset):
        return rounded_rectangle([v + inset for v in low], [v - inset for v in high],
                                 [5.0 - inset] * 4, 16)
    return union([
        loft([(at(slope), -depth), (at(0.0), 0.0)]),
        loft([(at(0.0), 0.0), (at(0.0), 2.0)]),
    ])


def front_panel():
    """Recess in the face at y -45, under the holes."""
    recess = panel((-26.0, 5.0), (26.0, 25.0), 1.2, 0.8)
    # Sketch x, y, z become part x, z, -y.
    return recess.transform(np.array([[1, 0, 0, 0], [0, 0, -1, Y_LOW], [0, 1, 0, 0]], float))


def on_left_side(thing):
    """Sketch x, y, z become part -y, z, -x, standing on the face at x -35."""
    return thing.transform(
        np.array([[0, 0, -1, -HALF_WIDTH], [-1, 0, 0, 0], [0, 1, 0, 0]], float))


def side_panel():
    """Recess for the lettering, in the face at x -35."""
    return on_left_side(panel((-20.0, 7.0), (38.0, 38.0), 1.2, 0.8))


def lettering():
    """TG 46 and a wave, raised from the recess but below the outer face."""
    letters = [
        [(-10, 32), (-2, 32)], [(-6, 32), (-6, 21)],
        [(8, 31), (6.5, 32), (2.5, 32), (1, 30.5), (1, 22.5), (2.5, 21), (6.5, 21), (8, 22.5),
         (8, 26), (5, 26)],
        [(21, 21), (21, 32), (15, 24.5), (23, 24.5)],
        [(32, 31), (30.5, 32), (28, 32), (26, 30), (26, 22.5), (27.5, 21), (31, 21), (32.5, 22.5),
         (32.5, 25), (31, 26.5), (27.5, 26.5), (26, 25)],
    ]
    across = np.linspace(-12.0, 32.0, 45)
    wave = [(x, 13.5 + 2.2 * math.sin(2.0 * math.pi * (x + 12.0) / 14.666)) for x in across]
    raised = strokes(letters, 1.0, 48) + strokes([wave], 0.8, 36)
    # Centred on the floor of the recess, so the crowns stand 1.0 and 0.8 above it, 0.2 sunk.
    return on_left_side(raised.translate([0.0, 0.0, -1.2])) - box((-60, -60, 0), (-60, 60, 60))


def states():
    """Every state by name, in the order of the cuts."""
    blank = casting()
    above = box((-60.0, -60.0, TOP), (60.0, 60.0, 90.0))
    cut = {
        "faced": above,
        "roughed": pocket(ROUGH_LEFT, ROUGH_FILLET, TOP),
        "pocketed": pocket(0.0, FLOOR_FILLET, TOP),
        "grooved": groove(),
        "spotted": holes(spot),
        "drilled": holes(lambda: bore(HOLE, HOLE_DEPTH, BORE_STEPS, point_deg=DRILL_POINT)),
        "rimmed": rim(),
        "ported": side_hole(PORT_DRILL, PORT_DEPTH),
        "chamfered": from_side(
            bore(PORT_DRILL, 1.0, BORE_STEPS, rim_diameter=PORT_RIM), PORT_Y, PORT_Z),
        # The thread is left out: the mesh has its major diameter, which the tap fills.
        "tapped": side_hole(PORT_THREAD, PORT_DEPTH),
        "piloted": from_side(
            bore(PILOT, PILOT_DEPTH, BORE_STEPS, point_deg=DRILL_POINT), GALLERY_Y, GALLERY_Z),
        "finished": from_side(
            bore(GALLERY, GALLERY_DEPTH, BORE_STEPS, point_deg=DRILL_POINT), GALLERY_Y, GALLERY_Z),
    }
    made = {"blank": blank}
    solid = blank
    for name, tool in cut.items():
        solid = solid - tool
        made[name] = solid
    return made


def side_hole(diameter, depth):
    """A hole through the wall of the port."""
    return from_side(bore(diameter, depth, BORE_STEPS), PORT_Y, PORT_Z)
