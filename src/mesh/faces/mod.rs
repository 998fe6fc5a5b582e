//! A mesh split into its faces: flat, cylindrical, conical, toroidal, spherical and other.

use super::Mesh;
use crate::value::Vec3;
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
    /// Farthest that a vertex may lie from the form that its face was given.
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
    /// Largest distance of a vertex from the fitted form; 0 for [`FaceForm::Other`].
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
#[must_use]
pub fn faces(mesh: &Mesh) -> Faces {
    // The split itself follows; until then the whole mesh is one face of no known form.
    let triangles: Vec<u32> = (0..).take(mesh.triangles.len()).collect();
    Faces {
        face_of_triangle: vec![0; triangles.len()],
        faces: vec![Face {
            name: "other-1".to_owned(),
            form: FaceForm::Other,
            triangles,
            area_mm2: 0.0,
            fit_error_mm: 0.0,
            centre: Point3::origin(),
        }],
        grounds: Vec::new(),
        tolerance_mm: 0.0,
    }
}
