//! `lapidary check`: load, ask, report.

use super::args::{AskArgs, CheckArgs, Format, Units};
use super::exit::Exit;
use super::output::{self, OutputError};
use super::progress::progress;
use super::reach_args::How;
use super::reached::{self, Asked};
use super::{say, stop};
use crate::answer::check::model::CheckAnswer;
use crate::answer::check::{CheckError, CheckOptions, check};
use crate::gap::CannotAsk;
use crate::report::{CheckReport, JsonError, TextOptions, check_json, check_text};
use crate::setup::model::Setup;
use crate::setup::{FileFault, Loaded, SetupFaults, Severity, SourceFile, load};
use crate::value::Unit;
use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};

/// Why there is no answer.
#[derive(Debug, thiserror::Error)]
#[allow(missing_docs, reason = "the messages say it")]
pub enum NoAnswer {
    #[error("{}", closing_line(&.0.0))]
    Faults(SetupFaults),
    #[error("stopped; nothing was written")]
    Stopped,
    #[error("error: {0}")]
    Refused(CheckError),
    #[error("error: there is nothing to check: {0}")]
    Nothing(&'static str),
    #[error("error: {0}")]
    Options(&'static str),
    #[error("error: {0}")]
    Output(#[from] OutputError),
    #[error("error: {0}; this is a fault of the program, not of the job")]
    Json(#[from] JsonError),
    #[error("error: {0}; this is a fault of the program, not of the job")]
    Failed(String),
    #[error("error: the setup cannot be drawn: {0}")]
    Draw(#[from] CannotAsk),
    #[error("error: --threads: {0}")]
    Threads(#[from] rayon::ThreadPoolBuildError),
}

impl NoAnswer {
    const fn exit(&self) -> Exit {
        match self {
            Self::Stopped => Exit::Stopped,
            _ => Exit::BadInput,
        }
    }
}

/// Where tools reach is not told in the text of a check.
const REACHED_TEXT: &str = "--reached goes with --format json; as text, lapidary reach --every 15 (for steps) or \
     lapidary reach --bands tells the same";

/// Checks a job and reports.
#[must_use]
pub fn run(args: &CheckArgs) -> Exit {
    let stop = stop::on_ctrl_c();
    told(answer_and_report(args, &stop))
}

/// The exit, with what stood in the way told.
pub(super) fn told(answered: Result<Exit, NoAnswer>) -> Exit {
    match answered {
        Ok(exit) => exit,
        Err(reason) => {
            if let NoAnswer::Faults(faults) = &reason {
                faults.0.iter().for_each(say);
            }
            say(&reason);
            reason.exit()
        }
    }
}

fn answer_and_report(args: &CheckArgs, stop: &AtomicBool) -> Result<Exit, NoAnswer> {
    let how = reached::how(&args.reached, How::None)?;
    if how != How::None && args.format == Format::Text {
        return Err(NoAnswer::Options(REACHED_TEXT));
    }
    let loaded = load_job(&args.ask.job, stop)?;
    if let Some(path) = &args.output {
        output::can_write(path, &files_of(&args.ask.job, &loaded.sources))?;
    }
    loaded.warnings.iter().for_each(say);
    let options = options(&args.ask);
    let answer = ask(&args.ask, &loaded.setup, &options, stop)?;
    let reached = reached::ask(&args.reached, how, &args.ask, &loaded.setup, stop)?;
    let report = CheckReport {
        answer: &answer,
        options: &options,
        accept_close: args.ask.accept_close,
        warnings: &loaded.warnings,
        sources: &loaded.sources,
        reached: reached.as_ref().map(Asked::told),
    };
    let text = match args.format {
        Format::Text => check_text(&report, text_options(args)),
        Format::Json => check_json(&report)?,
    };
    if stop.load(Ordering::SeqCst) {
        return Err(NoAnswer::Stopped);
    }
    match &args.output {
        Some(path) => output::to_file(path, &text)?,
        None => output::to_stdout(&text)?,
    }
    Ok(Exit::of(&answer, args.ask.accept_close))
}

/// Loads a job from the file system; a stop ends it before the next file.
pub(super) fn load_job(job: &Path, stop: &AtomicBool) -> Result<Loaded, NoAnswer> {
    let read = |path: &Path| match stop.load(Ordering::SeqCst) {
        true => Err(std::io::Error::other("stopped")),
        false => std::fs::read(path),
    };
    let loaded = load(job, &read);
    if stop.load(Ordering::SeqCst) {
        return Err(NoAnswer::Stopped);
    }
    loaded.map_err(NoAnswer::Faults)
}

/// Every file that the job is read from.
pub(super) fn files_of(job: &Path, sources: &[SourceFile]) -> Vec<PathBuf> {
    let sources = sources.iter().map(|source| source.path.clone());
    sources.chain([job.to_owned()]).collect()
}

/// Does work with so many threads.
pub(super) fn in_threads<T: Send>(
    threads: Option<u16>,
    work: impl FnOnce() -> T + Send,
) -> Result<T, rayon::ThreadPoolBuildError> {
    match threads {
        None => Ok(work()),
        Some(threads) => {
            let pool = rayon::ThreadPoolBuilder::new().num_threads(usize::from(threads));
            Ok(pool.build()?.install(work))
        }
    }
}

pub(super) fn ask(
    args: &AskArgs,
    setup: &Setup,
    options: &CheckOptions,
    stop: &AtomicBool,
) -> Result<CheckAnswer, NoAnswer> {
    if setup.cuts.is_empty() {
        return Err(NoAnswer::Nothing("the job has no cuts"));
    }
    if stop.load(Ordering::SeqCst) {
        return Err(NoAnswer::Stopped);
    }
    let progress = progress();
    let work = || check(setup, options, progress.as_ref(), stop);
    match in_threads(args.threads, work)? {
        // An empty answer would read as clear.
        Ok(answer) if answer.cuts.is_empty() => Err(NoAnswer::Nothing(
            "no cut at no seat and index fits the choice",
        )),
        Ok(answer) => Ok(answer),
        Err(CheckError::Stopped) => Err(NoAnswer::Stopped),
        Err(fault) => Err(NoAnswer::Refused(fault)),
    }
}

pub(super) fn options(args: &AskArgs) -> CheckOptions {
    CheckOptions {
        cuts: args.cuts.clone(),
        seats: args.seats.clone(),
        tools: args.tools.clone(),
        index_deg: args.index_deg,
        tolerance_mm: args.tolerance_mm,
        lengths: !args.no_lengths,
        remedies: !args.no_remedies,
        overlaps: !args.no_remedies,
    }
}

/// Colours only where standard output is a terminal that shows them and `NO_COLOR` is not set.
fn text_options(args: &CheckArgs) -> TextOptions {
    let stdout = std::io::stdout();
    let choice = anstream::AutoStream::choice(&stdout);
    let shows_colour = stdout.is_terminal() && choice != anstream::ColorChoice::Never;
    TextOptions {
        unit: unit(args.ask.units),
        colour: shows_colour && args.output.is_none(),
        every_index: args.every_index,
    }
}

pub(super) const fn unit(units: Units) -> Unit {
    match units {
        Units::Mm => Unit::Mm,
        Units::Inch => Unit::Inch,
    }
}

/// Counts the faults and says what to do.
fn closing_line(faults: &[FileFault]) -> String {
    let errors = faults
        .iter()
        .filter(|fault| fault.severity == Severity::Error)
        .count();
    let warnings = faults.len() - errors;
    let plural = |number: usize| if number == 1 { "" } else { "s" };
    let mut text = format!("{errors} error{}", plural(errors));
    if warnings > 0 {
        text.push_str(&format!(" and {warnings} warning{}", plural(warnings)));
    }
    text + ": nothing was checked; mend the errors above and run it again"
}

#[cfg(test)]
mod tests {
    use super::super::args::{Cli, Command};
    use super::*;
    use clap::Parser;

    #[test]
    fn a_stop_leaves_no_report() {
        let folder = tempfile::tempdir().unwrap();
        let report = folder.path().join("report.txt");
        let words = [
            "lapidary",
            "check",
            "job.toml",
            "-o",
            report.to_str().unwrap(),
        ];
        let Command::Check(args) = Cli::try_parse_from(words).unwrap().command else {
            panic!("check was asked for");
        };
        let reason = answer_and_report(&args, &AtomicBool::new(true)).unwrap_err();
        assert!(matches!(reason, NoAnswer::Stopped));
        assert_eq!(reason.exit().number(), 130);
        assert_eq!(folder.path().read_dir().unwrap().count(), 0);
    }

    #[test]
    fn faults_are_counted_in_words() {
        let fault = |severity| FileFault {
            file: PathBuf::from("job.toml"),
            line: None,
            severity,
            message: "odd".to_owned(),
        };
        let faults = [Severity::Error, Severity::Error, Severity::Warning].map(fault);
        assert!(closing_line(&faults).starts_with("2 errors and 1 warning: nothing was checked"));
        assert!(closing_line(&faults[..1]).starts_with("1 error: "));
    }
}
