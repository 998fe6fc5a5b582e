//! The answer of `reach`: JSON with its schema, CSV, and text.

mod table;
mod text;

pub use table::reach_csv;
pub(in crate::report) use text::assumed;
pub use text::reach_text;

use super::json::{JsonError, Warning, all_finite};
use crate::answer::reach::ReachOptions;
use crate::answer::reach::choice::IndexChoice;
use crate::answer::reach::model::{ReachAnswer, Reason};
use crate::setup::{FileFault, Severity};
use schemars::{JsonSchema, generate::SchemaSettings};
use serde::Serialize;
use serde_json::Value;

/// The text that `format` holds.
const FORMAT: &str = "lapidary/reach";

/// Version of the format: raised when a key changes its meaning or goes away.
const VERSION: u32 = 1;

/// An answer together with how it was asked.
#[derive(Debug, Clone, Copy)]
pub struct ReachReport<'a> {
    /// The answer.
    pub answer: &'a ReachAnswer,
    /// The fewest indexes.
    pub choice: &'a IndexChoice,
    /// How it was asked.
    pub options: &'a ReachOptions,
    /// What the files were warned about.
    pub warnings: &'a [FileFault],
}

/// The answer of `reach`. Lengths in millimetres, angles in degrees, shares from 0 to 1.
#[derive(Serialize, JsonSchema)]
struct ReachFile<'a> {
    /// `lapidary/reach`.
    #[schemars(extend("const" = FORMAT))]
    format: &'static str,
    /// Version of this format.
    #[schemars(extend("const" = VERSION))]
    version: u32,
    /// Version of the program.
    program_version: &'static str,
    /// Pieces of the surface no longer than this were not split.
    grain_mm: f64,
    /// How often the grain was halved, at most, where that could decide whether a face counts as reached.
    halvings: u32,
    /// What the files were warned about.
    warnings: Vec<Warning>,
    /// The answer.
    answer: &'a ReachAnswer,
    /// The fewest indexes.
    choice: &'a IndexChoice,
}

/// The answer as JSON, two spaces deep, with a line end at the end.
///
/// # Guarantees
/// The same answer gives the same bytes; the text fits [`reach_schema`].
///
/// # Errors
/// As [`super::check_json`].
pub fn reach_json(report: &ReachReport<'_>) -> Result<String, JsonError> {
    let warnings = report.warnings.iter();
    let file = ReachFile {
        format: FORMAT,
        version: VERSION,
        program_version: env!("CARGO_PKG_VERSION"),
        grain_mm: report.options.grain_mm,
        halvings: report.options.halvings,
        warnings: warnings
            .filter(|fault| fault.severity == Severity::Warning)
            .map(Warning::from)
            .collect(),
        answer: report.answer,
        choice: report.choice,
    };
    all_finite(&file)?;
    Ok(serde_json::to_string_pretty(&file)? + "\n")
}

/// JSON Schema (2020-12) of what [`reach_json`] writes.
#[must_use]
pub fn reach_schema() -> Value {
    let generator = SchemaSettings::draft2020_12()
        .for_serialize()
        .into_generator();
    let mut schema = Value::from(generator.into_root_schema_for::<ReachFile>());
    schema["title"] = Value::from("Answer of lapidary reach");
    schema
}

/// A reason in words.
pub(super) fn words(reason: &Reason) -> String {
    match reason {
        Reason::FacingAway => "looks away from the spindle".to_owned(),
        Reason::Undercut => "undercut: the part itself stands over it".to_owned(),
        Reason::CutterTooLarge => "cutter too large for the corner or bore".to_owned(),
        Reason::PointMeetsBottom => {
            "the drill's point meets the bottom before its full diameter is there".to_owned()
        }
        Reason::FlutesTooShort => "flutes too short: the shank meets the part".to_owned(),
        Reason::NotThisToolsWork => "not this tool's work".to_owned(),
        Reason::Stopped { element, body } => format!("{element} meets {body}"),
        Reason::Close { element, body } => format!("{element} close to {body}"),
        Reason::ShortOfTravel { axis } => format!("short of travel on {axis}"),
    }
}
