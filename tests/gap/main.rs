//! The gap engine against analytic answers, slow independent methods, and its own laws.

mod analytic;
mod brute;
mod models;
