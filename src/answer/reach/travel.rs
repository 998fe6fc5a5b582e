//! Travel over an interval of angle: is the machine within it at every tip of a piece, at none, or where
//! does it end?

use super::bands::BandQuestion;
use super::element::ROOM_OF_MOVED;
use super::ladder::ROOM_MM;
use super::patch::Edge;
use super::place::{Held, Place};
use crate::value::Vec3;
use nalgebra::Point3;

/// What holds for all tips of a piece.
pub enum Travel {
    Within,
    Outside,
    /// Neither; a cut there tells more.
    Ends(Edge),
    /// Neither; only a narrower interval tells more.
    Close,
}

impl BandQuestion<'_> {
    /// Asks.
    pub(super) fn travel(&self, held: &Held, place: &Place) -> Travel {
        let table_from_approach = self.table_from_approach();
        let kinematics = &self.scene.kinematics;
        let gauge_mm = self.ready.tool.gauge_length_mm;
        let at: Vec<[f64; 3]> = held
            .tips
            .iter()
            .map(|tip| kinematics.positions_mm(table_from_approach * Point3::from(*tip), gauge_mm))
            .collect();
        let grown_mm = held.shift_mm + held.swing_mm(place) + ROOM_MM;
        let far_mm = grown_mm + held.smooth_mm;
        let room_mm = ROOM_OF_MOVED * grown_mm;
        let (mut within, mut ends) = (true, None);
        for (axis, limits) in kinematics.axes().iter().enumerate() {
            for (sign, limit_mm) in [(1.0, limits.high_mm), (-1.0, limits.low_mm)] {
                // How far each tip is beyond the limit.
                let beyond = at.iter().map(|at| sign * (at[axis] - limit_mm));
                let low_mm = beyond.clone().fold(f64::INFINITY, f64::min);
                let high_mm = beyond.fold(f64::NEG_INFINITY, f64::max);
                if low_mm > far_mm {
                    return Travel::Outside;
                }
                within &= high_mm <= -grown_mm;
                let has_room = |at: &f64| (low_mm + room_mm..high_mm - room_mm).contains(at);
                if let Some(at_mm) = [-grown_mm, far_mm].into_iter().find(has_room) {
                    let grows = |along: Vec3| {
                        let along = table_from_approach.rotation * along;
                        sign * kinematics.positions_per_shift(along)[axis]
                    };
                    let normal = Vec3::new(grows(Vec3::x()), grows(Vec3::y()), grows(Vec3::z()));
                    let point = held.tips[0] - held.middle_tip() + held.middle;
                    let from_mm = sign * (at[0][axis] - limit_mm);
                    let offset_mm = normal.dot(&point) + at_mm - from_mm;
                    ends = ends.or(Some(Edge { normal, offset_mm }));
                }
            }
        }
        match (within, ends) {
            (true, _) => Travel::Within,
            (_, Some(edge)) => Travel::Ends(edge),
            _ => Travel::Close,
        }
    }
}
