//! Certified gaps between bodies, at rest and over motions that are swept exactly, not sampled.
//!
//! | file | job |
//! |---|---|
//! | `ask` | motions, options, brackets, witnesses: what is asked and answered |
//! | `piece`, `shape` | solids of revolution, meshes, placed bodies |
//! | `group` | the entry points: checks the question, then rest or turn, then containment |
//! | `rest`, `mesh_pair` | one pair at one relative pose, the first body spread or not |
//! | `turn`, `team`, `orbit` | the second group turns: best first over (part, part, angle) |
//! | `contain`, `inside`, `cavity` | a body wholly inside another, shell by shell |
//! | `convex`, `simplex`, `triangle_pair` | leaf queries: brackets of two convex sets |
//! | `sweep` | a spread in one frame, and the convex sets that leaf queries compare |
//! | `tip_stop/` | how far a tool comes down along a direction |
//! | `tree`, `build`, `bounds`, `wide` | trees of boxes, and lower values for boxes |
//! | `search` | the bracket so far, the limit of interest, and the work done |
//! | `section` | plane sections of bodies, for drawings |
//!
//! # Guarantees
//! - **Lower values are certified.** `lo_mm` is the least of all bounds that let a pair go: distances
//!   of boxes rounded outward, of (axial, radius, angle) boxes, and widths of slabs between two
//!   convex sets, each lessened by at least ten times its rounding error. No estimate enters.
//! - **Upper values are real.** `hi_mm` is the distance of two points really in the bodies, at a
//!   moment really in the motion; both are in the witness.
//! - **Nothing is sampled.** A spread is a Minkowski sum, and a convex body spread over a convex
//!   set is convex: a line or a whole pocket is one query for each pair of leaves. A turn is
//!   covered by intervals of angle, see `turn`.
//! - **Containment goes with every answer**, also a capped or early one: no surface contact
//!   happens while the lower value is above 0, so no connected part can change sides, and
//!   one pose speaks for the whole motion (see `contain`).
//! - **Same question, same answer**: the search runs on one thread in a fixed order, and the tree
//!   does not depend on the threads that built it.
//! - Nothing panics: poses, meshes and motions are checked first.
//!
//! # What is not promised
//! A bracket at rest is as a rule narrower than 1e-7 mm, over a turn as narrow as asked; where the
//! work runs out, a point's side of an open shell is not clear, or a leaf query stalls, it is wider and
//! says so by `decided`. Bodies nearer than some 1e-10 mm count as touching. Coordinates should stay below
//! some 1e5 mm: the rounding allowance grows with them.

mod ask;
mod bounds;
mod build;
mod cavity;
mod contain;
mod convex;
mod group;
mod inside;
mod mesh_pair;
mod orbit;
mod piece;
mod rest;
mod search;
mod section;
mod shape;
mod simplex;
mod sweep;
mod team;
mod tip_stop;
mod tree;
mod triangle_pair;
mod turn;
mod wide;

pub use ask::{
    Ask, CannotAsk, Contained, Decision, Gap, HalfSpace, Motion, Part, Side, Spread, Turn, Witness,
};
pub use group::{at_least, group_gap, pair_gap, parts_gap};
pub use piece::{Piece, Revolved, Ring};
pub use section::{Outline, half_profile, section};
pub use shape::{MeshShape, Placed, Shape};
pub use tip_stop::{
    Freedom, Landscape, Stack, StackElement, StoppedBy, TipStop, tip_is_free, tip_is_free_beyond,
    tip_stop, tips_are_free,
};
