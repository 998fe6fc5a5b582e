//! Layer `answer`.
