//! `check`: does every tool reach its place, and how close does anything come.

mod base;
mod change;
pub mod course;
pub(in crate::answer) mod erode;
mod full_depth;
pub(in crate::answer) mod judge;
mod known;
mod lengths;
mod meant;
pub(in crate::answer) mod measure;
pub mod model;
mod moment;
mod moves;
mod overlap;
pub mod own_part;
pub mod plan;
mod region;
mod reliance;
mod remedy;
mod run;
mod search;
mod sites;
pub mod sweep;
pub(in crate::answer) mod swing;
mod thread;
mod travel;
mod trial;
mod trouble;
mod violation;
mod work;

use crate::answer::scene::ShapeStore;
use crate::setup::model::Setup;
use std::sync::atomic::AtomicBool;

/// How to ask.
#[derive(Debug, Clone)]
pub struct CheckOptions {
    /// Names of the cuts to check; empty for all.
    pub cuts: Vec<String>,
    /// Names of the seats to check; empty for all.
    pub seats: Vec<String>,
    /// Numbers of the tools to check; empty for all.
    pub tools: Vec<u32>,
    /// Only this rotary angle.
    pub index_deg: Option<f64>,
    /// Width of a bracket at which a motion's least gap counts as found.
    pub tolerance_mm: f64,
    /// Whether to look for shortest and longest gauge lengths.
    pub lengths: bool,
    /// Whether to look for remedies.
    pub remedies: bool,
    /// Whether to look for by how much bodies overlap, and where that can be measured.
    pub overlaps: bool,
}

impl Default for CheckOptions {
    fn default() -> Self {
        Self {
            cuts: Vec::new(),
            seats: Vec::new(),
            tools: Vec::new(),
            index_deg: None,
            tolerance_mm: 0.001,
            lengths: true,
            remedies: true,
            overlaps: true,
        }
    }
}

/// Told how far a long answer has come.
pub trait Progress: Sync {
    /// A stage begins that has this many steps.
    fn stage(&self, name: &str, steps: usize);
    /// One step is done.
    fn step(&self);
}

/// No one is told.
#[derive(Debug, Clone, Copy)]
pub struct Silent;

impl Progress for Silent {
    fn stage(&self, _name: &str, _steps: usize) {}
    fn step(&self) {}
}

/// Why no answer was given.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum CheckError {
    /// The caller asked to stop.
    #[error("stopped before the answer was complete")]
    Stopped,
    /// A name or number that the job does not have.
    #[error("{0}")]
    NotInJob(String),
    /// The engine refuses a question; a checked setup gives none such.
    #[error("the setup cannot be asked: {0}")]
    CannotAsk(#[from] crate::gap::CannotAsk),
}

/// Checks every cut, seat and index of a job.
///
/// # Errors
/// [`CheckError::NotInJob`] for a cut, seat or tool that the job does not have;
/// [`CheckError::Stopped`] when `stop` was set before the end: no half answer is given.
pub fn check(
    setup: &Setup,
    options: &CheckOptions,
    progress: &dyn Progress,
    stop: &AtomicBool,
) -> Result<model::CheckAnswer, CheckError> {
    let store = ShapeStore::build(setup)?;
    run::run(setup, store, options, progress, stop)
}

/// As [`check`], with trees that were built before: for a setup that is asked again and again.
///
/// # Errors
/// As [`check`]; also where `store` was not built from this setup's meshes.
pub fn check_with(
    setup: &Setup,
    store: &ShapeStore,
    options: &CheckOptions,
    progress: &dyn Progress,
    stop: &AtomicBool,
) -> Result<model::CheckAnswer, CheckError> {
    run::run(setup, store.clone(), options, progress, stop)
}

/// The tools that cut, by number in the list, each with its range of lengths and whether the length
/// that `propose` gives for that range keeps every wanted gap.
///
/// # Errors
/// As [`check`].
pub fn judge_lengths(
    setup: &Setup,
    options: &CheckOptions,
    propose: &(dyn Fn(&model::ToolLengths) -> Option<f64> + Sync),
    progress: &dyn Progress,
    stop: &AtomicBool,
) -> Result<Vec<(usize, model::ToolLengths, bool)>, CheckError> {
    run::lengths_alone(setup, options, propose, progress, stop)
}

impl CheckOptions {
    /// Whether every name and number chosen is in the job.
    fn fits(&self, setup: &Setup) -> Result<(), CheckError> {
        let missing = |what: &str, name: &dyn std::fmt::Display, has: Vec<String>| {
            let list = has.join(", ");
            Err(CheckError::NotInJob(format!(
                "the job has no {what} `{name}`; it has: {list}"
            )))
        };
        for name in &self.cuts {
            if !setup.cuts.iter().any(|cut| cut.name == *name) {
                return missing(
                    "cut",
                    name,
                    setup.cuts.iter().map(|c| c.name.clone()).collect(),
                );
            }
        }
        for name in &self.seats {
            if !setup.seats.iter().any(|seat| seat.name == *name) {
                return missing(
                    "seat",
                    name,
                    setup.seats.iter().map(|s| s.name.clone()).collect(),
                );
            }
        }
        for number in &self.tools {
            if !setup.tools.iter().any(|tool| tool.number == *number) {
                let has = setup
                    .tools
                    .iter()
                    .map(|tool| tool.number.to_string())
                    .collect();
                return missing("tool", number, has);
            }
        }
        Ok(())
    }
}
