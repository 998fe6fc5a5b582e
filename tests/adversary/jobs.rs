//! Whole jobs with one trap each, and the same job without it, which is clear.

use crate::models::{Random, shifted_seed};
use crate::shop::{
    HOLE, Shop, assert_clear, assert_trouble, cuboid, cut, drilled_from_the_side, first, kinds,
    pocketed,
};
use lapidary::answer::check::CheckOptions;
use lapidary::answer::check::model::{CheckAnswer, Outcome, Phase, Reliance, TroubleKind, Verdict};
use lapidary::mesh::solids::Column;

const POCKET: &str = r#"kind = "pocket", at = [0, 0, 46], access = [0, 0, 1], along = [1, 0, 0], length = 50, width = 60, depth = 20"#;

fn hole() -> Shop {
    Shop::with_cuts(&cut("hole", 6, HOLE))
}

/// A pocket into the block, with its finished part.
fn pocket() -> Shop {
    Shop::with_cuts(&cut("pocket", 2, POCKET)).mesh("finished.stl", &pocketed([25.0, 30.0], 26.0))
}

#[test]
fn the_good_jobs_are_clear() {
    assert_clear(&hole());
    assert_clear(&pocket());
}

#[test]
fn a_rapid_through_stock() {
    let path = |rapid: bool| {
        let moves = format!(
            "kind = \"path\", access = [0, 0, 1], moves = [{{ to = [-50, 0, 41] }}, {{ to = [50, 0, 41], rapid = {rapid} }}]"
        );
        let slot = cuboid([-35.0, -45.0, 0.0], [35.0, 45.0, 41.0]);
        Shop::with_cuts(&cut("path", 2, &moves)).mesh("finished.stl", &slot)
    };
    assert_clear(&path(false));
    assert_trouble(&path(true), Verdict::Clash, TroubleKind::RapidInStock);
}

#[test]
fn a_gouge_of_a_neighbouring_face() {
    // The wall of the pocket, its floor, and both only by more than the tolerance of 0.01.
    for (half, floor) in [
        ([24.95, 30.0], 26.0),
        ([25.0, 29.5], 26.0),
        ([25.0, 30.0], 26.1),
    ] {
        let shop = pocket().mesh("finished.stl", &pocketed(half, floor));
        assert_trouble(&shop, Verdict::Clash, TroubleKind::Gouge);
    }
    assert_clear(&pocket().mesh("finished.stl", &pocketed([24.995, 30.0], 26.005)));
}

#[test]
fn a_gouge_just_beyond_the_tolerance() {
    let shop = pocket().mesh("finished.stl", &pocketed([24.985, 30.0], 26.0));
    assert_trouble(&shop, Verdict::Clash, TroubleKind::Gouge);
    let shop = pocket().mesh("finished.stl", &pocketed([25.0, 30.0], 26.015));
    assert_trouble(&shop, Verdict::Clash, TroubleKind::Gouge);
}

#[test]
fn a_shank_as_wide_as_its_cutter_in_a_deep_slot() {
    let deep = POCKET.replace("depth = 20", "depth = 38");
    let shop = || {
        Shop::with_cuts(&cut("pocket", 2, &deep))
            .mesh("finished.stl", &pocketed([25.0, 30.0], 8.0))
            .change("tools.toml", "APMX = 32\nLU = 40", "APMX = 20\nLU = 40")
            .change("job.toml", "feature = {", "pass_depth = 10\nfeature = {")
    };
    assert_trouble(&shop(), Verdict::Close, TroubleKind::Rubs);
    // A neck keeps the difference of the radii.
    let necked = shop().change("tools.toml", "LU = 40", "LU = 42\nBD = 11");
    assert_clear(&necked);
    // So it does under a shank that is wider than the flutes, and stays over the slot.
    let wide = |usable: &str| {
        let necked = shop().change("tools.toml", "LU = 40", &format!("{usable}\nBD = 11"));
        necked.change("tools.toml", "OAL = 92\nDMM = 16", "OAL = 110\nDMM = 20")
    };
    assert_clear(&wide("LU = 42"));
    assert_trouble(&wide("LU = 39"), Verdict::Close, TroubleKind::Close);
    assert_trouble(&wide("LU = 36"), Verdict::Clash, TroubleKind::Clash);
    // No length takes it out of the slot, and none is told.
    let with_lengths = |shop: &Shop| shop.answer_with(CheckOptions::default());
    let shortest = |shop: &Shop| with_lengths(shop).lengths[0].shortest_mm;
    assert_eq!(shortest(&wide("LU = 36")), None);
    assert!(shortest(&wide("LU = 42")).is_some());
}

