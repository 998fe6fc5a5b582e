//! The order of work: directions, tools, seats; and the shares put together.

use super::ReachOptions;
use super::around::{AtIndex, work_bodies};
use super::cells::Cell;
use super::decide::{Check, Ground, OWN, Settled, Stop, Travel};
use super::model::{Assumption, FaceReach, PartReach, ReachAnswer, Reason, SeatReach, ToolReach};
use super::model::{IndexReach, Share};
use super::skyline::{Skyline, SkylineBody};
use super::stages::Stage;
use super::surface::Surface;
use super::tally::Tally;
use super::tools::ReadyTool;
use crate::answer::check::swing::work_reach;
use crate::answer::check::{CheckError, Progress};
use crate::answer::scene::{Body, Scene, ShapeStore};
use crate::gap::{CannotAsk, Placed, Shape};
use crate::mesh::faces::{FaceForm, faces};
use crate::setup::file::ToolKind;
use crate::setup::model::Setup;
use crate::value::{Pose, Vec3, wrap_deg};
use rayon::prelude::*;
use std::sync::atomic::{AtomicBool, Ordering};

/// Step of the own part's skyline.
const OWN_STEP_MM: f64 = 0.25;

/// Most lines of it.
const OWN_MOST_LINES: usize = 600_000;

/// Directions of approach whose components differ by no more than this are one.
const SAME_DIRECTION: f64 = 1e-9;

pub(super) fn run(
    setup: &Setup,
    options: &ReachOptions,
    progress: &dyn Progress,
    stop: &AtomicBool,
) -> Result<ReachAnswer, CheckError> {
    options.fits(setup)?;
    let scene = Scene::new(setup, ShapeStore::build(setup)?)?;
    let tools: Vec<ReadyTool<'_>> = (0..setup.tools.len())
        .filter(|&tool| {
            let tool = &setup.tools[tool];
            let chosen = options.tools.is_empty() || options.tools.contains(&tool.number);
            chosen && tool.kind != ToolKind::Tap
        })
        .map(|tool| ReadyTool::new(&scene, tool))
        .collect::<Result<_, _>>()?;
    let mut answer = ReachAnswer {
        title: setup.title.clone(),
        machine: setup.machine.name.clone(),
        sense_declared: setup.machine.rotary.sense.is_some(),
        tools: tools
            .iter()
            .map(|ready| (ready.tool.number, ready.tool.name.clone()))
            .collect(),
        indexes_deg: Vec::new(),
        parts: Vec::new(),
        assumes: assumptions(setup),
    };
    if !answer.sense_declared {
        return Ok(answer);
    }
    let work = work_bodies(&scene)?;
    let reach = work_reach(&scene, &scene.iron()?)?;
    let surfaces = surfaces(setup, options);
    answer.indexes_deg = indexes(&scene, options, &surfaces);
    progress.stage("skylines", answer.indexes_deg.len());
    let at_indexes: Vec<AtIndex> = answer
        .indexes_deg
        .par_iter()
        .filter_map(|&index_deg| {
            progress.step();
            AtIndex::new(&scene, &work, &reach, index_deg)
        })
        .collect();
    for (part, surface) in &surfaces {
        let asked = PartQuestion {
            scene: &scene,
            tools: &tools,
            at_indexes: &at_indexes,
            part: *part,
            surface,
            grain_mm: options.grain_mm,
            seats: seats_of(setup, options, *part),
            stop,
        };
        answer.parts.push(asked.answer(progress)?);
    }
    Ok(answer)
}

fn assumptions(setup: &Setup) -> Vec<Assumption> {
    let has = |kind: ToolKind| setup.tools.iter().any(|tool| tool.kind == kind);
    let mut assumes = vec![
        Assumption::OwnPartFinished,
        Assumption::OthersFirstAndLast,
        Assumption::ApproachFromAbove,
        Assumption::BaseNotAsked,
    ];
    if has(ToolKind::GrooveMill) {
        assumes.push(Assumption::SidewaysNotAsked);
    }
    if has(ToolKind::Tap) {
        assumes.push(Assumption::TapsLeftOut);
    }
    assumes
}

