//! STL bytes to checked, welded triangles. No file access: bytes in, values out.
//!
//! Reading: [`read_stl`] (`read`) tells the encoding and calls `binary` or `ascii`; both hand
//! triangles to `weld`; `build` drops twins, asks `edges` and `shells` what hangs together, and
//! `chord` how far the true surface may bulge. Every fault on the way is a [`MeshFault`] (`fault`).
//!
//! Beside it: `crossings` (a surface through itself), `inside` (winding number), `unit_check` (probable wrong unit), `solids` (boxes,
//! columns, turned bodies), [`faces`] (flat, round and other), [`features`] (holes, pockets, slots,
//! steps), `envelope` (outer profile of a body that spins), `lids` (what may close an open mesh), `write`
//! (binary STL).

mod ascii;
mod binary;
mod build;
mod chord;
mod crossings;
mod edges;
mod envelope;
pub mod faces;
mod fault;
pub mod features;
mod inside;
mod lids;
mod read;
mod shells;
pub mod solids;
mod unit_check;
mod weld;
mod write;

#[cfg(test)]
mod tests;

pub use chord::{Chord, LARGE_ALLOWANCE_MM, SMOOTH_BELOW_DEG, WIDTH_RATIO};
pub use crossings::{Crossings, crossings};
pub use envelope::envelope_of_revolution;
pub use fault::{FaultKind, LISTED_PER_KIND, MeshFault, MeshFaults, Place, Severity};
pub use inside::winding_number;
pub use lids::{Soundness, soundness};
pub use read::{ReadMesh, ReadOptions, StlFormat, read_stl};
pub use unit_check::{UnitSuspicion, unit_suspicion};
pub use weld::{COARSE_BEYOND_MM, FARTHEST_MM};
pub use write::{write_stl_ascii, write_stl_binary};

use nalgebra::Point3;

/// A welded triangle mesh in millimetres, with its connected shells.
///
/// # Guarantees
/// Every coordinate is finite, every index is in range, no triangle has zero area, and there is
/// at least one triangle (made through [`read_stl`], [`Mesh::from_triangles`] or
/// [`Mesh::from_indexed`]; the fields are public to be read). Every vertex is used. Nothing is
/// promised about closedness or orientation: see [`Shell`].
#[derive(Debug, Clone, Default)]
pub struct Mesh {
    /// Welded vertices, in the order of their first use.
    pub vertices: Vec<Point3<f64>>,
    /// Corners of each triangle, counter-clockwise seen from outside where the mesh is sound.
    pub triangles: Vec<[u32; 3]>,
    /// Connected shells (joined by shared edges).
    pub shells: Vec<Shell>,
    /// Shell of each triangle.
    pub shell_of_triangle: Vec<u32>,
    /// By how much a true curved surface may stand outside the flat triangles.
    pub chord_allowance_mm: f64,
    /// By how much flat triangles may stand out of a true hollow surface, such as a bore.
    pub hollow_chord_mm: f64,
    /// Where its surface crosses itself; `None` where that was not looked for: it is in meshes that
    /// were read ([`read_stl`]).
    pub crossings: Option<Crossings>,
}

/// One connected shell of a mesh.
///
/// Triangles without area are not in the mesh, but count for `closed` and `balanced`: they close
/// seams where one long edge meets two short ones, and bound no volume.
#[derive(Debug, Clone, PartialEq)]
pub struct Shell {
    /// How many triangles it has.
    pub triangle_count: usize,
    /// A triangle of it: the first.
    pub first_triangle: u32,
    /// Whether every edge is shared by exactly two triangles in opposite directions.
    pub closed: bool,
    /// Whether every edge is used equally often in both directions, by two triangles or more: the
    /// winding number is then a whole number everywhere off the shell.
    pub balanced: bool,
    /// Signed volume: negative for a closed shell that is inside out.
    pub volume_mm3: f64,
    /// Lower corner of its bounding box.
    pub low: Point3<f64>,
    /// Upper corner of its bounding box.
    pub high: Point3<f64>,
}

impl Mesh {
    /// Lower and upper corner of the bounding box.
    #[must_use]
    pub fn bounds(&self) -> (Point3<f64>, Point3<f64>) {
        let empty = (
            Point3::from([f64::INFINITY; 3]),
            Point3::from([f64::NEG_INFINITY; 3]),
        );
        self.shells.iter().fold(empty, |(low, high), shell| {
            (low.inf(&shell.low), high.sup(&shell.high))
        })
    }

    /// Sum of the signed volumes of its shells: cavities count against their body.
    #[must_use]
    pub fn volume_mm3(&self) -> f64 {
        self.shells.iter().map(|shell| shell.volume_mm3).sum()
    }

    /// Corners of a triangle.
    ///
    /// # Panics
    /// When there is no such triangle.
    #[must_use]
    pub fn corners(&self, triangle: u32) -> [Point3<f64>; 3] {
        self.triangles[triangle as usize].map(|corner| self.vertices[corner as usize])
    }
}
