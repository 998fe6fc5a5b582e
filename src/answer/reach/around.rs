//! Everything that stands at one index, in the approach frame: z to the spindle.

use super::skyline::{Skyline, SkylineBody};
use crate::answer::check::swing::WorkReach;
use crate::answer::scene::{Body, BodyId, Scene};
use crate::gap::{CannotAsk, Placed, Shape};
use crate::value::Pose;

/// Step of the skyline of all that turns.
const STEP_MM: f64 = 1.0;

/// Most lines of it.
const MOST_LINES: usize = 400_000;

/// Owner of bodies that are no part.
const NO_SEAT: u16 = 0;

/// All bodies at one index.
#[derive(Debug)]
pub struct AtIndex {
    /// Rotary angle.
    pub index_deg: f64,
    /// `approach_from_carrier`.
    pub approach_from_carrier: Pose,
    /// `table_from_approach`.
    pub table_from_approach: Pose,
    /// Bodies in the approach frame.
    pub placed: Vec<Placed>,
    /// Which they are.
    pub ids: Vec<BodyId>,
    /// Names.
    pub names: Vec<String>,
    /// Greatest chord allowance.
    pub chord_mm: f64,
    /// What turns, as heights.
    pub skyline: Skyline,
    /// Which body each of the skyline's is.
    pub body_of_skyline: Vec<usize>,
    /// Height over all that turns, with the wanted gap.
    pub top_mm: f64,
}

impl AtIndex {
    /// Places everything for an index; `None` without a rotary sense.
    #[must_use]
    pub fn new(scene: &Scene<'_>, work: &[Body], reach: &WorkReach, index_deg: f64) -> Option<Self> {
        let setup = scene.setup;
        let table_from_carrier = scene
            .kinematics
            .table_from_carrier(&setup.carrier, index_deg)?;
        let rotation = setup.machine.machine_from_spindle_at_zero.rotation;
        let table_from_approach = Pose::from_parts(nalgebra::Translation3::identity(), rotation);
        let approach_from_table = table_from_approach.inverse();
        let approach_from_carrier = approach_from_table * table_from_carrier;
        let turning = work.iter().map(|body| (body, approach_from_carrier));
        let resting = scene.bed.iter().map(|body| (body, approach_from_table));
        let all: Vec<(&Body, Pose)> = turning.chain(resting).collect();
        let mut seen = Vec::new();
        let mut body_of_skyline = Vec::new();
        for (index, (body, approach_from_group)) in all.iter().enumerate() {
            if let (Shape::Mesh(shape), false) = (&body.shape, matches!(body.id, BodyId::Bed(_))) {
                body_of_skyline.push(index);
                seen.push(SkylineBody {
                    mesh: shape.mesh(),
                    approach_from_body: approach_from_group * body.pose,
                    owner: owner(body.id),
                });
            }
        }
        let centre = approach_from_table * setup.machine.rotary.centre;
        Some(Self {
            index_deg,
            approach_from_carrier,
            table_from_approach,
            placed: all
                .iter()
                .map(|(body, pose)| crate::answer::scene::placed(body, pose))
                .collect(),
            ids: all.iter().map(|(body, _)| body.id).collect(),
            names: all.iter().map(|(body, _)| body.name.clone()).collect(),
            chord_mm: all
                .iter()
                .map(|(body, _)| body.chord_allowance_mm)
                .fold(0.0, f64::max),
            skyline: Skyline::new(&seen, STEP_MM, MOST_LINES),
            body_of_skyline,
            top_mm: centre.z + reach.along_spindle_mm + setup.wanted.flutes.index_mm,
        })
    }

    /// Bodies besides the part at a seat, with their indices.
    #[must_use]
    pub fn without_part_at(&self, seat: usize) -> (Vec<Placed>, Vec<usize>) {
        let others = (0..self.placed.len()).filter(|&index| {
            !matches!(self.ids[index], BodyId::Part { seat: at, .. } if at == seat)
        });
        others.map(|index| (self.placed[index].clone(), index)).unzip()
    }

    /// The owner of the part at a seat in the skyline.
    #[must_use]
    pub fn owner_at(seat: usize) -> u16 {
        owner(BodyId::Part { seat, state: 0 })
    }
}

fn owner(id: BodyId) -> u16 {
    match id {
        BodyId::Part { seat, .. } => seat as u16 + 1,
        _ => NO_SEAT,
    }
}

/// All that turns: carrier, clamps, and every part in its first state and its last.
///
/// # Errors
/// As [`Scene::iron`].
pub fn work_bodies(scene: &Scene<'_>) -> Result<Vec<Body>, CannotAsk> {
    let mut bodies = scene.iron()?;
    for (seat_index, seat) in scene.setup.seats.iter().enumerate() {
        let Some(part) = seat.part else { continue };
        let last = scene.setup.parts[part].states.len() - 1;
        for state in [0, last] {
            bodies.extend(scene.part(seat_index, state)?);
            if last == 0 {
                break;
            }
        }
    }
    Ok(bodies)
}
