//! Arguments of `lengths`.

use super::args::{Format, Units, angle_deg, tolerance_mm, tool_number};
use clap::Args;
use std::path::PathBuf;

const LENGTHS_EXAMPLES: &str = "\
Examples:
  lapidary lengths housing.toml
  lapidary lengths housing.toml --step 5 --tool 3
  lapidary lengths housing.toml --reached --every 15

Exit codes:
  0    a length for every tool that cuts (or was asked about, with --reached)
  1    a tool for which no length works, no step lies in its range, or that
       reaches nothing
  2    no answer: wrong arguments, faults in the files, output not written
  3    none of these, but something is unknown
  130  stopped with Ctrl-C; nothing was written";

/// Arguments of `lengths`.
#[derive(Debug, Args)]
#[command(after_help = LENGTHS_EXAMPLES)]
pub struct LengthsArgs {
    /// Job file (TOML)
    pub job: PathBuf,

    /// Look only at this tool, such as 3 or T3 (may be repeated)
    #[arg(long = "tool", value_name = "NUMBER", value_parser = tool_number)]
    pub tools: Vec<u32>,

    /// Keep the faces reached, too, that each tool reaches as set (see lapidary reach); a job needs
    /// no cuts then. Takes minutes for a whole drawer of tools
    #[arg(long)]
    pub reached: bool,

    /// Keep this face reached only, such as flat-3 (may be repeated; see lapidary features)
    #[arg(long = "face", value_name = "NAME", requires = "reached")]
    pub faces: Vec<String>,

    /// Keep faces reached at this seat only, such as 1.2 (may be repeated)
    #[arg(long = "seat", value_name = "NAME", requires = "reached")]
    pub seats: Vec<String>,

    /// Reach faces at this rotary angle (may be repeated; default: as in lapidary reach)
    #[arg(
        long = "index",
        value_name = "DEG",
        value_parser = angle_deg,
        allow_negative_numbers = true,
        requires = "reached"
    )]
    pub indexes_deg: Vec<f64>,

    /// Distance of the angles at which faces may be reached; no finer than the rotary's own step
    #[arg(
        long = "every",
        value_name = "DEG",
        default_value_t = 5.0,
        value_parser = super::reach_args::step_deg,
        requires = "reached"
    )]
    pub every_deg: f64,

    /// A face counts as reached from this share of its area on
    #[arg(
        long = "share",
        value_name = "SHARE",
        default_value_t = 0.95,
        value_parser = super::reach_args::share,
        requires = "reached"
    )]
    pub from_share: f64,

    /// Propose multiples of this
    #[arg(
        long = "step",
        value_name = "MM",
        default_value_t = 1.0,
        value_parser = step_mm,
        allow_negative_numbers = true
    )]
    pub step_mm: f64,

    /// How exactly a motion's least gap is found
    #[arg(
        long = "tolerance",
        value_name = "MM",
        default_value_t = 0.001,
        value_parser = tolerance_mm
    )]
    pub tolerance_mm: f64,

    /// Threads to work with (default: one for each processor)
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1024))]
    pub threads: Option<u16>,

    /// Form of the report
    #[arg(long, value_enum, default_value_t = Format::Text)]
    pub format: Format,

    /// Unit of the lengths in a text report
    #[arg(long, value_enum, default_value_t = Units::Mm)]
    pub units: Units,

    /// Write the report to this file: whole, or not at all
    #[arg(short, long, value_name = "FILE")]
    pub output: Option<PathBuf>,
}

/// Lengths are searched in steps of 0.01 mm: a finer step would promise more.
fn step_mm(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(step_mm) if (0.01..=100.0).contains(&step_mm) => Ok(step_mm),
        _ => Err("a length from 0.01 to 100 mm is wanted".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_step_is_a_length() {
        assert_eq!(step_mm("5"), Ok(5.0));
        assert!(step_mm("0").is_err() && step_mm("nan").is_err() && step_mm("1e9").is_err());
    }
}
