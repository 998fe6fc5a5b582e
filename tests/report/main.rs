//! Reports of hand-made answers: snapshots, width, JSON against its schema.

mod answers;
mod exit_codes;
mod page;
mod page_words;

use answers::{clear, close, three_troubles, unknown_sense};
use lapidary::answer::check::CheckOptions;
use lapidary::answer::check::model::*;
use lapidary::report::{CheckReport, JsonError, TextOptions, check_json, check_schema, check_text};
use lapidary::setup::{FileFault, Severity};
use lapidary::value::Unit;

fn report<'a>(answer: &'a CheckAnswer, options: &'a CheckOptions) -> CheckReport<'a> {
    CheckReport {
        answer,
        options,
        accept_close: false,
        warnings: &[],
        sources: &[],
        reached: None,
    }
}

fn text(answer: &CheckAnswer) -> String {
    check_text(
        &report(answer, &CheckOptions::default()),
        TextOptions::default(),
    )
}

fn json(answer: &CheckAnswer) -> String {
    check_json(&report(answer, &CheckOptions::default())).expect("finite numbers")
}

fn all_answers() -> [CheckAnswer; 5] {
    [
        clear(),
        three_troubles(),
        unknown_sense(),
        close(),
        with_long_names(),
    ]
}

/// Every kind of trouble and change, with names that fill lines.
fn with_long_names() -> CheckAnswer {
    use TroubleKind::*;
    let long = "a very long name that someone has given to something ".repeat(3);
    let mut answer = three_troubles();
    answer.title = long.clone();
    answer.machine = "m".repeat(200);
    answer.swing.body = long.clone();
    for cut in &mut answer.cuts {
        cut.cut.push_str(&long);
    }
    let all = [
        Clash,
        Gouge,
        RapidInStock,
        ShortOfTravel,
        FacingAway,
        SwingTooLarge,
        CutterDoesNotFit,
        NoWayIn,
        EdgesTooShort,
        Close,
        Rubs,
        Undecided,
        NoRotarySense,
        NoStock,
    ];
    for kind in all {
        answer.troubles.push(Trouble {
            cut: Some(long.clone()),
            amount_mm: Some(1.234),
            worst: Some(answers::holder(
                3,
                &long,
                answers::gap(-1.0),
                Verdict::Clash,
            )),
            places: (0..30)
                .map(|n| answers::place((&long, f64::from(n) * 12.0)))
                .collect(),
            note: Some(long.clone()),
            remedies: changes(&long),
            ..answers::trouble(kind, Verdict::Clash)
        });
    }
    answer
}

fn changes(name: &str) -> Vec<Remedy> {
    let (tool, cut, axis) = (3, name.to_owned(), "X".to_owned());
    let changes = [
        Change::StickOutAtLeast {
            tool,
            stick_out_mm: 1.0,
            gauge_length_mm: 2.0,
        },
        Change::GaugeLengthAtLeast {
            tool,
            gauge_length_mm: 1.001,
            longer_holder: false,
        },
        Change::GaugeLengthAtMost {
            tool,
            gauge_length_mm: 1.009,
        },
        Change::HolderDiameterAtMost {
            tool,
            diameter_mm: 1.009,
        },
        Change::PitchAtLeast {
            group: cut.clone(),
            pitch_mm: 1.001,
        },
        Change::IndexPose {
            axis: axis.clone(),
            position_mm: -1.001,
            at_least: false,
        },
        Change::FeedPlaneAtLeast {
            cut: cut.clone(),
            height_mm: 1.001,
        },
        Change::TravelPlaneAtLeast {
            cut: cut.clone(),
            height_mm: 1.001,
        },
        Change::DepthAtMost {
            cut: cut.clone(),
            less_mm: 1.001,
        },
        Change::CutterDiameterAtMost {
            tool,
            diameter_mm: 1.009,
        },
        Change::ShiftWork {
            axis,
            shift_mm: -1.001,
        },
        Change::Say { text: cut },
    ];
    changes
        .map(|change| Remedy {
            change,
            gap_after: Some(answers::gap(2.009)),
        })
        .into()
}

#[test]
fn a_clear_job_in_text() {
    insta::assert_snapshot!(text(&clear()));
}

#[test]
fn three_troubles_in_text() {
    insta::assert_snapshot!(text(&three_troubles()));
}

#[test]
fn an_unknown_sense_in_text() {
    insta::assert_snapshot!(text(&unknown_sense()));
}

#[test]
fn close_and_accepted_in_text() {
    let (answer, options) = (close(), CheckOptions::default());
    let report = CheckReport {
        accept_close: true,
        ..report(&answer, &options)
    };
    insta::assert_snapshot!(check_text(&report, TextOptions::default()));
}

