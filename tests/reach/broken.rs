//! Meshes that are not sound: as the part, as a neighbour, as a clamp, as a body of the bed.
//!
//! Nothing may count as reached that is not with the sound mesh; and the answer says what it rests on.

use super::lab::{Mill, Triangles, asked, shop};
use super::models::Random;
use super::narrow::columns;
use super::shop::{Shop, cuboid};
use lapidary::answer::reach::model::{MeshDoubt, ReachAnswer};
use lapidary::mesh::faces::{FaceForm, faces};
use nalgebra::{Point3, Vector3};
use std::collections::BTreeMap;

/// Binary STL of triangles as they are, bad ones too.
pub fn stl(triangles: &Triangles) -> Vec<u8> {
    let mut bytes = vec![0_u8; 80];
    bytes.extend((triangles.len() as u32).to_le_bytes());
    for triangle in triangles {
        bytes.extend([0_u8; 12]);
        for corner in triangle {
            for coordinate in corner.iter() {
                bytes.extend((*coordinate as f32).to_le_bytes());
            }
        }
        bytes.extend([0_u8; 2]);
    }
    bytes
}

fn normal(t: &[Point3<f64>; 3]) -> Vector3<f64> {
    (t[1] - t[0]).cross(&(t[2] - t[0])).normalize()
}

fn flipped(triangles: &Triangles) -> Triangles {
    triangles.iter().map(|[a, b, c]| [*a, *c, *b]).collect()
}

/// Without the triangles of the plane of the triangle at a place.
fn without_face(triangles: &Triangles, place: usize) -> Triangles {
    let (n, from) = (normal(&triangles[place]), triangles[place][0]);
    let in_face =
        |t: &[Point3<f64>; 3]| normal(t).dot(&n) > 0.999 && n.dot(&(t[0] - from)).abs() < 1e-6;
    triangles.iter().filter(|t| !in_face(t)).copied().collect()
}

fn without(triangles: &Triangles, place: usize) -> Triangles {
    let mut left = triangles.clone();
    left.remove(place);
    left
}

/// Every triangle as three slivers about a point near one edge, each corner off by some hundredths of
/// a millimetre along the plane: no two of them share a corner.
fn slivers(triangles: &Triangles) -> Triangles {
    let mut random = Random(7);
    let mut all = Vec::new();
    for [a, b, c] in triangles {
        let inner = Point3::from((a.coords * 0.49) + b.coords * 0.49 + c.coords * 0.02);
        let middle = (a.coords + b.coords + c.coords) / 3.0;
        for corners in [[*a, *b, inner], [*b, *c, inner], [*c, *a, inner]] {
            all.push(corners.map(|p| {
                let in_plane = Point3::from(middle) - p;
                p + in_plane.normalize() * random.within(0.01, 0.04)
            }));
        }
    }
    all
}

/// Every way to spoil a mesh, by name.
fn spoiled(sound: &Triangles) -> Vec<(String, Triangles)> {
    let mut all = Vec::new();
    for place in 0..sound.len() {
        if place % 7 == 0 {
            all.push((format!("without triangle {place}"), without(sound, place)));
        }
    }
    let mut planes: Vec<Triangles> = Vec::new();
    for place in 0..sound.len() {
        let left = without_face(sound, place);
        if planes.len() < 7 && !planes.contains(&left) {
            all.push((format!("without the face of {place}"), left.clone()));
            all.push((
                format!("inside out, without the face of {place}"),
                flipped(&left),
            ));
            planes.push(left);
        }
    }
    all.push(("inside out".to_owned(), flipped(sound)));
    let mut mixed = sound.clone();
    for triangle in mixed.iter_mut().step_by(3) {
        triangle.swap(1, 2);
    }
    all.push(("mixed".to_owned(), mixed));
    let mut twice = sound.clone();
    twice.extend_from_slice(&sound[..sound.len() / 2]);
    all.push(("half of it twice".to_owned(), twice));
    all.push(("slivers".to_owned(), slivers(sound)));
    all
}

