//! Text and JSON of an answer. Shows values, decides nothing: every verdict, length and remedy
//! stands in the answer already.
//!
//! - [`mark`]: the marks and colours of the verdicts, their one home
//! - [`text`]: 80 columns for a person
//! - [`page`]: one HTML file with drawings, to print and to pin up
//! - [`json`]: the same values for a program, with its schema

pub mod json;
pub mod mark;
pub mod page;
pub mod text;

pub use json::{JsonError, check_json, check_schema};
pub use page::{Date, PageOptions, Picture, check_page};
pub use text::{TextOptions, check_text};

use crate::answer::check::CheckOptions;
use crate::answer::check::model::CheckAnswer;
use crate::setup::{FileFault, SourceFile};

/// An answer together with how it was asked: what a report shows.
#[derive(Debug, Clone, Copy)]
pub struct CheckReport<'a> {
    /// The answer.
    pub answer: &'a CheckAnswer,
    /// How it was asked.
    pub options: &'a CheckOptions,
    /// Whether the person takes `close` for good enough.
    pub accept_close: bool,
    /// What the files were warned about.
    pub warnings: &'a [FileFault],
    /// The files that the job was read from.
    pub sources: &'a [SourceFile],
}
