//! Tests of whole jobs, from text to model.

mod cuts;
mod fixture;
mod good;
mod laws;
mod meaning;
mod structure;
mod tools;
mod work;
