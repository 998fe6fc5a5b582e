//! Layer `gap`.
