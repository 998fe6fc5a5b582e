//! Faces against known B-reps: STEP files of registry packages, made into triangles at two
//! densities by cadquery-ocp-novtk 8.0.1.1.0 (`brep.py`), which also says what each face is.
//!
//! A flat or cylindrical face of the B-rep counts as found when nearly all its triangles have one
//! face of ours, of the same kind; the normal or axis within 0.05 degree; the radius within the
//! chord error; bore and boss not exchanged. What is missed is printed, and `reference/brep.json`
//! holds how many must be found at least.

use lapidary::mesh::faces::{FaceForm, Faces, faces};
use lapidary::mesh::{Mesh, ReadOptions, read_stl};
use lapidary::value::Vec3;
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::Path;

/// Directions agree within 0.05 degree.
const AXIS_SINE: f64 = 8.73e-4;

/// This share of the area of a face must have one face of ours.
const COVERED: f64 = 0.95;

/// Found and present, flat and cylindrical, by area and number.
#[derive(Debug, Default, Clone, Copy)]
struct Score {
    flats: usize,
    flats_found: usize,
    cylinders: usize,
    cylinders_found: usize,
    area_mm2: f64,
    area_found_mm2: f64,
    /// Area of all other faces of the B-rep, and how much of it we call flat or cylindrical.
    rest_mm2: f64,
    mistold_mm2: f64,
}

/// Set where a body that was not made is a failure, not a skip.
const REQUIRED: &str = "LAPIDARY_OUTSIDE_REQUIRED";

#[test]
fn faces_are_those_of_the_breps() {
    let reference = crate::reference("brep.json");
    let floors = reference["floors"].as_object().unwrap();
    let folder = crate::root().join("target/outside/brep");
    let mut sum = Score::default();
    let (mut missing, mut wrong) = (Vec::new(), Vec::new());
    for (name, floor) in floors {
        let Some((score, missed)) = survey(&folder.join(format!("{name}.stl"))) else {
            missing.push(name.clone());
            continue;
        };
        missed.iter().for_each(|line| println!("missed: {line}"));
        let wanted = |kind: &str, k: usize| floor[kind][k].as_u64().unwrap() as usize;
        let there = [score.flats, score.cylinders] == [wanted("flats", 1), wanted("cylinders", 1)];
        let enough = score.flats_found >= wanted("flats", 0)
            && score.cylinders_found >= wanted("cylinders", 0);
        if !there || !enough {
            wrong.push(format!("{name}: {score:?}, wanted {floor}"));
        }
        sum.add(&score);
    }
    println!(
        "B-reps: {} of {} flat and {} of {} cylindrical faces, {:.3} % of their area; of what is \
         neither, {:.3} % is called so",
        sum.flats_found,
        sum.flats,
        sum.cylinders_found,
        sum.cylinders,
        100.0 * sum.area_found_mm2 / sum.area_mm2,
        100.0 * sum.mistold_mm2 / sum.rest_mm2
    );
    assert!(wrong.is_empty(), "{wrong:#?}");
    if !missing.is_empty() {
        println!("SKIPPED, not made by brep.py: {}", missing.join(", "));
    }
    assert!(
        missing.is_empty() || std::env::var_os(REQUIRED).is_none(),
        "not made: {missing:?}"
    );
}

impl Score {
    fn add(&mut self, other: &Self) {
        self.flats += other.flats;
        self.flats_found += other.flats_found;
        self.cylinders += other.cylinders;
        self.cylinders_found += other.cylinders_found;
        self.area_mm2 += other.area_mm2;
        self.area_found_mm2 += other.area_found_mm2;
        self.rest_mm2 += other.rest_mm2;
        self.mistold_mm2 += other.mistold_mm2;
    }
}

