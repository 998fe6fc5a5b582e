//! `lapidary lengths`: load, ask, report.

use super::args::{Format, Units};
use super::check::{NoAnswer, files_of, in_threads, load_job, told};
use super::exit::Exit;
use super::lengths_args::LengthsArgs;
use super::output;
use super::progress::progress;
use super::{say, stop};
use crate::answer::check::{CheckError, CheckOptions};
use crate::answer::lengths::{LengthsAnswer, LengthsAsk, Proposal, lengths};
use crate::answer::reach::ReachOptions;
use crate::report::{LengthsReport, TextOptions, lengths_json, lengths_text};
use crate::setup::model::Setup;
use crate::value::Unit;
use std::sync::atomic::{AtomicBool, Ordering};

/// Finds gauge lengths and reports.
#[must_use]
pub fn run(args: &LengthsArgs) -> Exit {
    let stop = stop::on_ctrl_c();
    told(answer_and_report(args, &stop))
}

fn answer_and_report(args: &LengthsArgs, stop: &AtomicBool) -> Result<Exit, NoAnswer> {
    let loaded = load_job(&args.job, stop)?;
    if let Some(path) = &args.output {
        output::can_write(path, &files_of(&args.job, &loaded.sources))?;
    }
    loaded.warnings.iter().for_each(say);
    let answer = ask(args, &loaded.setup, stop)?;
    let report = LengthsReport {
        answer: &answer,
        warnings: &loaded.warnings,
    };
    let text = match args.format {
        Format::Text => lengths_text(&answer, text_options(args)),
        Format::Json => lengths_json(&report)?,
    };
    if stop.load(Ordering::SeqCst) {
        return Err(NoAnswer::Stopped);
    }
    match &args.output {
        Some(path) => output::to_file(path, &text)?,
        None => output::to_stdout(&text)?,
    }
    Ok(exit_of(&answer))
}

fn ask(args: &LengthsArgs, setup: &Setup, stop: &AtomicBool) -> Result<LengthsAnswer, NoAnswer> {
    if setup.cuts.is_empty() && !args.reached {
        return Err(NoAnswer::Nothing(
            "the job has no cuts; with --reached its tools are set for the faces that they reach",
        ));
    }
    let reached = || ReachOptions {
        tools: args.tools.clone(),
        indexes_deg: args.indexes_deg.clone(),
        every_deg: args.every_deg,
        seats: args.seats.clone(),
        faces: args.faces.clone(),
        from_share: args.from_share,
        ..ReachOptions::default()
    };
    let ask = LengthsAsk {
        step_mm: args.step_mm,
        check: CheckOptions {
            tools: args.tools.clone(),
            tolerance_mm: args.tolerance_mm,
            ..CheckOptions::default()
        },
        reached: args.reached.then(reached),
    };
    let progress = progress();
    let work = || lengths(setup, &ask, progress.as_ref(), stop);
    match in_threads(args.threads, work)? {
        Ok(answer) => Ok(answer),
        Err(CheckError::Stopped) => Err(NoAnswer::Stopped),
        Err(fault) => Err(NoAnswer::Refused(fault)),
    }
}

/// 0 where every tool has a length, 1 where one has none, 3 where only something is unknown.
fn exit_of(answer: &LengthsAnswer) -> Exit {
    let any = |is: fn(&Proposal) -> bool| answer.tools.iter().any(|tool| is(&tool.proposal));
    let unknown = |proposal: &Proposal| matches!(proposal, Proposal::NotProved { .. });
    if !answer.sense_declared {
        Exit::Unknown
    } else if any(|p| !matches!(p, Proposal::Set { .. } | Proposal::NotProved { .. })) {
        Exit::Trouble
    } else if any(unknown) {
        Exit::Unknown
    } else {
        Exit::Clear
    }
}

fn text_options(args: &LengthsArgs) -> TextOptions {
    TextOptions {
        unit: match args.units {
            Units::Mm => Unit::Mm,
            Units::Inch => Unit::Inch,
        },
        ..TextOptions::default()
    }
}
