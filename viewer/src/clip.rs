//! The scene cut open: triangles behind a plane through the tool axis.
//!
//! For display only. What is decided about sections is decided in the library.

use crate::shapes::Triangle;
use lapidary::answer::moment::Moment;
use lapidary::answer::scene::Scene;
use lapidary::value::{Vec3, about_axis};
use nalgebra::Point3;
use std::collections::HashMap;

/// A plane; what lies on the side of its normal is not drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Plane {
    /// A point of it, in the table frame.
    pub point: Point3<f64>,
    /// Unit normal, towards the eye.
    pub normal: Vec3,
}

impl Plane {
    /// The plane through the tool axis and a place, turned about the tool axis.
    ///
    /// Where the place is on the axis, or there is none, the plane lies along the rotary axis, or
    /// across it where that is the tool axis itself.
    #[must_use]
    pub fn through_tool(
        scene: &Scene<'_>,
        moment: &Moment,
        turned_deg: f64,
        place: Option<[f64; 3]>,
    ) -> Self {
        let spindle = scene.kinematics.spindle();
        let rotary = scene.setup.machine.rotary.direction;
        let across = |v: Vec3| (v - spindle * spindle.dot(&v)).try_normalize(1e-3);
        let towards = place
            .and_then(|place| across(Point3::from(place) - moment.tip))
            .or_else(|| across(rotary))
            .or_else(|| across(Vec3::x()))
            .unwrap_or_else(Vec3::y);
        let towards = about_axis(&spindle, &Point3::origin(), turned_deg) * towards;
        let normal = spindle.cross(&towards);
        // The operator's side is taken away, so that one looks in from there.
        let operator = -spindle.cross(&rotary);
        let normal = if normal.dot(&operator) < -1e-9 {
            -normal
        } else {
            normal
        };
        let point = if moment.tool.is_some() {
            moment.tip
        } else {
            scene.setup.machine.rotary.centre
        };
        Self { point, normal }
    }

    /// How far a point lies before the plane.
    #[must_use]
    pub fn above_mm(&self, point: &Point3<f64>) -> f64 {
        (point - self.point).dot(&self.normal)
    }
}

/// What lies behind the plane, and the edges where the plane cuts.
#[must_use]
pub fn clip(triangles: &[Triangle], plane: &Plane) -> (Vec<Triangle>, Vec<[Point3<f64>; 2]>) {
    let mut kept = Vec::new();
    let mut edges = Vec::new();
    for corners in triangles {
        let heights = corners.each_ref().map(|corner| plane.above_mm(corner));
        if heights.iter().all(|height| *height <= 0.0) {
            kept.push(*corners);
        } else if heights.iter().any(|height| *height < 0.0) {
            let (polygon, edge) = behind(corners, heights);
            for pair in 1..polygon.len().saturating_sub(1) {
                kept.push([polygon[0], polygon[pair], polygon[pair + 1]]);
            }
            edges.extend(edge);
        }
    }
    (kept, edges)
}

/// The part of a triangle that lies behind, and its edge in the plane.
fn behind(corners: &Triangle, heights: [f64; 3]) -> (Vec<Point3<f64>>, Option<[Point3<f64>; 2]>) {
    let mut polygon = Vec::with_capacity(4);
    let mut crossings = Vec::with_capacity(2);
    for at in 0..3 {
        let next = (at + 1) % 3;
        if heights[at] <= 0.0 {
            polygon.push(corners[at]);
        }
        if heights[at] == 0.0 {
            crossings.push(corners[at]);
        }
        if heights[at] * heights[next] < 0.0 {
            let share = heights[at] / (heights[at] - heights[next]);
            let crossing = corners[at] + (corners[next] - corners[at]) * share;
            polygon.push(crossing);
            crossings.push(crossing);
        }
    }
    let edge = match crossings[..] {
        [from, to] => Some([from, to]),
        _ => None,
    };
    (polygon, edge)
}

