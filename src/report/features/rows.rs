//! The JSON of faces and features, key by key.

use schemars::JsonSchema;
use serde::Serialize;

/// The text that `format` holds.
pub(super) const FORMAT: &str = "lapidary/features";

/// Version of the format: raised when a key changes its meaning or goes away.
pub(super) const VERSION: u32 = 1;

pub(super) type Triple = [f64; 3];

/// Faces and features of a mesh. Lengths in millimetres, angles in degrees, part coordinates.
#[derive(Serialize, JsonSchema)]
pub(super) struct FeaturesFile<'a> {
    /// `lapidary/features`.
    #[schemars(extend("const" = FORMAT))]
    pub(super) format: &'static str,
    /// Version of this format.
    #[schemars(extend("const" = VERSION))]
    pub(super) version: u32,
    /// Version of the program.
    pub(super) program_version: &'static str,
    /// The mesh file as it was named.
    pub(super) file: &'a str,
    /// What the file was warned about.
    pub(super) warnings: &'a [String],
    /// What the answer rests on, where the mesh is not sound.
    pub(super) grounds: Vec<Ground>,
    /// Number of triangles.
    pub(super) triangle_count: usize,
    /// Lower corner of the box round the mesh.
    pub(super) low_mm: Triple,
    /// Upper corner of it.
    pub(super) high_mm: Triple,
    /// Farthest that a vertex may lie from the form of its face.
    pub(super) tolerance_mm: f64,
    /// Count and area by kind of face.
    pub(super) totals: Vec<Total>,
    /// Faces.
    pub(super) faces: Vec<FaceRow<'a>>,
    /// Features.
    pub(super) features: Vec<FeatureRow<'a>>,
}

/// Something unsound about the mesh.
#[derive(Serialize, JsonSchema)]
pub(super) struct Ground {
    /// What: open-edges, crowded-edges, mixed-edges, inside-out, crossings.
    pub(super) kind: &'static str,
    /// How many edges, or shells, or pairs of triangles that cross (0 where that was given up).
    pub(super) count: u64,
}

/// Faces of one kind together.
#[derive(Serialize, JsonSchema)]
pub(super) struct Total {
    /// Kind of face.
    pub(super) kind: &'static str,
    /// How many there are.
    pub(super) count: usize,
    /// Their area.
    pub(super) area_mm2: f64,
    /// Their share of the whole area, from 0 to 1.
    pub(super) area_share: f64,
}

/// A face.
#[derive(Serialize, JsonSchema)]
pub(super) struct FaceRow<'a> {
    /// Stable name.
    pub(super) name: &'a str,
    /// Form, fitted through its vertices.
    pub(super) form: FormRow,
    /// Area of its triangles.
    pub(super) area_mm2: f64,
    /// Number of its triangles.
    pub(super) triangle_count: usize,
    /// Largest distance of a vertex from the form.
    pub(super) fit_error_mm: f64,
    /// Area centre.
    pub(super) centre_mm: Triple,
}

/// Form of a face.
#[derive(Serialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub(super) enum FormRow {
    /// A plane.
    Flat {
        /// Out of the material.
        normal: Triple,
    },
    /// A cylinder or a part of it.
    Cylinder {
        /// Where the axis begins.
        point_mm: Triple,
        /// Along the axis.
        direction: Triple,
        /// Twice its radius.
        diameter_mm: f64,
        /// Length along the axis.
        length_mm: f64,
        /// Reach round the axis.
        turn_deg: f64,
        /// Whether the material is outside.
        hollow: bool,
    },
    /// A cone or a part of it.
    Cone {
        /// Where axis and mantle meet.
        apex_mm: Triple,
        /// From the apex to where it is wide.
        direction: Triple,
        /// Between axis and mantle.
        half_angle_deg: f64,
        /// Distance from the apex along the axis where the face begins.
        from_mm: f64,
        /// The same where it ends.
        to_mm: f64,
        /// Reach round the axis.
        turn_deg: f64,
        /// Whether the material is outside.
        hollow: bool,
    },
    /// A part of a torus.
    Torus {
        /// Centre.
        centre_mm: Triple,
        /// Along the axis.
        direction: Triple,
        /// From the axis to the middle of the tube.
        major_radius_mm: f64,
        /// Radius of the tube.
        minor_radius_mm: f64,
        /// Reach round the axis.
        turn_deg: f64,
        /// Whether the material is outside the tube.
        hollow: bool,
    },
    /// A part of a sphere.
    Sphere {
        /// Centre.
        centre_mm: Triple,
        /// Radius.
        radius_mm: f64,
        /// Whether the material is outside.
        hollow: bool,
    },
    /// None of these.
    Other {},
}

