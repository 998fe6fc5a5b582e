//! Cases in which the answer is known by construction, made to mislead: no false clear, ever.
//!
//! `planted` hides a gap of known size at one moment of a motion; `flat` has minima that last;
//! `thin` has needles, plates and slivers; `bodies` has bodies inside bodies; `jobs` has whole jobs
//! with one trap each, built by `shop`; `walks` plays motions piece by piece. `tally` holds the gate:
//! nothing wrong, at most 1 % unknown.
//!
//! Each suite prints its seed and its counts (`--nocapture` shows them). The seeds are fixed;
//! `LAPIDARY_SEED_SHIFT=1` and so on ask other questions.

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
mod walks;
