//! The window of lapidary: a setup at its worst place, and the dial that turns it.
//!
//! Decides nothing: gaps, verdicts, moments and changed setups come from [`lapidary::answer`].
//!
//! - [`state`], [`act`], [`doing`], [`change`]: what is shown, as plain values
//! - [`worker`], [`tasks`], [`reached`]: threads that check, measure, merge and ask where a tool reaches
//! - [`shapes`], [`clip`], [`pick`]: triangles to draw, cut open, hit by a ray
//! - [`scene`], [`eye`], [`views`], [`marks`], [`panels`], [`sheets`], [`dial`]: what is seen
//! - [`window`], [`picture`], [`log`]: the loop, pictures, panel values as JSON lines
//! - [`timing`]: how long a start and a frame take
//! - [`args`], [`job`], [`ready`], [`words`]: arguments, files, drivers, sentences

pub mod act;
pub mod args;
pub mod change;
pub mod clip;
pub mod controls;
pub mod dial;
pub mod doing;
pub mod eye;
pub mod fields;
pub mod fonts;
pub mod job;
pub mod log;
pub mod marks;
pub mod panels;
pub mod pick;
pub mod picture;
pub mod reached;
pub mod ready;
pub mod scene;
pub mod shapes;
pub mod sheets;
pub mod state;
pub mod tasks;
pub mod timing;
pub mod views;
pub mod window;
pub mod words;
pub mod worker;
