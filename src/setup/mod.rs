//! Job, machine and tool files to a checked [`model::Setup`], with every fault found in one pass.

pub mod fault;
pub mod file;
pub mod model;

pub use fault::{FileFault, SetupFaults, Severity};
