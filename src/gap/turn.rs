//! The second group turns: best first over (part of a, part of b, interval of angle).
//!
//! Three lower values hold for a pair over an interval, and the greatest serves:
//! 1. Along a turn the axial position and the radius about the rotary axis of each point do not
//!    change, so the difference of the (axial, radius) intervals holds at every angle.
//! 2. A point at radius r moves by 2 r sin(delta / 4) at most from the middle of an interval to
//!    its ends. Turning b forward or a backward changes no distance, so the smaller r serves.
//! 3. An arc lies within r (1 - cos(delta / 2)) of its chord, so a leaf over the interval lies in
//!    the hull of its two ends grown by that; the spread adds to the other leaf. All are convex.
//!
//! Upper values come only from leaves at angles really taken.

use super::ask::Turn;
use super::bounds::{Envelope, box_box_mm, piece_apart_mm};
use super::convex::nearest;
use super::rest::{Relative, around, leaf_pair};
use super::search::{Pairing, Search};
use super::shape::{Placed, Shape};
use super::sweep::{Ends, Leaf, Posed, PosedSwept, Sweep};
use super::tree::{Bounds, Child};
use crate::value::{Pose, Vec3, about_axis};
use nalgebra::Point3;
use std::cmp::Ordering;
use std::collections::BinaryHeap;

/// The rotary axis, with a unit direction.
#[derive(Debug, Clone, Copy)]
pub(super) struct Axis {
    pub centre: Point3<f64>,
    pub direction: Vec3,
}

impl Axis {
    fn seen_from(&self, body_from_common: &Pose) -> Self {
        Self {
            centre: body_from_common * self.centre,
            direction: body_from_common.rotation * self.direction,
        }
    }
}

/// Interval of axial position and of radius about the rotary axis.
#[derive(Debug, Clone, Copy)]
struct Orbit {
    axial: (f64, f64),
    radial: (f64, f64),
}

impl Orbit {
    /// Of a set given by its reach along unit directions, with a point to look at.
    fn new(axis: &Axis, middle: &Vec3, reach: impl Fn(&Vec3) -> f64) -> Self {
        let along = &axis.direction;
        let start = axis.centre.coords.dot(along);
        let axial = (-reach(&-along) - start, reach(along) - start);
        let away = middle - axis.centre.coords;
        let away = away - along * away.dot(along);
        let out = away
            .try_normalize(1e-9)
            .unwrap_or_else(|| any_across(along));
        let side = along.cross(&out);
        let from = |direction: &Vec3| reach(direction) - axis.centre.coords.dot(direction);
        let width = from(&side).abs().max(from(&-side).abs());
        let (near, far) = (-from(&-out), from(&out));
        let farthest = far.abs().max(near.abs()).hypot(width);
        let size = 1e-13 * (axis.centre.coords.amax() + middle.amax() + farthest);
        Self {
            axial: (axial.0 - size, axial.1 + size),
            radial: ((near - size).max(0.0), farthest + size),
        }
    }

    fn apart_mm(&self, other: &Self) -> f64 {
        let gap = |p: (f64, f64), q: (f64, f64)| (p.0 - q.1).max(q.0 - p.1).max(0.0);
        gap(self.axial, other.axial).hypot(gap(self.radial, other.radial)) * (1.0 - 1e-15)
    }
}

fn any_across(along: &Vec3) -> Vec3 {
    let helper = if along.x.abs() < 0.6 {
        Vec3::x()
    } else {
        Vec3::y()
    };
    along.cross(&helper).normalize()
}

#[derive(Debug, Clone, Copy)]
enum What {
    Inner(u32),
    Triangle(u32),
    Piece(u32),
}

/// A part of a body, as far as it has been opened.
#[derive(Debug, Clone, Copy)]
struct Item {
    body: u32,
    what: What,
    bounds: Bounds,
    orbit: Orbit,
}

impl Item {
    fn is_leaf(&self) -> bool {
        !matches!(self.what, What::Inner(_))
    }
}

/// A group prepared for the search.
struct Team<'a> {
    bodies: &'a [Placed],
    axes: Vec<Axis>,
    sweeps: Vec<Sweep>,
    envelopes: Vec<Option<Envelope<'a>>>,
    items: Vec<Item>,
    /// Where the children of an opened item are.
    opened: Vec<Option<(u32, u32)>>,
}

