//! The surface of a part as cells, with the tips that touch them from one direction.

use super::ReachOptions;
use super::cells::Cell;
use super::cutter::{Contacts, contacts};
use super::even::{Even, LEAST_LEVEL};
use super::plane::Outlines;
use super::rims::Rims;
use crate::mesh::faces::{Face, FaceForm, Faces};
use crate::mesh::{Mesh, Soundness, soundness};
use crate::setup::file::ToolKind;
use crate::setup::model::Tool;
use crate::value::{Pose, Vec3};
use nalgebra::Point3;
use std::collections::HashMap;

/// The grain holds for faces of this size; larger and smaller ones are split as often, so that the work
/// does not grow with them. What stays undecided along an edge is some 1 / 24 of a face at grain 1.
const SIZE_OF_GRAIN_MM: f64 = 24.0;

/// Share of the grain below which it does not go for small faces.
const LEAST_GRAIN: f64 = 0.1;

/// A drill makes bores whose axis is no farther off than this.
const BORE_ALIGNED: f64 = 1e-3;

/// A drill leaves more of a turn than this: with less about it, it would run off (common practice, no source).
const BORE_TURN_DEG: f64 = 170.0;

/// A part's surface.
#[derive(Debug)]
pub struct Surface<'m> {
    /// Triangles.
    pub mesh: &'m Mesh,
    /// Faces.
    pub faces: Faces,
    /// Area of each face.
    pub area_mm2: Vec<f64>,
    /// Edges at which something rises from a flat face.
    pub rims: Rims,
    /// Where flat faces end.
    pub outlines: Outlines,
    /// Which faces are asked about.
    pub asked: Vec<bool>,
    grain_mm: Vec<f64>,
    grain_mm2: Vec<f64>,
    /// For each face, up to where a component of its normal is none.
    level: Vec<f64>,
    normals: Vec<Vec3>,
    /// Normals of the face at the corners of each triangle of a round face.
    corner_normals: Vec<Option<[Vec3; 3]>>,
    planes: Vec<u32>,
    soundness: Soundness,
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
    /// Of shells whose sides cannot be told.
    pub doubtful: Vec<Cell>,
}

/// Which faces are asked about: those named, or the largest and bores of chosen diameters.
fn asked(faces: &Faces, area_mm2: &[f64], options: &ReachOptions) -> Vec<bool> {
    let names = faces.faces.iter().map(|face| &face.name);
    if !options.faces.is_empty() {
        return names.map(|name| options.faces.contains(name)).collect();
    }
    let mut order: Vec<usize> = (0..area_mm2.len()).collect();
    // Of equals the first.
    order.sort_by(|a, b| area_mm2[*b].total_cmp(&area_mm2[*a]));
    order.truncate(options.most_faces.unwrap_or(usize::MAX));
    let of_drill = |face: &Face| {
        let mut diameters = options.bores_mm.iter();
        diameters.any(|diameter_mm| is_bore(face, *diameter_mm))
    };
    let mut asked: Vec<bool> = faces.faces.iter().map(of_drill).collect();
    for face in order {
        asked[face] |= area_mm2[face] >= options.least_area_mm2;
    }
    asked
}

