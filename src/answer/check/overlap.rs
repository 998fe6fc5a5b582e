//! By how much two bodies overlap: the shortest of some straight shifts of the tool that parts
//! them.

use super::CheckError;
use super::measure::Hint;
use super::search::least_steps;
use super::trial::Trial;
use super::violation::{Site, Violation};
use crate::setup::model::{Setup, Wanted, WantedGap};
use crate::value::{Vec3, translation};
use nalgebra::Point3;

/// Shifts are tried in steps of this.
const STEP_MM: f64 = 0.005;

/// Overlaps beyond this are told as this much.
const FARTHEST_MM: f64 = 200.0;

impl Trial<'_> {
    /// The shortest shift of the tool, along the spindle, away from the rotary axis or square to
    /// both, that parts the pair at the place of the violation; `None` where none was found.
    ///
    /// The true least translation can be shorter, along a direction that is not tried.
    pub(super) fn overlap_mm(&self, violation: &Violation) -> Result<Option<f64>, CheckError> {
        let contact_only = without_wanted_gaps(self.judge.scene.setup);
        let mut shortest: Option<f64> = None;
        for direction in self.ways_out(violation) {
            let reach_mm = shortest.unwrap_or(FARTHEST_MM);
            let limit = (reach_mm / STEP_MM) as u64;
            let hint = Hint::default();
            let found = least_steps(limit, |steps| {
                let shift_mm = direction * (steps as f64 * STEP_MM);
                let setup = shifted(&contact_only, violation.site, shift_mm, self);
                self.mends_at(&setup, &[violation], 0, shift_mm, &hint)
            })?;
            if let Some(steps) = found {
                shortest = Some(steps as f64 * STEP_MM);
            }
        }
        Ok(shortest)
    }

    fn ways_out(&self, violation: &Violation) -> Vec<Vec3> {
        let spindle = self.judge.scene.kinematics.spindle();
        let rotary = &self.judge.scene.setup.machine.rotary;
        let across = spindle.cross(&rotary.direction);
        let mut ways = vec![
            spindle,
            rotary.direction,
            -rotary.direction,
            across,
            -across,
        ];
        if let (Site::Move(_), Some(place)) = (
            violation.site,
            violation
                .measured
                .as_ref()
                .and_then(|measured| measured.place),
        ) {
            let arm = Point3::from(place.tool_mm) - rotary.centre;
            ways.insert(0, arm - rotary.direction * rotary.direction.dot(&arm));
        }
        ways.iter()
            .filter_map(|way| way.try_normalize(1e-9))
            .collect()
    }
}

/// Every wanted gap zero: what is left wrong is contact.
fn without_wanted_gaps(setup: &Setup) -> Setup {
    let none = WantedGap {
        rest_mm: 0.0,
        index_mm: 0.0,
    };
    let wanted = Wanted {
        flutes: none,
        shank: none,
        holder: none,
        nose: none,
        head: none,
        work: none,
    };
    Setup {
        wanted,
        ..setup.clone()
    }
}

/// In a cut the whole feature is shifted; in an index move the trial shifts the axes itself.
fn shifted(setup: &Setup, site: Site, shift_mm: Vec3, trial: &Trial<'_>) -> Setup {
    let Site::Cut(job) = site else {
        return setup.clone();
    };
    let mut changed = setup.clone();
    let planes = trial.judged.planes_of(&job);
    let cut = &mut changed.cuts[job.cut];
    // Planes by default depend on the wanted gaps: they must stay where they were.
    if let Some(planes) = planes {
        cut.feed_plane_mm = Some(planes.feed_mm);
        cut.travel_plane_mm = Some(planes.travel_mm);
    }
    let seat = &setup.seats[job.seat];
    let table_from_carrier = job.index_deg.and_then(|deg| {
        trial
            .judge
            .scene
            .kinematics
            .table_from_carrier(&setup.carrier, deg)
    });
    if let Some(table_from_carrier) = table_from_carrier {
        let table_from_part = table_from_carrier * seat.carrier_from_seat * seat.seat_from_part;
        let shift_in_part = table_from_part.rotation.inverse() * shift_mm;
        cut.feature.part_from_feature = translation(shift_in_part) * cut.feature.part_from_feature;
    }
    changed
}
