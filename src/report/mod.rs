//! Text and JSON of an answer. Shows values, decides nothing: every verdict, length and remedy
//! stands in the answer already.
//!
//! - [`mark`]: the marks and colours of the verdicts, their one home
//! - [`text`]: 80 columns for a person
//! - [`json`]: the same values for a program, with its schema
//! - `direction`: names written from right to left
//! - [`reach`]: text, JSON and CSV of `reach`
//! - [`page`]: one HTML file with drawings, to print and to pin up
//! - [`json`], [`lengths_json`](mod@lengths_json): the same values for a program, with schemas
//! - [`features`]: the answer of `lapidary features`: text, JSON, snippets for a job

mod direction;
pub mod features;
pub mod json;
pub mod lengths_json;
pub mod mark;
pub mod page;
pub mod reach;
pub mod text;

pub use features::{FeaturesReport, features_json, features_schema, features_text, features_toml};
pub use json::{JsonError, check_json, check_schema};
pub use lengths_json::{lengths_json, lengths_schema};
pub use page::{Date, PageOptions, Picture, check_page};
pub use reach::{ReachReport, reach_csv, reach_json, reach_schema, reach_text};
pub use text::{TextOptions, check_text, lengths_text};

use crate::answer::check::CheckOptions;
use crate::answer::check::model::CheckAnswer;
use crate::answer::drawing::model::ReachedBy;
use crate::answer::lengths::LengthsAnswer;
use crate::answer::reach::ReachOptions;
use crate::answer::reach::model::ReachAnswer;
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
    /// Where tools reach, where that was asked for.
    pub reached: Option<Reached<'a>>,
}

/// Over which angles tools reach faces, beside a check.
#[derive(Debug, Clone, Copy)]
pub struct Reached<'a> {
    /// The answer, asked for bands or for shares at single angles.
    pub answer: &'a ReachAnswer,
    /// How it was asked.
    pub options: &'a ReachOptions,
    /// What is shown of it.
    pub by: ReachedBy,
}

/// Gauge lengths together with what the files were warned about.
#[derive(Debug, Clone, Copy)]
pub struct LengthsReport<'a> {
    /// The answer.
    pub answer: &'a LengthsAnswer,
    /// What the files were warned about.
    pub warnings: &'a [FileFault],
}
