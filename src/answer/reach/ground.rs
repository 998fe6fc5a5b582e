//! Settles pieces of a surface: surely reached, surely not, or undecided at the grain.
//!
//! A heap of cells is asked at once: whatever surely stops every tip, or surely stops none, is done
//! with. For the rest the heap is split, and in the end the triangle.

use super::cells::{Cell, split};
use super::heap::Heap;
use super::ladder::{CORE_GAP_MM, Known, Tips};
use super::obstacle::Obstacle;
use super::plane::PlaneStops;
use crate::answer::check::measure::CONTACT_GRAIN_MM;
use crate::answer::kinematics::Kinematics;
use crate::gap::{Ask, CannotAsk, HalfSpace, Motion, Placed, Witness, group_gap};
use crate::setup::model::Profile;
use crate::value::{Pose, Vec3};
use nalgebra::Point3;
use std::cell::Cell as Slot;
use std::sync::atomic::{AtomicBool, Ordering};

/// A question to the engine may take this much work; then the heap is split, or left undecided.
const BUDGET: u64 = 200_000;

/// Why cells are surely not reached.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Stop {
    /// The element, by its place in the tool, at the part whose faces are asked about.
    Own {
        /// Element.
        element: usize,
        /// Whether it really touches, or keeps less than the wanted gap.
        touches: bool,
    },
    /// The element, by its place in the tool, and the body, by its obstacle and its place there.
    Body {
        /// Element.
        element: usize,
        /// Obstacle.
        obstacle: u16,
        /// Body.
        body: usize,
        /// Whether it really touches, or keeps less than the wanted gap.
        touches: bool,
    },
    /// Axis.
    Axis(usize),
}

/// Flutes against the part whose faces they touch: an exact question for each plane.
#[derive(Debug)]
pub struct OwnFlutes<'g> {
    /// Flutes less the gouge tolerance.
    pub core: &'g Profile,
    /// The same as a body.
    pub placed: Placed,
    /// The part in the approach frame.
    pub bodies: &'g [Placed],
    /// Height from which tools come down.
    pub top_mm: f64,
    /// Last witness: the next question is often alike.
    pub hint: Slot<Option<Witness>>,
}

/// Axis limits for a tool.
#[derive(Debug)]
pub struct Travel<'g> {
    /// Motions of the machine.
    pub kinematics: &'g Kinematics<'g>,
    /// `table_from_approach`.
    pub table_from_approach: Pose,
    /// Gauge length.
    pub gauge_length_mm: f64,
}

/// What stands in the way from one direction, in the approach frame (z to the spindle).
#[derive(Debug)]
pub struct Ground<'g> {
    /// Takes the part's frame to the approach frame.
    pub approach_from_part: Pose,
    /// Bodies, the likeliest trouble first.
    pub obstacles: Vec<Obstacle<'g>>,
    /// Flutes against the own part; `None` where they are asked elsewhere.
    pub flutes: Option<OwnFlutes<'g>>,
    /// Axis limits; `None` where they are asked elsewhere.
    pub travel: Option<Travel<'g>>,
    /// Set from outside to stop.
    pub stop: &'g AtomicBool,
}

/// Settled cells.
#[derive(Debug, Default)]
pub struct Settled {
    /// Surely free.
    pub free: Vec<Cell>,
    /// Surely stopped.
    pub stopped: Vec<(Cell, Stop)>,
    /// Undecided.
    pub undecided: Vec<Cell>,
}

enum Answer {
    Free,
    Stopped(Stop),
    Undecided,
}

