//! Bands of every face, tool and seat.

use super::bands::BandQuestion;
use super::model::{Bands, PartReach};
use super::part::PartQuestion;
use crate::answer::check::{CheckError, Progress};
use crate::answer::scene::Body;
use crate::gap::CannotAsk;
use rayon::prelude::*;
use std::sync::atomic::Ordering;

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
        let bands: Vec<Vec<Option<Bands>>> = (0..self.seats.len())
            .into_par_iter()
            .map(|seat| self.at_seat(self.seats[seat], &faces, own, from_share, progress))
            .collect::<Result<_, CheckError>>()?;
        if self.stop.load(Ordering::Relaxed) {
            return Err(CheckError::Stopped);
        }
        for (seat, bands) in bands.into_iter().enumerate() {
            let mut bands = bands.into_iter();
            for tool in 0..self.tools.len() {
                for (face, bands) in found.faces.iter_mut().zip(bands.by_ref()) {
                    face.tools[tool].seats[seat].bands = bands;
                }
            }
        }
        Ok(())
    }

    /// Tool by tool, face by face.
    fn at_seat(
        &self,
        seat: usize,
        faces: &[usize],
        own: &Body,
        from_share: f64,
        progress: &dyn Progress,
    ) -> Result<Vec<Option<Bands>>, CheckError> {
        let work = self.bodies.turning_without(seat);
        let standing = self.scene.part(seat, self.last_state())?;
        let own = Body {
            pose: standing.ok_or(CannotAsk::BadMesh)?.pose,
            ..own.clone()
        };
        let questions = self.tools.par_iter().flat_map(|ready| {
            let pairs = faces.par_iter().map(move |face| (ready, *face));
            pairs
        });
        questions
            .map(|(ready, face)| {
                let asked = BandQuestion {
                    scene: self.scene,
                    ready,
                    surface: self.surface,
                    seat,
                    work: &work,
                    own: &own,
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
