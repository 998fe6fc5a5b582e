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
use lapidary::setup::load;
use std::path::Path;
use std::sync::atomic::AtomicBool;

fn answer(job: &str) -> CheckAnswer {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("demo-models")
        .join(job);
    let loaded = load(&path, &|path: &Path| std::fs::read(path)).unwrap();
    check(
        &loaded.setup,
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
