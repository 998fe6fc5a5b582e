//! Builds the tree: bins along the longest side, split where the surface cost is least.

use super::tree::{Bounds, Node, Tree, WIDE};
use crate::mesh::Mesh;
use crate::value::Vec3;
use rayon::prelude::*;

/// Most triangles in a leaf.
pub(super) const LEAF_MAX: usize = 4;
const BINS: usize = 16;
/// Below this many triangles a subtree is built on one thread.
const ALONE_MAX: usize = 16_384;

#[derive(Clone, Copy)]
struct Item {
    low: [f32; 3],
    high: [f32; 3],
    number: u32,
}

#[derive(Clone, Copy)]
struct Hull {
    low: [f32; 3],
    high: [f32; 3],
}

impl Hull {
    const EMPTY: Self = Self {
        low: [f32::INFINITY; 3],
        high: [f32::NEG_INFINITY; 3],
    };

    fn add(&mut self, low: &[f32; 3], high: &[f32; 3]) {
        for axis in 0..3 {
            self.low[axis] = self.low[axis].min(low[axis]);
            self.high[axis] = self.high[axis].max(high[axis]);
        }
    }

    fn half_area(&self) -> f32 {
        let [x, y, z] = [0, 1, 2].map(|axis| (self.high[axis] - self.low[axis]).max(0.0));
        x * y + y * z + z * x
    }
}

impl Item {
    fn twice_centre(&self, axis: usize) -> f32 {
        self.low[axis] + self.high[axis]
    }
}

/// A run of items with its box and the box of its (doubled) centres.
#[derive(Clone, Copy)]
struct Run {
    from: usize,
    to: usize,
    hull: Hull,
    centres: Hull,
}

impl Run {
    fn new(items: &[Item], from: usize, to: usize) -> Self {
        let (mut hull, mut centres) = (Hull::EMPTY, Hull::EMPTY);
        for item in &items[from..to] {
            hull.add(&item.low, &item.high);
            let centre = [0, 1, 2].map(|axis| item.twice_centre(axis));
            centres.add(&centre, &centre);
        }
        Self {
            from,
            to,
            hull,
            centres,
        }
    }

    fn len(&self) -> usize {
        self.to - self.from
    }
}

pub(super) fn build(mesh: &Mesh) -> Tree {
    let item = |(number, corners): (usize, &[u32; 3])| {
        let [a, b, c] = corners.map(|corner| mesh.vertices[corner as usize]);
        let mut item = Item {
            low: [0.0; 3],
            high: [0.0; 3],
            number: number as u32,
        };
        for axis in 0..3 {
            item.low[axis] = round_down(a[axis].min(b[axis]).min(c[axis]));
            item.high[axis] = round_up(a[axis].max(b[axis]).max(c[axis]));
        }
        item
    };
    let mut items: Vec<Item> = mesh.triangles.par_iter().enumerate().map(item).collect();
    let whole = Run::new(&items, 0, items.len());
    let mut nodes = Vec::with_capacity(items.len() / 8 + 1);
    build_node(&mut items, 0, whole.hull, whole.centres, &mut nodes);
    let slot = |item: &Item| {
        let [a, b, c] = mesh.triangles[item.number as usize];
        [a, b, c, item.number]
    };
    let slots = items.par_iter().map(slot).collect();
    let corner = |values: [f32; 3]| Vec3::from_fn(|axis, _| f64::from(values[axis]));
    let (low, high) = (corner(whole.hull.low), corner(whole.hull.high));
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
fn build_node(items: &mut [Item], base: usize, hull: Hull, centres: Hull, nodes: &mut Vec<Node>) {
    let index = nodes.len();
    nodes.push(Node::EMPTY);
    let whole = Run {
        from: 0,
        to: items.len(),
        hull,
        centres,
    };
    let runs = split_wide(items, whole);
    let mut node = Node::EMPTY;
    node.len = runs.len() as u8;
    for (child, run) in runs.iter().enumerate() {
        for axis in 0..3 {
            node.low[axis][child] = run.hull.low[axis];
            node.high[axis][child] = run.hull.high[axis];
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
            build_node(part, base + run.from, run.hull, run.centres, nodes);
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
        build_node(part, base + run.from, run.hull, run.centres, &mut below);
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
            if run.len() > LEAF_MAX && run.hull.half_area() > chosen_area {
                chosen = Some(index);
                chosen_area = run.hull.half_area();
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
    let middle = best_cut(items, run).map_or(run.from + run.len() / 2, |cut| {
        let part = &mut items[run.from..run.to];
        run.from + partition(part, |item| cut.bin(item) <= cut.last_left)
    });
    (
        Run::new(items, run.from, middle),
        Run::new(items, middle, run.to),
    )
}

struct Cut {
    axis: usize,
    start: f32,
    scale: f32,
    last_left: usize,
}

impl Cut {
    fn bin(&self, item: &Item) -> usize {
        let place = (item.twice_centre(self.axis) - self.start) * self.scale;
        (place as usize).min(BINS - 1)
    }
}

/// The cut with the least surface cost; `None` where the centres cannot be told apart.
fn best_cut(items: &[Item], run: &Run) -> Option<Cut> {
    let sides = [0, 1, 2].map(|axis| run.centres.high[axis] - run.centres.low[axis]);
    let axis = (0..3).max_by(|&i, &j| sides[i].total_cmp(&sides[j]))?;
    let scale = BINS as f32 / sides[axis];
    if !(sides[axis] > 0.0 && scale.is_finite()) {
        return None;
    }
    let mut cut = Cut {
        axis,
        start: run.centres.low[axis],
        scale,
        last_left: 0,
    };
    let mut hulls = [Hull::EMPTY; BINS];
    let mut counts = [0_usize; BINS];
    for item in &items[run.from..run.to] {
        let bin = cut.bin(item);
        hulls[bin].add(&item.low, &item.high);
        counts[bin] += 1;
    }
    let mut right_cost = [0.0_f32; BINS];
    let (mut hull, mut count) = (Hull::EMPTY, 0);
    for bin in (1..BINS).rev() {
        hull.add(&hulls[bin].low, &hulls[bin].high);
        count += counts[bin];
        right_cost[bin] = if count > 0 {
            hull.half_area() * count as f32
        } else {
            f32::NAN
        };
    }
    let (mut hull, mut count) = (Hull::EMPTY, 0);
    let mut best = f32::INFINITY;
    for bin in 0..BINS - 1 {
        hull.add(&hulls[bin].low, &hulls[bin].high);
        count += counts[bin];
        let cost = hull.half_area() * count as f32 + right_cost[bin + 1];
        if count > 0 && cost < best {
            best = cost;
            cut.last_left = bin;
        }
    }
    best.is_finite().then_some(cut)
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
