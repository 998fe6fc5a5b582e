//! `reach`: which share of each face of a part each tool reaches at which index.
//!
//! | file | job |
//! |---|---|
//! | `run`, `indexes`, `part` | the order of work: which angles, then directions, tools, seats |
//! | `surface`, `cutter`, `cells`, `rims` | the part's surface, and the tips that touch it |
//! | `tools`, `around`, `lids`, `looks` | tools made ready; all that stands at one index; what may close an open mesh; what looks alike |
//! | `stages`, `choosing` | a tool from one direction: the own part, then all else; a choice of tips |
//! | `ground`, `heap`, `obstacle`, `ladder`, `plane` | heaps of cells: surely free, surely stopped, or split; the tool in many sizes; stops by the face that is touched |
//! | `tally`, `gather`, `model` | areas by cause; the best index and worst seat; the answer as values |
//! | `finer` | faces not decided at their best index, asked again with a finer grain |
//! | `pieces` | the pieces behind a share |
//! | `bands`, `open`, `place`, `alike` | over which angles a face is reached: intervals proved whole; at every seat |
//! | `choice` | the fewest indexes, by an integer program |
//!
//! # Guarantees
//! A certain share is proved: at every tip counted, every gap was certified over the whole way down.
//! What is counted as not reached is proved too. The rest is the undecided share.

mod alike;
mod around;
mod bands;
mod cells;
pub mod choice;
mod choosing;
mod cutter;
mod element;
mod even;
mod finer;
mod gather;
mod ground;
mod heap;
mod indexes;
mod ladder;
mod lids;
mod looks;
pub mod model;
mod obstacle;
mod open;
mod part;
pub mod pieces;
mod place;
mod plane;
mod rims;
mod run;
mod stages;
mod surface;
mod tally;
mod tools;

use super::check::{CheckError, Progress};
use super::scene::ShapeStore;
use crate::setup::model::Setup;
use std::sync::atomic::AtomicBool;

/// How to ask.
#[derive(Debug, Clone)]
pub struct ReachOptions {
    /// Rotary angles to ask about; empty for every step, and every angle at which a face asked about
    /// looks at the spindle.
    pub indexes_deg: Vec<f64>,
    /// Distance of the steps of a rotary that stops anywhere, or finer than this.
    pub every_deg: f64,
    /// Numbers of the tools; empty for all.
    pub tools: Vec<u32>,
    /// Names of the parts; empty for all.
    pub parts: Vec<String>,
    /// Names of the seats; empty for all.
    pub seats: Vec<String>,
    /// Pieces of a face no longer than this are not split: they stay undecided. It holds for a face of
    /// 24 mm x 24 mm; for others it is in proportion, down to a tenth.
    pub grain_mm: f64,
    /// Faces smaller than this are not asked about.
    pub least_area_mm2: f64,
    /// Names of the faces; empty for all.
    pub faces: Vec<String>,
    /// Of each part at most so many faces, the largest; named ones are all asked about.
    pub most_faces: Option<usize>,
    /// Bores of these diameters are asked about beside the largest faces.
    pub bores_mm: Vec<f64>,
    /// A face counts as reached from this certain share on.
    pub from_share: f64,
    /// How often the grain is halved, at most, for a face at its best index where it is not decided
    /// whether it counts as reached.
    pub halvings: u32,
    /// Whether to find bands of angle.
    pub bands: bool,
    /// How wide what is left undecided about the end of a band may be, or so: the wider, the
    /// sooner there is an answer.
    pub bands_to_deg: f64,
    /// Whether shares at indexes are asked for; not where bands alone are wanted.
    pub at_indexes: bool,
}

impl Default for ReachOptions {
    fn default() -> Self {
        Self {
            indexes_deg: Vec::new(),
            every_deg: 5.0,
            tools: Vec::new(),
            parts: Vec::new(),
            seats: Vec::new(),
            grain_mm: 4.0,
            least_area_mm2: 20.0,
            faces: Vec::new(),
            most_faces: None,
            bores_mm: Vec::new(),
            from_share: 0.95,
            halvings: 4,
            bands: false,
            bands_to_deg: 0.01,
            at_indexes: true,
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
    reach_with(setup, &ShapeStore::build(setup)?, options, progress, stop)
}

/// The same with trees that are there already.
///
/// # Errors
/// As [`reach`].
pub fn reach_with(
    setup: &Setup,
    store: &ShapeStore,
    options: &ReachOptions,
    progress: &dyn Progress,
    stop: &AtomicBool,
) -> Result<model::ReachAnswer, CheckError> {
    run::run(setup, store, options, progress, stop)
}
