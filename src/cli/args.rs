//! The command line.

use super::reach_args::{ReachArgs, ReachedArgs};
use crate::report::Date;
use clap::{Args, Parser, Subcommand, ValueEnum};
use std::path::PathBuf;

const EXIT_CODES: &str = "\
Exit codes:
  0    every cut is reached and clear
  1    a clash, something close (unless --accept-close), or a place not reached
  2    no answer: wrong arguments, faults in the files, output not written
  3    none of these, but something is unknown
  130  stopped with Ctrl-C; nothing was written";

const CHECK_EXAMPLES: &str = "\
Examples:
  lapidary check housing.toml
  lapidary check housing.toml --tool 3 --index 90
  lapidary check housing.toml --format json -o housing.json

Exit codes:
  0    every cut is reached and clear
  1    a clash, something close (unless --accept-close), or a place not reached
  2    no answer: wrong arguments, faults in the files, output not written
  3    none of these, but something is unknown
  130  stopped with Ctrl-C; nothing was written";

const FEATURES_EXAMPLES: &str = "\
Examples:
  lapidary features bracket.stl
  lapidary features bracket.stl --mesh-units inch --units inch
  lapidary features bracket.stl --format toml -o bracket-features.toml

Exit codes:
  0    the mesh was split; what is not recognised is told as such
  2    no answer: wrong arguments, a mesh that cannot be read, output not written
  130  stopped with Ctrl-C; nothing was written";

const REPORT_EXAMPLES: &str = "\
Examples:
  lapidary report housing.toml -o housing.html
  lapidary report housing.toml -o housing.html --date 2026-03-31
  lapidary report housing.toml -o housing.html --reached=none
  lapidary report housing.toml -o housing.html --reached --tool 3 --face flat-2

Where the program lapidary-viewer is installed (beside this one, or on PATH), a
picture of the setup at each index is put in.

Exit codes: as for check.";

/// A hundred turns; of many more little would be left of an angle's fraction.
const MOST_DEG: f64 = 36_000.0;

/// Checks an indexed, multi-side machining setup before its program is posted.
///
/// Parts stand on a carrier that turns in a machining centre. From STL meshes of parts, clamps
/// and machine it tells whether every tool reaches its place, how close anything comes, whether
/// the travel suffices, and what smallest change mends a trouble.
#[derive(Debug, Parser)]
#[command(name = "lapidary", version, max_term_width = 80, after_help = EXIT_CODES)]
pub struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// What to do.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Check a job: gaps, travel, index moves, gauge lengths, remedies
    Check(CheckArgs),
    /// Which share of each face each tool reaches at which index; the fewest indexes
    Reach(ReachArgs),
    /// Look at a job in a window, at its worst place (needs lapidary-viewer)
    View(ViewArgs),
    /// Find faces and features of a mesh: holes, pockets, slots, steps
    Features(FeaturesArgs),
    /// Write a page with drawings: one HTML file, to read and to print
    Report(ReportArgs),
    /// Find how short and how long each tool may be set, and what to set
    Lengths(super::lengths_args::LengthsArgs),
    /// Print the JSON Schema of a file, for editors and programs
    Schema {
        /// Which file
        #[arg(value_enum)]
        file: SchemaFile,
    },
    /// Print completions for a shell
    Completions {
        /// Which shell
        #[arg(value_enum)]
        shell: clap_complete::Shell,
    },
    /// Print the manual page, or that of one command
    Man {
        /// Command, such as check
        command: Option<String>,
    },
}

/// Arguments of `view`.
#[derive(Debug, Args)]
pub struct ViewArgs {
    /// Job file (TOML)
    pub job: PathBuf,

    /// What else to hand to lapidary-viewer, such as --cut NAME or --picture FILE
    #[arg(
        trailing_var_arg = true,
        allow_hyphen_values = true,
        value_name = "ARGUMENT"
    )]
    pub more: Vec<std::ffi::OsString>,
}

/// What to check, and how: for every command that asks.
#[derive(Debug, Args)]
pub struct AskArgs {
    /// Job file (TOML)
    pub job: PathBuf,

