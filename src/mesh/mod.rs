//! STL bytes to checked, welded triangles. No file access: bytes in, values out.

use nalgebra::Point3;

/// A welded triangle mesh in millimetres, with its connected shells.
///
/// # Guarantees
/// Every coordinate is finite, every index is in range, no triangle has zero area, and there is
/// at least one triangle. Nothing is promised about closedness or orientation: see [`Shell`].
#[derive(Debug, Clone)]
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
}

/// One connected shell of a mesh.
#[derive(Debug, Clone, PartialEq)]
pub struct Shell {
    /// How many triangles it has.
    pub triangle_count: usize,
    /// A triangle of it.
    pub first_triangle: u32,
    /// Whether every edge is shared by exactly two triangles in opposite directions.
    pub closed: bool,
    /// Signed volume: negative for a closed shell that is inside out.
    pub volume_mm3: f64,
    /// Lower corner of its bounding box.
    pub low: Point3<f64>,
    /// Upper corner of its bounding box.
    pub high: Point3<f64>,
}
