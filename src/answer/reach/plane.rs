//! Stops by the face that is touched itself: a tool that touches one point of a flat face touches all
//! of them alike, so that what comes too near there does so wherever the face goes on.

use super::cells::Cell;
use super::ground::Stop;
use super::ladder::Ladder;
use super::tools::ReadyTool;
use crate::gap::{Ring, Shape};
use crate::mesh::Mesh;
use crate::mesh::faces::{FaceForm, Faces};
use crate::value::{Pose, Vec3};
use std::collections::HashSet;

/// Room for rounding, and for what a mesh in single precision may be off.
const ROOM_MM: f64 = 1e-3;

/// What the plane of a triangle may lean against that of another of its face.
const LEAN: f64 = 4e-6;

/// Boxes no farther apart than this are looked at: the corners of a face that was found flat lie
/// this near to its plane at most.
const BOX_ROOM_MM: f64 = 0.1;

/// A point no farther than this from the one that is touched is on the face with it.
const SAME_POINT_MM: f64 = 1e-6;

/// So many ways of coming too near are tried, the nearest ones.
const WAYS: usize = 3;

/// Points with their box.
#[derive(Debug)]
struct Boxed<T> {
    points: T,
    low: Vec3,
    high: Vec3,
}

impl<T: AsRef<[Vec3]>> Boxed<T> {
    fn new(points: T) -> Self {
        let (mut low, mut high) = (Vec3::repeat(f64::INFINITY), Vec3::repeat(-f64::INFINITY));
        for point in points.as_ref() {
            low = low.inf(point);
            high = high.sup(point);
        }
        Self { points, low, high }
    }

    fn meets<S>(&self, other: &Boxed<S>) -> bool {
        (0..3).all(|axis| {
            self.low[axis] <= other.high[axis] + BOX_ROOM_MM
                && other.low[axis] <= self.high[axis] + BOX_ROOM_MM
        })
    }
}

/// The triangles of a flat face that lie in its plane, and the edges at which they end.
#[derive(Debug, Default)]
struct Outline {
    triangles: Vec<Boxed<[Vec3; 3]>>,
    edges: Vec<Boxed<[Vec3; 2]>>,
    /// Greatest height of a corner over another, along the face's normal.
    uneven_mm: f64,
}

/// Outlines of all flat faces, in the part's frame.
#[derive(Debug)]
pub struct Outlines(Vec<Outline>);

impl Outlines {
    /// `planes` tells which triangles lie in the plane of their face: there it is the face's number.
    #[must_use]
    pub fn new(mesh: &Mesh, faces: &Faces, planes: &[u32]) -> Self {
        let is_flat = |face: u32| {
            let face = faces.faces.get(face as usize);
            face.is_some_and(|face| matches!(face.form, FaceForm::Flat { .. }))
        };
        let corners_of = |triangle: usize| mesh.triangles[triangle];
        let sides = |triangle: usize| {
            let [a, b, c] = corners_of(triangle);
            [[a, b], [b, c], [c, a]]
        };
        let flat = || (0..planes.len()).filter(|triangle| is_flat(planes[*triangle]));
        let known: HashSet<(u32, [u32; 2])> = flat()
            .flat_map(|triangle| sides(triangle).map(|side| (planes[triangle], side)))
            .collect();
        let mut outlines: Vec<Outline> = faces.faces.iter().map(|_| Outline::default()).collect();
        let at = |corner: u32| mesh.vertices[corner as usize].coords;
        let winding = |triangle: usize| {
            let [a, b, c] = corners_of(triangle).map(at);
            (b - a).cross(&(c - a))
        };
        let mut first: Vec<Option<Vec3>> = vec![None; faces.faces.len()];
        let mut both_ways = vec![false; faces.faces.len()];
        for triangle in flat() {
            let face = planes[triangle] as usize;
            let winding = winding(triangle);
            // Behind an edge the next triangle lies on the other side only where both wind alike.
            both_ways[face] |= first[face].get_or_insert(winding).dot(&winding) < 0.0;
            let outline = &mut outlines[planes[triangle] as usize];
            outline
                .triangles
                .push(Boxed::new(corners_of(triangle).map(at)));
            for [from, to] in sides(triangle) {
                if !known.contains(&(planes[triangle], [to, from])) {
                    outline.edges.push(Boxed::new([at(from), at(to)]));
                }
            }
        }
        for (face, outline) in outlines.iter_mut().enumerate() {
            outline.uneven_mm = uneven_mm(outline, &faces.faces[face].form);
            if both_ways[face] || outline.uneven_mm > BOX_ROOM_MM {
                *outline = Outline::default();
            }
        }
        Self(outlines)
    }

