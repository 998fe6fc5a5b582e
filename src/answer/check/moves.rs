//! Judges index moves and tool changes.

use super::base::spread_of;
use super::judge::Judge;
use super::known::{KnownMove, Was};
use super::measure::{Asked, Found, Measurement, Mover, Standing, measure};
use super::model::{AxisUse, Element, Measured, Phase, TroubleKind, Verdict};
use super::plan::{IndexMove, ToolChange, index_position};
use super::travel::axis_use;
use super::violation::{Other, Site, Violation};
use crate::answer::scene::{Body, BodyId, ToolElement};
use crate::gap::{CannotAsk, Motion, Placed, Turn};
use crate::value::{Pose, Vec3};
use nalgebra::Point3;

/// Lowest and highest position of each axis.
pub type AxisRanges = [[f64; 2]; 3];

/// What was found about an index move or a tool change.
#[derive(Debug, Clone, Default)]
pub struct MoveJudgement {
    /// The least gap of the tool group.
    pub least: Option<Measured>,
    /// The least gap of the work group to bed and base.
    pub work_least: Option<Measured>,
    /// Axis positions.
    pub axes: Vec<AxisUse>,
    /// Contacts that are meant, by name, with the least gap outside their regions.
    pub contacts: Vec<(String, Option<Found>)>,
    /// Everything that is wrong.
    pub violations: Vec<Violation>,
}

