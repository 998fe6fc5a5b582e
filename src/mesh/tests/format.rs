//! Every kind of good and bad file that shops hold.

use super::*;

fn assert_brick(read: &ReadMesh) {
    assert_eq!(read.mesh.triangles.len(), 12);
    assert_eq!(read.mesh.vertices.len(), 8);
    assert_eq!(read.mesh.shells.len(), 1);
    assert!(read.mesh.shells[0].closed && read.mesh.shells[0].balanced);
    approx::assert_relative_eq!(read.mesh.volume_mm3(), 6000.0, epsilon = 1e-9);
    assert_eq!(read.mesh.bounds().1, Point3::new(10.0, 20.0, 30.0));
    assert_eq!(read.mesh.chord_allowance_mm, 0.0);
}

#[test]
fn binary_reads_whatever_its_header_says() {
    for header in [
        b"".as_slice(),
        b"solid brick",
        b"SOLID \n facet normal",
        &[0xFF; 80],
    ] {
        let read = read(binary(header, &brick())).unwrap();
        assert_eq!(read.format, StlFormat::Binary);
        assert_eq!(read.faults, []);
        assert_brick(&read);
    }
    assert_eq!(
        read(binary(b"solid brick\0x", &brick())).unwrap().solids,
        ["solid brick"]
    );
}

#[test]
fn ascii_reads_in_every_dress() {
    let plain = ascii("brick", &brick());
    let exponents = plain.replace("vertex 10 20 30", "vertex +1.0E+01 2e1 .3e+2");
    assert_ne!(plain, exponents);
    let other_end = plain.replace("endsolid brick", "endsolid something else");
    let mut latin1 = plain.replace("solid brick", "solid Geh?use").into_bytes();
    latin1
        .iter_mut()
        .filter(|byte| **byte == b'?')
        .for_each(|byte| *byte = 0xE4);
    let mixed = plain.replace("facet", "FaCeT").replace("vertex", "Vertex");
    let nan_normals = plain.replace("normal 0 0 0", "normal -nan(ind) nan 1.#QNAN");
    let dresses: Vec<Vec<u8>> = vec![
        plain.clone().into(),
        plain.to_uppercase().into(),
        mixed.into(),
        plain.replace("  ", "\t").into(),
        plain.replace("  ", " \x0B\x0C").into(),
        format!("\u{FEFF}{plain}").into(),
        format!("\n\n  {plain}").into(),
        plain.replace("solid brick", "solid").into(),
        plain.replace('\n', "\r\n").into(),
        plain.replace('\n', "\r").into(),
        exponents.into(),
        other_end.into(),
        nan_normals.into(),
        latin1,
        plain.trim_end().into(),
    ];
    for dress in dresses {
        let read = read(&dress).unwrap_or_else(|e| panic!("{e}\n{}", dress.escape_ascii()));
        assert_eq!(read.format, StlFormat::Ascii);
        assert_eq!(read.faults, []);
        assert_brick(&read);
    }
}

#[test]
fn names_are_kept() {
    let mut latin1 = ascii("Geh?use links", &brick()).into_bytes();
    latin1
        .iter_mut()
        .filter(|byte| **byte == b'?')
        .for_each(|byte| *byte = 0xE4);
    assert_eq!(read(&latin1).unwrap().solids, ["Gehäuse links"]);
    assert_eq!(
        read(ascii("Gehäuse", &brick())).unwrap().solids,
        ["Gehäuse"]
    );
    assert_eq!(read(ascii("", &brick())).unwrap().solids, [""]);
}

