//! Numbers with their raw value and their place in the JSON.

use super::PageShow;
use crate::answer::check::model::GapValue;
use maud::{Markup, html};

/// A number as shown, its raw value and the JSON pointer of that value.
pub(super) fn tagged(at: &str, raw: f64, shown: &str) -> Markup {
    html! { data value=(raw) data-at=(at) { (shown) } }
}

/// A count.
pub(super) fn count(at: &str, raw: usize) -> Markup {
    html! { data value=(raw) data-at=(at) { (raw) } }
}

impl PageShow<'_> {
    /// Rounded down: gaps, what is left.
    pub(super) fn down(&self, at: &str, raw_mm: f64) -> Markup {
        tagged(at, raw_mm, &self.show.lengths.down(raw_mm))
    }

    /// Rounded up: what is needed or missing.
    pub(super) fn up(&self, at: &str, raw_mm: f64) -> Markup {
        tagged(at, raw_mm, &self.show.lengths.up(raw_mm))
    }

    /// Rounded to the nearest: what a person gave.
    pub(super) fn near(&self, at: &str, raw_mm: f64) -> Markup {
        tagged(at, raw_mm, &self.show.lengths.near(raw_mm))
    }

    /// A bracket, shown as in the text report.
    pub(super) fn gap(&self, at: &str, gap: &GapValue) -> Markup {
        tagged(
            &format!("{at}/lo_mm"),
            gap.lo_mm,
            &self.show.lengths.gap(gap),
        )
    }

    /// A rotary angle with its letter.
    pub(super) fn index(&self, at: &str, raw_deg: f64) -> Markup {
        let rotary = &self.show.report.answer.turning.rotary;
        let shown = crate::report::text::words::index(rotary, raw_deg);
        tagged(at, raw_deg, &shown)
    }
}
