//! Tools: lengths that must agree, codes that are needed, profiles by closed formulae.

use super::fixture::{Files, TOOLS};
use crate::mesh::solids::{Roundness, revolved};
use crate::mesh::write_stl_binary;
use crate::setup::model::{Profile, ProfileRing, Tool};
use crate::setup::stand_out;
use std::f64::consts::PI;

const T: &str = "shop/tools.toml";
const J: &str = "job.toml";

/// The good tools and one more, number 9, with this text.
fn with_tool(text: &str) -> Files {
    let mut files = Files::good();
    let holder = "holder = [{ diameter = 40, height = 60 }]";
    let stick_out = if text.contains("stick_out") {
        ""
    } else {
        "stick_out = 40\n"
    };
    files.text(
        T,
        &format!("{TOOLS}\n[[tools]]\nnumber = 9\nname = \"nine\"\n{stick_out}{holder}\n{text}\n"),
    );
    files
}

fn tool(text: &str) -> Tool {
    with_tool(text).good_setup().setup.tools.pop().unwrap()
}

/// Volume of pieces without balls: frusta on each other.
fn volume_mm3(profile: &Profile) -> f64 {
    let frustum = |pair: &[ProfileRing]| {
        assert_eq!((pair[0].ball_mm, pair[1].ball_mm), (0.0, 0.0));
        let (a, b) = (pair[0].radius_mm, pair[1].radius_mm);
        PI * (pair[1].height_mm - pair[0].height_mm) * (a * a + a * b + b * b) / 3.0
    };
    profile
        .pieces
        .iter()
        .flat_map(|piece| piece.rings.windows(2).map(frustum))
        .sum()
}

#[track_caller]
fn near(found: f64, expected: f64) {
    assert!(
        (found - expected).abs() <= 1.0e-9 * expected.abs().max(1.0),
        "{found} {expected}"
    );
}

/// What is exchanged for what, part of the line of the fault, words of the message.
const LENGTHS: [(&str, &str, &str, &[&str]); 9] = [
    (
        "APMX = 32",
        "APMX = 52",
        "LU = 40",
        &["`tools[0].LU`", "APMX 52", "LU 40"],
    ),
    (
        "LU = 40",
        "LU = 93",
        "OAL = 92",
        &["`tools[0].OAL`", "LU 93", "OAL 92"],
    ),
    (
        "LF = 140",
        "LF = 141",
        "LF = 141",
        &["`tools[1].LF`", "141", "140"],
    ),
    ("LF = 140", "LF = 139.98", "LF = 139.98", &["139.98", "140"]),
    (
        "stick_out = 50",
        "stick_out = 93",
        "stick_out = 93",
        &["93", "OAL 92"],
    ),
    (
        "stick_out = 50",
        "stick_out = 0",
        "stick_out = 0",
        &["`tools[0].stick_out`"],
    ),
    (
        "stick_out = 50",
        "LF = 70",
        "LF = 70",
        &["nothing would stick out"],
    ),
    (
        "stick_out = 50\n",
        "",
        "[[tools]]",
        &["`tools[0]`", "`stick_out` or `LF`"],
    ),
    (
        "number = 6",
        "number = 2",
        "number = 2#2",
        &["tool 2 stands twice"],
    ),
];

#[test]
fn lengths_must_agree() {
    for (old, new, at, words) in LENGTHS {
        let files = Files::with(T, old, new);
        files.among(T, at, words);
    }
    assert_eq!(
        Files::with(T, "LF = 140", "LF = 140.009")
            .good_setup()
            .setup
            .tools
            .len(),
        2
    );
    let files = Files::with(T, "stick_out = 50", "stick_out = 60");
    files.warning(
        T,
        "stick_out = 60",
        &["grips 32 mm", "40 mm wanted", "at most 52 mm"],
    );
    let files =
        Files::with(T, "stick_out = 40", "stick_out = 20").change(T, "LF = 140", "LF = 120");
    files.warning(T, "stick_out = 20", &["LU 30", "stick-out 20"]);
}

#[test]
fn the_bore_of_a_holder_has_its_say() {
    let with_bore = |depth: u32| Files::with(T, "OAL = 92", &format!("OAL = 92\nLSCX = {depth}"));
    // 92 long, 50 out: 42 in the holder, which keeps a grip of 40.
    let setup = with_bore(42).good_setup().setup;
    assert_eq!(setup.tools[0].bore_depth_mm, Some(42.0));
    with_bore(41).among(
        T,
        "LSCX = 41",
        &["42 mm", "bore of 41 mm", "at least 51 mm"],
    );
    with_bore(39).among(T, "LSCX = 39", &["39 mm of the shank", "grip of 40 mm"]);
    let files = Files::with(T, "OAL = 92", "LSCX = 50");
    files.warning(T, "LSCX = 50", &["without OAL"]);
}

