//! Builds the tree: bins along the longest side, split where the surface cost is least.

use super::tree::{Bounds, Node, Tree, WIDE};
use crate::mesh::Mesh;
use crate::value::Vec3;
use rayon::prelude::*;

/// Most triangles in a leaf.
pub(super) const LEAF_MAX: usize = 4;
const BINS: usize = 16;
/// Up to this many triangles are halved at the middle of their centres: bins would cost more than
/// they gain. Measured with the `gap` bench, 1.2 million triangles on one thread: 235 ms of
/// processor time in the splits against 295 with bins down to leaves, and queries no slower.
const HALVE_MAX: usize = 24;
/// Below this many triangles a subtree is built on one thread.
const ALONE_MAX: usize = 16_384;

/// Box of a triangle; the fourth number of `low` holds its index, so that four run side by side.
#[derive(Clone, Copy)]
struct Item {
    low: [f32; 4],
    high: [f32; 4],
}

impl Item {
    fn number(&self) -> u32 {
        self.low[3].to_bits()
    }

    fn twice_centre(&self) -> [f32; 4] {
        let [x, y, z, _] = self.low;
        [x + self.high[0], y + self.high[1], z + self.high[2], 0.0]
    }
}

#[derive(Clone, Copy)]
struct Hull {
    low: [f32; 4],
    high: [f32; 4],
}

impl Hull {
    const EMPTY: Self = Self {
        low: [f32::INFINITY; 4],
        high: [f32::NEG_INFINITY; 4],
    };

    /// Plain comparisons in place of `min` and `max`, which would look after NaN.
    fn add(&mut self, low: &[f32; 4], high: &[f32; 4]) {
        for axis in 0..4 {
            self.low[axis] = if low[axis] < self.low[axis] {
                low[axis]
            } else {
                self.low[axis]
            };
            self.high[axis] = if high[axis] > self.high[axis] {
                high[axis]
            } else {
                self.high[axis]
            };
        }
    }

    fn join(&mut self, other: &Self) {
        self.add(&other.low, &other.high);
    }

    fn side(&self, axis: usize) -> f32 {
        self.high[axis] - self.low[axis]
    }

    fn half_area(&self) -> f32 {
        let [x, y, z] = [0, 1, 2].map(|axis| self.side(axis).max(0.0));
        x * y + y * z + z * x
    }
}

/// A box of items with the box of their (doubled) centres.
#[derive(Clone, Copy)]
struct Hulls {
    hull: Hull,
    centres: Hull,
}

impl Hulls {
    const EMPTY: Self = Self {
        hull: Hull::EMPTY,
        centres: Hull::EMPTY,
    };

    fn add(&mut self, item: &Item) {
        let centre = item.twice_centre();
        self.hull.add(&item.low, &item.high);
        self.centres.add(&centre, &centre);
    }

    fn join(&mut self, other: &Self) {
        self.hull.join(&other.hull);
        self.centres.join(&other.centres);
    }

    fn of(items: &[Item]) -> Self {
        let mut hulls = Self::EMPTY;
        items.iter().for_each(|item| hulls.add(item));
        hulls
    }
}

/// A run of items with its boxes.
#[derive(Clone, Copy)]
struct Run {
    from: usize,
    to: usize,
    hulls: Hulls,
}

impl Run {
    fn len(&self) -> usize {
        self.to - self.from
    }
}

