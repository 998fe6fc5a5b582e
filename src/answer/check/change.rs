//! Setups with one thing changed, for trying remedies.

use crate::setup::model::{Carrier, Cut, Form, Setup, Tool};
use crate::value::{Vec3, translation};

/// On the grid of 0.01 mm.
pub(super) fn rounded(value_mm: f64) -> f64 {
    (value_mm * 100.0).round() / 100.0
}

/// The setup with a tool set otherwise.
pub(super) fn retooled(setup: &Setup, tool: usize, changed: Tool) -> Setup {
    let mut setup = setup.clone();
    setup.tools[tool] = changed;
    setup
}

/// The setup with a cut made otherwise.
pub(super) fn recut(setup: &Setup, cut: usize, change: impl FnOnce(&mut Cut)) -> Setup {
    let mut setup = setup.clone();
    change(&mut setup.cuts[cut]);
    setup
}

/// A cutter of another diameter: every ring of its flutes drawn in by as much.
pub(super) fn slimmer(tool: &Tool, diameter_mm: f64) -> Option<Tool> {
    let by_mm = (tool.diameter_mm - diameter_mm) / 2.0;
    let mut changed = tool.clone();
    changed.diameter_mm = diameter_mm;
    for ring in changed
        .flutes
        .pieces
        .iter_mut()
        .flat_map(|piece| &mut piece.rings)
    {
        if ring.radius_mm > 0.0 {
            ring.radius_mm -= by_mm;
            if ring.radius_mm < 0.0 {
                return None;
            }
        }
    }
    Some(changed)
}

/// Least distance of neighbouring seats of a group on one side, along the rotary axis.
pub(super) fn pitch_of(setup: &Setup, group: &str) -> Option<f64> {
    let along = rows(setup, group);
    along
        .windows(2)
        .map(|pair| pair[1] - pair[0])
        .reduce(f64::min)
}

/// Distinct places of a seat group along the carrier's axis.
fn rows(setup: &Setup, group: &str) -> Vec<f64> {
    let seats = setup.seats.iter().filter(|seat| seat.group == group);
    let mut along: Vec<f64> = seats
        .map(|seat| seat.carrier_from_seat.translation.z)
        .collect();
    along.sort_by(f64::total_cmp);
    along.dedup_by(|a, b| (*a - *b).abs() < 1e-6);
    along
}

/// The seats of a group farther apart by `more_mm` each; `None` where the last would leave the
/// carrier.
pub(super) fn with_pitch(setup: &Setup, group: &str, more_mm: f64) -> Option<Setup> {
    let along = rows(setup, group);
    let top_mm = carrier_top_mm(&setup.carrier);
    let mut changed = setup.clone();
    for seat in changed.seats.iter_mut().filter(|seat| seat.group == group) {
        let place_mm = seat.carrier_from_seat.translation.z;
        let row = along.iter().position(|row| (row - place_mm).abs() < 1e-6)?;
        seat.carrier_from_seat.translation.z += more_mm * row as f64;
        if seat.carrier_from_seat.translation.z > top_mm {
            return None;
        }
    }
    Some(changed)
}

fn carrier_top_mm(carrier: &Carrier) -> f64 {
    let tops = carrier.bodies.iter().map(|body| match &body.form {
        Form::Mesh(mesh) => {
            let heights = mesh
                .vertices
                .iter()
                .map(|vertex| (body.carrier_from_body * vertex).z);
            heights.fold(f64::NEG_INFINITY, f64::max)
        }
        Form::Revolved(profile) => {
            let rings = profile.pieces.iter().flat_map(|piece| &piece.rings);
            let heights = rings.map(|ring| ring.height_mm + body.carrier_from_body.translation.z);
            heights.fold(f64::NEG_INFINITY, f64::max)
        }
    });
    tops.fold(f64::NEG_INFINITY, f64::max)
}

/// The rotary with its carrier and the bed, shifted in the machine.
pub(super) fn with_table_at(setup: &Setup, shift_mm: Vec3) -> Setup {
    let mut changed = setup.clone();
    let shift = translation(shift_mm);
    changed.machine.rotary.centre += shift_mm;
    let carrier = &mut changed.carrier;
    carrier.machine_from_carrier_at_zero = shift * carrier.machine_from_carrier_at_zero;
    for body in &mut changed.machine.bed {
        body.pose = shift * body.pose;
    }
    changed
}