    /// Check only this cut (may be repeated)
    #[arg(long = "cut", value_name = "NAME", help_heading = "Check only a part")]
    pub cuts: Vec<String>,

    /// Check only this seat, such as 1.2 (may be repeated)
    #[arg(long = "seat", value_name = "NAME", help_heading = "Check only a part")]
    pub seats: Vec<String>,

    /// Check only this tool, such as 3 or T3 (may be repeated)
    #[arg(
        long = "tool",
        value_name = "NUMBER",
        value_parser = tool_number,
        help_heading = "Check only a part"
    )]
    pub tools: Vec<u32>,

    /// Check only this rotary angle
    #[arg(
        long = "index",
        value_name = "DEG",
        value_parser = angle_deg,
        allow_negative_numbers = true,
        help_heading = "Check only a part"
    )]
    pub index_deg: Option<f64>,

    /// Do not look for shortest and longest gauge lengths
    #[arg(long, help_heading = "How to check")]
    pub no_lengths: bool,

    /// Do not look for remedies
    #[arg(long, help_heading = "How to check")]
    pub no_remedies: bool,

    /// How exactly a motion's least gap is found
    #[arg(
        long = "tolerance",
        value_name = "MM",
        default_value_t = 0.001,
        value_parser = tolerance_mm,
        help_heading = "How to check"
    )]
    pub tolerance_mm: f64,

    /// Threads to work with (default: one for each processor)
    #[arg(
        long,
        value_name = "N",
        value_parser = clap::value_parser!(u16).range(1..=1024),
        help_heading = "How to check"
    )]
    pub threads: Option<u16>,

    /// Take close for good enough: exit code 0 where nothing is worse
    #[arg(long, help_heading = "How to check")]
    pub accept_close: bool,

    /// Unit of the lengths that a person reads
    #[arg(long, value_enum, default_value_t = Units::Mm, help_heading = "Report")]
    pub units: Units,
}

/// Arguments of `check`.
#[derive(Debug, Args)]
#[command(after_help = CHECK_EXAMPLES)]
pub struct CheckArgs {
    /// What to check, and how
    #[command(flatten)]
    pub ask: AskArgs,

    /// Form of the report
    #[arg(long, value_enum, default_value_t = Format::Text, help_heading = "Report")]
    pub format: Format,

    /// A line for every index, also where a cut is clear at all of them
    #[arg(long, help_heading = "Report")]
    pub every_index: bool,

    /// Write the report to this file: whole, or not at all
    #[arg(short, long, value_name = "FILE", help_heading = "Report")]
    pub output: Option<PathBuf>,

    /// Where tools reach
    #[command(flatten)]
    pub reached: ReachedArgs,
}

/// Arguments of `features`.
#[derive(Debug, Args)]
#[command(after_help = FEATURES_EXAMPLES)]
pub struct FeaturesArgs {
    /// Mesh of a part (STL)
    pub mesh: PathBuf,

    /// Unit of the mesh file
    #[arg(long, value_enum, default_value_t = Units::Mm)]
    pub mesh_units: Units,

    /// Form of the report
    #[arg(long, value_enum, default_value_t = FeaturesFormat::Text, help_heading = "Report")]
    pub format: FeaturesFormat,

    /// Unit of the lengths in text and TOML
    #[arg(long, value_enum, default_value_t = Units::Mm, help_heading = "Report")]
    pub units: Units,

    /// Write the report to this file: whole, or not at all
    #[arg(short, long, value_name = "FILE", help_heading = "Report")]
    pub output: Option<PathBuf>,
}

/// Forms of a report on features.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum FeaturesFormat {
    /// For a person
    Text,
    /// For a program (see lapidary schema features)
    Json,
    /// Tables to paste into the cuts of a job
    Toml,
}

/// Arguments of `report`.
#[derive(Debug, Args)]
#[command(after_help = REPORT_EXAMPLES)]
pub struct ReportArgs {
    /// What to check, and how
    #[command(flatten)]
    pub ask: AskArgs,

    /// Write the page to this file: whole, or not at all
    #[arg(short, long, value_name = "FILE", help_heading = "Report")]
    pub output: PathBuf,

