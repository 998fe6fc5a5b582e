//! The good job: what stands in the model.

use super::fixture::{Files, JOB, MACHINE};
use crate::setup::model::{FeatureForm, Form};
use crate::setup::{SchemaKind, Severity, schema};
use crate::value::Vec3;
use nalgebra::Point3;
use std::path::Path;
use std::sync::Arc;

#[test]
fn the_good_job_loads() {
    let loaded = Files::good().good_setup();
    assert!(
        loaded
            .warnings
            .iter()
            .all(|fault| fault.severity == Severity::Warning)
    );
    // The second cut leaves the part as it is: the only thing to point out.
    assert_eq!(
        loaded.warnings.len(),
        1,
        "{}",
        super::fixture::shown(&loaded.warnings)
    );
    assert_eq!(loaded.sources.len(), 5);
    let setup = loaded.setup;
    assert_eq!(setup.title, "Two housings");
    let names: Vec<&str> = setup.seats.iter().map(|seat| seat.name.as_str()).collect();
    assert_eq!(names, ["1.1", "1.2", "3.1", "3.2"]);
    let bodies: Vec<&str> = setup
        .carrier
        .bodies
        .iter()
        .map(|body| body.name.as_str())
        .collect();
    assert_eq!(
        bodies,
        [
            "carrier column",
            "carrier base",
            "carrier pad 1",
            "carrier pad 2",
            "carrier pad 3",
            "carrier pad 4"
        ]
    );
    assert_eq!(setup.wanted.holder.index_mm, 6.0);
    assert_eq!(
        (setup.wanted.work.rest_mm, setup.wanted.work.index_mm),
        (2.0, 5.0)
    );
    assert_eq!(setup.gouge_mm, 0.01);
    assert_eq!(
        setup
            .tools
            .iter()
            .map(|tool| tool.number)
            .collect::<Vec<_>>(),
        [2, 6]
    );
    assert!(matches!(
        setup.cuts[1].feature.form,
        FeatureForm::RoundHole { .. }
    ));
    assert!(matches!(setup.machine.bed[0].form, Form::Revolved(_)));
}

#[test]
fn stock_is_the_box_of_the_finished_part_and_more() {
    let setup = Files::good().good_setup().setup;
    let [blank, finished] = setup.parts[0].states.as_slice() else {
        panic!()
    };
    assert_eq!(finished.mesh.bounds().1, Point3::new(35.0, 45.0, 46.0));
    assert_eq!(blank.mesh.bounds().0, Point3::new(-35.0, -45.0, 0.0));
    assert_eq!(blank.mesh.bounds().1, Point3::new(35.0, 45.0, 49.0));
}

#[test]
fn a_mesh_used_twice_is_read_once() {
    let second = "[[clamps]]\nname = \"second\"\nstates = [{ name = \"closed\", file = \"meshes/clamp.stl\" }]\n\n[[seats]]";
    let loaded = Files::with("job.toml", "[[seats]]", second).good_setup();
    let [first, second] = loaded.setup.clamps.as_slice() else {
        panic!()
    };
    assert!(Arc::ptr_eq(&first.states[0].mesh, &second.states[0].mesh));
    assert_eq!(loaded.sources.len(), 5);
}

#[test]
fn bom_and_line_ends_of_another_system_are_read() {
    let mut files = Files::good();
    files.text(
        "job.toml",
        &format!("\u{feff}{}", JOB.replace('\n', "\r\n")),
    );
    files.text("shop/machine.toml", &MACHINE.replace('\n', "\r\n"));
    assert_eq!(files.good_setup().setup.seats.len(), 4);
    // Lines count the same.
    files.text(
        "job.toml",
        &JOB.replace('\n', "\r\n")
            .replace("depth = 18", "depth = -18"),
    );
    files.one_error(
        "job.toml",
        "depth = -18",
        &["`cuts[1].feature.depth`", "more than 0"],
    );
}

#[test]
fn seats_stand_on_their_sides_exactly() {
    let setup = Files::good().good_setup().setup;
    let machine_from_carrier = setup.carrier.machine_from_carrier_at_zero;
    // B about Y, spindle Z: side 1 faces the spindle, seats 90 from the axis (80 and the pad 10).
    let at = |index: usize| {
        let machine_from_seat = machine_from_carrier * setup.seats[index].carrier_from_seat;
        (
            machine_from_seat * Point3::origin(),
            machine_from_seat * Vec3::z(),
        )
    };
    assert_eq!(at(0), (Point3::new(0.0, 130.0, 90.0), Vec3::z()));
    assert_eq!(at(1), (Point3::new(0.0, 260.0, 90.0), Vec3::z()));
    assert_eq!(at(2), (Point3::new(0.0, 130.0, -90.0), -Vec3::z()));
    let along = machine_from_carrier * setup.seats[0].carrier_from_seat * Vec3::y();
    assert_eq!(along, Vec3::y());
}

#[test]
fn schemas_are_good_for_editors() {
    for kind in SchemaKind::ALL {
        let schema = schema(kind);
        assert!(jsonschema::meta::is_valid(&schema), "{kind:?}");
        assert_eq!(
            schema["$schema"],
            "https://json-schema.org/draft/2020-12/schema"
        );
        assert!(schema["title"].as_str().unwrap().starts_with("Lapidary"));
        assert!(!schema["description"].as_str().unwrap().is_empty());
        for (key, property) in schema["properties"].as_object().unwrap() {
            assert!(
                property["description"].is_string(),
                "{kind:?} {key} is not described"
            );
        }
        assert!(!schema.to_string().contains("\"null\""));
    }
}

#[test]
fn a_missing_job_is_said() {
    let mut files = Files::good();
    files.0.remove(Path::new("job.toml"));
    let faults = files.faults();
    assert_eq!(faults.len(), 1);
    assert!(
        faults[0].message.contains("cannot read the job"),
        "{}",
        faults[0]
    );
}