/// A pocket 38 deep, a mill set 30 out: what stands in the holder comes out of it. The holder stays 2 over the top,
/// the shank where it is told to.
#[test]
fn edges_and_shank_come_out_of_the_holder() {
    let deep = POCKET.replace("depth = 20", "depth = 38");
    let shop = |sizes: &str| {
        Shop::with_cuts(&cut("pocket", 2, &deep))
            .mesh("finished.stl", &pocketed([25.0, 30.0], 8.0))
            .change("tools.toml", "APMX = 32\nLU = 40", sizes)
    };
    let set = |shop: &Shop, stick_out_mm: f64| {
        let text = format!("stick_out = {stick_out_mm:?}");
        shop.clone().change("tools.toml", "stick_out = 50", &text)
    };
    let range = |shop: &Shop| {
        let answer = shop.answer_with(CheckOptions::default());
        let lengths = &answer.lengths[0];
        [lengths.shortest_mm, lengths.longest_mm].map(|end| end.map(|mm| mm - 100.0))
    };
    let near = |found: Option<f64>, mm: f64| {
        assert!(
            found.is_some_and(|found| (found - mm).abs() < 0.011),
            "{found:?}, not {mm}"
        );
    };
    // Edges 45 long, of which 15 stand in the holder as set: 40 is as short as it may be.
    let edges = shop("APMX = 45\nLU = 45");
    let [shortest_mm, longest_mm] = range(&set(&edges, 30.0));
    near(shortest_mm, 40.0);
    assert!(longest_mm.unwrap() > 46.0, "{longest_mm:?}");
    assert_clear(&set(&edges, 40.01));
    assert_trouble(&set(&edges, 39.9), Verdict::Close, TroubleKind::Close);
    // A shank as wide as the flutes from 39 on, which is to stay 3 off the part: 41 is too far out, and no
    // longer one is told.
    let shank = shop("APMX = 39\nLU = 39").change(
        "job.toml",
        "[carrier]",
        "[wanted.elements]\nshank = { rest = 3 }\nholder = { rest = 0.5 }\n\n[carrier]",
    );
    let [shortest_mm, longest_mm] = range(&set(&shank, 38.2));
    near(shortest_mm, 38.5);
    near(longest_mm, 39.0);
    assert_clear(&set(&shank, 39.0));
    assert_trouble(&set(&shank, 41.0), Verdict::Close, TroubleKind::Close);
}

#[test]
fn a_crash_in_the_middle_of_a_pocket_only() {
    let post = pocket().change("job.toml", "clamps = []", "clamps = [\"post\"]");
    let answer = post.answer();
    assert_eq!(
        first(&answer).outcome,
        Outcome::Blocked,
        "{:#?}",
        answer.troubles
    );
    assert!(kinds(&answer).contains(&TroubleKind::Clash));
    // The same post beside the block, clear of holder and cutter.
    let beside = cuboid([60.0, -1.0, 0.0], [62.0, 1.0, 60.0]);
    assert_clear(&post.mesh("post.stl", &beside));
}

