//! Bands of every face, tool and seat.
//!
//! Two seats that see the same bodies at the same places once the rotary has gone on by some angle, as
//! on the sides of a column, have the same bands but for that angle: one of them is asked.

use super::bands::BandQuestion;
use super::model::{Alone, Bands, PartReach};
use super::part::PartQuestion;
use crate::answer::check::{CheckError, Progress};
use crate::answer::scene::Body;
use crate::gap::CannotAsk;
use crate::value::wrap_deg;
use rayon::prelude::*;
use std::sync::atomic::Ordering;

/// Bands, and angles at which alone a face may be reached, too.
type Asked = (Bands, Vec<Alone>);

impl PartQuestion<'_> {
    /// Bands of every face asked about, with every tool at every seat.
    ///
    /// # Errors
    /// As [`PartQuestion::answer`].
    pub(super) fn add_bands(
        &self,
        found: &mut PartReach,
        own: &Body,
        from_share: f64,
        progress: &dyn Progress,
    ) -> Result<(), CheckError> {
        let asked = self.surface.asked.iter().enumerate();
        let faces: Vec<usize> = asked
            .filter(|(_, asked)| **asked)
            .map(|(face, _)| face)
            .collect();
        progress.stage("bands", faces.len() * self.tools.len() * self.seats.len());
        let seen_as = self.seen_as()?;
        let asked: Vec<Option<Vec<Option<Asked>>>> = seen_as
            .par_iter()
            .zip(&self.seats)
            .map(|(seen_as, seat)| match seen_as {
                Some(_) => Ok(None),
                None => Ok(Some(
                    self.at_seat(*seat, &faces, own, from_share, progress)?,
                )),
            })
            .collect::<Result<_, CheckError>>()?;
        let count = faces.len() * self.tools.len();
        let bands = seen_as.iter().enumerate().map(|(seat, seen_as)| {
            let (other, by_deg) = seen_as.unwrap_or((seat, 0.0));
            if seen_as.is_some() {
                (0..count).for_each(|_| progress.step());
            }
            let found = asked[other].as_deref().unwrap_or_default();
            let turned = |asked: &Option<Asked>| match (seen_as, asked) {
                (Some(_), Some((bands, alone))) => {
                    let turned = |alone: &Alone| Alone {
                        angle_deg: wrap_deg(alone.angle_deg + by_deg),
                        ..*alone
                    };
                    Some((bands.turned(by_deg), alone.iter().map(turned).collect()))
                }
                _ => asked.clone(),
            };
            found.iter().map(turned).collect::<Vec<_>>()
        });
        if self.stop.load(Ordering::Relaxed) {
            return Err(CheckError::Stopped);
        }
        let limits_deg = self.scene.setup.machine.rotary.limits_deg;
        for (seat, bands) in bands.enumerate() {
            let mut bands = bands.into_iter();
            for tool in 0..self.tools.len() {
                for (face, bands) in found.faces.iter_mut().zip(bands.by_ref()) {
                    let told = &mut face.tools[tool].seats[seat];
                    told.bands = bands.map(|(mut bands, alone)| {
                        bands.know(&alone, &told.indexes, from_share, limits_deg);
                        bands
                    });
                }
            }
        }
        Ok(())
    }

    /// For each seat an earlier one that sees the same, with the angle by which the rotary has then gone on.
    fn seen_as(&self) -> Result<Vec<Option<(usize, f64)>>, CannotAsk> {
        let setup = self.scene.setup;
        let mut seen_as = vec![None; self.seats.len()];
        // Near a limit the same bands would be cut off elsewhere.
        let limited = setup.machine.rotary.limits_deg.is_some();
        // Bodies that look alike may be closed by other lids.
        if limited || self.seats.len() < 2 || !self.bodies.lids.is_empty() {
            return Ok(seen_as);
        }
        let facing_deg: Vec<Option<f64>> = self
            .seats
            .iter()
            .map(|&seat| {
                let kinematics = &self.scene.kinematics;
                kinematics.seat_facing_deg(&setup.carrier, &setup.seats[seat])
            })
            .collect();
        let mut angles_deg: Vec<f64> = facing_deg.iter().copied().flatten().collect();
        angles_deg.sort_by(f64::total_cmp);
        angles_deg.dedup();
        let at = self.bodies.at_indexes(self.scene, &angles_deg)?;
        let signature = |seat: usize| {
            let facing_deg = facing_deg[seat]?;
            let at = at.iter().find(|at| at.index_deg == facing_deg)?;
            Some(at.signature(self.seats[seat]))
        };
        let signatures: Vec<_> = (0..self.seats.len()).map(signature).collect();
        for seat in 1..self.seats.len() {
            let first = |other: &usize| {
                signatures[seat].is_some() && signatures[*other] == signatures[seat]
            };
            let other = (0..seat).find(first);
            let pair =
                other.and_then(|other| Some((other, facing_deg[seat]? - facing_deg[other]?)));
            seen_as[seat] = pair;
        }
        Ok(seen_as)
    }

    /// Tool by tool, face by face.
    fn at_seat(
        &self,
        seat: usize,
        faces: &[usize],
        own: &Body,
        from_share: f64,
        progress: &dyn Progress,
    ) -> Result<Vec<Option<Asked>>, CheckError> {
        let [work, work_lids] = self.bodies.turning_without(seat);
        let standing = self.scene.part(seat, self.last_state())?;
        let own = Body {
            pose: standing.ok_or(CannotAsk::BadMesh)?.pose,
            ..own.clone()
        };
        let own_lids = self.bodies.lids.of_all(std::slice::from_ref(&own));
        let bed_lids = self.bodies.lids.of_all(&self.scene.bed);
        let questions = self
            .tools
            .par_iter()
            .flat_map(|ready| faces.par_iter().map(move |face| (ready, *face)));
        questions
            .map(|(ready, face)| {
                let asked = BandQuestion {
                    scene: self.scene,
                    ready,
                    surface: self.surface,
                    seat,
                    work: &work,
                    own: &own,
                    lids: [&own_lids, &work_lids, &bed_lids],
                    from_share,
                    to_deg: self.options.bands_to_deg,
                    stop: self.stop,
                };
                let bands = asked.bands(face)?;
                progress.step();
                Ok(bands)
            })
            .collect()
    }
}
