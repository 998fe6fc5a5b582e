//! A flat face as a floor: what rises round it, and over which fillet.

use super::graph::{Graph, Rim};
use crate::mesh::faces::FaceForm;
use crate::value::Vec3;
use nalgebra::Point3;
use std::collections::BTreeMap;

/// Walls stand within 20 degrees of square to their floor; what leans more is a slope.
const WALL_SINE: f64 = 0.342;

/// Directions within 10 degrees belong to one side.
const ONE_SIDE_COS: f64 = 0.985;

/// Less of a rim than this share is not told.
pub(super) const LEAST_SHARE: f64 = 0.02;

/// A flat face with what stands round it.
pub(super) struct Floor {
    pub(super) face: u32,
    pub(super) point: Point3<f64>,
    pub(super) normal: Vec3,
    pub(super) outer: Vec<Rim>,
    pub(super) inner: Vec<Vec<Rim>>,
    /// Walls on the outer rim, each with the length of rim below it.
    pub(super) walls: BTreeMap<u32, f64>,
    /// Fillets between floor and walls.
    pub(super) fillets: Vec<u32>,
    pub(super) fillet_radius_mm: f64,
    /// Length of rim at each fillet.
    pub(super) fillet_rim_mm: BTreeMap<u32, f64>,
    /// Length of outer rim where something rises, and where nothing does.
    pub(super) rise_mm: f64,
    pub(super) fall_mm: f64,
    /// Sides with a flat wall, and sides without, each with its length of rim.
    pub(super) walled: Vec<Side>,
    pub(super) open: Vec<Side>,
}

/// Rims that look one way.
#[derive(Debug, Clone, Copy)]
pub(super) struct Side {
    /// Unit vector out of the floor.
    pub(super) outward: Vec3,
    pub(super) length_mm: f64,
}

impl Floor {
    pub(super) fn of(graph: &Graph<'_>, face: u32) -> Option<Self> {
        let FaceForm::Flat { point, normal } = *graph.form(face) else {
            return None;
        };
        let mut loops = graph.loops(face);
        let area = |chain: &Vec<Rim>| graph.loop_area(chain, &normal);
        let outer =
            (0..loops.len()).max_by(|a, b| area(&loops[*a]).total_cmp(&area(&loops[*b])))?;
        let outer = loops.swap_remove(outer);
        let mut floor = Self {
            face,
            point,
            normal,
            outer: Vec::new(),
            inner: loops,
            walls: BTreeMap::new(),
            fillets: Vec::new(),
            fillet_radius_mm: 0.0,
            fillet_rim_mm: BTreeMap::new(),
            rise_mm: 0.0,
            fall_mm: 0.0,
            walled: Vec::new(),
            open: Vec::new(),
        };
        for rim in &outer {
            floor.add(graph, rim);
        }
        floor.outer = outer;
        // The radius of the longest fillet counts: short ones may be pieces of something else.
        let longest = floor.fillet_rim_mm.iter().max_by(|a, b| a.1.total_cmp(b.1));
        let radius = longest.and_then(|(face, _)| fillet_radius(graph, *face));
        floor.fillet_radius_mm = radius.unwrap_or(0.0);
        floor.fillets.sort_unstable();
        floor.fillets.dedup();
        let by_length = |a: &Side, b: &Side| b.length_mm.total_cmp(&a.length_mm);
        floor.walled.sort_by(by_length);
        floor.open.sort_by(by_length);
        let least_mm = floor.around_mm() * LEAST_SHARE;
        floor.walled.retain(|side| side.length_mm > least_mm);
        floor.open.retain(|side| side.length_mm > least_mm);
        Some(floor)
    }

    pub(super) fn around_mm(&self) -> f64 {
        self.rise_mm + self.fall_mm
    }

    /// Whether something rises all round.
    pub(super) fn is_closed(&self) -> bool {
        self.fall_mm < LEAST_SHARE * self.around_mm()
    }

    fn add(&mut self, graph: &Graph<'_>, rim: &Rim) {
        let length_mm = (graph.at(rim.to) - graph.at(rim.from)).norm();
        let outward = graph.outward(rim);
        let rises = graph.lean(rim) <= -1e-3;
        let Some(beside) = graph.behind(rim).filter(|_| rises) else {
            self.fall_mm += length_mm;
            add_side(&mut self.open, outward, length_mm);
            return;
        };
        self.rise_mm += length_mm;
        let mut wall = is_wall(graph, beside, &self.normal).then_some(beside);
        if wall.is_none() && fillet_radius(graph, beside).is_some() {
            self.fillets.push(beside);
            *self.fillet_rim_mm.entry(beside).or_insert(0.0) += length_mm;
            let over = graph.neighbours[beside as usize].iter();
            let walls = over.filter(|(f, _)| **f != self.face && is_wall(graph, **f, &self.normal));
            let longest = |a: &(&u32, &[f64; 2]), b: &(&u32, &[f64; 2])| {
                (a.1[0] + a.1[1])
                    .total_cmp(&(b.1[0] + b.1[1]))
                    .then(b.0.cmp(a.0))
            };
            wall = walls.max_by(longest).map(|(face, _)| *face);
        }
        let Some(wall) = wall else { return };
        *self.walls.entry(wall).or_insert(0.0) += length_mm;
        if let FaceForm::Flat { normal, .. } = graph.form(wall) {
            let away = -(normal - self.normal * normal.dot(&self.normal));
            if let Some(away) = away.try_normalize(1e-9) {
                add_side(&mut self.walled, away, length_mm);
            }
        }
    }

