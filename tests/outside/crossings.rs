//! Meshes that cross themselves: two bodies in one mesh, in random places, and real meshes. What is found
//! goes to `target/outside/answers-crossings.json`, for `crossings.py` to ask coal 3.0.3 the same.

use lapidary::mesh::solids::{Column, Roundness, cuboid, revolved};
use lapidary::mesh::{Chord, Crossings, Mesh, ReadOptions, crossings, read_stl};
use nalgebra::{Isometry3, Point3, Vector3};
use serde_json::{Value, json};

/// A fixed sequence of numbers from 0 to 1.
struct Random(u64);

impl Random {
    fn share(&mut self) -> f64 {
        // A linear congruential generator; multiplier and step of Knuth's MMIX, from memory.
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005);
        self.0 = self.0.wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }

    fn vector(&mut self, reach: f64) -> Vector3<f64> {
        Vector3::from_fn(|_, _| self.between(-reach, reach))
    }
}

fn body(random: &mut Random) -> Mesh {
    let size = random.between(2.0, 20.0);
    let segments = random.between(5.0, 40.0) as u32;
    match (random.share() * 4.0) as u32 {
        0 => cuboid(Point3::from([-size; 3]), Point3::new(size, 0.5 * size, 3.0)).unwrap(),
        1 => {
            let profile = [(0.0, size), (5.0, 0.6 * size), (9.0, 0.6 * size)];
            revolved(&profile, segments, Roundness::Inscribed).unwrap()
        }
        2 => {
            let column = Column {
                sides: 6,
                flat_distance_mm: 0.5 * size,
                length_mm: 14.0,
                edge_chamfer_mm: 0.1 * size,
                bore_diameter_mm: Some(0.6 * size),
            };
            column.mesh().unwrap()
        }
        _ => {
            let ball = |k: u32| {
                let angle = f64::from(k) * std::f64::consts::PI / 8.0;
                (size - size * angle.cos(), size * angle.sin())
            };
            // Flat at both ends.
            let profile: Vec<(f64, f64)> = (1..8).map(ball).collect();
            revolved(&profile, segments, Roundness::Inscribed).unwrap()
        }
    }
}

fn triangles(mesh: &Mesh, place: &Isometry3<f64>) -> Vec<[Point3<f64>; 3]> {
    let all = 0..mesh.triangles.len() as u32;
    all.map(|t| mesh.corners(t).map(|p| place * p)).collect()
}

fn row(found: &Crossings) -> Value {
    json!({ "pairs": found.pairs, "given_up": found.given_up })
}

/// Meshes that are there, fetched or made by the other steps.
fn real() -> Vec<Value> {
    let mut rows = Vec::new();
    for folder in [
        "demo-models/meshes",
        "target/outside/meshes",
        "target/outside/brep",
    ] {
        let Ok(entries) = std::fs::read_dir(crate::root().join(folder)) else {
            continue;
        };
        let paths = entries.map(|entry| entry.unwrap().path());
        let mut paths: Vec<_> = paths
            .filter(|path| path.extension().is_some_and(|end| end == "stl"))
            .collect();
        paths.sort();
        for path in paths {
            let bytes = std::fs::read(&path).unwrap();
            let mesh = read_stl(&bytes, &ReadOptions::new(1.0)).unwrap().mesh;
            let found = mesh.crossings.unwrap();
            let name = format!("{folder}/{}", path.file_name().unwrap().to_string_lossy());
            if !found.is_none() {
                println!("crosses itself: {name}: {found:?}");
            }
            if folder.starts_with("demo") {
                assert!(found.is_none(), "{name}: {found:?}");
            }
            let mut told = row(&found);
            told["file"] = Value::from(name);
            rows.push(told);
        }
    }
    rows
}

#[test]
fn crossings_for_coal() {
    let mut random = Random(20_261);
    let (mut rows, mut crossing) = (Vec::new(), 0);
    for _ in 0..400 {
        let bodies = [body(&mut random), body(&mut random)];
        let places = [0, 1].map(|_| Isometry3::new(random.vector(12.0), random.vector(3.0)));
        let [one, two] = [0, 1].map(|k| triangles(&bodies[k], &places[k]));
        let both = [one.clone(), two.clone()].concat();
        let (mesh, _) = Mesh::from_triangles(&both, Chord::Stated(0.0)).unwrap();
        let found = crossings(&mesh);
        crossing += usize::from(found.pairs > 0);
        let flat = |list: &[[Point3<f64>; 3]]| -> Vec<[[f64; 3]; 3]> {
            list.iter().map(|t| t.map(|p| [p.x, p.y, p.z])).collect()
        };
        let mut told = row(&found);
        told["one"] = json!(flat(&one));
        told["two"] = json!(flat(&two));
        rows.push(told);
    }
    // Some cross, some are apart or one within the other.
    assert!((100..350).contains(&crossing), "{crossing}");
    let folder = crate::root().join("target/outside");
    std::fs::create_dir_all(&folder).unwrap();
    let text = json!({ "pairs": rows, "real": real() }).to_string();
    std::fs::write(folder.join("answers-crossings.json"), text).unwrap();
}
