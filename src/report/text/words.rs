//! Values in words.

use super::number::{Lengths, angle};
use crate::answer::check::model::{Element, Measured, Outcome, Phase, Verdict};

/// When something happens.
pub const fn phase(phase: Phase) -> &'static str {
    match phase {
        Phase::Approach => "on the rapid way in or out",
        Phase::Cut => "while it cuts",
        Phase::Link => "in a rapid between two places of the cut",
        Phase::IndexMove => "while the carrier turns",
        Phase::ToolChange => "at the tool change",
    }
}

/// Element of the tool group, or the group itself.
pub const fn element(element: Element) -> &'static str {
    match element {
        Element::Flutes => "flutes",
        Element::Neck => "neck",
        Element::Shank => "shank",
        Element::Holder => "holder",
        Element::Nose => "nose",
        Element::Head => "head",
        Element::Work => "work",
        Element::Bed => "bed",
    }
}

/// Outcome of a cut.
pub const fn outcome(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Reached => "reached",
        Outcome::ShortOfTravel => "short of travel",
        Outcome::Blocked => "blocked",
        Outcome::FacingAway => "facing away",
        Outcome::Unknown => "unknown",
    }
}

/// `1 place` or `3 places`.
pub fn count(number: usize, one: &str, many: &str) -> String {
    let word = if number == 1 { one } else { many };
    format!("{number} {word}")
}

/// Two bodies.
pub fn pair(measured: &Measured) -> String {
    format!("{} to {}", measured.element_body, measured.body)
}

/// A direction: `+Y`, or its three parts where it is not along an axis.
pub fn direction(direction: [f64; 3]) -> String {
    for (number, letter) in ["X", "Y", "Z"].iter().enumerate() {
        let along = direction[number];
        let rest: f64 = (0..3)
            .filter(|other| *other != number)
            .map(|other| direction[other].abs())
            .sum();
        if rest < 1e-9 && along.abs() > 0.5 {
            let sign = if along > 0.0 { '+' } else { '-' };
            return format!("{sign}{letter}");
        }
    }
    // Adding zero turns -0 into 0.
    let [x, y, z] = direction.map(|part| (part * 1e3).round() / 1e3 + 0.0);
    format!("({x:.3}, {y:.3}, {z:.3})")
}

/// A point.
pub fn point(point_mm: [f64; 3], lengths: Lengths) -> String {
    let [x, y, z] = point_mm.map(|part_mm| lengths.near(part_mm));
    format!("X {x}  Y {y}  Z {z}")
}

/// Rotary letter and angle.
pub fn index(rotary: &str, angle_deg: f64) -> String {
    format!("{rotary}{}", angle(angle_deg))
}

/// ` (wanted 2.00)` where the same gap was wanted everywhere.
pub fn wanted<'a>(all: impl Iterator<Item = &'a Measured>, lengths: Lengths) -> String {
    let mut wanted_mm: Vec<f64> = all.map(|measured| measured.wanted_mm).collect();
    wanted_mm.dedup();
    match wanted_mm[..] {
        [one_mm] => format!(" (wanted {})", lengths.near(one_mm)),
        _ => String::new(),
    }
}

/// A hint where the least gap alone does not account for the verdict.
pub fn see_troubles(least: &Measured, verdict: Verdict) -> &'static str {
    if least.verdict < verdict {
        " (worse than this: see the troubles)"
    } else {
        ""
    }
}