    /// Whether the convex hull of points of a face's plane surely lies in the face.
    ///
    /// # Guarantees
    /// Yes only where no edge of the outline comes into the hull, and its middle lies in a triangle.
    fn hold(&self, face: u32, points: &[Vec3], normal: &Vec3) -> bool {
        let Some(outline) = self.0.get(face as usize) else {
            return false;
        };
        let middle = points.iter().sum::<Vec3>() / points.len() as f64;
        let (hull, at) = (Boxed::new(points), Boxed::new([middle]));
        let mut triangles = outline.triangles.iter();
        let mut edges = outline.edges.iter();
        edges.all(|edge| !edge.meets(&hull) || apart(points, &edge.points, normal))
            && triangles.any(|t| t.meets(&at) && inside(&t.points, &middle, normal))
    }
}

fn uneven_mm(outline: &Outline, form: &FaceForm) -> f64 {
    let FaceForm::Flat { normal, .. } = form else {
        return 0.0;
    };
    let corners = outline.triangles.iter().flat_map(|t| t.points);
    let heights = corners.map(|corner| normal.dot(&corner));
    let [low, high] = heights.fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], at| {
        [low.min(at), high.max(at)]
    });
    (high - low).max(0.0)
}

/// Whether a line in the plane surely has all points on one side and an edge on the other.
fn apart(points: &[Vec3], edge: &[Vec3; 2], normal: &Vec3) -> bool {
    let parts = |from: &Vec3, to: &Vec3| {
        let across = normal.cross(&(to - from));
        let range = |points: &[Vec3]| {
            let at = points.iter().map(|point| across.dot(&(point - from)));
            at.fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], at| {
                [low.min(at), high.max(at)]
            })
        };
        let ([low, high], [edge_low, edge_high]) = (range(points), range(edge));
        let room = SAME_POINT_MM * across.norm();
        low > edge_high + room || edge_low > high + room
    };
    let count = points.len();
    parts(&edge[0], &edge[1]) || (0..count).any(|k| parts(&points[k], &points[(k + 1) % count]))
}

/// Whether a point of its plane lies in a triangle.
fn inside(triangle: &[Vec3; 3], point: &Vec3, normal: &Vec3) -> bool {
    let side = |k: usize| {
        let (from, to) = (triangle[k], triangle[(k + 1) % 3]);
        normal.dot(&(to - from).cross(&(point - from)))
    };
    let sides = [side(0), side(1), side(2)];
    let one_way = sides.iter().all(|side| *side >= 0.0) || sides.iter().all(|side| *side <= 0.0);
    // All of them are 0 on the line of a triangle without area.
    one_way && sides.iter().sum::<f64>() != 0.0
}

/// One way in which an element comes too near to the plane that the flutes touch.
#[derive(Debug, Clone, Copy)]
struct Way {
    stop: Stop,
    /// From the point that is touched to the point of the plane that is too near, in the part's frame.
    shift: Vec3,
}

/// All ways at one plane, with one tip for each of its points.
#[derive(Debug)]
pub struct PlaneStops<'s> {
    outlines: &'s Outlines,
    ways: Vec<Way>,
    tip_from_point: Vec3,
}