impl Judge<'_> {
    /// The bodies that turn, with the parts in each of the given states, in the carrier's frame.
    ///
    /// # Errors
    /// As [`crate::answer::scene::Scene::new`].
    pub fn work_bodies(&self, states: &[Vec<usize>]) -> Result<Vec<Body>, CannotAsk> {
        let mut bodies = self.iron.clone();
        for (seat_index, seat) in self.scene.setup.seats.iter().enumerate() {
            let Some(part) = seat.part else { continue };
            for &state in &states[part] {
                bodies.extend(self.scene.part(seat_index, state)?);
            }
        }
        Ok(bodies)
    }

    /// Where the axes may stand during an index move: by the machine's rule, or where the last
    /// cut (`left`) or the tool change left them.
    #[must_use]
    pub fn index_ranges(&self, left: Option<AxisRanges>) -> AxisRanges {
        let setup = self.scene.setup;
        [0, 1, 2].map(|axis| match index_position(setup, axis) {
            Some(position_mm) => [position_mm; 2],
            None => match left {
                Some(ranges) => ranges[axis],
                _ => [setup.machine.axes[axis].tool_change_mm; 2],
            },
        })
    }

    /// Judges the tool group over an index move.
    ///
    /// # Errors
    /// A [`CannotAsk`] where the engine refuses a question; a checked setup has none.
    pub fn index_move(
        &self,
        step: &IndexMove,
        ranges: &AxisRanges,
        work: &[Body],
    ) -> Result<MoveJudgement, CannotAsk> {
        let mut judgement = MoveJudgement::default();
        let Some(turn) = self.turn(step.from_deg, step.to_deg) else {
            return Ok(judgement);
        };
        let tips = self.corner_tips(step.tool, ranges);
        let phase = Phase::IndexMove;
        let turning = self.turning(work);
        let bed = self.bed();
        let group = Group {
            tool: step.tool,
            tips: &tips,
            phase,
        };
        let site = Site::Move(*step);
        let mut measurement = match self.stood_before(site) {
            None => {
                let mut found = self.tool_against(&group, &turning, Some(&turn), None)?;
                found.absorb(self.tool_against(&group, &bed, None, None)?);
                found
            }
            Some(stood) => {
                let (judge, judged) = (stood.before.judge, stood.before.judged);
                let states = judged.states_of(judge.scene.setup, step);
                let work = judge.work_bodies(&states)?;
                let known = |bodies, turn| KnownMove {
                    tips: judge.corner_tips(step.tool, &judged.ranges_of(judge, step)),
                    bodies,
                    base: Vec::new(),
                    turn,
                    stood: &stood,
                };
                let old_turn = judge.turn(step.from_deg, step.to_deg);
                let turned = known(judge.turning(&work), old_turn);
                let still = known(judge.bed(), None);
                let mut found = self.tool_against(&group, &turning, Some(&turn), Some(&turned))?;
                found.absorb(self.tool_against(&group, &bed, None, Some(&still))?);
                found
            }
        };
        measurement.absorb(self.tool_to_base(&group, 0.0, None)?);
        for (axis, range) in self.scene.kinematics.axes().iter().zip(ranges) {
            judgement.axes.push(axis_use(axis, *range));
        }
        self.close_move(measurement, site, &mut judgement);
        Ok(judgement)
    }

    /// Judges the work group against bed and base over an index move.
    ///
    /// # Errors
    /// As [`Self::index_move`].
    pub fn work_move(
        &self,
        step: &IndexMove,
        ranges: &AxisRanges,
        work: &[Body],
    ) -> Result<MoveJudgement, CannotAsk> {
        let mut judgement = MoveJudgement::default();
        let Some(turn) = self.turn(step.from_deg, step.to_deg) else {
            return Ok(judgement);
        };
        let turning = self.turning(work);
        let asked = self.asked(Element::Work, Phase::IndexMove);
        let mut measurement = Measurement::default();
        let at_rest = vec![Vec3::zeros()];
        let table_shifts = self.base_shifts(ranges);
        for body in &self.scene.bed {
            let whole = self.against_turning(body, &at_rest, &turn);
            let contact = self
                .contacts
                .iter()
                .find(|contact| contact.bed_id == body.id);
            let Some(contact) = contact else {
                measurement.absorb(whole.measure(&turning, &asked)?);
                continue;
            };
            let free = |standing: &Standing<'_>| !matches!(standing.body.id, BodyId::Carrier(_));
            let others: Vec<Standing<'_>> = turning.iter().filter(|s| free(s)).cloned().collect();
            measurement.absorb(whole.measure(&others, &asked)?);
            let Some(bed_rest) = &contact.bed else {
                continue;
            };
            let touching = self.turning(&contact.carrier);
            let outside = self.against_turning(bed_rest, &at_rest, &turn);
            let no_gap = Asked {
                wanted_mm: 0.0,
                ..asked
            };
            let found = outside.measure(&touching, &no_gap)?;
            judgement
                .contacts
                .push((contact.name.clone(), found.least.clone()));
            measurement.absorb(found);
        }
        for body in &self.scene.base {
            let moving = self.against_turning(body, &table_shifts, &turn);
            measurement.absorb(moving.measure(&turning, &asked)?);
        }
        measurement.absorb(self.base_against(&self.bed(), &table_shifts, Phase::IndexMove)?);
        self.close_move(measurement, Site::WorkMove(*step), &mut judgement);
        judgement.work_least = judgement.least.take();
        Ok(judgement)
    }

    /// Judges the tool group at the tool-change position, the carrier at rest.
    ///
    /// # Errors
    /// As [`Self::index_move`].
    pub fn tool_change(
        &self,
        change: &ToolChange,
        work: &[Body],
    ) -> Result<MoveJudgement, CannotAsk> {
        let mut judgement = MoveJudgement::default();
        let setup = self.scene.setup;
        if setup.machine.rotary.sense.is_none() {
            return Ok(judgement);
        }
        let ranges = [0, 1, 2].map(|axis: usize| [setup.machine.axes[axis].tool_change_mm; 2]);
        let tips = self.corner_tips(change.tool, &ranges);
        let standing = self.around_change(change, work);
        let phase = Phase::ToolChange;
        let group = Group {
            tool: change.tool,
            tips: &tips,
            phase,
        };
        let site = Site::Change(*change);
        let mut measurement = match self.stood_before(site) {
            None => self.tool_against(&group, &standing, None, None)?,
            Some(stood) => {
                let (judge, judged) = (stood.before.judge, stood.before.judged);
                let states = judged.states_of_change(judge.scene.setup, change);
                let work = judge.work_bodies(&states)?;
                let known = KnownMove {
                    tips: judge.corner_tips(change.tool, &ranges),
                    bodies: judge.around_change(change, &work),
                    base: Vec::new(),
                    turn: None,
                    stood: &stood,
                };
                self.tool_against(&group, &standing, None, Some(&known))?
            }
        };
        measurement.absorb(self.tool_to_base(&group, 0.0, None)?);
        measurement.absorb(self.base_against(&standing, &self.base_shifts(&ranges), phase)?);
        self.close_move(measurement, site, &mut judgement);
        Ok(judgement)
    }

    /// Work and bed at a tool change.
    fn around_change<'w>(&'w self, change: &ToolChange, work: &'w [Body]) -> Vec<Standing<'w>> {
        let setup = self.scene.setup;
        let kinematics = &self.scene.kinematics;
        let from_carrier = kinematics.table_from_carrier(&setup.carrier, change.index_deg);
        let turned = from_carrier.into_iter().flat_map(|table_from_carrier| {
            let stand = move |body| Standing::new(body, &table_from_carrier);
            work.iter().map(stand)
        });
        turned.chain(self.bed()).collect()
    }

    fn turn(&self, from_deg: f64, to_deg: f64) -> Option<Turn> {
        let per_deg = self.scene.kinematics.work_turn_per_deg()?;
        let rotary = &self.scene.setup.machine.rotary;
        Some(Turn {
            centre: rotary.centre,
            direction: rotary.direction,
            from_deg: from_deg * per_deg,
            to_deg: to_deg * per_deg,
        })
    }

    /// Work bodies as they stand with the rotary at zero.
    fn turning<'w>(&self, work: &'w [Body]) -> Vec<Standing<'w>> {
        let at_zero = self.scene.setup.carrier.machine_from_carrier_at_zero;
        work.iter()
            .map(|body| Standing::new(body, &at_zero))
            .collect()
    }

    fn bed(&self) -> Vec<Standing<'_>> {
        self.scene
            .bed
            .iter()
            .map(|body| Standing::new(body, &Pose::identity()))
            .collect()
    }

    /// Tip positions whose hull covers every combination of the axis ranges.
    fn corner_tips(&self, tool: usize, ranges: &AxisRanges) -> Vec<Point3<f64>> {
        let length_mm = self.scene.setup.tools[tool].gauge_length_mm;
        let mut tips: Vec<Point3<f64>> = corners(ranges)
            .into_iter()
            .map(|positions| self.scene.kinematics.tip(positions, length_mm))
            .collect();
        tips.dedup();
        tips
    }

    /// How the base stands to the table over the axis ranges: the table's shift, the other way.
    fn base_shifts(&self, ranges: &AxisRanges) -> Vec<Vec3> {
        let kinematics = &self.scene.kinematics;
        let shift_of = |positions| {
            let shift_mm = kinematics.tip(positions, 0.0) - kinematics.tip([0.0; 3], 0.0);
            -kinematics.machine_shift_of_table(shift_mm)
        };
        let mut shifts: Vec<Vec3> = corners(ranges).into_iter().map(shift_of).collect();
        shifts.dedup();
        shifts
    }

    /// Every element of a tool group over the hull of some tips, against bodies at rest or
    /// turning.
    fn tool_against(
        &self,
        group: &Group<'_>,
        bodies: &[Standing<'_>],
        turn: Option<&Turn>,
        known: Option<&KnownMove<'_>>,
    ) -> Result<Measurement, CannotAsk> {
        let mut measurement = Measurement::default();
        if !self.looks_at(group.phase) {
            return Ok(measurement);
        }
        let mut bodies = bodies.to_vec();
        bodies.retain(|standing| self.regards(standing, None));
        for (index, element) in self.elements[group.tool].iter().enumerate() {
            if !self.asks(element.element) {
                continue;
            }
            let (mover, motion) = self.spread_element(element, group.tips, turn);
            let was = known.and_then(|known| known.was(group.tool, index, element));
            let doubtful = Was::in_doubt(was.as_ref(), &mover, &motion, &bodies);
            let asked = Asked {
                spare_mm: measurement.spare_mm(),
                ..self.asked(element.element, group.phase)
            };
            measurement.absorb(measure(&mover, &doubtful, &motion, &asked)?);
        }
        Ok(measurement)
    }

    /// An element at the first of some tips, spread over their hull.
    pub(super) fn spread_element<'e>(
        &self,
        element: &'e ToolElement,
        tips: &[Point3<f64>],
        turn: Option<&Turn>,
    ) -> (Mover<'e>, Motion) {
        let first = tips.first().copied().unwrap_or_else(Point3::origin);
        let shifts: Vec<Vec3> = tips.iter().map(|tip| tip - first).collect();
        let table_from_tool = self.scene.kinematics.table_from_tool(first);
        let mover = Mover {
            element: element.element,
            name: &element.name,
            placed: Placed {
                shape: element.shape.clone(),
                common_from_body: table_from_tool * element.tool_from_body,
            },
            allowance_mm: element.chord_allowance_mm,
            tip: Some(first),
        };
        let motion = Motion {
            spread: spread_of(&shifts),
            turn: turn.cloned(),
        };
        (mover, motion)
    }

    fn close_move(&self, measurement: Measurement, site: Site, judgement: &mut MoveJudgement) {
        judgement.least = measurement
            .least
            .clone()
            .map(|found| self.at_rotary_angle(found.measured, site));
        judgement.violate(measurement, site, self);
    }

    /// Turn angles become rotary angles.
    fn at_rotary_angle(&self, mut measured: Measured, site: Site) -> Measured {
        let per_deg = self.scene.kinematics.work_turn_per_deg().unwrap_or(1.0);
        if let Some(place) = measured.place.as_mut() {
            place.angle_deg = match site {
                Site::Change(change) => change.index_deg,
                _ => place.angle_deg / per_deg,
            };
        }
        measured
    }

    /// Base bodies, shifted as they stand to the table, against bodies on the table at rest.
    fn base_against(
        &self,
        standing: &[Standing<'_>],
        shifts: &[Vec3],
        phase: Phase,
    ) -> Result<Measurement, CannotAsk> {
        let mut measurement = Measurement::default();
        let asked = self.asked(Element::Work, phase);
        let motion = Motion {
            spread: spread_of(shifts),
            turn: None,
        };
        for body in &self.scene.base {
            let mover = Mover {
                element: Element::Work,
                name: &body.name,
                placed: crate::answer::scene::placed(body, &Pose::identity()),
                allowance_mm: body.chord_allowance_mm,
                tip: None,
            };
            measurement.absorb(measure(&mover, standing, &motion, &asked)?);
        }
        Ok(measurement)
    }

    /// A bed or base body, at rest or shifted, against the turning work.
    fn against_turning<'b>(&self, body: &'b Body, shifts: &[Vec3], turn: &Turn) -> Turning<'b> {
        let mover = Mover {
            element: Element::Work,
            name: &body.name,
            placed: crate::answer::scene::placed(body, &Pose::identity()),
            allowance_mm: body.chord_allowance_mm,
            tip: None,
        };
        Turning {
            mover,
            motion: Motion {
                spread: spread_of(shifts),
                turn: Some(turn.clone()),
            },
        }
    }
}