/// Compares one body; `None` where it was not made.
fn survey(stl: &Path) -> Option<(Score, Vec<String>)> {
    let bytes = std::fs::read(stl).ok()?;
    let facts = std::fs::read(stl.with_extension("json")).ok()?;
    let facts: Value = serde_json::from_slice(&facts).unwrap();
    let mesh = read_stl(&bytes, &ReadOptions::new(1.0)).unwrap().mesh;
    let rows = facts["faces"].as_array().unwrap();
    let count = |row: &Value| row["triangles"].as_u64().unwrap() as usize;
    let total: usize = rows.iter().map(count).sum();
    assert_eq!(
        mesh.triangles.len(),
        total,
        "{}: triangles were dropped",
        stl.display()
    );
    let split = faces(&mesh);
    let mut score = Score::default();
    let mut missed = Vec::new();
    let mut first = 0;
    for (index, row) in rows.iter().enumerate() {
        let own = first..first + count(row);
        first = own.end;
        let kind = row["kind"].as_str().unwrap();
        if !["plane", "cylinder"].contains(&kind) {
            for triangle in own.map(|t| t as u32) {
                let ours = &split.faces[split.face_of_triangle[triangle as usize] as usize];
                let simple = ["flat", "cylinder"].contains(&ours.form.kind());
                score.rest_mm2 += area(&mesh, triangle);
                score.mistold_mm2 += f64::from(u8::from(simple)) * area(&mesh, triangle);
            }
            continue;
        }
        if own.is_empty() {
            continue;
        }
        let triangles: Vec<u32> = own.map(|t| t as u32).collect();
        let area_mm2 = triangles.iter().map(|t| area(&mesh, *t)).sum::<f64>();
        let fault = fault(&mesh, &split, row, &triangles);
        let found = usize::from(fault.is_none());
        score.area_mm2 += area_mm2;
        if kind == "plane" {
            score.flats += 1;
            score.flats_found += found;
        } else {
            score.cylinders += 1;
            score.cylinders_found += found;
        }
        match fault {
            None => score.area_found_mm2 += area_mm2,
            Some(what) => missed.push(format!(
                "{} face {}: {kind} of {area_mm2:.3} mm2: {what}",
                stl.file_stem().unwrap().to_string_lossy(),
                index + 1
            )),
        }
    }
    Some((score, missed))
}

fn area(mesh: &Mesh, triangle: u32) -> f64 {
    let [a, b, c] = mesh.corners(triangle);
    (b - a).cross(&(c - a)).norm() / 2.0
}

/// What is wrong with our face for one of the B-rep.
fn fault(mesh: &Mesh, split: &Faces, row: &Value, triangles: &[u32]) -> Option<String> {
    let mut by_face: BTreeMap<u32, f64> = BTreeMap::new();
    for &triangle in triangles {
        let face = split.face_of_triangle[triangle as usize];
        *by_face.entry(face).or_insert(0.0) += area(mesh, triangle);
    }
    let whole: f64 = by_face.values().sum();
    let (face, most) = by_face.iter().max_by(|a, b| a.1.total_cmp(b.1)).unwrap();
    let ours = &split.faces[*face as usize];
    if *most < COVERED * whole {
        return Some(format!(
            "in {} pieces, the largest {}",
            by_face.len(),
            ours.name
        ));
    }
    let axis: Vec<f64> = row["axis"]
        .as_array()
        .unwrap()
        .iter()
        .map(|x| x.as_f64().unwrap())
        .collect();
    let axis = Vec3::new(axis[0], axis[1], axis[2]);
    match (row["kind"].as_str().unwrap(), ours.form) {
        ("plane", FaceForm::Flat { normal, .. }) => {
            let sine = normal.cross(&axis).norm();
            (sine > AXIS_SINE).then(|| format!("normal {:.4} degree off", sine.asin().to_degrees()))
        }
        (
            "cylinder",
            FaceForm::Cylinder {
                direction,
                radius_mm,
                hollow,
                ..
            },
        ) => {
            let sine = direction.cross(&axis).norm();
            let radius = row["radius"].as_f64().unwrap();
            let chord_mm = chord_error(mesh, &ours.triangles, row, radius).max(1e-5);
            if sine > AXIS_SINE {
                Some(format!("axis {:.4} degree off", sine.asin().to_degrees()))
            } else if (radius_mm - radius).abs() > chord_mm {
                Some(format!(
                    "radius {radius_mm}, not {radius}; chord error {chord_mm:.6}"
                ))
            } else if hollow != row["hollow"].as_bool().unwrap() {
                Some("bore and boss exchanged".to_owned())
            } else {
                None
            }
        }
        (_, _) => Some(format!("told as {}", ours.name)),
    }
}

/// How deep the chords of these triangles lie below a cylinder of this radius: from the widest
/// step that any edge makes round the axis, which a half edge square to it bounds.
fn chord_error(mesh: &Mesh, triangles: &[u32], row: &Value, radius: f64) -> f64 {
    let axis: Vec<f64> = row["axis"]
        .as_array()
        .unwrap()
        .iter()
        .map(|x| x.as_f64().unwrap())
        .collect();
    let axis = Vec3::new(axis[0], axis[1], axis[2]);
    let mut widest = 0.0_f64;
    for &triangle in triangles {
        let [a, b, c] = mesh.corners(triangle);
        for edge in [b - a, c - b, a - c] {
            widest = widest.max(edge.cross(&axis).norm());
        }
    }
    let half = (widest / 2.0).min(radius);
    radius - (radius * radius - half * half).sqrt()
}
