//! Closed forms, laws, and slow searches.

mod closed;
mod random;

use super::{Landscape, Stack, StackElement, TipStop, tip_stop};
use crate::gap::{MeshShape, Piece, Placed, Revolved, Ring, Shape};
use crate::mesh::{Chord, Mesh};
use crate::value::{Pose, Vec3};
use nalgebra::Point3;
use std::sync::Arc;

pub(super) type Soup = Vec<[Vec3; 3]>;

pub(super) fn placed(soup: &[[Vec3; 3]]) -> Placed {
    let triangles: Vec<[Point3<f64>; 3]> = soup.iter().map(|t| t.map(Point3::from)).collect();
    let (mesh, _) = Mesh::from_triangles(&triangles, Chord::Stated(0.0)).unwrap();
    let shape = Arc::new(MeshShape::new(Arc::new(mesh)).unwrap());
    Placed::mesh(&shape, Pose::identity())
}

pub(super) fn landscape(soup: &[[Vec3; 3]]) -> Landscape {
    Landscape::new(&[placed(soup)], &Pose::identity()).unwrap()
}

pub(super) fn element(pieces: &[Vec<Ring>], gap_mm: f64) -> StackElement {
    let pieces = pieces
        .iter()
        .map(|rings| Piece::new(rings.clone()).unwrap());
    StackElement {
        shape: Shape::Revolved(Arc::new(Revolved::new(pieces.collect()).unwrap())),
        tool_from_body: Pose::identity(),
        wanted_gap_mm: gap_mm,
    }
}

pub(super) fn stack(rings: Vec<Ring>, gap_mm: f64) -> Stack {
    Stack::new(&[element(&[rings], gap_mm)]).unwrap()
}

pub(super) fn flat(radius_mm: f64) -> Vec<Ring> {
    vec![Ring::disc(radius_mm, 0.0), Ring::disc(radius_mm, 30.0)]
}

pub(super) fn bull(radius_mm: f64, corner_mm: f64) -> Vec<Ring> {
    let ring = Ring {
        radius_mm: radius_mm - corner_mm,
        height_mm: corner_mm,
        ball_mm: corner_mm,
    };
    vec![ring, Ring::disc(radius_mm, 30.0)]
}

pub(super) fn ball(radius_mm: f64) -> Vec<Ring> {
    bull(radius_mm, radius_mm)
}

/// A drill with its point: half of the point angle, in degrees.
pub(super) fn drill(radius_mm: f64, half_deg: f64) -> Vec<Ring> {
    let point_mm = radius_mm / half_deg.to_radians().tan();
    vec![
        Ring::disc(0.0, 0.0),
        Ring::disc(radius_mm, point_mm),
        Ring::disc(radius_mm, 60.0),
    ]
}

/// The bracket must hold the value and be narrow.
pub(super) fn assert_stop(stop: &TipStop, value_mm: f64) {
    assert!(
        stop.lo_mm <= value_mm + 1e-9 && stop.hi_mm >= value_mm - 1e-9,
        "{stop:?} misses {value_mm}"
    );
    assert!(stop.hi_mm - stop.lo_mm < 1e-8, "{stop:?} is wide");
}

pub(super) fn stop_at(stack: &Stack, soup: &[[Vec3; 3]], at_mm: [f64; 2]) -> TipStop {
    tip_stop(stack, &landscape(soup), at_mm, 0.0)
}
