//! The answer of `check` as JSON, and its schema.

use super::{CheckReport, Reached};
use crate::answer::check::model::CheckAnswer;
use crate::answer::drawing::model::ReachedBy;
use crate::answer::reach::model::ReachAnswer;
use crate::setup::{FileFault, Severity, SourceFile};
use schemars::{JsonSchema, generate::SchemaSettings};
use serde::Serialize;
use serde_json::Value;

/// The text that `format` holds.
const FORMAT: &str = "lapidary/check";

/// Version of the format: raised when a key changes its meaning or goes away.
const VERSION: u32 = 1;

/// Why no JSON was written.
#[derive(Debug, thiserror::Error)]
pub enum JsonError {
    /// A number of the answer is not finite: a fault of this program.
    #[error("the answer holds no finite number at {0}")]
    NotFinite(String),
    /// Values that JSON cannot hold.
    #[error("the answer cannot be written as JSON: {0}")]
    Json(#[from] serde_json::Error),
}

/// The answer of a check. Lengths in millimetres, angles in degrees, as the key names say.
#[derive(Serialize, JsonSchema)]
struct CheckFile<'a> {
    /// `lapidary/check`.
    #[schemars(extend("const" = FORMAT))]
    format: &'static str,
    /// Version of this format.
    #[schemars(extend("const" = VERSION))]
    version: u32,
    /// Version of the program.
    program_version: &'static str,
    /// How it was asked.
    asked: Asked<'a>,
    /// The files that the job was read from, by which an answer can be matched to its input.
    inputs: Vec<Input>,
    /// What the files were warned about.
    warnings: Vec<Warning>,
    /// The answer.
    answer: &'a CheckAnswer,
    /// Where tools reach; only where that was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    reached: Option<ReachedFile<'a>>,
}

/// Over which rotary angles tools reach faces: arcs and marks of the page's dials are made of these.
#[derive(Serialize, JsonSchema)]
struct ReachedFile<'a> {
    /// What the answer holds.
    how: ReachedHow,
    /// From which share of its area on a face counts as reached.
    from_share: f64,
    /// How wide what is left undecided about the end of a band may be, or so; only with bands.
    #[serde(skip_serializing_if = "Option::is_none")]
    bands_to_deg: Option<f64>,
    /// Pieces of a face of 24 mm x 24 mm no longer than this were not split, in mm.
    grain_mm: f64,
    /// How often the grain was halved at most.
    halvings: u32,
    /// The answer, with bands or with shares at single indexes.
    answer: &'a ReachAnswer,
}

/// How it was asked where tools reach.
#[derive(Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
enum ReachedHow {
    /// At single indexes: shares of faces. Nothing is told of what lies between.
    Steps,
    /// Everywhere: bands of angle.
    Bands,
}

impl<'a> From<Reached<'a>> for ReachedFile<'a> {
    fn from(reached: Reached<'a>) -> Self {
        let (how, bands_to_deg) = match reached.by {
            ReachedBy::Steps { .. } => (ReachedHow::Steps, None),
            ReachedBy::Bands => (ReachedHow::Bands, Some(reached.options.bands_to_deg)),
        };
        Self {
            how,
            from_share: reached.options.from_share,
            bands_to_deg,
            grain_mm: reached.options.grain_mm,
            halvings: reached.options.halvings,
            answer: reached.answer,
        }
    }
}

/// How it was asked.
#[derive(Serialize, JsonSchema)]
struct Asked<'a> {
    /// Only these cuts; empty for all.
    cuts: &'a [String],
    /// Only these seats; empty for all.
    seats: &'a [String],
    /// Only these tools; empty for all.
    tools: &'a [u32],
    /// Only this rotary angle; null for all.
    index_deg: Option<f64>,
    /// Width of a bracket at which a motion's least gap counts as found.
    tolerance_mm: f64,
    /// Whether gauge lengths were looked for.
    lengths: bool,
    /// Whether remedies were looked for.
    remedies: bool,
    /// Whether `close` was taken for good enough.
    accept_close: bool,
}

