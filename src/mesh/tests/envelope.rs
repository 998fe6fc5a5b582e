//! envelope
