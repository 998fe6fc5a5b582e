//! Answers made by hand, after the demo scenario: values of the right shape, not of the engine.

use lapidary::answer::check::model::*;

/// A gap known to a micrometre.
pub fn gap(lo_mm: f64) -> GapValue {
    GapValue {
        lo_mm,
        hi_mm: Some(lo_mm + 0.001),
    }
}

/// A gap beyond the cap.
pub fn beyond(lo_mm: f64) -> GapValue {
    GapValue { lo_mm, hi_mm: None }
}

/// Holder of a tool to a body, while it cuts at angle 0.
pub fn holder(tool: u32, body: &str, gap: GapValue, verdict: Verdict) -> Measured {
    Measured {
        element: Element::Holder,
        element_body: format!("T{tool} holder"),
        body: body.to_owned(),
        gap,
        chord_allowance_mm: 0.03,
        wanted_mm: 2.0,
        verdict,
        phase: Phase::Cut,
        place: Some(Place {
            machine_mm: [12.0, 197.0, 150.0],
            part_mm: Some([12.0, -67.0, 60.0]),
            tool_mm: [12.0, 198.5, 154.0],
            overlap_mm: None,
            tip_mm: None,
            shift_mm: None,
            angle_deg: 0.0,
        }),
    }
}

/// An axis with what is used of it.
pub fn axis(axis: &str, used_mm: [f64; 2], limits_mm: [f64; 2]) -> AxisUse {
    AxisUse {
        axis: axis.to_owned(),
        low_mm: used_mm[0],
        high_mm: used_mm[1],
        limit_low_mm: limits_mm[0],
        limit_high_mm: limits_mm[1],
        spare_mm: (used_mm[0] - limits_mm[0]).min(limits_mm[1] - used_mm[1]),
    }
}

/// A cut that is reached and clear.
pub fn cut(name: &str, tool: u32, seat: &str, index_deg: f64, gap_lo_mm: f64) -> CutAnswer {
    let body = format!("nut of seat {seat}");
    CutAnswer {
        cut: name.to_owned(),
        tool,
        seat: seat.to_owned(),
        index_deg: Some(index_deg),
        outcome: Outcome::Reached,
        verdict: Verdict::Clear,
        least: Some(holder(tool, &body, gap(gap_lo_mm), Verdict::Clear)),
        travel: vec![axis("Z", [-420.0, -100.0], [-560.0, 0.0])],
    }
}

/// A clear index move with the tool 12.5 mm away.
pub fn index_move(tool: u32, from_deg: f64, to_deg: f64) -> IndexMoveAnswer {
    let least = Measured {
        phase: Phase::IndexMove,
        wanted_mm: 5.0,
        ..holder(tool, "stock of seat 1.2", gap(12.5), Verdict::Clear)
    };
    IndexMoveAnswer {
        tool,
        after: "start".to_owned(),
        before: "1 top".to_owned(),
        from_deg,
        to_deg,
        verdict: Verdict::Clear,
        least: Some(least),
        work_least: Some(Measured {
            element: Element::Work,
            element_body: "nut of seat 1.1".to_owned(),
            body: "table".to_owned(),
            gap: beyond(10.0),
            chord_allowance_mm: 0.0,
            wanted_mm: 5.0,
            verdict: Verdict::Clear,
            phase: Phase::IndexMove,
            place: None,
        }),
        axes: vec![axis("Z", [-345.0, -345.0], [-560.0, 0.0])],
    }
}

/// Two cuts at two seats and two indexes, all clear.
pub fn clear() -> CheckAnswer {
    let mut cuts = Vec::new();
    for (name, tool, gap_lo_mm) in [("1 top", 1, 8.0041), ("2 rough pocket", 2, 6.3)] {
        for (index_deg, side) in [(0.0, 1), (90.0, 2)] {
            for place in [1, 2] {
                let tighter_mm = f64::from(place) * 0.25;
                let seat = format!("{side}.{place}");
                cuts.push(cut(name, tool, &seat, index_deg, gap_lo_mm - tighter_mm));
            }
        }
    }
    CheckAnswer {
        title: "Tide-gauge housings, twelve to a carrier".to_owned(),
        machine: "horizontal with B".to_owned(),
        verdict: Verdict::Clear,
        outcomes: OutcomeCounts {
            clear: 8,
            ..OutcomeCounts::default()
        },
        turning: Turning {
            rotary: "B".to_owned(),
            direction: [0.0, 1.0, 0.0],
            work_right_handed: Some(false),
            toward_spindle: [0.0, 0.0, 1.0],
            side_1_at_zero: [0.0, 0.0, 1.0],
            side_1_after_plus_90: Some([-1.0, 0.0, 0.0]),
        },
        cuts,
        index_moves: vec![index_move(1, 0.0, 90.0), index_move(2, 90.0, 0.0)],
        tool_changes: vec![ToolChangeAnswer {
            tool: 1,
            index_deg: 0.0,
            verdict: Verdict::Clear,
            least: Some(holder(1, "nut of seat 1.1", beyond(10.0), Verdict::Clear)),
        }],
        swing: Swing {
            radius_mm: 150.4791,
            body: "nut of seat 1.1".to_owned(),
            limit_mm: Some(200.0),
        },
        travel: vec![
            axis("X", [-98.0, 98.0], [-280.0, 280.0]),
            axis("Y", [160.0, 420.0], [80.0, 640.0]),
            axis("Z", [-555.64, 0.0], [-560.0, 0.0]),
        ],
        troubles: Vec::new(),
        tools: [1, 2, 3, 7, 10].map(tool).into(),
        lengths: vec![
            lengths(1, 100.0, 93.1234, 301.9876),
            lengths(2, 110.0, 104.0, 280.0),
        ],
        relies_on: relies_on(),
        contacts: vec![ContactUse {
            name: "carrier on table".to_owned(),
            work: "carrier base".to_owned(),
            bed: "table".to_owned(),
            outside_region: Some(beyond(10.0)),
        }],
    }
}

