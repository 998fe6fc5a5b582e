//! Cases in which the answer is known by construction, made to mislead: no false clear, ever.
//!
//! `planted` hides a gap of known size at one moment of a motion; `flat` has minima that last;
//! `thin` has needles, plates and slivers; `bodies` has bodies inside bodies. Each suite prints its
//! seed and its counts (`--nocapture` shows them); `tally` holds the gate.

#![allow(clippy::unwrap_used)]

mod bodies;
mod flat;
mod jobs;
mod models;
mod planted;
mod shop;
mod stage;
mod tally;
mod thin;
