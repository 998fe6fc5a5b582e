//! What holds for every job: inches and millimetres agree, and no bytes make the reader panic.

use super::fixture::{Files, JOB, MACHINE, TOOLS};
use crate::setup::model::{Form, Setup};
use crate::value::Pose;
use proptest::prelude::*;
use std::path::PathBuf;

const LENGTH_KEYS: [&str; 32] = [
    "rest",
    "index",
    "across_flats",
    "length",
    "bore",
    "base_height",
    "base_diameter",
    "width",
    "thickness",
    "z",
    "first",
    "pitch",
    "at",
    "depth",
    "gauge_point",
    "limits",
    "centre",
    "swing_radius",
    "from",
    "to",
    "diameter",
    "points",
    "radius",
    "along",
    "DC",
    "APMX",
    "LU",
    "OAL",
    "DMM",
    "stick_out",
    "LF",
    "height",
];

/// A TOML text with every length divided by 25.4, and its unit exchanged. The pitch of an `along`
/// that is a direction does not matter: its length has no meaning.
fn in_inches(text: &str) -> String {
    let mut value: toml::Value = toml::from_str(text).unwrap();
    scale(&mut value, false);
    value["units"] = toml::Value::from("inch");
    if let Some(states) = value
        .get_mut("parts")
        .and_then(|parts| parts[0].get_mut("states"))
    {
        states[1]
            .as_table_mut()
            .unwrap()
            .insert("mesh_units".into(), "mm".into());
    }
    if let Some(clamps) = value.get_mut("clamps") {
        clamps[0]["states"][0]
            .as_table_mut()
            .unwrap()
            .insert("mesh_units".into(), "mm".into());
    }
    toml::to_string(&value).unwrap()
}

fn scale(value: &mut toml::Value, is_length: bool) {
    let inches = |mm: f64| toml::Value::from(mm / 25.4);
    match value {
        toml::Value::Integer(number) if is_length => *value = inches(f64::from(*number as i32)),
        toml::Value::Float(number) if is_length => *value = inches(*number),
        toml::Value::Array(items) => items.iter_mut().for_each(|item| scale(item, is_length)),
        toml::Value::Table(table) => {
            for (key, item) in table.iter_mut() {
                let scalar = !item.is_table();
                scale(item, scalar && LENGTH_KEYS.contains(&key.as_str()));
            }
        }
        _ => {}
    }
}

/// All lengths and poses of a setup that files can state, in a fixed order.
fn numbers(setup: &Setup) -> Vec<f64> {
    let mut all = Vec::new();
    let pose = |pose: &Pose, all: &mut Vec<f64>| {
        all.extend(pose.to_homogeneous().iter().copied());
    };
    let form = |form: &Form, all: &mut Vec<f64>| match form {
        Form::Mesh(mesh) => all.extend(mesh.vertices.iter().flat_map(|v| [v.x, v.y, v.z])),
        Form::Revolved(profile) => {
            let rings = profile.pieces.iter().flat_map(|piece| &piece.rings);
            all.extend(rings.flat_map(|ring| [ring.radius_mm, ring.height_mm, ring.ball_mm]));
        }
    };
    let machine = &setup.machine;
    for axis in &machine.axes {
        all.extend([axis.low_mm, axis.high_mm, axis.home_mm, axis.tool_change_mm]);
    }
    pose(&machine.machine_from_spindle_at_zero, &mut all);
    for body in machine
        .nose
        .iter()
        .chain(&machine.head)
        .chain(&machine.bed)
        .chain(&machine.base)
    {
        form(&body.form, &mut all);
        pose(&body.pose, &mut all);
    }
    all.extend(machine.rotary.centre.iter());
    all.extend(machine.contacts.iter().flat_map(|contact| contact.along_mm));
    for tool in &setup.tools {
        all.extend([
            tool.diameter_mm,
            tool.gauge_length_mm,
            tool.stick_out_mm,
            tool.grip_mm,
        ]);
        all.extend([
            tool.point_length_mm,
            tool.usable_length_mm,
            tool.shank_diameter_mm,
        ]);
        for profile in [&tool.flutes, &tool.neck, &tool.shank, &tool.holder] {
            form(&Form::Revolved(profile.clone().into()), &mut all);
        }
    }
    for body in &setup.carrier.bodies {
        form(&body.form, &mut all);
        pose(&body.carrier_from_body, &mut all);
    }
    pose(&setup.carrier.machine_from_carrier_at_zero, &mut all);
    for seat in &setup.seats {
        pose(&seat.carrier_from_seat, &mut all);
        pose(&seat.seat_from_part, &mut all);
    }
    for state in setup.parts.iter().flat_map(|part| &part.states) {
        form(&Form::Mesh(state.mesh.clone()), &mut all);
    }
    let wanted = setup.wanted;
    all.extend([
        wanted.flutes.rest_mm,
        wanted.holder.rest_mm,
        wanted.holder.index_mm,
    ]);
    for cut in &setup.cuts {
        pose(&cut.feature.part_from_feature, &mut all);
    }
    all
}

