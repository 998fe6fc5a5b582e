//! Settles pieces of a surface: surely reached, surely not, or undecided at the grain.
//!
//! A heap of cells is asked at once: whatever surely stops every tip, or surely stops none, is done
//! with. For the rest the heap is split, and in the end the triangle.

use super::cells::{Cell, split};
use super::heap::Heap;
use super::ladder::{Known, Ladder, ROOM_MM, Tips};
use crate::answer::check::measure::CONTACT_GRAIN_MM;
use crate::answer::kinematics::Kinematics;
use crate::gap::{Ask, CannotAsk, HalfSpace, Landscape, Motion, Placed, Witness, group_gap};
use crate::setup::model::Profile;
use crate::value::{Pose, Vec3};
use nalgebra::Point3;
use std::cell::Cell as Slot;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// A question to the engine may take this much work; then the heap is split, or left undecided.
const BUDGET: u64 = 200_000;

/// Why cells are surely not reached.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Stop {
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

/// Bodies that rest together, with the tool group that is asked against them.
#[derive(Debug, Clone)]
pub struct Obstacle<'g> {
    /// The bodies, seen along the approach.
    pub landscape: Arc<Landscape>,
    /// The landscape's frame in the approach frame.
    pub shift: Vec3,
    /// The tool group.
    pub ladder: &'g Ladder,
    /// Names of the bodies.
    pub names: Arc<Vec<String>>,
    /// Whether it is the part whose faces are asked about.
    pub is_own: bool,
    /// Whether it closes bodies where their meshes are open: it may deny, but it stops nothing.
    pub is_lid: bool,
}

