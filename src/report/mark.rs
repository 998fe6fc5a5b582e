//! Marks and colours of the verdicts: their one home.

use crate::answer::check::model::Verdict;
use anstyle::{RgbColor, Style};

/// The mark of a verdict: `.` clear, `~` close, `x` clash, `?` unknown.
#[must_use]
pub const fn mark(verdict: Verdict) -> char {
    match verdict {
        Verdict::Clear => '.',
        Verdict::Close => '~',
        Verdict::Clash => 'x',
        Verdict::Unknown => '?',
    }
}

/// The word of a verdict.
#[must_use]
pub const fn word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Clear => "clear",
        Verdict::Close => "close",
        Verdict::Clash => "clash",
        Verdict::Unknown => "unknown",
    }
}

/// The colour of a verdict: safe for colour-blind eyes, and never shown without its mark.
///
/// # Source
/// Okabe and Ito, "Color Universal Design", 2008 (from memory): blue, orange, vermillion, reddish
/// purple.
#[must_use]
pub const fn colour(verdict: Verdict) -> RgbColor {
    match verdict {
        Verdict::Clear => RgbColor(0x00, 0x72, 0xB2),
        Verdict::Close => RgbColor(0xE6, 0x9F, 0x00),
        Verdict::Clash => RgbColor(0xD5, 0x5E, 0x00),
        Verdict::Unknown => RgbColor(0xCC, 0x79, 0xA7),
    }
}

/// The mark in its colour, for a terminal that shows colours.
#[must_use]
pub fn coloured_mark(verdict: Verdict) -> String {
    let style = Style::new()
        .bold()
        .fg_color(Some(anstyle::Color::Rgb(colour(verdict))));
    format!("{style}{}{style:#}", mark(verdict))
}
