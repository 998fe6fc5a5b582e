//! One tool from one direction: first against the own part, then against all else at each seat.

use super::cells::Cell;
use super::choosing::{Choosing, candidates};
use super::cutter::Contacts;
use super::ground::{Ground, Settled, Stop};
use super::lids::OTHERS;
use super::plane::PlaneStops;
use super::surface::Surface;
use super::tally::Cause;
use super::tools::ReadyTool;
use crate::gap::CannotAsk;
use crate::mesh::faces::FaceForm;
use crate::setup::file::ToolKind;

/// A point this far off the surface is asked about where it is asked what stands over it.
const OFF_MM: f64 = 0.02;

/// A tool over a surface.
pub struct Stage<'g> {
    /// The surface.
    pub surface: &'g Surface<'g>,
    /// The tool.
    pub ready: &'g ReadyTool<'g>,
    /// The own part.
    pub own: &'g Ground<'g>,
}

impl Stage<'_> {
    /// Takes cells out that are short of travel wherever they are asked about, with the axis for each
    /// place: of these the own part need not be asked.
    #[must_use]
    pub fn without_short(
        &self,
        cells: Vec<Cell>,
        places: &[Ground<'_>],
    ) -> (Vec<Cell>, Vec<(Cell, Vec<usize>)>) {
        let (mut left, mut short) = (Vec::new(), Vec::new());
        for cell in cells {
            // With tips to choose from, others may be in travel.
            let spread_mm = self.choice(&cell).map_or([0.0; 2], |tips| tips.spread_mm());
            let axes: Option<Vec<usize>> = places
                .iter()
                .map(|place| place.short_axis(&cell, spread_mm))
                .collect();
            match axes {
                Some(axes) => short.push((cell, axes)),
                None => left.push(cell),
            }
        }
        (left, short)
    }

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
                        denied: None,
                        settled: &mut settled,
                    };
                    choosing.settle(heap)?;
                }
                None => single.extend_from_slice(heap),
            }
        }
        if let Some(around) = around {
            around.settle(&mut single, None, &mut settled)?;
            return Ok(settled);
        }
        let (mut flat, mut round): (Vec<Cell>, Vec<Cell>) = single
            .into_iter()
            .partition(|cell| self.surface.is_flat(cell));
        for face in flat.chunk_by_mut(|a, b| a.plane == b.plane) {
            let by_plane = self.by_plane(&face[0]);
            self.own.settle(face, by_plane.as_ref(), &mut settled)?;
        }
        self.own.settle(&mut round, None, &mut settled)?;
        Ok(settled)
    }

    /// How the face of a cell itself stops the tool.
    fn by_plane(&self, cell: &Cell) -> Option<PlaneStops<'_>> {
        let others = self.own.obstacles.get(usize::from(OTHERS))?;
        PlaneStops::new(
            &self.surface.outlines,
            cell,
            (self.ready, others.ladder),
            &self.own.approach_from_part,
        )
    }

    /// Why a cell that is stopped is not reached.
    #[must_use]
    pub fn cause(&self, cell: &Cell, stop: Stop) -> Cause {
        match stop {
            Stop::Own { element, .. } if element == self.ready.flutes_element() => {
                if self.is_under(cell) {
                    Cause::Undercut
                } else if self.is_drilled(cell) {
                    Cause::PointMeetsBottom
                } else {
                    Cause::CutterTooLarge
                }
            }
            stop => Cause::Stopped(stop),
        }
    }

    /// Whether a cell is of a bore under a drill, which has the diameter of the bore.
    fn is_drilled(&self, cell: &Cell) -> bool {
        let form = self.surface.faces.faces[cell.face as usize].form;
        self.ready.tool.kind == ToolKind::Drill && matches!(form, FaceForm::Cylinder { .. })
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

    /// The tips to choose from, where there are many.
    pub(super) fn choice(&self, cell: &Cell) -> Option<Contacts> {
        let contacts =
            self.surface
                .contacts_of(cell, self.ready.tool, &self.own.approach_from_part);
        matches!(contacts, Contacts::Line(..) | Contacts::Disc { .. }).then_some(contacts)
    }
}
