//! Tests of whole jobs, from text to model.

mod fixture;
mod good;
mod meaning;
mod structure;
mod tools;
