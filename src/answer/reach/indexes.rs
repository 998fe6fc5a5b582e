//! Which parts, seats and rotary angles are asked about.

use super::ReachOptions;
use super::model::SAME_DEG;
use super::surface::Surface;
use crate::answer::check::CheckError;
use crate::answer::scene::Scene;
use crate::mesh::faces::FaceForm;
use crate::setup::model::Setup;
use crate::value::{Vec3, wrap_deg};

/// Seats that hold a part and are asked about.
#[must_use]
pub fn seats_of(setup: &Setup, options: &ReachOptions, part: usize) -> Vec<usize> {
    let chosen = |name: &String| options.seats.is_empty() || options.seats.contains(name);
    (0..setup.seats.len())
        .filter(|&seat| setup.seats[seat].part == Some(part) && chosen(&setup.seats[seat].name))
        .collect()
}

/// Angles chosen; or every step, and every angle at which a flat face that is asked about, or the axis of
/// a round one, looks at the spindle.
#[must_use]
pub fn indexes(
    scene: &Scene<'_>,
    options: &ReachOptions,
    surfaces: &[(usize, Surface<'_>)],
) -> Vec<f64> {
    let setup = scene.setup;
    let mut angles = options.indexes_deg.clone();
    if angles.is_empty() {
        let rotary = &setup.machine.rotary;
        let step_deg = rotary.step_deg.map_or(options.every_deg, |step| {
            (options.every_deg / step).ceil() * step
        });
        let count = (360.0 / step_deg).round().max(1.0) as usize;
        let every = (0..count).map(|k| k as f64 * step_deg);
        let allowed = |angle: &f64| {
            let within = |[low, high]: [f64; 2]| (low..=high).contains(angle);
            rotary.limits_deg.is_none_or(within)
        };
        angles.extend(every.filter(allowed));
        // Single precision turns a face a hair away from a step: it is the same index.
        for facing in facing_angles(scene, options, surfaces) {
            let known = angles
                .iter()
                .any(|angle| apart_deg(*angle, facing) <= SAME_DEG);
            if !known {
                angles.push(facing);
            }
        }
    }
    angles.sort_by(f64::total_cmp);
    angles.dedup_by(|a, b| apart_deg(*a, *b) < 1e-7);
    angles
}

/// The angle between two indexes, whole turns aside.
fn apart_deg(one: f64, two: f64) -> f64 {
    wrap_deg(one - two).min(wrap_deg(two - one))
}

fn facing_angles(
    scene: &Scene<'_>,
    options: &ReachOptions,
    surfaces: &[(usize, Surface<'_>)],
) -> Vec<f64> {
    let setup = scene.setup;
    let mut angles = Vec::new();
    for (part, surface) in surfaces {
        let faces = surface.faces.faces.iter().zip(&surface.asked);
        let asked = faces.filter(|(_, asked)| **asked).map(|(face, _)| face);
        let directions = asked.flat_map(|face| match face.form {
            FaceForm::Flat { normal, .. } => vec![normal],
            FaceForm::Cylinder { direction, .. } => vec![direction, -direction],
            _ => Vec::new(),
        });
        let directions: Vec<Vec3> = directions.collect();
        for seat in seats_of(setup, options, *part) {
            let seat = &setup.seats[seat];
            let machine_from_part = setup.carrier.machine_from_carrier_at_zero
                * seat.carrier_from_seat
                * seat.seat_from_part;
            let found = directions.iter().filter_map(|direction| {
                let at_zero = machine_from_part.rotation * direction;
                scene.kinematics.facing_angle_deg(at_zero)
            });
            angles.extend(found);
        }
    }
    angles
}

impl ReachOptions {
    /// # Errors
    /// [`CheckError::NotInJob`] for a face that no part asked about has.
    pub(super) fn faces_fit(&self, surfaces: &[(usize, Surface<'_>)]) -> Result<(), CheckError> {
        let names = || {
            surfaces
                .iter()
                .flat_map(|(_, surface)| &surface.faces.faces)
        };
        let missing = |name: &&String| !names().any(|face| face.name == **name);
        match self.faces.iter().find(missing) {
            Some(name) => Err(CheckError::NotInJob(format!(
                "no part asked about has a face `{name}`; lapidary features lists them"
            ))),
            None => Ok(()),
        }
    }

    /// # Errors
    /// [`CheckError::NotInJob`] for a name that the job does not have.
    pub(super) fn fits(&self, setup: &Setup) -> Result<(), CheckError> {
        let missing = |what: &str, name: String, has: Vec<String>| {
            let list = has.join(", ");
            Err(CheckError::NotInJob(format!(
                "the job has no {what} `{name}`; it has: {list}"
            )))
        };
        let tools: Vec<u32> = setup.tools.iter().map(|tool| tool.number).collect();
        let parts: Vec<String> = setup.parts.iter().map(|part| part.name.clone()).collect();
        let seats: Vec<String> = setup.seats.iter().map(|seat| seat.name.clone()).collect();
        if let Some(number) = self.tools.iter().find(|number| !tools.contains(number)) {
            let has = tools.iter().map(u32::to_string).collect();
            return missing("tool", number.to_string(), has);
        }
        if let Some(name) = self.parts.iter().find(|name| !parts.contains(name)) {
            return missing("part", name.clone(), parts);
        }
        if let Some(name) = self.seats.iter().find(|name| !seats.contains(name)) {
            return missing("seat", name.clone(), seats);
        }
        Ok(())
    }
}