#[test]
fn a_choice_in_inches_with_every_index() {
    let answer = three_troubles();
    let options = CheckOptions {
        cuts: vec!["1 top".to_owned(), "3 finish pocket".to_owned()],
        seats: vec!["1.2".to_owned()],
        tools: vec![1, 3],
        index_deg: Some(-22.5),
        ..CheckOptions::default()
    };
    let warnings = [warning()];
    let report = CheckReport {
        warnings: &warnings,
        ..report(&answer, &options)
    };
    let look = TextOptions {
        unit: Unit::Inch,
        every_index: true,
        colour: false,
    };
    insta::assert_snapshot!(check_text(&report, look));
}

fn warning() -> FileFault {
    FileFault {
        file: "housing.toml".into(),
        line: Some(7),
        severity: Severity::Warning,
        message: "the mesh is 25.4 times too small for its seat".to_owned(),
    }
}

#[test]
fn no_line_is_wider_than_eighty_columns() {
    for answer in all_answers() {
        for unit in [Unit::Mm, Unit::Inch] {
            for every_index in [false, true] {
                let options = CheckOptions::default();
                let look = TextOptions {
                    unit,
                    every_index,
                    colour: false,
                };
                let text = check_text(&report(&answer, &options), look);
                let wide = text.lines().find(|line| line.chars().count() > 80);
                assert_eq!(wide, None);
                assert!(text.lines().all(|line| line == line.trim_end()));
            }
        }
    }
}

#[test]
fn colour_only_adds_to_the_marks() {
    let (answer, options) = (three_troubles(), CheckOptions::default());
    let look = TextOptions {
        colour: true,
        ..TextOptions::default()
    };
    let coloured = check_text(&report(&answer, &options), look);
    // Vermillion #D55E00, Okabe and Ito 2008.
    assert!(coloured.starts_with("\u{1b}[1m\u{1b}[38;2;213;94;0mx\u{1b}[0m clash: "));
    assert_eq!(
        anstream::adapter::strip_str(&coloured).to_string(),
        text(&answer)
    );
}

#[test]
fn three_troubles_in_json() {
    let version = env!("CARGO_PKG_VERSION");
    insta::with_settings!({filters => vec![(version, "[version]")]}, {
        insta::assert_snapshot!(json(&three_troubles()));
    });
}

#[test]
fn json_fits_its_schema() {
    let schema = check_schema();
    let validator = jsonschema::validator_for(&schema).unwrap();
    for answer in all_answers() {
        let value: serde_json::Value = serde_json::from_str(&json(&answer)).unwrap();
        let faults: Vec<_> = validator
            .iter_errors(&value)
            .map(|fault| fault.to_string())
            .collect();
        assert_eq!(faults, [""; 0]);
    }
}

#[test]
fn the_schema_refuses_what_does_not_fit() {
    let schema = check_schema();
    let validator = jsonschema::validator_for(&schema).unwrap();
    let good: serde_json::Value = serde_json::from_str(&json(&clear())).unwrap();
    for (pointer, wrong) in [
        ("/format", "other/check".into()),
        ("/version", 2.into()),
        ("/answer/verdict", "fine".into()),
        ("/answer/swing/radius_mm", serde_json::Value::Null),
        ("/answer/cuts/0/least/gap/lo_mm", "8".into()),
    ] {
        let mut bad = good.clone();
        *bad.pointer_mut(pointer).unwrap() = wrong;
        assert!(!validator.is_valid(&bad), "{pointer}");
    }
}

#[test]
fn a_gap_beyond_the_cap_has_its_lower_end_alone() {
    let value: serde_json::Value = serde_json::from_str(&json(&clear())).unwrap();
    let gap = &value["answer"]["contacts"][0]["outside_region"];
    assert_eq!(gap, &serde_json::json!({ "lo_mm": 10.0 }));
}

#[test]
fn no_number_becomes_null() {
    for wrong in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
        let mut answer = clear();
        answer.cuts[3].travel[0].spare_mm = wrong;
        let options = CheckOptions::default();
        let fault = check_json(&report(&answer, &options)).unwrap_err();
        let JsonError::NotFinite(place) = fault else {
            panic!("{fault}")
        };
        assert_eq!(place, ".answer.cuts[3].travel[0].spare_mm");
    }
    let mut answer = three_troubles();
    answer.troubles[0].amount_mm = Some(f64::NAN);
    assert!(check_json(&report(&answer, &CheckOptions::default())).is_err());
}

#[test]
fn the_same_answer_gives_the_same_bytes() {
    assert_eq!(json(&three_troubles()), json(&three_troubles()));
    assert_eq!(text(&three_troubles()), text(&three_troubles()));
}

#[test]
fn a_verdict_that_the_gap_does_not_account_for_is_pointed_out() {
    let mut answer = clear();
    answer.index_moves[0].verdict = Verdict::Clash;
    answer.cuts[0].verdict = Verdict::Unknown;
    let hints = text(&answer)
        .replace("\n", " ")
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    assert_eq!(
        hints.matches("(worse than this: see the troubles)").count(),
        2,
        "{hints}"
    );
    assert!(!text(&clear()).contains("worse"));
}
