//! Tests of whole jobs, from text to model.

mod fixture;
mod good;
