//! A mesh split into its faces: flat, cylindrical, conical, toroidal, spherical and other.
//!
//! `canon` brings the mesh into an order of its own; `bonds` and `geo` say what hangs together;
//! `facets` gathers triangles of one plane, `corners` finds the corners of these; `surface` and `fit` hold the forms and their least squares; `grow` grows regions, `extent`
//! measures them; `split` is the loop; `mend` joins pieces; `finish` makes faces with names.

pub(super) mod bonds;
mod canon;
mod corners;
mod extent;
mod facets;
pub(super) mod finish;
mod fit;
pub(super) mod geo;
mod grow;
mod mend;
mod split;
pub(super) mod surface;

use super::weld::index_u32;
use super::{Mesh, Shell};
use crate::value::Vec3;
use canon::Canon;
use facets::Facets;
use geo::Geo;
use grow::{Grower, Measure};
use nalgebra::Point3;

/// The faces of a mesh.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Faces {
    /// The faces, ordered by kind and then by place.
    pub faces: Vec<Face>,
    /// Index of the face of each triangle of the mesh, in the order of its triangles.
    pub face_of_triangle: Vec<u32>,
    /// What the split rests on, where the mesh is not sound.
    pub grounds: Vec<FaceGround>,
    /// Farthest that a corner where facets meet may lie from the form that its face was given.
    pub tolerance_mm: f64,
}

/// Something about the mesh that the split into faces, and every feature, rests on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FaceGround {
    /// So many edges have only one triangle: what lies behind them is not known.
    OpenEdges(u64),
    /// So many edges are shared by more than two triangles; faces end there.
    CrowdedEdges(u64),
    /// So many edges have neighbours that are turned against each other; faces end there.
    MixedEdges(u64),
    /// So many closed shells are inside out; they are taken as if turned right.
    InsideOut(u64),
    /// So many pairs of triangles cross; 0 where that was given up. Faces and features are told as if
    /// no other surface went through them.
    Crossings(u64),
}

/// One face: triangles that lie on one form and hang together.
#[derive(Debug, Clone, PartialEq)]
pub struct Face {
    /// Stable name, such as `flat-3`: the same for any order of triangles and vertices.
    pub name: String,
    /// Form with its sizes.
    pub form: FaceForm,
    /// Its triangles, ascending; indices into [`Mesh::triangles`].
    pub triangles: Vec<u32>,
    /// Area of its triangles.
    pub area_mm2: f64,
    /// Largest distance from the fitted form of a corner where facets of the face meet; 0 for
    /// [`FaceForm::Other`]. Vertices inside a facet, or where something else cuts it, lie on the
    /// facet, and so as deep below the form as its chord.
    pub fit_error_mm: f64,
    /// Area centre of its triangles.
    pub centre: Point3<f64>,
}

/// Form of a face, fitted to the vertices of its triangles by least squares.
///
/// Directions are unit vectors. `hollow` means that the material is outside: a bore, a fillet.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum FaceForm {
    /// A plane.
    Flat {
        /// A point of it: the area centre of the face.
        point: Point3<f64>,
        /// Out of the material.
        normal: Vec3,
    },
    /// A cylinder, or a part of its turn.
    Cylinder {
        /// Where the axis begins: the lower end of the face along `direction`.
        point: Point3<f64>,
        /// Axis; its first component that is not zero is positive.
        direction: Vec3,
        /// Radius through the vertices.
        radius_mm: f64,
        /// Length of the face along the axis.
        length_mm: f64,
        /// How far the face reaches round the axis, up to 360.
        turn_deg: f64,
        /// Whether it is the wall of a bore or a fillet.
        hollow: bool,
    },
    /// A cone, or a part of its turn.
    Cone {
        /// Where the axis and the mantle meet.
        apex: Point3<f64>,
        /// From the apex to where the cone is wide.
        direction: Vec3,
        /// Between axis and mantle: 45 for a countersink of 90 degrees.
        half_angle_deg: f64,
        /// Distance from the apex, along the axis, where the face begins.
        from_mm: f64,
        /// Distance from the apex, along the axis, where the face ends.
        to_mm: f64,
        /// How far the face reaches round the axis, up to 360.
        turn_deg: f64,
        /// Whether it is a countersink or the bottom of a drilled hole.
        hollow: bool,
    },
    /// A part of a torus: a fillet along a circle, or a rounded rim.
    Torus {
        /// Centre.
        centre: Point3<f64>,
        /// Axis; its first component that is not zero is positive.
        direction: Vec3,
        /// From the axis to the middle of the tube.
        major_radius_mm: f64,
        /// Radius of the tube.
        minor_radius_mm: f64,
        /// How far the face reaches round the axis, up to 360.
        turn_deg: f64,
        /// Whether the material is outside the tube.
        hollow: bool,
    },
    /// A part of a sphere.
    Sphere {
        /// Centre.
        centre: Point3<f64>,
        /// Radius through the vertices.
        radius_mm: f64,
        /// Whether the material is outside.
        hollow: bool,
    },
    /// None of these.
    Other,
}

