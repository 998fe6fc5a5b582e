//! `lapidary features`, and jobs whose cuts name what it found.

use crate::bodies::{mesh, plate};
use crate::five_holes;
use assert_cmd::Command;
use lapidary::mesh::features::features;
use lapidary::mesh::{ReadOptions, read_stl, write_stl_binary};
use lapidary::setup::file::FeatureFile;
use lapidary::setup::model::{FeatureForm, Setup};
use lapidary::setup::{SetupFaults, load};
use std::path::{Path, PathBuf};

fn features_of(name: &str, words: &[&str]) -> (Option<i32>, String, String) {
    let folder = tempfile::tempdir().unwrap();
    let triangles = plate(5, 15.0, &five_holes(), 32);
    std::fs::write(
        folder.path().join("plate.stl"),
        write_stl_binary(&mesh(&triangles)),
    )
    .unwrap();
    std::fs::write(folder.path().join("empty.stl"), b"").unwrap();
    let open = mesh(&triangles[1..].to_vec());
    std::fs::write(folder.path().join("open.stl"), write_stl_binary(&open)).unwrap();
    let run = Command::cargo_bin("lapidary")
        .unwrap()
        .current_dir(folder.path())
        .args(["features", name])
        .args(words)
        .output()
        .unwrap();
    let text = |bytes| String::from_utf8(bytes).unwrap();
    (run.status.code(), text(run.stdout), text(run.stderr))
}

#[test]
fn text_tells_features_and_faces() {
    let (code, text, said) = features_of("plate.stl", &[]);
    assert_eq!((code, said.as_str()), (Some(0), ""));
    for words in [
        "hole-1",
        "through",
        "118 deg",
        "diameter 11.00",
        "100.00 x 20.00 x 15.00 mm",
    ] {
        assert!(text.contains(words), "{words} is not in\n{text}");
    }
    assert!(text.lines().all(|line| line.chars().count() <= 80));
    let (_, inches, _) = features_of("plate.stl", &["--units", "inch"]);
    assert!(inches.contains("diameter 0.4331"), "{inches}");
}

#[test]
fn json_fits_its_schema() {
    let (code, text, _) = features_of("plate.stl", &["--format", "json"]);
    assert_eq!(code, Some(0));
    let value: serde_json::Value = serde_json::from_str(&text).unwrap();
    assert_eq!(value["format"], "lapidary/features");
    let printed = Command::cargo_bin("lapidary")
        .unwrap()
        .args(["schema", "features"])
        .output();
    let schema = serde_json::from_slice(&printed.unwrap().stdout).unwrap();
    assert!(jsonschema::is_valid(&schema, &value));
    assert!(!jsonschema::is_valid(&schema, &serde_json::json!({})));
    assert_eq!(value["features"].as_array().unwrap().len(), 11);
}

#[test]
fn toml_snippets_are_features_of_a_job() {
    let (code, text, _) = features_of("plate.stl", &["--format", "toml"]);
    assert_eq!(code, Some(0));
    let tables: Vec<FeatureFile> = text
        .split("[cuts.feature]\n")
        .skip(1)
        .map(|table| toml::from_str(table).unwrap_or_else(|e| panic!("{e} in\n{table}")))
        .collect();
    // Five holes, two of them with two steps, and six sides.
    assert_eq!(tables.len(), 13, "{text}");
    let FeatureFile::RoundHole { at, depth, .. } = &tables[0] else {
        panic!("{text}")
    };
    assert_eq!((at[0], *depth), ([10.0, 10.0, 0.0], 15.0));
    let FeatureFile::RoundPocket {
        diameter, depth, ..
    } = &tables[1]
    else {
        panic!("{text}")
    };
    assert_eq!((*diameter, *depth), (6.0, 8.0));
}

#[test]
fn bad_meshes_are_refused_or_say_what_holds() {
    let (code, text, said) = features_of("empty.stl", &[]);
    assert_eq!((code, text.as_str()), (Some(2), ""));
    assert!(said.contains("the file is empty"), "{said}");
    assert_eq!(features_of("missing.stl", &[]).0, Some(2));
    let (code, text, said) = features_of("open.stl", &[]);
    assert_eq!(code, Some(0));
    assert!(
        text.contains("note: the surface is open at 3 edges"),
        "{text}"
    );
    assert!(said.contains("only one triangle"), "{said}");
}

/// The demo job with one piece of text exchanged.
fn job(old: &str, new: &str) -> Result<Setup, SetupFaults> {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-models/horizontal.toml");
    let text = std::fs::read_to_string(&path).unwrap();
    assert_eq!(text.matches(old).count(), 1, "{old}");
    let text = text.replace(old, new);
    let own = path.clone();
    let read = move |asked: &Path| {
        if asked == own {
            Ok(text.clone().into_bytes())
        } else {
            std::fs::read(asked)
        }
    };
    load(&path, &read).map(|loaded| loaded.setup)
}

