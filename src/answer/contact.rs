//! Contacts that are meant: what is left of a body outside the region where it may touch.
//!
//! The region is a cylinder about the rotary axis, so it stays where it is while the work turns.
//! Only an end of a body can be taken away: all of it, or all beyond a plane across the axis. A
//! region that holds neither leaves the body whole, and its contact is then a clash.

use super::scene::Body;
use crate::gap::{MeshShape, Piece, Revolved, Ring, Shape};
use crate::mesh::{Chord, Mesh};
use crate::value::{Pose, Vec3};
use nalgebra::Point3;
use std::sync::Arc;

/// Vertices this little outside a region count as in it.
const REGION_GRAIN_MM: f64 = 1e-6;

/// The region of a contact: a cylinder about an axis.
#[derive(Debug, Clone, Copy)]
pub struct Region {
    /// A point of the axis, in the table frame.
    pub centre: Point3<f64>,
    /// Unit direction of the axis.
    pub direction: Vec3,
    /// Radius.
    pub radius_mm: f64,
    /// Begin and end along the direction, from the centre.
    pub along_mm: [f64; 2],
}

/// What is left of a body.
#[derive(Debug, Clone)]
pub enum Outside {
    /// Nothing: the whole body lies in the region.
    Nothing,
    /// The body with an end taken away, closed where it was cut.
    Cut(Body),
    /// The region does not hold an end of the body.
    Whole,
}

impl Region {
    fn axial_and_radius(&self, point: Point3<f64>) -> (f64, f64) {
        let arm = point - self.centre;
        let axial_mm = self.direction.dot(&arm);
        (axial_mm, (arm - self.direction * axial_mm).norm())
    }

    fn holds(&self, point: Point3<f64>) -> bool {
        let (axial_mm, radius_mm) = self.axial_and_radius(point);
        let [low_mm, high_mm] = self.along_mm;
        radius_mm <= self.radius_mm + REGION_GRAIN_MM
            && axial_mm >= low_mm - REGION_GRAIN_MM
            && axial_mm <= high_mm + REGION_GRAIN_MM
    }

    /// What of a body (posed by `table_from_group`) lies outside.
    #[must_use]
    pub fn outside(&self, body: &Body, table_from_group: &Pose) -> Outside {
        let table_from_body = table_from_group * body.pose;
        match &body.shape {
            Shape::Mesh(shape) => self.outside_mesh(body, shape.mesh(), &table_from_body),
            Shape::Revolved(solid) => {
                let mut rings = solid.pieces().iter().flat_map(|piece| piece.rings());
                if rings.all(|ring| self.holds_ring(ring, &table_from_body)) {
                    return Outside::Nothing;
                }
                match self.cut_revolved(body, solid, &table_from_body) {
                    Some(body) => Outside::Cut(body),
                    None => Outside::Whole,
                }
            }
        }
    }

    /// A ring about the region's own axis exactly, any other by the corners of a box about it.
    fn holds_ring(&self, ring: &Ring, table_from_body: &Pose) -> bool {
        let normal = table_from_body.rotation * Vec3::z();
        let centre = table_from_body * Point3::new(0.0, 0.0, ring.height_mm);
        let (axial_mm, off_mm) = self.axial_and_radius(centre);
        let coaxial = normal.cross(&self.direction).norm() < 1e-12 && off_mm < 1e-9;
        if coaxial {
            let ball = self.direction * ring.ball_mm;
            let reach_mm = ring.radius_mm + ring.ball_mm;
            let on_axis = self.centre + self.direction * axial_mm;
            return reach_mm <= self.radius_mm + REGION_GRAIN_MM
                && self.holds(on_axis + ball)
                && self.holds(on_axis - ball);
        }
        ring_box(ring)
            .iter()
            .all(|corner| self.holds(table_from_body * corner))
    }