/// A holder of radius 22, its centre up to 17 off the middle, beside a post that begins at 37: 2 deep, also where
/// the post's mesh is exact. By hand.
#[test]
fn an_overlap_with_an_exact_body_is_the_shortest_way_out() {
    let posted = pocket()
        .mesh("post.stl", &cuboid([37.0, -10.0, 0.0], [57.0, 10.0, 80.0]))
        .change("job.toml", "clamps = []", "clamps = [\"post\"]");
    for chord in ["chord_allowance = 0", "chord_allowance = 0.02"] {
        let named = "file = \"post.stl\"\nchord_allowance = 0";
        let with = format!("file = \"post.stl\"\n{chord}");
        let answer = posted.clone().change("job.toml", named, &with).answer();
        let mut clashes = answer.troubles.iter();
        let clash = clashes.find(|trouble| trouble.kind == TroubleKind::Clash);
        let clash = clash.expect("the holder meets the post");
        let allowance_mm: f64 = chord.rsplit(' ').next().unwrap().parse().unwrap();
        let deeper_mm = clash.amount_mm.unwrap() - 2.0 - allowance_mm;
        assert!((-1e-6..0.0025).contains(&deeper_mm), "{chord}: {clash:#?}");
        let place = clash.worst.as_ref().and_then(|worst| worst.place.as_ref());
        assert!(
            place.is_some_and(|place| place.overlap_mm.is_some()),
            "{clash:#?}"
        );
    }
}

#[test]
fn a_cutter_as_large_as_its_bore_or_fillet() {
    let bore = |diameter: f64| {
        let bore = format!(
            "kind = \"round-pocket\", at = [0, 0, 46], access = [0, 0, 1], diameter = {diameter}, depth = 10"
        );
        // The finished part has a square hole around the bore.
        Shop::with_cuts(&cut("bore", 2, &bore)).mesh("finished.stl", &pocketed([8.0, 8.0], 36.0))
    };
    assert_clear(&bore(16.0));
    bore(15.98).assert_refused("the cutter T2 is 16 mm wide");
    let fillet = |radius: f64| {
        let feature = format!("{POCKET}, corner_radius = {radius}");
        Shop::with_cuts(&cut("pocket", 2, &feature))
            .mesh("finished.stl", &pocketed([25.0, 30.0], 26.0))
    };
    assert_clear(&fillet(8.0));
    assert_trouble(&fillet(7.99), Verdict::Clash, TroubleKind::CutterDoesNotFit);
}

/// A tap M10x1 in a bore of the block, which is square with this distance to its flats.
fn tapped(bore_mm: f64, flat_mm: f64) -> Shop {
    let block = Column {
        sides: 4,
        flat_distance_mm: flat_mm,
        length_mm: 46.0,
        edge_chamfer_mm: 0.0,
        bore_diameter_mm: Some(bore_mm),
    };
    let block = block.mesh().unwrap();
    let triangles: Vec<_> = (0..block.triangles.len() as u32)
        .map(|triangle| block.corners(triangle))
        .collect();
    let tap = "[[tools]]\nnumber = 8\nname = \"tap M10x1\"\nkind = \"tap\"\nDC = 10\nTP = 1\nLU = 30\nOAL = 90\nDMM = 7\nstick_out = 45\nholder = [{ diameter = 28, height = 100 }]\n";
    Shop::with_cuts(&cut("thread", 8, HOLE))
        .mesh("finished.stl", &triangles)
        .add("tools.toml", &format!("\n{tap}"))
}

/// ISO 724, from memory: M10x1 has a minor diameter of 10 - 1.0825 = 8.917.
#[test]
fn a_tap_in_a_hole_modelled_before_tapping() {
    assert_clear(&tapped(8.93, 35.0));
    assert_clear(&tapped(10.0, 35.0));
    let answer = tapped(8.93, 35.0).answer();
    let thread = |reliance: &Reliance| matches!(reliance, Reliance::Thread { depth_mm, .. } if (depth_mm - 0.5413).abs() < 1e-4);
    assert!(answer.relies_on.iter().any(thread));
    // A hole too small for the thread, and walls that the thread breaks through, also by little.
    for (bore_mm, flat_mm) in [(8.8, 35.0), (8.93, 4.75), (8.93, 4.98)] {
        let shop = tapped(bore_mm, flat_mm);
        assert_trouble(&shop, Verdict::Clash, TroubleKind::Gouge);
    }
}

