//! Arguments of `reach`.

use super::args::{angle_deg, tool_number};
use clap::{Args, ValueEnum};
use std::path::PathBuf;

const REACH_EXAMPLES: &str = "\
Examples:
  lapidary reach housing.toml
  lapidary reach housing.toml --index 0 --index 90 --tool 3
  lapidary reach housing.toml --face flat-3 --tool 3 --grain 1 --bands
  lapidary reach housing.toml --format csv -o reach.csv

Exit codes:
  0    an answer
  2    no answer: wrong arguments, faults in the files, output not written
  3    unknown: the machine file declares no rotary sense
  130  stopped with Ctrl-C; nothing was written";

/// Arguments of `reach`.
#[derive(Debug, Args)]
#[command(after_help = REACH_EXAMPLES)]
pub struct ReachArgs {
    /// Job file (TOML); it needs no cuts
    pub job: PathBuf,

    /// Ask about this rotary angle (may be repeated; default: every step, and every angle at
    /// which a face asked about looks at the spindle)
    #[arg(
        long = "index",
        value_name = "DEG",
        value_parser = angle_deg,
        allow_negative_numbers = true,
        help_heading = "Ask only about a part"
    )]
    pub indexes_deg: Vec<f64>,

    /// Ask only about this tool, such as 3 or T3 (may be repeated)
    #[arg(
        long = "tool",
        value_name = "NUMBER",
        value_parser = tool_number,
        help_heading = "Ask only about a part"
    )]
    pub tools: Vec<u32>,

    /// Ask only about this part (may be repeated)
    #[arg(
        long = "part",
        value_name = "NAME",
        help_heading = "Ask only about a part"
    )]
    pub parts: Vec<String>,

    /// Ask only about this seat, such as 1.2 (may be repeated)
    #[arg(
        long = "seat",
        value_name = "NAME",
        help_heading = "Ask only about a part"
    )]
    pub seats: Vec<String>,

    /// Ask only about this face, such as flat-3 (may be repeated; see lapidary features)
    #[arg(
        long = "face",
        value_name = "NAME",
        help_heading = "Ask only about a part"
    )]
    pub faces: Vec<String>,

    /// Ask only about so many faces of each part, the largest
    #[arg(
        long = "most-faces",
        value_name = "N",
        conflicts_with = "faces",
        help_heading = "Ask only about a part"
    )]
    pub most_faces: Option<usize>,

    /// Find the bands too: over which angles each face is reached. Takes long for many faces:
    /// choose some with --face, --tool and --seat
    #[arg(long, help_heading = "How to ask")]
    pub bands: bool,

    /// How exactly the ends of bands are found. The work on a face is limited, so that more than this
    /// may stay undecided. A coarser end is found sooner
    #[arg(
        long = "bands-to",
        value_name = "DEG",
        default_value_t = 0.01,
        value_parser = bands_to_deg,
        requires = "bands",
        help_heading = "How to ask"
    )]
    pub bands_to_deg: f64,

    /// Distance of the angles asked about; no finer than the rotary's own step
    #[arg(
        long = "every",
        value_name = "DEG",
        default_value_t = 5.0,
        value_parser = step_deg,
        help_heading = "How to ask"
    )]
    pub every_deg: f64,

    /// Pieces of a face no longer than this are not split: they stay undecided. It holds for a face of
    /// 24 mm x 24 mm; for others it is in proportion, down to a tenth
    #[arg(
        long = "grain",
        value_name = "MM",
        default_value_t = 4.0,
        value_parser = grain_mm,
        help_heading = "How to ask"
    )]
    pub grain_mm: f64,

    /// How often the grain is halved, at most, for a face at a tool's best index where it is not
    /// decided whether the face counts as reached, and a finer grain may decide it: not where hardly
    /// anything is certain, or halving brings little. 0 leaves it at the grain
    #[arg(
        long = "halvings",
        value_name = "N",
        default_value_t = 4,
        value_parser = clap::value_parser!(u32).range(0..=8),
        help_heading = "How to ask"
    )]
    pub halvings: u32,

    /// A face counts as reached from this share of its area on
    #[arg(
        long = "share",
        value_name = "SHARE",
        default_value_t = 0.95,
        value_parser = share,
        help_heading = "How to ask"
    )]
    pub from_share: f64,

    /// Faces smaller than this are not asked about
    #[arg(
        long = "least-area",
        value_name = "MM2",
        default_value_t = 20.0,
        value_parser = area_mm2,
        help_heading = "How to ask"
    )]
    pub least_area_mm2: f64,

    /// Threads to work with (default: one for each processor)
    #[arg(
        long,
        value_name = "N",
        value_parser = clap::value_parser!(u16).range(1..=1024),
        help_heading = "How to ask"
    )]
    pub threads: Option<u16>,

    /// Form of the report
    #[arg(long, value_enum, default_value_t = ReachFormat::Text, help_heading = "Report")]
    pub format: ReachFormat,

    /// Write the report to this file: whole, or not at all
    #[arg(short, long, value_name = "FILE", help_heading = "Report")]
    pub output: Option<PathBuf>,
}

