//! Features as a cut of a job file has them, to be pasted below a `[[cuts]]` entry.

use super::FeaturesReport;
use super::words::Words;
use crate::report::text::number::Lengths;
use crate::setup::written_feature;
use crate::value::Unit;

/// Snippets: for each feature a comment and, where a job file has such a feature, its table.
///
/// # Units
/// Lengths in `unit`, which must be that of the job.
///
/// # Errors
/// When a feature cannot be written as TOML: a fault of this program.
pub fn features_toml(report: &FeaturesReport<'_>, unit: Unit) -> Result<String, toml::ser::Error> {
    let words = Words {
        lengths: Lengths { unit },
    };
    let name = match unit {
        Unit::Mm => "mm",
        Unit::Inch => "inch",
    };
    let mut text = format!(
        "# Features of {} in part coordinates, for a job with units = \"{name}\".\n# Each table goes \
         below a [[cuts]] entry; kind = \"from-mesh\" with the name does the same.\n",
        report.file.escape_debug()
    );
    for feature in report.features {
        text.push_str(&format!(
            "\n# {}: {}\n",
            feature.name,
            words.feature(feature)
        ));
        match written_feature(feature, unit, None) {
            Err(reason) => text.push_str(&format!("# No table: {reason}.\n")),
            Ok(steps) => {
                for step in steps {
                    if let Some(number) = step.step {
                        text.push_str(&format!("# Step {number}:\n"));
                    }
                    text.push_str("[cuts.feature]\n");
                    text.push_str(&toml::to_string(&step.file)?);
                }
            }
        }
    }
    Ok(text)
}
