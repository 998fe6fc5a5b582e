//! Layer `setup`.
