//! Holders: steps and cones, or the envelope of a mesh.

use super::file::{HolderStepFile, ToolFile};
use super::meshes::{MeshRef, Orders, Store, placement};
use super::model::Profile;
use super::profile::{below, pieces};
use super::spot::Spot;
use crate::mesh::envelope_of_revolution;
use nalgebra::{Unit, Vector3};

/// How far the envelope of a holder mesh may stand outside what the mesh sweeps. A finer one
/// makes more pieces; a wanted gap is two hundred times as large.
const ENVELOPE_MM: f64 = 0.01;

/// A holder in the frame of its face.
#[derive(Debug, Clone)]
pub(super) struct Holder {
    /// `(radius, height)` points of rising height.
    line: Vec<(f64, f64)>,
    chord_allowance_mm: f64,
    /// Whether it is a mesh, which may go on above the gauge line.
    pub(super) is_mesh: bool,
}

impl Holder {
    /// Height above its face.
    pub(super) fn height_mm(&self) -> f64 {
        self.line.last().map_or(0.0, |(_, height_mm)| *height_mm)
    }

    /// The holder up to the gauge line.
    pub(super) fn cut_at(&self, gauge_line_mm: f64) -> Profile {
        let Self {
            line,
            chord_allowance_mm,
            is_mesh,
        } = self;
        let pieces = if *is_mesh {
            pieces(&below(line, gauge_line_mm))
        } else {
            pieces(line)
        };
        Profile {
            pieces,
            chord_allowance_mm: *chord_allowance_mm,
        }
    }
}

/// Orders the holder meshes of tools; `list` is the list of tools.
pub(super) fn order(list: &Spot<'_>, tools: &[ToolFile], orders: &mut Orders) {
    for (index, tool) in tools.iter().enumerate() {
        if let Some(mesh) = &tool.holder_mesh {
            orders.add(&list.item(index).key("holder_mesh"), mesh.into());
        }
    }
}

/// Checks and makes the holder of a tool.
pub(super) fn holder(spot: &Spot<'_>, file: &ToolFile, store: &Store) -> Option<Holder> {
    match (&file.holder_mesh, file.holder.as_slice()) {
        (None, []) => {
            spot.error("the tool has no holder; give the steps of `holder`, or `holder_mesh`");
            None
        }
        (None, steps) => stepped(&spot.key("holder"), steps),
        (Some(_), []) => from_mesh(spot, file, store),
        (Some(_), _) => {
            spot.error("`holder` and `holder_mesh` are both given; give one of them");
            None
        }
    }
}

fn stepped(list: &Spot<'_>, steps: &[HolderStepFile]) -> Option<Holder> {
    let mut line: Vec<(f64, f64)> = Vec::new();
    let mut height_mm = 0.0;
    for (index, step) in steps.iter().enumerate() {
        let spot = list.item(index);
        let radius_mm = spot.key("diameter").positive(step.diameter) / 2.0;
        let top_mm = step.diameter_top.map_or(radius_mm, |diameter| {
            spot.key("diameter_top").positive(diameter) / 2.0
        });
        let step_mm = spot.key("height").positive(step.height);
        if step_mm.is_nan() || step_mm <= 0.0 {
            return None;
        }
        line.push((radius_mm, height_mm));
        height_mm += step_mm;
        line.push((top_mm, height_mm));
    }
    line.dedup();
    Some(Holder {
        line,
        chord_allowance_mm: 0.0,
        is_mesh: false,
    })
}

fn from_mesh(spot: &Spot<'_>, file: &ToolFile, store: &Store) -> Option<Holder> {
    let mesh_file = file.holder_mesh.as_ref()?;
    let spot = spot.key("holder_mesh");
    let pose = placement(&spot, &mesh_file.place)?;
    let mesh = store.get(&spot, MeshRef::from(mesh_file))?;
    let mesh_from_face = pose.inverse();
    let axis = Unit::new_unchecked(mesh_from_face * Vector3::z());
    let origin = mesh_from_face * nalgebra::Point3::origin();
    let envelope = envelope_of_revolution(&mesh, origin, axis, ENVELOPE_MM);
    let line: Vec<(f64, f64)> = envelope
        .into_iter()
        .map(|(height_mm, radius_mm)| (radius_mm, height_mm))
        .collect();
    let holder = Holder {
        line,
        chord_allowance_mm: mesh.chord_allowance_mm,
        is_mesh: true,
    };
    if holder.height_mm() <= 0.0 {
        spot.error("the mesh lies below the holder face; `place` it with z up from the face");
        return None;
    }
    Some(holder)
}
