//! Units, angles and poses: plain values without I/O.

pub mod angle;
pub mod pose;
pub mod unit;

pub use angle::{cos_sin_deg, wrap_deg};
pub use pose::{Pose, Vec3, about_axis, frame_from_z_and_hint, quarter_turn_exact, translation};
pub use unit::Unit;
