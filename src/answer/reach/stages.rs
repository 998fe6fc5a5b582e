//! One tool from one direction: first against the own part, then against all else at each seat.

use super::cells::Cell;
use super::cutter::Contacts;
use super::decide::{Ground, Settled, Stop};
use super::surface::Surface;
use crate::gap::CannotAsk;
use crate::setup::model::Tool;
use crate::value::Vec3;

/// How often the tips that touch one place are halved, to show that all of them are stopped.
const COVER_DEPTH: u32 = 4;

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
        let mut settled = self.own.settle(cells)?;
        self.try_others(&mut settled, None)?;
        Ok(settled)
    }

    /// Settles cells that are free of the own part against all else.
    ///
    /// # Errors
    /// As [`Ground::settle`].
    pub fn against_all(&self, free: Vec<Cell>, around: &Ground<'_>) -> Result<Settled, CannotAsk> {
        let mut settled = around.settle(free)?;
        self.try_others(&mut settled, Some(around))?;
        Ok(settled)
    }

    /// Tries other tips for what has a choice of them and was not free at the first.
    fn try_others(
        &self,
        settled: &mut Settled,
        around: Option<&Ground<'_>>,
    ) -> Result<(), CannotAsk> {
        let mut left: Vec<(Cell, Option<Stop>, Contacts)> = Vec::new();
        let mut kept_stopped = Vec::new();
        for (cell, stop) in settled.stopped.drain(..) {
            match self.choice(&cell) {
                Some(contacts) => left.push((cell, Some(stop), contacts)),
                None => kept_stopped.push((cell, stop)),
            }
        }
        settled.stopped = kept_stopped;
        let mut kept_undecided = Vec::new();
        for cell in settled.undecided.drain(..) {
            match self.choice(&cell) {
                Some(contacts) => left.push((cell, None, contacts)),
                None => kept_undecided.push(cell),
            }
        }
        settled.undecided = kept_undecided;
        if left.is_empty() {
            return Ok(());
        }
        // Heaps of one plane have one choice of tips.
        left.sort_by_key(|(cell, _, _)| cell.plane);
        for heap in left.chunk_by(|a, b| a.0.plane == b.0.plane) {
            self.try_heap(heap, settled, around)?;
        }
        Ok(())
    }

    fn try_heap(
        &self,
        heap: &[(Cell, Option<Stop>, Contacts)],
        settled: &mut Settled,
        around: Option<&Ground<'_>>,
    ) -> Result<(), CannotAsk> {
        let contacts = &heap[0].2;
        // With no place to go beyond the grain, a tip is as good as its neighbour.
        let mut cells: Vec<Cell> = heap.iter().map(|(cell, _, _)| *cell).collect();
        for tip in others(contacts) {
            if cells.is_empty() {
                return Ok(());
            }
            let part_from_approach = self.own.approach_from_part.rotation.inverse();
            for cell in &mut cells {
                cell.tip_from_point = part_from_approach * tip;
            }
            let mut now = self.own.settle_quickly(std::mem::take(&mut cells))?;
            if let Some(around) = around {
                let all = around.settle_quickly(std::mem::take(&mut now.free))?;
                now.free = all.free;
                now.stopped.extend(all.stopped);
                now.undecided.extend(all.undecided);
            }
            settled.free.extend(now.free);
            cells = now.stopped.into_iter().map(|(cell, _)| cell).collect();
            cells.extend(now.undecided);
        }
        let stop = heap.iter().find_map(|(_, stop, _)| *stop);
        for cell in cells {
            self.cover(cell, contacts, around, stop, settled);
        }
        Ok(())
    }

    /// Shows piece by piece that the tool is stopped at every tip that touches a cell.
    fn cover(
        &self,
        cell: Cell,
        contacts: &Contacts,
        around: Option<&Ground<'_>>,
        stop: Option<Stop>,
        settled: &mut Settled,
    ) {
        let middle = (cell.corners[0] + cell.corners[1] + cell.corners[2]) / 3.0;
        let away = |corner: &Vec3| (corner - middle).norm();
        let spread_mm = cell.corners.iter().map(away).fold(0.0, f64::max);
        if spread_mm <= self.tool.diameter_mm * 0.125
            && let Some(found) = self.stopped_everywhere(&middle, spread_mm, contacts, around)
        {
            return settled.stopped.push((cell, stop.unwrap_or(found)));
        }
        match cell.halves(self.own.grain_mm) {
            Some(halves) => {
                for half in halves {
                    self.cover(half, contacts, around, stop, settled);
                }
            }
            None => settled.undecided.push(cell),
        }
    }

    fn choice(&self, cell: &Cell) -> Option<Contacts> {
        let contacts = self
            .surface
            .contacts_of(cell, self.tool, &self.own.approach_from_part);
        matches!(contacts, Contacts::Line(..) | Contacts::Disc { .. }).then_some(contacts)
    }

    /// Whether the tool is surely stopped at every tip that touches any point within `spread_mm`
    /// of one.
    fn stopped_everywhere(
        &self,
        middle: &Vec3,
        spread_mm: f64,
        contacts: &Contacts,
        around: Option<&Ground<'_>>,
    ) -> Option<Stop> {
        let ask = |tip: &Vec3, around_mm: f64| {
            let part_from_approach = self.own.approach_from_part.rotation.inverse();
            let in_part = nalgebra::Point3::from(middle + part_from_approach * tip);
            [Some(self.own), around].into_iter().flatten().find_map(|ground| {
                let tip = (ground.approach_from_part * in_part).coords;
                ground.stopped_around(&tip, around_mm + spread_mm)
            })
        };
        match contacts {
            Contacts::Line(first, last) => line_stopped(&ask, first, last, COVER_DEPTH),
            Contacts::Disc { centre, radius_mm } => {
                square_stopped(&ask, centre, *radius_mm, (centre, *radius_mm), COVER_DEPTH)
            }
            Contacts::None | Contacts::One(_) => None,
        }
    }
}

/// Tips to try after the first.
fn others(contacts: &Contacts) -> Vec<Vec3> {
    match contacts {
        Contacts::Line(first, last) => [0.25, 0.75, 0.02, 0.98]
            .map(|share| first + (last - first) * share)
            .to_vec(),
        Contacts::Disc { centre, radius_mm } => {
            let ring = |count: u32, share: f64| {
                (0..count).map(move |k| {
                    let turn = f64::from(k) / f64::from(count);
                    let (sin, cos) = (turn * std::f64::consts::TAU).sin_cos();
                    centre + Vec3::new(cos, sin, 0.0) * (radius_mm * share)
                })
            };
            // The second ring is for what the first left.
            ring(8, 0.999).chain(ring(16, 0.999).skip(1).step_by(2)).collect()
        }
        Contacts::None | Contacts::One(_) => Vec::new(),
    }
}

fn line_stopped(
    ask: &dyn Fn(&Vec3, f64) -> Option<Stop>,
    first: &Vec3,
    last: &Vec3,
    depth: u32,
) -> Option<Stop> {
    let middle = (first + last) * 0.5;
    if let Some(stop) = ask(&middle, (last - first).norm() * 0.5) {
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
    ask: &dyn Fn(&Vec3, f64) -> Option<Stop>,
    middle: &Vec3,
    half_mm: f64,
    disc: (&Vec3, f64),
    depth: u32,
) -> Option<Stop> {
    let reach_mm = half_mm * std::f64::consts::SQRT_2;
    if let Some(stop) = ask(middle, reach_mm) {
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
