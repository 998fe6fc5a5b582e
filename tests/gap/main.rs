//! The gap engine against analytic answers, slow independent methods, and its own laws.

#![allow(clippy::unwrap_used)]

mod analytic;
mod brute;
mod campaign;
mod laws;
mod models;
mod slow;
mod tip;
