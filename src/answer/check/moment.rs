//! Everything that stands around one cut, with the frames of that instant.

use super::judge::Judge;
use super::measure::Standing;
use super::model::Measured;
use super::plan::{CutJob, states_during};
use crate::answer::scene::Body;
use crate::gap::CannotAsk;
use crate::setup::model::{Cut, Tool};
use crate::value::Pose;
use nalgebra::Point3;

/// Everything that stands around a cut, and the frames of the moment.
pub(super) struct Moment<'m> {
    pub(super) job: CutJob,
    pub(super) cut: &'m Cut,
    pub(super) tool: &'m Tool,
    pub(super) table_from_feature: Pose,
    pub(super) part_from_table: Pose,
    pub(super) around: Vec<Standing<'m>>,
    pub(super) own_before: Standing<'m>,
    pub(super) own_after: Standing<'m>,
    pub(super) own_last: Standing<'m>,
    pub(super) own_has_stock: bool,
}

impl Moment<'_> {
    /// A place of this cut with its angle, and its point in the coordinates of the part.
    pub(super) fn in_part(&self, mut measured: Measured) -> Measured {
        if let Some(place) = measured.place.as_mut() {
            let point = self.part_from_table * Point3::from(place.machine_mm);
            place.part_mm = Some(point.coords.into());
            place.angle_deg = self.job.index_deg.unwrap_or(0.0);
        }
        measured
    }
}

impl Judge<'_> {
    pub(super) fn other_parts(&self, job: &CutJob) -> Result<Vec<Body>, CannotAsk> {
        let states = states_during(self.scene.setup, job.cut);
        let mut bodies = Vec::new();
        for (seat_index, seat) in self.scene.setup.seats.iter().enumerate() {
            let Some(part) = seat.part else { continue };
            if seat_index == job.seat {
                continue;
            }
            for &state in &states[part] {
                bodies.extend(self.scene.part(seat_index, state)?);
            }
        }
        Ok(bodies)
    }

    /// The part that is cut: before, after, and as it will leave the carrier.
    pub(super) fn own_parts(&self, job: &CutJob) -> Result<[Body; 3], CannotAsk> {
        let setup = self.scene.setup;
        let cut = &setup.cuts[job.cut];
        let last = setup.parts[cut.part].states.len() - 1;
        let state = |state| self.scene.part(job.seat, state)?.ok_or(CannotAsk::BadMesh);
        Ok([state(cut.before)?, state(cut.after)?, state(last)?])
    }

    pub(super) fn moment<'m>(
        &'m self,
        job: &CutJob,
        table_from_carrier: Pose,
        others: &'m [Body],
        own: &'m [Body; 3],
    ) -> Moment<'m> {
        let setup = self.scene.setup;
        let cut = &setup.cuts[job.cut];
        let seat = &setup.seats[job.seat];
        let table_from_part = table_from_carrier * seat.carrier_from_seat * seat.seat_from_part;
        let turning = self.iron.iter().chain(others);
        let around = turning
            .map(|body| Standing::new(body, &table_from_carrier))
            .chain(
                self.scene
                    .bed
                    .iter()
                    .map(|body| Standing::new(body, &Pose::identity())),
            )
            .collect();
        let [own_before, own_after, own_last] = own
            .each_ref()
            .map(|body| Standing::new(body, &table_from_carrier));
        Moment {
            job: *job,
            cut,
            tool: &setup.tools[cut.tool],
            table_from_feature: table_from_part * cut.feature.part_from_feature,
            part_from_table: table_from_part.inverse(),
            around,
            own_before,
            own_after,
            own_last,
            own_has_stock: setup.parts[cut.part].states.len() > 1,
        }
    }
}