#[test]
fn inches_and_millimetres_agree() {
    let metric = Files::good().good_setup().setup;
    let mut files = Files::good();
    // The pads' default gap of 5 mm in index moves is no length of the file.
    files.text("job.toml", &in_inches(JOB));
    files.text("shop/machine.toml", &in_inches(MACHINE));
    files.text("shop/tools.toml", &in_inches(TOOLS));
    let inch = files.good_setup().setup;
    let (metric_numbers, inch_numbers) = (numbers(&metric), numbers(&inch));
    assert_eq!(metric_numbers.len(), inch_numbers.len());
    assert!(metric_numbers.len() > 500);
    for (a, b) in metric_numbers.iter().zip(&inch_numbers) {
        assert!((a - b).abs() <= 1.0e-12 * a.abs().max(1.0), "{a} {b}");
    }
    let (a, b) = (&metric.cuts[1].feature.form, &inch.cuts[1].feature.form);
    let depth = |text: String| text.split("depth_mm: ").nth(1).unwrap()[..4].to_owned();
    assert_eq!(depth(format!("{a:?}")), depth(format!("{b:?}")));
}

/// One change to a text: where, and what.
#[derive(Debug, Clone)]
enum Change {
    Cut(usize, usize),
    Put(usize, String),
    Byte(usize, u8),
    /// A line goes somewhere else.
    Move(usize, usize),
}

fn change() -> impl Strategy<Value = Change> {
    let at = 0..4000_usize;
    let texts = prop::sample::select(vec![
        "[[",
        "]]",
        "=",
        "\"",
        "nan",
        "-1",
        "0",
        "1e308",
        "[",
        "{",
        "}",
        "\n",
        "[[cuts]]\n",
        "true",
        "99999999999",
        "''",
        "é",
        "[carrier.pads]\n",
        "a.b.c = 1\n",
        ", ",
        "units = \"inch\"\n",
    ]);
    prop_oneof![
        (at.clone(), 0..60_usize).prop_map(|(at, count)| Change::Cut(at, count)),
        (at.clone(), texts).prop_map(|(at, text)| Change::Put(at, text.to_owned())),
        (at.clone(), any::<u8>()).prop_map(|(at, byte)| Change::Byte(at, byte)),
        (0..80_usize, 0..80_usize).prop_map(|(from, to)| Change::Move(from, to)),
    ]
}

fn changed(bytes: &[u8], change: &Change) -> Vec<u8> {
    let mut bytes = bytes.to_vec();
    match change {
        Change::Cut(at, count) => {
            let start = at % (bytes.len() + 1);
            let end = (start + count).min(bytes.len());
            bytes.drain(start..end);
        }
        Change::Put(at, text) => {
            let at = at % (bytes.len() + 1);
            bytes.splice(at..at, text.bytes());
        }
        Change::Byte(at, byte) => {
            let len = bytes.len().max(1);
            if let Some(place) = bytes.get_mut(at % len) {
                *place = *byte;
            }
        }
        Change::Move(from, to) => {
            let mut lines: Vec<&[u8]> = bytes.split(|byte| *byte == b'\n').collect();
            let line = lines.remove(from % lines.len());
            lines.insert(to % (lines.len() + 1), line);
            return lines.join(&b'\n');
        }
    }
    bytes
}

/// Loads; faults, where there are any, hold at least one error, and all are sorted.
fn never_panics(files: &Files) {
    match files.load() {
        Ok(loaded) => assert!(loaded.warnings.is_sorted()),
        Err(faults) => {
            let error = crate::setup::Severity::Error;
            assert!(faults.0.iter().any(|fault| fault.severity == error));
            assert!(
                faults
                    .0
                    .iter()
                    .all(|fault| !fault.message.contains("does not know"))
            );
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn changed_files_never_panic(
        which in 0..3_usize,
        changes in prop::collection::vec(change(), 1..5),
    ) {
        let path = PathBuf::from(["job.toml", "shop/machine.toml", "shop/tools.toml"][which]);
        let mut files = Files::good();
        let mut bytes = files.0[&path].clone();
        for change in &changes {
            bytes = changed(&bytes, change);
        }
        files.0.insert(path, bytes);
        never_panics(&files);
    }

    #[test]
    fn random_bytes_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        let mut files = Files::good();
        files.0.insert("job.toml".into(), bytes.clone());
        never_panics(&files);
        let mut files = Files::good();
        files.0.insert("meshes/part.stl".into(), bytes);
        never_panics(&files);
    }

    #[test]
    fn changed_numbers_never_panic(
        number in prop_oneof![
            Just(0.0), Just(-1.0), Just(1e-300), Just(1e300), Just(f64::MAX), Just(1e6),
            -1e3..1e3_f64, Just(0.1), Just(-0.0),
        ],
        nth in 0..200_usize,
        which in 0..3_usize,
    ) {
        let path = ["job.toml", "shop/machine.toml", "shop/tools.toml"][which];
        let mut files = Files::good();
        let text = String::from_utf8(files.0[&PathBuf::from(path)].clone()).unwrap();
        let is_part = |c: char| c.is_ascii_digit() || c == '.' || c == '-';
        let mut count = 0;
        let mut out = String::new();
        let mut rest = text.as_str();
        while let Some(start) = rest.find(|c: char| c.is_ascii_digit()) {
            let end = rest[start..].find(|c| !is_part(c)).map_or(rest.len(), |end| start + end);
            let before = rest[..start].chars().last();
            out.push_str(&rest[..start]);
            let whole = before.is_some_and(|c| c == ' ' || c == '[');
            if whole && count == nth {
                out.push_str(&format!("{number:?}"));
            } else {
                out.push_str(&rest[start..end]);
            }
            count += usize::from(whole);
            rest = &rest[end..];
        }
        out.push_str(rest);
        files.text(path, &out);
        never_panics(&files);
    }
}