#[test]
fn several_solids_are_all_kept() {
    let moved: Vec<Triangle> = brick()
        .iter()
        .map(|t| t.map(|[x, y, z]| [x + 50.0, y, z]))
        .collect();
    let text = ascii("one", &brick()) + &ascii("two", &moved);
    let both = read(text).unwrap();
    assert_eq!((both.mesh.triangles.len(), both.mesh.shells.len()), (24, 2));
    assert_eq!(both.solids, ["one", "two"]);
    assert_eq!(both.faults, []);

    let first = binary(b"one", &brick());
    let both = read([first.clone(), binary(b"two", &moved)].concat()).unwrap();
    assert_eq!((both.mesh.triangles.len(), both.mesh.shells.len()), (24, 2));
    assert_eq!(both.solids, ["one", "two"]);
    let place = Place::Byte(first.len() as u64);
    assert_fault(
        &both.faults,
        FaultKind::SeveralBinarySolids,
        place,
        "another binary solid",
    );
}

#[test]
fn inches_are_converted_once() {
    let options = ReadOptions::new(25.4);
    let inch = read_stl(&binary(b"", &brick()), &options).unwrap().mesh;
    assert_eq!(inch.bounds().1, Point3::new(254.0, 20.0 * 25.4, 762.0));
    let stated = ReadOptions {
        chord_allowance_mm: Some(0.02),
        ..options
    };
    assert_eq!(
        read_stl(&binary(b"", &brick()), &stated)
            .unwrap()
            .mesh
            .chord_allowance_mm,
        0.02
    );
}

#[test]
fn options_without_sense_are_refused() {
    for unit in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        let faults = read_stl(&binary(b"", &brick()), &ReadOptions::new(unit))
            .unwrap_err()
            .faults;
        assert_fault(&faults, FaultKind::BadOption, Place::File, "unit factor");
    }
    let options = ReadOptions {
        chord_allowance_mm: Some(-0.1),
        ..ReadOptions::new(1.0)
    };
    let faults = read_stl(&binary(b"", &brick()), &options)
        .unwrap_err()
        .faults;
    assert_fault(
        &faults,
        FaultKind::BadOption,
        Place::File,
        "chord allowance",
    );
    let options = ReadOptions {
        largest_bytes: 100,
        ..ReadOptions::new(1.0)
    };
    let faults = read_stl(&binary(b"", &brick()), &options)
        .unwrap_err()
        .faults;
    assert_fault(
        &faults,
        FaultKind::TooLarge,
        Place::File,
        "684 bytes, more than the 100",
    );
}

#[test]
fn binary_sizes_that_do_not_fit_are_refused() {
    let good = binary(b"solid x", &brick());
    let cut = refused(&good[..good.len() - 1]).faults;
    assert_fault(
        &cut,
        FaultKind::Truncated,
        Place::Byte(683),
        "11 whole triangles",
    );
    let cut = refused(&good[..60]).faults;
    assert_fault(
        &cut,
        FaultKind::Truncated,
        Place::Byte(0),
        "header takes 84",
    );

    let count = |n: u32| {
        let mut bytes = good.clone();
        bytes[80..84].copy_from_slice(&n.to_le_bytes());
        bytes
    };
    // The greatest count would ask for 215 GB: it must be found before memory is reserved.
    let faults = refused(count(u32::MAX)).faults;
    assert_fault(
        &faults,
        FaultKind::CountMismatch,
        Place::Byte(80),
        "holds exactly 12",
    );
    let faults = refused(count(13)).faults;
    assert_fault(
        &faults,
        FaultKind::Truncated,
        Place::Byte(684),
        "says 13 triangles",
    );
    for low in [0, 1, 11] {
        let faults = refused(count(low)).faults;
        assert_fault(
            &faults,
            FaultKind::CountMismatch,
            Place::Byte(80),
            "room for 12",
        );
    }
}

#[test]
fn trailing_bytes_are_a_warning_unless_they_may_be_triangles() {
    let good = binary(b"", &brick());
    for tail in [
        vec![0; 7],
        vec![0; 512],
        b"written by hand".to_vec(),
        vec![0xAB; 64],
    ] {
        let read = read([good.clone(), tail.clone()].concat()).unwrap();
        assert_brick(&read);
        let message = format!("{} bytes follow", tail.len());
        assert_fault(
            &read.faults,
            FaultKind::TrailingBytes,
            Place::Byte(684),
            &message,
        );
    }
    let hidden = [&good[..], &good[84..134], &[1, 2, 3]].concat();
    assert!(refused(hidden).has(FaultKind::CountMismatch));
}

