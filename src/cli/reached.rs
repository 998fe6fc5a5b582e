//! `--reached` of `check` and `report`: at which rotary angles tools reach faces.

use super::args::AskArgs;
use super::check::{NoAnswer, in_threads};
use super::progress::progress;
use super::reach_args::{How, ReachedArgs};
use crate::answer::check::CheckError;
use crate::answer::drawing::model::ReachedBy;
use crate::answer::reach::model::ReachAnswer;
use crate::answer::reach::{ReachOptions, reach};
use crate::report::Reached;
use crate::setup::file::ToolKind;
use crate::setup::model::Setup;
use std::sync::atomic::AtomicBool;

/// Distance of single angles. A page is not to wait for minutes: on the demo job (88 faces, nine tools, twelve
/// seats) these 24 angles take 29 s of processor time, the six largest faces 10 s, and bands many minutes.
/// Quarters, eighths and thirds of a turn are among them, at which most carriers have their sides.
const EVERY_DEG: f64 = 15.0;

/// The largest faces of each part: these have rings on the dials of tools, as many as stand on one dial, and bands
/// are asked of no others.
const LARGEST: usize = 6;

/// A little less than all, as the last pieces at the edges of a face often stay undecided.
const FROM_SHARE: f64 = 0.95;

/// An end of a band is told to degrees, as a dial shows it.
const BANDS_TO_DEG: f64 = 2.0;

/// What narrows a question that is not asked.
const NOT_ASKED: &str =
    "--face, --most-faces and --share go with --reached=steps and --reached=bands";

/// Single angles have no ends to find.
const NO_BANDS: &str = "--bands-to goes with --reached=bands";

/// An answer with how it was asked.
pub struct Asked {
    /// The answer.
    pub answer: ReachAnswer,
    /// What is shown of it.
    pub by: ReachedBy,
    /// How many faces of each part, the largest, have rings on dials of tools; all that are named.
    pub largest: usize,
    options: ReachOptions,
}

impl Asked {
    /// For a report.
    pub const fn told(&self) -> Reached<'_> {
        Reached {
            answer: &self.answer,
            options: &self.options,
            by: self.by,
        }
    }
}

/// How to ask, with what holds where `--reached` is not given. Refuses options that would change nothing.
pub fn how(args: &ReachedArgs, unless_given: How) -> Result<How, NoAnswer> {
    let how = args.reached.unwrap_or(unless_given);
    let narrowed = !args.faces.is_empty() || args.most_faces.is_some() || args.from_share.is_some();
    if args.bands_to_deg.is_some() && how != How::Bands {
        return Err(NoAnswer::Options(NO_BANDS));
    }
    if narrowed && how == How::None {
        return Err(NoAnswer::Options(NOT_ASKED));
    }
    Ok(how)
}

/// A drill makes none of the largest faces: where only these are asked about, so are its bores. They have no
/// bands.
fn bores_mm(args: &ReachedArgs, how: How, of_check: &AskArgs, setup: &Setup) -> Vec<f64> {
    if how != How::Steps || args.most_faces.is_none() {
        return Vec::new();
    }
    let drills = setup.tools.iter();
    let drills = drills.filter(|tool| {
        let chosen = of_check.tools.is_empty() || of_check.tools.contains(&tool.number);
        tool.kind == ToolKind::Drill && chosen
    });
    drills.map(|tool| tool.diameter_mm).collect()
}

/// Asks for single angles or for bands, where either is asked for.
pub fn ask(
    args: &ReachedArgs,
    how: How,
    of_check: &AskArgs,
    setup: &Setup,
    stop: &AtomicBool,
) -> Result<Option<Asked>, NoAnswer> {
    let from_share = args.from_share.unwrap_or(FROM_SHARE);
    let by = match how {
        How::None => return Ok(None),
        How::Steps => ReachedBy::Steps { from_share },
        How::Bands => ReachedBy::Bands,
    };
    let options = ReachOptions {
        every_deg: EVERY_DEG,
        tools: of_check.tools.clone(),
        seats: of_check.seats.clone(),
        faces: args.faces.clone(),
        most_faces: args.most_faces.or((how == How::Bands).then_some(LARGEST)),
        from_share,
        bands: how == How::Bands,
        bands_to_deg: args.bands_to_deg.unwrap_or(BANDS_TO_DEG),
        bores_mm: bores_mm(args, how, of_check, setup),
        at_indexes: how == How::Steps,
        ..ReachOptions::default()
    };
    let progress = progress();
    let work = || reach(setup, &options, progress.as_ref(), stop);
    match in_threads(of_check.threads, work)? {
        Ok(answer) => Ok(Some(Asked {
            answer,
            by,
            largest: match args.faces[..] {
                [] => LARGEST,
                _ => usize::MAX,
            },
            options,
        })),
        Err(CheckError::Stopped) => Err(NoAnswer::Stopped),
        Err(fault) => Err(NoAnswer::Refused(fault)),
    }
}
