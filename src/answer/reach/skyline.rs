//! Heights of real points of bodies, seen against the approach: a quick proof that a tip is stopped.
//!
//! A raster of vertical lines. On each stands the highest point where it meets a surface, and the
//! highest of any other owner (so that one seat's own part can be left out). Every height belongs to
//! a point that is really there, so that a tool which comes down over it is surely stopped. What
//! lies between the lines is not seen: nothing is ever called free here.

use super::cutter::Fill;
use crate::mesh::Mesh;
use crate::value::Pose;
use nalgebra::Point3;

/// Heights are lowered by this when they are kept as `f32`: more than its rounding below 1e4 mm.
const LOWERED_MM: f64 = 2e-3;

/// Side of a block of lines, for skipping.
const BLOCK: usize = 8;

#[derive(Debug, Clone, Copy)]
struct Line {
    high_mm: [f32; 2],
    body: [u16; 2],
}

const EMPTY: Line = Line {
    high_mm: [f32::NEG_INFINITY; 2],
    body: [u16::MAX; 2],
};

/// A body as the skyline sees it.
#[derive(Debug)]
pub struct SkylineBody<'b> {
    /// Its triangles.
    pub mesh: &'b Mesh,
    /// `approach_from_body`: z points to the spindle.
    pub approach_from_body: Pose,
    /// Bodies of one owner can be left out together.
    pub owner: u16,
}

/// Raster of greatest heights.
#[derive(Debug)]
pub struct Skyline {
    low: [f64; 2],
    step_mm: f64,
    count: [usize; 2],
    lines: Vec<Line>,
    blocks: Vec<f32>,
    block_count: [usize; 2],
    owner_of: Vec<u16>,
}