/// A file that the job was read from.
#[derive(Serialize, JsonSchema)]
struct Input {
    /// The file as it was opened.
    file: String,
    /// Its size in bytes.
    bytes: u64,
    /// SHA-256 of its bytes (FIPS 180-4), 64 hexadecimal digits.
    sha256: String,
}

impl From<&SourceFile> for Input {
    fn from(source: &SourceFile) -> Self {
        Self {
            file: source.path.display().to_string(),
            bytes: source.bytes_len,
            sha256: source.sha256.clone(),
        }
    }
}

/// A warning about a file.
#[derive(Serialize, JsonSchema)]
pub(super) struct Warning {
    /// The file as it was named.
    file: String,
    /// Line, from 1; null where there is none.
    line: Option<usize>,
    /// What is odd, and what it means for the answer.
    message: String,
}

impl From<&FileFault> for Warning {
    fn from(fault: &FileFault) -> Self {
        Self {
            file: fault.file.display().to_string(),
            line: fault.line,
            message: fault.message.clone(),
        }
    }
}

/// The answer as JSON, two spaces deep, with a line end at the end.
///
/// # Units
/// Stand in the key names.
///
/// # Guarantees
/// The same answer gives the same bytes, keys in the order of the structures. The text fits
/// [`check_schema`].
///
/// # Errors
/// [`JsonError::NotFinite`] where the answer holds a NaN or an infinity, which JSON would turn
/// into a null.
pub fn check_json(report: &CheckReport) -> Result<String, JsonError> {
    let options = report.options;
    let file = CheckFile {
        format: FORMAT,
        version: VERSION,
        program_version: env!("CARGO_PKG_VERSION"),
        asked: Asked {
            cuts: &options.cuts,
            seats: &options.seats,
            tools: &options.tools,
            index_deg: options.index_deg,
            tolerance_mm: options.tolerance_mm,
            lengths: options.lengths,
            remedies: options.remedies,
            accept_close: report.accept_close,
        },
        inputs: report.sources.iter().map(Input::from).collect(),
        warnings: warnings(report.warnings),
        answer: report.answer,
        reached: report.reached.map(ReachedFile::from),
    };
    all_finite(&file)?;
    Ok(serde_json::to_string_pretty(&file)? + "\n")
}

/// The warnings among the faults of the files.
pub(super) fn warnings(faults: &[FileFault]) -> Vec<Warning> {
    let warnings = faults.iter();
    let warnings = warnings.filter(|fault| fault.severity == Severity::Warning);
    warnings.map(Warning::from).collect()
}

/// JSON Schema (2020-12) of what [`check_json`] writes.
#[must_use]
pub fn check_schema() -> Value {
    let generator = SchemaSettings::draft2020_12()
        .for_serialize()
        .into_generator();
    let mut schema = Value::from(generator.into_root_schema_for::<CheckFile>());
    schema["title"] = Value::from("Answer of lapidary check");
    schema
}

/// JSON turns NaN and infinities into null without a word. TOML has them, so the values go
/// through it once.
pub(super) fn all_finite(file: &impl Serialize) -> Result<(), JsonError> {
    let value = toml::Value::try_from(file)
        .map_err(|fault| JsonError::Json(serde::ser::Error::custom(fault)))?;
    not_finite(&value, "").map_or(Ok(()), |place| Err(JsonError::NotFinite(place)))
}

fn not_finite(value: &toml::Value, place: &str) -> Option<String> {
    match value {
        toml::Value::Float(number) if !number.is_finite() => Some(place.to_owned()),
        toml::Value::Array(items) => items
            .iter()
            .enumerate()
            .find_map(|(number, item)| not_finite(item, &format!("{place}[{number}]"))),
        toml::Value::Table(table) => table
            .iter()
            .find_map(|(key, item)| not_finite(item, &format!("{place}.{key}"))),
        _ => None,
    }
}