impl Obstacle<'_> {
    fn settle(&self, tips: &Tips, all: &Tips) -> Known {
        if !self.is_lid {
            return self.ladder.settle(&self.landscape, tips, all);
        }
        match self.ladder.is_free(&self.landscape, tips) {
            true => Known::Free,
            false => Known::Mixed,
        }
    }
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
    /// Settles cells.
    ///
    /// # Guarantees
    /// At every tip of a free cell every element keeps its gap, there and all the way down from
    /// above everything; at every tip of a stopped cell the named one does not. No area is lost.
    ///
    /// # Errors
    /// A [`CannotAsk`] where the engine refuses a question.
    pub fn settle(&self, mut cells: Vec<Cell>) -> Result<Settled, CannotAsk> {
        let mut settled = Settled::default();
        if !cells.is_empty() {
            self.settle_heap(&mut cells, &self.all_open(), &mut settled)?;
        }
        Ok(settled)
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
            !obstacle.ladder.is_free(&obstacle.landscape, &seen)
        };
        open.iter().copied().filter(may_be_met).collect()
    }

    /// Whether every tip of a heap of one plane is surely free. The obstacle that denies it goes to
    /// the front of `open`: it will be the one again.
    ///
    /// # Errors
    /// As [`Self::settle`].
    pub fn are_free(&self, heap: &Heap, open: &mut [u16]) -> Result<bool, CannotAsk> {
        if !matches!(self.travel_answer(heap), Answer::Free) {
            return Ok(false);
        }
        for place in 0..open.len() {
            let number = open[place];
            let obstacle = &self.obstacles[usize::from(number)];
            let tips = heap.tips().from(&obstacle.shift);
            let free = if self.flutes.is_some() && number == 0 {
                // Asked exactly below; what is stopped in the middle need not be.
                let middle = Tips {
                    around_mm: 0.0,
                    ..tips
                };
                obstacle.ladder.stop(&obstacle.landscape, &middle).is_none()
            } else {
                obstacle.ladder.is_free(&obstacle.landscape, &tips)
            };
            if !free {
                open[..=place].rotate_right(1);
                return Ok(false);
            }
        }
        match &self.flutes {
            Some(flutes) => flutes.are_free(self, heap),
            None => Ok(true),
        }
    }

    /// `open` are the obstacles that some tip may meet.
    fn settle_heap(
        &self,
        cells: &mut [Cell],
        open: &[u16],
        settled: &mut Settled,
    ) -> Result<(), CannotAsk> {
        if self.stop.load(Ordering::Relaxed) {
            settled.undecided.extend_from_slice(cells);
            return Ok(());
        }
        let mut still_open = Vec::new();
        match self.ask(cells, open, &mut still_open)? {
            Answer::Free => settled.free.extend_from_slice(cells),
            Answer::Stopped(stop) => {
                settled
                    .stopped
                    .extend(cells.iter().map(|cell| (*cell, stop)));
            }
            Answer::Undecided if cells.len() > 1 => {
                let half = split(cells);
                let (first, second) = cells.split_at_mut(half);
                self.settle_heap(first, &still_open, settled)?;
                self.settle_heap(second, &still_open, settled)?;
            }
            Answer::Undecided if let Some(cell) = self.smoothed(&cells[0])? => {
                settled.free.push(cell);
            }
            Answer::Undecided => match cells[0].halves() {
                Some(mut halves) => {
                    self.settle_heap(&mut halves[..1], &still_open, settled)?;
                    self.settle_heap(&mut halves[1..], &still_open, settled)?;
                }
                None => settled.undecided.push(cells[0]),
            },
        }
        Ok(())
    }

    fn ask(
        &self,
        cells: &[Cell],
        open: &[u16],
        still_open: &mut Vec<u16>,
    ) -> Result<Answer, CannotAsk> {
        let heap = Heap::new(cells, &self.approach_from_part);
        let mut free = match self.travel_answer(&heap) {
            Answer::Stopped(stop) => return Ok(Answer::Stopped(stop)),
            Answer::Free => true,
            Answer::Undecided => false,
        };
        for &number in open {
            let obstacle = &self.obstacles[usize::from(number)];
            let tips = heap.tips().from(&obstacle.shift);
            let all = heap.all_tips().from(&obstacle.shift);
            match obstacle.settle(&tips, &all) {
                Known::Free => {}
                Known::Stopped(element, body) => {
                    return Ok(Answer::Stopped(
                        self.body_stop(number, element, body, &tips),
                    ));
                }
                Known::Mixed => still_open.push(number),
            }
        }
        free &= still_open.is_empty();
        if let Some(flutes) = &self.flutes {
            // Stops by flutes are asked of the first obstacle, which stays open for them.
            let others_free = still_open.iter().all(|&number| number == 0);
            free = others_free && flutes.are_free(self, &heap)?;
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
        Stop::Body {
            element,
            obstacle: number,
            body,
            touches: !obstacle.ladder.bare_is_free(&obstacle.landscape, tips),
        }
    }

    /// Whether the tool is surely stopped at every tip within a distance of one in plan, and within
    /// another up and down.
    #[must_use]
    pub fn stopped_around(&self, tip: &Vec3, [around_mm, up_mm]: [f64; 2]) -> Option<Stop> {
        let tips = Tips {
            centre: [tip.x, tip.y],
            around_mm,
            low_mm: tip.z - up_mm,
            high_mm: tip.z + up_mm,
        };
        (0..self.obstacles.len()).find_map(|number| {
            let obstacle = &self.obstacles[number];
            if obstacle.is_lid {
                return None;
            }
            let seen = tips.from(&obstacle.shift);
            let (element, body) = obstacle.ladder.stop(&obstacle.landscape, &seen)?;
            Some(self.body_stop(number as u16, element, body, &seen))
        })
    }

    /// Whether the first obstacle stands over a point.
    #[must_use]
    pub fn is_under(&self, point: &Vec3) -> bool {
        self.obstacles.first().is_some_and(|obstacle| {
            let seen = point - obstacle.shift;
            obstacle.ladder.is_under(&obstacle.landscape, &seen)
        })
    }

    fn travel_answer(&self, heap: &Heap) -> Answer {
        let Some(travel) = &self.travel else {
            return Answer::Free;
        };
        let mut ranges = [[f64::INFINITY, f64::NEG_INFINITY]; 3];
        for corner in 0..8 {
            let pick = |axis: usize| {
                let low = corner & (1 << axis) == 0;
                if low { heap.low[axis] } else { heap.high[axis] }
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
            enough_mm: Some(CONTACT_GRAIN_MM + ROOM_MM),
            less_mm: Some(CONTACT_GRAIN_MM + ROOM_MM),
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
        let free = gap.lo_mm >= CONTACT_GRAIN_MM + ROOM_MM;
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
            offset_mm: lowest_mm - behind_mm - CONTACT_GRAIN_MM - ROOM_MM,
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
