//! Lapidary checks an indexed, multi-side machining setup before its program is posted.
//!
//! Data flows one way: job file -> [`setup`] -> [`gap`] engine -> [`answer`] -> [`report`].
//! Imports point down only, in this order: `cli`, `report`, `answer`, `gap`, `setup`, `mesh`,
//! `value`.

pub mod answer;
pub mod cli;
pub mod gap;
pub mod mesh;
pub mod report;
pub mod setup;
pub mod value;
