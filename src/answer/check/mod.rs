//! `check`: does every tool reach its place, and how close does anything come.

mod erode;
mod measure;
pub mod model;
pub mod sweep;

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
}

/// Checks every cut, seat and index of a job.
///
/// # Errors
/// [`CheckError::NotInJob`] for a cut, seat or tool that the job does not have;
/// [`CheckError::Stopped`] when `stop` was set before the end: no half answer is given.
pub fn check(
    _setup: &Setup,
    _options: &CheckOptions,
    _progress: &dyn Progress,
    _stop: &AtomicBool,
) -> Result<model::CheckAnswer, CheckError> {
    Err(CheckError::Stopped)
}
