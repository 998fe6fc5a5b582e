//! `lapidary reach`: load, ask, report.

use super::check::{NoAnswer, files_of, in_threads, load_job, told};
use super::exit::Exit;
use super::output;
use super::progress::progress;
use super::reach_args::{ReachArgs, ReachFormat};
use super::{say, stop};
use crate::answer::check::CheckError;
use crate::answer::reach::choice::choose;
use crate::answer::reach::{ReachOptions, reach};
use crate::report::{ReachReport, reach_csv, reach_json, reach_text};
use std::sync::atomic::{AtomicBool, Ordering};

/// Asks which faces each tool reaches, and reports.
#[must_use]
pub fn run(args: &ReachArgs) -> Exit {
    let stop = stop::on_ctrl_c();
    told(answer_and_report(args, &stop))
}

fn answer_and_report(args: &ReachArgs, stop: &AtomicBool) -> Result<Exit, NoAnswer> {
    let loaded = load_job(&args.job, stop)?;
    if let Some(path) = &args.output {
        output::can_write(path, &files_of(&args.job, &loaded.sources))?;
    }
    loaded.warnings.iter().for_each(say);
    if loaded.setup.tools.is_empty() || loaded.setup.parts.is_empty() {
        return Err(NoAnswer::Nothing("the job has no tools or no parts"));
    }
    let options = ReachOptions {
        indexes_deg: args.indexes_deg.clone(),
        every_deg: args.every_deg,
        tools: args.tools.clone(),
        parts: args.parts.clone(),
        seats: args.seats.clone(),
        grain_mm: args.grain_mm,
        least_area_mm2: args.least_area_mm2,
        faces: args.faces.clone(),
        most_faces: args.most_faces,
        bores_mm: Vec::new(),
        from_share: args.from_share,
        halvings: args.halvings,
        bands: args.bands,
        bands_to_deg: args.bands_to_deg,
        at_indexes: true,
    };
    let progress = progress();
    let work = || reach(&loaded.setup, &options, progress.as_ref(), stop);
    let answer = match in_threads(args.threads, work)? {
        Ok(answer) => answer,
        Err(CheckError::Stopped) => return Err(NoAnswer::Stopped),
        Err(fault) => return Err(NoAnswer::Refused(fault)),
    };
    let choice =
        choose(&answer, args.from_share).map_err(|fault| NoAnswer::Failed(fault.to_string()))?;
    let report = ReachReport {
        answer: &answer,
        choice: &choice,
        options: &options,
        warnings: &loaded.warnings,
    };
    let text = match args.format {
        ReachFormat::Text => reach_text(&report),
        ReachFormat::Json => reach_json(&report)?,
        ReachFormat::Csv => reach_csv(&answer).map_err(NoAnswer::Failed)?,
    };
    if stop.load(Ordering::SeqCst) {
        return Err(NoAnswer::Stopped);
    }
    match &args.output {
        Some(path) => output::to_file(path, &text)?,
        None => output::to_stdout(&text)?,
    }
    Ok(if answer.sense_declared {
        Exit::Clear
    } else {
        Exit::Unknown
    })
}