/// Name of the feature of a demo mesh whose opening is nearest to a point.
fn name_at(state: &str, kind: &str, x: f64, y: f64, z: f64) -> String {
    let path: PathBuf = [env!("CARGO_MANIFEST_DIR"), "demo-models/meshes"]
        .iter()
        .collect();
    let bytes = std::fs::read(path.join(format!("housing-{state}.stl"))).unwrap();
    let (_, features) = features(&read_stl(&bytes, &ReadOptions::new(1.0)).unwrap().mesh);
    use lapidary::mesh::features::FeatureForm as Form;
    let off = |form: &Form| match form {
        Form::RoundHole(hole) => (hole.opening - nalgebra::Point3::new(x, y, z)).norm(),
        Form::Pocket(pocket) => (pocket.opening - nalgebra::Point3::new(x, y, z)).norm(),
        _ => f64::INFINITY,
    };
    let mut named: Vec<_> = features.iter().filter(|f| f.form.kind() == kind).collect();
    named.sort_by(|a, b| off(&a.form).total_cmp(&off(&b.form)));
    named[0].name.clone()
}

const GALLERY: &str =
    "feature = { kind = \"round-hole\", at = [[35, 2, 8]], access = [1, 0, 0], depth = 15 }";

#[test]
fn a_cut_may_name_a_hole_of_its_mesh() {
    let name = name_at("piloted", "hole", 35.0, 2.0, 8.0);
    let new = format!("feature = {{ kind = \"from-mesh\", name = \"{name}\" }}");
    let setup = job(GALLERY, &new).unwrap();
    let cut = setup
        .cuts
        .iter()
        .find(|cut| cut.name == "gallery pilot")
        .unwrap();
    let opening = cut.feature.part_from_feature.translation.vector;
    assert!(
        (opening - nalgebra::Vector3::new(35.0, 2.0, 8.0)).norm() < 0.002,
        "{opening}"
    );
    let FeatureForm::RoundHole { depth_mm, .. } = cut.feature.form else {
        panic!()
    };
    assert!((depth_mm - 15.0).abs() < 0.002, "{depth_mm}");
}

#[test]
fn a_cut_may_name_a_pocket_of_its_mesh() {
    let old = "feature = { kind = \"pocket\", at = [0.0, -10.0, 46.0], access = [0, 0, 1], along = \
               [1, 0, 0], length = 44.0, width = 50.0, corner_radius = 8.5, depth = 30.0 }";
    let name = name_at("pocketed", "pocket", 0.0, -10.0, 46.0);
    let setup = job(
        old,
        &format!("feature = {{ kind = \"from-mesh\", name = \"{name}\" }}"),
    )
    .unwrap();
    let cut = setup
        .cuts
        .iter()
        .find(|cut| cut.name == "pocket, finish")
        .unwrap();
    let FeatureForm::Pocket {
        length_mm,
        width_mm,
        depth_mm,
        corner_radius_mm,
        ..
    } = cut.feature.form
    else {
        panic!()
    };
    let found = [
        length_mm.min(width_mm),
        length_mm.max(width_mm),
        depth_mm,
        corner_radius_mm,
    ];
    for (found, wanted) in found.into_iter().zip([44.0, 50.0, 30.0, 8.5]) {
        assert!((found - wanted).abs() < 0.01, "{found}, not {wanted}");
    }
}

#[track_caller]
fn refused(new: &str, words: &[&str]) {
    let faults = job(GALLERY, new).map(|_| ()).unwrap_err().0;
    let faults: String = faults.iter().map(|fault| format!("{fault}\n")).collect();
    for word in words {
        assert!(faults.contains(word), "{word} is not in {faults}");
    }
}

#[test]
fn names_that_are_not_there_are_refused_with_those_that_are() {
    refused(
        "feature = { kind = \"from-mesh\", name = \"hole-99\" }",
        &[
            "`cuts[10].feature.name`",
            "\"piloted\" has no feature \"hole-99\"",
            "\"hole-1\"",
        ],
    );
    refused(
        "feature = { kind = \"from-mesh\", name = \"hole-1\", state = \"finishd\" }",
        &["feature.state`", "\"finished\" meant?"],
    );
    refused("feature = { kind = \"from-mesh\" }", &["`name`"]);
    let name = name_at("piloted", "hole", 35.0, 2.0, 8.0);
    refused(
        &format!("feature = {{ kind = \"from-mesh\", name = \"{name}\", access = [0, 1, 0] }}"),
        &["cannot be taken as it is", "[1, 0, 0]"],
    );
    refused(
        &format!("feature = {{ kind = \"from-mesh\", name = \"{name}\", step = 7 }}"),
        &["has no step 7"],
    );
}
