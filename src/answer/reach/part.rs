//! One part: every tool, from every direction that some index has at some seat.

use super::ReachOptions;
use super::around::{AtIndex, Bodies, Signature};
use super::cells::Cell;
use super::gather::{FaceRow, Row, gathered};
use super::ground::{Ground, OwnFlutes, Settled, Stop, Travel};
use super::ladder::Ladder;
use super::lids::OwnPart;
use super::model::{IndexReach, PartReach, Reason, ReasonShare};
use super::obstacle::Obstacle;
use super::stages::Stage;
use super::surface::{Seen, Surface};
use super::tally::{Cause, Tally};
use super::tools::{OwnLadders, ReadyTool};
use crate::answer::check::{CheckError, Progress};
use crate::answer::scene::{Body, Scene};
use crate::gap::CannotAsk;
use crate::setup::model::{Profile, Tool};
use crate::value::{Pose, Vec3};
use rayon::prelude::*;
use std::cell::Cell as Slot;
use std::collections::HashMap;
use std::sync::atomic::{AtomicBool, Ordering};

/// Directions of approach whose components differ by no more than this are one.
const SAME_DIRECTION: f64 = 1e-9;

/// A part with everything that its shares depend on.
pub struct PartQuestion<'q> {
    /// Bodies and motions.
    pub scene: &'q Scene<'q>,
    /// Tools asked about.
    pub tools: &'q [ReadyTool<'q>],
    /// What a tool may meet.
    pub bodies: &'q Bodies,
    /// Rotary angles asked about.
    pub indexes_deg: &'q [f64],
    /// Number of the part.
    pub part: usize,
    /// Its surface.
    pub surface: &'q Surface<'q>,
    /// How it is asked.
    pub options: &'q ReachOptions,
    /// Seats asked about, by number; at least one.
    pub seats: Vec<usize>,
    /// Set from outside to stop.
    pub stop: &'q AtomicBool,
}

/// One direction of approach in the part's frame, with the seats and indexes that have it.
pub(super) struct Direction {
    approach_from_part: Pose,
    /// Position in the list of seats, and of indexes.
    pub(super) members: Vec<(usize, usize)>,
}

/// One tool from one direction, with what is made ready for it.
pub(super) struct ToolAsk<'a, 'i> {
    direction: &'a Direction,
    /// Place in the list of tools.
    pub(super) number: usize,
    tool: &'a Armed<'a>,
    pub(super) own: &'a OwnPart,
    at: &'a (dyn Fn(usize) -> &'i AtIndex + Sync),
}

/// The rows of one tool from one direction.
pub(super) type RowsOf<'a> = &'a (dyn Fn(&ToolAsk<'_, '_>) -> Result<Vec<Row>, CheckError> + Sync);

/// A tool with its ladders.
pub(super) struct Armed<'q> {
    ready: &'q ReadyTool<'q>,
    own: OwnLadders,
    all: Ladder,
    core: Option<Profile>,
}

impl ToolAsk<'_, '_> {
    /// The tool.
    pub(super) fn tool(&self) -> &Tool {
        self.tool.ready.tool
    }

    /// Seats and indexes, by their places.
    pub(super) fn members(&self) -> impl Iterator<Item = (usize, usize)> {
        self.direction.members.iter().copied()
    }
}

