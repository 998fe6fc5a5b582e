//! The demo's arithmetic, by the engine's own numbers.
//!
//! Expected values are own recomputations from the demo's figures (right triangles and sums; the
//! figures stand in `demo-models/README.md` and the job files).

#![allow(
    clippy::unwrap_used,
    reason = "a test that cannot go on must say where"
)]

use lapidary::answer::check::model::{Change, CheckAnswer, Phase, Trouble, TroubleKind, Verdict};
use lapidary::answer::check::{CheckOptions, Silent, check};
use lapidary::answer::lengths::{LengthsAnswer, LengthsAsk, Proposal, lengths};
use lapidary::report::{LengthsReport, TextOptions, lengths_json, lengths_schema, lengths_text};
use lapidary::setup::load;
use lapidary::setup::model::{IndexAt, Setup};
use std::path::Path;
use std::sync::atomic::AtomicBool;

fn setup(job: &str) -> Setup {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("demo-models")
        .join(job);
    load(&path, &|path: &Path| std::fs::read(path))
        .unwrap()
        .setup
}

fn answer(job: &str) -> CheckAnswer {
    check(
        &setup(job),
        &CheckOptions::default(),
        &Silent,
        &AtomicBool::new(false),
    )
    .unwrap()
}

fn near(found_mm: f64, expected_mm: f64, within_mm: f64) {
    assert!(
        (found_mm - expected_mm).abs() <= within_mm,
        "{found_mm} is not {expected_mm}"
    );
}

fn of_kind(answer: &CheckAnswer, kind: TroubleKind, phase: Option<Phase>) -> &Trouble {
    answer
        .troubles
        .iter()
        .find(|trouble| trouble.kind == kind && trouble.phase == phase)
        .unwrap_or_else(|| panic!("no {kind:?} in {phase:?}"))
}

#[test]
fn the_first_setting_has_three_troubles_and_no_more() {
    let answer = answer("horizontal.toml");
    assert_eq!(answer.verdict, Verdict::Clash);
    assert_eq!(answer.troubles.len(), 3);
    // Nut across flats 24 at 150 from the axis: sqrt(150^2 + 12^2); 0.01 of chord allowance.
    near(answer.swing.radius_mm, 150.0_f64.hypot(12.0) + 0.01, 0.001);

    // Holder 63 at 38 from the neighbour's nut: 38 - 31.5 - 12 = -5.5, and 0.01 of chord allowance.
    let holder = of_kind(&answer, TroubleKind::Clash, Some(Phase::Cut));
    near(holder.amount_mm.unwrap(), 5.5, 0.03);
    assert_eq!((holder.tool, holder.places.len()), (Some(3), 8));
    for remedy in &holder.remedies {
        match remedy.change {
            // The nut ends at 60, the floor is at 16: 44 + 2 of wanted gap.
            Change::StickOutAtLeast { stick_out_mm, .. } => near(stick_out_mm, 46.0, 0.02),
            // 2 x (38 - 12 - 2).
            Change::HolderDiameterAtMost { diameter_mm, .. } => near(diameter_mm, 48.0, 0.03),
            // 130 + 5.5 + 2.
            Change::PitchAtLeast { pitch_mm, .. } => near(pitch_mm, 137.5, 0.02),
            ref other => panic!("unexpected remedy {other:?}"),
        }
        assert!(remedy.gap_after.unwrap().lo_mm >= 2.0 - 1e-5);
    }
    assert_eq!(holder.remedies.len(), 3);

    // Wall ends 22 from the axis, 1 of break-through, point 4.5 / tan 70: gauge line against 150.
    let point_mm = 4.5 / 70.0_f64.to_radians().tan();
    let missing_mm = 150.0 - (22.0 - 1.0 - point_mm + 110.0);
    let short = of_kind(&answer, TroubleKind::ShortOfTravel, None);
    near(short.amount_mm.unwrap(), missing_mm, 1e-6);
    assert_eq!(
        (short.tool, short.axis.as_deref(), short.places.len()),
        (Some(7), Some("Z"), 12)
    );
    let longer = short
        .remedies
        .iter()
        .find_map(|remedy| match remedy.change {
            Change::GaugeLengthAtLeast {
                gauge_length_mm, ..
            } => Some(gauge_length_mm),
            _ => None,
        });
    let needed_mm = 110.0 + missing_mm;
    assert!(longer.unwrap() >= needed_mm && longer.unwrap() < needed_mm + 0.011);

    // The part at 136 and 35 sweeps 140.43; the drill's shoulder stands inside it.
    let turning = of_kind(&answer, TroubleKind::Clash, Some(Phase::IndexMove));
    assert_eq!(turning.tool, Some(10));
    let worst = turning.worst.as_ref().unwrap();
    let place = worst.place.unwrap();
    assert!(place.machine_mm[0].hypot(place.machine_mm[2]) <= 136.0_f64.hypot(35.0) + 1e-3);
    assert!(worst.gap.hi_mm.unwrap() <= 0.0);
    assert!(!turning.remedies.is_empty());
}

#[test]
fn the_remedies_of_the_first_setting_clear_the_second() {
    let answer = answer("horizontal-mended.toml");
    assert_eq!(answer.verdict, Verdict::Clear, "{:?}", answer.troubles);
    assert_eq!(answer.outcomes.clear, 144);
    let length = |tool: u32| {
        answer
            .lengths
            .iter()
            .find(|length| length.tool == tool)
            .unwrap()
    };
    for length in &answer.lengths {
        assert!(
            length.shortest_mm.unwrap() <= length.set_mm + 1e-6,
            "{length:?}"
        );
        assert!(
            length.longest_mm.unwrap() >= length.set_mm - 1e-6,
            "{length:?}"
        );
    }
    // As in the first setting: 80 of holder and 46 of stick-out, and the chord allowance.
    near(length(3).shortest_mm.unwrap(), 126.0, 0.02);
}

