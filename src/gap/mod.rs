//! Certified gaps between bodies, at rest and over motions that are swept exactly, not sampled.

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
mod shape;
mod simplex;
mod sweep;
mod team;
mod tree;
mod triangle_pair;
mod turn;
mod wide;

pub use ask::{
    Ask, CannotAsk, Contained, Decision, Gap, Motion, Part, Side, Spread, Turn, Witness,
};
pub use group::{at_least, group_gap, pair_gap};
pub use piece::{Piece, Revolved, Ring};
pub use shape::{MeshShape, Placed, Shape};