impl<'a> Team<'a> {
    fn new(bodies: &'a [Placed], axis: &Axis, sweep: &Sweep) -> Self {
        let mut axes = Vec::new();
        let mut sweeps = Vec::new();
        let mut envelopes = Vec::new();
        for body in bodies {
            let body_from_common = body.common_from_body.inverse();
            axes.push(axis.seen_from(&body_from_common));
            let own = sweep.turned(&body_from_common.rotation);
            envelopes.push(match &body.shape {
                Shape::Revolved(tool) => Some(Envelope::new(tool, &own)),
                Shape::Mesh(_) => None,
            });
            sweeps.push(own);
        }
        let mut team = Self {
            bodies,
            axes,
            sweeps,
            envelopes,
            items: Vec::new(),
            opened: Vec::new(),
        };
        for (index, body) in bodies.iter().enumerate() {
            let index = index as u32;
            match &body.shape {
                Shape::Mesh(mesh) => team.add(index, What::Inner(0), mesh.tree().bounds),
                Shape::Revolved(tool) => {
                    (0..tool.pieces().len() as u32).for_each(|piece| team.add_piece(index, piece))
                }
            }
        }
        team
    }

    fn add(&mut self, body: u32, what: What, bounds: Bounds) {
        let index = body as usize;
        let spread = bounds.spread(&self.sweeps[index]);
        let reach = |direction: &Vec3| spread.along(direction).1;
        let orbit = Orbit::new(&self.axes[index], &spread.centre, reach);
        self.push(Item {
            body,
            what,
            bounds: spread,
            orbit,
        });
    }

    fn add_piece(&mut self, body: u32, number: u32) {
        let index = body as usize;
        let Shape::Revolved(tool) = &self.bodies[index].shape else {
            return;
        };
        let piece = &tool.pieces()[number as usize];
        let (low, high) = piece.heights_mm();
        let (middle, half, r) = ((low + high) * 0.5, (high - low) * 0.5, piece.radius_mm());
        let bounds = Bounds {
            centre: Vec3::new(0.0, 0.0, middle),
            half: Vec3::new(r, r, half),
        };
        let sweep = &self.sweeps[index];
        let spread = bounds.spread(sweep);
        let reach = |along: &Vec3| piece.reach_mm(along) + sweep.support(along).dot(along);
        let orbit = Orbit::new(&self.axes[index], &spread.centre, reach);
        self.push(Item {
            body,
            what: What::Piece(number),
            bounds: spread,
            orbit,
        });
    }

    fn push(&mut self, item: Item) {
        self.items.push(item);
        self.opened.push(None);
    }

    /// The children of an inner item.
    fn open(&mut self, index: u32) -> (u32, u32) {
        if let Some(range) = self.opened[index as usize] {
            return range;
        }
        let from = self.items.len() as u32;
        let item = self.items[index as usize];
        if let (What::Inner(node), Shape::Mesh(mesh)) =
            (item.what, &self.bodies[item.body as usize].shape)
        {
            let node = &mesh.tree().nodes[node as usize];
            for slot in 0..node.len() {
                match node.child(slot) {
                    Child::Node(below) => {
                        self.add(item.body, What::Inner(below), node.bounds(slot));
                    }
                    Child::Leaf(first, end) => {
                        for triangle in first..end {
                            let bounds = around(&mesh.tree().triangle(mesh.mesh(), triangle));
                            self.add(item.body, What::Triangle(triangle), bounds);
                        }
                    }
                }
            }
        }
        let range = (from, self.items.len() as u32);
        self.opened[index as usize] = Some(range);
        range
    }

    fn leaf(&self, item: &Item) -> Option<(Leaf<'a>, usize)> {
        let bodies: &'a [Placed] = self.bodies;
        match (&bodies[item.body as usize].shape, item.what) {
            (Shape::Mesh(mesh), What::Triangle(slot)) => {
                let triangle = mesh.tree().triangle(mesh.mesh(), slot);
                Some((Leaf::Triangle(triangle), mesh.tree().number(slot)))
            }
            (Shape::Revolved(tool), What::Piece(piece)) => {
                let piece = piece as usize;
                Some((Leaf::Piece(&tool.pieces()[piece]), piece))
            }
            _ => None,
        }
    }
}

/// A pair of items over an interval of angle.
#[derive(Debug, Clone, Copy)]
struct Entry {
    bound_mm: f64,
    a: u32,
    b: u32,
    from_deg: f64,
    to_deg: f64,
}

impl PartialEq for Entry {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}

impl Eq for Entry {}