#[test]
fn a_part_without_stock_is_unknown() {
    let one = "[[parts.states]]\nname = \"blank\"\nfile = \"blank.stl\"\nchord_allowance = 0\n\n";
    let shop = hole().change("job.toml", one, "").change(
        "job.toml",
        "before = \"blank\"",
        "before = \"finished\"",
    );
    assert_trouble(&shop, Verdict::Unknown, TroubleKind::NoStock);
}

#[test]
fn a_cut_of_a_part_that_stands_nowhere_is_unknown() {
    let spare = cut("spare", 6, HOLE).replace("block", "spare part");
    let states = "states = [{ name = \"blank\", file = \"blank.stl\" }, \
                  { name = \"finished\", file = \"finished.stl\" }]";
    let part = format!("[[parts]]\nname = \"spare part\"\n{states}\n\n");
    assert_clear(&hole());
    let shop = hole().add("job.toml", &format!("{part}{spare}"));
    assert_trouble(&shop, Verdict::Unknown, TroubleKind::Undecided);
}

#[test]
fn no_rotary_sense_is_unknown() {
    let shop = hole().change("machine.toml", "sense = \"iso-841\"\n", "");
    assert_trouble(&shop, Verdict::Unknown, TroubleKind::NoRotarySense);
    assert_eq!(first(&shop.answer()).outcome, Outcome::Unknown);
}

/// Blocks on sides 1 and 2, one hole each: an index move of 90 degrees there and back.
fn two_sides() -> Shop {
    hole().change("job.toml", "sides = [1]", "sides = [1, 2]")
}

#[test]
fn a_clash_only_in_the_middle_of_an_index_move() {
    assert_clear(&two_sides());
    // Opposite the blocks, 10 off the pad (90) at rest; the column's corner reaches 113.
    let behind = two_sides().stand("bed", [-4.0, 30.0, -300.0], [4.0, 60.0, -100.0]);
    let answer = behind.answer();
    assert!(
        answer.cuts.iter().all(|cut| cut.verdict == Verdict::Clear),
        "{:#?}",
        answer.cuts
    );
    assert!(
        answer
            .index_moves
            .iter()
            .any(|step| step.verdict == Verdict::Clash)
    );
    assert!(
        answer
            .troubles
            .iter()
            .all(|trouble| trouble.phase == Some(Phase::IndexMove))
    );
    assert_eq!(answer.verdict, Verdict::Clash);
    // Out of the corner's reach by more than the wanted 5.
    assert_clear(&two_sides().stand("bed", [-4.0, 30.0, -300.0], [4.0, 60.0, -119.0]));
}

#[test]
fn both_ways_round_where_the_machine_does_not_say() {
    // Behind the column: the blocks pass there only the long way round.
    let behind = two_sides().stand("bed", [-4.0, 90.0, -300.0], [4.0, 170.0, -125.0]);
    assert_clear(&behind);
    let unsaid = behind.change("machine.toml", "way = \"shortest\"\n", "");
    let answer = unsaid.answer();
    assert_eq!(answer.verdict, Verdict::Clash, "{:#?}", answer.index_moves);
    assert!(
        answer
            .troubles
            .iter()
            .all(|trouble| trouble.phase == Some(Phase::IndexMove))
    );
    assert_clear(&two_sides().change("machine.toml", "way = \"shortest\"\n", ""));
}

/// A blank 8 higher than the finished part: its corner reaches 148.2 from the rotary axis, that of
/// the finished part 140.4. The program begins with the turn from 270 up to 0 and ends with the
/// turn from 0 up to 270, the work going from +Z by -X and -Z to +X.
fn higher_blank() -> Shop {
    let blank = cuboid([-35.0, -45.0, 0.0], [35.0, 45.0, 54.0]);
    hole()
        .mesh("blank.stl", &blank)
        .change("machine.toml", "way = \"shortest\"", "way = \"positive\"")
        .change(
            "job.toml",
            "[carrier]",
            "start_index_deg = 270\n\n[carrier]",
        )
}