    /// A solid of revolution about the region's own axis, without balls, cut across it.
    fn cut_revolved(&self, body: &Body, solid: &Revolved, table_from_body: &Pose) -> Option<Body> {
        let own_axis = table_from_body.rotation * Vec3::z();
        let origin = Point3::from(table_from_body.translation.vector);
        let (origin_mm, off_mm) = self.axial_and_radius(origin);
        let coaxial = own_axis.cross(&self.direction).norm() < 1e-12 && off_mm < 1e-9;
        let rings = || solid.pieces().iter().flat_map(|piece| piece.rings());
        if !coaxial || rings().any(|ring| ring.ball_mm > 0.0) {
            return None;
        }
        let sense = own_axis.dot(&self.direction).signum();
        let [low_mm, high_mm] = self.along_mm;
        // Above the region's end, then below its begin; heights in the body's own sense.
        for (sign, plane_mm) in [(1.0, high_mm), (-1.0, low_mm)] {
            let up = sign * sense;
            let plane_mm = up * sense * (plane_mm - origin_mm);
            let pieces: Vec<Vec<Ring>> = solid
                .pieces()
                .iter()
                .map(|piece| below(piece.rings(), up, plane_mm))
                .collect();
            let held = |ring: &Ring| self.holds_ring(ring, table_from_body);
            let some = pieces.iter().any(|rings| !rings.is_empty());
            if !some || !pieces.iter().flatten().all(held) {
                continue;
            }
            let above = |piece: &Piece| below(piece.rings(), -up, -plane_mm);
            let left: Vec<Vec<Ring>> = solid
                .pieces()
                .iter()
                .map(above)
                .filter(|rings| !rings.is_empty())
                .collect();
            let pieces: Option<Vec<Piece>> = left
                .into_iter()
                .map(|rings| Piece::new(rings).ok())
                .collect();
            let shape = Shape::Revolved(Arc::new(Revolved::new(pieces?).ok()?));
            return Some(Body {
                shape,
                ..body.clone()
            });
        }
        None
    }

    fn outside_mesh(&self, body: &Body, mesh: &Mesh, table_from_body: &Pose) -> Outside {
        let points: Vec<Point3<f64>> = mesh
            .vertices
            .iter()
            .map(|vertex| table_from_body * vertex)
            .collect();
        if points.iter().all(|point| self.holds(*point)) {
            return Outside::Nothing;
        }
        let [low_mm, high_mm] = self.along_mm;
        // Upward from the region's end, then downward from its begin.
        for (sign, plane_mm) in [(1.0, high_mm), (-1.0, -low_mm)] {
            if let Some(cut) = self.cut_end(mesh, &points, sign, plane_mm)
                && let Some(body) = rebuilt(body, &cut, table_from_body)
            {
                return Outside::Cut(body);
            }
        }
        Outside::Whole
    }

    /// The triangles with everything below a plane flattened onto it; `None` where something
    /// below it lies outside the region, or nothing does.
    ///
    /// Flattening keeps the surface closed: the flattened part is the lid of the cut.
    fn cut_end(
        &self,
        mesh: &Mesh,
        points: &[Point3<f64>],
        sign: f64,
        plane_mm: f64,
    ) -> Option<Vec<[Point3<f64>; 3]>> {
        let height = |point: &Point3<f64>| sign * self.axial_and_radius(*point).0 - plane_mm;
        let heights: Vec<f64> = points.iter().map(height).collect();
        let below: Vec<usize> = (0..points.len()).filter(|&i| heights[i] < 0.0).collect();
        if below.is_empty() || !below.iter().all(|&i| self.holds(points[i])) {
            return None;
        }
        let mut triangles = Vec::with_capacity(mesh.triangles.len() + below.len());
        for corners in &mesh.triangles {
            let corners = corners.map(|corner| corner as usize);
            for piece in split(corners, points, &heights) {
                let flat = piece
                    .map(|(point, height_mm)| point - self.direction * (sign * height_mm.min(0.0)));
                let crossing = piece.iter().any(|&(_, height_mm)| height_mm < 0.0);
                if crossing && !piece.iter().all(|&(_, h)| h > 0.0) {
                    let within = |point: &Point3<f64>| {
                        self.axial_and_radius(*point).1 <= self.radius_mm + REGION_GRAIN_MM
                    };
                    if !flat.iter().all(within) {
                        return None;
                    }
                }
                triangles.push(flat);
            }
        }
        Some(triangles)
    }
}

