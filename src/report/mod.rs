//! Text and JSON of an answer. Shows values, decides nothing: every verdict, length and remedy
//! stands in the answer already.
//!
//! - [`mark`]: the marks and colours of the verdicts, their one home
//! - [`text`]: 80 columns for a person
//! - [`json`]: the same values for a program, with its schema
//! - [`reach`]: text, JSON and CSV of `reach`
//! - [`features`]: the answer of `lapidary features`: text, JSON, snippets for a job

pub mod features;
pub mod json;
pub mod mark;
pub mod reach;
pub mod text;

pub use features::{FeaturesReport, features_json, features_schema, features_text, features_toml};
pub use json::{JsonError, check_json, check_schema};
pub use reach::{ReachReport, reach_csv, reach_json, reach_schema, reach_text};
pub use text::{TextOptions, check_text};

use crate::answer::check::CheckOptions;
use crate::answer::check::model::CheckAnswer;
use crate::setup::FileFault;

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
}
