//! Axis positions for a tip, carrier poses for an angle, and the angle that faces the spindle.
//!
//! The table frame is the machine frame with the linear axes that move the work at zero: the
//! bed rests in it, the carrier turns in it, and the tool group moves in it.

use crate::setup::file::{Mover, Sense};
use crate::setup::model::{Carrier, LinearAxis, Machine, Seat, Tool};
use crate::value::{Pose, Vec3, about_axis, wrap_deg};
use nalgebra::{Matrix3, Point3, Translation3};

/// How far the access direction may stand from the spindle.
pub const ALIGNMENT_TOLERANCE_DEG: f64 = 0.05;

/// Angles nearer to a whole number of these than 1e-9 degree are taken as that number, so that
/// an angle found by arctangent gives exact quarter turns.
const ANGLE_GRAIN_DEG: f64 = 1e-6;

/// The motions of one machine.
#[derive(Debug, Clone)]
pub struct Kinematics<'a> {
    machine: &'a Machine,
    /// Takes a relative shift of the tool to axis positions.
    positions_from_shift: Matrix3<f64>,
    /// The share of a relative shift that the tool itself makes, in machine coordinates.
    tool_share: Matrix3<f64>,
}

impl<'a> Kinematics<'a> {
    /// Prepares a machine.
    ///
    /// # Errors
    /// `None` where the three directions are not independent; a checked machine never is so.
    #[must_use]
    pub fn new(machine: &'a Machine) -> Option<Self> {
        let directions = machine.axes.each_ref().map(|axis| axis.direction);
        let shift_from_positions = Matrix3::from_columns(&directions);
        let positions_from_shift = shift_from_positions.try_inverse()?;
        let mut tool_columns = directions;
        for (column, axis) in tool_columns.iter_mut().zip(&machine.axes) {
            if axis.moves == Mover::Work {
                *column = Vec3::zeros();
            }
        }
        let tool_share = Matrix3::from_columns(&tool_columns) * positions_from_shift;
        Some(Self {
            machine,
            positions_from_shift,
            tool_share,
        })
    }

    /// Direction from the tip to the spindle.
    #[must_use]
    pub fn spindle(&self) -> Vec3 {
        self.machine.machine_from_spindle_at_zero.rotation * Vec3::z()
    }

    /// `table_from_tool` for a tip in the table frame.
    #[must_use]
    pub fn table_from_tool(&self, tip: Point3<f64>) -> Pose {
        let rotation = self.machine.machine_from_spindle_at_zero.rotation;
        Pose::from_parts(Translation3::from(tip.coords), rotation)
    }

    /// Position of each linear axis that puts the tip of a tool of this gauge length there.
    #[must_use]
    pub fn positions_mm(&self, tip: Point3<f64>, gauge_length_mm: f64) -> [f64; 3] {
        let gauge_point = tip + self.spindle() * gauge_length_mm;
        let at_zero = Point3::from(self.machine.machine_from_spindle_at_zero.translation.vector);
        (self.positions_from_shift * (gauge_point - at_zero)).into()
    }

    /// The tip, in the table frame, for given axis positions: the inverse of
    /// [`Self::positions_mm`].
    #[must_use]
    pub fn tip(&self, positions_mm: [f64; 3], gauge_length_mm: f64) -> Point3<f64> {
        let at_zero = Point3::from(self.machine.machine_from_spindle_at_zero.translation.vector);
        let shift: Vec3 = self
            .axes()
            .iter()
            .zip(positions_mm)
            .map(|(axis, at)| axis.direction * at)
            .sum();
        at_zero + shift - self.spindle() * gauge_length_mm
    }

    /// How far each axis moves for a unit shift along a direction of the table frame.
    #[must_use]
    pub fn positions_per_shift(&self, direction: Vec3) -> [f64; 3] {
        (self.positions_from_shift * direction).into()
    }

    /// Greatest change of each axis within a disc of radius 1 across the spindle.
    #[must_use]
    pub fn positions_per_disc(&self) -> [f64; 3] {
        let spindle = self.spindle();
        [0, 1, 2].map(|axis| {
            let row = self.positions_from_shift.row(axis).transpose();
            (row - spindle * spindle.dot(&row)).norm()
        })
    }

    /// The share of a tool shift (relative to the table, from all axes at zero) that the tool
    /// makes in machine coordinates; the table makes the rest, the other way.
    #[must_use]
    pub fn machine_shift_of_tool(&self, shift_mm: Vec3) -> Vec3 {
        self.tool_share * shift_mm
    }

    /// The shift of the table in machine coordinates for the same relative shift.
    #[must_use]
    pub fn machine_shift_of_table(&self, shift_mm: Vec3) -> Vec3 {
        self.tool_share * shift_mm - shift_mm
    }

