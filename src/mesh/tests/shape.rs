//! shape
