//! Cells that many tips touch alike, as a flat end does on a level face: one tip must be free.

use super::cells::{Cell, split};
use super::cutter::Contacts;
use super::ground::{Ground, Settled, Stop};
use super::heap::Heap;
use super::stages::Stage;
use crate::gap::CannotAsk;
use crate::value::Vec3;
use std::sync::atomic::Ordering;

/// How often the tips that touch one place are halved, to show that all of them are stopped.
const COVER_DEPTH: u32 = 4;

/// A point may lie this far outside the end that covers it: well within the gouge tolerance.
const RADIUS_ROOM_MM: f64 = 1e-3;

/// So many places where tips were free are remembered.
const REMEMBERED: usize = 8;

/// Cells that many tips touch alike: one tip must be free.
pub struct Choosing<'c, 'g> {
    /// The tool over the surface.
    pub stage: &'c Stage<'g>,
    /// What stands around; `None` for the own part alone.
    pub around: Option<&'c Ground<'c>>,
    /// Tips to try, the one that served last at the front.
    pub tips: Vec<Vec3>,
    /// All tips, relative to a point of the surface.
    pub contacts: Contacts,
    /// Places of tips that were free, in the part's frame, the last one at the front: under a flat end,
    /// one place serves all that lies within its radius.
    pub places: Vec<Vec3>,
    /// Where a stop could not be shown the last time: mostly the same place denies the next, too.
    pub denied: Denied,
    /// Where settled cells go.
    pub settled: &'c mut Settled,
}

/// Obstacles that some tip may meet.
#[derive(Debug, Clone)]
struct Open {
    own: Vec<u16>,
    around: Vec<u16>,
    /// Spread of the tips when these were sorted out.
    spread_mm: f64,
}

/// Obstacles are sorted out again where the tips' spread is less than this share of what it was.
const LESS_SPREAD: f64 = 0.7;

/// A tip, relative to a point of the surface, near which a stop could not be shown.
type Denied = Option<Vec3>;

impl Choosing<'_, '_> {
    /// Settles cells of one plane.
    ///
    /// # Errors
    /// As [`Ground::settle`].
    pub fn settle(&mut self, cells: &mut [Cell]) -> Result<(), CannotAsk> {
        let open = Open {
            own: self.stage.own.all_open(),
            around: self.around.map(Ground::all_open).unwrap_or_default(),
            spread_mm: f64::INFINITY,
        };
        self.settle_open(cells, open)
    }

    /// `open` are the obstacles that some tip may meet.
    fn settle_open(&mut self, cells: &mut [Cell], mut open: Open) -> Result<(), CannotAsk> {
        let own = self.stage.own;
        if own.stop.load(Ordering::Relaxed) {
            self.settled.undecided.extend_from_slice(cells);
            return Ok(());
        }
        // The own part was asked about these tips before.
        if let Some(around) = self.around {
            let heap = Heap::new(cells, &around.approach_from_part);
            if around.are_free(&heap, &mut open.around)? {
                self.settled.free.extend_from_slice(cells);
                return Ok(());
            }
        }
        if self.some_tip_is_free(cells, &mut open)? {
            return Ok(());
        }
        if let [cell] = cells
            && let Some(free) = self.chosen_for(&*cell)?
        {
            self.settled.free.push(free);
            return Ok(());
        }
        if let Some(stop) = self.stopped_everywhere(cells, &mut open) {
            let stopped = cells.iter().map(|cell| (*cell, stop));
            self.settled.stopped.extend(stopped);
            return Ok(());
        }
        if cells.len() > 1 {
            let half = split(cells);
            let (first, second) = cells.split_at_mut(half);
            self.settle_open(first, open.clone())?;
            return self.settle_open(second, open);
        }
        match cells[0].halves() {
            Some(mut halves) => {
                self.settle_open(&mut halves[..1], open.clone())?;
                self.settle_open(&mut halves[1..], open)
            }
            None => {
                self.settled.undecided.push(cells[0]);
                Ok(())
            }
        }
    }

    /// A cell with tips that are free, made for it alone: pushed out of walls, of the smooth face, or
    /// where the tool was free before.
    fn chosen_for(&mut self, cell: &Cell) -> Result<Option<Cell>, CannotAsk> {
        let smooth = cell.smooth.map(|smooth| Cell {
            tip_from_corner: smooth,
            ..*cell
        });
        for tried in [self.pushed_out(cell), smooth].into_iter().flatten() {
            if self.is_free(&tried)? {
                self.remember(tried.tip_over_middle());
                return Ok(Some(tried));
            }
        }
        for place in 0..self.places.len() {
            if let Some(tried) = self.over_place(cell, &self.places[place])
                && self.is_free(&tried)?
            {
                self.places[..=place].rotate_right(1);
                return Ok(Some(tried));
            }
        }
        Ok(None)
    }