impl FaceForm {
    /// Name of the kind, as face names begin: `flat`, `cylinder`, `cone`, `torus`, `sphere`,
    /// `other`.
    #[must_use]
    pub const fn kind(&self) -> &'static str {
        match self {
            Self::Flat { .. } => "flat",
            Self::Cylinder { .. } => "cylinder",
            Self::Cone { .. } => "cone",
            Self::Torus { .. } => "torus",
            Self::Sphere { .. } => "sphere",
            Self::Other => "other",
        }
    }
}

/// Splits a mesh into faces.
///
/// Triangles of one plane are gathered into facets first: what follows does not depend on how a
/// plane was cut into triangles. From the largest facet down, each one that has no face yet grows a
/// flat region, and, where
/// that goes on smoothly on two sides, a cylinder, sphere, cone or torus through the vertices,
/// whichever is the simplest that fits. Vertices of a tessellated surface lie on it, so the fit
/// knows radius and axis far better than the chords would let one think.
///
/// # Shapes
/// Any mesh, open and unsound ones too: [`Faces::grounds`] then says what the answer rests on. Whether
/// its surface crosses itself is told where the mesh knows it ([`Mesh::crossings`]).
///
/// # Guarantees
/// Every triangle has exactly one face. The result does not depend on the order of triangles and
/// vertices. No corner where facets of a face of known form meet lies farther from it than
/// `fit_error_mm`.
///
/// What is not promised: a regular prism of 12 sides or more is told as a cylinder (so is a small
/// one of 8 to 11 sides), because its triangles are the same; a bore with fewer than 8 facets is a
/// prism; a fillet needs three facets.
#[must_use]
pub fn faces(mesh: &Mesh) -> Faces {
    faces_of(&geo_of(mesh), mesh)
}

/// The same of triangles that are in order already.
pub(super) fn faces_of(geo: &Geo, mesh: &Mesh) -> Faces {
    let (all, measure) = measured(geo, mesh);
    let (regions, grower) = split::split(&all, measure);
    let mended = mend::mend(regions, grower);
    let mut grounds = geo.bonds.grounds.clone();
    let turned = inside_out(mesh)
        .into_iter()
        .filter(|turned| *turned)
        .count() as u64;
    if turned > 0 {
        grounds.push(FaceGround::InsideOut(turned));
    }
    let crossings = mesh.crossings.filter(|crossings| !crossings.is_none());
    grounds.extend(crossings.map(|crossings| FaceGround::Crossings(crossings.pairs)));
    let (faces, face_of_triangle) = finish::finish(geo, mended);
    Faces {
        faces,
        face_of_triangle,
        grounds,
        tolerance_mm: measure.tolerance_mm,
    }
}

/// The triangles in canonical order, bodies that are inside out turned right.
pub(super) fn geo_of(mesh: &Mesh) -> Geo {
    let (diagonal_mm, farthest_mm) = size(mesh);
    let weld_mm = (diagonal_mm * WELD_SHARE).max(farthest_mm * SINGLE_STEP);
    Geo::new(Canon::of(mesh, &inside_out(mesh)), weld_mm)
}

/// Diagonal of the box round a mesh, and its greatest coordinate.
fn size(mesh: &Mesh) -> (f64, f64) {
    let (low, high) = mesh.bounds();
    (
        (high - low).norm(),
        low.coords.abs().max().max(high.coords.abs().max()),
    )
}

/// Corners of open edges count as one within this share of the mesh's diagonal: 1 micrometre in a
/// part of 100 mm.
const WELD_SHARE: f64 = 1.0e-5;

