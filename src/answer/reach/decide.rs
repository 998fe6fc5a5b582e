//! Settles pieces of a surface: surely reached, surely not, or undecided at the grain.
//!
//! A heap of cells is asked as one convex set of tips, each with the way down to it. Surely free:
//! done. Surely stopped at every tip: done. Else the heap is split, and in the end the triangle.

use super::cells::{Cell, flat_hull, split};
use super::cutter::Fill;
use super::skyline::{Skyline, Tips};
use crate::answer::check::measure::{CONTACT_GRAIN_MM, WANTED_GRAIN_MM};
use crate::answer::kinematics::Kinematics;
use crate::answer::scene::revolved;
use crate::answer::check::erode::eroded;
use crate::gap::{Ask, CannotAsk, HalfSpace, Motion, Placed, Shape, Witness, group_gap};
use crate::setup::model::Profile;
use crate::value::{Pose, Vec3};
use nalgebra::Point3;
use std::cell::Cell as Slot;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// Tips of one plane may lie off it by no more than this; gaps are asked with as much in hand.
pub const PLANE_GRAIN_MM: f64 = 1e-5;

/// A question to the engine may take this much work; then the heap is split, or left undecided.
const BUDGET: u64 = 2_000_000;

/// Number of the own part among the bodies.
pub const OWN: usize = usize::MAX;

/// Why cells are surely not reached, by indices of the ground.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Stop {
    /// The own part stops the flutes.
    OwnFlutes,
    /// Element and number of the body; [`OWN`] for the own part.
    Body(usize, usize),
    /// Axis.
    Axis(usize),
}

/// One element against some bodies.
#[derive(Debug)]
pub struct Check<'g> {
    /// Index of the element.
    pub element: usize,
    /// The element with the tip at the origin of the approach frame.
    pub placed: Placed,
    /// Gap that must be kept, chord allowances included.
    pub wanted_mm: f64,
    /// Bodies in the approach frame.
    pub bodies: &'g [Placed],
    /// Numbers of the bodies, for reasons.
    pub body_ids: &'g [usize],
    /// For flutes against the own part: their core, the whole of them, and how deep they may seem
    /// to stand there.
    pub core: Option<(&'g Profile, &'g Profile, f64)>,
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

/// What stands in the way at one index, in the approach frame (z to the spindle).
#[derive(Debug)]
pub struct Ground<'g> {
    /// Takes the part's frame to the approach frame.
    pub approach_from_part: Pose,
    /// Height from which tools come down.
    pub top_mm: f64,
    /// Quick proof that a tip is stopped.
    pub skyline: &'g Skyline,
    /// Numbers of the skyline's bodies, for reasons.
    pub body_of_skyline: &'g [usize],
    /// What the tool group fills on its way down.
    pub fill: Fill,
    /// Owner left out of the skyline.
    pub without: Option<u16>,
    /// Exact questions, the likeliest trouble first.
    pub checks: Vec<Check<'g>>,
    /// Axis limits; `None` where they are asked elsewhere.
    pub travel: Option<Travel<'g>>,
    /// Whether the tips of several planes may be asked as their box.
    pub boxes: bool,
    /// Cells with no edge longer than this are not split.
    pub grain_mm: f64,
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

/// Tips of a heap in the approach frame.
struct Heap {
    offsets: Vec<Vec3>,
    tips: Tips,
    centre: Vec3,
    radius_mm: f64,
    asked: bool,
    /// Normal of the surface, where all tips touch one plane.
    normal: Option<Vec3>,
}