impl PartQuestion<'_> {
    /// Asks every tool from every direction.
    ///
    /// # Errors
    /// [`CheckError::Stopped`] when stopped from outside; as the gap engine otherwise.
    pub fn answer(&self, progress: &dyn Progress) -> Result<PartReach, CheckError> {
        let own = self.own_body()?;
        let tools = self.tools.par_iter();
        let armed: Vec<Armed<'_>> = tools
            .map(|ready| self.armed(ready, &own))
            .collect::<Result<_, CannotAsk>>()?;
        let families = self.families();
        let count = families
            .iter()
            .map(|(_, directions)| directions.len())
            .sum();
        progress.stage("reach", count);
        let mut rows = Vec::new();
        let all = |ask: &ToolAsk<'_, '_>| {
            let seen = self.surface.seen(ask.tool(), &ask.own.approach_from_part);
            self.tool_rows(ask, seen)
        };
        for (indexes, directions) in families {
            rows.extend(self.family(&own, &armed, &indexes, &directions, &all, progress)?);
        }
        self.decide(&own, &armed, &mut rows, progress)?;
        if self.stop.load(Ordering::Relaxed) {
            return Err(CheckError::Stopped);
        }
        let seats = self.seats.iter();
        let names: Vec<String> = seats
            .map(|&seat| self.scene.setup.seats[seat].name.clone())
            .collect();
        let part = &self.scene.setup.parts[self.part];
        let mut found = gathered(part, self.surface, self.tools, &names, rows);
        if self.options.bands {
            self.add_bands(&mut found, &own, self.options.from_share, progress)?;
        }
        Ok(found)
    }

    pub(super) fn armed<'a>(
        &self,
        ready: &'a ReadyTool<'a>,
        own: &Body,
    ) -> Result<Armed<'a>, CannotAsk> {
        let setup = self.scene.setup;
        let gouge_mm = setup.gouge_mm + own.gouge_chord_mm;
        Ok(Armed {
            ready,
            own: ready.own_ladders(setup, own.chord_allowance_mm, gouge_mm)?,
            all: ready.ladder(setup, self.bodies.chord_mm)?,
            core: ready.core(gouge_mm),
        })
    }

    pub(super) fn last_state(&self) -> usize {
        self.scene.setup.parts[self.part].states.len() - 1
    }

    /// Indexes that share directions, and these: landscapes are made for one family at a time.
    pub(super) fn family(
        &self,
        own: &Body,
        armed: &[Armed<'_>],
        indexes: &[usize],
        directions: &[Direction],
        rows_of: RowsOf<'_>,
        progress: &dyn Progress,
    ) -> Result<Vec<Row>, CheckError> {
        let angles: Vec<f64> = indexes
            .iter()
            .map(|&index| self.indexes_deg[index])
            .collect();
        let at_indexes = self.bodies.at_indexes(self.scene, &angles)?;
        let at = |index: usize| {
            let place = indexes.iter().position(|&other| other == index);
            &at_indexes[place.unwrap_or_default()]
        };
        let rows: Vec<Vec<Row>> = directions
            .par_iter()
            .map(|direction| {
                let rows = self.rows(own, armed, direction, &at, rows_of)?;
                progress.step();
                Ok(rows)
            })
            .collect::<Result<_, CheckError>>()?;
        Ok(rows.into_iter().flatten().collect())
    }

    pub(super) fn approach_from_part(&self, seat: usize, approach_from_carrier: &Pose) -> Pose {
        let seat = &self.scene.setup.seats[self.seats[seat]];
        approach_from_carrier * seat.carrier_from_seat * seat.seat_from_part
    }

    /// Directions as the part sees them, in families whose indexes have no direction of another
    /// family.
    pub(super) fn families(&self) -> Vec<(Vec<usize>, Vec<Direction>)> {
        let mut found: Vec<([i64; 3], Direction)> = Vec::new();
        for (index, &index_deg) in self.indexes_deg.iter().enumerate() {
            let Some(carrier) = self.bodies.approach_from_carrier(self.scene, index_deg) else {
                continue;
            };
            for seat in 0..self.seats.len() {
                let approach_from_part = self.approach_from_part(seat, &carrier);
                let up = approach_from_part.rotation.inverse() * Vec3::z();
                let key: [i64; 3] = up.map(|c| (c / SAME_DIRECTION).round() as i64).into();
                match found.iter_mut().find(|(other, _)| *other == key) {
                    Some((_, direction)) => direction.members.push((seat, index)),
                    None => found.push((
                        key,
                        Direction {
                            approach_from_part,
                            members: vec![(seat, index)],
                        },
                    )),
                }
            }
        }
        let mut families: Vec<(Vec<usize>, Vec<Direction>)> = Vec::new();
        for (_, direction) in found {
            let mut indexes: Vec<usize> = direction.members.iter().map(|m| m.1).collect();
            let mut directions = vec![direction];
            let (joined, apart): (Vec<_>, Vec<_>) = families
                .into_iter()
                .partition(|(others, _)| others.iter().any(|other| indexes.contains(other)));
            families = apart;
            for (others, more) in joined {
                indexes.extend(others);
                directions.extend(more);
            }
            indexes.sort_unstable();
            indexes.dedup();
            families.push((indexes, directions));
        }
        families
    }

    pub(super) fn own_body(&self) -> Result<Body, CannotAsk> {
        self.scene
            .part(self.seats[0], self.last_state())?
            .ok_or(CannotAsk::BadMesh)
    }

    fn rows<'a>(
        &self,
        own: &Body,
        armed: &[Armed<'_>],
        direction: &Direction,
        at: &(dyn Fn(usize) -> &'a AtIndex + Sync),
        rows_of: RowsOf<'_>,
    ) -> Result<Vec<Row>, CheckError> {
        if self.stop.load(Ordering::Relaxed) {
            return Err(CheckError::Stopped);
        }
        let lid = self.bodies.lids.of(own);
        let own = OwnPart::new(own, lid.as_ref(), direction.approach_from_part)?;
        let rows: Vec<Vec<Row>> = (0..armed.len())
            .into_par_iter()
            .map(|number| {
                let tool = &armed[number];
                rows_of(&ToolAsk {
                    direction,
                    number,
                    tool,
                    own: &own,
                    at,
                })
            })
            .collect::<Result<_, CheckError>>()?;
        Ok(rows.into_iter().flatten().collect())
    }

    /// One tool from one direction, at every seat and index that has it.
    pub(super) fn tool_rows(
        &self,
        ask: &ToolAsk<'_, '_>,
        seen: Seen,
    ) -> Result<Vec<Row>, CheckError> {
        let ToolAsk {
            direction,
            number,
            tool,
            own,
            at,
        } = *ask;
        let mut base = Tally::new(self.surface.faces.faces.len());
        for cell in &seen.facing_away {
            base.not(cell, Cause::FacingAway);
        }
        for cell in &seen.not_made {
            base.not(cell, Cause::NotMade);
        }
        base.undecided(&seen.doubtful);
        let row = |&(seat, index): &(usize, usize), faces: Vec<FaceRow>| Row {
            tool: number,
            seat,
            index,
            faces,
        };
        let Some(ground) = self.own_ground(tool, own)? else {
            base.undecided(&seen.cells);
            let rows = direction.members.iter().map(|member| {
                let faces = self.face_rows(tool, &base, &[], at(member.1).index_deg);
                row(member, faces)
            });
            return Ok(rows.collect());
        };
        let stage = Stage {
            surface: self.surface,
            ready: tool.ready,
            own: &ground,
        };
        let members = direction.members.iter();
        let places: Vec<Ground<'_>> = members
            .map(|member| self.around(tool, at(member.1), member.0))
            .collect();
        let (cells, short) = stage.without_short(seen.cells, &places);
        let settled = stage.against_own(cells)?;
        for (cell, stop) in &settled.stopped {
            base.not(cell, stage.cause(cell, *stop));
        }
        base.undecided(&settled.undecided);
        let mut known: HashMap<Signature, Tally> = HashMap::new();
        let mut rows = Vec::new();
        for (place, (member, around)) in direction.members.iter().zip(&places).enumerate() {
            let at = at(member.1);
            let signature = at.signature(self.seats[member.0]);
            let tally = match known.get(&signature) {
                Some(tally) => tally,
                None => {
                    let mut tally = self.tally_around(&stage, &settled.free, around, &base)?;
                    for (cell, axes) in &short {
                        tally.not(cell, Cause::Stopped(Stop::Axis(axes[place])));
                    }
                    known.entry(signature).or_insert(tally)
                }
            };
            let faces = self.face_rows(tool, tally, &around.obstacles, at.index_deg);
            rows.push(row(member, faces));
        }
        Ok(rows)
    }

    fn tally_around(
        &self,
        stage: &Stage<'_>,
        free: &[Cell],
        around: &Ground<'_>,
        base: &Tally,
    ) -> Result<Tally, CannotAsk> {
        let mut tally = base.clone();
        let found: Settled = stage.against_all(free.to_vec(), around)?;
        tally.certain(&found.free);
        tally.undecided(&found.undecided);
        for (cell, stop) in &found.stopped {
            tally.not(cell, stage.cause(cell, *stop));
        }
        Ok(tally)
    }

    /// The own part as ground: flutes first, then the other elements; `None` where the gouge
    /// tolerance takes the whole cutter.
    pub(super) fn own_ground<'g>(
        &'g self,
        tool: &'g Armed<'g>,
        own: &'g OwnPart,
    ) -> Result<Option<Ground<'g>>, CannotAsk> {
        let Some(core) = &tool.core else {
            return Ok(None);
        };
        Ok(Some(Ground {
            approach_from_part: own.approach_from_part,
            obstacles: own.obstacles(&tool.own),
            flutes: Some(OwnFlutes {
                core,
                placed: ReadyTool::placed_core(core)?,
                bodies: &own.bodies,
                top_mm: own.top_mm,
                hint: Slot::new(None),
            }),
            travel: None,
            stop: self.stop,
        }))
    }

    pub(super) fn around<'g>(
        &'g self,
        tool: &'g Armed<'g>,
        at: &AtIndex,
        seat: usize,
    ) -> Ground<'g> {
        Ground {
            approach_from_part: self.approach_from_part(seat, &at.approach_from_carrier),
            obstacles: at.obstacles(self.seats[seat], &tool.all, &tool.own.meshes),
            flutes: None,
            travel: Some(Travel {
                kinematics: &self.scene.kinematics,
                table_from_approach: *self.bodies.table_from_approach(),
                gauge_length_mm: tool.ready.tool.gauge_length_mm,
            }),
            stop: self.stop,
        }
    }

    fn face_rows(
        &self,
        tool: &Armed<'_>,
        tally: &Tally,
        obstacles: &[Obstacle<'_>],
        index_deg: f64,
    ) -> Vec<FaceRow> {
        let areas = self.surface.area_mm2.iter();
        let faces = tally.0.iter().zip(areas);
        let faces = faces
            .zip(&self.surface.asked)
            .filter(|(_, asked)| **asked)
            .map(|(face, _)| face);
        let row = |(face, area_mm2): (&super::tally::FaceTally, &f64)| {
            let (share, causes) = face.shares(*area_mm2);
            let away = causes.iter().find(|(cause, _)| *cause == Cause::FacingAway);
            let away = away.map_or(0.0, |(_, share)| *share);
            let mut reasons: Vec<ReasonShare> = Vec::new();
            for (cause, share) in &causes {
                let reason = self.reason(tool.ready, *cause, obstacles);
                match reasons.iter_mut().find(|told| told.reason == reason) {
                    Some(told) => told.share += share,
                    None => reasons.push(ReasonShare {
                        reason,
                        share: *share,
                    }),
                }
            }
            reasons.sort_by(|a, b| b.share.total_cmp(&a.share));
            if share.most() > 0.0 {
                return FaceRow::Some(Box::new(IndexReach {
                    index_deg,
                    share,
                    reasons,
                }));
            }
            FaceRow::Nothing {
                away,
                reason: reasons.into_iter().next().map(|told| told.reason),
            }
        };
        faces.map(row).collect()
    }

    fn reason(&self, ready: &ReadyTool<'_>, cause: Cause, obstacles: &[Obstacle<'_>]) -> Reason {
        match cause {
            Cause::FacingAway => Reason::FacingAway,
            Cause::NotMade => Reason::NotThisToolsWork,
            Cause::Undercut => Reason::Undercut,
            Cause::CutterTooLarge => Reason::CutterTooLarge,
            Cause::PointMeetsBottom => Reason::PointMeetsBottom,
            Cause::Stopped(Stop::Axis(axis)) => Reason::ShortOfTravel {
                axis: self.scene.setup.machine.axes[axis].name.clone(),
            },
            Cause::Stopped(Stop::Own { element, touches }) => ready.stopped(element, None, touches),
            Cause::Stopped(Stop::Body {
                element,
                obstacle,
                body,
                touches,
            }) => {
                let names = obstacles.get(usize::from(obstacle)).map(|o| &o.names);
                let name = names.and_then(|names| names.get(body));
                ready.stopped(element, name.map(String::as_str), touches)
            }
        }
    }
}

#[cfg(test)]
#[path = "tests/cells.rs"]
mod tests;
