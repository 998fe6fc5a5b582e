//! Plane section of a triangle mesh.

use super::Outline;
use crate::mesh::Mesh;
use crate::value::Pose;
use std::collections::HashMap;

/// An edge of the mesh by its two vertices, the lower first.
type Edge = (u32, u32);

/// Where a triangle is cut: from the edge that goes down through the plane to the one that goes
/// up, so that material lies on the left of an outward oriented mesh.
#[derive(Debug, Clone, Copy)]
struct Segment {
    from: Edge,
    to: Edge,
}

/// The section with z = 0 of the plane's frame.
pub(super) fn section(mesh: &Mesh, plane_from_body: &Pose) -> Vec<Outline> {
    let rotation = plane_from_body.rotation.matrix();
    let shift_mm = plane_from_body.translation.vector.z;
    let height = |vertex: u32| {
        let at = &mesh.vertices[vertex as usize];
        rotation[(2, 0)] * at.x + rotation[(2, 1)] * at.y + rotation[(2, 2)] * at.z + shift_mm
    };
    let heights: Vec<f64> = (0..mesh.vertices.len() as u32).map(height).collect();
    let segments: Vec<Segment> = mesh
        .triangles
        .iter()
        .filter_map(|corners| segment(corners, &heights))
        .collect();
    let place = |edge: Edge| crossing(mesh, plane_from_body, &heights, edge);
    chains(&segments)
        .into_iter()
        .filter_map(|(edges, closed)| outline(edges.into_iter().map(place).collect(), closed))
        .collect()
}

fn segment(corners: &[u32; 3], heights: &[f64]) -> Option<Segment> {
    let above = corners.map(|corner| heights[corner as usize] >= 0.0);
    let mut ends = [None; 2];
    for side in 0..3 {
        let next = (side + 1) % 3;
        if above[side] != above[next] {
            let (a, b) = (corners[side], corners[next]);
            ends[usize::from(above[next])] = Some((a.min(b), a.max(b)));
        }
    }
    let [from, to] = ends;
    Some(Segment {
        from: from?,
        to: to?,
    })
}

/// The point of an edge in the plane; the same for both triangles that share the edge.
fn crossing(mesh: &Mesh, plane_from_body: &Pose, heights: &[f64], (a, b): Edge) -> [f64; 2] {
    let (at_a, at_b) = (heights[a as usize], heights[b as usize]);
    let share = at_a / (at_a - at_b);
    let (from, to) = (&mesh.vertices[a as usize], &mesh.vertices[b as usize]);
    let point = plane_from_body * (from + (to - from) * share);
    [point.x, point.y]
}

/// Segments joined at shared edges, open chains first.
fn chains(segments: &[Segment]) -> Vec<(Vec<Edge>, bool)> {
    let mut starting: HashMap<Edge, Vec<usize>> = HashMap::new();
    let mut ending: HashMap<Edge, usize> = HashMap::new();
    // Backwards, so that the last of each list is the first in the order of the triangles.
    for (number, segment) in segments.iter().enumerate().rev() {
        starting.entry(segment.from).or_default().push(number);
        *ending.entry(segment.to).or_default() += 1;
    }
    let surplus = |segment: &Segment| {
        let leaving = starting.get(&segment.from).map_or(0, Vec::len);
        leaving > ending.get(&segment.from).copied().unwrap_or(0)
    };
    let mut order: Vec<usize> = (0..segments.len()).collect();
    order.sort_by_key(|&number| !surplus(&segments[number]));
    let mut used = vec![false; segments.len()];
    let mut chains = Vec::new();
    for first in order {
        if used[first] {
            continue;
        }
        let mut edges = vec![segments[first].from];
        let mut number = first;
        loop {
            used[number] = true;
            let to = segments[number].to;
            let next = starting.get_mut(&to).and_then(|list| {
                while list.last().is_some_and(|&candidate| used[candidate]) {
                    list.pop();
                }
                list.pop()
            });
            if let Some(next) = next {
                edges.push(to);
                number = next;
                continue;
            }
            let closed = to == edges[0];
            if !closed {
                edges.push(to);
            }
            chains.push((edges, closed));
            break;
        }
    }
    chains
}

/// Leaves out corners that repeat the one before, and lines of a single point.
fn outline(points: Vec<[f64; 2]>, closed: bool) -> Option<Outline> {
    let mut points_mm: Vec<[f64; 2]> = Vec::with_capacity(points.len());
    for point in points {
        if points_mm.last() != Some(&point) {
            points_mm.push(point);
        }
    }
    while closed && points_mm.len() > 1 && points_mm.first() == points_mm.last() {
        points_mm.pop();
    }
    let least = if closed { 3 } else { 2 };
    (points_mm.len() >= least).then_some(Outline { points_mm, closed })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::mesh::solids::cuboid;
    use crate::value::{Vec3, about_axis, translation};
    use nalgebra::Point3;

    fn cube() -> Mesh {
        cuboid(Point3::origin(), Point3::new(10.0, 20.0, 30.0)).unwrap()
    }

    #[test]
    fn a_box_gives_its_rectangle() {
        let lines = section(&cube(), &translation(Vec3::new(5.0, 0.0, -7.0)));
        assert_eq!(lines.len(), 1);
        assert!(lines[0].closed);
        assert_eq!(lines[0].area_mm2(), 200.0);
        assert_eq!(lines[0].length_mm(), 60.0);
    }

    /// Corners, edges and a whole face in the plane: still one closed line, or none.
    #[test]
    fn vertices_in_the_plane_leave_no_hole() {
        let top = section(&cube(), &translation(Vec3::new(0.0, 0.0, -30.0)));
        assert_eq!(top.len(), 1);
        assert_eq!(top[0].area_mm2(), 200.0);
        assert!(section(&cube(), &Pose::identity()).is_empty());
        // Through two opposite edges of the box: a rectangle of 30 by the diagonal.
        let angle_deg = 20.0_f64.atan2(10.0).to_degrees();
        let upright = about_axis(&Vec3::x(), &Point3::origin(), 90.0);
        let turned = about_axis(&Vec3::z(), &Point3::origin(), -angle_deg);
        for lift_mm in [0.0, 1e-13, -1e-13] {
            let lines = section(
                &cube(),
                &(translation(Vec3::z() * lift_mm) * upright * turned),
            );
            assert_eq!(lines.len(), 1);
            assert!(lines[0].closed);
            let expected = 30.0 * 500.0_f64.sqrt();
            assert!((lines[0].area_mm2().abs() - expected).abs() < 1e-9);
        }
    }

    #[test]
    fn a_missing_triangle_gives_an_open_line() {
        let whole = cube();
        let corners: Vec<[Point3<f64>; 3]> = (0..whole.triangles.len() as u32)
            .map(|triangle| whole.corners(triangle))
            .collect();
        let cut = |corners: &[Point3<f64>; 3]| {
            corners.iter().any(|p| p.z > 7.0) && corners.iter().any(|p| p.z < 7.0)
        };
        let gone = corners.iter().position(cut).unwrap();
        let holed = Mesh {
            vertices: whole.vertices.clone(),
            triangles: whole
                .triangles
                .iter()
                .enumerate()
                .filter(|(number, _)| *number != gone)
                .map(|(_, corners)| *corners)
                .collect(),
            ..Mesh::default()
        };
        let lines = section(&holed, &translation(Vec3::new(0.0, 0.0, -7.0)));
        assert_eq!(lines.len(), 1);
        assert!(!lines[0].closed);
        assert!(lines[0].length_mm() < 60.0 - 1.0);
    }
}