impl<'m> Surface<'m> {
    /// Prepares a mesh that was split into faces.
    #[must_use]
    pub fn new(mesh: &'m Mesh, faces: Faces, options: &ReachOptions) -> Self {
        let soundness = soundness(mesh);
        let normal = |(corners, shell): (&[u32; 3], &u32)| {
            let [a, b, c] = corners.map(|corner| mesh.vertices[corner as usize]);
            let normal = (b - a).cross(&(c - a));
            let normal = normal.try_normalize(0.0).unwrap_or_default();
            if soundness.is_turned(*shell) {
                -normal
            } else {
                normal
            }
        };
        let shells = mesh.shell_of_triangle.iter();
        let normals: Vec<Vec3> = mesh.triangles.iter().zip(shells).map(normal).collect();
        let Even {
            normals,
            planes,
            level,
        } = Even::new(mesh, &faces, normals);
        let mut area_mm2 = vec![0.0; faces.faces.len()];
        for (corners, face) in mesh.triangles.iter().zip(&faces.face_of_triangle) {
            let [a, b, c] = corners.map(|corner| mesh.vertices[corner as usize]);
            area_mm2[*face as usize] += (b - a).cross(&(c - a)).norm() * 0.5;
        }
        let grain = |area_mm2: &f64| {
            options.grain_mm * (area_mm2.sqrt() / SIZE_OF_GRAIN_MM).max(LEAST_GRAIN)
        };
        let grain_2 = |(face, area_mm2): (&Face, &f64)| match face.form {
            FaceForm::Flat { .. } => 0.0,
            // Round faces fall into long slivers.
            _ => 0.25 * grain(area_mm2) * grain(area_mm2),
        };
        Self {
            mesh,
            asked: asked(&faces, &area_mm2, options),
            grain_mm: area_mm2.iter().map(grain).collect(),
            grain_mm2: faces.faces.iter().zip(&area_mm2).map(grain_2).collect(),
            level,
            area_mm2,
            rims: Rims::new(mesh, &faces),
            outlines: Outlines::new(mesh, &faces, &planes),
            corner_normals: corner_normals(mesh, &faces, &normals),
            faces,
            normals,
            planes,
            soundness,
        }
    }

    fn is_turned(&self, triangle: usize) -> bool {
        self.soundness
            .is_turned(self.mesh.shell_of_triangle[triangle])
    }

    /// Whether a triangle belongs to a shell whose sides cannot be told.
    #[must_use]
    pub fn is_doubtful(&self, triangle: usize) -> bool {
        self.soundness
            .is_mixed(self.mesh.shell_of_triangle[triangle])
    }

    /// Cells of all faces asked about with their first tips, for a tool that comes down along the z
    /// axis of the approach.
    #[must_use]
    pub fn seen(&self, tool: &Tool, approach_from_part: &Pose) -> Seen {
        self.seen_of(&self.asked, 0, tool, approach_from_part)
    }

    /// The same of some faces, with the grain halved so often.
    #[must_use]
    pub fn seen_of(
        &self,
        faces: &[bool],
        halvings: u32,
        tool: &Tool,
        approach_from_part: &Pose,
    ) -> Seen {
        let mut seen = Seen::default();
        let part_from_approach = approach_from_part.rotation.inverse();
        let finer = 0.5_f64.powi(halvings as i32);
        for triangle in 0..self.mesh.triangles.len() {
            if !faces[self.faces.face_of_triangle[triangle] as usize] {
                continue;
            }
            let mut cell = self.cell(triangle);
            cell.grain_mm *= finer;
            cell.grain_mm2 *= finer * finer;
            if self.is_doubtful(triangle) {
                seen.doubtful.push(cell);
                continue;
            }
            let in_approach = self.tidy(cell.face, &(approach_from_part.rotation * cell.normal));
            if !self.made_by(tool, cell.face, &part_from_approach) {
                seen.not_made.push(cell);
                continue;
            }
            match contacts(&tool.flutes, &in_approach) {
                Contacts::None => seen.facing_away.push(cell),
                Contacts::One(tip) | Contacts::Disc { centre: tip, .. } => {
                    cell.tip_from_corner = [part_from_approach * tip; 3];
                    cell.smooth = self.smooth(triangle, tool, approach_from_part);
                    seen.cells.push(cell);
                }
                Contacts::Line(first, last) => {
                    cell.tip_from_corner = [part_from_approach * ((first + last) * 0.5); 3];
                    cell.smooth = self.smooth(triangle, tool, approach_from_part);
                    seen.cells.push(cell);
                }
            }
        }
        seen
    }

    /// Whether a cell lies in the plane of a flat face, so that all cells of its plane share a tip.
    #[must_use]
    pub fn is_flat(&self, cell: &Cell) -> bool {
        (cell.plane as usize) < self.faces.faces.len()
    }

