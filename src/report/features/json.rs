//! Faces and features as JSON, and its schema.

use super::rows::{
    FORMAT, FaceRow, FeatureFormRow, FeatureRow, FeaturesFile, FormRow, Ground, StepRow, Total,
    Triple, VERSION,
};
use super::{FeaturesReport, KINDS};
use crate::mesh::faces::{Face, FaceForm, FaceGround};
use crate::mesh::features::{Feature, FeatureForm, HoleBottom, HoleStep, RoundHole};
use crate::report::JsonError;
use crate::report::json::all_finite;
use crate::value::Vec3;
use nalgebra::Point3;
use schemars::generate::SchemaSettings;
use serde_json::Value;

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
        FaceGround::Crossings(count) => ("crossings", count),
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

fn hole_form(hole: &RoundHole) -> FeatureFormRow {
    let (bottom, bottom_angle_deg) = match hole.bottom {
        HoleBottom::Through => ("through", None),
        HoleBottom::Flat => ("flat", None),
        HoleBottom::Conical(angle_deg) => ("conical", Some(angle_deg)),
        HoleBottom::Rounded => ("rounded", None),
        HoleBottom::Blind => ("blind", None),
    };
    let step = |step: &HoleStep| StepRow {
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

fn feature_form(form: &FeatureForm) -> FeatureFormRow {
    match form {
        FeatureForm::RoundHole(hole) => hole_form(hole),
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