/// A tool group over the hull of some tips.
pub(super) struct Group<'g> {
    pub(super) tool: usize,
    pub(super) tips: &'g [Point3<f64>],
    pub(super) phase: Phase,
}

/// A body that stands beside the turning work.
struct Turning<'b> {
    mover: Mover<'b>,
    motion: Motion,
}

impl Turning<'_> {
    fn measure(&self, work: &[Standing<'_>], asked: &Asked<'_>) -> Result<Measurement, CannotAsk> {
        measure(&self.mover, work, &self.motion, asked)
    }
}

impl MoveJudgement {
    fn violate(&mut self, measurement: Measurement, site: Site, judge: &Judge<'_>) {
        for found in measurement.violations {
            let measured = judge.at_rotary_angle(found.measured, site);
            let kind = match measured.verdict {
                Verdict::Unknown => TroubleKind::Undecided,
                Verdict::Clash => TroubleKind::Clash,
                Verdict::Close | Verdict::Clear => TroubleKind::Close,
            };
            let mut violation = Violation::plain(kind, measured.verdict, site);
            violation.phase = Some(measured.phase);
            violation.element = Some(measured.element);
            violation.other = Some(Other::of(found.body, None, judge.scene.setup));
            violation.body = Some(found.body);
            violation.measured = Some(measured);
            self.violations.push(violation);
        }
    }
}

/// Every combination of the ends of the ranges.
fn corners(ranges: &AxisRanges) -> Vec<[f64; 3]> {
    let ends = |axis: usize| {
        let [low_mm, high_mm] = ranges[axis];
        if low_mm == high_mm {
            vec![low_mm]
        } else {
            vec![low_mm, high_mm]
        }
    };
    let mut all = Vec::new();
    for x in ends(0) {
        for y in ends(1) {
            for z in ends(2) {
                all.push([x, y, z]);
            }
        }
    }
    all
}
