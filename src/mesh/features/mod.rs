//! Machining features of a mesh, found from its faces, in ISO 14649-10 terms.
//!
//! Terms from memory of ISO 14649-10 (process data for milling), not read in the standard:
//! `round_hole` (through or blind; flat, conical or radiused bottom), `closed_pocket`,
//! `open_pocket`, `slot`, `step`, `planar_face`, `boss`.
//!
//! `graph` says how faces meet; `rays` what stands in the way; `axis` gathers round
//! walls by their axis, `hole` finds holes and bosses,
//! `floor` looks round a flat face, `milled` finds pockets, slots, steps and planar faces.

mod axis;
mod floor;
mod graph;
mod hole;
mod milled;
mod rays;

use super::Mesh;
use super::faces::{Faces, faces_of, geo_of};
use crate::value::Vec3;
use graph::Graph;
use nalgebra::Point3;
use rays::Rays;

/// A feature of a part.
#[derive(Debug, Clone, PartialEq)]
pub struct Feature {
    /// Stable name, such as `hole-2`: the same for any order of triangles and vertices.
    pub name: String,
    /// Form with its sizes, in part coordinates.
    pub form: FeatureForm,
    /// Unit directions out of the part, toward the tool, from which it can be approached along a
    /// straight line as far as its own part is concerned; the best first. May be empty.
    pub access: Vec<Vec3>,
    /// Indices of its faces in [`Faces::faces`], ascending.
    pub faces: Vec<u32>,
}

/// Form of a feature.
#[derive(Debug, Clone, PartialEq)]
pub enum FeatureForm {
    /// A round hole, with all its steps on one axis.
    RoundHole(RoundHole),
    /// A round boss.
    Boss(Boss),
    /// A pocket.
    Pocket(Pocket),
    /// A slot or groove of one width.
    Slot(Slot),
    /// A floor with walls on one or two sides.
    Step(Step),
    /// A flat face that nothing rises from at its rim.
    PlanarFace(PlanarFace),
}

/// A round hole with its steps: counterbore, countersink and drill point share its axis.
#[derive(Debug, Clone, PartialEq)]
pub struct RoundHole {
    /// Centre of the opening.
    pub opening: Point3<f64>,
    /// Out of the part at the opening.
    pub direction: Vec3,
    /// Steps from the opening inward.
    pub steps: Vec<HoleStep>,
    /// Where it ends.
    pub bottom: HoleBottom,
    /// Depth from the opening to the end of the last full diameter.
    pub depth_mm: f64,
}

/// A cylinder or cone of a hole.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HoleStep {
    /// Diameter at its outer end.
    pub diameter_mm: f64,
    /// Diameter at its inner end: another one for a cone.
    pub inner_diameter_mm: f64,
    /// Depth of its outer end below the opening.
    pub from_mm: f64,
    /// Depth of its inner end below the opening.
    pub to_mm: f64,
}

/// How a hole ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum HoleBottom {
    /// It comes out on the other side.
    Through,
    /// A flat bottom.
    Flat,
    /// A cone with this angle between its sides: 118 or 140 as drilled.
    Conical(f64),
    /// A rounded bottom.
    Rounded,
    /// Closed by something else.
    Blind,
}

/// A round boss.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Boss {
    /// Centre of its top.
    pub top: Point3<f64>,
    /// Out of the part.
    pub direction: Vec3,
    /// Diameter.
    pub diameter_mm: f64,
    /// Height of its wall.
    pub height_mm: f64,
}

/// A pocket: a floor with walls on three sides or more, or a window with walls all round.
#[derive(Debug, Clone, PartialEq)]
pub struct Pocket {
    /// Middle of the opening: of the box round the floor, along and across.
    pub opening: Point3<f64>,
    /// Out of the part at the opening.
    pub direction: Vec3,
    /// Direction of the length: along the longest flat wall.
    pub along: Vec3,
    /// Extent along.
    pub length_mm: f64,
    /// Extent across.
    pub width_mm: f64,
    /// Depth of the floor below the highest wall.
    pub depth_mm: f64,
    /// Least radius of the corners between its walls, seen along the tool; 0 where walls meet in
    /// a sharp corner, `None` where there is no corner.
    pub corner_radius_mm: Option<f64>,
    /// Radius between walls and floor; 0 where they meet in an edge.
    pub floor_radius_mm: f64,
    /// Index of its floor in [`Faces::faces`]; `None` where it goes through.
    pub floor: Option<u32>,
    /// Indices of its walls in [`Faces::faces`].
    pub walls: Vec<u32>,
    /// Directions out of the part in which there is no wall; empty for a closed pocket.
    pub open_sides: Vec<Vec3>,
    /// Whether its floor is the rectangle with those corners, without islands.
    pub is_rectangle: bool,
}

