//! Tip stop: how far a tool group can come down along a direction over all bodies, and whether its
//! tip may be at a point, the way down included.
//!
//! | file | job |
//! |---|---|
//! | `query`, `search` | the questions, and the search down the pyramid |
//! | `stack` | the tool group: undersides of its pieces, tables of their lowest heights |
//! | `landscape`, `field` | the bodies seen along the approach: cells, and a pyramid of heights |
//! | `underside`, `triangle`, `edge` | height over radius of a convex piece; its stop on one triangle, and on its edges |
//! | `head`, `pair` | meshes of the tool group and turned bodies; the stop of two convex bodies |
//!
//! # Guarantees
//! - The tool comes from above everything, without end: a body of any height is met.
//! - `hi_mm` and `Free` rest on upper values only: greatest heights rounded up, lower values of the
//!   underside, and planes between piece and triangle, each with more than its rounding error.
//! - `lo_mm` and `Stopped` have a point of a body that is really in (or on) the tool.
//! - The answer does not depend on the number of threads.
//!
//! # What is not promised
//! A touch within rounding is neither free nor stopped: the bracket is then a little wide.

mod edge;
mod field;
mod head;
mod landscape;
mod pair;
mod query;
mod search;
mod stack;
mod triangle;
mod underside;

#[cfg(test)]
mod tests;

pub use landscape::Landscape;
pub use query::{
    Freedom, StoppedBy, TipStop, tip_is_free, tip_is_free_beyond, tip_stop, tips_are_free,
};
pub use stack::{Stack, StackElement};