fn relies_on() -> Vec<Reliance> {
    vec![
        Reliance::RotarySense {
            sense: "iso-841".to_owned(),
        },
        Reliance::BothWays,
        Reliance::EarlierCut {
            cut: "2 rough pocket".to_owned(),
            earlier: "1 top".to_owned(),
            state: "faced".to_owned(),
        },
        Reliance::Passes {
            cut: "2 rough pocket".to_owned(),
            pass_mm: 8.0,
        },
        Reliance::Corridor {
            cut: "2 rough pocket".to_owned(),
            difference_mm: 0.25,
        },
        Reliance::Plane {
            cut: "1 top".to_owned(),
            feed_mm: 6.0,
            travel_mm: 20.0,
        },
    ]
}

/// A place where a trouble happens.
pub fn place((seat, angle_deg): (&str, f64)) -> TroublePlace {
    TroublePlace {
        seat: Some(seat.to_owned()),
        angles_deg: vec![angle_deg],
    }
}

/// A tool by number.
pub fn tool(number: u32) -> ToolName {
    ToolName {
        number,
        name: format!("tool {number}"),
    }
}

/// Lengths of a tool.
pub fn lengths(tool: u32, set_mm: f64, shortest_mm: f64, longest_mm: f64) -> ToolLengths {
    ToolLengths {
        tool,
        name: format!("tool {tool}"),
        set_mm,
        shortest_mm: Some(shortest_mm),
        shortest_by: Some(LengthLimit {
            cut: Some("1 top".to_owned()),
            seat: Some("1.2".to_owned()),
            phase: Some(Phase::Cut),
            by: "nut of seat 1.1".to_owned(),
        }),
        longest_mm: Some(longest_mm),
        longest_by: Some(LengthLimit {
            cut: None,
            seat: None,
            phase: Some(Phase::IndexMove),
            by: "stock of seat 1.2".to_owned(),
        }),
    }
}

/// A trouble with nothing but its kind.
pub fn trouble(kind: TroubleKind, verdict: Verdict) -> Trouble {
    Trouble {
        kind,
        verdict,
        cut: None,
        tool: None,
        phase: None,
        amount_mm: None,
        axis: None,
        worst: None,
        seat: None,
        angles_deg: Vec::new(),
        places: Vec::new(),
        note: None,
        remedies: Vec::new(),
    }
}

/// The three troubles of the demo scenario.
pub fn three_troubles() -> CheckAnswer {
    let mut answer = clear();
    answer.verdict = Verdict::Clash;
    answer.troubles = vec![holder_on_nut(), short_of_z(), index_move_into_stock()];
    let worst = answer.troubles[0].worst.clone();
    for seat in ["1.1", "1.2"] {
        answer.cuts.push(CutAnswer {
            outcome: Outcome::Blocked,
            verdict: Verdict::Clash,
            least: worst.clone(),
            ..cut("3 finish pocket", 3, seat, 0.0, -5.5)
        });
    }
    answer
        .cuts
        .push(cut("3 finish pocket", 3, "2.1", 90.0, 9.0));
    answer.cuts.push(CutAnswer {
        outcome: Outcome::ShortOfTravel,
        verdict: Verdict::Clash,
        travel: vec![axis("Z", [-580.6381, -100.0], [-560.0, 0.0])],
        ..cut("8 port", 7, "1.1", 90.0, 0.0)
    });
    answer.outcomes = OutcomeCounts {
        clear: 9,
        blocked: 2,
        short_of_travel: 1,
        ..OutcomeCounts::default()
    };
    answer.index_moves.push(IndexMoveAnswer {
        after: "12 gallery".to_owned(),
        before: "end".to_owned(),
        verdict: Verdict::Clash,
        least: answer.troubles[2].worst.clone(),
        ..index_move(10, 90.0, 180.0)
    });
    answer.travel[2] = axis("Z", [-580.64, 0.0], [-560.0, 0.0]);
    answer.lengths.push(lengths(10, 265.0, 262.004, 251.0712));
    answer
}

