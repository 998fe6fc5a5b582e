//! The answer of `lengths` as JSON, and its schema.

use super::LengthsReport;
use super::json::{JsonError, Warning, all_finite, warnings};
use crate::answer::lengths::LengthsAnswer;
use schemars::{JsonSchema, generate::SchemaSettings};
use serde::Serialize;
use serde_json::Value;

/// The text that `format` holds.
const FORMAT: &str = "lapidary/lengths";

/// Version of the format: raised when a key changes its meaning or goes away.
const VERSION: u32 = 1;

/// Gauge lengths of the tools of a job. Lengths in millimetres, as the key names say.
#[derive(Serialize, JsonSchema)]
struct LengthsFile<'a> {
    /// `lapidary/lengths`.
    #[schemars(extend("const" = FORMAT))]
    format: &'static str,
    /// Version of this format.
    #[schemars(extend("const" = VERSION))]
    version: u32,
    /// Version of the program.
    program_version: &'static str,
    /// What the files were warned about.
    warnings: Vec<Warning>,
    /// The answer.
    answer: &'a LengthsAnswer,
}

/// The answer as JSON, two spaces deep, with a line end at the end.
///
/// # Units
/// Stand in the key names.
///
/// # Guarantees
/// The same answer gives the same bytes. The text fits [`lengths_schema`].
///
/// # Errors
/// [`JsonError::NotFinite`] where the answer holds a NaN or an infinity.
pub fn lengths_json(report: &LengthsReport) -> Result<String, JsonError> {
    let file = LengthsFile {
        format: FORMAT,
        version: VERSION,
        program_version: env!("CARGO_PKG_VERSION"),
        warnings: warnings(report.warnings),
        answer: report.answer,
    };
    all_finite(&file)?;
    Ok(serde_json::to_string_pretty(&file)? + "\n")
}

/// JSON Schema (2020-12) of what [`lengths_json`] writes.
#[must_use]
pub fn lengths_schema() -> Value {
    let generator = SchemaSettings::draft2020_12()
        .for_serialize()
        .into_generator();
    let mut schema = Value::from(generator.into_root_schema_for::<LengthsFile>());
    schema["title"] = Value::from("Answer of lapidary lengths");
    schema
}
