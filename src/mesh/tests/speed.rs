//! speed
