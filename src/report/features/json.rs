//! Faces and features as JSON, and its schema.

use super::{FeaturesReport, KINDS};
use crate::mesh::faces::{Face, FaceForm, FaceGround};
use crate::mesh::features::{Feature, FeatureForm, HoleBottom};
use crate::report::JsonError;
use crate::report::json::all_finite;
use crate::value::Vec3;
use nalgebra::Point3;
use schemars::{JsonSchema, generate::SchemaSettings};
use serde::Serialize;
use serde_json::Value;

/// The text that `format` holds.
const FORMAT: &str = "lapidary/features";

/// Version of the format: raised when a key changes its meaning or goes away.
const VERSION: u32 = 1;

type Triple = [f64; 3];

/// Faces and features of a mesh. Lengths in millimetres, angles in degrees, part coordinates.
#[derive(Serialize, JsonSchema)]
struct FeaturesFile<'a> {
    /// `lapidary/features`.
    #[schemars(extend("const" = FORMAT))]
    format: &'static str,
    /// Version of this format.
    #[schemars(extend("const" = VERSION))]
    version: u32,
    /// Version of the program.
    program_version: &'static str,
    /// The mesh file as it was named.
    file: &'a str,
    /// What the file was warned about.
    warnings: &'a [String],
    /// What the answer rests on, where the mesh is not sound.
    grounds: Vec<Ground>,
    /// Number of triangles.
    triangle_count: usize,
    /// Lower corner of the box round the mesh.
    low_mm: Triple,
    /// Upper corner of it.
    high_mm: Triple,
    /// Farthest that a vertex may lie from the form of its face.
    tolerance_mm: f64,
    /// Count and area by kind of face.
    totals: Vec<Total>,
    /// Faces.
    faces: Vec<FaceRow<'a>>,
    /// Features.
    features: Vec<FeatureRow<'a>>,
}

/// Something unsound about the mesh.
#[derive(Serialize, JsonSchema)]
struct Ground {
    /// What: open-edges, crowded-edges, mixed-edges, inside-out.
    kind: &'static str,
    /// How many edges, or shells.
    count: u64,
}

/// Faces of one kind together.
#[derive(Serialize, JsonSchema)]
struct Total {
    /// Kind of face.
    kind: &'static str,
    /// How many there are.
    count: usize,
    /// Their area.
    area_mm2: f64,
    /// Their share of the whole area, from 0 to 1.
    area_share: f64,
}

/// A face.
#[derive(Serialize, JsonSchema)]
struct FaceRow<'a> {
    /// Stable name.
    name: &'a str,
    /// Form, fitted through its vertices.
    form: FormRow,
    /// Area of its triangles.
    area_mm2: f64,
    /// Number of its triangles.
    triangle_count: usize,
    /// Largest distance of a vertex from the form.
    fit_error_mm: f64,
    /// Area centre.
    centre_mm: Triple,
}

/// Form of a face.
#[derive(Serialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
enum FormRow {
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
struct FeatureRow<'a> {
    /// Stable name.
    name: &'a str,
    /// Form and sizes.
    form: FeatureFormRow,
    /// Directions out of the part along which a straight way leads to it; the best first.
    access: Vec<Triple>,
    /// Names of its faces.
    faces: Vec<&'a str>,
}

/// Form of a feature, in ISO 14649-10 terms (from memory).
#[derive(Serialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case")]
enum FeatureFormRow {
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
struct StepRow {
    /// Diameter at the outer end.
    diameter_mm: f64,
    /// Diameter at the inner end.
    inner_diameter_mm: f64,
    /// Depth of the outer end.
    from_mm: f64,
    /// Depth of the inner end.
    to_mm: f64,
}

fn point(p: &Point3<f64>) -> Triple {
    [p.x, p.y, p.z].map(|x| x + 0.0)
}

fn vector(v: &Vec3) -> Triple {
    [v.x, v.y, v.z].map(|x| x + 0.0)
}

fn vectors(list: &[Vec3]) -> Vec<Triple> {
    list.iter().map(vector).collect()
}

/// Faces and features as JSON, two spaces deep, with a line end at the end.
///
/// # Units
/// Stand in the key names.
///
/// # Errors
/// [`JsonError::NotFinite`] where a number is not finite: a fault of this program.
pub fn features_json(report: &FeaturesReport<'_>) -> Result<String, JsonError> {
    let (totals, whole_mm2) = report.totals();
    let (low, high) = report.mesh.bounds();
    let total = |(kind, (count, area_mm2)): (&&'static str, (usize, f64))| Total {
        kind,
        count,
        area_mm2,
        area_share: area_mm2 / whole_mm2.max(f64::MIN_POSITIVE),
    };
    let file = FeaturesFile {
        format: FORMAT,
        version: VERSION,
        program_version: env!("CARGO_PKG_VERSION"),
        file: report.file,
        warnings: report.warnings,
        grounds: report.faces.grounds.iter().map(ground_row).collect(),
        triangle_count: report.mesh.triangles.len(),
        low_mm: point(&low),
        high_mm: point(&high),
        tolerance_mm: report.faces.tolerance_mm,
        totals: KINDS.iter().zip(totals).map(total).collect(),
        faces: report.faces.faces.iter().map(face_row).collect(),
        features: report
            .features
            .iter()
            .map(|feature| feature_row(report, feature))
            .collect(),
    };
    all_finite(&file)?;
    Ok(serde_json::to_string_pretty(&file)? + "\n")
}

/// JSON Schema (2020-12) of what [`features_json`] writes.
#[must_use]
pub fn features_schema() -> Value {
    let generator = SchemaSettings::draft2020_12()
        .for_serialize()
        .into_generator();
    let mut schema = Value::from(generator.into_root_schema_for::<FeaturesFile>());
    schema["title"] = Value::from("Answer of lapidary features");
    schema
}

fn ground_row(ground: &FaceGround) -> Ground {
    let (kind, count) = match *ground {
        FaceGround::OpenEdges(count) => ("open-edges", count),
        FaceGround::CrowdedEdges(count) => ("crowded-edges", count),
        FaceGround::MixedEdges(count) => ("mixed-edges", count),
        FaceGround::InsideOut(count) => ("inside-out", count),
    };
    Ground { kind, count }
}

fn face_row(face: &Face) -> FaceRow<'_> {
    FaceRow {
        name: &face.name,
        form: form_row(&face.form),
        area_mm2: face.area_mm2,
        triangle_count: face.triangles.len(),
        fit_error_mm: face.fit_error_mm,
        centre_mm: point(&face.centre),
    }
}