fn holder_on_nut() -> Trouble {
    let gap_after = Some(gap(2.0));
    let remedy = |change| Remedy { change, gap_after };
    Trouble {
        cut: Some("3 finish pocket".to_owned()),
        tool: Some(3),
        phase: Some(Phase::Cut),
        amount_mm: Some(5.5),
        worst: Some(holder(3, "nut of seat 1.1", gap(-5.5), Verdict::Clash)),
        seat: Some("1.2".to_owned()),
        angles_deg: vec![0.0],
        places: [("1.2", 0.0), ("1.1", 0.0), ("2.2", 90.0), ("2.1", 90.0)]
            .map(place)
            .into(),
        remedies: vec![
            remedy(Change::StickOutAtLeast {
                tool: 3,
                stick_out_mm: 46.0,
                gauge_length_mm: 126.0,
            }),
            remedy(Change::HolderDiameterAtMost {
                tool: 3,
                diameter_mm: 48.0,
            }),
            remedy(Change::PitchAtLeast {
                group: "housings".to_owned(),
                pitch_mm: 137.5,
            }),
        ],
        ..trouble(TroubleKind::Clash, Verdict::Clash)
    }
}

fn short_of_z() -> Trouble {
    let change = Change::GaugeLengthAtLeast {
        tool: 7,
        gauge_length_mm: 130.6381,
        longer_holder: true,
    };
    Trouble {
        cut: Some("8 port".to_owned()),
        tool: Some(7),
        phase: Some(Phase::Cut),
        amount_mm: Some(20.6381),
        axis: Some("Z".to_owned()),
        seat: Some("1.1".to_owned()),
        angles_deg: vec![90.0],
        places: vec![place(("1.1", 90.0))],
        remedies: vec![Remedy {
            change,
            gap_after: None,
        }],
        ..trouble(TroubleKind::ShortOfTravel, Verdict::Clash)
    }
}

fn index_move_into_stock() -> Trouble {
    let worst = Measured {
        element: Element::Shank,
        element_body: "T10 shank".to_owned(),
        wanted_mm: 5.0,
        phase: Phase::IndexMove,
        place: Some(Place {
            machine_mm: [95.0, 260.0, 100.0],
            part_mm: None,
            tool_mm: [95.0, 260.0, 100.0],
            overlap_mm: None,
            tip_mm: None,
            shift_mm: None,
            angle_deg: 136.4567,
        }),
        ..holder(10, "stock of seat 2.2", gap(-5.41), Verdict::Clash)
    };
    let gap_after = Some(gap(5.0));
    Trouble {
        cut: Some("12 gallery".to_owned()),
        tool: Some(10),
        phase: Some(Phase::IndexMove),
        amount_mm: Some(5.41),
        worst: Some(worst),
        angles_deg: vec![90.0, 180.0],
        note: Some("at rest the two are far apart: only the whole motion shows it".to_owned()),
        remedies: vec![
            Remedy {
                change: Change::IndexPose {
                    axis: "Z".to_owned(),
                    position_mm: -331.072,
                    at_least: true,
                },
                gap_after,
            },
            Remedy {
                change: Change::GaugeLengthAtMost {
                    tool: 10,
                    gauge_length_mm: 251.0712,
                },
                gap_after,
            },
        ],
        ..trouble(TroubleKind::Clash, Verdict::Clash)
    }
}

/// A machine file that does not say which way its rotary turns.
pub fn unknown_sense() -> CheckAnswer {
    let mut answer = clear();
    answer.verdict = Verdict::Unknown;
    answer.turning.work_right_handed = None;
    answer.turning.side_1_after_plus_90 = None;
    for cut in answer
        .cuts
        .iter_mut()
        .filter(|cut| cut.index_deg != Some(0.0))
    {
        cut.outcome = Outcome::Unknown;
        cut.verdict = Verdict::Unknown;
        cut.least = None;
    }
    for step in &mut answer.index_moves {
        step.verdict = Verdict::Unknown;
        step.least = None;
        step.work_least = None;
    }
    answer.outcomes = OutcomeCounts {
        clear: 4,
        unknown: 4,
        ..OutcomeCounts::default()
    };
    answer.relies_on.remove(0);
    answer.troubles = vec![trouble(TroubleKind::NoRotarySense, Verdict::Unknown)];
    answer
}

/// One cut that is close.
pub fn close() -> CheckAnswer {
    let mut answer = clear();
    let near = holder(2, "nut of seat 2.2", gap(1.2345), Verdict::Close);
    answer.verdict = Verdict::Close;
    answer.outcomes = OutcomeCounts {
        clear: 7,
        close: 1,
        ..OutcomeCounts::default()
    };
    if let Some(last) = answer.cuts.last_mut() {
        last.verdict = Verdict::Close;
        last.least = Some(near.clone());
    }
    answer.troubles = vec![Trouble {
        cut: Some("2 rough pocket".to_owned()),
        tool: Some(2),
        phase: Some(Phase::Cut),
        amount_mm: Some(0.7655),
        worst: Some(near),
        seat: Some("2.2".to_owned()),
        angles_deg: vec![90.0],
        places: vec![place(("2.2", 90.0))],
        ..trouble(TroubleKind::Close, Verdict::Close)
    }];
    answer
}
