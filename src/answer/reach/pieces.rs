//! The pieces of a surface behind a share: where they are, and which tips were asked about.

use super::ReachOptions;
use super::around::Bodies;
use super::cells::Cell;
use super::choosing::candidates;
use super::lids::{Lids, OwnPart};
use super::part::PartQuestion;
use super::stages::Stage;
use super::surface::Surface;
use super::tools::ReadyTool;
use crate::answer::check::CheckError;
use crate::answer::scene::{Scene, ShapeStore};
use crate::mesh::faces::faces;
use crate::setup::model::Setup;
use crate::value::Vec3;
use std::sync::atomic::AtomicBool;

/// One tool at one seat and index, each by its place in the setup's list.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct View {
    /// Tool.
    pub tool: usize,
    /// Seat; it holds a part.
    pub seat: usize,
    /// Rotary angle.
    pub index_deg: f64,
}

/// What is known of a piece of the surface.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Found {
    /// At its tips, and between them, everything keeps its gap on the whole way down.
    Reached,
    /// At no tip that touches a point of it does everything keep its gap.
    NotReached,
    /// Neither is proved.
    Undecided,
}

/// A piece of the surface that a tool could touch.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// Its face, by its place among those of the part's last mesh.
    pub face: u32,
    /// Corners, in the part's frame.
    pub corners: [Vec3; 3],
    /// Tips that touch its middle, in the part's frame: the one that serves where it is reached;
    /// else some of those that were asked about.
    pub tips: Vec<Vec3>,
    /// What is known of it.
    pub found: Found,
}

/// All pieces that look at the spindle and are of a kind that the tool makes, for each view.
///
/// # Errors
/// As [`super::reach`]; [`CheckError::NotInJob`] where the seat of a view holds no part, or without a
/// rotary sense.
pub fn pieces(
    setup: &Setup,
    store: &ShapeStore,
    options: &ReachOptions,
    views: &[View],
) -> Result<Vec<Vec<Piece>>, CheckError> {
    let scene = Scene::new(setup, store.clone())?;
    let bodies = Bodies::new(&scene, Lids::new(&scene)?)?;
    let mut surfaces: Vec<Option<Surface<'_>>> = setup.parts.iter().map(|_| None).collect();
    let mut found = Vec::new();
    let stop = AtomicBool::new(false);
    for view in views {
        let seat = &setup.seats[view.seat];
        let part = seat
            .part
            .ok_or_else(|| CheckError::NotInJob(format!("seat {} holds no part", seat.name)))?;
        let surface = surfaces[part].get_or_insert_with(|| {
            let states = &setup.parts[part].states;
            let mesh = &states[states.len() - 1].mesh;
            Surface::new(mesh, faces(mesh), options)
        });
        let asked = PartQuestion {
            scene: &scene,
            tools: &[],
            bodies: &bodies,
            indexes_deg: &[view.index_deg],
            part,
            surface,
            options,
            seats: vec![view.seat],
            stop: &stop,
        };
        let ready = ReadyTool::new(&scene, &bodies.lids, view.tool)?;
        found.push(asked.pieces(&ready)?);
    }
    Ok(found)
}

impl PartQuestion<'_> {
    /// The pieces at the first seat and index.
    fn pieces(&self, ready: &ReadyTool<'_>) -> Result<Vec<Piece>, CheckError> {
        let own = self.own_body()?;
        let tool = self.armed(ready, &own)?;
        let at = self.bodies.at_indexes(self.scene, self.indexes_deg)?;
        let at = at.first();
        let at = at.ok_or_else(|| CheckError::NotInJob("the rotary has no sense".to_owned()))?;
        let approach_from_part = self.approach_from_part(0, &at.approach_from_carrier);
        let lid = self.bodies.lids.of(&own);
        let own_part = OwnPart::new(&own, lid.as_ref(), approach_from_part)?;
        let Some(ground) = self.own_ground(&tool, &own_part)? else {
            return Ok(Vec::new());
        };
        let stage = Stage {
            surface: self.surface,
            ready,
            own: &ground,
        };
        let cells = self.surface.seen(ready.tool, &approach_from_part).cells;
        let places = [self.around(&tool, at, 0)];
        let (cells, short) = stage.without_short(cells, &places);
        let of_own = stage.against_own(cells)?;
        let all = stage.against_all(of_own.free, &places[0])?;
        let turn = approach_from_part.rotation.inverse();
        let asked = |cell: &Cell, found: Found| Piece {
            face: cell.face,
            corners: cell.corners,
            tips: match stage.choice(cell) {
                Some(contacts) => {
                    let tips = candidates(&contacts).into_iter();
                    tips.map(|tip| cell.middle() + turn * tip).collect()
                }
                None => vec![cell.tip_over_middle()],
            },
            found,
        };
        let reached = all.free.iter().map(|cell| Piece {
            face: cell.face,
            corners: cell.corners,
            tips: vec![cell.tip_over_middle()],
            found: Found::Reached,
        });
        let stopped = of_own.stopped.iter().chain(&all.stopped);
        let stopped = stopped.map(|(cell, _)| cell);
        let stopped = stopped.chain(short.iter().map(|(cell, _)| cell));
        let undecided = of_own.undecided.iter().chain(&all.undecided);
        Ok(reached
            .chain(stopped.map(|cell| asked(cell, Found::NotReached)))
            .chain(undecided.map(|cell| asked(cell, Found::Undecided)))
            .collect())
    }
}