    /// Date that stands on the page, such as 2026-03-31 (default: today)
    #[arg(long, value_name = "DATE", value_parser = date, help_heading = "Report")]
    pub date: Option<Date>,

    /// No pictures of the setup, also where the viewer program is installed
    #[arg(long, help_heading = "Report")]
    pub no_pictures: bool,

    /// Where tools reach
    #[command(flatten)]
    pub reached: ReachedArgs,
}

/// Forms of a report.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// For a person
    Text,
    /// For a program (see lapidary schema)
    Json,
}

/// Units of a text report.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Units {
    /// Millimetres
    Mm,
    /// Inches
    Inch,
}

/// Files that have a schema.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum SchemaFile {
    /// Job file
    Job,
    /// Machine file
    Machine,
    /// Tool file
    Tools,
    /// JSON report of check
    Check,
    /// JSON report of reach
    Reach,
    /// JSON report of lengths
    Lengths,
    /// JSON report of features
    Features,
}

fn date(text: &str) -> Result<Date, String> {
    let wrong = || "a day is wanted, such as 2026-03-31".to_owned();
    let parts: Vec<&str> = text.split('-').collect();
    let [year, month, day] = parts[..] else {
        return Err(wrong());
    };
    let sized = year.len() == 4 && month.len() == 2 && day.len() == 2;
    let digits = text
        .bytes()
        .all(|byte| byte.is_ascii_digit() || byte == b'-');
    let date = Date {
        year: year.parse().map_err(|_| wrong())?,
        month: month.parse().map_err(|_| wrong())?,
        day: day.parse().map_err(|_| wrong())?,
    };
    if sized && digits && date.is_real() {
        Ok(date)
    } else {
        Err(wrong())
    }
}

pub(super) fn tool_number(text: &str) -> Result<u32, String> {
    let digits = text.strip_prefix(['T', 't']).unwrap_or(text);
    digits
        .parse()
        .map_err(|_| "a tool number is wanted, such as 3 or T3".to_owned())
}

pub(super) fn angle_deg(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(angle_deg) if angle_deg.abs() <= MOST_DEG => Ok(angle_deg),
        _ => Err("an angle in degrees is wanted, such as 90 or -22.5, up to 36000".to_owned()),
    }
}

/// Finer than 0.0001 mm the error of the arithmetic would show (tests of the gap engine); coarser
/// than 1 mm most answers would be unknown.
pub(super) fn tolerance_mm(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(tolerance_mm) if (0.0001..=1.0).contains(&tolerance_mm) => Ok(tolerance_mm),
        _ => Err("a length from 0.0001 to 1 mm is wanted".to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::CommandFactory;

    #[test]
    fn the_command_line_is_sound() {
        Cli::command().debug_assert();
    }

    #[test]
    fn help_fits_eighty_columns() {
        let mut command = Cli::command();
        command.build();
        for name in [
            "check",
            "reach",
            "features",
            "lengths",
            "report",
            "schema",
            "completions",
            "man",
        ] {
            let sub = command.find_subcommand_mut(name).unwrap();
            let help = sub.render_long_help().to_string();
            let wide = help.lines().find(|line| line.chars().count() > 80);
            assert_eq!(wide, None, "{name}");
        }
    }

    #[test]
    fn numbers_are_tested_where_they_are_given() {
        assert_eq!(tool_number("T3"), Ok(3));
        assert_eq!(tool_number("3"), Ok(3));
        assert!(tool_number("TT3").is_err() && tool_number("-3").is_err());
        assert_eq!(angle_deg("-22.5"), Ok(-22.5));
        assert!(angle_deg("nan").is_err() && angle_deg("inf").is_err());
        assert_eq!(tolerance_mm("0.01"), Ok(0.01));
        assert!(tolerance_mm("0").is_err() && tolerance_mm("nan").is_err());
        assert!(date("2026-03-31").is_ok() && date("2024-02-29").is_ok());
        for wrong in [
            "2026-02-29",
            "2026-13-01",
            "2026-3-31",
            "31.3.2026",
            "+026-03-31",
            "",
        ] {
            assert!(date(wrong).is_err(), "{wrong}");
        }
        assert!(tolerance_mm("2").is_err() && tolerance_mm("-0.01").is_err());
    }
}