#[test]
fn kinds_need_their_codes() {
    let cases: [(&str, &[&str]); 12] = [
        ("kind = \"drill\"\nDC = 5", &["`LU` is missing"]),
        ("kind = \"end-mill\"\nDC = 5", &["`APMX` is missing"]),
        ("kind = \"ball-mill\"\nDC = 5", &["`APMX` is missing"]),
        (
            "kind = \"corner-radius-mill\"\nDC = 5\nAPMX = 9",
            &["`RE` is missing"],
        ),
        ("kind = \"face-mill\"\nDC = 50", &["`APMX` is missing"]),
        ("kind = \"tap\"\nDC = 10\nLU = 20", &["`TP` is missing"]),
        ("kind = \"chamfer-mill\"\nDC = 12", &["`SIG` is missing"]),
        ("kind = \"groove-mill\"\nDC = 3", &["`CW` is missing"]),
        (
            "kind = \"end-mill\"\nDC = 5\nAPMX = 9\nRE = 1",
            &["RE", "corner-radius-mill"],
        ),
        (
            "kind = \"corner-radius-mill\"\nDC = 5\nAPMX = 9\nRE = 3",
            &["3 mm is more than half"],
        ),
        ("kind = \"drill\"\nDC = 20\nLU = 5", &["5 mm long", "point"]),
        (
            "kind = \"drill\"\nDC = 20\nLU = 30\nSIG = 190",
            &["190", "0 to 180"],
        ),
    ];
    for (text, words) in cases {
        let faults = with_tool(text).faults();
        let errors = faults
            .iter()
            .filter(|fault| fault.message.contains("`tools[2]"));
        let errors: Vec<_> = errors.collect();
        assert_eq!(
            errors.len(),
            1,
            "{text}: {}",
            super::fixture::shown(&faults)
        );
        assert!(
            words.iter().all(|word| errors[0].message.contains(word)),
            "{}",
            errors[0]
        );
    }
    let files = Files::with(T, "holder = [{ diameter = 28, height = 100 }]\n", "");
    files.one_error(T, "[[tools]]#2", &["`tools[1]`", "no holder"]);
    let mill = "kind = \"end-mill\"\nDC = 5\nAPMX = 9\nreference = \"centre\"";
    with_tool(mill).one_error(T, "reference", &["`tools[2].reference`", "no ball"]);
    let both =
        with_tool("kind = \"end-mill\"\nDC = 5\nAPMX = 9\nholder_mesh = { file = \"h.stl\" }");
    both.among(
        T,
        "[[tools]]#3",
        &["`holder` and `holder_mesh` are both given"],
    );
}

#[test]
fn profiles_have_their_closed_form_volumes() {
    let mill = tool("kind = \"end-mill\"\nDC = 16\nAPMX = 30\nLU = 35\nDMM = 20\nBD = 15");
    near(volume_mm3(&mill.flutes), PI * 64.0 * 30.0);
    near(volume_mm3(&mill.neck), PI * 7.5 * 7.5 * 5.0);
    near(volume_mm3(&mill.shank), PI * 100.0 * 5.0);
    near(volume_mm3(&mill.holder), PI * 400.0 * 60.0);
    near(mill.gauge_length_mm, 100.0);
    // Point lengths by geometry: 0.18 D at 140 degrees, 0.30 D at 118.
    let drill = tool("kind = \"drill\"\nDC = 10\nLU = 36\nSIG = 140");
    near(drill.point_length_mm, 5.0 / 70.0_f64.to_radians().tan());
    assert!((drill.point_length_mm - 1.82).abs() < 0.005);
    let point = drill.point_length_mm;
    near(
        volume_mm3(&drill.flutes),
        PI * 25.0 * (36.0 - point + point / 3.0),
    );
    assert_eq!(drill.flutes.pieces.len(), 1, "a pointed bar is convex");
    let plain = tool("kind = \"drill\"\nDC = 10\nLU = 36");
    assert!((plain.point_length_mm - 3.0).abs() < 0.005);
    // A 90 degree chamfer mill: as high as it widens; tip 2, so 5 high.
    let chamfer = tool("kind = \"chamfer-mill\"\nDC = 12\nSIG = 90\ntip_diameter = 2\nAPMX = 8");
    near(chamfer.point_length_mm, 5.0);
    near(
        volume_mm3(&chamfer.flutes),
        PI * (5.0 * (1.0 + 6.0 + 36.0) / 3.0 + 36.0 * 3.0),
    );
    let groove = tool("kind = \"groove-mill\"\nDC = 20\nCW = 3\nBD = 8");
    near(volume_mm3(&groove.flutes), PI * 100.0 * 3.0);
    // What is no edge must not pass for one: the width decides, above it is neck.
    let groove = tool("kind = \"groove-mill\"\nDC = 20\nCW = 3\nAPMX = 7\nBD = 8");
    near(volume_mm3(&groove.flutes), PI * 100.0 * 3.0);
    assert!(!groove.plunges && mill.plunges && drill.plunges);
    let tap = tool("kind = \"tap\"\nDC = 10\nLU = 24\nTP = 1.5");
    near(tap.point_length_mm, 4.5);
    near(tap.edge_length_mm, 24.0);
    near(tap.grip_mm, 25.0);
}

