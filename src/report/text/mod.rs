//! The answer of `check` as text: 80 columns, the answer first, then evidence and remedies.
//!
//! - `page`: lines, wrapping, marks; `number`: rounding to the safe side; `words`: values in words
//! - `headline`, `cuts`, `troubles` (with `remedy`), `motion`, `lengths`, `turning`, `notes`: the
//!   sections in the order in which they are printed
//! - `setting`: the page of `lengths`

mod cuts;
pub(in crate::report) mod headline;
pub(in crate::report) mod lengths;
pub(in crate::report) mod motion;
pub(in crate::report) mod notes;
pub(in crate::report) mod number;
pub(in crate::report) mod page;
pub(in crate::report) mod remedy;
mod setting;
pub(in crate::report) mod troubles;
pub(in crate::report) mod turning;
pub(in crate::report) mod words;

use super::CheckReport;
use crate::value::Unit;
use number::Lengths;
use page::Page;

pub use setting::lengths_text;

/// How the text is to look.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TextOptions {
    /// Unit of the lengths shown.
    pub unit: Unit,
    /// Marks in colour.
    pub colour: bool,
    /// A line for every index, also where a cut is clear at all of them.
    pub every_index: bool,
}

impl Default for TextOptions {
    fn default() -> Self {
        Self {
            unit: Unit::Mm,
            colour: false,
            every_index: false,
        }
    }
}

/// The answer as text.
///
/// # Units
/// Lengths as [`TextOptions::unit`] says; texts that stand in the answer stay as they are.
///
/// # Guarantees
/// No line is longer than 80 letters. A gap or spare amount is never shown larger, a needed or
/// missing length never smaller, than it is in the answer.
#[must_use]
pub fn check_text(report: &CheckReport, options: TextOptions) -> String {
    let show = Show {
        report,
        lengths: Lengths { unit: options.unit },
        every_index: options.every_index,
    };
    let mut page = Page::new(options.colour);
    headline::write(&mut page, &show);
    cuts::write(&mut page, &show);
    troubles::write(&mut page, &show);
    motion::write(&mut page, &show);
    lengths::write(&mut page, &show);
    turning::write(&mut page, &show);
    notes::write(&mut page, &show);
    page.finish()
}

/// What every section needs.
pub(in crate::report) struct Show<'a> {
    pub(in crate::report) report: &'a CheckReport<'a>,
    pub(in crate::report) lengths: Lengths,
    pub(in crate::report) every_index: bool,
}