impl PartialOrd for Entry {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Entry {
    /// The least bound is the greatest entry; ties go by number, so that the order is the same always.
    fn cmp(&self, other: &Self) -> Ordering {
        let key = |entry: &Self| (entry.a, entry.b);
        other
            .bound_mm
            .total_cmp(&self.bound_mm)
            .then_with(|| key(other).cmp(&key(self)))
            .then_with(|| other.from_deg.total_cmp(&self.from_deg))
    }
}

/// Widest interval whose hull is worth a query.
const HULL_MAX_DEG: f64 = 45.0;

/// The search over a turn.
struct TurnSearch<'a, 's, 'q> {
    a: Team<'a>,
    b: Team<'a>,
    axis: Axis,
    /// The shift that the poses of `a` hold already.
    shift: Vec3,
    sweep: Sweep,
    heap: BinaryHeap<Entry>,
    search: &'s mut Search<'q>,
}

/// Least gap while `b` turns and `a` occupies its spread.
pub(super) fn turning(
    a: &[Placed],
    b: &[Placed],
    sweep: &Sweep,
    turn: &Turn,
    shift: Vec3,
    search: &mut Search<'_>,
) {
    let axis = Axis {
        centre: turn.centre,
        direction: turn.direction.normalize(),
    };
    let span_deg = (turn.to_deg - turn.from_deg).clamp(-360.0, 360.0);
    let (from_deg, to_deg) = (turn.from_deg, turn.from_deg + span_deg);
    let (from_deg, to_deg) = (from_deg.min(to_deg), from_deg.max(to_deg));
    let mut run = TurnSearch {
        a: Team::new(a, &axis, sweep),
        b: Team::new(b, &axis, &Sweep::none()),
        axis,
        shift,
        sweep: sweep.clone(),
        heap: BinaryHeap::new(),
        search,
    };
    let (count_a, count_b) = (run.a.items.len() as u32, run.b.items.len() as u32);
    for i in 0..count_a {
        for j in 0..count_b {
            run.consider(
                Entry {
                    bound_mm: 0.0,
                    a: i,
                    b: j,
                    from_deg,
                    to_deg,
                },
                None,
            );
        }
    }
    run.run();
}

