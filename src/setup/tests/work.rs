//! Carrier, seats, parts and clamps: faults, and frames by hand.

use super::fixture::{Files, shown};
use crate::mesh::solids::cuboid;
use crate::setup::Severity;
use crate::setup::model::Form;
use crate::value::{Vec3, about_axis};
use nalgebra::Point3;

const J: &str = "job.toml";
const M: &str = "shop/machine.toml";

#[track_caller]
fn error(old: &str, new: &str, at: &str, words: &[&str]) {
    Files::with(J, old, new).one_error(J, at, words);
}

#[test]
fn carriers_are_checked() {
    error("sides = 4\n", "", "[carrier]", &["`sides` is missing"]);
    error(
        "sides = 4",
        "sides = 2",
        "sides = 2",
        &["`carrier.sides`", "3 to 360"],
    );
    error(
        "base_diameter = 150\n",
        "",
        "[carrier]",
        &["`base_height` and `base_diameter` together"],
    );
    error(
        "kind = \"column\"",
        "kind = \"column\"\nwidth = 5",
        "width = 5",
        &["only a plate"],
    );
    let faces = "kind = \"column\"\nside_1_faces = [0, 2, 0]";
    error(
        "kind = \"column\"",
        faces,
        "side_1",
        &["`carrier.side_1_faces`", "along the rotary axis"],
    );
    let plate = Files::with(
        J,
        "kind = \"column\"\nsides = 4",
        "kind = \"plate\"\nsides = 4",
    )
    .change(J, "bore = 80\n", "");
    plate.among(J, "sides = 4", &["`carrier.sides`", "a plate has 2 sides"]);
    plate.among(J, "[carrier]", &["`width` is missing"]);
    let bored = Files::with(
        J,
        "kind = \"column\"\nsides = 4",
        "kind = \"plate\"\nwidth = 300",
    );
    bored.among(J, "bore", &["`carrier.bore`", "plain block"]);
}

#[test]
fn a_plate_has_two_sides() {
    let files = Files::with(
        J,
        "kind = \"column\"\nsides = 4",
        "kind = \"plate\"\nwidth = 300",
    )
    .change(J, "bore = 80\n", "")
    .change(J, "sides = [1, 3]", "sides = [1, 2]");
    let carrier = files.good_setup().setup.carrier;
    assert_eq!(
        (carrier.sides, carrier.bodies[0].name.as_str()),
        (2, "carrier plate")
    );
    let Form::Mesh(plate) = &carrier.bodies[0].form else {
        panic!()
    };
    assert_eq!(plate.bounds().0, Point3::new(-80.0, -150.0, 0.0));
    assert_eq!(plate.bounds().1, Point3::new(80.0, 150.0, 440.0));
    assert_eq!(
        carrier.bodies[0].carrier_from_body * Point3::origin(),
        Point3::new(0.0, 0.0, 30.0)
    );
}

#[test]
fn carrier_volume_is_that_of_its_solids() {
    let carrier = Files::good().good_setup().setup.carrier;
    let Form::Mesh(column) = &carrier.bodies[0].form else {
        panic!()
    };
    // The bore is a polygon with its corners on the bore: a little more material, never less.
    let exact = (160.0 * 160.0 - std::f64::consts::PI * 40.0 * 40.0) * 440.0;
    assert!(column.volume_mm3() >= exact && column.volume_mm3() < exact * 1.001);
    let Form::Mesh(pad) = &carrier.bodies[2].form else {
        panic!()
    };
    assert!((pad.volume_mm3() - 80.0 * 10.0 * 440.0).abs() < 1e-6);
    let pad_1 = carrier.bodies[2].carrier_from_body * pad.bounds().1;
    assert_eq!(pad_1, Point3::new(90.0, 40.0, 470.0));
}

#[test]
fn a_carrier_mesh_stands_for_all_bodies() {
    let mut files = Files::with(J, "bore = 80", "mesh = { file = \"meshes/column.stl\" }");
    files.block(
        "meshes/column.stl",
        [-80.0, -80.0, 0.0],
        [80.0, 80.0, 470.0],
    );
    assert_eq!(files.good_setup().setup.carrier.bodies.len(), 1);
    let wrong = files.change(
        J,
        "column.stl\" }",
        "column.stl\", place = { x = [0, 0, 1] } }",
    );
    wrong.one_error(J, "column.stl", &["`carrier.mesh.place`", "square"]);
}