/// The part of a convex piece where `up * height` is at most `plane_mm`.
fn below(rings: &[Ring], up: f64, plane_mm: f64) -> Vec<Ring> {
    let height = |ring: &Ring| up * ring.height_mm - plane_mm;
    let mut kept: Vec<Ring> = rings
        .iter()
        .filter(|ring| height(ring) <= 0.0)
        .copied()
        .collect();
    for pair in rings.windows(2) {
        let (from, to) = (height(&pair[0]), height(&pair[1]));
        if (from < 0.0 && to > 0.0) || (from > 0.0 && to < 0.0) {
            let share = from / (from - to);
            let between = |a: f64, b: f64| a + (b - a) * share;
            kept.push(Ring {
                radius_mm: between(pair[0].radius_mm, pair[1].radius_mm),
                height_mm: between(pair[0].height_mm, pair[1].height_mm),
                ball_mm: 0.0,
            });
        }
    }
    kept
}

/// Corners of a box that holds a ring.
fn ring_box(ring: &Ring) -> [Point3<f64>; 8] {
    let reach_mm = ring.radius_mm + ring.ball_mm;
    [0, 1, 2, 3, 4, 5, 6, 7].map(|corner: u8| {
        let side = |bit: u8| if corner & bit == 0 { -1.0 } else { 1.0 };
        let height_mm = ring.height_mm + side(4) * ring.ball_mm;
        Point3::new(side(1) * reach_mm, side(2) * reach_mm, height_mm)
    })
}

type Corner = (Point3<f64>, f64);

/// A triangle cut along height zero; each piece lies wholly on one side.
fn split(corners: [usize; 3], points: &[Point3<f64>], heights: &[f64]) -> Vec<[Corner; 3]> {
    let at = |i: usize| (points[corners[i]], heights[corners[i]]);
    let sides = corners.map(|corner| heights[corner] < 0.0);
    let Some(lone) =
        (0..3).find(|&i| sides[i] != sides[(i + 1) % 3] && sides[i] != sides[(i + 2) % 3])
    else {
        return vec![[at(0), at(1), at(2)]];
    };
    let (next, last) = ((lone + 1) % 3, (lone + 2) % 3);
    let cut_next = crossing(corners[lone], corners[next], points, heights);
    let cut_last = crossing(corners[lone], corners[last], points, heights);
    vec![
        [at(lone), (cut_next, 0.0), (cut_last, 0.0)],
        [(cut_next, 0.0), at(next), at(last)],
        [(cut_next, 0.0), at(last), (cut_last, 0.0)],
    ]
}

/// Where an edge crosses height zero: from its lower numbered end, so that both triangles of the
/// edge get the same point to the last bit.
fn crossing(a: usize, b: usize, points: &[Point3<f64>], heights: &[f64]) -> Point3<f64> {
    let (a, b) = (a.min(b), a.max(b));
    let t = heights[a] / (heights[a] - heights[b]);
    points[a] + (points[b] - points[a]) * t
}

