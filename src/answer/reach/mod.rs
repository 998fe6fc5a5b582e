//! `reach`: which share of each face of a part each tool reaches at which index.
//!
//! | file | job |
//! |---|---|
//! | `run` | the order of work, and the shares put together |
//! | `surface`, `cutter`, `cells` | the part's surface, and the tips that touch it |
//! | `tools`, `around` | tools made ready; all that stands at one index |
//! | `stages` | a tool from one direction: the own part, then all else, other tips |
//! | `decide` | heaps of cells: surely free, surely stopped, or split |
//! | `skyline` | a quick proof that a tip is stopped |
//! | `tally`, `model` | areas by reason; the answer as values |
//!
//! # Guarantees
//! A certain share is proved: at every tip counted, every gap was certified over the whole way down.
//! What is counted as not reached is proved too. The rest is the undecided share.

mod around;
mod cells;
pub mod choice;
mod cutter;
mod decide;
pub mod model;
mod run;
mod skyline;
mod stages;
mod surface;
mod tally;
mod tools;

use super::check::{CheckError, Progress};
use crate::setup::model::Setup;
use std::sync::atomic::AtomicBool;

/// How to ask.
#[derive(Debug, Clone)]
pub struct ReachOptions {
    /// Rotary angles to ask about; empty for every step, and every angle at which a face looks
    /// at the spindle.
    pub indexes_deg: Vec<f64>,
    /// Distance of the steps of a rotary that stops anywhere, or finer than this.
    pub every_deg: f64,
    /// Numbers of the tools; empty for all.
    pub tools: Vec<u32>,
    /// Names of the parts; empty for all.
    pub parts: Vec<String>,
    /// Names of the seats; empty for all.
    pub seats: Vec<String>,
    /// Pieces of the surface no longer than this are not split: they stay undecided.
    pub grain_mm: f64,
}

impl Default for ReachOptions {
    fn default() -> Self {
        Self {
            indexes_deg: Vec::new(),
            every_deg: 5.0,
            tools: Vec::new(),
            parts: Vec::new(),
            seats: Vec::new(),
            grain_mm: 0.5,
        }
    }
}

/// Asks which faces each tool reaches at which index.
///
/// # Errors
/// [`CheckError::NotInJob`] for a tool, part or seat that the job does not have;
/// [`CheckError::Stopped`] when `stop` was set before the end: no half answer is given.
pub fn reach(
    setup: &Setup,
    options: &ReachOptions,
    progress: &dyn Progress,
    stop: &AtomicBool,
) -> Result<model::ReachAnswer, CheckError> {
    run::run(setup, options, progress, stop)
}