/// Where only the last turn comes by, 6 outside the finished part.
const LAST_TURN: [[f64; 3]; 2] = [[-4.0, 90.0, -300.0], [4.0, 170.0, -146.5]];

/// Where only the first turn comes by, between +X and +Z, as far from the axis.
const FIRST_TURN: [[f64; 3]; 2] = [[103.6, 90.0, 103.6], [140.0, 170.0, 140.0]];

#[test]
fn the_last_turn_is_made_by_finished_parts_and_the_first_by_blanks() {
    let beside = |shop: Shop, [low, high]: [[f64; 3]; 2]| shop.stand("bed", low, high);
    assert_clear(&higher_blank());
    assert_clear(&beside(higher_blank(), LAST_TURN));
    let first = beside(higher_blank(), FIRST_TURN).answer();
    assert_eq!(first.verdict, Verdict::Clash, "{:#?}", first.index_moves);
    let clashing: Vec<_> = first
        .index_moves
        .iter()
        .filter(|step| step.verdict == Verdict::Clash)
        .collect();
    assert!(!clashing.is_empty() && clashing.iter().all(|step| step.after == "start"));
    // A finished part of that height is told where it passes.
    let high = || {
        let finished = cuboid([-35.0, -45.0, 0.0], [35.0, 45.0, 54.0]);
        higher_blank().mesh("finished.stl", &finished)
    };
    let last = beside(high(), LAST_TURN).answer();
    let clashing = last
        .index_moves
        .iter()
        .find(|step| step.verdict == Verdict::Clash);
    assert_eq!(clashing.map(|step| step.before.as_str()), Some("end"));
}

/// A choice of cuts leaves open whether the others have been made: both forms are asked.
#[test]
fn cuts_that_are_left_out_may_have_been_made_or_not() {
    let before = cut("before", 2, HOLE).replace("\"finished\"", "\"blank\"");
    let after = cut("after", 2, HOLE).replace("\"blank\"", "\"finished\"");
    let three = || {
        let first = |text: &str| text.replacen("[[cuts]]", &format!("{before}[[cuts]]"), 1);
        let shop = higher_blank().rewrite("job.toml", first);
        shop.add("job.toml", &after)
    };
    let clashes = |answer: &CheckAnswer| {
        let mut moves = answer.index_moves.iter();
        moves.any(|step| step.verdict == Verdict::Clash)
    };
    let [low, high] = FIRST_TURN;
    assert!(clashes(
        &three().stand("bed", low, high).answer_of(&["after"])
    ));
    let [low, high] = LAST_TURN;
    let last = three().stand("bed", low, high);
    assert!(clashes(&last.answer_of(&["before"])));
    // With all cuts made the blank is gone, and so it is once a later cut has been made.
    assert!(!clashes(&last.answer()) && !clashes(&last.answer_of(&["after"])));
}

/// At B+90 work turns by -90 about +Y (ISO 841, positive as the tool sees it): +X comes to +Z, and
/// the block of side 1 goes to -X.
#[test]
fn the_rotary_sense_decides_which_way_the_block_goes() {
    let side_hole = r#"kind = "round-hole", at = [[35, 0, 23]], access = [1, 0, 0], depth = 12"#;
    let shop = || {
        let drilled = drilled_from_the_side();
        Shop::with_cuts(&cut("side hole", 6, side_hole)).mesh("finished.stl", &drilled)
    };
    let left = |shop: Shop| shop.stand("bed", [-300.0, 90.0, -4.0], [-125.0, 170.0, 4.0]);
    let right = |shop: Shop| shop.stand("bed", [125.0, 90.0, -4.0], [300.0, 170.0, 4.0]);
    let reversed = || shop().change("machine.toml", "iso-841", "reversed");
    assert_eq!(first(&shop().answer()).index_deg, Some(90.0));
    assert_eq!(first(&reversed().answer()).index_deg, Some(270.0));
    assert_clear(&right(shop()));
    assert_eq!(left(shop()).answer().verdict, Verdict::Clash);
    assert_eq!(left(reversed()).answer().verdict, Verdict::Clash);
}

