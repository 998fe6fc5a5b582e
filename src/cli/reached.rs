//! `--reached` of `check` and `report`: over which rotary angles tools reach faces.

use super::args::AskArgs;
use super::check::{NoAnswer, in_threads};
use super::progress::progress;
use super::reach_args::ReachedArgs;
use crate::answer::check::CheckError;
use crate::answer::reach::model::ReachAnswer;
use crate::answer::reach::{ReachOptions, reach};
use crate::report::Reached;
use crate::setup::model::Setup;
use std::sync::atomic::AtomicBool;

/// An answer with how it was asked.
pub struct Asked {
    /// The answer.
    pub answer: ReachAnswer,
    options: ReachOptions,
}

impl Asked {
    /// For a report.
    pub const fn told(&self) -> Reached<'_> {
        Reached {
            answer: &self.answer,
            options: &self.options,
        }
    }
}

/// Asks for bands, where that is asked for.
pub fn ask(
    args: &ReachedArgs,
    of_check: &AskArgs,
    setup: &Setup,
    stop: &AtomicBool,
) -> Result<Option<Asked>, NoAnswer> {
    if !args.reached {
        return Ok(None);
    }
    let options = ReachOptions {
        tools: of_check.tools.clone(),
        seats: of_check.seats.clone(),
        faces: args.faces.clone(),
        most_faces: Some(args.most_faces),
        bands_from_share: Some(args.from_share),
        bands_to_deg: args.bands_to_deg,
        at_indexes: false,
        ..ReachOptions::default()
    };
    let progress = progress();
    let work = || reach(setup, &options, progress.as_ref(), stop);
    match in_threads(of_check.threads, work)? {
        Ok(answer) => Ok(Some(Asked { answer, options })),
        Err(CheckError::Stopped) => Err(NoAnswer::Stopped),
        Err(fault) => Err(NoAnswer::Refused(fault)),
    }
}