    /// The triangles of one face as cells, but for those of shells whose sides cannot be told.
    #[must_use]
    pub fn cells_of(&self, face: usize) -> Vec<Cell> {
        let of_face = self.faces.face_of_triangle.iter().enumerate();
        of_face
            .filter(|(triangle, of)| **of as usize == face && !self.is_doubtful(*triangle))
            .map(|(triangle, _)| self.cell(triangle))
            .collect()
    }

    fn cell(&self, triangle: usize) -> Cell {
        let face = self.faces.face_of_triangle[triangle] as usize;
        let mut corners = self.mesh.triangles[triangle];
        if self.is_turned(triangle) {
            corners.swap(1, 2);
        }
        Cell {
            corners: corners.map(|corner| self.mesh.vertices[corner as usize].coords),
            normal: self.normal_of(triangle),
            tip_from_corner: [Vec3::zeros(); 3],
            smooth: None,
            face: face as u32,
            plane: self.planes[triangle],
            grain_mm: self.grain_mm[face],
            grain_mm2: self.grain_mm2[face],
        }
    }

    /// Shifts to the tips that touch the corners of a triangle of a round face, by the face's own
    /// normals.
    fn smooth(&self, triangle: usize, tool: &Tool, approach_from_part: &Pose) -> Option<[Vec3; 3]> {
        let normals = self.corner_normals[triangle].as_ref()?;
        let mut shifts = [Vec3::zeros(); 3];
        let corners = self.mesh.triangles[triangle];
        for ((shift, normal), corner) in shifts.iter_mut().zip(normals).zip(corners) {
            let mut normal = approach_from_part.rotation * normal;
            // Where the facet still looks at the spindle, its corner's normal may just not.
            normal.z = normal.z.max(0.0);
            let face = self.faces.face_of_triangle[triangle];
            let normal = self.tidy(face, &normal.try_normalize(1e-9)?);
            let tip = match contacts(&tool.flutes, &normal) {
                Contacts::One(tip) | Contacts::Disc { centre: tip, .. } => tip,
                Contacts::Line(first, last) => {
                    let share = self.share_to_axis(triangle, corner, &(last - first));
                    first + (last - first) * share.unwrap_or(0.5)
                }
                Contacts::None => return None,
            };
            *shift = approach_from_part.rotation.inverse() * tip;
        }
        if self.is_turned(triangle) {
            shifts.swap(1, 2);
        }
        Some(shifts)
    }

    /// On a cone, where along the line of tips that touch a corner the one over the cone's axis is.
    fn share_to_axis(&self, triangle: usize, corner: u32, line: &Vec3) -> Option<f64> {
        let face = self.faces.face_of_triangle[triangle] as usize;
        let FaceForm::Cone {
            apex, direction, ..
        } = self.faces.faces[face].form
        else {
            return None;
        };
        let from = self.mesh.vertices[corner as usize] - apex;
        let radius_mm = (from - direction * direction.dot(&from)).norm();
        let share = radius_mm / line.xy().norm();
        (0.0..=1.0).contains(&share).then_some(share)
    }

    /// On a round face, its own normals at the corners of the triangle that a cell is of.
    #[must_use]
    pub fn own_normals(&self, cell: &Cell) -> Option<&[Vec3; 3]> {
        let triangle = (cell.plane as usize).checked_sub(self.faces.faces.len())?;
        self.corner_normals[triangle].as_ref()
    }

    /// All tips that touch a cell, in the frame of the approach.
    #[must_use]
    pub fn contacts_of(&self, cell: &Cell, tool: &Tool, approach_from_part: &Pose) -> Contacts {
        let seen = self.tidy(cell.face, &(approach_from_part.rotation * cell.normal));
        contacts(&tool.flutes, &seen)
    }

    /// The sine up to which a face counts as level or upright.
    #[must_use]
    pub fn level(&self, face: usize) -> f64 {
        self.level[face]
    }