impl Ground<'_> {
    /// Settles cells; `by_plane` for cells of one flat face.
    ///
    /// # Guarantees
    /// At every tip of a free cell every element keeps its gap, there and all the way down from
    /// above everything; at every tip of a stopped cell the named one does not. No area is lost.
    ///
    /// # Errors
    /// A [`CannotAsk`] where the engine refuses a question.
    pub fn settle(
        &self,
        cells: &mut [Cell],
        by_plane: Option<&PlaneStops<'_>>,
        settled: &mut Settled,
    ) -> Result<(), CannotAsk> {
        if cells.is_empty() {
            return Ok(());
        }
        self.settle_heap(cells, by_plane, &self.all_open(), settled)
    }

    /// All obstacles.
    #[must_use]
    pub fn all_open(&self) -> Vec<u16> {
        (0..self.obstacles.len() as u16).collect()
    }

    /// Those of some obstacles that may be met by a tip within `more_mm` in plan, and `down_mm`
    /// below, of a heap's.
    #[must_use]
    pub fn open_within(&self, heap: &Heap, [more_mm, down_mm]: [f64; 2], open: &[u16]) -> Vec<u16> {
        let mut tips = heap.tips();
        tips.around_mm += more_mm;
        tips.low_mm -= down_mm;
        let may_be_met = |number: &u16| {
            let obstacle = &self.obstacles[usize::from(*number)];
            let seen = tips.from(&obstacle.shift);
            let beyond = obstacle.beyond(heap, more_mm + down_mm);
            !obstacle
                .ladder
                .is_free(&obstacle.landscape, &seen, beyond.as_ref())
        };
        open.iter().copied().filter(may_be_met).collect()
    }

    /// Whether every tip of a heap of one plane is surely free. The obstacle that denies it goes to
    /// the front of `open`: it will be the one again.
    ///
    /// # Errors
    /// As [`Self::settle`].
    pub fn are_free(&self, heap: &Heap, open: &mut [u16]) -> Result<bool, CannotAsk> {
        if !matches!(self.travel_answer(&[heap.low, heap.high]), Answer::Free) {
            return Ok(false);
        }
        for place in 0..open.len() {
            let number = open[place];
            // Flutes in the own part are asked exactly, at the end.
            if !self.is_core(number) && !self.obstacles[usize::from(number)].is_free(heap) {
                open[..=place].rotate_right(1);
                return Ok(false);
            }
        }
        match (&self.flutes, self.obstacles.first()) {
            (Some(flutes), Some(core)) => {
                let known_free = self.core_is_asked(heap) && core.is_free(heap);
                Ok(known_free || (core.may_be_free(heap) && flutes.are_free(self, heap)?))
            }
            _ => Ok(true),
        }
    }

    /// Whether an obstacle is that of the flutes in the own part.
    fn is_core(&self, number: u16) -> bool {
        self.flutes.is_some() && number == 0
    }

    /// Whether the landscape tells that flutes are free of the own part: not with cells of many planes,
    /// as they touch it, and not where lids stand beside it.
    fn core_is_asked(&self, heap: &Heap) -> bool {
        let flutes = self.flutes.as_ref();
        heap.normal.is_some() && flutes.is_some_and(|flutes| flutes.bodies.len() == 1)
    }

    /// `open` are the obstacles that some tip may meet.
    fn settle_heap(
        &self,
        cells: &mut [Cell],
        by_plane: Option<&PlaneStops<'_>>,
        open: &[u16],
        settled: &mut Settled,
    ) -> Result<(), CannotAsk> {
        if self.stop.load(Ordering::Relaxed) {
            settled.undecided.extend_from_slice(cells);
            return Ok(());
        }
        let mut still_open = Vec::new();
        let heap = Heap::new(cells, &self.approach_from_part);
        let by_plane_here = by_plane.and_then(|stops| self.plane_stop(stops, cells, &heap));
        let answer = match by_plane_here {
            Some(stop) => Answer::Stopped(stop),
            None => self.ask(&heap, open, &mut still_open)?,
        };
        match answer {
            Answer::Free => settled.free.extend_from_slice(cells),
            Answer::Stopped(stop) => {
                settled
                    .stopped
                    .extend(cells.iter().map(|cell| (*cell, stop)));
            }
            Answer::Undecided if cells.len() > 1 => {
                let half = split(cells);
                let (first, second) = cells.split_at_mut(half);
                self.settle_heap(first, by_plane, &still_open, settled)?;
                self.settle_heap(second, by_plane, &still_open, settled)?;
            }
            Answer::Undecided if let Some(cell) = self.smoothed(&cells[0])? => {
                settled.free.push(cell);
            }
            Answer::Undecided => match cells[0].halves() {
                Some(mut halves) => {
                    self.settle_heap(&mut halves[..1], by_plane, &still_open, settled)?;
                    self.settle_heap(&mut halves[1..], by_plane, &still_open, settled)?;
                }
                None => settled.undecided.push(cells[0]),
            },
        }
        Ok(())
    }

    /// What stops the tool over all of a heap by the plane that it touches.
    fn plane_stop(&self, stops: &PlaneStops<'_>, cells: &[Cell], heap: &Heap) -> Option<Stop> {
        let part_from_approach = self.approach_from_part.inverse();
        let tips = heap.corners.iter();
        let tips: Vec<Vec3> = tips
            .map(|tip| (part_from_approach * Point3::from(*tip)).coords)
            .collect();
        stops.stop(cells[0].face, &tips, &cells[0].normal()?)
    }

    fn ask(
        &self,
        heap: &Heap,
        open: &[u16],
        still_open: &mut Vec<u16>,
    ) -> Result<Answer, CannotAsk> {
        if let Answer::Stopped(stop) = self.travel_answer(&heap.all_within([0.0; 2])) {
            return Ok(Answer::Stopped(stop));
        }
        let mut free = matches!(self.travel_answer(&[heap.low, heap.high]), Answer::Free);
        for &number in open {
            let obstacle = &self.obstacles[usize::from(number)];
            let may_be_free = !self.is_core(number) || self.core_is_asked(heap);
            match obstacle.settle(heap, may_be_free) {
                Known::Free => {}
                Known::Stopped(element, body) => {
                    let tips = heap.tips().from(&obstacle.shift);
                    return Ok(Answer::Stopped(
                        self.body_stop(number, element, body, &tips),
                    ));
                }
                Known::Mixed => still_open.push(number),
            }
        }
        free &= still_open.is_empty();
        if let (Some(flutes), [0]) = (&self.flutes, still_open.as_slice()) {
            free = flutes.are_free(self, heap)?;
        }
        Ok(if free {
            Answer::Free
        } else {
            Answer::Undecided
        })
    }

    /// A cell of a round face with the tips of the smooth face, where these are surely free.
    fn smoothed(&self, cell: &Cell) -> Result<Option<Cell>, CannotAsk> {
        let (Some(smooth), true) = (cell.smooth, self.flutes.is_some()) else {
            return Ok(None);
        };
        let smoothed = Cell {
            tip_from_corner: smooth,
            smooth: Some(cell.tip_from_corner),
            ..*cell
        };
        let heap = Heap::new(std::slice::from_ref(&smoothed), &self.approach_from_part);
        let free = self.are_free(&heap, &mut self.all_open())?;
        Ok(free.then_some(smoothed))
    }

    fn body_stop(&self, number: u16, element: usize, body: usize, tips: &Tips) -> Stop {
        let obstacle = &self.obstacles[usize::from(number)];
        let touches = !obstacle.ladder.bare_is_free(&obstacle.landscape, tips);
        if obstacle.is_own {
            return Stop::Own { element, touches };
        }
        Stop::Body {
            element,
            obstacle: number,
            body,
            touches,
        }
    }

    /// Whether the tool is surely stopped at every tip within a distance of one in plan, and within
    /// another up and down.
    ///
    /// `open` are the obstacles that some tip may meet; the one that stops it goes to the front: it
    /// will be the one again.
    #[must_use]
    pub fn stopped_around(
        &self,
        tip: &Vec3,
        [around_mm, up_mm]: [f64; 2],
        open: &mut [u16],
    ) -> Option<Stop> {
        let room = Vec3::new(around_mm, around_mm, up_mm);
        if let Answer::Stopped(stop) = self.travel_answer(&[tip - room, tip + room]) {
            return Some(stop);
        }
        let tips = Tips {
            centre: [tip.x, tip.y],
            around_mm,
            low_mm: tip.z - up_mm,
            high_mm: tip.z + up_mm,
        };
        for place in 0..open.len() {
            let number = open[place];
            let obstacle = &self.obstacles[usize::from(number)];
            let seen = tips.from(&obstacle.shift);
            if !obstacle.is_lid
                && let Some((element, body)) = obstacle.ladder.stop(&obstacle.landscape, &seen)
            {
                open[..=place].rotate_right(1);
                return Some(self.body_stop(number, element, body, &seen));
            }
        }
        None
    }

    /// Whether the first obstacle stands over a point.
    #[must_use]
    pub fn is_under(&self, point: &Vec3) -> bool {
        self.obstacles.first().is_some_and(|obstacle| {
            let seen = point - obstacle.shift;
            obstacle.ladder.is_under(&obstacle.landscape, &seen)
        })
    }

    /// The axis that is out of its travel at every tip of a cell, and at every one that is no farther
    /// from these across the approach and along it.
    #[must_use]
    pub fn short_axis(&self, cell: &Cell, spread_mm: [f64; 2]) -> Option<usize> {
        let heap = Heap::new(std::slice::from_ref(cell), &self.approach_from_part);
        match self.travel_answer(&heap.all_within(spread_mm)) {
            Answer::Stopped(Stop::Axis(axis)) => Some(axis),
            _ => None,
        }
    }

    /// What axis limits say to all tips in a box, given by its least and greatest coordinates.
    fn travel_answer(&self, within: &[Vec3; 2]) -> Answer {
        let Some(travel) = &self.travel else {
            return Answer::Free;
        };
        let mut ranges = [[f64::INFINITY, f64::NEG_INFINITY]; 3];
        for corner in 0..8 {
            let pick = |axis: usize| {
                let high = corner >> axis & 1;
                within[high][axis]
            };
            let tip = Point3::new(pick(0), pick(1), pick(2));
            let tip = travel.table_from_approach * tip;
            let positions = travel.kinematics.positions_mm(tip, travel.gauge_length_mm);
            for (range, position) in ranges.iter_mut().zip(positions) {
                *range = [range[0].min(position), range[1].max(position)];
            }
        }
        let mut all_inside = true;
        for (axis, limits) in travel.kinematics.axes().iter().enumerate() {
            let [low_mm, high_mm] = ranges[axis];
            let (least_mm, most_mm) = (
                limits.low_mm - CONTACT_GRAIN_MM,
                limits.high_mm + CONTACT_GRAIN_MM,
            );
            if high_mm < least_mm || low_mm > most_mm {
                return Answer::Stopped(Stop::Axis(axis));
            }
            all_inside &= low_mm >= least_mm && high_mm <= most_mm;
        }
        if all_inside {
            Answer::Free
        } else {
            Answer::Undecided
        }
    }
}