#[test]
fn round_tips_are_rings_thickened_by_balls() {
    let ring = |radius_mm, height_mm, ball_mm| ProfileRing {
        radius_mm,
        height_mm,
        ball_mm,
    };
    let ball = tool("kind = \"ball-mill\"\nDC = 10\nAPMX = 20\nreference = \"centre\"\nLF = 95");
    assert_eq!(
        ball.flutes.pieces[0].rings,
        [ring(0.0, 5.0, 5.0), ring(5.0, 20.0, 0.0)]
    );
    // LF counts to the centre, 5 above the tip.
    near(ball.reference_height_mm, 5.0);
    near(ball.gauge_length_mm, 100.0);
    let corner = tool("kind = \"corner-radius-mill\"\nDC = 12\nRE = 1\nAPMX = 20");
    assert_eq!(
        corner.flutes.pieces[0].rings,
        [ring(5.0, 1.0, 1.0), ring(6.0, 20.0, 0.0)]
    );
    near(corner.corner_radius_mm, 1.0);
    near(corner.reference_height_mm, 0.0);
}

#[test]
fn a_holder_mesh_becomes_its_envelope() {
    let stick_out = "kind = \"end-mill\"\nDC = 5\nAPMX = 9\nstick_out = 20";
    let mesh = "holder_mesh = { file = \"holder.stl\", chord_allowance = 0.1 }";
    let mut files =
        with_tool(stick_out).change(T, "holder = [{ diameter = 40, height = 60 }]", mesh);
    let body = revolved(&[(0.0, 10.0), (50.0, 20.0)], 64, Roundness::Inscribed).unwrap();
    files
        .0
        .insert("shop/holder.stl".into(), write_stl_binary(&body));
    let tool = files.good_setup().setup.tools.pop().unwrap();
    // The corners of the inscribed mesh lie on the cone from 10 to 20 over 50.
    assert!((tool.gauge_length_mm - 70.0).abs() < 1.0e-6);
    assert_eq!(tool.holder.chord_allowance_mm, 0.1);
    let expected = PI * 50.0 * (100.0 + 200.0 + 400.0) / 3.0;
    let volume = volume_mm3(&tool.holder);
    assert!(
        volume >= expected - 1e-2 && volume < expected * 1.002,
        "{volume} {expected}"
    );
    // With a gauge length below its top the rest is in the spindle; above it, the two disagree.
    let cut = files
        .clone()
        .change(T, "stick_out = 20\n", "stick_out = 20\nLF = 60\n");
    cut.warning(T, "holder_mesh", &["10.000 mm above the gauge line"]);
    let top = cut.good_setup().setup.tools.pop().unwrap().holder;
    near(
        top.pieces.last().unwrap().rings.last().unwrap().height_mm,
        40.0,
    );
    files
        .change(T, "stick_out = 20\n", "stick_out = 20\nLF = 80\n")
        .among(T, "LF = 80", &["80", "stick-out 20"]);
}

#[test]
fn a_tool_of_the_job_replaces_one_of_a_file() {
    let inline = "[[tools]]\nnumber = 6\nname = \"own\"\nkind = \"drill\"\nDC = 6\nLU = 30\nstick_out = 40\nholder = [{ diameter = 30, height = 80 }]\n\n[carrier]";
    let setup = Files::with(J, "[carrier]", inline).good_setup().setup;
    let names: Vec<&str> = setup.tools.iter().map(|tool| tool.name.as_str()).collect();
    assert_eq!(names, ["end mill 16", "own"]);
}

/// A diameter that is none is the only fault: no corner is held against it.
#[test]
fn a_negative_diameter_is_told_once() {
    for (kind, more) in [
        ("end-mill", "APMX = 20"),
        ("ball-mill", "APMX = 20"),
        ("corner-radius-mill", "APMX = 20\nRE = 1"),
    ] {
        let text = format!("kind = \"{kind}\"\nDC = -5\nDMM = 6\n{more}");
        with_tool(&text).one_error(T, "DC = -5", &["`tools[2].DC`", "more than 0"]);
    }
}

/// Edges, neck and shank come out of the holder with a longer stick-out, also what stands in it as set.
#[test]
fn a_longer_stick_out_brings_out_what_stood_in_the_holder() {
    for set_mm in [20, 35, 62] {
        let sizes = "DC = 10\nAPMX = 30\nLU = 40\nDMM = 12\nBD = 9";
        let set = tool(&format!(
            "kind = \"end-mill\"\nstick_out = {set_mm}\n{sizes}"
        ));
        for (stick_out_mm, edges_mm, neck_mm, shank_mm) in [
            (20.0, 20.0, 0.0, 0.0),
            (35.0, 30.0, 5.0, 0.0),
            (40.0, 30.0, 10.0, 0.0),
            (62.0, 30.0, 10.0, 22.0),
        ] {
            let mut longer = set.clone();
            stand_out(&mut longer, stick_out_mm);
            near(longer.edge_length_mm, edges_mm);
            near(volume_mm3(&longer.flutes), PI * 25.0 * edges_mm);
            near(volume_mm3(&longer.neck), PI * 4.5 * 4.5 * neck_mm);
            near(volume_mm3(&longer.shank), PI * 36.0 * shank_mm);
        }
    }
}