impl Ground<'_> {
    /// Settles cells.
    ///
    /// # Guarantees
    /// At every tip of a free cell every check keeps its gap, there and all the way down from the
    /// top; at every tip of a stopped cell the named element does not. No area is lost.
    ///
    /// # Errors
    /// A [`CannotAsk`] where the engine refuses a question.
    pub fn settle(&self, cells: Vec<Cell>) -> Result<Settled, CannotAsk> {
        self.settle_all(cells, true)
    }

    /// The same, without the costly proofs that every tip of a heap is stopped.
    ///
    /// # Errors
    /// As [`Self::settle`].
    pub fn settle_quickly(&self, cells: Vec<Cell>) -> Result<Settled, CannotAsk> {
        self.settle_all(cells, false)
    }

    fn settle_all(&self, mut cells: Vec<Cell>, prove: bool) -> Result<Settled, CannotAsk> {
        let mut settled = Settled::default();
        if !cells.is_empty() {
            self.settle_heap(&mut cells, prove, &mut settled)?;
        }
        Ok(settled)
    }

    fn settle_heap(
        &self,
        cells: &mut [Cell],
        prove: bool,
        settled: &mut Settled,
    ) -> Result<(), CannotAsk> {
        if self.stop.load(Ordering::Relaxed) {
            settled.undecided.extend_from_slice(cells);
            return Ok(());
        }
        match self.ask(cells, prove)? {
            Answer::Free => settled.free.extend_from_slice(cells),
            Answer::Stopped(stop) => {
                settled.stopped.extend(cells.iter().map(|cell| (*cell, stop)));
            }
            Answer::Undecided if cells.len() > 1 => {
                let half = split(cells);
                let (first, second) = cells.split_at_mut(half);
                self.settle_heap(first, prove, settled)?;
                self.settle_heap(second, prove, settled)?;
            }
            Answer::Undecided => match cells[0].halves(self.grain_mm) {
                Some(mut halves) => {
                    self.settle_heap(&mut halves[..1], prove, settled)?;
                    self.settle_heap(&mut halves[1..], prove, settled)?;
                }
                None => settled.undecided.push(cells[0]),
            },
        }
        Ok(())
    }

    fn ask(&self, cells: &[Cell], prove: bool) -> Result<Answer, CannotAsk> {
        let heap = self.heap(cells);
        if let Some((element, body)) = self.skyline.stop(&self.fill, &heap.tips) {
            let body = self.body_of_skyline[body];
            return Ok(Answer::Stopped(self.named(element, body)));
        }
        if !heap.asked {
            return Ok(Answer::Undecided);
        }
        let mut free = match self.travel_answer(&heap) {
            Answer::Stopped(stop) => return Ok(Answer::Stopped(stop)),
            Answer::Free => true,
            Answer::Undecided => false,
        };
        for check in &self.checks {
            match self.check_answer(check, &heap, prove)? {
                Answer::Free => {}
                Answer::Stopped(stop) => return Ok(Answer::Stopped(stop)),
                Answer::Undecided => {
                    free = false;
                    break;
                }
            }
        }
        Ok(if free { Answer::Free } else { Answer::Undecided })
    }

    /// Whether the tool is surely stopped at every tip within `around_mm` of one.
    #[must_use]
    pub fn stopped_around(&self, tip: &Vec3, around_mm: f64) -> Option<Stop> {
        let tips = Tips {
            centre: [tip.x, tip.y],
            around_mm,
            highest_mm: tip.z + around_mm,
            without: self.without,
        };
        let (element, body) = self.skyline.stop(&self.fill, &tips)?;
        Some(self.named(element, self.body_of_skyline[body]))
    }

    fn named(&self, element: usize, body: usize) -> Stop {
        if self.own_flutes(element) {
            Stop::OwnFlutes
        } else {
            Stop::Body(element, body)
        }
    }

    fn own_flutes(&self, element: usize) -> bool {
        self.checks
            .iter()
            .any(|check| check.core.is_some() && check.element == element)
    }

    fn heap(&self, cells: &[Cell]) -> Heap {
        let tips: Vec<Vec3> = cells
            .iter()
            .flat_map(Cell::tips)
            .map(|tip| (self.approach_from_part * Point3::from(tip)).coords)
            .collect();
        let (mut low, mut high) = (tips[0], tips[0]);
        for tip in &tips {
            low = low.inf(tip);
            high = high.sup(tip);
        }
        let one_plane = cells.iter().all(|cell| cell.plane == cells[0].plane);
        let [a, b, c] = cells[0].corners;
        let normal = self.approach_from_part.rotation * (b - a).cross(&(c - a));
        let offsets = if cells.len() == 1 {
            tips
        } else if one_plane {
            flat_hull(&tips, &normal)
        } else {
            let corner = |k: u32| {
                let pick = |axis: usize, bit: u32| if k & bit == 0 { low[axis] } else { high[axis] };
                Vec3::new(pick(0, 1), pick(1, 2), low.z)
            };
            (0..4).map(corner).collect()
        };
        let centre = (low + high) * 0.5;
        let far = |across: bool| {
            let away = |tip: &Vec3| {
                let away = tip - centre;
                if across { away.xy().norm() } else { away.norm() }
            };
            let boxed = if cells.len() > 1 && !one_plane { (high - low) * 0.5 } else { Vec3::zeros() };
            let own = offsets.iter().map(away).fold(0.0, f64::max);
            own.max(if across { boxed.xy().norm() } else { boxed.norm() })
        };
        Heap {
            tips: Tips {
                centre: [centre.x, centre.y],
                around_mm: far(true),
                highest_mm: high.z,
                without: self.without,
            },
            radius_mm: far(false),
            asked: one_plane || self.boxes,
            normal: normal.try_normalize(1e-12).filter(|_| one_plane),
            centre,
            offsets,
        }
    }

    /// Tips and the ways down to them, as one convex set.
    fn ways(&self, offsets: &[Vec3]) -> Motion {
        let raised = offsets
            .iter()
            .map(|tip| Vec3::new(tip.x, tip.y, self.top_mm.max(tip.z)));
        // The raised tips first: whether a body holds another is asked there, far from all.
        Motion::spread(raised.chain(offsets.iter().copied()).collect())
    }

    fn travel_answer(&self, heap: &Heap) -> Answer {
        let Some(travel) = &self.travel else {
            return Answer::Free;
        };
        let mut all_inside = true;
        for raised in [false, true] {
            let mut ranges = [[f64::INFINITY, f64::NEG_INFINITY]; 3];
            for tip in &heap.offsets {
                let height_mm = if raised { self.top_mm.max(tip.z) } else { tip.z };
                let tip = travel.table_from_approach * Point3::new(tip.x, tip.y, height_mm);
                let positions = travel.kinematics.positions_mm(tip, travel.gauge_length_mm);
                for (range, position) in ranges.iter_mut().zip(positions) {
                    *range = [range[0].min(position), range[1].max(position)];
                }
            }
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
        }
        if all_inside {
            Answer::Free
        } else {
            Answer::Undecided
        }
    }

    fn check_answer(
        &self,
        check: &Check<'_>,
        heap: &Heap,
        prove: bool,
    ) -> Result<Answer, CannotAsk> {
        let kept_mm = match check.core {
            Some(_) => CONTACT_GRAIN_MM,
            None => check.wanted_mm + PLANE_GRAIN_MM - WANTED_GRAIN_MM,
        };
        let ask = Ask {
            enough_mm: Some(kept_mm),
            less_mm: Some(kept_mm),
            hint: check.hint.get(),
            budget: BUDGET,
            stop: Some(self.stop),
            beyond: check.core.and_then(|(core, ..)| self.kept_out(core, heap)),
            ..Ask::default()
        };
        let element = std::slice::from_ref(&check.placed);
        let gap = group_gap(element, check.bodies, &self.ways(&heap.offsets), &ask)?;
        if gap.lo_mm >= kept_mm {
            return Ok(Answer::Free);
        }
        check.hint.set(gap.witness.or(check.hint.get()));
        let instance = gap.contained.map(|inside| inside.instance_b);
        let instance = instance.or(gap.witness.map(|witness| witness.part_b.instance));
        let body = check.body_ids[instance.unwrap_or_default()];
        if gap.hi_mm < kept_mm && prove && self.stopped_all_over(check, heap)? {
            return Ok(Answer::Stopped(self.named(check.element, body)));
        }
        Ok(Answer::Undecided)
    }

    /// What the core can meet at all: it stays in front of the plane that its flutes touch.
    fn kept_out(&self, core: &Profile, heap: &Heap) -> Option<HalfSpace> {
        let normal = heap.normal?;
        let across = normal.xy().norm();
        let rings = core.pieces.iter().flat_map(|piece| &piece.rings);
        let behind = rings
            .map(|ring| ring.radius_mm * across - ring.height_mm * normal.z + ring.ball_mm)
            .fold(f64::NEG_INFINITY, f64::max);
        let tips = heap.offsets.iter().flat_map(|tip| {
            let raised = Vec3::new(tip.x, tip.y, self.top_mm.max(tip.z));
            [normal.dot(tip), normal.dot(&raised)]
        });
        let lowest = tips.fold(f64::INFINITY, f64::min);
        Some(HalfSpace {
            normal,
            offset_mm: lowest - behind - CONTACT_GRAIN_MM - PLANE_GRAIN_MM,
        })
    }

    /// Whether the element is too near at the centre by more than any tip is away from there.
    fn stopped_all_over(&self, check: &Check<'_>, heap: &Heap) -> Result<bool, CannotAsk> {
        let margin_mm = heap.radius_mm + PLANE_GRAIN_MM;
        let (placed, limit_mm) = match check.core {
            Some((_, flutes, gouge_mm)) => {
                let Some(core) = eroded(flutes, gouge_mm + margin_mm) else {
                    return Ok(false);
                };
                let shape = Shape::Revolved(Arc::new(revolved(&core)?));
                let placed = Placed {
                    shape,
                    common_from_body: check.placed.common_from_body,
                };
                (placed, CONTACT_GRAIN_MM)
            }
            None => (check.placed.clone(), check.wanted_mm - margin_mm),
        };
        if limit_mm <= 0.0 {
            return Ok(false);
        }
        let ask = Ask {
            enough_mm: Some(limit_mm),
            less_mm: Some(limit_mm),
            hint: check.hint.get(),
            budget: BUDGET,
            stop: Some(self.stop),
            // What is left out here can only hide a stop, never make one.
            beyond: check.core.and_then(|(core, ..)| self.kept_out(core, heap)),
            ..Ask::default()
        };
        let motion = self.ways(std::slice::from_ref(&heap.centre));
        let gap = group_gap(std::slice::from_ref(&placed), check.bodies, &motion, &ask)?;
        Ok(if check.core.is_some() {
            gap.hi_mm <= 0.0
        } else {
            gap.hi_mm < limit_mm
        })
    }
}