impl TurnSearch<'_, '_, '_> {
    fn limit_mm(&self) -> f64 {
        self.search
            .limit_mm()
            .min(self.search.hi_mm() - self.search.ask.tolerance_mm)
    }

    fn run(&mut self) {
        while let Some(entry) = self.heap.pop() {
            if entry.bound_mm >= self.limit_mm() || !self.search.go_on(8) {
                self.search.discard(entry.bound_mm);
                break;
            }
            let (one, two) = (
                self.a.items[entry.a as usize],
                self.b.items[entry.b as usize],
            );
            if one.is_leaf() && two.is_leaf() {
                self.leaves(entry, &one, &two);
                continue;
            }
            let moved = moved_mm(&one, &two, entry.to_deg - entry.from_deg);
            let (size_a, size_b) = (one.bounds.radius_mm(), two.bounds.radius_mm());
            let open_a = !one.is_leaf() && (two.is_leaf() || size_a >= size_b);
            if moved > size_a.max(size_b) {
                self.halve(entry);
            } else {
                let middle_deg = (entry.from_deg + entry.to_deg) * 0.5;
                let poses = self.poses(one.body, two.body, middle_deg);
                let (from, to) = if open_a {
                    self.a.open(entry.a)
                } else {
                    self.b.open(entry.b)
                };
                for below in from..to {
                    let (a, b) = if open_a {
                        (below, entry.b)
                    } else {
                        (entry.a, below)
                    };
                    self.consider(Entry { a, b, ..entry }, Some(&poses));
                }
            }
        }
    }

    fn halve(&mut self, entry: Entry) {
        let middle_deg = (entry.from_deg + entry.to_deg) * 0.5;
        if middle_deg <= entry.from_deg || middle_deg >= entry.to_deg {
            return self.search.discard(entry.bound_mm);
        }
        self.consider(
            Entry {
                to_deg: middle_deg,
                ..entry
            },
            None,
        );
        self.consider(
            Entry {
                from_deg: middle_deg,
                ..entry
            },
            None,
        );
    }

    /// Bounds an entry and keeps it, unless it cannot matter.
    fn consider(&mut self, mut entry: Entry, poses: Option<&[Pose; 2]>) {
        let (one, two) = (
            &self.a.items[entry.a as usize],
            &self.b.items[entry.b as usize],
        );
        entry.bound_mm = entry.bound_mm.max(one.orbit.apart_mm(&two.orbit));
        if entry.bound_mm < self.limit_mm() {
            let moved = moved_mm(one, two, entry.to_deg - entry.from_deg);
            let middle_deg = (entry.from_deg + entry.to_deg) * 0.5;
            let own;
            let poses = match poses {
                Some(poses) => poses,
                None => {
                    own = self.poses(one.body, two.body, middle_deg);
                    &own
                }
            };
            entry.bound_mm = entry.bound_mm.max(self.apart_mm(one, two, poses) - moved);
        }
        if entry.bound_mm >= self.limit_mm() {
            self.search.discard(entry.bound_mm);
        } else {
            self.heap.push(entry);
        }
    }

    /// a from b and b from a at an angle.
    fn poses(&self, a: u32, b: u32, angle_deg: f64) -> [Pose; 2] {
        let turned = self.turned(b, angle_deg);
        let a_from_b = self.a.bodies[a as usize].common_from_body.inv_mul(&turned);
        [a_from_b, a_from_b.inverse()]
    }

    fn turned(&self, b: u32, angle_deg: f64) -> Pose {
        about_axis(&self.axis.direction, &self.axis.centre, angle_deg)
            * self.b.bodies[b as usize].common_from_body
    }

    fn apart_mm(&self, one: &Item, two: &Item, poses: &[Pose; 2]) -> f64 {
        let boxes_mm = box_box_mm(&one.bounds, &two.bounds, &poses[0], &poses[1]);
        let (What::Piece(piece), Some(envelope)) = (one.what, &self.a.envelopes[one.body as usize])
        else {
            return boxes_mm;
        };
        let (turn, shift) = (poses[0].rotation.matrix(), poses[0].translation.vector);
        let seen = envelope.seen(&two.bounds, turn, &shift);
        boxes_mm.max(piece_apart_mm(&envelope.pieces[piece as usize], &seen))
    }

    /// Two leaves: an upper value at the middle, a lower value over the interval.
    fn leaves(&mut self, entry: Entry, one: &Item, two: &Item) {
        let (Some((leaf_a, number_a)), Some((leaf_b, number_b))) =
            (self.a.leaf(one), self.b.leaf(two))
        else {
            return;
        };
        let middle_deg = (entry.from_deg + entry.to_deg) * 0.5;
        let delta_deg = entry.to_deg - entry.from_deg;
        let relative = Relative {
            first_from_second: self.poses(one.body, two.body, middle_deg)[0],
            sweep: &self.a.sweeps[one.body as usize],
            pairing: Pairing {
                instance_a: one.body as usize,
                instance_b: two.body as usize,
                common_from_first: self.a.bodies[one.body as usize].common_from_body,
                swapped: false,
                angle_deg: middle_deg,
                shift: self.shift,
            },
        };
        let near = leaf_pair(leaf_a, leaf_b, &relative, f64::INFINITY);
        self.search
            .offer(&relative.pairing, &near, number_a, number_b);
        let mut bound_mm = (near.lo_mm - moved_mm(one, two, delta_deg)).max(entry.bound_mm);
        if bound_mm < self.limit_mm() && delta_deg <= HULL_MAX_DEG {
            bound_mm = bound_mm.max(self.hull_mm(&entry, [leaf_a, leaf_b], [one, two]));
        }
        self.search.go_on(16);
        if bound_mm >= self.limit_mm() {
            self.search.discard(bound_mm);
        } else {
            self.halve(Entry { bound_mm, ..entry });
        }
    }

    /// Lower value from the hull of the ends of `b`.
    fn hull_mm(&self, entry: &Entry, leaves: [Leaf<'_>; 2], items: [&Item; 2]) -> f64 {
        let [leaf_a, leaf_b] = leaves;
        let [one, two] = items;
        let half = ((entry.to_deg - entry.from_deg) * 0.5).to_radians();
        let bulge_mm = two.orbit.radial.1 * (1.0 - half.cos()) * (1.0 + 1e-12) + 1e-12;
        let margin_mm = leaf_a.margin_mm() + leaf_b.margin_mm() + bulge_mm;
        let pose = self.a.bodies[one.body as usize].common_from_body;
        let posed = Posed { leaf: leaf_a, pose };
        let still = PosedSwept {
            posed,
            sweep: &self.sweep,
        };
        let ends = Ends {
            first: Posed {
                leaf: leaf_b,
                pose: self.turned(two.body, entry.from_deg),
            },
            last: Posed {
                leaf: leaf_b,
                pose: self.turned(two.body, entry.to_deg),
            },
        };
        let start = ends.first.pose * Point3::from(leaf_b.inner_point());
        let direction = start - pose * Point3::from(leaf_a.inner_point());
        let beat_mm = self.limit_mm() + margin_mm;
        nearest(&still, &ends, &direction, beat_mm).lo_mm - margin_mm
    }
}

/// How far the two can come nearer between the middle of an interval and its ends.
fn moved_mm(one: &Item, two: &Item, delta_deg: f64) -> f64 {
    let quarter = (delta_deg * 0.25).to_radians();
    2.0 * one.orbit.radial.1.min(two.orbit.radial.1) * quarter.sin() * (1.0 + 1e-12)
}
