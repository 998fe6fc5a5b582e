//! Remedies in words.

use super::Show;
use super::number::Lengths;
use super::page::Page;
use crate::answer::check::model::{Change, Remedy, Trouble, Verdict};

pub fn write(page: &mut Page, show: &Show, trouble: &Trouble, indent: usize) {
    if trouble.remedies.is_empty() {
        if show.report.options.remedies && trouble.verdict != Verdict::Unknown {
            page.text(indent, indent, "no remedy was found");
        }
        return;
    }
    let lead = match trouble.remedies.len() {
        1 => "what mends it (tried):",
        _ => "what mends it (each tried; one is enough):",
    };
    page.text(indent, indent, lead);
    for remedy in &trouble.remedies {
        let text = format!("- {}", words(remedy, show.lengths));
        page.text(indent, indent + 2, &text);
    }
}

pub fn words(remedy: &Remedy, lengths: Lengths) -> String {
    let change = change(&remedy.change, lengths);
    match &remedy.gap_after {
        Some(gap) => format!("{change}; leaves {}", lengths.gap(gap)),
        None => change,
    }
}

/// What else a longer gauge length takes.
const fn holder(longer: bool) -> &'static str {
    if longer { ", with a longer holder" } else { "" }
}

fn plane(cut: &str, which: &str, height: impl std::fmt::Display) -> String {
    format!("cut \"{cut}\": {which} plane at least {height} above the opening")
}

fn change(change: &Change, lengths: Lengths) -> String {
    let up = |length_mm: &f64| lengths.up(*length_mm);
    let down = |length_mm: &f64| lengths.down(*length_mm);
    match change {
        Change::StickOutAtLeast {
            tool,
            stick_out_mm,
            gauge_length_mm,
        } => format!(
            "T{tool}: stick-out at least {} (gauge length {})",
            up(stick_out_mm),
            up(gauge_length_mm)
        ),
        Change::GaugeLengthAtLeast {
            tool,
            gauge_length_mm,
            longer_holder,
        } => format!(
            "T{tool}: gauge length at least {}{}",
            up(gauge_length_mm),
            holder(*longer_holder)
        ),
        Change::GaugeLengthAtMost {
            tool,
            gauge_length_mm,
        } => format!("T{tool}: gauge length at most {}", down(gauge_length_mm)),
        Change::HolderDiameterAtMost { tool, diameter_mm } => {
            format!(
                "T{tool}: a holder of at most {} diameter",
                down(diameter_mm)
            )
        }
        Change::PitchAtLeast { group, pitch_mm } => format!(
            "seats \"{group}\": at least {} apart along the rotary axis",
            up(pitch_mm)
        ),
        Change::IndexPose {
            axis,
            position_mm,
            at_least: true,
        } => format!("index moves: {axis} at {} or more", up(position_mm)),
        Change::IndexPose {
            axis, position_mm, ..
        } => format!("index moves: {axis} at {} or less", down(position_mm)),
        Change::FeedPlaneAtLeast { cut, height_mm } => plane(cut, "feed", up(height_mm)),
        Change::TravelPlaneAtLeast { cut, height_mm } => plane(cut, "travel", up(height_mm)),
        Change::DepthAtMost { cut, less_mm } => {
            format!("cut \"{cut}\": at least {} less deep", up(less_mm))
        }
        Change::CutterDiameterAtMost { tool, diameter_mm } => {
            format!(
                "T{tool}: a cutter of at most {} diameter",
                down(diameter_mm)
            )
        }
        Change::ShiftWork { axis, shift_mm } => {
            let way = if *shift_mm < 0.0 { '-' } else { '+' };
            format!(
                "the work {} farther toward {way}{axis}",
                up(&shift_mm.abs())
            )
        }
        Change::Say { text } => text.clone(),
    }
}