/// The far sides of a body, seen from within: turned about, and a little nearer to the middle of
/// the solid, so that they hide what touches them from outside and stay behind the near sides.
///
/// Corners move as one where triangles meet: no cracks open.
#[must_use]
pub fn lining(triangles: &[Triangle], by_mm: f64) -> Vec<Triangle> {
    let mut normals: HashMap<[i64; 3], Vec<Vec3>> = HashMap::new();
    for corners in triangles {
        let [a, b, c] = corners;
        let Some(normal) = (b - a).cross(&(c - a)).try_normalize(1e-12) else {
            continue;
        };
        for corner in corners {
            let around = normals.entry(place(corner)).or_default();
            // A side in many triangles counts as one.
            if around.iter().all(|other| other.dot(&normal) < SAME_SIDE) {
                around.push(normal);
            }
        }
    }
    let inward = |corner: &Point3<f64>| {
        let around = normals.get(&place(corner)).into_iter().flatten();
        let outward = around.sum::<Vec3>().try_normalize(1e-3);
        corner - outward.unwrap_or_else(Vec3::zeros) * by_mm
    };
    let turned = |[a, b, c]: &Triangle| [a, c, b].map(inward);
    triangles.iter().map(turned).collect()
}

/// Cosine above which two triangles are taken for one side: some 2.6 degrees.
const SAME_SIDE: f64 = 0.999;

/// Corners nearer than this are one: where two triangles are cut, rounding parts them.
const ONE_PLACE_MM: f64 = 1e-6;

fn place(corner: &Point3<f64>) -> [i64; 3] {
    [corner.x, corner.y, corner.z].map(|at| (at / ONE_PLACE_MM).round() as i64)
}

#[cfg(test)]
mod tests {
    use super::*;
    use lapidary::mesh::solids::cuboid;

    fn area(triangles: &[Triangle]) -> f64 {
        let parts = triangles.iter();
        parts
            .map(|[a, b, c]| (b - a).cross(&(c - a)).norm() / 2.0)
            .sum()
    }

    #[test]
    fn a_box_cut_in_the_middle_keeps_half_its_sides() {
        let low = Point3::new(-5.0, -5.0, -5.0);
        let mesh = cuboid(low, Point3::new(5.0, 5.0, 5.0)).unwrap();
        let all: Vec<Triangle> = (0..mesh.triangles.len() as u32)
            .map(|triangle| mesh.corners(triangle))
            .collect();
        let plane = Plane {
            point: Point3::new(0.0, 0.0, 1.0),
            normal: Vec3::z(),
        };
        let (kept, edges) = clip(&all, &plane);
        assert!((area(&kept) - (100.0 + 4.0 * 60.0)).abs() < 1e-9);
        let length: f64 = edges.iter().map(|[from, to]| (to - from).norm()).sum();
        assert!((length - 40.0).abs() < 1e-9);
        assert!(
            edges
                .iter()
                .flatten()
                .all(|point| (point.z - 1.0).abs() < 1e-12)
        );
    }

    #[test]
    fn the_lining_of_a_box_is_a_smaller_box_inside_out() {
        let mesh = cuboid(Point3::new(-5.0, -5.0, -5.0), Point3::new(5.0, 5.0, 5.0)).unwrap();
        let all: Vec<Triangle> = (0..mesh.triangles.len() as u32)
            .map(|triangle| mesh.corners(triangle))
            .collect();
        let lining = lining(&all, 1.0);
        let parts = lining.iter();
        let volume: f64 = parts
            .map(|[a, b, c]| a.coords.dot(&b.coords.cross(&c.coords)) / 6.0)
            .sum();
        let side = 10.0 - 2.0 / 3.0_f64.sqrt();
        assert!((volume + side.powi(3)).abs() < 1e-9, "{volume}");
    }

    #[test]
    fn what_lies_before_the_plane_is_gone() {
        let corner = |z: f64| Point3::new(z * 0.1, 1.0, z);
        let triangle = [corner(2.0), corner(3.0), Point3::new(5.0, 5.0, 2.0)];
        let plane = Plane {
            point: Point3::origin(),
            normal: Vec3::z(),
        };
        assert_eq!(clip(&[triangle], &plane), (Vec::new(), Vec::new()));
    }
}
