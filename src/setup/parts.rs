//! Parts and clamps with their states.

use super::carrier::warn_of_unit;
use super::file::{AllowanceFile, ClampFile, PartFile, StateFile};
use super::meshes::{MeshRef, Orders, Store, placement};
use super::model::{Clamp, Part, State};
use super::spot::{Log, Spot};
use crate::mesh::Mesh;
use crate::mesh::solids::cuboid;
use nalgebra::Vector3;
use std::sync::Arc;

/// Orders the meshes of a list of states.
fn order_states(spot: &Spot<'_>, states: &[StateFile], orders: &mut Orders) {
    for (index, state) in states.iter().enumerate() {
        if let Some(mesh) = MeshRef::of_state(state) {
            orders.add(&spot.key("states").item(index), mesh);
        }
    }
}

/// Orders the meshes of parts and clamps.
pub(super) fn order(job: &Spot<'_>, parts: &[PartFile], clamps: &[ClampFile], orders: &mut Orders) {
    for (index, part) in parts.iter().enumerate() {
        order_states(&job.key("parts").item(index), &part.states, orders);
    }
    for (index, clamp) in clamps.iter().enumerate() {
        order_states(&job.key("clamps").item(index), &clamp.states, orders);
    }
}

/// What parts and clamps are compared with, and where faults go.
pub(super) struct Surroundings<'a> {
    pub(super) store: &'a Store,
    pub(super) log: &'a Log,
    /// Size expected of the part or clamp with this index, where its seats tell.
    pub(super) expected_mm: &'a dyn Fn(usize) -> Option<f64>,
}

/// Checks and makes the parts; an entry is `None` where a mesh of it could not be read.
pub(super) fn parts(
    list: &Spot<'_>,
    files: &[PartFile],
    around: &Surroundings<'_>,
) -> Vec<Option<Part>> {
    let names: Vec<&str> = files.iter().map(|file| file.name.as_str()).collect();
    list.unique(&names, "name");
    let part = |(index, file): (usize, &PartFile)| {
        let spot = list.item(index);
        let states = states(
            &spot,
            &file.states,
            around,
            (around.expected_mm)(index),
            true,
        );
        if file.states.len() == 1 {
            spot.key("states").warn(format!(
                "the part \"{}\" has only one state: without a mesh of its stock, what depends on \
                 the stock is `unknown`; add a state with `file` or `stock` before it",
                file.name
            ));
        }
        let density = file
            .density
            .map(|density| spot.key("density").positive_number(density));
        Some(Part {
            name: file.name.clone(),
            states: states?,
            density_g_cm3: density,
        })
    };
    files.iter().enumerate().map(part).collect()
}

/// Checks and makes the clamps.
pub(super) fn clamps(
    list: &Spot<'_>,
    files: &[ClampFile],
    around: &Surroundings<'_>,
) -> Vec<Option<Clamp>> {
    let names: Vec<&str> = files.iter().map(|file| file.name.as_str()).collect();
    list.unique(&names, "name");
    let clamp = |(index, file): (usize, &ClampFile)| {
        let spot = list.item(index);
        let states = states(
            &spot,
            &file.states,
            around,
            (around.expected_mm)(index),
            false,
        );
        Some(Clamp {
            name: file.name.clone(),
            states: states?,
        })
    };
    files.iter().enumerate().map(clamp).collect()
}

fn states(
    owner: &Spot<'_>,
    files: &[StateFile],
    around: &Surroundings<'_>,
    expected_mm: Option<f64>,
    may_have_stock: bool,
) -> Option<Vec<State>> {
    let list = owner.key("states");
    let names: Vec<&str> = files.iter().map(|file| file.name.as_str()).collect();
    list.unique(&names, "name");
    if files.is_empty() {
        list.error("there is no state; give at least one, with a mesh");
        return None;
    }
    let meshes: Vec<Option<Arc<Mesh>>> = files
        .iter()
        .enumerate()
        .map(|(index, file)| mesh_of(&list.item(index), file, around, expected_mm))
        .collect();
    let last = files.len() - 1;
    let finished = meshes[last].clone();
    let state = |(index, (file, mesh)): (usize, (&StateFile, Option<Arc<Mesh>>))| {
        let spot = list.item(index);
        let mesh = match (&file.file, &file.stock) {
            (Some(_), None) => mesh,
            (None, Some(stock)) if may_have_stock && index < last => {
                block(&spot.key("stock"), stock, finished.as_deref())
            }
            (None, Some(_)) => {
                spot.key("stock")
                    .error("stock stands before the last state of a part only; give a `file`");
                None
            }
            (Some(_), Some(_)) => {
                spot.error("`file` and `stock` are both given; give one of them");
                None
            }
            (None, None) => {
                spot.error("the state has no mesh; give `file`, or `stock` over the last state");
                None
            }
        };
        mesh.map(|mesh| State {
            name: file.name.clone(),
            mesh,
        })
    };
    let states: Vec<Option<State>> = files.iter().zip(meshes).enumerate().map(state).collect();
    states.into_iter().collect()
}

fn mesh_of(
    spot: &Spot<'_>,
    file: &StateFile,
    around: &Surroundings<'_>,
    expected_mm: Option<f64>,
) -> Option<Arc<Mesh>> {
    let named = MeshRef::of_state(file)?;
    let pose = placement(spot, &file.place)?;
    let mesh = around.store.get_placed(spot, named, &pose)?;
    if let Some(expected_mm) = expected_mm {
        warn_of_unit(spot, named.file, &mesh, expected_mm, around.log);
    }
    Some(mesh)
}

/// The bounding box of the last state, grown by the allowances.
fn block(spot: &Spot<'_>, stock: &AllowanceFile, finished: Option<&Mesh>) -> Option<Arc<Mesh>> {
    let allowance = |key: &str, ends: [f64; 2]| ends.map(|end| spot.key(key).not_negative(end));
    let [x, y, z] = [
        allowance("x", stock.x),
        allowance("y", stock.y),
        allowance("z", stock.z),
    ];
    let (low, high) = finished?.bounds();
    let low = low - Vector3::new(x[0], y[0], z[0]);
    let high = high + Vector3::new(x[1], y[1], z[1]);
    match cuboid(low, high) {
        Ok(mesh) => Some(Arc::new(mesh)),
        Err(error) => {
            spot.error(format!(
                "{error}; the last state is flat, give allowances above 0"
            ));
            None
        }
    }
}