/// A slot or groove of one width.
#[derive(Debug, Clone, PartialEq)]
pub struct Slot {
    /// Centre line on the opening.
    pub points: Vec<Point3<f64>>,
    /// Whether the last point joins the first.
    pub closed: bool,
    /// Out of the part at the opening.
    pub direction: Vec3,
    /// Distance of its walls.
    pub width_mm: f64,
    /// Depth of the floor below the highest wall.
    pub depth_mm: f64,
    /// Index of its floor in [`Faces::faces`].
    pub floor: u32,
    /// Indices of its walls in [`Faces::faces`].
    pub walls: Vec<u32>,
    /// Directions out of the part in which an end is open.
    pub open_sides: Vec<Vec3>,
}

/// A floor with walls on one or two sides.
#[derive(Debug, Clone, PartialEq)]
pub struct Step {
    /// Middle of the upper edge of its longest wall.
    pub at: Point3<f64>,
    /// Out of the part.
    pub direction: Vec3,
    /// Direction of the longest wall, with the floor on the side of direction x along.
    pub along: Vec3,
    /// Length of the floor along it.
    pub length_mm: f64,
    /// Width of the floor from the wall.
    pub width_mm: f64,
    /// Depth of the floor below the highest wall.
    pub depth_mm: f64,
    /// Index of its floor in [`Faces::faces`].
    pub floor: u32,
    /// Indices of its walls in [`Faces::faces`].
    pub walls: Vec<u32>,
    /// Directions out of the part in which there is no wall.
    pub open_sides: Vec<Vec3>,
}

/// A flat face that nothing rises from at its rim.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PlanarFace {
    /// Middle of the box round it.
    pub at: Point3<f64>,
    /// Out of the part.
    pub direction: Vec3,
    /// Direction of the length.
    pub along: Vec3,
    /// Extent along.
    pub length_mm: f64,
    /// Extent across.
    pub width_mm: f64,
    /// Index of the face in [`Faces::faces`].
    pub face: u32,
}

/// Finds the features of a mesh, with its faces as [`super::faces::faces`] does.
///
/// # Guarantees
/// The result does not depend on the order of triangles and vertices. A face is the floor of one
/// feature at most; a wall may belong to several. What is not recognised is not told: the list
/// makes no claim to be complete. Whether a feature can be approached is asked of this part alone,
/// by rays along the axis of a hole and from points of a floor, not by a tool of any width.
///
/// Where floor and wall could change places (a step, a notch open on two sides), the larger face
/// is the floor.
#[must_use]
pub fn features(mesh: &Mesh) -> (Faces, Vec<Feature>) {
    let geo = geo_of(mesh);
    let (faces, rays) = rayon::join(|| faces_of(&geo, mesh), || Rays::new(&geo));
    let graph = Graph::new(&geo, &faces);
    let mut taken = vec![false; faces.faces.len()];
    let mut found = hole::round(&graph, &rays, &mut taken);
    found.extend(milled::milled(&graph, &rays, &mut taken));
    (faces, named(found))
}

/// Lengths are rounded to this where names are given.
const NAME_GRAIN_MM: f64 = 0.01;

/// Names by kind and place: from the top down, then along y and x.
fn named(mut features: Vec<Feature>) -> Vec<Feature> {
    let grains = |length: f64| (length / NAME_GRAIN_MM).round() as i64;
    features.sort_by_cached_key(|feature| {
        let (rank, _, at, size_mm) = feature.form.place();
        (
            [
                rank,
                -grains(at.z),
                grains(at.y),
                grains(at.x),
                -grains(size_mm),
            ],
            feature.faces.clone(),
        )
    });
    let mut counts = [0_u32; 6];
    for feature in &mut features {
        let (rank, kind, ..) = feature.form.place();
        let count = &mut counts[rank as usize];
        *count += 1;
        feature.name = format!("{kind}-{count}");
    }
    features
}

impl FeatureForm {
    /// Name of the kind, as feature names begin.
    #[must_use]
    pub fn kind(&self) -> &'static str {
        self.place().1
    }

    /// Rank and name of the kind, place, size.
    fn place(&self) -> (i64, &'static str, Point3<f64>, f64) {
        match self {
            Self::RoundHole(hole) => {
                let widest = hole
                    .steps
                    .iter()
                    .map(|step| step.diameter_mm)
                    .fold(0.0, f64::max);
                (0, "hole", hole.opening, widest)
            }
            Self::Boss(boss) => (1, "boss", boss.top, boss.diameter_mm),
            Self::Pocket(pocket) => (2, "pocket", pocket.opening, pocket.length_mm),
            Self::Slot(slot) => {
                let sum: Vec3 = slot.points.iter().map(|point| point.coords).sum();
                let middle = Point3::from(sum / slot.points.len().max(1) as f64);
                (3, "slot", middle, slot.width_mm)
            }
            Self::Step(step) => (4, "step", step.at, step.length_mm),
            Self::PlanarFace(face) => (5, "planar-face", face.at, face.length_mm),
        }
    }
}