#[test]
fn files_without_triangles_are_refused() {
    assert_fault(
        &refused("").faults,
        FaultKind::EmptyFile,
        Place::File,
        "empty",
    );
    let none = binary(b"", &[]);
    assert_fault(
        &refused(none).faults,
        FaultKind::ZeroTriangles,
        Place::File,
        "no triangles",
    );
    let none = refused("solid nothing\nendsolid nothing\n").faults;
    assert_fault(&none, FaultKind::ZeroTriangles, Place::File, "no triangles");
    let flat = binary(b"", &[[[0.0; 3], [1.0; 3], [2.0; 3]]]);
    assert_fault(
        &refused(flat).faults,
        FaultKind::ZeroTriangles,
        Place::File,
        "has an area",
    );
}

#[test]
fn other_files_are_refused_as_such() {
    let page = "<html><body>not a mesh, but long enough to hold a count at byte eighty</body></html> \
                and some more";
    assert_fault(
        &refused(page).faults,
        FaultKind::NotStl,
        Place::Byte(0),
        "neither ASCII STL",
    );
    assert_fault(
        &refused("hello").faults,
        FaultKind::NotStl,
        Place::Byte(0),
        "5 bytes of text",
    );
    let utf16: Vec<u8> = "\u{FEFF}solid x"
        .encode_utf16()
        .flat_map(u16::to_le_bytes)
        .collect();
    assert_fault(
        &refused(utf16).faults,
        FaultKind::NotStl,
        Place::Byte(0),
        "UTF-16",
    );
}

#[test]
fn ascii_faults_have_their_line() {
    let good = ascii("brick", &brick());
    let line = |number: usize, new: &str| {
        let mut lines: Vec<&str> = good.lines().collect();
        lines[number - 1] = new;
        refused(lines.join("\n")).faults
    };
    use FaultKind::{BadNumber, BadSyntax, CommaDecimal, NonFinite, TooFar};
    // Line that is changed, its new text, and the fault: kind, line, words.
    let cases = [
        (4, "vertex 1,5 2 3", CommaDecimal, 4, "\"1,5\""),
        (4, "vertex nan 2 3", NonFinite, 4, "nan"),
        (5, "vertex 1.#INF 2 3", NonFinite, 5, "1.#INF"),
        (5, "vertex 1 -INF 3", NonFinite, 5, "-INF"),
        (5, "vertex 1 1e999 3", NonFinite, 5, "1e999"),
        (6, "vertex 1 2 3x", BadNumber, 6, "3x"),
        (6, "vertex 1 2", BadSyntax, 7, "found \"endloop\""),
        (6, "vertex 1 2 3 4", BadSyntax, 6, "found \"4\""),
        (7, "vertex 1 2 3", BadSyntax, 7, "found \"vertex\""),
        (6, "", BadSyntax, 7, "expected \"vertex\""),
        (2, "fcet normal 0 0 1", BadSyntax, 2, "found \"fcet\""),
        (4, "vertex 1e7 0 0", TooFar, 2, "1.000e7 mm"),
    ];
    for (number, new, kind, told, words) in cases {
        assert_fault(&line(number, new), kind, Place::Line(told), words);
    }
    for ends in ["\r", "\r\n"] {
        let text = good
            .replacen("vertex 0 0 0", "vertex x 0 0", 1)
            .replace('\n', ends);
        assert!(
            refused(&text).faults[0].place == Place::Line(4),
            "{}",
            refused(&text)
        );
    }
}

