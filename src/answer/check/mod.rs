//! `check`: does every tool reach its place, and how close does anything come.

pub mod model;