pub(super) fn build(mesh: &Mesh) -> Tree {
    let item = |(number, corners): (usize, &[u32; 3])| {
        let [a, b, c] = corners.map(|corner| mesh.vertices[corner as usize]);
        let mut item = Item {
            low: [0.0; 4],
            high: [0.0; 4],
        };
        for axis in 0..3 {
            item.low[axis] = round_down(a[axis].min(b[axis]).min(c[axis]));
            item.high[axis] = round_up(a[axis].max(b[axis]).max(c[axis]));
        }
        item.low[3] = f32::from_bits(number as u32);
        item
    };
    let mut items: Vec<Item> = mesh.triangles.par_iter().enumerate().map(item).collect();
    let whole = Run {
        from: 0,
        to: items.len(),
        hulls: Hulls::of(&items),
    };
    let mut nodes = Vec::with_capacity(items.len() / 8 + 1);
    build_node(&mut items, 0, whole.hulls, &mut nodes);
    let slot = |item: &Item| {
        let [a, b, c] = mesh.triangles[item.number() as usize];
        [a, b, c, item.number()]
    };
    let slots = items.par_iter().map(slot).collect();
    let corner = |values: [f32; 4]| Vec3::from_fn(|axis, _| f64::from(values[axis]));
    let (low, high) = (corner(whole.hulls.hull.low), corner(whole.hulls.hull.high));
    let bounds = Bounds {
        centre: (low + high) * 0.5,
        half: (high - low) * 0.5,
    };
    Tree {
        nodes,
        slots,
        bounds,
    }
}

fn round_down(value: f64) -> f32 {
    let near = value as f32;
    if f64::from(near) > value {
        near.next_down()
    } else {
        near
    }
}

fn round_up(value: f64) -> f32 {
    let near = value as f32;
    if f64::from(near) < value {
        near.next_up()
    } else {
        near
    }
}

/// Builds the node of `items`, whose first slot is `base`, and everything below it.
fn build_node(items: &mut [Item], base: usize, hulls: Hulls, nodes: &mut Vec<Node>) {
    let index = nodes.len();
    nodes.push(Node::EMPTY);
    let whole = Run {
        from: 0,
        to: items.len(),
        hulls,
    };
    let runs = split_wide(items, whole);
    let mut node = Node::EMPTY;
    node.len = runs.len() as u8;
    for (child, run) in runs.iter().enumerate() {
        for axis in 0..3 {
            node.low[axis][child] = run.hulls.hull.low[axis];
            node.high[axis][child] = run.hulls.hull.high[axis];
        }
        if run.len() <= LEAF_MAX {
            node.count[child] = run.len() as u8;
            node.child[child] = (base + run.from) as u32;
        }
    }
    if items.len() > ALONE_MAX {
        build_below_shared(items, base, &runs, &mut node, nodes);
    } else {
        for (child, run) in runs
            .iter()
            .enumerate()
            .filter(|(_, run)| run.len() > LEAF_MAX)
        {
            node.child[child] = nodes.len() as u32;
            let part = &mut items[run.from..run.to];
            build_node(part, base + run.from, run.hulls, nodes);
        }
    }
    nodes[index] = node;
}

/// Builds the children on all threads, each in its own list, and joins the lists in order.
fn build_below_shared(
    items: &mut [Item],
    base: usize,
    runs: &[Run],
    node: &mut Node,
    nodes: &mut Vec<Node>,
) {
    let mut rest = items;
    let mut parts = Vec::new();
    for (child, run) in runs.iter().enumerate() {
        let (part, after) = rest.split_at_mut(run.len());
        rest = after;
        if run.len() > LEAF_MAX {
            parts.push((child, *run, part));
        }
    }
    let build_part = |(child, run, part): (usize, Run, &mut [Item])| {
        let mut below = Vec::with_capacity(part.len() / 8 + 1);
        build_node(part, base + run.from, run.hulls, &mut below);
        (child, below)
    };
    let built: Vec<(usize, Vec<Node>)> = parts.into_par_iter().map(build_part).collect();
    for (child, mut below) in built {
        let offset = nodes.len() as u32;
        node.child[child] = offset;
        for inner in &mut below {
            for slot in 0..inner.len() {
                if inner.count[slot] == 0 {
                    inner.child[slot] += offset;
                }
            }
        }
        nodes.append(&mut below);
    }
}

/// Splits a run into up to eight, the one with the largest surface first.
fn split_wide(items: &mut [Item], whole: Run) -> Vec<Run> {
    let mut runs = vec![whole];
    while runs.len() < WIDE {
        let mut chosen = None;
        let mut chosen_area = -1.0;
        for (index, run) in runs.iter().enumerate() {
            if run.len() > LEAF_MAX && run.hulls.hull.half_area() > chosen_area {
                chosen = Some(index);
                chosen_area = run.hulls.hull.half_area();
            }
        }
        let Some(index) = chosen else { break };
        let (left, right) = split(items, &runs[index]);
        runs[index] = left;
        runs.insert(index + 1, right);
    }
    runs
}