    /// Whether one of the tips is free over all cells; then they are settled. What no tip can meet is
    /// taken from `open`.
    fn some_tip_is_free(&mut self, cells: &mut [Cell], open: &mut Open) -> Result<bool, CannotAsk> {
        let own = self.stage.own;
        let turn = own.approach_from_part.rotation.inverse();
        let (first, last) = self.ends();
        let middle = (first + last) * 0.5;
        // The cells keep their own tips, which may lie a little farther off than all of these.
        let kept = cells.iter().flat_map(|cell| cell.tip_from_corner);
        let kept = kept.map(|tip| own.approach_from_part.rotation * tip - middle);
        let beyond_mm = kept.fold(
            [(last - first).norm() * 0.5, (last.z - first.z).abs() * 0.5],
            |[around_mm, down_mm], tip| [around_mm.max(tip.xy().norm()), down_mm.max(tip.z.abs())],
        );
        let moved: Vec<Cell> = cells
            .iter()
            .map(|cell| cell.with_shift(turn * middle))
            .collect();
        let own_heap = Heap::new(&moved, &own.approach_from_part);
        let spread_mm = own_heap.tips().around_mm + beyond_mm[0];
        let sort_out = spread_mm < LESS_SPREAD * open.spread_mm;
        if sort_out {
            open.own = own.open_within(&own_heap, beyond_mm, &open.own);
            open.spread_mm = spread_mm;
        }
        let around = self.around.map(|around| {
            let heap = Heap::new(&moved, &around.approach_from_part);
            if sort_out {
                open.around = around.open_within(&heap, beyond_mm, &open.around);
            }
            (around, heap, around.approach_from_part.rotation * turn)
        });
        for place in 0..self.tips.len() {
            let by = self.tips[place] - middle;
            let free = match &around {
                Some((around, heap, around_from_own)) => {
                    around.are_free(&heap.shifted(&(around_from_own * by)), &mut open.around)?
                }
                None => true,
            };
            if free && own.are_free(&own_heap.shifted(&by), &mut open.own)? {
                let tip = turn * self.tips[place];
                let free = cells.iter().map(|cell| cell.with_shift(tip));
                self.settled.free.extend(free);
                if let [cell] = &*cells {
                    self.remember(cell.middle() + tip);
                }
                self.tips[..=place].rotate_right(1);
                return Ok(true);
            }
        }
        Ok(false)
    }

    fn remember(&mut self, place: Vec3) {
        if matches!(self.contacts, Contacts::Disc { .. }) {
            self.places.truncate(REMEMBERED - 1);
            self.places.insert(0, place);
        }
    }

    /// A cell under a flat end that stands at a place; `None` where it does not cover the cell.
    fn over_place(&self, cell: &Cell, place: &Vec3) -> Option<Cell> {
        let Contacts::Disc { centre, radius_mm } = &self.contacts else {
            return None;
        };
        let to_tip = self.stage.own.approach_from_part.rotation.inverse() * centre;
        let shifts = cell.corners.map(|corner| place - corner);
        let covers = |shift: &Vec3| (shift - to_tip).norm() <= *radius_mm;
        shifts.iter().all(covers).then_some(Cell {
            tip_from_corner: shifts,
            ..*cell
        })
    }

    /// Whether a cell is free with the tips that it has.
    fn is_free(&self, cell: &Cell) -> Result<bool, CannotAsk> {
        for ground in [self.around, Some(self.stage.own)].into_iter().flatten() {
            let heap = Heap::new(std::slice::from_ref(cell), &ground.approach_from_part);
            if !ground.are_free(&heap, &mut ground.all_open())? {
                return Ok(false);
            }
        }
        Ok(true)
    }

    /// A cell under a flat end with its tips pushed out of the walls beside it: to the middle of a slot
    /// as wide as the cutter, into a corner as far as the cutter goes.
    fn pushed_out(&self, cell: &Cell) -> Option<Cell> {
        let Contacts::Disc { centre, radius_mm } = &self.contacts else {
            return None;
        };
        let own = self.stage.own;
        let turn = own.approach_from_part.rotation.inverse();
        let to_tip = turn * centre;
        let mut shifts = [to_tip; 3];
        for (shift, corner) in shifts.iter_mut().zip(cell.corners) {
            let rims = &self.stage.surface.rims;
            let pushed = rims.pushed_out(cell.face, corner, *radius_mm) - corner;
            if pushed.norm() > *radius_mm + RADIUS_ROOM_MM {
                return None;
            }
            *shift += pushed;
        }
        Some(Cell {
            tip_from_corner: shifts,
            ..*cell
        })
    }

    /// Two tips that are farthest apart.
    fn ends(&self) -> (Vec3, Vec3) {
        match &self.contacts {
            Contacts::Line(first, last) => (*first, *last),
            Contacts::Disc { centre, radius_mm } => {
                let across = Vec3::x() * *radius_mm;
                (centre - across, centre + across)
            }
            Contacts::One(tip) => (*tip, *tip),
            Contacts::None => (Vec3::zeros(), Vec3::zeros()),
        }
    }