fn form_row(form: &FaceForm) -> FormRow {
    match *form {
        FaceForm::Flat { normal, .. } => FormRow::Flat {
            normal: vector(&normal),
        },
        FaceForm::Cylinder {
            point: p,
            direction,
            radius_mm,
            length_mm,
            turn_deg,
            hollow,
        } => FormRow::Cylinder {
            point_mm: point(&p),
            direction: vector(&direction),
            diameter_mm: 2.0 * radius_mm,
            length_mm,
            turn_deg,
            hollow,
        },
        FaceForm::Cone {
            apex,
            direction,
            half_angle_deg,
            from_mm,
            to_mm,
            turn_deg,
            hollow,
        } => FormRow::Cone {
            apex_mm: point(&apex),
            direction: vector(&direction),
            half_angle_deg,
            from_mm,
            to_mm,
            turn_deg,
            hollow,
        },
        FaceForm::Torus {
            centre,
            direction,
            major_radius_mm,
            minor_radius_mm,
            turn_deg,
            hollow,
        } => FormRow::Torus {
            centre_mm: point(&centre),
            direction: vector(&direction),
            major_radius_mm,
            minor_radius_mm,
            turn_deg,
            hollow,
        },
        FaceForm::Sphere {
            centre,
            radius_mm,
            hollow,
        } => FormRow::Sphere {
            centre_mm: point(&centre),
            radius_mm,
            hollow,
        },
        FaceForm::Other => FormRow::Other {},
    }
}

fn feature_row<'a>(report: &FeaturesReport<'a>, feature: &'a Feature) -> FeatureRow<'a> {
    let name = |face: &u32| report.faces.faces[*face as usize].name.as_str();
    FeatureRow {
        name: &feature.name,
        form: feature_form(&feature.form),
        access: vectors(&feature.access),
        faces: feature.faces.iter().map(name).collect(),
    }
}

fn feature_form(form: &FeatureForm) -> FeatureFormRow {
    match form {
        FeatureForm::RoundHole(hole) => {
            let (bottom, bottom_angle_deg) = match hole.bottom {
                HoleBottom::Through => ("through", None),
                HoleBottom::Flat => ("flat", None),
                HoleBottom::Conical(angle_deg) => ("conical", Some(angle_deg)),
                HoleBottom::Rounded => ("rounded", None),
                HoleBottom::Blind => ("blind", None),
            };
            let step = |step: &crate::mesh::features::HoleStep| StepRow {
                diameter_mm: step.diameter_mm,
                inner_diameter_mm: step.inner_diameter_mm,
                from_mm: step.from_mm,
                to_mm: step.to_mm,
            };
            FeatureFormRow::RoundHole {
                opening_mm: point(&hole.opening),
                direction: vector(&hole.direction),
                steps: hole.steps.iter().map(step).collect(),
                bottom,
                bottom_angle_deg,
                depth_mm: hole.depth_mm,
            }
        }
        FeatureForm::Boss(boss) => FeatureFormRow::Boss {
            top_mm: point(&boss.top),
            direction: vector(&boss.direction),
            diameter_mm: boss.diameter_mm,
            height_mm: boss.height_mm,
        },
        FeatureForm::Pocket(pocket) => FeatureFormRow::Pocket {
            type_of_pocket: match (pocket.floor, pocket.open_sides.as_slice()) {
                (None, _) => "through",
                (_, []) => "closed",
                _ => "open",
            },
            opening_mm: point(&pocket.opening),
            direction: vector(&pocket.direction),
            along: vector(&pocket.along),
            length_mm: pocket.length_mm,
            width_mm: pocket.width_mm,
            depth_mm: pocket.depth_mm,
            corner_radius_mm: pocket.corner_radius_mm,
            floor_radius_mm: pocket.floor_radius_mm,
            open_sides: vectors(&pocket.open_sides),
            is_rectangle: pocket.is_rectangle,
        },
        FeatureForm::Slot(slot) => FeatureFormRow::Slot {
            points_mm: slot.points.iter().map(point).collect(),
            closed: slot.closed,
            direction: vector(&slot.direction),
            width_mm: slot.width_mm,
            depth_mm: slot.depth_mm,
            open_sides: vectors(&slot.open_sides),
        },
        FeatureForm::Step(step) => FeatureFormRow::Step {
            at_mm: point(&step.at),
            direction: vector(&step.direction),
            along: vector(&step.along),
            length_mm: step.length_mm,
            width_mm: step.width_mm,
            depth_mm: step.depth_mm,
            open_sides: vectors(&step.open_sides),
        },
        FeatureForm::PlanarFace(face) => FeatureFormRow::PlanarFace {
            at_mm: point(&face.at),
            direction: vector(&face.direction),
            along: vector(&face.along),
            length_mm: face.length_mm,
            width_mm: face.width_mm,
        },
    }
}