fn split(items: &mut [Item], run: &Run) -> (Run, Run) {
    let part = &mut items[run.from..run.to];
    let centres = &run.hulls.centres;
    let longest = |best: usize, axis: usize| {
        if centres.side(axis) > centres.side(best) {
            axis
        } else {
            best
        }
    };
    let axis = (1..3).fold(0, longest);
    let scale = BINS as f32 / centres.side(axis);
    let apart = centres.side(axis) > 0.0 && scale.is_finite();
    let (count, left, right) = if !apart {
        let count = part.len() / 2;
        (count, Hulls::of(&part[..count]), Hulls::of(&part[count..]))
    } else if part.len() <= HALVE_MAX {
        let middle = centres.low[axis] + centres.side(axis) * 0.5;
        let count = partition(part, |item| item.low[axis] + item.high[axis] < middle);
        let count = if count == 0 || count == part.len() {
            part.len() / 2
        } else {
            count
        };
        (count, Hulls::of(&part[..count]), Hulls::of(&part[count..]))
    } else {
        split_binned(
            part,
            Bins {
                axis,
                start: centres.low[axis],
                scale,
            },
        )
    };
    let middle = run.from + count;
    (
        Run {
            from: run.from,
            to: middle,
            hulls: left,
        },
        Run {
            from: middle,
            to: run.to,
            hulls: right,
        },
    )
}

#[derive(Clone, Copy)]
struct Bins {
    axis: usize,
    start: f32,
    scale: f32,
}

impl Bins {
    fn bin(&self, item: &Item) -> usize {
        let twice = item.low[self.axis] + item.high[self.axis];
        (((twice - self.start) * self.scale) as usize).min(BINS - 1)
    }
}

/// Splits at the bin border with the least surface cost. The first and the last bin hold an item
/// each, as the bins span the centres, so no side is empty.
fn split_binned(items: &mut [Item], bins: Bins) -> (usize, Hulls, Hulls) {
    let mut hulls = [Hulls::EMPTY; BINS];
    let mut counts = [0_usize; BINS];
    for item in items.iter() {
        let bin = bins.bin(item);
        hulls[bin].add(item);
        counts[bin] += 1;
    }
    let mut rights = [Hulls::EMPTY; BINS];
    let mut right_costs = [0.0_f32; BINS];
    let (mut right, mut count) = (Hulls::EMPTY, 0);
    for bin in (1..BINS).rev() {
        right.join(&hulls[bin]);
        count += counts[bin];
        rights[bin] = right;
        right_costs[bin] = right.hull.half_area() * count as f32;
    }
    let (mut left, mut count) = (Hulls::EMPTY, 0);
    let mut best = (f32::INFINITY, 0, hulls[0], rights[1]);
    for bin in 0..BINS - 1 {
        left.join(&hulls[bin]);
        count += counts[bin];
        let cost = left.hull.half_area() * count as f32 + right_costs[bin + 1];
        if cost < best.0 {
            best = (cost, bin, left, rights[bin + 1]);
        }
    }
    let (_, last_left, left, right) = best;
    let count = partition(items, |item| bins.bin(item) <= last_left);
    if count == 0 || count == items.len() {
        let count = items.len() / 2;
        return (
            count,
            Hulls::of(&items[..count]),
            Hulls::of(&items[count..]),
        );
    }
    (count, left, right)
}

/// Moves the items that go left to the front; returns how many there are.
fn partition(items: &mut [Item], goes_left: impl Fn(&Item) -> bool) -> usize {
    let (mut left, mut right) = (0, items.len());
    while left < right {
        if goes_left(&items[left]) {
            left += 1;
        } else {
            right -= 1;
            items.swap(left, right);
        }
    }
    left
}
