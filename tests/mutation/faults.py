"""The planted faults: exact text, its replacement, and the tests that must turn red."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Fault:
    name: str
    what: str
    file: str
    old: str
    new: str
    tests: tuple
    quick: bool = False


PLANES = ("planted::lines_areas_and_discs",)
CYLINDERS = ("planted::turns_inside_a_cylinder", "planted::turns_under_a_plane")
DRUMS = ("thin::plates_and_needles_pass_a_slender_tool",)
SOLIDS = ("bodies::inside_solid_and_inverted_shells",)
CAVITIES = ("bodies::inside_a_cavity_and_beside_it",)
OPEN = ("bodies::inside_open_and_loose_bodies",)
GAPS = ("jobs::gaps_about_the_wanted_gap",)

FAULTS = [
    Fault(
        "upper-for-lower",
        "the distance found is taken for the certified one",
        "src/gap/convex.rs",
        "best.lo_mm = lo_mm.min(best.hi_mm);",
        "best.lo_mm = best.hi_mm;",
        PLANES + ("thin::slivers_under_a_moving_tool",) + CYLINDERS,
        quick=True,
    ),
    Fault(
        "radius-halved",
        "half the radius in the bulge of an arc",
        "src/gap/turn.rs",
        "let bulge_mm = two.orbit.radial.1 * (1.0 - half.cos())",
        "let bulge_mm = 0.5 * two.orbit.radial.1 * (1.0 - half.cos())",
        CYLINDERS + DRUMS + ("flat::concentric_work_turns_under_a_tool",),
        quick=True,
    ),
    Fault(
        "slab-bulge-off",
        "a slab over an interval leaves out the bulge of the arc",
        "src/gap/turn.rs",
        "width_mm - two.orbit.radial.1 * self.bulge - size_mm * 1e-13",
        "width_mm - size_mm * 1e-13",
        CYLINDERS + DRUMS + ("flat::concentric_work_turns_under_a_tool",),
    ),
    Fault(
        "orbit-sum",
        "axial and radial distance are added, not taken at a right angle",
        "src/gap/orbit.rs",
        "along.hypot(across) * (1.0 - 1e-14)",
        "(along + across) * (1.0 - 1e-14)",
        ("planted::turns_of_two_teeth", "planted::turns_past_a_rim"),
    ),
    Fault(
        "containment-off",
        "a body found inside another is forgotten",
        "src/gap/group.rs",
        "Containment::Found(contained) => contained_gap(contained),",
        "Containment::Found(_) => gap,",
        SOLIDS + CAVITIES,
        quick=True,
    ),
    Fault(
        "containment-unknown-off",
        "an undecided containment counts as none",
        "src/gap/group.rs",
        "                lo_mm: 0.0,\n                decided: below,",
        "                decided: below,",
        OPEN + ("bodies::under_one_missing_triangle",),
    ),
    Fault(
        "boxes-inward",
        "boxes rounded to single precision inward",
        "src/gap/build.rs",
        "    if f64::from(near) < value {\n        near.next_up()",
        "    if f64::from(near) > value {\n        near.next_down()",
        PLANES + ("planted::far_from_the_origin", "thin::slivers_against_slivers"),
        quick=True,
    ),
    Fault(
        "interval-dropped",
        "the second half of an interval of angle is not searched",
        "src/gap/turn.rs",
        "            Entry {\n                from_deg: middle_deg,\n                ..entry\n            },\n",
        "",
        CYLINDERS + DRUMS,
        quick=True,
    ),
    Fault(
        "chord-allowance-off",
        "gaps are told without the chord allowance taken off",
        "src/answer/check/measure.rs",
        "let allowance_mm = mover.allowance_mm + group[0].body.chord_allowance_mm;",
        "let allowance_mm = mover.allowance_mm;",
        GAPS,
        quick=True,
    ),
    Fault(
        "allowance-added",
        "the chord allowance is added to the lower value",
        "src/answer/check/measure.rs",
        "best.lo_mm = best.lo_mm.min(gap.lo_mm - allowance_mm);",
        "best.lo_mm = best.lo_mm.min(gap.lo_mm + allowance_mm);",
        GAPS,
    ),
    Fault(
        "verdict-by-upper",
        "clear by the upper value",
        "src/answer/check/measure.rs",
        "    } else if lo_mm <= 0.0 {\n        Verdict::Unknown\n    } else if lo_mm >= wanted_mm -",
        "    } else if hi_mm >= wanted_mm -",
        ("jobs::an_undecided_containment_is_unknown",),
        quick=True,
    ),
    Fault(
        "clear-without-apart",
        "clear by a wanted gap of zero although nothing is known",
        "src/answer/check/measure.rs",
        "    } else if lo_mm <= 0.0 {\n        Verdict::Unknown\n",
        "",
        ("jobs::an_undecided_containment_is_unknown",),
    ),
    Fault(
        "offset-dropped",
        "the last positions of a spread are left out",
        "src/gap/sweep.rs",
        "for shift in self.shifts.iter().skip(1) {",
        "for shift in self.shifts.iter().take(1) {",
        PLANES + ("thin::a_rapid_passes_a_needle",),
        quick=True,
    ),
    Fault(
        "disc-off-its-plane",
        "the support point of a disc may leave its plane",
        "src/gap/sweep.rs",
        "let across = one * one.dot(direction) + other * other.dot(direction);",
        "let across = direction - self.normal * self.normal.dot(direction);",
        PLANES + ("planted::discs_over_a_face",),
        quick=True,
    ),
    Fault(
        "disc-dropped",
        "discs about positions are ignored",
        "src/gap/sweep.rs",
        "best += self.out_of_axis(direction) * self.disc_mm;",
        "best += self.out_of_axis(direction) * 0.0;",
        PLANES,
    ),
    Fault(
        "margin-off",
        "the ball of a round tool is not taken off the lower value over a turn",
        "src/gap/turn.rs",
        "let margin_mm = leaf_a.margin_mm() + leaf_b.margin_mm() + bulge_mm;",
        "let margin_mm = bulge_mm;",
        CYLINDERS,
    ),
    Fault(
        "winding-threshold",
        "a point counts as outside an open body up to a winding of 0.9",
        "src/gap/inside.rs",
        "} else if winding.abs() < 0.25 {",
        "} else if winding.abs() < 0.9 {",
        OPEN + ("bodies::under_one_missing_triangle",),
    ),
    Fault(
        "inverted-is-empty",
        "a shell that is inside out does not hold anything",
        "src/gap/inside.rs",
        "if !mesh.shells[index].closed || count[0] == 0 {",
        "if !mesh.shells[index].closed || count[0] <= 0 {",
        SOLIDS,
    ),
    Fault(
        "nested-is-cavity",
        "any shell in another counts as a cavity",
        "src/gap/cavity.rs",
        "if opposite && cavity_of[parent].is_none()",
        "if (opposite || true) && cavity_of[parent].is_none()",
        SOLIDS + CAVITIES,
    ),
    Fault(
        "erosion-doubled",
        "the cutter is made smaller by twice the gouge tolerance",
        "src/answer/check/own_part.rs",
        "let Some(core) = eroded(profile, gouge_mm) else {",
        "let Some(core) = eroded(profile, 2.0 * gouge_mm) else {",
        ("jobs::a_gouge_just_beyond_the_tolerance",),
    ),
    Fault(
        "gouge-off",
        "flutes are not held against the finished part",
        "src/answer/check/own_part.rs",
        "if core_apart != Some(true) {",
        "if core_apart.is_none() {",
        ("jobs::a_gouge_of_a_neighbouring_face",),
        quick=True,
    ),
    Fault(
        "before-after-swapped",
        "the own part after the cut stands in for the one before",
        "src/answer/check/moment.rs",
        "Ok([state(cut.before)?, state(cut.after)?, state(last)?])",
        "Ok([state(cut.after)?, state(cut.before)?, state(last)?])",
        ("jobs::a_rapid_through_stock", "jobs::a_shank_as_wide_as_its_cutter_in_a_deep_slot"),
    ),
    Fault(
        "rotary-sign",
        "the rotary turns the other way",
        "src/answer/kinematics.rs",
        "Sense::Iso841 => -1.0,\n            Sense::Reversed => 1.0,",
        "Sense::Iso841 => 1.0,\n            Sense::Reversed => -1.0,",
        ("jobs::the_rotary_sense_decides_which_way_the_block_goes",),
        quick=True,
    ),
    Fault(
        "travel-ignored",
        "an axis may go beyond its limit",
        "src/answer/check/travel.rs",
        "if used.spare_mm < -TRAVEL_GRAIN_MM {",
        "if used.spare_mm < -1000.0 {",
        ("jobs::an_axis_ends_before_the_place",),
    ),
    Fault(
        "one-way-round",
        "where the machine does not say, only one way round is checked",
        "src/answer/check/plan.rs",
        "Some(Way::Shortest) | None => vec![up, down],",
        "Some(Way::Shortest) => vec![up, down],\n        None => vec![if ahead_deg <= 180.0 { up } else { down }],",
        ("jobs::both_ways_round_where_the_machine_does_not_say",),
    ),
    Fault(
        "no-stock-is-clear",
        "a part without stock is not reported",
        "src/answer/check/judge.rs",
        "if !moment.own_has_stock && !self.decide_only {",
        "if moment.own_has_stock && self.decide_only {",
        ("jobs::a_part_without_stock_is_unknown",),
    ),
    Fault(
        "rubbing-allowed",
        "a shank as wide as its flutes may follow them",
        "src/answer/check/own_part.rs",
        "if difference_mm > gouge_mm {",
        "if difference_mm >= 0.0 {",
        ("jobs::a_shank_as_wide_as_its_cutter_in_a_deep_slot",),
    ),
    Fault(
        "rapid-may-cut",
        "a rapid below the feed plane counts as cutting",
        "src/answer/check/sweep.rs",
        "let phase = if rapid && !retraced {",
        "let phase = if rapid && retraced {",
        ("jobs::a_rapid_through_stock",),
    ),
]