    /// Height of the highest point of its walls.
    pub(super) fn depth_mm(&self, graph: &Graph<'_>) -> f64 {
        let height = |corner: Point3<f64>| (corner - self.point).dot(&self.normal);
        let walls = self.walls.keys().flat_map(|wall| graph.corners(*wall));
        walls.map(height).fold(0.0, f64::max)
    }

    /// Reach of the pocket along a direction, from wall to wall, from the floor's point.
    pub(super) fn reach(&self, graph: &Graph<'_>, along: &Vec3) -> [f64; 2] {
        let mut ends = [f64::INFINITY, f64::NEG_INFINITY];
        for rim in &self.outer {
            let at = (graph.at(rim.from) - self.point).dot(along);
            ends = [ends[0].min(at), ends[1].max(at)];
        }
        // Walls stand farther out than the floor where there is a fillet between.
        for wall in self.walls.keys() {
            match *graph.form(*wall) {
                FaceForm::Flat { point, normal } => {
                    let at = (point - self.point).dot(along);
                    if normal.dot(along) < -ONE_SIDE_COS {
                        ends[1] = ends[1].max(at);
                    } else if normal.dot(along) > ONE_SIDE_COS {
                        ends[0] = ends[0].min(at);
                    }
                }
                FaceForm::Cylinder { hollow: true, .. } if self.fillet_radius_mm > 0.0 => {
                    for corner in graph.corners(*wall) {
                        let at = (corner - self.point).dot(along);
                        ends = [ends[0].min(at), ends[1].max(at)];
                    }
                }
                _ => {}
            }
        }
        ends
    }

    /// Least radius of the hollow corners between walls; 0 where two flat walls meet in an edge.
    pub(super) fn corner_radius_mm(&self, graph: &Graph<'_>) -> Option<f64> {
        let mut least: Option<f64> = None;
        let mut lower = |radius: f64| least = Some(least.map_or(radius, |old| old.min(radius)));
        for wall in self.walls.keys() {
            match *graph.form(*wall) {
                FaceForm::Cylinder {
                    hollow: true,
                    radius_mm,
                    ..
                } => lower(radius_mm),
                FaceForm::Flat { .. } => {
                    let beside = graph.neighbours[*wall as usize].iter();
                    let sharp = |(other, lengths): (&u32, &[f64; 2])| {
                        lengths[0] > graph.grain_mm
                            && lengths[0] > lengths[1]
                            && self.walls.contains_key(other)
                            && matches!(graph.form(*other), FaceForm::Flat { .. })
                    };
                    if beside.into_iter().any(sharp) {
                        lower(0.0);
                    }
                }
                _ => {}
            }
        }
        least
    }

    /// Faces of the feature: floor, fillets, walls.
    pub(super) fn faces(&self) -> Vec<u32> {
        let mut faces: Vec<u32> = self.walls.keys().copied().collect();
        faces.extend(&self.fillets);
        faces.push(self.face);
        faces.sort_unstable();
        faces.dedup();
        faces
    }
}

fn add_side(sides: &mut Vec<Side>, outward: Vec3, length_mm: f64) {
    let known = sides
        .iter_mut()
        .find(|side| side.outward.dot(&outward) > ONE_SIDE_COS);
    if let Some(side) = known {
        let sum = side.outward * side.length_mm + outward * length_mm;
        side.outward = sum.try_normalize(1e-12).unwrap_or(side.outward);
        side.length_mm += length_mm;
    } else if outward.norm() > 0.5 {
        sides.push(Side { outward, length_mm });
    }
}

/// Whether a face stands on a floor with this normal.
pub(super) fn is_wall(graph: &Graph<'_>, face: u32, up: &Vec3) -> bool {
    match *graph.form(face) {
        FaceForm::Flat { normal, .. } => normal.dot(up).abs() < WALL_SINE,
        FaceForm::Cylinder { direction, .. } => direction.dot(up).abs() > ONE_SIDE_COS,
        FaceForm::Cone {
            direction,
            half_angle_deg,
            ..
        } => {
            direction.dot(up).abs() > ONE_SIDE_COS && half_angle_deg.to_radians().sin() < WALL_SINE
        }
        FaceForm::Other => {
            let shapes = graph.triangles[face as usize]
                .iter()
                .map(|t| graph.geo.shape[*t as usize]);
            let (mut lean, mut area) = (0.0, 0.0);
            for shape in shapes {
                lean += shape.normal.dot(up).abs() * shape.area_mm2;
                area += shape.area_mm2;
            }
            lean < WALL_SINE * area
        }
        FaceForm::Torus { .. } | FaceForm::Sphere { .. } => false,
    }
}

/// Radius of a hollow fillet.
fn fillet_radius(graph: &Graph<'_>, face: u32) -> Option<f64> {
    match *graph.form(face) {
        FaceForm::Torus {
            minor_radius_mm,
            hollow: true,
            ..
        } => Some(minor_radius_mm),
        FaceForm::Cylinder {
            radius_mm,
            hollow: true,
            turn_deg,
            ..
        } if turn_deg < 120.0 => Some(radius_mm),
        FaceForm::Sphere {
            radius_mm,
            hollow: true,
            ..
        } => Some(radius_mm),
        _ => None,
    }
}