/// Arguments of `check` and `report` for where tools reach.
#[derive(Debug, Args)]
pub struct ReachedArgs {
    /// Add where each tool reaches each face: in `report` as dials, in `check` with --format json as
    /// values. --tool, --seat and --face narrow it. Without HOW: bands. Default of `report`: steps; of
    /// `check`: none
    #[arg(
        long,
        value_enum,
        value_name = "HOW",
        num_args = 0..=1,
        require_equals = true,
        default_missing_value = "bands",
        help_heading = "Where tools reach"
    )]
    pub reached: Option<How>,

    /// Ask only about this face, such as flat-3 (may be repeated; see lapidary features)
    #[arg(long = "face", value_name = "NAME", help_heading = "Where tools reach")]
    pub faces: Vec<String>,

    /// Ask only about so many faces of each part, the largest (default: with --reached=bands 6, with
    /// --reached=steps all from 20 mm2 on); with --reached=steps the bores that a drill makes come beside
    /// them
    #[arg(
        long = "most-faces",
        value_name = "N",
        conflicts_with = "faces",
        help_heading = "Where tools reach"
    )]
    pub most_faces: Option<usize>,

    /// A face counts as reached from this share of its area on (default: 0.95)
    #[arg(
        long = "share",
        value_name = "SHARE",
        value_parser = share,
        help_heading = "Where tools reach"
    )]
    pub from_share: Option<f64>,

    /// How exactly the ends of bands are found; only with --reached=bands (default: 2)
    #[arg(
        long = "bands-to",
        value_name = "DEG",
        value_parser = bands_to_deg,
        help_heading = "Where tools reach"
    )]
    pub bands_to_deg: Option<f64>,
}

/// How to ask where tools reach.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum How {
    /// Not at all
    None,
    /// At every 15 degrees, and where a face looks at the spindle; less than a minute or so
    Steps,
    /// Everywhere: over which arcs; minutes
    Bands,
}

/// Forms of a report of `reach`.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum ReachFormat {
    /// For a person
    Text,
    /// For a program (see lapidary schema reach)
    Json,
    /// A line for every face, tool, seat and index
    Csv,
}

pub(super) fn step_deg(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(step_deg) if (0.1..=90.0).contains(&step_deg) => Ok(step_deg),
        _ => Err("an angle from 0.1 to 90 degrees is wanted".to_owned()),
    }
}

/// Finer than 0.001 degree rounding would show; coarser than 5 degrees little is decided.
fn bands_to_deg(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(to_deg) if (0.001..=5.0).contains(&to_deg) => Ok(to_deg),
        _ => Err("an angle from 0.001 to 5 degrees is wanted".to_owned()),
    }
}

/// Finer than 0.02 mm a face would fall into millions of pieces; coarser than 20 mm hardly
/// anything would be decided.
fn grain_mm(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(grain_mm) if (0.02..=20.0).contains(&grain_mm) => Ok(grain_mm),
        _ => Err("a length from 0.02 to 20 mm is wanted".to_owned()),
    }
}

fn area_mm2(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(area_mm2) if area_mm2.is_finite() && area_mm2 >= 0.0 => Ok(area_mm2),
        _ => Err("an area in mm2 is wanted, such as 20".to_owned()),
    }
}

pub(super) fn share(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(share) if share > 0.0 && share <= 1.0 => Ok(share),
        _ => Err("a share over 0, up to 1, is wanted, such as 0.95".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_tested_where_they_are_given() {
        assert_eq!(step_deg("5"), Ok(5.0));
        assert!(step_deg("0").is_err() && step_deg("nan").is_err());
        assert_eq!(bands_to_deg("1"), Ok(1.0));
        assert!(bands_to_deg("0").is_err() && bands_to_deg("6").is_err());
        assert_eq!(grain_mm("0.5"), Ok(0.5));
        assert!(grain_mm("0").is_err() && grain_mm("inf").is_err());
        assert_eq!(share("1"), Ok(1.0));
        assert!(share("0").is_err() && share("1.01").is_err());
    }
}