/// Areas surely reached, and perhaps reached, by plane of the part, tool and index.
fn areas(shop: &Shop, answer: &ReachAnswer) -> BTreeMap<String, [f64; 2]> {
    let setup = shop.load().unwrap().setup;
    let mesh = &setup.parts[0].states.last().unwrap().mesh;
    let forms: BTreeMap<String, FaceForm> = faces(mesh)
        .faces
        .into_iter()
        .map(|face| (face.name, face.form))
        .collect();
    let mut found: BTreeMap<String, [f64; 2]> = BTreeMap::new();
    for face in &answer.parts[0].faces {
        // Whichever way the plane looks.
        let plane = match &forms[&face.face] {
            FaceForm::Flat { normal, .. } => normal.map(|c| (c.abs() * 100.0).round()),
            _ => Vector3::zeros(),
        };
        let of_face = faces(mesh);
        let at = of_face.faces.iter().find(|other| other.name == face.face);
        let offset = at.map_or(0.0, |at| plane.dot(&at.centre.coords.map(|c| c.round())));
        for tool in &face.tools {
            for reached in &tool.seats[0].indexes {
                let key = format!("{plane:?} {offset} T{} {}", tool.tool, reached.index_deg);
                let slot = found.entry(key).or_default();
                slot[0] += face.area_mm2 * reached.share.certain;
                slot[1] += face.area_mm2 * reached.share.most();
            }
        }
    }
    found
}

/// Asserts that nothing is surely reached that the sound job does not reach.
#[track_caller]
fn assert_no_more(
    sound: &BTreeMap<String, [f64; 2]>,
    spoiled: &BTreeMap<String, [f64; 2]>,
    what: &str,
) {
    for (key, [certain, _]) in spoiled {
        let most = sound.get(key).map_or(0.0, |[_, most]| *most);
        assert!(
            *certain <= most + 0.5,
            "{what}: {key} has {certain} mm2 surely reached, and no more than {most} with a sound mesh"
        );
    }
}

fn total(areas: &BTreeMap<String, [f64; 2]>) -> f64 {
    areas.values().map(|[certain, _]| certain).sum()
}

fn mills() -> [Mill; 3] {
    [
        Mill::slim(31, "end-mill", 9.0),
        Mill::slim(32, "ball-mill", 8.0),
        Mill {
            stick_out_mm: 24.0,
            flutes_mm: 23.0,
            holder_mm: [40.0, 60.0],
            ..Mill::slim(33, "end-mill", 14.0)
        },
    ]
}

const INDEXES_DEG: [f64; 2] = [0.0, 90.0];

fn ask(shop: &Shop) -> (ReachAnswer, BTreeMap<String, [f64; 2]>) {
    let answer = asked(shop, &[31, 32, 33], &INDEXES_DEG, 2.0);
    let areas = areas(shop, &answer);
    (answer, areas)
}

fn doubts_of<'d>(answer: &'d ReachAnswer, body: &str) -> Vec<&'d MeshDoubt> {
    let of_body = |doubt: &&MeshDoubt| doubt.body.contains(body);
    answer.doubts.iter().filter(of_body).collect()
}

#[test]
fn as_the_part() {
    let part = columns(12.0);
    let base = shop(&mills(), &part);
    let (answer, sound) = ask(&base);
    assert_eq!(answer.doubts, vec![]);
    assert!(total(&sound) > 1000.0);
    for (what, triangles) in spoiled(&part) {
        let job = base.clone().bytes("finished.stl", stl(&triangles));
        let (answer, areas) = ask(&job);
        assert_no_more(&sound, &areas, &what);
        let [told] = doubts_of(&answer, "block (finished)")[..] else {
            // Triangles that stand twice change nothing, and loading says so.
            assert!(what.contains("twice"), "{what}: {:?}", answer.doubts);
            assert_eq!(areas, sound, "{what}");
            continue;
        };
        assert!(told.asked, "{what}");
        let open = what.contains("without") || what == "slivers";
        assert_eq!(told.open_edges > 0, open, "{what}: {told:?}");
        assert_eq!(
            told.inside_out > 0,
            what.contains("inside out"),
            "{what}: {told:?}"
        );
        assert_eq!(told.mixed > 0, what == "mixed", "{what}: {told:?}");
        if what == "inside out" {
            // It is certain what is meant.
            assert_eq!(areas, sound, "{what}");
        } else if what == "mixed" {
            assert_eq!(total(&areas), 0.0, "{what}");
        } else if what == "slivers" {
            // What looks out of the box round all slivers rests on nothing else.
            let slot = |areas: &BTreeMap<String, [f64; 2]>| {
                let floor = areas.iter().filter(|(key, _)| key.contains(" 2600 "));
                floor.map(|(_, [certain, _])| certain).sum::<f64>()
            };
            assert!(
                slot(&sound) > 1000.0 && slot(&areas) == 0.0,
                "{what}: {areas:?}"
            );
        } else {
            // A flat lid where a flat face was: the rest is as good as before.
            assert!(total(&areas) > 0.4 * total(&sound), "{what}");
        }
    }
}

