//! `reach` against shapes whose shares have a closed form.
//!
//! Each test states its formula; the exact share must lie in the certified bracket, and the bracket
//! must be narrow.

#![allow(
    clippy::unwrap_used,
    reason = "a test that cannot go on must say where"
)]

#[path = "../adversary/shop.rs"]
#[allow(
    dead_code,
    reason = "the traps use more of the shop than the shares do"
)]
mod shop;

#[path = "../adversary/models.rs"]
#[allow(dead_code, reason = "the traps use more models than the shares do")]
mod models;

#[path = "../faces/bodies.rs"]
#[allow(dead_code, reason = "the faces use more bodies than the shares do")]
mod bodies;

mod bands;
mod broken;
mod choice;
mod corners;
mod dial;
mod lab;
mod leaning;
mod lengths;
mod narrow;
mod reasons;
mod round;
mod rounded;
mod shadow;
mod shares;
mod singly;
mod slots;
mod travel;
