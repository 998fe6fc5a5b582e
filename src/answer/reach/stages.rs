//! One tool from one direction: first against the own part, then against all else at each seat.

use super::cells::{Cell, split};
use super::cutter::Contacts;
use super::ground::{Ground, Heap, Settled, Stop};
use super::surface::Surface;
use super::tally::Cause;
use crate::gap::CannotAsk;
use crate::setup::model::Tool;
use crate::value::Vec3;
use std::sync::atomic::Ordering;

/// How often the tips that touch one place are halved, to show that all of them are stopped.
const COVER_DEPTH: u32 = 4;

/// A point may lie this far outside the end that covers it: well within the gouge tolerance.
const RADIUS_ROOM_MM: f64 = 1e-3;

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

/// Cells that many tips touch alike: one tip must be free.
struct Choosing<'c, 'g> {
    stage: &'c Stage<'g>,
    around: Option<&'c Ground<'c>>,
    /// Tips to try, the one that served last at the front.
    tips: Vec<Vec3>,
    contacts: Contacts,
    settled: &'c mut Settled,
}

impl Choosing<'_, '_> {
    /// `own_open` and `around_open` are the obstacles that some tip may meet.
    fn settle(
        &mut self,
        cells: &mut [Cell],
        own_open: &[u16],
        around_open: &[u16],
    ) -> Result<(), CannotAsk> {
        let own = self.stage.own;
        if own.stop.load(Ordering::Relaxed) {
            self.settled.undecided.extend_from_slice(cells);
            return Ok(());
        }
        let mut around_open = around_open.to_vec();
        // The own part was asked about these tips before.
        if let Some(around) = self.around {
            let heap = Heap::new(cells, &around.approach_from_part);
            if around.are_free(&heap, &mut around_open)? {
                self.settled.free.extend_from_slice(cells);
                return Ok(());
            }
        }
        let turn = own.approach_from_part.rotation.inverse();
        let (first, last) = self.ends();
        let (middle, more_mm) = ((first + last) * 0.5, (last - first).norm() * 0.5);
        let down_mm = (last.z - first.z).abs() * 0.5;
        for cell in cells.iter_mut() {
            *cell = cell.with_shift(turn * middle);
        }
        let own_heap = Heap::new(cells, &own.approach_from_part);
        let mut own_open = own.open_within(&own_heap, [more_mm, down_mm], own_open);
        let around = self.around.map(|around| {
            let heap = Heap::new(cells, &around.approach_from_part);
            around_open = around.open_within(&heap, [more_mm, down_mm], &around_open);
            (around, heap, around.approach_from_part.rotation * turn)
        });
        for place in 0..self.tips.len() {
            let by = self.tips[place] - middle;
            let free = match &around {
                Some((around, heap, around_from_own)) => {
                    around.are_free(&heap.shifted(&(around_from_own * by)), &mut around_open)?
                }
                None => true,
            };
            if free && own.are_free(&own_heap.shifted(&by), &mut own_open)? {
                let tip = turn * self.tips[place];
                let free = cells.iter().map(|cell| cell.with_shift(tip));
                self.settled.free.extend(free);
                self.tips[..=place].rotate_right(1);
                return Ok(());
            }
        }
        if let [cell] = cells
            && let Some(pushed) = self.pushed_out(cell)
        {
            let heap = |ground: &Ground<'_>| Heap::new(&[pushed], &ground.approach_from_part);
            let free = match self.around {
                Some(around) => around.are_free(&heap(around), &mut around_open)?,
                None => true,
            };
            if free && own.are_free(&heap(own), &mut own_open)? {
                self.settled.free.push(pushed);
                return Ok(());
            }
        }
        if let [cell] = cells
            && let Some(smooth) = cell.smooth
        {
            let smoothed = Cell {
                tip_from_corner: smooth,
                ..*cell
            };
            let heap = |ground: &Ground<'_>| Heap::new(&[smoothed], &ground.approach_from_part);
            let free = match self.around {
                Some(around) => around.are_free(&heap(around), &mut around.all_open())?,
                None => true,
            };
            if free && own.are_free(&heap(own), &mut own.all_open())? {
                self.settled.free.push(smoothed);
                return Ok(());
            }
        }
        if let Some(stop) = self.stopped_everywhere(cells) {
            let stopped = cells.iter().map(|cell| (*cell, stop));
            self.settled.stopped.extend(stopped);
            return Ok(());
        }
        if cells.len() > 1 {
            let half = split(cells);
            let (first, second) = cells.split_at_mut(half);
            self.settle(first, &own_open, &around_open)?;
            return self.settle(second, &own_open, &around_open);
        }
        match cells[0].halves() {
            Some(mut halves) => {
                self.settle(&mut halves[..1], &own_open, &around_open)?;
                self.settle(&mut halves[1..], &own_open, &around_open)
            }
            None => {
                self.settled.undecided.push(cells[0]);
                Ok(())
            }
        }
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
    fn stopped_everywhere(&self, cells: &[Cell]) -> Option<Stop> {
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
        let ask = |tip: &Vec3, [around_mm, above_mm]: [f64; 2]| {
            let in_part = part_from_own * nalgebra::Point3::from(middle + tip);
            [Some(own), self.around]
                .into_iter()
                .flatten()
                .find_map(|ground| {
                    let tip = (ground.approach_from_part * in_part).coords;
                    ground.stopped_around(&tip, [around_mm + spread_mm, above_mm + up_mm])
                })
        };
        match &self.contacts {
            Contacts::Line(first, last) => line_stopped(&ask, first, last, depth),
            Contacts::Disc { centre, radius_mm } => {
                square_stopped(&ask, centre, *radius_mm, (centre, *radius_mm), depth)
            }
            Contacts::None | Contacts::One(_) => None,
        }
    }
}

/// Tips to try, the middle one first.
fn candidates(contacts: &Contacts) -> Vec<Vec3> {
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
type AskAround<'a> = dyn Fn(&Vec3, [f64; 2]) -> Option<Stop> + 'a;

fn line_stopped(ask: &AskAround<'_>, first: &Vec3, last: &Vec3, depth: u32) -> Option<Stop> {
    let (middle, half) = ((first + last) * 0.5, (last - first) * 0.5);
    if let Some(stop) = ask(&middle, [half.xy().norm(), half.z.abs()]) {
        return Some(stop);
    }
    if depth == 0 {
        return None;
    }
    line_stopped(ask, first, &middle, depth - 1)?;
    line_stopped(ask, &middle, last, depth - 1)
}

/// Whether all tips of a disc that lie in a square are stopped.
fn square_stopped(
    ask: &AskAround<'_>,
    middle: &Vec3,
    half_mm: f64,
    disc: (&Vec3, f64),
    depth: u32,
) -> Option<Stop> {
    let reach_mm = half_mm * std::f64::consts::SQRT_2;
    if let Some(stop) = ask(middle, [reach_mm, 0.0]) {
        return Some(stop);
    }
    if depth == 0 {
        return None;
    }
    let quarter_mm = half_mm * 0.5;
    let mut found = None;
    for (x, y) in [(-1.0, -1.0), (1.0, -1.0), (-1.0, 1.0), (1.0, 1.0)] {
        let next = middle + Vec3::new(x, y, 0.0) * quarter_mm;
        let outside = (next - disc.0).norm() > disc.1 + quarter_mm * std::f64::consts::SQRT_2;
        if !outside {
            found = Some(square_stopped(ask, &next, quarter_mm, disc, depth - 1)?);
        }
    }
    found
}