fn surfaces<'s>(setup: &'s Setup, options: &ReachOptions) -> Vec<(usize, Surface<'s>)> {
    let chosen = |name: &String| options.parts.is_empty() || options.parts.contains(name);
    setup
        .parts
        .iter()
        .enumerate()
        .filter(|(_, part)| chosen(&part.name))
        .filter_map(|(index, part)| {
            let mesh = &part.states.last()?.mesh;
            Some((index, Surface::new(mesh, faces(mesh))))
        })
        .collect()
}

fn seats_of(setup: &Setup, options: &ReachOptions, part: usize) -> Vec<usize> {
    let chosen = |name: &String| options.seats.is_empty() || options.seats.contains(name);
    (0..setup.seats.len())
        .filter(|&seat| setup.seats[seat].part == Some(part) && chosen(&setup.seats[seat].name))
        .collect()
}

/// Angles chosen; or every step, and every angle at which a flat face or a round one's axis looks
/// at the spindle.
fn indexes(
    scene: &Scene<'_>,
    options: &ReachOptions,
    surfaces: &[(usize, Surface<'_>)],
) -> Vec<f64> {
    let setup = scene.setup;
    let mut angles = options.indexes_deg.clone();
    if angles.is_empty() {
        let rotary = &setup.machine.rotary;
        let step_deg = rotary
            .step_deg
            .map_or(options.every_deg, |step| (options.every_deg / step).ceil() * step);
        let count = (360.0 / step_deg).round().max(1.0) as usize;
        let every = (0..count).map(|k| k as f64 * step_deg);
        let allowed = |angle: &f64| {
            let within = |[low, high]: [f64; 2]| (low..=high).contains(angle);
            rotary.limits_deg.is_none_or(within)
        };
        angles.extend(every.filter(allowed));
        angles.extend(facing_angles(scene, options, surfaces));
    }
    angles.sort_by(f64::total_cmp);
    angles.dedup_by(|a, b| wrap_deg(*a - *b).min(wrap_deg(*b - *a)) < 1e-7);
    angles
}

fn facing_angles(
    scene: &Scene<'_>,
    options: &ReachOptions,
    surfaces: &[(usize, Surface<'_>)],
) -> Vec<f64> {
    let setup = scene.setup;
    let mut angles = Vec::new();
    for (part, surface) in surfaces {
        let directions = surface.faces.faces.iter().flat_map(|face| match face.form {
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
    fn fits(&self, setup: &Setup) -> Result<(), CheckError> {
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

/// A part with everything that its shares depend on.
struct PartQuestion<'q> {
    scene: &'q Scene<'q>,
    tools: &'q [ReadyTool<'q>],
    at_indexes: &'q [AtIndex],
    part: usize,
    surface: &'q Surface<'q>,
    grain_mm: f64,
    seats: Vec<usize>,
    stop: &'q AtomicBool,
}

/// One direction of approach in the part's frame, with the seats and indexes that have it.
struct Direction {
    approach_from_part: Pose,
    /// Position in the list of seats, and of indexes.
    members: Vec<(usize, usize)>,
}

/// What one tool finds at one seat and index.
struct Row {
    tool: usize,
    seat: usize,
    index: usize,
    tally: Tally,
}

impl PartQuestion<'_> {
    fn answer(&self, progress: &dyn Progress) -> Result<PartReach, CheckError> {
        let directions = self.directions();
        progress.stage("reach", directions.len());
        let rows: Vec<Vec<Row>> = directions
            .par_iter()
            .map(|direction| {
                if self.stop.load(Ordering::Relaxed) {
                    return Err(CheckError::Stopped);
                }
                let rows = self.rows(direction)?;
                progress.step();
                Ok(rows)
            })
            .collect::<Result<_, CheckError>>()?;
        if self.stop.load(Ordering::Relaxed) {
            return Err(CheckError::Stopped);
        }
        Ok(self.put_together(rows.into_iter().flatten().collect()))
    }

    fn approach_from_part(&self, seat: usize, index: usize) -> Pose {
        let seat = &self.scene.setup.seats[self.seats[seat]];
        self.at_indexes[index].approach_from_carrier * seat.carrier_from_seat * seat.seat_from_part
    }

    /// Seats and indexes by the direction from which the tool comes, as the part sees it.
    fn directions(&self) -> Vec<Direction> {
        let mut found: Vec<([i64; 3], Direction)> = Vec::new();
        for seat in 0..self.seats.len() {
            for index in 0..self.at_indexes.len() {
                let approach_from_part = self.approach_from_part(seat, index);
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
        found.into_iter().map(|(_, direction)| direction).collect()
    }

    fn own_body(&self) -> Result<Body, CannotAsk> {
        let last = self.scene.setup.parts[self.part].states.len() - 1;
        let seat = self.seats[0];
        self.scene.part(seat, last)?.ok_or(CannotAsk::BadMesh)
    }

    fn rows(&self, direction: &Direction) -> Result<Vec<Row>, CheckError> {
        let own = self.own_body()?;
        let Shape::Mesh(shape) = &own.shape else {
            return Err(CannotAsk::BadMesh.into());
        };
        let approach_from_part = direction.approach_from_part;
        let seen = SkylineBody {
            mesh: shape.mesh(),
            approach_from_body: approach_from_part,
            owner: 0,
        };
        let skyline = Skyline::new(&[seen], OWN_STEP_MM, OWN_MOST_LINES);
        let heights = shape.mesh().vertices.iter();
        let top_mm = heights
            .map(|vertex| (approach_from_part * vertex).z)
            .fold(f64::NEG_INFINITY, f64::max)
            + own.chord_allowance_mm
            + 1.0;
        let bodies = [Placed {
            shape: own.shape.clone(),
            common_from_body: approach_from_part,
        }];
        let own = OwnPart {
            body: &own,
            bodies: &bodies,
            skyline: &skyline,
            top_mm,
            approach_from_part,
        };
        let mut rows = Vec::new();
        for tool in 0..self.tools.len() {
            rows.extend(self.tool_rows(direction, tool, &own)?);
        }
        Ok(rows)
    }

    /// One tool from one direction, at every seat and index that has it.
    fn tool_rows(
        &self,
        direction: &Direction,
        tool: usize,
        own: &OwnPart<'_>,
    ) -> Result<Vec<Row>, CheckError> {
        let ready = &self.tools[tool];
        let setup = self.scene.setup;
        let seen = self.surface.seen(ready.tool, &own.approach_from_part);
        let mut base = Tally::new(self.surface.faces.faces.len());
        for cell in &seen.facing_away {
            base.not(cell, &Reason::FacingAway);
        }
        for cell in &seen.not_made {
            base.not(cell, &Reason::NotThisToolsWork);
        }
        let gouge_mm = setup.gouge_mm + own.body.gouge_chord_mm;
        let Some(core) = ready.core(gouge_mm) else {
            base.undecided(&seen.cells);
            return Ok(self.same_rows(direction, tool, &base));
        };
        let ground = self.own_ground(ready, own, &core, gouge_mm)?;
        let stage = Stage {
            surface: self.surface,
            tool: ready.tool,
            own: &ground,
        };
        let settled = stage.against_own(seen.cells)?;
        for (cell, stop) in &settled.stopped {
            base.not(cell, &self.reason(ready, None, *stop));
        }
        base.undecided(&settled.undecided);
        if settled.free.is_empty() {
            return Ok(self.same_rows(direction, tool, &base));
        }
        let mut rows = Vec::new();
        for &(seat, index) in &direction.members {
            let mut tally = base.clone();
            let around = self.against_all(&stage, ready, &settled.free, (seat, index), own)?;
            tally.certain(&around.free);
            tally.undecided(&around.undecided);
            for (cell, stop) in &around.stopped {
                tally.not(cell, &self.reason(ready, Some(index), *stop));
            }
            rows.push(Row {
                tool,
                seat,
                index,
                tally,
            });
        }
        Ok(rows)
    }

    fn same_rows(&self, direction: &Direction, tool: usize, tally: &Tally) -> Vec<Row> {
        let row = |&(seat, index): &(usize, usize)| Row {
            tool,
            seat,
            index,
            tally: tally.clone(),
        };
        direction.members.iter().map(row).collect()
    }

    fn own_ground<'g>(
        &'g self,
        ready: &'g ReadyTool<'g>,
        own: &'g OwnPart<'g>,
        core: &'g crate::setup::model::Profile,
        gouge_mm: f64,
    ) -> Result<Ground<'g>, CannotAsk> {
        let setup = self.scene.setup;
        let flutes = ready.flutes_element();
        let chord_mm = own.body.chord_allowance_mm;
        let others: Vec<usize> = ready.own_elements().collect();
        let mut fill = ready.fill(setup, &others, chord_mm);
        fill.add(core, 0.0, 0.0, flutes);
        let mut checks = vec![Check {
            element: flutes,
            placed: ReadyTool::placed_core(core)?,
            wanted_mm: 0.0,
            bodies: own.bodies,
            body_ids: &[OWN],
            core: Some((core, &ready.tool.flutes, gouge_mm)),
            hint: std::cell::Cell::new(None),
        }];
        checks.extend(others.into_iter().map(|element| Check {
            element,
            placed: ready.placed(element),
            wanted_mm: ready.wanted_mm(setup, element) + chord_mm,
            bodies: own.bodies,
            body_ids: &[OWN],
            core: None,
            hint: std::cell::Cell::new(None),
        }));
        Ok(Ground {
            approach_from_part: own.approach_from_part,
            top_mm: own.top_mm,
            skyline: own.skyline,
            body_of_skyline: &[OWN],
            fill: fill.sorted(),
            without: None,
            checks,
            travel: None,
            boxes: false,
            grain_mm: self.grain_mm,
            stop: self.stop,
        })
    }

    fn against_all(
        &self,
        stage: &Stage<'_>,
        ready: &ReadyTool<'_>,
        free: &[Cell],
        (seat, index): (usize, usize),
        own: &OwnPart<'_>,
    ) -> Result<Settled, CannotAsk> {
        let setup = self.scene.setup;
        let at = &self.at_indexes[index];
        let (bodies, body_ids) = at.without_part_at(self.seats[seat]);
        let approach_from_part = self.approach_from_part(seat, index);
        let own_bodies = [Placed {
            shape: own.body.shape.clone(),
            common_from_body: approach_from_part,
        }];
        let all: Vec<usize> = (0..ready.elements.len()).collect();
        let check = |element: usize, bodies, body_ids, chord_mm: f64| Check {
            element,
            placed: ready.placed(element),
            wanted_mm: ready.wanted_mm(setup, element) + chord_mm,
            bodies,
            body_ids,
            core: None,
            hint: std::cell::Cell::new(None),
        };
        let mut checks: Vec<Check<'_>> = all
            .iter()
            .rev()
            .map(|&element| check(element, &bodies[..], &body_ids[..], at.chord_mm))
            .collect();
        let meshes = all
            .iter()
            .filter(|&&element| matches!(ready.elements[element].shape, Shape::Mesh(_)));
        checks.extend(meshes.map(|&element| {
            check(element, &own_bodies[..], &[OWN][..], own.body.chord_allowance_mm)
        }));
        let ground = Ground {
            approach_from_part,
            top_mm: at.top_mm,
            skyline: &at.skyline,
            body_of_skyline: &at.body_of_skyline,
            fill: ready.fill(setup, &all, at.chord_mm).sorted(),
            without: Some(AtIndex::owner_at(self.seats[seat])),
            checks,
            travel: Some(Travel {
                kinematics: &self.scene.kinematics,
                table_from_approach: at.table_from_approach,
                gauge_length_mm: ready.tool.gauge_length_mm,
            }),
            boxes: true,
            grain_mm: self.grain_mm,
            stop: self.stop,
        };
        stage.against_all(free.to_vec(), &ground)
    }

    fn reason(&self, ready: &ReadyTool<'_>, index: Option<usize>, stop: Stop) -> Reason {
        match stop {
            Stop::OwnFlutes => Reason::OwnPartStopsFlutes,
            Stop::Axis(axis) => Reason::ShortOfTravel {
                axis: self.scene.setup.machine.axes[axis].name.clone(),
            },
            Stop::Body(element, body) => Reason::Stopped {
                element: ready.elements[element].name.clone(),
                body: match index {
                    Some(index) if body != OWN => self.at_indexes[index].names[body].clone(),
                    _ => "the part itself".to_owned(),
                },
            },
        }
    }

    fn put_together(&self, mut rows: Vec<Row>) -> PartReach {
        rows.sort_by_key(|row| (row.tool, row.seat, row.index));
        let part = &self.scene.setup.parts[self.part];
        let faces = self.surface.faces.faces.iter().enumerate();
        PartReach {
            part: part.name.clone(),
            state: part
                .states
                .last()
                .map(|state| state.name.clone())
                .unwrap_or_default(),
            faces: faces
                .map(|(face, found)| FaceReach {
                    face: found.name.clone(),
                    area_mm2: self.surface.area_mm2[face],
                    tools: (0..self.tools.len())
                        .map(|tool| self.tool_reach(face, tool, &rows))
                        .collect(),
                })
                .collect(),
        }
    }

    fn tool_reach(&self, face: usize, tool: usize, rows: &[Row]) -> ToolReach {
        let mine = |seat: usize| {
            let from = rows.partition_point(|row| (row.tool, row.seat) < (tool, seat));
            let to = rows.partition_point(|row| (row.tool, row.seat) <= (tool, seat));
            &rows[from..to]
        };
        let seats: Vec<SeatReach> = (0..self.seats.len())
            .map(|seat| self.seat_reach(face, seat, mine(seat)))
            .collect();
        let share = |seat: &SeatReach| seat.best.as_ref().map_or(Share::NONE, |best| best.share);
        let worst = seats
            .iter()
            .min_by(|a, b| share(a).certain.total_cmp(&share(b).certain));
        ToolReach {
            tool: self.tools[tool].tool.number,
            worst: worst.map_or(Share::NONE, share),
            worst_seat: worst.map(|seat| seat.seat.clone()).unwrap_or_default(),
            seats,
        }
    }

    fn seat_reach(&self, face: usize, seat: usize, rows: &[Row]) -> SeatReach {
        let area_mm2 = self.surface.area_mm2[face];
        let all: Vec<IndexReach> = rows
            .iter()
            .map(|row| row.tally.0[face].shares(area_mm2, self.at_indexes[row.index].index_deg))
            .collect();
        let better = |a: &&IndexReach, b: &&IndexReach| {
            let key = |found: &IndexReach| (found.share.certain, found.share.undecided);
            let (a_key, b_key) = (key(a), key(b));
            let by_share = a_key.0.total_cmp(&b_key.0).then(a_key.1.total_cmp(&b_key.1));
            // Of equals the lowest angle.
            by_share.then(b.index_deg.total_cmp(&a.index_deg))
        };
        let best = all.iter().max_by(better).filter(|best| best.share.most() > 0.0);
        // The reason that stays where the most of the face looks at the spindle.
        let facing_away = |found: &IndexReach| {
            let away = found.reasons.iter().find(|share| share.reason == Reason::FacingAway);
            away.map_or(0.0, |share| share.share)
        };
        let least_away = all
            .iter()
            .min_by(|a, b| facing_away(a).total_cmp(&facing_away(b)));
        let reason = best
            .or(least_away)
            .and_then(|found| found.reasons.first())
            .map(|share| share.reason.clone());
        SeatReach {
            seat: self.scene.setup.seats[self.seats[seat]].name.clone(),
            best: best.cloned(),
            reason,
            indexes: all
                .into_iter()
                .filter(|found| found.share.most() > 0.0)
                .collect(),
        }
    }
}

/// The own part from one direction.
struct OwnPart<'o> {
    body: &'o Body,
    bodies: &'o [Placed],
    skyline: &'o Skyline,
    top_mm: f64,
    approach_from_part: Pose,
}
