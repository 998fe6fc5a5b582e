//! Layer `report`.
