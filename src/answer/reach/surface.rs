//! The surface of a part as cells, with the tips that touch them from one direction.

use super::cells::Cell;
use super::cutter::{Contacts, contacts};
use crate::mesh::Mesh;
use crate::mesh::faces::{FaceForm, Faces};
use crate::setup::file::ToolKind;
use crate::setup::model::Tool;
use crate::value::{Pose, Vec3};

/// Neighbouring triangles whose normals differ by no more than this lie in one plane, as far as a
/// face that was found flat goes.
const SAME_PLANE: f64 = 1e-6;

/// A drill makes bores whose axis is no farther off than this.
const BORE_ALIGNED: f64 = 1e-3;

/// A part's surface.
#[derive(Debug)]
pub struct Surface<'m> {
    /// Triangles.
    pub mesh: &'m Mesh,
    /// Faces.
    pub faces: Faces,
    /// Area of each face.
    pub area_mm2: Vec<f64>,
    normals: Vec<Vec3>,
    planes: Vec<u32>,
}

/// Cells of a surface seen from one direction with one tool.
#[derive(Debug, Default)]
pub struct Seen {
    /// With their first tip.
    pub cells: Vec<Cell>,
    /// Shifts that may be tried instead: for each contact class, all tips less the first.
    pub facing_away: Vec<Cell>,
    /// Not what the tool makes.
    pub not_made: Vec<Cell>,
}

impl<'m> Surface<'m> {
    /// Prepares a mesh that was split into faces.
    #[must_use]
    pub fn new(mesh: &'m Mesh, faces: Faces) -> Self {
        let normal = |corners: &[u32; 3]| {
            let [a, b, c] = corners.map(|corner| mesh.vertices[corner as usize]);
            (b - a).cross(&(c - a)).normalize()
        };
        let normals: Vec<Vec3> = mesh.triangles.iter().map(normal).collect();
        let mut area_mm2 = vec![0.0; faces.faces.len()];
        let mut planes = Vec::with_capacity(normals.len());
        for (triangle, corners) in mesh.triangles.iter().enumerate() {
            let face = faces.face_of_triangle[triangle];
            let [a, b, c] = corners.map(|corner| mesh.vertices[corner as usize]);
            area_mm2[face as usize] += (b - a).cross(&(c - a)).norm() * 0.5;
            let flat = match faces.faces[face as usize].form {
                FaceForm::Flat { normal, .. } => (normal - normals[triangle]).norm() <= SAME_PLANE,
                _ => false,
            };
            // Numbers of faces and of lone triangles do not meet.
            planes.push(if flat {
                face
            } else {
                faces.faces.len() as u32 + triangle as u32
            });
        }
        Self {
            mesh,
            faces,
            area_mm2,
            normals,
            planes,
        }
    }

    /// Cells with their first tips, for a tool that comes down along the z axis of the approach.
    #[must_use]
    pub fn seen(&self, tool: &Tool, approach_from_part: &Pose) -> Seen {
        let mut seen = Seen::default();
        let part_from_approach = approach_from_part.rotation.inverse();
        for (triangle, corners) in self.mesh.triangles.iter().enumerate() {
            let mut cell = Cell {
                corners: corners.map(|corner| self.mesh.vertices[corner as usize].coords),
                tip_from_point: Vec3::zeros(),
                face: self.faces.face_of_triangle[triangle],
                plane: self.planes[triangle],
            };
            let normal = self.normal_of(triangle);
            let in_approach = tidy(&(approach_from_part.rotation * normal));
            if !self.made_by(tool, cell.face, &part_from_approach) {
                seen.not_made.push(cell);
                continue;
            }
            match contacts(&tool.flutes, &in_approach) {
                Contacts::None => seen.facing_away.push(cell),
                Contacts::One(tip) | Contacts::Disc { centre: tip, .. } => {
                    cell.tip_from_point = part_from_approach * tip;
                    seen.cells.push(cell);
                }
                Contacts::Line(first, last) => {
                    cell.tip_from_point = part_from_approach * ((first + last) * 0.5);
                    seen.cells.push(cell);
                }
            }
        }
        seen
    }

    /// All tips that touch a cell, in the frame of the approach.
    #[must_use]
    pub fn contacts_of(&self, cell: &Cell, tool: &Tool, approach_from_part: &Pose) -> Contacts {
        let normal = if (cell.plane as usize) < self.faces.faces.len() {
            match self.faces.faces[cell.face as usize].form {
                FaceForm::Flat { normal, .. } => normal,
                _ => return Contacts::None,
            }
        } else {
            self.normals[cell.plane as usize - self.faces.faces.len()]
        };
        contacts(&tool.flutes, &tidy(&(approach_from_part.rotation * normal)))
    }

    /// Triangles of one plane share the normal of their face, so that they share their shift.
    fn normal_of(&self, triangle: usize) -> Vec3 {
        let face = self.faces.face_of_triangle[triangle];
        match self.faces.faces[face as usize].form {
            FaceForm::Flat { normal, .. } if self.planes[triangle] == face => normal,
            _ => self.normals[triangle],
        }
    }

    /// Whether this kind of tool makes such a face.
    fn made_by(&self, tool: &Tool, face: u32, part_from_approach: &nalgebra::Rotation3<f64>) -> bool {
        if tool.kind != ToolKind::Drill {
            return tool.kind != ToolKind::Tap;
        }
        let axis = part_from_approach * Vec3::z();
        let face = &self.faces.faces[face as usize];
        let aligned = |direction: &Vec3| direction.cross(&axis).norm() <= BORE_ALIGNED;
        match face.form {
            FaceForm::Cylinder {
                direction,
                radius_mm,
                hollow,
                ..
            } => {
                let off_mm = (2.0 * radius_mm - tool.diameter_mm).abs();
                hollow && aligned(&direction) && off_mm <= 2.0 * face.fit_error_mm + 0.02
            }
            FaceForm::Cone { direction, .. } => aligned(&direction),
            _ => false,
        }
    }
}

/// Components that are next to nothing are nothing: a wall stands upright, a floor lies level.
fn tidy(normal: &Vec3) -> Vec3 {
    const NOTHING: f64 = 1e-6;
    let mut tidied = normal.map(|component| if component.abs() < NOTHING { 0.0 } else { component });
    if tidied.z == 0.0 || tidied.xy().norm() == 0.0 {
        tidied = tidied.normalize();
    }
    tidied
}