/// A feature.
#[derive(Serialize, JsonSchema)]
pub(super) struct FeatureRow<'a> {
    /// Stable name.
    pub(super) name: &'a str,
    /// Form and sizes.
    pub(super) form: FeatureFormRow,
    /// Directions out of the part along which a straight way leads to it; the best first.
    pub(super) access: Vec<Triple>,
    /// Names of its faces.
    pub(super) faces: Vec<&'a str>,
}

/// Form of a feature, in ISO 14649-10 terms (from memory).
#[derive(Serialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub(super) enum FeatureFormRow {
    /// A round hole with all its steps.
    RoundHole {
        /// Centre of the opening.
        opening_mm: Triple,
        /// Out of the part.
        direction: Triple,
        /// Steps from the opening inward.
        steps: Vec<StepRow>,
        /// through, flat, conical, rounded or blind.
        bottom: &'static str,
        /// Angle of a conical bottom.
        bottom_angle_deg: Option<f64>,
        /// Depth to the end of the last step.
        depth_mm: f64,
    },
    /// A round boss.
    Boss {
        /// Centre of its top.
        top_mm: Triple,
        /// Out of the part.
        direction: Triple,
        /// Diameter.
        diameter_mm: f64,
        /// Height.
        height_mm: f64,
    },
    /// A pocket.
    Pocket {
        /// closed, open or through.
        type_of_pocket: &'static str,
        /// Middle of the opening.
        opening_mm: Triple,
        /// Out of the part.
        direction: Triple,
        /// Direction of the length.
        along: Triple,
        /// Extent along.
        length_mm: f64,
        /// Extent across.
        width_mm: f64,
        /// Depth below the highest wall.
        depth_mm: f64,
        /// Least radius between walls; null where there is no corner.
        corner_radius_mm: Option<f64>,
        /// Radius between walls and floor.
        floor_radius_mm: f64,
        /// Directions without a wall.
        open_sides: Vec<Triple>,
        /// Whether it is a plain rectangle.
        is_rectangle: bool,
    },
    /// A slot.
    Slot {
        /// Centre line on the opening.
        points_mm: Vec<Triple>,
        /// Whether the last point joins the first.
        closed: bool,
        /// Out of the part.
        direction: Triple,
        /// Width.
        width_mm: f64,
        /// Depth below the highest wall.
        depth_mm: f64,
        /// Directions in which an end is open.
        open_sides: Vec<Triple>,
    },
    /// A step.
    Step {
        /// Middle of the wall's upper edge.
        at_mm: Triple,
        /// Out of the part.
        direction: Triple,
        /// Direction of the wall.
        along: Triple,
        /// Length along the wall.
        length_mm: f64,
        /// Width of the floor.
        width_mm: f64,
        /// Depth below the highest wall.
        depth_mm: f64,
        /// Directions without a wall.
        open_sides: Vec<Triple>,
    },
    /// A planar face.
    PlanarFace {
        /// Middle.
        at_mm: Triple,
        /// Out of the part.
        direction: Triple,
        /// Direction of the length.
        along: Triple,
        /// Extent along.
        length_mm: f64,
        /// Extent across.
        width_mm: f64,
    },
}

/// A step of a hole.
#[derive(Serialize, JsonSchema)]
pub(super) struct StepRow {
    /// Diameter at the outer end.
    pub(super) diameter_mm: f64,
    /// Diameter at the inner end.
    pub(super) inner_diameter_mm: f64,
    /// Depth of the outer end.
    pub(super) from_mm: f64,
    /// Depth of the inner end.
    pub(super) to_mm: f64,
}