/// Two boxes that overlap in one mesh: what is inside the other is not reached; one of them turned
/// changes nothing.
#[test]
fn overlapping_boxes_as_the_part() {
    let low = cuboid([-35.0, -45.0, 0.0], [35.0, 45.0, 30.0]);
    let high = cuboid([-10.0, -20.0, 20.0], [10.0, 20.0, 46.0]);
    let joined: Triangles = low.iter().chain(&high).copied().collect();
    let base = shop(&mills(), &joined);
    let (answer, areas) = ask(&base);
    let [told] = &answer.doubts[..] else {
        panic!("{:?}", answer.doubts)
    };
    // Four sides of the foot go through the top, two triangles of each and two of it.
    let pairs = told.crossings.unwrap();
    assert!((6..=16).contains(&pairs), "{told:?}");
    let sound = told.open_edges == 0 && told.inside_out == 0 && told.mixed == 0;
    assert!(sound && told.asked, "{told:?}");
    // The lower box's top without the foot, and no more.
    let top = areas.iter().find(|(key, _)| key.contains("3000 T31 0"));
    let [certain, most] = *top.expect("the top is reached").1;
    let free = 70.0 * 90.0 - 20.0 * 40.0;
    assert!(
        certain <= free && most >= free && certain > 0.9 * free,
        "{certain} {most}"
    );
    let turned: Triangles = low.iter().copied().chain(flipped(&high)).collect();
    let (answer, one_turned) = ask(&base.bytes("finished.stl", stl(&turned)));
    assert_eq!(answer.doubts[0].inside_out, 1, "{:?}", answer.doubts);
    assert_eq!(one_turned, areas);
}

const NEIGHBOUR: &str = r#"
[[parts]]
name = "plate"
[[parts.states]]
name = "finished"
file = "plate.stl"
chord_allowance = 0

[[seats]]
name = "next"
part = "plate"
sides = [2]
at = [[0, 130]]
clamps = []
"#;

/// A body beside the part, spoiled in every way: nothing more is reached than with the sound one.
#[track_caller]
fn assert_beside(base: &Shop, file: &str, body: &str, triangles: &Triangles) {
    let job = base.clone().bytes(file, stl(triangles));
    let (answer, sound) = ask(&job);
    assert_eq!(answer.doubts, vec![]);
    let (_, alone) = ask(&base.clone().bytes(file, stl(&far_away(triangles))));
    assert!(
        total(&alone) > total(&sound) + 1.0,
        "the body takes nothing: no test"
    );
    for (what, triangles) in spoiled(triangles) {
        let (answer, areas) = ask(&base.clone().bytes(file, stl(&triangles)));
        assert_no_more(&sound, &areas, &format!("{body} {what}"));
        let told = doubts_of(&answer, body);
        assert_eq!(
            told.is_empty(),
            what.contains("twice"),
            "{what}: {:?}",
            answer.doubts
        );
        // The neighbour's faces are asked about too.
        let asked = |doubt: &&MeshDoubt| doubt.asked == (body == "plate");
        assert!(told.iter().all(asked), "{what}: {told:?}");
        if !what.contains("without") && what != "slivers" {
            // Its skin is whole, whichever way it looks.
            assert_eq!(areas, sound, "{what}");
        }
    }
}

fn far_away(triangles: &Triangles) -> Triangles {
    triangles
        .iter()
        .map(|t| t.map(|p| Point3::new(p.x * 0.01, p.y * 0.01, p.z * 0.01)))
        .collect()
}

#[test]
fn as_a_neighbour() {
    let wide = Mill {
        stick_out_mm: 70.0,
        holder_mm: [150.0, 60.0],
        ..Mill::slim(33, "end-mill", 16.0)
    };
    let [one, two, _] = mills();
    let block = cuboid([-35.0, -45.0, 0.0], [35.0, 45.0, 46.0]);
    let base = shop(&[one, two, wide], &block).add("job.toml", NEIGHBOUR);
    let plate = cuboid([-250.0, -60.0, 0.0], [250.0, 60.0, 10.0]);
    assert_beside(&base, "plate.stl", "plate", &plate);
}