fn rebuilt(body: &Body, triangles: &[[Point3<f64>; 3]], table_from_body: &Pose) -> Option<Body> {
    let body_from_table = table_from_body.inverse();
    let local: Vec<[Point3<f64>; 3]> = triangles
        .iter()
        .map(|triangle| triangle.map(|point| body_from_table * point))
        .collect();
    let chord = Chord::Stated(body.chord_allowance_mm);
    let (mesh, _) = Mesh::from_triangles(&local, chord).ok()?;
    let shape = MeshShape::new(Arc::new(mesh)).ok()?;
    Some(Body {
        shape: Shape::Mesh(Arc::new(shape)),
        ..body.clone()
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::answer::scene::BodyId;
    use crate::mesh::solids::cuboid;
    use crate::value::about_axis;

    fn body() -> Body {
        let mesh = cuboid(
            Point3::new(-40.0, -40.0, 0.0),
            Point3::new(40.0, 40.0, 200.0),
        )
        .unwrap();
        Body {
            id: BodyId::Carrier(0),
            name: "column".to_owned(),
            shape: Shape::Mesh(Arc::new(MeshShape::new(Arc::new(mesh)).unwrap())),
            pose: Pose::identity(),
            chord_allowance_mm: 0.0,
            gouge_chord_mm: 0.0,
        }
    }

    fn region(radius_mm: f64, along_mm: [f64; 2]) -> Region {
        Region {
            centre: Point3::origin(),
            direction: Vec3::z(),
            radius_mm,
            along_mm,
        }
    }

    #[test]
    fn the_foot_is_cut_off_and_closed() {
        let Outside::Cut(cut) = region(60.0, [-1.0, 5.0]).outside(&body(), &Pose::identity())
        else {
            panic!("the foot lies in the region");
        };
        let Shape::Mesh(shape) = &cut.shape else {
            panic!("a mesh stays a mesh")
        };
        let mesh = shape.mesh();
        assert!(
            (mesh.volume_mm3() - 80.0 * 80.0 * 195.0).abs() < 1e-6,
            "{}",
            mesh.volume_mm3()
        );
        assert!((mesh.bounds().0.z - 5.0).abs() < 1e-12);
    }

    #[test]
    fn a_round_base_is_cut_whichever_way_up_it_stands() {
        let rings = [0.0, 32.0].map(|height_mm| Ring {
            radius_mm: 50.0,
            height_mm,
            ball_mm: 0.0,
        });
        let solid = Revolved::new(vec![Piece::new(rings.to_vec()).unwrap()]).unwrap();
        let upright = Body {
            shape: Shape::Revolved(Arc::new(solid)),
            ..body()
        };
        let over = about_axis(&Vec3::x(), &Point3::new(0.0, 0.0, 16.0), 180.0);
        for (pose, left) in [(Pose::identity(), [30.0, 32.0]), (over, [0.0, 2.0])] {
            let Outside::Cut(cut) = region(60.0, [-1.0, 30.0]).outside(&upright, &pose) else {
                panic!("the base lies in the region up to 30");
            };
            let Shape::Revolved(solid) = &cut.shape else {
                panic!("it stays round")
            };
            let (low_mm, high_mm) = solid.pieces()[0].heights_mm();
            assert!((low_mm - left[0]).abs() < 1e-9 && (high_mm - left[1]).abs() < 1e-9);
        }
        let narrow = region(49.0, [-1.0, 30.0]).outside(&upright, &Pose::identity());
        assert!(matches!(narrow, Outside::Whole));
    }

    #[test]
    fn the_top_is_cut_off() {
        let Outside::Cut(cut) = region(60.0, [190.0, 201.0]).outside(&body(), &Pose::identity())
        else {
            panic!("the top lies in the region");
        };
        let Shape::Mesh(shape) = &cut.shape else {
            panic!("a mesh stays a mesh")
        };
        assert!((shape.mesh().bounds().1.z - 190.0).abs() < 1e-12);
    }

    #[test]
    fn a_corner_outside_keeps_the_body_whole() {
        let narrow = region(50.0, [-1.0, 5.0]).outside(&body(), &Pose::identity());
        assert!(matches!(narrow, Outside::Whole));
        let middle = region(60.0, [50.0, 60.0]).outside(&body(), &Pose::identity());
        assert!(matches!(middle, Outside::Whole));
        let all = region(60.0, [-1.0, 201.0]).outside(&body(), &Pose::identity());
        assert!(matches!(all, Outside::Nothing));
    }
}