impl<'s> PlaneStops<'s> {
    /// For cells of one flat face with the same tip each; `None` where nothing comes too near.
    ///
    /// The ladder says what elements keep from the own part.
    #[must_use]
    pub fn new(
        outlines: &'s Outlines,
        cell: &Cell,
        (ready, ladder): (&ReadyTool<'_>, &Ladder),
        approach_from_part: &Pose,
    ) -> Option<Self> {
        let tip_from_point = cell.tip_from_corner[0];
        let part_from_approach = approach_from_part.rotation.inverse();
        let normal = approach_from_part.rotation * cell.normal()?;
        // The point that is touched, seen from the tip.
        let touched = -(approach_from_part.rotation * tip_from_point);
        let uneven_mm = outlines.0.get(cell.face as usize)?.uneven_mm;
        let mut ways = Vec::new();
        for &(element, gap_mm) in ladder.gaps_mm() {
            for (near, touches) in too_near(ready, element, &normal, &touched, gap_mm - uneven_mm) {
                let stop = Stop::Own { element, touches };
                let shift = part_from_approach * (near - touched);
                ways.push(Way { stop, shift });
            }
        }
        ways.sort_by(|a, b| a.shift.norm().total_cmp(&b.shift.norm()));
        ways.truncate(WAYS);
        (!ways.is_empty()).then_some(Self {
            outlines,
            ways,
            tip_from_point,
        })
    }

    /// What surely stops the tool at every point of cells whose tips' hull is given, in the part's frame.
    #[must_use]
    pub fn stop(&self, face: u32, tips: &[Vec3], normal: &Vec3) -> Option<Stop> {
        let mut found = self.ways.iter().filter(|way| {
            let there: Vec<Vec3> = tips
                .iter()
                .map(|tip| tip - self.tip_from_point + way.shift)
                .collect();
            way.shift.norm() <= SAME_POINT_MM || self.outlines.hold(face, &there, normal)
        });
        let first = found.next()?.stop;
        // What touches is told before what is only close.
        let touching = found.find(|way| matches!(way.stop, Stop::Own { touches: true, .. }));
        let is_close = matches!(first, Stop::Own { touches: false, .. });
        Some(touching.filter(|_| is_close).map_or(first, |way| way.stop))
    }
}

/// Points of a plane that are no farther than `gap_mm` from an element, seen from the tip, with room
/// for what the face may be off there, and whether they are in it.
///
/// # Source
/// Own derivation: the points of a ring that are deepest and least deep below the plane; a convex piece
/// that has points on both sides has the one between them on the plane, too.
fn too_near(
    ready: &ReadyTool<'_>,
    element: usize,
    normal: &Vec3,
    touched: &Vec3,
    gap_mm: f64,
) -> Vec<(Vec3, bool)> {
    let element = &ready.elements[element];
    let Shape::Revolved(solid) = &element.shape else {
        return Vec::new();
    };
    let across = Vec3::new(normal.x, normal.y, 0.0);
    let toward = across.try_normalize(1e-9).unwrap_or_default();
    let height_mm = |point: &Vec3| normal.dot(&(point - touched));
    let mut found = Vec::new();
    for piece in solid.pieces() {
        let ends = |side: f64| {
            move |ring: &Ring| {
                let at = nalgebra::Point3::new(0.0, 0.0, ring.height_mm);
                let centre = (element.tool_from_body * at).coords;
                centre + (toward * ring.radius_mm + normal * ring.ball_mm) * side
            }
        };
        let deepest: Vec<Vec3> = piece.rings().iter().map(ends(-1.0)).collect();
        let highest: Vec<Vec3> = piece.rings().iter().map(ends(1.0)).collect();
        for low in &deepest {
            let low_mm = height_mm(low);
            let gap_mm = gap_mm - ROOM_MM - LEAN * (low - touched).norm();
            if gap_mm < 0.0 {
                continue;
            }
            if (0.0..=gap_mm).contains(&low_mm) {
                found.push((low - normal * low_mm, false));
            }
            if low_mm >= -ROOM_MM {
                continue;
            }
            for high in highest.iter().chain(&deepest) {
                let high_mm = height_mm(high);
                if high_mm > ROOM_MM {
                    found.push((low + (high - low) * (low_mm / (low_mm - high_mm)), true));
                }
            }
        }
    }
    found
}