#[test]
fn as_a_clamp() {
    let block = cuboid([-35.0, -45.0, 0.0], [35.0, 45.0, 46.0]);
    let base = shop(&mills(), &block).change("job.toml", "clamps = []", "clamps = [\"post\"]");
    // Wide enough for a mill to go in where its top is missing.
    let strap = cuboid([-20.0, -20.0, 46.0], [20.0, 20.0, 60.0]);
    assert_beside(&base, "post.stl", "post", &strap);
    // Without top and bottom, the face under it lies open.
    let sides: Triangles = strap
        .iter()
        .filter(|t| normal(t).z.abs() < 0.5)
        .copied()
        .collect();
    let (_, sound) = ask(&base.clone().bytes("post.stl", stl(&strap)));
    let (_, areas) = ask(&base.bytes("post.stl", stl(&sides)));
    assert_no_more(&sound, &areas, "a clamp without top and bottom");
}

#[test]
fn as_a_body_of_the_bed() {
    let block = cuboid([-35.0, -45.0, 0.0], [35.0, 45.0, 46.0]);
    let pillar = "\n[[bodies]]\nname = \"pillar\"\ngroup = \"bed\"\nshape = { kind = \"mesh\", \
                  file = \"pillar.stl\", chord_allowance = 0 }\n";
    let base = shop(&mills(), &block).add("machine.toml", pillar);
    // In the way of the part's top from x = 10 on.
    let column = cuboid([10.0, 60.0, 130.0], [60.0, 200.0, 230.0]);
    assert_beside(&base, "pillar.stl", "pillar", &column);
}

/// Text and JSON of the command say what they rest on.
#[test]
fn the_command_says_what_is_not_sound() {
    let part = columns(12.0);
    let base = shop(&mills(), &part);
    let run = |finished: &Triangles, format: &str| {
        let folder = tempfile::tempdir().unwrap();
        base.clone()
            .bytes("finished.stl", stl(finished))
            .write_to(folder.path());
        let output = std::process::Command::new(env!("CARGO_BIN_EXE_lapidary"))
            .args(["reach", "job.toml", "--index", "0", "--tool", "31"])
            .args(["--format", format])
            .current_dir(folder.path())
            .output()
            .unwrap();
        let told = String::from_utf8(output.stderr).unwrap();
        assert_eq!(output.status.code(), Some(0), "{told}");
        (String::from_utf8(output.stdout).unwrap(), told)
    };
    let block = cuboid([-5.0, -5.0, 20.0], [5.0, 5.0, 60.0]);
    let crossed = part.iter().chain(&block).copied().collect();
    for (finished, words, warned) in [
        (without(&part, 3), "open along 3 edges", "close the surface"),
        (flipped(&part), "inside out", "flip its surface normals"),
        (crossed, "cross each other", "join the bodies that overlap"),
    ] {
        let (text, told) = run(&finished, "text");
        let joined = text.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(joined.contains("block (finished): "), "{text}");
        assert!(joined.contains(words), "{text}");
        assert!(
            told.contains(warned) && told.contains("finished.stl"),
            "{told}"
        );
        let (json, _) = run(&finished, "json");
        let json: serde_json::Value = serde_json::from_str(&json).unwrap();
        assert_eq!(json["answer"]["doubts"][0]["body"], "block (finished)");
        let warnings = json["warnings"].to_string();
        assert!(warnings.contains("finished.stl") && warnings.contains(warned));
    }
    let (text, _) = run(&part, "text");
    assert!(!text.contains("not sound"), "{text}");
}

/// A mesh that cannot be used is refused, with the file's name and what to do.
#[test]
fn what_cannot_be_used_is_refused() {
    let part = columns(12.0);
    let base = shop(&mills(), &part);
    let mut cut_off = stl(&part);
    cut_off.truncate(cut_off.len() - 30);
    let no_number: Triangles = part
        .iter()
        .map(|t| t.map(|p| Point3::new(if p.x > 34.0 { f64::NAN } else { p.x }, p.y, p.z)))
        .collect();
    let flat: Triangles = part.iter().map(|[a, b, _]| [*a, *b, *a]).collect();
    for (bytes, words) in [
        (cut_off, "export"),
        (stl(&no_number), "export"),
        (stl(&flat), "export a body"),
        (Vec::new(), "export"),
    ] {
        let faults = base.clone().bytes("finished.stl", bytes).load();
        let faults = faults.map(|_| ()).unwrap_err().0;
        let told = |fault: &lapidary::setup::FileFault| {
            fault.file.ends_with("finished.stl") && fault.message.contains(words)
        };
        assert!(faults.iter().any(told), "{faults:#?}");
    }
}