/// Four walls without floor and lid around the tool: whether it is inside cannot be told.
#[test]
fn an_undecided_containment_is_unknown() {
    let tube = cuboid([-60.0, 70.0, 100.0], [60.0, 190.0, 190.0]);
    let open: Vec<_> = tube
        .into_iter()
        .filter(|t| t.iter().any(|corner| corner.z != t[0].z))
        .collect();
    assert_eq!(open.len(), 8);
    for wanted in ["2", "0.0000001"] {
        let shop = hole()
            .change(
                "job.toml",
                "[carrier]",
                &format!("[wanted]\nrest = {wanted}\n\n[carrier]"),
            )
            .mesh("pillar.stl", &open)
            .add("machine.toml", &pillar_of_mesh(0.0));
        assert_trouble(&shop, Verdict::Unknown, TroubleKind::Undecided);
    }
}

fn pillar_of_mesh(chord: f64) -> String {
    format!(
        "\n[[bodies]]\nname = \"pillar\"\ngroup = \"bed\"\nshape = {{ kind = \"mesh\", file = \"pillar.stl\", chord_allowance = {chord:?} }}\n"
    )
}

#[test]
fn an_axis_ends_before_the_place() {
    // The tip goes to Z 136 - 18 - point; the gauge line 140 above it; the axis at zero is at 710.
    let depth = 18.0 + 2.5 / 70.0_f64.to_radians().tan();
    let lowest = 136.0 - depth + 140.0 - 710.0;
    let limit = |z: f64| {
        let limits = format!("limits = [{z:?}, 0]");
        hole().change("machine.toml", "limits = [-560, 0]", &limits)
    };
    assert_clear(&limit(lowest - 0.001));
    assert_trouble(
        &limit(lowest + 0.001),
        Verdict::Clash,
        TroubleKind::ShortOfTravel,
    );
}

/// A pillar beside the holder, the gap planted around the wanted 2 mm, with a chord allowance.
#[test]
fn gaps_about_the_wanted_gap() {
    let seed = shifted_seed(501);
    let mut random = Random(seed);
    let (mut clear, mut close, mut clash) = (0, 0, 0);
    for number in 0..32 {
        let chord = [0.0, 0.05, 0.3][random.below(3)];
        let wanted = random.within(1.0, 4.0);
        let step = 10.0_f64.powf(random.within(-5.0, -1.0));
        let (gap, verdict) = match number % 4 {
            0 => (wanted + step, Verdict::Clear),
            1 => (wanted - step, Verdict::Close),
            2 => (step, Verdict::Close),
            _ => (-step, Verdict::Clash),
        };
        // Holder radius 14, its foot 40 above the tip.
        let face = 14.0 + gap + chord;
        let pillar = cuboid([face, 60.0, 140.0], [face + 30.0, 200.0, 240.0]);
        let shop = hole()
            .change(
                "job.toml",
                "[carrier]",
                &format!("[wanted]\nrest = {wanted:?}\n\n[carrier]"),
            )
            .mesh("pillar.stl", &pillar)
            .add("machine.toml", &pillar_of_mesh(chord));
        let answer = shop.answer();
        let what = format!("seed {seed}: gap {gap:e}, wanted {wanted}, chord {chord}");
        assert_eq!(
            first(&answer).verdict,
            verdict,
            "{what}: {:#?}",
            answer.troubles
        );
        match verdict {
            Verdict::Clear => clear += 1,
            Verdict::Close => close += 1,
            _ => clash += 1,
        }
    }
    println!(
        "gaps about the wanted gap: seed {seed}, {clear} clear, {close} close, {clash} clash, 0 unknown"
    );
    assert!(clear > 0 && close > 0 && clash > 0);
}
