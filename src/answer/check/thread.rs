//! A tap in a hole that is modelled at the diameter before tapping.
//!
//! A model shows a threaded hole either at the major diameter or, more often, as the drill leaves it.
//! In the second case the tap's flutes stand in the wall of their own hole by the depth of the
//! thread: that is the cut itself, and no gouge.

use super::erode::eroded;
use super::judge::Judge;
use super::measure::{Mover, Standing, apart};
use super::moment::Moment;
use super::sweep::Sweep;
use crate::answer::scene::revolved;
use crate::gap::{CannotAsk, Motion, Placed, Shape};
use crate::mesh::{Mesh, SMOOTH_BELOW_DEG};
use crate::setup::model::{FeatureForm, Profile};
use crate::value::{Pose, Vec3};
use nalgebra::Point3;
use std::sync::Arc;

/// How far the normal of a facet of a round wall may look aside from the axis: half of what a facet
/// of the coarsest wall that counts as round turns by.
const ASIDE_DEG: f64 = SMOOTH_BELOW_DEG / 2.0;

/// How far such a normal may look away from the axis: rounding.
const AWAY: f64 = 0.01;

impl Judge<'_> {
    /// Depth of the thread by which a tap stands in the wall of its own hole, where that is all
    /// that it touches of the finished part; `None` where it is not.
    ///
    /// # Guarantees
    /// `Some` is told only where
    /// 1. the flutes less the thread (and the gouge tolerance) are apart from the finished part, and
    /// 2. in the ring between hole and major diameter the finished part has no surface but such as
    ///    goes round the same axis and looks toward it or along it: wall, chamfer, opening, bottom.
    ///
    /// Going outward from the wall of the hole one is in material; the first surface that ends it
    /// looks away from the axis. So 2. proves that the thread stays in material: a thin wall to
    /// another hole or to the outside is told as a gouge, however thin.
    ///
    /// # Source
    /// ISO 68-1 (basic profile) and ISO 724 (basic dimensions), both from memory: with
    /// `H = sqrt(3)/2 P` the minor diameter of an internal thread is `D - 2 * 5/8 H`. The rule
    /// above: own derivation.
    pub(super) fn thread_mm(
        &self,
        moment: &Moment<'_>,
        sweep: &Sweep,
        mover: &Mover<'_>,
        swept: &Motion,
        gouge_mm: f64,
    ) -> Result<Option<f64>, CannotAsk> {
        let depth_mm = moment.tool.thread_depth_mm;
        let round = matches!(moment.cut.feature.form, FeatureForm::RoundHole { .. });
        if depth_mm <= gouge_mm || !round {
            return Ok(None);
        }
        let Some(core) = eroded(&without_thread(&moment.tool.flutes, depth_mm), gouge_mm) else {
            return Ok(None);
        };
        let core = Placed {
            shape: Shape::Revolved(Arc::new(revolved(&core)?)),
            common_from_body: mover.placed.common_from_body,
        };
        let own = &moment.own_last;
        let asked = self.asked(mover.element, sweep.phase);
        if apart(&core, &own.placed, swept, &asked)? != Some(true) {
            return Ok(None);
        }
        let ring = Ring {
            inner_mm: moment.tool.diameter_mm / 2.0 - depth_mm + gouge_mm,
            outer_mm: moment.tool.diameter_mm / 2.0 - gouge_mm,
            along_mm: heights_mm(mover, swept, gouge_mm),
        };
        Ok(ring
            .holds_own_hole_alone(own, &mover.placed.common_from_body)
            .then_some(depth_mm))
    }
}

/// Lowest and highest point of the flutes over the sweep, above the tip that they are placed at.
fn heights_mm(mover: &Mover<'_>, swept: &Motion, gouge_mm: f64) -> [f64; 2] {
    let axis = mover.placed.common_from_body.rotation * Vec3::z();
    let shifts = swept.spread.offsets_mm.iter().map(|shift| shift.dot(&axis));
    let (low, high) = shifts.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), shift| {
        (low.min(shift), high.max(shift))
    });
    let top_mm = match &mover.placed.shape {
        Shape::Revolved(flutes) => {
            let tops = flutes.pieces().iter().map(|piece| piece.heights_mm().1);
            tops.fold(0.0, f64::max)
        }
        Shape::Mesh(_) => f64::INFINITY,
    };
    [low + gouge_mm, high + top_mm]
}

/// The flutes without the teeth.
fn without_thread(flutes: &Profile, depth_mm: f64) -> Profile {
    let mut slim = flutes.clone();
    for ring in slim.pieces.iter_mut().flat_map(|piece| &mut piece.rings) {
        ring.radius_mm = (ring.radius_mm - depth_mm).max(0.0);
    }
    slim
}

/// The space that the teeth sweep, about the tool axis.
struct Ring {
    inner_mm: f64,
    outer_mm: f64,
    along_mm: [f64; 2],
}

