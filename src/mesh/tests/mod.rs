//! Tests of the mesh layer, by job.

mod chord;
mod crossings;
mod envelope;
mod format;
mod fuzz;
mod shape;
mod solid;
mod speed;

use super::*;

pub(super) type Triangle = [[f32; 3]; 3];

/// A box of 10 x 20 x 30 mm, as triangles in single precision.
pub(super) fn brick() -> Vec<Triangle> {
    single(&solids::cuboid(Point3::new(0.0, 0.0, 0.0), Point3::new(10.0, 20.0, 30.0)).unwrap())
}

pub(super) fn single(mesh: &Mesh) -> Vec<Triangle> {
    (0..mesh.triangles.len() as u32)
        .map(|t| {
            mesh.corners(t)
                .map(|p| [p.x as f32, p.y as f32, p.z as f32])
        })
        .collect()
}

pub(super) fn binary(header: &[u8], triangles: &[Triangle]) -> Vec<u8> {
    let mut bytes = header.to_vec();
    bytes.resize(80, 0);
    bytes.extend((triangles.len() as u32).to_le_bytes());
    for corners in triangles {
        bytes.extend([0_u8; 8]);
        bytes.extend(1.0_f32.to_le_bytes());
        bytes.extend(corners.iter().flatten().flat_map(|x| x.to_le_bytes()));
        bytes.extend([0, 0]);
    }
    bytes
}

pub(super) fn ascii(name: &str, triangles: &[Triangle]) -> String {
    let mut text = format!("solid {name}\n");
    for corners in triangles {
        text += "  facet normal 0 0 0\n    outer loop\n";
        for [x, y, z] in corners {
            text += &format!("      vertex {x} {y} {z}\n");
        }
        text += "    endloop\n  endfacet\n";
    }
    text + &format!("endsolid {name}\n")
}

pub(super) fn read(bytes: impl AsRef<[u8]>) -> Result<ReadMesh, MeshFaults> {
    read_stl(bytes.as_ref(), &ReadOptions::new(1.0))
}

/// Reads bytes that must be refused.
pub(super) fn refused(bytes: impl AsRef<[u8]>) -> MeshFaults {
    read(bytes)
        .map(|read| read.mesh.triangles.len())
        .expect_err("must be refused")
}

#[track_caller]
pub(super) fn assert_fault(faults: &[MeshFault], kind: FaultKind, place: Place, text: &str) {
    let found = faults
        .iter()
        .find(|fault| fault.kind == kind && fault.place == place);
    let fault = found.unwrap_or_else(|| panic!("no {kind:?} at {place:?} in {faults:#?}"));
    assert!(
        fault.message.contains(text),
        "{text:?} is not in {:?}",
        fault.message
    );
    assert_eq!(fault.severity, kind.severity());
    assert!(!fault.means.is_empty() && !fault.remedy.is_empty());
}

/// A mesh from triangles, with its warnings.
pub(super) fn meshed(triangles: &[Triangle]) -> (Mesh, Vec<MeshFault>) {
    let corners: Vec<[Point3<f64>; 3]> = triangles
        .iter()
        .map(|t| t.map(|p| Point3::from(p.map(f64::from))))
        .collect();
    Mesh::from_triangles(&corners, Chord::Estimated).unwrap()
}