    /// The relative shift of the tool from all axes at zero.
    #[must_use]
    pub fn shift_mm(&self, tip: Point3<f64>, gauge_length_mm: f64) -> Vec3 {
        tip - self.tip([0.0; 3], gauge_length_mm)
    }

    /// Linear axes.
    #[must_use]
    pub fn axes(&self) -> &'a [LinearAxis; 3] {
        &self.machine.axes
    }

    /// By how many degrees the work itself turns, right-handed about the rotary direction, per
    /// degree of the rotary; `None` where the machine file does not say.
    ///
    /// # Source
    /// ISO 841 and NISTIR 6556 (RS274/NGC interpreter) 2.1.2.2: a positive rotary axis turns the
    /// tool right-handed as seen from the work, so a table turns the other way.
    #[must_use]
    pub fn work_turn_per_deg(&self) -> Option<f64> {
        self.machine.rotary.sense.map(|sense| match sense {
            Sense::Iso841 => -1.0,
            Sense::Reversed => 1.0,
        })
    }

    /// `table_from_carrier` at a rotary angle; `None` without a declared sense.
    #[must_use]
    pub fn table_from_carrier(&self, carrier: &Carrier, angle_deg: f64) -> Option<Pose> {
        let turn_deg = self.work_turn_per_deg()? * angle_deg;
        let rotary = &self.machine.rotary;
        let turn = about_axis(&rotary.direction, &rotary.centre, turn_deg);
        Some(turn * carrier.machine_from_carrier_at_zero)
    }

    /// The rotary angle at which a direction, given in the table frame at angle zero, points to
    /// the spindle; within [0, 360) where the limits allow, on the index step.
    ///
    /// # Errors
    /// `None` where no allowed angle comes within [`ALIGNMENT_TOLERANCE_DEG`], or without a
    /// declared sense.
    #[must_use]
    pub fn facing_angle_deg(&self, access_at_zero: Vec3) -> Option<f64> {
        let per_deg = self.work_turn_per_deg()?;
        let axis = self.machine.rotary.direction;
        let spindle = self.spindle();
        let flat = |v: Vec3| v - axis * axis.dot(&v);
        let (from, to) = (flat(access_at_zero), flat(spindle));
        let turn_deg = if to.norm() < 1e-9 {
            0.0
        } else {
            axis.dot(&from.cross(&to)).atan2(from.dot(&to)).to_degrees()
        };
        let exact_deg = turn_deg * per_deg;
        let grains = (exact_deg / ANGLE_GRAIN_DEG).round() * ANGLE_GRAIN_DEG;
        let smooth_deg = if (grains - exact_deg).abs() < 1e-9 {
            grains
        } else {
            exact_deg
        };
        let stepped_deg = match self.machine.rotary.step_deg {
            Some(step_deg) => (smooth_deg / step_deg).round() * step_deg,
            None => smooth_deg,
        };
        let allowed_deg = self.within_limits(wrap_deg(stepped_deg))?;
        (self.misalignment_deg(access_at_zero, allowed_deg)? <= ALIGNMENT_TOLERANCE_DEG)
            .then_some(allowed_deg)
    }

    /// The rotary angle at which a seat faces the spindle; as [`Kinematics::facing_angle_deg`].
    #[must_use]
    pub fn seat_facing_deg(&self, carrier: &Carrier, seat: &Seat) -> Option<f64> {
        let machine_from_seat = carrier.machine_from_carrier_at_zero * seat.carrier_from_seat;
        self.facing_angle_deg(machine_from_seat.rotation * Vec3::z())
    }

    /// Angle between a direction, given at angle zero, and the spindle when the rotary stands at
    /// `angle_deg`; `None` without a declared sense.
    #[must_use]
    pub fn misalignment_deg(&self, access_at_zero: Vec3, angle_deg: f64) -> Option<f64> {
        let turn_deg = self.work_turn_per_deg()? * angle_deg;
        let turn = about_axis(&self.machine.rotary.direction, &Point3::origin(), turn_deg);
        let turned = turn * access_at_zero;
        let spindle = self.spindle();
        Some(
            turned
                .cross(&spindle)
                .norm()
                .atan2(turned.dot(&spindle))
                .to_degrees(),
        )
    }

    fn within_limits(&self, angle_deg: f64) -> Option<f64> {
        let Some([low_deg, high_deg]) = self.machine.rotary.limits_deg else {
            return Some(angle_deg);
        };
        [0.0, -360.0, 360.0]
            .map(|turns_deg| angle_deg + turns_deg)
            .into_iter()
            .find(|angle_deg| (low_deg..=high_deg).contains(angle_deg))
    }

    /// The gauge point of a tool in the spindle frame is the origin: pose of nose and head for a
    /// tip, in the table frame.
    #[must_use]
    pub fn table_from_spindle(&self, tip: Point3<f64>, tool: &Tool) -> Pose {
        self.table_from_tool(tip + self.spindle() * tool.gauge_length_mm)
    }
}
