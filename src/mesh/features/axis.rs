//! Round walls by the axis they share.

use super::graph::Graph;
use crate::mesh::faces::FaceForm;
use crate::mesh::weld::index_u32;
use crate::value::Vec3;
use nalgebra::Point3;

/// Sine of the angle between axes that count as one: 0.2 degrees.
const ONE_AXIS_SINE: f64 = 0.0035;

/// The same for a cone on the axis of a cylinder: 3 degrees. A drill point of 6 mm with noise of a
/// micrometre is off by one.
const CONE_AXIS_SINE: f64 = 0.052;

/// How far beside the axis the rim of such a cone may have its centre, over its radius.
const CONE_OFFSET_SHARE: f64 = 0.05;

/// A round wall along a common axis.
#[derive(Debug, Clone)]
pub(super) struct Piece {
    pub(super) faces: Vec<u32>,
    /// Reach along the axis from the common point.
    pub(super) from_mm: f64,
    pub(super) to_mm: f64,
    /// Radius at both ends.
    pub(super) radii_mm: [f64; 2],
    pub(super) turn_deg: f64,
}

/// An axis with what stands round it.
pub(super) struct Axis {
    pub(super) point: Point3<f64>,
    pub(super) direction: Vec3,
    pub(super) pieces: Vec<Piece>,
}

/// Walls by their axes; for bosses only cylinders.
pub(super) fn axes(graph: &Graph<'_>, wants_hollow: bool) -> Vec<Axis> {
    let mut axes: Vec<Axis> = Vec::new();
    let (mut straight, mut cones) = (Vec::new(), Vec::new());
    for (index, face) in graph.faces.iter().enumerate() {
        match face.form {
            FaceForm::Cylinder {
                point,
                direction,
                hollow,
                ..
            } if hollow == wants_hollow => {
                straight.push((index, point, direction, 0.0));
            }
            FaceForm::Cone {
                apex,
                direction,
                half_angle_deg,
                to_mm,
                hollow: true,
                ..
            } if wants_hollow => {
                let slope = half_angle_deg.to_radians().tan();
                let rim = apex + direction * to_mm;
                cones.push((index, rim, direction, CONE_OFFSET_SHARE * to_mm * slope));
            }
            _ => {}
        }
    }
    // Cones after cylinders: a short cone knows its place well, but not its axis.
    let tilts = [(straight, ONE_AXIS_SINE), (cones, CONE_AXIS_SINE)];
    for (list, most_sine) in tilts {
        for (index, point, direction, slack_mm) in list {
            let is_same = |axis: &&mut Axis| {
                let offset = (point - axis.point).cross(&axis.direction).norm();
                let tilt = direction.cross(&axis.direction).norm();
                tilt < most_sine && offset < slack_mm + 2.0 * graph.grain_mm
            };
            let form = &graph.faces[index].form;
            let piece = |axis: &Axis| piece(index_u32(index), form, axis);
            if let Some(axis) = axes.iter_mut().find(is_same) {
                let piece = piece(axis);
                axis.pieces.extend(piece);
            } else {
                let mut axis = Axis {
                    point,
                    direction,
                    pieces: Vec::new(),
                };
                axis.pieces.extend(piece(&axis));
                axes.push(axis);
            }
        }
    }
    for axis in &mut axes {
        join_halves(graph, &mut axis.pieces);
    }
    axes
}

fn piece(face: u32, form: &FaceForm, axis: &Axis) -> Option<Piece> {
    let height = |p: Point3<f64>| (p - axis.point).dot(&axis.direction);
    let (ends, radii_mm, turn_deg) = match *form {
        FaceForm::Cylinder {
            point,
            direction,
            radius_mm,
            length_mm,
            turn_deg,
            ..
        } => {
            let ends = [height(point), height(point + direction * length_mm)];
            (ends, [radius_mm; 2], turn_deg)
        }
        FaceForm::Cone {
            apex,
            direction,
            half_angle_deg,
            from_mm,
            to_mm,
            turn_deg,
            ..
        } => {
            let slope = half_angle_deg.to_radians().tan();
            let ends = [
                height(apex + direction * from_mm),
                height(apex + direction * to_mm),
            ];
            (ends, [from_mm * slope, to_mm * slope], turn_deg)
        }
        _ => return None,
    };
    let turned = ends[0] > ends[1];
    let radii_mm = if turned {
        [radii_mm[1], radii_mm[0]]
    } else {
        radii_mm
    };
    let (from_mm, to_mm) = (ends[0].min(ends[1]), ends[0].max(ends[1]));
    Some(Piece {
        faces: vec![face],
        from_mm,
        to_mm,
        radii_mm,
        turn_deg,
    })
}

/// Pieces of one radius that stand beside each other or go on are one wall.
fn join_halves(graph: &Graph<'_>, pieces: &mut Vec<Piece>) {
    pieces.sort_by(|a, b| a.from_mm.total_cmp(&b.from_mm).then(a.faces.cmp(&b.faces)));
    let mut joined: Vec<Piece> = Vec::new();
    for piece in pieces.drain(..) {
        let straight = |p: &Piece| (p.radii_mm[0] - p.radii_mm[1]).abs() < 1e-9;
        let matches = |other: &&mut Piece| {
            let same = straight(&piece) && straight(other);
            let radius = (piece.radii_mm[0] - other.radii_mm[0]).abs() < graph.grain_mm;
            same && radius && piece.from_mm <= other.to_mm + graph.grain_mm
        };
        if let Some(other) = joined.iter_mut().rev().find(matches) {
            let overlap = other.to_mm.min(piece.to_mm) - piece.from_mm;
            let shorter = (piece.to_mm - piece.from_mm).min(other.to_mm - other.from_mm);
            // Side by side their turns add up; one after the other the wider counts.
            other.turn_deg = if overlap > 0.5 * shorter {
                (other.turn_deg + piece.turn_deg).min(360.0)
            } else {
                other.turn_deg.max(piece.turn_deg)
            };
            other.to_mm = other.to_mm.max(piece.to_mm);
            other.faces.extend(&piece.faces);
        } else {
            joined.push(piece);
        }
    }
    *pieces = joined;
}