#[test]
fn seats_are_checked() {
    error(
        "sides = [1, 3]",
        "sides = [1, 5]",
        "[1, 5]",
        &["`seats[0].sides[1]`", "sides 1 to 4"],
    );
    error(
        "sides = [1, 3]",
        "sides = [1, 1]",
        "[1, 1]",
        &["side 1 stands twice"],
    );
    error(
        "sides = [1, 3]",
        "sides = []",
        "sides = []",
        &["there is no side"],
    );
    let grid = "grid = { first = [0, 130], pitch = [0, 130], count = [1, 2] }\n";
    error(grid, "", "[[seats]]", &["`seats[0]`", "`at` or `grid`"]);
    error(
        "count = [1, 2]",
        "count = [9999999, 9999999]",
        "9999999",
        &["`seats[0].grid.count`"],
    );
    let same = Files::with(J, "pitch = [0, 130]", "pitch = [0, 0]");
    same.among(
        J,
        "[[seats]]",
        &["two seats stand at one place", "on side 3"],
    );
    error(
        "part = \"housing\"\nsides",
        "part = \"housng\"\nsides",
        "housng",
        &["\"housing\" meant?"],
    );
    error(
        "[\"strap\"]",
        "[\"strip\"]",
        "strip",
        &["`seats[0].clamps[0]`", "\"strap\" meant?"],
    );
    error(
        "[\"strap\"]",
        "[\"strap/open\"]",
        "strap/open",
        &["no state of the clamp \"strap\""],
    );
    error(
        "[\"strap\"]",
        "[]\nmirrored = true",
        "mirrored",
        &["never mirrored", "left-hand"],
    );
    let off = Files::with(J, "first = [0, 130]", "first = [90, 130]");
    off.warning(J, "[[seats]]", &["off its side", "160 mm wide"]);
}

#[test]
fn parts_and_clamps_are_checked() {
    let stock = "stock = { z = [0, 3] }";
    error(
        stock,
        "",
        "[[parts.states]]",
        &["`parts[0].states[0]`", "no mesh"],
    );
    error(
        stock,
        "stock = {}\nfile = \"meshes/part.stl\"",
        "[[parts.states]]",
        &["both given"],
    );
    error(
        "file = 'meshes\\part.stl'",
        "stock = {}",
        "stock = {}",
        &["before the last state"],
    );
    error(
        "file = \"meshes/clamp.stl\"",
        "stock = {}",
        "stock = {}",
        &["`clamps[0].states[0].stock`"],
    );
    let twice = Files::with(J, "name = \"finished\"", "name = \"blank\"");
    twice.among(
        J,
        "name = \"blank\"#2",
        &["`parts[0].states[1].name`", "stands twice"],
    );
    let unnamed = Files::with(J, "name = \"strap\"", "name = \" \"");
    unnamed.among(J, "name = \" \"", &["`clamps[0].name`", "name is empty"]);
    let one = Files::with(
        J,
        "[[parts.states]]\nname = \"blank\"\nstock = { z = [0, 3] }\n",
        "",
    )
    .change(J, "before = \"blank\"", "before = \"finished\"");
    one.warning(J, "[[parts.states]]", &["only one state", "`unknown`"]);
}

#[test]
fn mesh_faults_and_suspicious_sizes_come_with_their_file() {
    let mut files = Files::good();
    files.text(
        "meshes/part.stl",
        "solid a\nfacet normal 0 0 1\nouter loop\nvertex 0 0 x\n",
    );
    let faults = files.faults();
    let found = faults.iter().find(|fault| fault.file.ends_with("part.stl"));
    let found = found.unwrap_or_else(|| panic!("{}", shown(&faults)));
    assert_eq!(
        (found.line, found.severity),
        (Some(4), Severity::Error),
        "{found}"
    );
    assert!(
        found
            .message
            .contains("job.toml:32 `parts[0].states[1].file`"),
        "{found}"
    );
    // A part of 3.5 inches read as millimetres.
    files.block("meshes/part.stl", [-1.4, -1.8, 0.0], [1.4, 1.8, 1.8]);
    let warnings = files.good_setup().warnings;
    let unit = warnings
        .iter()
        .find(|fault| fault.message.contains("inches read as millimetres"));
    assert!(
        unit.is_some_and(|fault| fault.file.ends_with("part.stl")),
        "{}",
        shown(&warnings)
    );
}

