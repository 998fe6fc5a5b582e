//! Bodies by name: small meshes written out, tools as rings, STL files of the demo or fetched.

use lapidary::gap::{MeshShape, Piece, Placed, Revolved, Ring, Shape};
use lapidary::mesh::{Chord, Mesh, ReadOptions, read_stl};
use lapidary::value::{Pose, Vec3, about_axis, translation};
use nalgebra::Point3;
use serde_json::Value;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Set where a mesh that was not fetched is a failure, not a skip.
const REQUIRED: &str = "LAPIDARY_OUTSIDE_REQUIRED";

/// All bodies of the cases that can be had.
pub struct Bodies {
    shapes: BTreeMap<String, Shape>,
    /// Names of fetched meshes that are not there.
    missing: Vec<String>,
    /// Names of demo meshes that were remade since the reference values.
    changed: Vec<String>,
}

impl Bodies {
    /// Reads `bodies.json` and the STL files that it names.
    pub fn load() -> Self {
        let value = crate::reference("bodies.json");
        let mut bodies = Self {
            shapes: BTreeMap::new(),
            missing: Vec::new(),
            changed: Vec::new(),
        };
        for (name, entry) in value["small"].as_object().unwrap() {
            bodies.add("small", name, mesh_shape(small(entry)));
        }
        for (name, entry) in value["tool"].as_object().unwrap() {
            bodies.add("tool", name, Shape::Revolved(Arc::new(tool(entry))));
        }
        for kind in ["demo", "real"] {
            for (name, entry) in value[kind].as_object().unwrap() {
                bodies.add_stl(kind, name, entry);
            }
        }
        bodies.report_missing();
        bodies
    }

    fn add(&mut self, kind: &str, name: &str, shape: Shape) {
        self.shapes.insert(format!("{kind}:{name}"), shape);
    }

    fn add_stl(&mut self, kind: &str, name: &str, entry: &Value) {
        let full_name = format!("{kind}:{name}");
        let Some((mesh, same)) = stl(entry) else {
            return self.missing.push(full_name);
        };
        self.add(kind, name, mesh_shape(mesh));
        assert!(
            same || kind == "demo",
            "{full_name} is not the mesh of the reference values"
        );
        if !same {
            println!("CHANGED: {full_name}: its cases are left to live.py (make_reference.py)");
            self.changed.push(full_name);
        }
    }

    /// Whether the committed values of a case still hold: neither body was remade.
    pub fn comparable(&self, names: [&Value; 2]) -> bool {
        !names
            .iter()
            .any(|name| self.changed.iter().any(|changed| *name == changed))
    }

    fn report_missing(&self) {
        if self.missing.is_empty() {
            return;
        }
        let names = self.missing.join(", ");
        assert!(std::env::var_os(REQUIRED).is_none(), "not fetched: {names}");
        println!("SKIPPED: cases with {names}: not fetched (python tests/outside/fetch.py)");
    }

    /// A body at a pose; `None` where its mesh was not fetched.
    pub fn placed(&self, name: &Value, pose: &Value) -> Option<Placed> {
        let name = name.as_str().unwrap();
        let shape = self.shapes.get(name).cloned();
        assert!(
            shape.is_some() || self.missing.iter().any(|m| m == name),
            "no body {name}"
        );
        Some(Placed {
            shape: shape?,
            common_from_body: pose_of(pose),
        })
    }
}

impl Bodies {
    /// A body in its own frame; `None` where its mesh was not fetched.
    pub fn at_origin(&self, name: &str) -> Option<Placed> {
        self.placed(&name.into(), &serde_json::json!([0, 0, 0, 0, 0, 0]))
    }
}

fn mesh_shape(mesh: Mesh) -> Shape {
    Shape::Mesh(Arc::new(MeshShape::new(Arc::new(mesh)).unwrap()))
}

/// Numbers of a JSON list.
pub fn numbers(value: &Value) -> Vec<f64> {
    value
        .as_array()
        .unwrap()
        .iter()
        .map(|number| number.as_f64().unwrap())
        .collect()
}

/// A vector of three numbers.
pub fn vector(value: &Value) -> Vec3 {
    Vec3::from_column_slice(&numbers(value))
}

/// shift * Rz * Ry * Rx, as in poses.py.
fn pose_of(value: &Value) -> Pose {
    let [x_deg, y_deg, z_deg, x, y, z] = numbers(value).try_into().unwrap();
    let turn = |direction: Vec3, angle_deg| about_axis(&direction, &Point3::origin(), angle_deg);
    translation(Vec3::new(x, y, z))
        * turn(Vec3::z(), z_deg)
        * turn(Vec3::y(), y_deg)
        * turn(Vec3::x(), x_deg)
}

fn small(entry: &Value) -> Mesh {
    let points = numbers(&entry["vertices"]);
    let vertices: Vec<_> = points
        .chunks(3)
        .map(|p| Point3::new(p[0], p[1], p[2]))
        .collect();
    let corners: Vec<u32> = numbers(&entry["triangles"])
        .iter()
        .map(|&c| c as u32)
        .collect();
    let triangles: Vec<_> = corners.chunks(3).map(|c| [c[0], c[1], c[2]]).collect();
    Mesh::from_indexed(&vertices, &triangles, Chord::Stated(0.0))
        .unwrap()
        .0
}

fn tool(entry: &Value) -> Revolved {
    let ring = |ring: &Value| {
        let [radius_mm, height_mm, ball_mm] = numbers(ring).try_into().unwrap();
        Ring {
            radius_mm,
            height_mm,
            ball_mm,
        }
    };
    let piece =
        |piece: &Value| Piece::new(piece.as_array().unwrap().iter().map(ring).collect()).unwrap();
    Revolved::new(entry.as_array().unwrap().iter().map(piece).collect()).unwrap()
}

/// A mesh file, and whether it is the one of the reference values; `None` where it is not there.
fn stl(entry: &Value) -> Option<(Mesh, bool)> {
    let path = crate::root().join(entry["path"].as_str().unwrap());
    let bytes = std::fs::read(path).ok()?;
    let options = ReadOptions {
        chord_allowance_mm: Some(0.0),
        ..ReadOptions::new(1.0)
    };
    Some((
        read_stl(&bytes, &options).unwrap().mesh,
        entry["fnv1a"] == fnv1a(&bytes),
    ))
}

/// FNV-1a, 64 bit (Fowler, Noll, Vo).
fn fnv1a(bytes: &[u8]) -> String {
    let step = |value: u64, &byte: &u8| (value ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3);
    format!("{:016x}", bytes.iter().fold(0xcbf2_9ce4_8422_2325, step))
}
