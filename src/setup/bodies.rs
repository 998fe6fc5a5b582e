//! Machine bodies from their shapes.

use super::file::{BodyFile, BodyGroup, MachineFile, ShapeFile};
use super::meshes::{MeshRef, Orders, Store, placement};
use super::model::{Form, MachineBody, Profile};
use super::profile::pieces;
use super::spot::Spot;
use crate::mesh::solids::cuboid;
use crate::value::{Pose, Vec3, frame_from_z_and_hint};
use nalgebra::{Point3, Translation3};
use std::sync::Arc;

/// The bodies of a machine by group.
#[derive(Debug, Default)]
pub(super) struct Bodies {
    pub(super) nose: Vec<MachineBody>,
    pub(super) head: Vec<MachineBody>,
    pub(super) bed: Vec<MachineBody>,
    pub(super) base: Vec<MachineBody>,
}

/// Orders the meshes of a machine.
pub(super) fn order(machine: &Spot<'_>, file: &MachineFile, orders: &mut Orders) {
    for (index, body) in file.bodies.iter().enumerate() {
        if let Some(mesh) = mesh_ref(&body.shape) {
            orders.add(&machine.key("bodies").item(index).key("shape"), mesh);
        }
    }
}

fn mesh_ref(shape: &ShapeFile) -> Option<MeshRef<'_>> {
    match shape {
        ShapeFile::Mesh {
            file,
            mesh_units,
            chord_allowance,
            ..
        } => Some(MeshRef {
            file,
            mesh_units: *mesh_units,
            chord_allowance: *chord_allowance,
        }),
        _ => None,
    }
}

/// Checks and makes the bodies of a machine.
pub(super) fn bodies(machine: &Spot<'_>, file: &MachineFile, store: &Store) -> Bodies {
    let list = machine.key("bodies");
    let names: Vec<&str> = file.bodies.iter().map(|body| body.name.as_str()).collect();
    list.unique(&names, "name");
    let mut bodies = Bodies::default();
    for (index, file) in file.bodies.iter().enumerate() {
        let Some(body) = body(&list.item(index), file, store) else {
            continue;
        };
        match file.group {
            BodyGroup::Nose => bodies.nose.push(body),
            BodyGroup::Head => bodies.head.push(body),
            BodyGroup::Bed => bodies.bed.push(body),
            BodyGroup::Base => bodies.base.push(body),
        }
    }
    bodies
}

fn body(spot: &Spot<'_>, file: &BodyFile, store: &Store) -> Option<MachineBody> {
    let shape = spot.key("shape");
    let (form, pose) = match &file.shape {
        ShapeFile::Box { from, to } => (box_form(&shape, *from, *to)?, Pose::identity()),
        ShapeFile::Cylinder { from, to, diameter } => cylinder(&shape, *from, *to, *diameter)?,
        ShapeFile::Profile { points, at, axis } => turned(&shape, points, *at, *axis)?,
        ShapeFile::Mesh { place, .. } => {
            let pose = placement(&shape, place);
            let mesh = mesh_ref(&file.shape).and_then(|mesh| store.get(&shape, mesh));
            (Form::Mesh(mesh?), pose?)
        }
    };
    Some(MachineBody {
        name: file.name.clone(),
        form,
        pose,
    })
}

fn box_form(spot: &Spot<'_>, from: [f64; 3], to: [f64; 3]) -> Option<Form> {
    let (from, to) = (spot.key("from").point(from), spot.key("to").point(to));
    match cuboid(from.inf(&to), from.sup(&to)) {
        Ok(mesh) => Some(Form::Mesh(Arc::new(mesh))),
        Err(error) => {
            spot.error(format!(
                "{error}; give two opposite corners in `from` and `to`"
            ));
            None
        }
    }
}

fn cylinder(spot: &Spot<'_>, from: [f64; 3], to: [f64; 3], diameter: f64) -> Option<(Form, Pose)> {
    let (from, to) = (spot.key("from").point(from), spot.key("to").point(to));
    let radius_mm = spot.key("diameter").positive(diameter) / 2.0;
    let axis = to - from;
    if axis.norm() < 1.0e-9 {
        spot.error("`from` and `to` are one point; give the centres of the two ends");
        return None;
    }
    let pieces = pieces(&[(radius_mm, 0.0), (radius_mm, axis.norm())]);
    Some((revolved(pieces), frame_at(from, &axis)?))
}

fn turned(
    spot: &Spot<'_>,
    points: &[[f64; 2]],
    at: [f64; 3],
    axis: [f64; 3],
) -> Option<(Form, Pose)> {
    let at = spot.key("at").point(at);
    let axis = spot.key("axis").direction(axis);
    let list = spot.key("points");
    let line: Vec<(f64, f64)> = points
        .iter()
        .enumerate()
        .map(|(index, [radius, height])| {
            let spot = list.item(index);
            (spot.not_negative(*radius), spot.length(*height))
        })
        .collect();
    for (index, pair) in line.windows(2).enumerate() {
        if pair[1].1 < pair[0].1 {
            list.item(index + 1)
                .error("the height falls; list the points from bottom to top");
            return None;
        }
    }
    let pieces = pieces(&line);
    if pieces.is_empty() {
        list.error("the points make no body; give two or more of rising height, radius above 0");
        return None;
    }
    Some((revolved(pieces), frame_at(at, &axis?)?))
}

fn revolved(pieces: Vec<super::model::ProfilePiece>) -> Form {
    Form::Revolved(Arc::new(Profile {
        pieces,
        chord_allowance_mm: 0.0,
    }))
}

/// A frame at a point with z along a direction; x is free, a round body has none.
fn frame_at(at: Point3<f64>, z: &Vec3) -> Option<Pose> {
    let rotation = frame_from_z_and_hint(z, &square_hint(z))?;
    Some(Pose::from_parts(Translation3::from(at.coords), rotation))
}

/// The coordinate axis that is most square to a direction.
pub(super) fn square_hint(direction: &Vec3) -> Vec3 {
    let [x, y, z] = [direction.x.abs(), direction.y.abs(), direction.z.abs()];
    if x <= y && x <= z {
        Vec3::x()
    } else if y <= z {
        Vec3::y()
    } else {
        Vec3::z()
    }
}
