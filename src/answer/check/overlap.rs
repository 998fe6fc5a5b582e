//! By how much two bodies overlap: the shortest of some straight shifts of the tool that parts
//! them, and the moment at which that can be measured.

use super::CheckError;
use super::measure::{CONTACT_GRAIN_MM, Hint, WANTED_GRAIN_MM};
use super::model::{Measured, Place};
use super::search::least_steps;
use super::trial::Trial;
use super::violation::{Site, Violation};
use crate::setup::model::{Setup, Wanted, WantedGap};
use crate::value::{Vec3, translation};
use nalgebra::Point3;

/// Shifts are tried in steps of this: well below the last digit that is shown, so that a drawing
/// has the length that is told.
const STEP_MM: f64 = 0.001;

/// Overlaps beyond this are told as this much.
const FARTHEST_MM: f64 = 200.0;

/// What the ends of an overlap may be off its length, beside the chord allowance: the last step,
/// and the tolerance of a turn.
const ENDS_MM: f64 = 2.0 * STEP_MM + 1e-3;

/// By how much two bodies overlap, and where.
#[derive(Debug, Clone, PartialEq)]
pub struct Overlap {
    /// Length of the shift that parts them over the whole motion.
    pub length_mm: f64,
    /// The moment at which the shift must be that long, with the overlap's two ends; `None` where
    /// no two points were found that far apart.
    pub place: Option<Place>,
}

impl Trial<'_> {
    /// The shortest shift of the tool, along the spindle, away from the rotary axis or square to
    /// both, that parts the two bodies of the violation at its place in the program; `None` where
    /// none was found.
    ///
    /// The true least translation can be shorter, along a direction that is not tried. The moment is
    /// the one at which the two part last: with the tool shifted so, they come nearest there. Of
    /// several it is one at full depth, where that is known.
    pub(super) fn overlap(&self, violation: &Violation) -> Result<Option<Overlap>, CheckError> {
        let contact_only = without_wanted_gaps(self.judge.scene.setup);
        let mut shortest: Option<(f64, Vec3)> = None;
        for direction in self.ways_out(violation) {
            let reach_mm = shortest.map_or(FARTHEST_MM, |(length_mm, _)| length_mm);
            let limit = (reach_mm / STEP_MM).round() as u64;
            let hint = Hint::default();
            let found = least_steps(limit, |steps| {
                let shift_mm = direction * (steps as f64 * STEP_MM);
                let setup = shifted(&contact_only, violation.site, shift_mm, self);
                self.parts(&setup, violation, shift_mm, &hint)
            })?;
            if let Some(steps) = found {
                shortest = Some((steps as f64 * STEP_MM, direction));
            }
        }
        let Some((length_mm, direction)) = shortest else {
            return Ok(None);
        };
        let shift_mm = direction * length_mm;
        let setup = shifted(&contact_only, violation.site, shift_mm, self);
        let parted = self.nearest(&setup, violation, shift_mm)?;
        let low = match &parted {
            Some(parted) => self.at_full_depth(&setup, violation, parted)?,
            None => None,
        };
        // Full depth, where the overlap is as long there.
        let mut parted = [low, parted].into_iter().flatten();
        let place = parted.find_map(|parted| self.ends(violation, &parted, length_mm, shift_mm));
        Ok(Some(Overlap { length_mm, place }))
    }

    /// The moment of a parted pair with the tool back in its place.
    fn ends(
        &self,
        violation: &Violation,
        parted: &Measured,
        length_mm: f64,
        shift_mm: Vec3,
    ) -> Option<Place> {
        let told = violation.measured.as_ref()?;
        let same = parted.body == told.body && parted.element_body == told.element_body;
        let mut place = parted.place.filter(|_| same)?;
        let scene = self.judge.scene;
        // Beside the base only what the axes of the tool make of a shift moves the tool.
        let shift_mm = if scene.base.iter().any(|body| body.name == told.body) {
            scene.kinematics.machine_shift_of_tool(shift_mm)
        } else {
            shift_mm
        };
        let shifted = [Some(&mut place.tool_mm), place.tip_mm.as_mut()];
        for point_mm in shifted.into_iter().flatten() {
            *point_mm = (Vec3::from(*point_mm) - shift_mm).into();
        }
        place.overlap_mm = Some(length_mm);
        let apart_mm = (Vec3::from(place.machine_mm) - Vec3::from(place.tool_mm)).norm();
        let off_mm = (apart_mm - length_mm).abs();
        (off_mm <= told.chord_allowance_mm + ENDS_MM).then_some(place)
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

/// Next to no wanted gap: what is left wrong is contact.
fn without_wanted_gaps(setup: &Setup) -> Setup {
    // A gap of nothing at all is never proved.
    let least_mm = WANTED_GRAIN_MM + CONTACT_GRAIN_MM;
    let none = WantedGap {
        rest_mm: least_mm,
        index_mm: least_mm,
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
