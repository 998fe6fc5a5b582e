//! One tool from one direction: first against the own part, then against all else at each seat.

use super::cells::Cell;
use super::choosing::{Choosing, candidates};
use super::cutter::Contacts;
use super::ground::{Ground, Settled, Stop};
use super::surface::Surface;
use super::tally::Cause;
use crate::gap::CannotAsk;
use crate::setup::model::Tool;

/// A point this far off the surface is asked about where it is asked what stands over it.
const OFF_MM: f64 = 0.02;

/// A tool over a surface.
#[derive(Debug)]
pub struct Stage<'g> {
    /// The surface.
    pub surface: &'g Surface<'g>,
    /// The tool.
    pub tool: &'g Tool,
    /// The own part.
    pub own: &'g Ground<'g>,
}

impl Stage<'_> {
    /// Settles cells against the own part, every tip that touches a cell being allowed.
    ///
    /// # Errors
    /// As [`Ground::settle`].
    pub fn against_own(&self, cells: Vec<Cell>) -> Result<Settled, CannotAsk> {
        self.against(cells, None)
    }

    /// Settles cells that are free of the own part against all else.
    ///
    /// # Errors
    /// As [`Ground::settle`].
    pub fn against_all(&self, free: Vec<Cell>, around: &Ground<'_>) -> Result<Settled, CannotAsk> {
        self.against(free, Some(around))
    }

    fn against(
        &self,
        mut cells: Vec<Cell>,
        around: Option<&Ground<'_>>,
    ) -> Result<Settled, CannotAsk> {
        // Cells of one plane have one choice of tips.
        cells.sort_by_key(|cell| cell.plane);
        let (mut single, mut settled) = (Vec::new(), Settled::default());
        for heap in cells.chunk_by_mut(|a, b| a.plane == b.plane) {
            match self.choice(&heap[0]) {
                Some(contacts) => {
                    let mut choosing = Choosing {
                        stage: self,
                        around,
                        tips: candidates(&contacts),
                        contacts,
                        places: Vec::new(),
                        settled: &mut settled,
                    };
                    let (own, all) = (self.own.all_open(), around.map(Ground::all_open));
                    choosing.settle(heap, &own, &all.unwrap_or_default())?;
                }
                None => single.extend_from_slice(heap),
            }
        }
        let ground = around.unwrap_or(self.own);
        let rest = ground.settle(single)?;
        settled.free.extend(rest.free);
        settled.stopped.extend(rest.stopped);
        settled.undecided.extend(rest.undecided);
        Ok(settled)
    }

    /// Why a cell that the own part stops is not reached.
    #[must_use]
    pub fn cause(&self, cell: &Cell, stop: Stop) -> Cause {
        match stop {
            Stop::Body { obstacle: 0, .. } if self.is_under(cell) => Cause::Undercut,
            Stop::Body { obstacle: 0, .. } => Cause::CutterTooLarge,
            stop => Cause::Own(stop),
        }
    }

    /// Whether the own part stands over the middle of a cell.
    fn is_under(&self, cell: &Cell) -> bool {
        let [a, b, c] = cell.corners;
        let Some(normal) = cell.normal() else {
            return false;
        };
        let middle = (a + b + c) / 3.0 + normal * OFF_MM;
        let at = self.own.approach_from_part * nalgebra::Point3::from(middle);
        self.own.is_under(&at.coords)
    }

    fn choice(&self, cell: &Cell) -> Option<Contacts> {
        let contacts = self
            .surface
            .contacts_of(cell, self.tool, &self.own.approach_from_part);
        matches!(contacts, Contacts::Line(..) | Contacts::Disc { .. }).then_some(contacts)
    }
}