#[test]
fn the_vertical_machine_and_the_inch_job_are_clear() {
    for (job, places) in [("vertical.toml", 144), ("vertical-inch.toml", 84)] {
        let answer = answer(job);
        assert_eq!(
            answer.verdict,
            Verdict::Clear,
            "{job}: {:?}",
            answer.troubles
        );
        assert_eq!(answer.outcomes.clear, places);
        assert_eq!(
            answer
                .index_moves
                .iter()
                .filter(|m| m.verdict != Verdict::Clear)
                .count(),
            0
        );
    }
}

fn lengths_of(setup: &Setup, threads: usize) -> LengthsAnswer {
    let pool = rayon::ThreadPoolBuilder::new().num_threads(threads);
    let work = || {
        let stop = AtomicBool::new(false);
        let ask = LengthsAsk {
            step_mm: 1.0,
            check: CheckOptions::default(),
            reached: None,
        };
        lengths(setup, &ask, &Silent, &stop).unwrap()
    };
    pool.build().unwrap().install(work)
}

#[test]
fn lengths_are_those_of_check_and_every_proposal_lies_in_its_range() {
    let setup = setup("horizontal.toml");
    let (one, two) = (lengths_of(&setup, 1), lengths_of(&setup, 2));
    assert_eq!(one, two);
    let ranges: Vec<_> = one.tools.iter().map(|tool| tool.range.clone()).collect();
    assert_eq!(ranges, answer("horizontal.toml").lengths);

    let of = |number| one.tools.iter().find(|tool| tool.range.tool == number);
    // T3 is set out 38 of 118 and must be out 46 (see above): 126.01, so 127 with 47 free. The
    // deflection grows with the cube of the free length.
    let Proposal::Set {
        gauge_length_mm,
        stick_out_mm,
        stiffer_times,
    } = of(3).unwrap().proposal
    else {
        panic!("T3 has a length");
    };
    near(gauge_length_mm, 127.0, 1e-9);
    near(stick_out_mm, 47.0, 1e-9);
    near(stiffer_times, (38.0_f64 / 47.0).powi(3), 1e-9);
    // T1 is screwed on its arbor: its length is what it is.
    let range = &of(1).unwrap().range;
    near(range.shortest_mm.unwrap(), 100.0, 1e-6);
    near(range.longest_mm.unwrap(), 100.0, 1e-6);
    // T4 has a neck down to LU, which stays out of the holder of 90.
    near(of(4).unwrap().range.shortest_mm.unwrap(), 100.0, 1e-6);
    // T7 must be 130.64 long for Z and has grip up to 130: no length works.
    assert_eq!(of(7).unwrap().proposal, Proposal::NoLengthWorks);

    for tool in &one.tools {
        if let Proposal::Set {
            gauge_length_mm, ..
        } = tool.proposal
        {
            let range = tool.range.shortest_mm.unwrap()..=tool.range.longest_mm.unwrap();
            assert!(range.contains(&gauge_length_mm), "T{}", tool.range.tool);
        }
    }
    let report = LengthsReport {
        answer: &one,
        warnings: &[],
    };
    let json = serde_json::from_str(&lengths_json(&report).unwrap()).unwrap();
    jsonschema::validate(&lengths_schema(), &json).unwrap();
    let text = lengths_text(&one, TextOptions::default());
    assert!(text.lines().all(|line| line.chars().count() <= 80));
    insta::assert_snapshot!("lengths_of_the_first_setting", text);
}

/// What a trial does not ask again, because nothing has come nearer, a check of the changed job
/// finds clear as well.
#[test]
fn remedies_hold_in_a_check_of_their_own() {
    let mut setup = setup("horizontal.toml");
    let tool = setup
        .tools
        .iter()
        .position(|tool| tool.number == 10)
        .unwrap();
    let old = answer("horizontal.toml");
    let turning = of_kind(&old, TroubleKind::Clash, Some(Phase::IndexMove));
    let positions = turning
        .remedies
        .iter()
        .filter_map(|remedy| match &remedy.change {
            Change::IndexPose {
                axis, position_mm, ..
            } => Some((axis.clone(), *position_mm)),
            _ => None,
        });
    let positions: Vec<_> = positions.collect();
    assert!(!positions.is_empty());
    let options = CheckOptions {
        lengths: false,
        remedies: false,
        ..CheckOptions::default()
    };
    for (name, position_mm) in positions {
        let axis = setup.machine.axes.iter().position(|axis| axis.name == name);
        let axis = axis.unwrap();
        let before = setup.machine.axes[axis].index;
        setup.machine.axes[axis].index = IndexAt::At(position_mm);
        let found = check(&setup, &options, &Silent, &AtomicBool::new(false)).unwrap();
        let number = setup.tools[tool].number;
        let moves = found.index_moves.iter().filter(|step| step.tool == number);
        assert!(moves.into_iter().all(|step| step.verdict == Verdict::Clear));
        assert_eq!(found.troubles.len(), old.troubles.len() - 1, "{name}");
        setup.machine.axes[axis].index = before;
    }
}