    /// What surely stops the tool at every tip that touches any point of the cells.
    fn stopped_everywhere(&mut self, cells: &[Cell], open: &mut Open) -> Option<Stop> {
        let own = self.stage.own;
        // One tip for all corners would do for a stop, were they at one point.
        let points: Vec<Vec3> = cells
            .iter()
            .flat_map(|cell| cell.corners)
            .map(|corner| (own.approach_from_part * nalgebra::Point3::from(corner)).coords)
            .collect();
        let (mut low, mut high) = (points[0], points[0]);
        for point in &points {
            low = low.inf(point);
            high = high.sup(point);
        }
        let middle = (low + high) * 0.5;
        let away = |point: &Vec3| (point - middle).xy().norm();
        let spread_mm = points.iter().map(away).fold(0.0, f64::max);
        let up_mm = (high.z - low.z) * 0.5;
        // More cannot be shown by halves that are small against the heap.
        let reach_mm = (self.ends().1 - self.ends().0).norm() * 0.5;
        let mut depth = 0;
        while depth < COVER_DEPTH && reach_mm / f64::from(1_u32 << depth) > spread_mm {
            depth += 1;
        }
        let part_from_own = own.approach_from_part.inverse();
        let mut ask = |tip: &Vec3, [around_mm, above_mm]: [f64; 2]| {
            let in_part = part_from_own * nalgebra::Point3::from(middle + tip);
            let near_mm = [around_mm + spread_mm, above_mm + up_mm];
            // Of what no tip meets nothing stops them.
            let grounds = [(self.around, &mut open.around), (Some(own), &mut open.own)];
            grounds.into_iter().find_map(|(ground, open)| {
                let ground = ground?;
                let tip = (ground.approach_from_part * in_part).coords;
                ground.stopped_around(&tip, near_mm, open)
            })
        };
        if let Some(tip) = &self.denied {
            let share = 1.0 / f64::from(1_u32 << depth);
            let near_mm = match &self.contacts {
                Contacts::Line(first, last) => [
                    (last - first).xy().norm() * 0.5 * share,
                    (last.z - first.z).abs() * 0.5 * share,
                ],
                _ => [reach_mm * std::f64::consts::SQRT_2 * share, 0.0],
            };
            ask(tip, near_mm)?;
        }
        let denied = &mut self.denied;
        match &self.contacts {
            Contacts::Line(first, last) => line_stopped(&mut ask, first, last, depth, denied),
            Contacts::Disc { centre, radius_mm } => {
                let disc = (centre, *radius_mm);
                square_stopped(&mut ask, (centre, *radius_mm), disc, depth, denied)
            }
            Contacts::None | Contacts::One(_) => None,
        }
    }
}

/// Tips to try, the middle one first.
#[must_use]
pub fn candidates(contacts: &Contacts) -> Vec<Vec3> {
    match contacts {
        Contacts::Line(first, last) => [0.5, 0.02, 0.98]
            .map(|share| first + (last - first) * share)
            .to_vec(),
        Contacts::Disc { centre, radius_mm } => {
            let on_ring = |k: u32| {
                let (sin, cos) = (f64::from(k) / 8.0 * std::f64::consts::TAU).sin_cos();
                centre + Vec3::new(cos, sin, 0.0) * (radius_mm * 0.999)
            };
            std::iter::once(*centre)
                .chain((0..8).map(on_ring))
                .collect()
        }
        Contacts::None => Vec::new(),
        Contacts::One(tip) => vec![*tip],
    }
}

/// Asks whether all tips within a distance in plan, and within another up and down, are stopped.
type AskAround<'a> = dyn FnMut(&Vec3, [f64; 2]) -> Option<Stop> + 'a;

fn line_stopped(
    ask: &mut AskAround<'_>,
    first: &Vec3,
    last: &Vec3,
    depth: u32,
    denied: &mut Denied,
) -> Option<Stop> {
    let (middle, half) = ((first + last) * 0.5, (last - first) * 0.5);
    let near_mm = [half.xy().norm(), half.z.abs()];
    if let Some(stop) = ask(&middle, near_mm) {
        return Some(stop);
    }
    if depth == 0 {
        *denied = Some(middle);
        return None;
    }
    line_stopped(ask, first, &middle, depth - 1, denied)?;
    line_stopped(ask, &middle, last, depth - 1, denied)
}

/// Whether all tips of a disc that lie in a square are stopped.
fn square_stopped(
    ask: &mut AskAround<'_>,
    (middle, half_mm): (&Vec3, f64),
    disc: (&Vec3, f64),
    depth: u32,
    denied: &mut Denied,
) -> Option<Stop> {
    let near_mm = [half_mm * std::f64::consts::SQRT_2, 0.0];
    if let Some(stop) = ask(middle, near_mm) {
        return Some(stop);
    }
    if depth == 0 {
        *denied = Some(*middle);
        return None;
    }
    let quarter_mm = half_mm * 0.5;
    let mut found = None;
    for (x, y) in [(-1.0, -1.0), (1.0, -1.0), (-1.0, 1.0), (1.0, 1.0)] {
        let next = middle + Vec3::new(x, y, 0.0) * quarter_mm;
        let outside = (next - disc.0).norm() > disc.1 + quarter_mm * std::f64::consts::SQRT_2;
        if !outside {
            let square = (&next, quarter_mm);
            found = Some(square_stopped(ask, square, disc, depth - 1, denied)?);
        }
    }
    found
}