impl Skyline {
    /// Draws bodies on a raster of about `step_mm`, no more than `most` lines.
    #[must_use]
    pub fn new(bodies: &[SkylineBody<'_>], step_mm: f64, most: usize) -> Self {
        let mut low = [f64::INFINITY; 2];
        let mut high = [f64::NEG_INFINITY; 2];
        for body in bodies {
            for vertex in &body.mesh.vertices {
                let at = body.approach_from_body * vertex;
                for axis in 0..2 {
                    low[axis] = low[axis].min(at[axis]);
                    high[axis] = high[axis].max(at[axis]);
                }
            }
        }
        let size = [0, 1].map(|axis| (high[axis] - low[axis]).max(0.0));
        let coarse_mm = (size[0] * size[1] / most as f64).sqrt();
        let step_mm = step_mm.max(coarse_mm);
        let count = size.map(|size| (size / step_mm) as usize + 1);
        let block_count = count.map(|count| count.div_ceil(BLOCK));
        let mut skyline = Self {
            low,
            step_mm,
            count,
            lines: vec![EMPTY; count[0] * count[1]],
            blocks: vec![f32::NEG_INFINITY; block_count[0] * block_count[1]],
            block_count,
            owner_of: bodies.iter().map(|body| body.owner).collect(),
        };
        for (index, body) in bodies.iter().enumerate() {
            skyline.draw(index as u16, body);
        }
        skyline.close();
        skyline
    }

    fn draw(&mut self, index: u16, body: &SkylineBody<'_>) {
        let points: Vec<Point3<f64>> = body
            .mesh
            .vertices
            .iter()
            .map(|vertex| body.approach_from_body * vertex)
            .collect();
        for corners in &body.mesh.triangles {
            self.draw_triangle(index, corners.map(|corner| points[corner as usize]));
        }
    }

    /// Marks every line that meets the triangle.
    fn draw_triangle(&mut self, body: u16, [a, b, c]: [Point3<f64>; 3]) {
        let normal = (b - a).cross(&(c - a));
        if normal.z.abs() <= 1e-12 * normal.norm() || normal.z == 0.0 {
            return;
        }
        let range = |axis: usize| {
            let (low, high) = (
                a[axis].min(b[axis]).min(c[axis]),
                a[axis].max(b[axis]).max(c[axis]),
            );
            let from = ((low - self.low[axis]) / self.step_mm).ceil().max(0.0) as usize;
            let to = (((high - self.low[axis]) / self.step_mm).floor().max(-1.0) + 1.0) as usize;
            (from, to.min(self.count[axis]))
        };
        let ((from_x, to_x), (from_y, to_y)) = (range(0), range(1));
        for row in from_y..to_y {
            let y = self.low[1] + row as f64 * self.step_mm;
            for column in from_x..to_x {
                let x = self.low[0] + column as f64 * self.step_mm;
                let side = |p: &Point3<f64>, q: &Point3<f64>| {
                    (q.x - p.x) * (y - p.y) - (q.y - p.y) * (x - p.x)
                };
                let weights = [side(&b, &c), side(&c, &a), side(&a, &b)];
                // Only points well within: a wrong sign at an edge would invent a point.
                let margin = 1e-9 * normal.z.abs();
                let inside = weights.iter().all(|&weight| weight >= margin)
                    || weights.iter().all(|&weight| weight <= -margin);
                if inside {
                    let total: f64 = weights.iter().sum();
                    let height = (weights[0] * a.z + weights[1] * b.z + weights[2] * c.z) / total;
                    self.mark(row * self.count[0] + column, body, height);
                }
            }
        }
    }

    fn mark(&mut self, at: usize, body: u16, height: f64) {
        let owner = self.owner_of[body as usize];
        let height = (height - LOWERED_MM) as f32;
        let line = &mut self.lines[at];
        let same_as_first =
            line.body[0] != u16::MAX && self.owner_of[line.body[0] as usize] == owner;
        if height > line.high_mm[0] {
            if !same_as_first {
                line.high_mm[1] = line.high_mm[0];
                line.body[1] = line.body[0];
            }
            line.high_mm[0] = height;
            line.body[0] = body;
        } else if !same_as_first && height > line.high_mm[1] {
            line.high_mm[1] = height;
            line.body[1] = body;
        }
    }

    fn close(&mut self) {
        for row in 0..self.count[1] {
            for column in 0..self.count[0] {
                let block = (row / BLOCK) * self.block_count[0] + column / BLOCK;
                let high = self.lines[row * self.count[0] + column].high_mm[0];
                self.blocks[block] = self.blocks[block].max(high);
            }
        }
    }

    /// An element and a body that surely stop the tool at all of some tips.
    ///
    /// # Guarantees
    /// Where there is an answer, at each of these tips the element (as `fill` has it) meets the
    /// body there or on the way down. No answer means nothing.
    #[must_use]
    pub fn stop(&self, fill: &Fill, tips: &Tips) -> Option<(usize, usize)> {
        let Tips {
            centre, around_mm, ..
        } = *tips;
        let radius_mm = fill.radius_mm() - around_mm;
        if radius_mm < 0.0 || self.lines.is_empty() {
            return None;
        }
        let range = |axis: usize| {
            let at = |value: f64| (value - self.low[axis]) / self.step_mm;
            let from = at(centre[axis] - radius_mm).ceil().max(0.0);
            let to = at(centre[axis] + radius_mm).floor() + 1.0;
            (from as usize, (to.max(0.0) as usize).min(self.count[axis]))
        };
        let ((from_x, to_x), (from_y, to_y)) = (range(0), range(1));
        if from_x >= to_x || from_y >= to_y {
            return None;
        }
        for block_y in from_y / BLOCK..=(to_y - 1) / BLOCK {
            for block_x in from_x / BLOCK..=(to_x - 1) / BLOCK {
                let high = f64::from(self.blocks[block_y * self.block_count[0] + block_x]);
                let near_mm = self.block_distance_mm(block_x, block_y, centre);
                let possible = fill
                    .at(near_mm + around_mm)
                    .is_some_and(|(height, _)| high >= tips.highest_mm + height);
                if !possible {
                    continue;
                }
                let rows = (block_y * BLOCK).max(from_y)..((block_y + 1) * BLOCK).min(to_y);
                for row in rows {
                    let columns = (block_x * BLOCK).max(from_x)..((block_x + 1) * BLOCK).min(to_x);
                    for column in columns {
                        let found = self.line_stop(fill, row, column, tips);
                        if found.is_some() {
                            return found;
                        }
                    }
                }
            }
        }
        None
    }

    fn block_distance_mm(&self, block_x: usize, block_y: usize, centre: [f64; 2]) -> f64 {
        let away = |axis: usize, block: usize| {
            let low = self.low[axis] + (block * BLOCK) as f64 * self.step_mm;
            let high = low + (BLOCK - 1) as f64 * self.step_mm;
            (low - centre[axis]).max(centre[axis] - high).max(0.0)
        };
        away(0, block_x).hypot(away(1, block_y))
    }

    fn line_stop(
        &self,
        fill: &Fill,
        row: usize,
        column: usize,
        tips: &Tips,
    ) -> Option<(usize, usize)> {
        let line = &self.lines[row * self.count[0] + column];
        let first_owner = self.owner_of.get(line.body[0] as usize).copied();
        let which = usize::from(tips.without.is_some() && first_owner == tips.without);
        let high = f64::from(line.high_mm[which]);
        if high < tips.highest_mm {
            return None;
        }
        let x = self.low[0] + column as f64 * self.step_mm - tips.centre[0];
        let y = self.low[1] + row as f64 * self.step_mm - tips.centre[1];
        let (height, element) = fill.at(x.hypot(y) + tips.around_mm)?;
        (high >= tips.highest_mm + height).then_some((element, line.body[which] as usize))
    }
}

/// Tips that are asked about together.
#[derive(Debug, Clone, Copy)]
pub struct Tips {
    /// Where they are, across the approach.
    pub centre: [f64; 2],
    /// How far any of them is from there, across the approach.
    pub around_mm: f64,
    /// No tip is higher.
    pub highest_mm: f64,
    /// Owner whose bodies are left out.
    pub without: Option<u16>,
}