#[test]
fn ascii_cut_short_is_refused() {
    let good = ascii("brick", &brick());
    let no_end = good.replace("endsolid brick\n", "");
    assert_fault(
        &refused(no_end).faults,
        FaultKind::Truncated,
        Place::Line(86),
        "no \"endsolid\"",
    );
    let in_facet = &good[..good.find("endloop").unwrap()];
    assert_fault(
        &refused(in_facet).faults,
        FaultKind::Truncated,
        Place::Line(7),
        "inside a facet",
    );
    let nested = good.replace("endsolid brick\n", "") + &good;
    assert_fault(
        &refused(nested).faults,
        FaultKind::Truncated,
        Place::Line(86),
        "a solid starts",
    );
    let outside = good.clone() + "facet normal 0 0 1";
    assert_fault(
        &refused(outside).faults,
        FaultKind::BadSyntax,
        Place::Line(87),
        "outside any",
    );
    let read = read(good + "\x1A").unwrap();
    assert_fault(
        &read.faults,
        FaultKind::TrailingBytes,
        Place::Line(87),
        "outside any solid",
    );
}

#[test]
fn bad_coordinates_in_binary_have_their_triangle() {
    for (value, kind) in [
        (f32::NAN, FaultKind::NonFinite),
        (f32::INFINITY, FaultKind::NonFinite),
        (1.1e6, FaultKind::TooFar),
        (-3.0e30, FaultKind::TooFar),
    ] {
        let mut triangles = brick();
        triangles[4][1][2] = value;
        triangles[7][0][0] = value;
        let faults = refused(binary(b"", &triangles)).faults;
        assert_fault(&faults, kind, Place::Triangle(5), "a coordinate is");
        assert_fault(&faults, kind, Place::Triangle(8), "a coordinate is");
    }
    let far: Vec<Triangle> = brick()
        .iter()
        .map(|t| t.map(|[x, y, z]| [x + 5e4, y, z]))
        .collect();
    let faults = read(binary(b"", &far)).unwrap().faults;
    assert_fault(
        &faults,
        FaultKind::CoarseCoordinates,
        Place::File,
        "50010 mm",
    );
}

#[test]
fn all_faults_are_reported_up_to_a_cap() {
    let mut triangles = [brick(), brick()].concat();
    triangles
        .iter_mut()
        .take(20)
        .for_each(|t| t[0][0] = f32::NAN);
    triangles[22][0][1] = 1e9;
    let error = refused(binary(b"", &triangles));
    let listed: Vec<_> = error
        .faults
        .iter()
        .filter(|f| f.kind == FaultKind::NonFinite)
        .collect();
    assert_eq!(listed.len() as u64, LISTED_PER_KIND);
    assert_eq!(listed.last().unwrap().further, 20 - LISTED_PER_KIND);
    assert_fault(
        &error.faults,
        FaultKind::TooFar,
        Place::Triangle(23),
        "1.000e9",
    );
    let text = error.to_string();
    assert!(
        text.starts_with("error, triangle 1: a coordinate is NaN; "),
        "{text}"
    );
    assert!(text.contains("(and 15 more of this kind)"), "{text}");
    assert_eq!(text.lines().count(), error.faults.len());
}

/// Where stl_io 0.11 can read a file, both readers see the same triangles.
#[test]
fn agrees_with_stl_io() {
    for bytes in [
        binary(b"x", &brick()),
        ascii("brick", &brick()).into_bytes(),
    ] {
        let theirs = stl_io::read_stl(&mut std::io::Cursor::new(&bytes)).unwrap();
        let ours = read(&bytes).unwrap().mesh;
        assert_eq!(theirs.faces.len(), ours.triangles.len());
        assert_eq!(theirs.vertices.len(), ours.vertices.len());
        for (index, face) in theirs.faces.iter().enumerate() {
            let corners = face.vertices.map(|v| {
                let v = theirs.vertices[v];
                Point3::new(f64::from(v[0]), f64::from(v[1]), f64::from(v[2]))
            });
            assert_eq!(corners, ours.corners(index as u32));
        }
    }
}