    /// A normal of a face, seen from somewhere, without components that are next to nothing: a wall stands
    /// upright, a floor lies level.
    #[must_use]
    pub fn tidy(&self, face: u32, normal: &Vec3) -> Vec3 {
        let level = self.level[face as usize];
        let none = |component: f64, up_to: f64| {
            if component.abs() < up_to {
                0.0
            } else {
                component
            }
        };
        let across = if normal.xy().norm() < level {
            level
        } else {
            LEAST_LEVEL
        };
        let mut tidied = Vec3::new(
            none(normal.x, across),
            none(normal.y, across),
            none(normal.z, level),
        );
        if tidied.z == 0.0 || tidied.xy().norm() == 0.0 {
            tidied = tidied.normalize();
        }
        tidied
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
    fn made_by(
        &self,
        tool: &Tool,
        face: u32,
        part_from_approach: &nalgebra::Rotation3<f64>,
    ) -> bool {
        if tool.kind != ToolKind::Drill {
            return tool.kind != ToolKind::Tap;
        }
        let axis = part_from_approach * Vec3::z();
        let face = &self.faces.faces[face as usize];
        let aligned = |direction: &Vec3| direction.cross(&axis).norm() <= BORE_ALIGNED;
        match face.form {
            FaceForm::Cylinder { direction, .. } => {
                aligned(&direction) && is_bore(face, tool.diameter_mm)
            }
            FaceForm::Cone { direction, .. } => aligned(&direction),
            _ => false,
        }
    }
}

/// Whether a face is a bore of a diameter, as far as its fit tells; not a corner of a pocket.
fn is_bore(face: &Face, diameter_mm: f64) -> bool {
    let FaceForm::Cylinder {
        radius_mm,
        hollow,
        turn_deg,
        ..
    } = face.form
    else {
        return false;
    };
    hollow
        && turn_deg > BORE_TURN_DEG
        && (2.0 * radius_mm - diameter_mm).abs() <= 2.0 * face.fit_error_mm + 0.02
}

/// Normals of round faces at the corners of their triangles: of a cylinder along its radius, of a cone
/// as its facet leans, of others the mean of the facets that meet there, weighted by their angles.
fn corner_normals(mesh: &Mesh, faces: &Faces, normals: &[Vec3]) -> Vec<Option<[Vec3; 3]>> {
    let corners_of = |triangle: usize| mesh.triangles[triangle].map(|c| mesh.vertices[c as usize]);
    let mut mean: HashMap<(u32, u32), Vec3> = HashMap::new();
    for (triangle, corners) in mesh.triangles.iter().enumerate() {
        let places = corners_of(triangle);
        for (k, corner) in corners.iter().enumerate() {
            let [a, b] = [1, 2].map(|step| places[(k + step) % 3] - places[k]);
            let sum = mean.entry((faces.face_of_triangle[triangle], *corner));
            *sum.or_default() += normals[triangle] * a.angle(&b);
        }
    }
    let of_triangle = |triangle: usize| {
        let face = faces.face_of_triangle[triangle];
        match faces.faces[face as usize].form {
            FaceForm::Flat { .. } => None,
            FaceForm::Cylinder {
                point, direction, ..
            } => {
                let radial = |place: Point3<f64>| {
                    let from_axis = place - point;
                    let across = from_axis - direction * direction.dot(&from_axis);
                    let outward = across * across.dot(&normals[triangle]).signum();
                    outward.try_normalize(1e-9).unwrap_or(normals[triangle])
                };
                Some(corners_of(triangle).map(radial))
            }
            FaceForm::Cone {
                apex, direction, ..
            } => {
                let normal = normals[triangle];
                let along = direction * direction.dot(&normal);
                let slanted = |place: Point3<f64>| {
                    let from_apex = place - apex;
                    let across = from_apex - direction * direction.dot(&from_apex);
                    let outward = across * across.dot(&normal).signum();
                    // The tip of a cone has the normals of all its sides: the facet's will do.
                    let outward = outward.try_normalize(1e-9);
                    outward.map_or(normal, |out| along + out * (normal - along).norm())
                };
                Some(corners_of(triangle).map(slanted))
            }
            _ => Some(mesh.triangles[triangle].map(|corner| {
                let sum = mean
                    .get(&(face, corner))
                    .and_then(|sum| sum.try_normalize(1e-9));
                sum.unwrap_or(normals[triangle])
            })),
        }
    };
    (0..mesh.triangles.len()).map(of_triangle).collect()
}