#[test]
fn a_placed_mesh_is_moved_exactly() {
    let place =
        "file = 'meshes\\part.stl'\nplace = { at = [1, 2, 3], x = [0, 1, 0], z = [0, 0, 1] }";
    let setup = Files::with(J, "file = 'meshes\\part.stl'", place)
        .good_setup()
        .setup;
    // x goes to y, y to -x: the block of 70 x 90 x 46 becomes 90 x 70.
    let (low, high) = setup.parts[0].states[1].mesh.bounds();
    assert_eq!(
        (low, high),
        (
            Point3::new(-44.0, -33.0, 3.0),
            Point3::new(46.0, 37.0, 49.0)
        )
    );
    let moved = &setup.parts[0].states[1].mesh;
    let block = cuboid(low, high).unwrap();
    assert!((moved.volume_mm3() - block.volume_mm3()).abs() < 1e-6);
}

#[test]
fn sides_seats_and_rotary_stand_as_described() {
    // A vertical machine: A about X at 200 up, spindle Z. Side 1 faces up.
    let vertical = |order: &str| {
        let files = Files::with(
            M,
            "direction = [0, 1, 0]\ncentre = [0, 0, 0]",
            "direction = [1, 0, 0]\ncentre = [10, 20, 200]",
        )
        .change(J, "sides = 4", &format!("sides = 4\nfoot = 5\n{order}"))
        .change(J, "sides = [1, 3]", "sides = [1, 2]")
        .change(
            J,
            "clamps = [\"strap\"]",
            "clamps = [\"strap\"]\nlay_deg = 90\npart_at = [3, 0, 0]",
        );
        files.good_setup().setup
    };
    let setup = vertical("");
    let stand = setup.carrier.machine_from_carrier_at_zero;
    assert_eq!(stand * Point3::origin(), Point3::new(15.0, 20.0, 200.0));
    assert_eq!(
        (stand * Vec3::z(), stand * Vec3::x()),
        (Vec3::x(), Vec3::z())
    );
    let machine_from_seat = stand * setup.seats[0].carrier_from_seat;
    assert_eq!(
        machine_from_seat * Point3::origin(),
        Point3::new(145.0, 20.0, 290.0)
    );
    // Side 2 is side 1 turned right-handed by 90 degrees about +X: from up to -Y.
    let second = stand * setup.seats[2].carrier_from_seat;
    assert_eq!(second * Vec3::z(), -Vec3::y());
    let turn = about_axis(&Vec3::x(), &Point3::new(10.0, 20.0, 200.0), 90.0);
    assert_eq!(turn * machine_from_seat, second);
    let left = vertical("side_order = \"left-handed\"");
    assert_eq!(
        stand * left.seats[2].carrier_from_seat * Vec3::z(),
        Vec3::y()
    );
    // The part is laid by 90 degrees: its x lies along the seat's y; its origin is 3 across.
    let seat_from_part = setup.seats[0].seat_from_part;
    assert_eq!(seat_from_part * Vec3::x(), Vec3::y());
    assert_eq!(
        seat_from_part * Point3::origin(),
        Point3::new(3.0, 0.0, 0.0)
    );
}

#[test]
fn seat_numbers_run_on_over_groups() {
    let more =
        "[[seats]]\nname = \"between\"\nsides = [1]\nat = [[0, 200], [-20, 260]]\n\n[[cuts]]";
    let setup = Files::with(J, "[[cuts]]", more).good_setup().setup;
    let names: Vec<(&str, &str)> = setup
        .seats
        .iter()
        .map(|seat| (seat.name.as_str(), seat.group.as_str()))
        .collect();
    let expected = [
        ("1.1", "seats"),
        ("1.2", "between"),
        ("1.3", "between"),
        ("1.4", "seats"),
        ("3.1", "seats"),
        ("3.2", "seats"),
    ];
    assert_eq!(names, expected);
    assert_eq!((setup.seats[1].part, setup.seats[3].part), (None, Some(0)));
}