impl OwnFlutes<'_> {
    /// Whether the core keeps out of the part at every tip of cells of one plane, and above.
    fn are_free(&self, ground: &Ground<'_>, heap: &Heap) -> Result<bool, CannotAsk> {
        let Some(normal) = &heap.normal else {
            return Ok(false);
        };
        let ask = Ask {
            enough_mm: Some(CORE_GAP_MM),
            less_mm: Some(CORE_GAP_MM),
            hint: self.hint.get(),
            budget: BUDGET,
            stop: Some(ground.stop),
            beyond: Some(self.kept_out(normal, &heap.corners)),
            ..Ask::default()
        };
        let motion = self.ways(&heap.corners);
        let gap = group_gap(
            std::slice::from_ref(&self.placed),
            self.bodies,
            &motion,
            &ask,
        )?;
        let free = gap.lo_mm >= CORE_GAP_MM;
        if !free {
            self.hint.set(gap.witness.or(self.hint.get()));
        }
        Ok(free)
    }

    /// Tips and the ways down to them, as one convex set.
    fn ways(&self, offsets: &[Vec3]) -> Motion {
        let raised = offsets
            .iter()
            .map(|tip| Vec3::new(tip.x, tip.y, self.top_mm.max(tip.z)));
        // The raised tips first: whether a body holds another is asked there, far from all.
        Motion::spread(raised.chain(offsets.iter().copied()).collect())
    }

    /// What the core can meet at all: it stays in front of the plane that its flutes touch.
    fn kept_out(&self, normal: &Vec3, offsets: &[Vec3]) -> HalfSpace {
        let behind_mm = behind_mm(self.core, normal);
        let tips = offsets.iter().flat_map(|tip| {
            let raised = Vec3::new(tip.x, tip.y, self.top_mm.max(tip.z));
            [normal.dot(tip), normal.dot(&raised)]
        });
        let lowest_mm = tips.fold(f64::INFINITY, f64::min);
        HalfSpace {
            normal: *normal,
            offset_mm: lowest_mm - behind_mm - CORE_GAP_MM,
        }
    }
}

/// How far a profile reaches behind its tip, against a direction.
fn behind_mm(profile: &Profile, direction: &Vec3) -> f64 {
    let across = direction.xy().norm();
    let rings = profile.pieces.iter().flat_map(|piece| &piece.rings);
    rings
        .map(|ring| ring.radius_mm * across - ring.height_mm * direction.z + ring.ball_mm)
        .fold(f64::NEG_INFINITY, f64::max)
}