impl Ring {
    /// Whether every triangle that enters the ring is of the wall, chamfer, opening or bottom of a
    /// hole about the axis.
    fn holds_own_hole_alone(&self, own: &Standing<'_>, common_from_tool: &Pose) -> bool {
        let Shape::Mesh(shape) = &own.placed.shape else {
            return false;
        };
        let mesh: &Mesh = shape.mesh();
        let tool_from_mesh = common_from_tool.inv_mul(&own.placed.common_from_body);
        (0..mesh.triangles.len() as u32).all(|triangle| {
            let corners = mesh.corners(triangle).map(|corner| tool_from_mesh * corner);
            self.is_own(corners)
        })
    }

    fn is_own(&self, corners: [Point3<f64>; 3]) -> bool {
        let inside = self.in_slab(&corners);
        let enters = !inside.is_empty()
            && inside.iter().any(|point| radius_mm(point) > self.inner_mm)
            && least_radius_mm(&inside) < self.outer_mm;
        if !enters {
            return true;
        }
        let [a, b, c] = corners;
        let Some(normal) = (b - a).cross(&(c - a)).try_normalize(0.0) else {
            return false;
        };
        let (aside, away) = (ASIDE_DEG.to_radians().sin(), AWAY);
        inside.iter().all(|point| {
            let out = Vec3::new(point.x, point.y, 0.0).try_normalize(1e-9);
            out.is_some_and(|out| {
                let along_rim = Vec3::z().cross(&out);
                normal.dot(&along_rim).abs() <= aside && normal.dot(&out) <= away
            })
        })
    }

    /// The part of a triangle between the two heights, as a convex polygon.
    fn in_slab(&self, corners: &[Point3<f64>; 3]) -> Vec<Point3<f64>> {
        let [low, high] = self.along_mm;
        let above = clipped(corners, |point| point.z - low);
        clipped(&above, |point| high - point.z)
    }
}

/// The part of a convex polygon where `inward` is not negative (Sutherland and Hodgman, 1974).
fn clipped(polygon: &[Point3<f64>], inward: impl Fn(&Point3<f64>) -> f64) -> Vec<Point3<f64>> {
    let mut kept = Vec::with_capacity(polygon.len() + 1);
    for (index, from) in polygon.iter().enumerate() {
        let to = &polygon[(index + 1) % polygon.len()];
        let (here, there) = (inward(from), inward(to));
        if here >= 0.0 {
            kept.push(*from);
        }
        if (here > 0.0 && there < 0.0) || (here < 0.0 && there > 0.0) {
            kept.push(from + (to - from) * (here / (here - there)));
        }
    }
    kept
}

fn radius_mm(point: &Point3<f64>) -> f64 {
    point.x.hypot(point.y)
}

/// Least distance of a convex polygon from the axis, seen along it.
fn least_radius_mm(polygon: &[Point3<f64>]) -> f64 {
    let mut least_mm = f64::INFINITY;
    let (mut left, mut right) = (false, false);
    for (index, from) in polygon.iter().enumerate() {
        let to = &polygon[(index + 1) % polygon.len()];
        let (edge_x, edge_y) = (to.x - from.x, to.y - from.y);
        let square = edge_x * edge_x + edge_y * edge_y;
        let share = if square > 0.0 {
            (-(from.x * edge_x + from.y * edge_y) / square).clamp(0.0, 1.0)
        } else {
            0.0
        };
        least_mm = least_mm.min((from.x + edge_x * share).hypot(from.y + edge_y * share));
        let side = edge_x * -from.y + edge_y * from.x;
        left |= side > 0.0;
        right |= side < 0.0;
    }
    // The axis on one side of every edge goes through the polygon.
    if left != right { 0.0 } else { least_mm }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distance_of_a_polygon_from_the_axis() {
        let at = |points: &[[f64; 2]]| {
            let points: Vec<_> = points
                .iter()
                .map(|&[x, y]| Point3::new(x, y, 3.0))
                .collect();
            least_radius_mm(&points)
        };
        assert_eq!(at(&[[-1.0, -1.0], [2.0, -1.0], [0.0, 2.0]]), 0.0);
        assert!((at(&[[1.0, -1.0], [3.0, 0.0], [1.0, 1.0]]) - 1.0).abs() < 1e-15);
        assert!((at(&[[3.0, 4.0], [6.0, 8.0], [6.0, 9.0]]) - 5.0).abs() < 1e-15);
    }

    #[test]
    fn a_slab_cuts_a_triangle() {
        let ring = Ring {
            inner_mm: 1.0,
            outer_mm: 2.0,
            along_mm: [1.0, 2.0],
        };
        let corners = [[0.0, 0.0, 0.0], [3.0, 0.0, 3.0], [0.0, 0.0, 3.0]].map(Point3::from);
        let inside = ring.in_slab(&corners);
        assert_eq!(inside.len(), 4);
        assert!(inside.iter().all(|p| (1.0..=2.0).contains(&p.z)));
    }
}