/// Relative step of single precision, twice over.
const SINGLE_STEP: f64 = 2.4e-7;

/// Noise above this is not followed: such a mesh was scanned, not exported.
const MOST_NOISE_MM: f64 = 0.01;

/// Largest radius of a torus, in diagonals of the mesh.
const LARGEST_TORUS: f64 = 10.0;

/// How many of the largest facets are asked for the noise of the mesh.
const PILOTS: usize = 48;

/// Facets of a mesh, and how near is on the surface.
fn measured<'a>(geo: &'a Geo, mesh: &Mesh) -> (Facets<'a>, Measure) {
    let (diagonal_mm, farthest_mm) = size(mesh);
    let grain_mm = (farthest_mm * SINGLE_STEP).max(1e-7);
    let all = Facets::new(geo, grain_mm);
    let measure = measure(&all, diagonal_mm, grain_mm);
    (all, measure)
}

/// Finds how far off vertices are, from how well the largest flat regions fit their planes.
fn measure(all: &Facets<'_>, diagonal_mm: f64, grain_mm: f64) -> Measure {
    let largest_mm = LARGEST_TORUS * diagonal_mm;
    let generous = Measure {
        tolerance_mm: MOST_NOISE_MM,
        noise_mm: 0.3 * MOST_NOISE_MM,
        largest_mm,
    };
    let mut grower = Grower::new(all, generous);
    let area = |f: &u32| all.shape[*f as usize].area_mm2;
    let mut seeds: Vec<u32> = (0..index_u32(all.len())).collect();
    let largest = PILOTS.min(seeds.len());
    if largest < seeds.len() {
        let order = |a: &u32, b: &u32| area(b).total_cmp(&area(a)).then(a.cmp(b));
        seeds.select_nth_unstable_by(largest, order);
        seeds.truncate(largest);
    }
    seeds.sort_unstable();
    // With their areas: facets of a fine fillet are many, and bend in a row.
    let mut errors: Vec<(f64, f64)> = Vec::new();
    for seed in seeds {
        if !grower.is_free(seed) {
            continue;
        }
        let Some(flat) = grower.flat(seed) else {
            continue;
        };
        for &facet in &flat.facets {
            grower.owner[facet as usize] = 0;
        }
        // A lone triangle fits any plane.
        let triangles = || flat.facets.iter().flat_map(|f| all.triangles(*f));
        if triangles().nth(1).is_some() {
            let corners = triangles().take(2000).flat_map(|t| all.geo.corners(*t));
            let off_mm = corners.map(|p| flat.surface.distance(&p).abs());
            errors.push((off_mm.fold(0.0, f64::max), all.area_mm2(&flat.facets)));
        }
    }
    let typical_mm = lower_quarter(errors);
    let noise_mm = (1.5 * typical_mm).clamp(grain_mm, MOST_NOISE_MM.max(grain_mm));
    // Rims between surfaces are kept to this by modelling kernels (common practice, no source).
    let floor_mm = (2.0e-5 * diagonal_mm).clamp(5.0e-4, 4.0e-3);
    Measure {
        tolerance_mm: floor_mm.max(4.0 * noise_mm),
        noise_mm,
        largest_mm,
    }
}

/// The value below which a quarter of all weight lies.
fn lower_quarter(mut weighted: Vec<(f64, f64)>) -> f64 {
    weighted.sort_unstable_by(|a, b| a.0.total_cmp(&b.0));
    let mut left = weighted.iter().map(|(_, weight)| weight).sum::<f64>() / 4.0;
    for (value, weight) in weighted {
        left -= weight;
        if left <= 0.0 {
            return value;
        }
    }
    0.0
}

/// Closed shells that are inside out and are no cavity of another.
fn inside_out(mesh: &Mesh) -> Vec<bool> {
    let is_turned = |shell: &Shell| shell.closed && shell.volume_mm3 < 0.0;
    let holds = |outer: &Shell, inner: &Shell| {
        outer.closed
            && outer.volume_mm3 > 0.0
            && (0..3).all(|k| outer.low[k] < inner.low[k] && inner.high[k] < outer.high[k])
    };
    mesh.shells
        .iter()
        .map(|shell| is_turned(shell) && !mesh.shells.iter().any(|outer| holds(outer, shell)))
        .collect()
}
