//! Answers as values: decides everything, shows nothing.

pub mod check;
pub mod contact;
pub mod drawing;
pub mod kinematics;
pub mod lengths;
pub mod moment;
pub mod otherwise;
pub mod reach;
pub mod retool;
pub mod scene;
