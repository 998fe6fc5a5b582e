//! The second group turns: best first over (part of a, part of b, interval of angle).
//!
//! Two lower values hold for a pair over an interval, and the greater serves:
//! 1. The distance of their boxes in (axial position, radius, angle), see [`super::orbit`]: it
//!    holds for parts of any size over an interval of any length, so most moves end there.
//! 2. An arc lies within r (1 - cos(delta / 2)) of its chord, so a leaf over the interval lies in
//!    the hull of its two ends grown by that; the spread adds to the other leaf. All are convex.
//!
//! Upper values come only from leaves at angles really taken.

use super::ask::Turn;
use super::convex::nearest;
use super::orbit::Axis;
use super::rest::{Relative, leaf_pair};
use super::search::{Pairing, Search};
use super::shape::Placed;
use super::sweep::{Ends, Leaf, Posed, PosedSwept, Sweep};
use super::team::{Item, Team};
use crate::value::{Pose, Vec3, about_axis};
use nalgebra::Point3;
use std::cmp::Ordering;
use std::collections::BinaryHeap;

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
    /// The least bound is the greatest entry, then the widest interval, then the first in order.
    fn cmp(&self, other: &Self) -> Ordering {
        let key = |entry: &Self| (entry.a, entry.b);
        let width = |entry: &Self| entry.to_deg - entry.from_deg;
        other
            .bound_mm
            .total_cmp(&self.bound_mm)
            .then_with(|| width(self).total_cmp(&width(other)))
            .then_with(|| key(other).cmp(&key(self)))
            .then_with(|| other.from_deg.total_cmp(&self.from_deg))
    }
}

/// Widest interval whose hull is worth a query: beyond it the bulge is a quarter of the radius.
const HULL_MAX_DEG: f64 = 45.0;

/// An interval is halved rather than a part opened where the bulge of its arc is this much of the
/// size of the part.
const BULGE_TO_SIZE: f64 = 0.2;

/// Below this an interval is evaluated at its middle only.
const ALIGNED_MIN_DEG: f64 = 2.0;

/// Widest interval that is looked at across a slab.
const SLAB_MAX_DEG: f64 = 90.0;

/// First step and number of steps, each half as long, when a better upper value is followed.
const FOLLOW_DEG: f64 = 8.0;
const FOLLOW_STEPS: usize = 12;

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

/// Least gap while `b` turns and `a` occupies its spread; `rest_at` asks all pairs at one angle.
pub(super) fn turning(
    a: &[Placed],
    b: &[Placed],
    sweep: &Sweep,
    turn: &Turn,
    shift: Vec3,
    rest_at: &dyn Fn(f64, &mut Search<'_>),
    search: &mut Search<'_>,
) {
    let axis = Axis::new(turn.centre, turn.direction.normalize());
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
    let roots = run.roots(from_deg, to_deg);
    for root in &roots {
        run.dive(*root);
    }
    if let Some(angle_deg) = run.search.angle_deg() {
        rest_at(angle_deg, run.search);
    }
    for root in roots {
        run.consider(root, None);
    }
    run.run();
}

impl TurnSearch<'_, '_, '_> {
    /// Pairs at least this far apart are let go: what is left is the bracket's width.
    ///
    /// Within the tolerance of contact the width shrinks with the gap, so that contact is told
    /// from a narrow gap, down to a hundredth of the tolerance.
    fn limit_mm(&self) -> f64 {
        let (hi_mm, tolerance_mm) = (self.search.hi_mm(), self.search.ask.tolerance_mm);
        let narrow_mm = if hi_mm > tolerance_mm * 0.01 {
            hi_mm * 0.5
        } else {
            0.0
        };
        self.search
            .limit_mm()
            .min((hi_mm - tolerance_mm).max(narrow_mm))
    }

    /// All pairs of bodies over the whole turn, the nearest first.
    fn roots(&self, from_deg: f64, to_deg: f64) -> Vec<Entry> {
        let mut roots = Vec::new();
        for a in 0..self.a.items.len() as u32 {
            for b in 0..self.b.items.len() as u32 {
                let entry = Entry {
                    bound_mm: 0.0,
                    a,
                    b,
                    from_deg,
                    to_deg,
                };
                roots.push(Entry {
                    bound_mm: self.orbits_mm(&entry),
                    ..entry
                });
            }
        }
        roots.sort_by(|p, q| q.cmp(p));
        roots
    }

    /// Follows the nearest parts down to one pair of leaves, for an early upper value.
    fn dive(&mut self, mut entry: Entry) {
        while entry.bound_mm < self.limit_mm() && self.search.go_on(8) {
            let (one, two) = (
                self.a.items[entry.a as usize],
                self.b.items[entry.b as usize],
            );
            if one.is_leaf() && two.is_leaf() {
                return self.evaluate(&entry, &one, &two);
            }
            let open_a = opens_first(&one, &two);
            let (from, to) = if open_a {
                self.a.open(entry.a)
            } else {
                self.b.open(entry.b)
            };
            let below = (from..to).map(|below| {
                let (a, b) = if open_a {
                    (below, entry.b)
                } else {
                    (entry.a, below)
                };
                let below = Entry { a, b, ..entry };
                Entry {
                    bound_mm: self.orbits_mm(&below).max(entry.bound_mm),
                    ..below
                }
            });
            match below.max() {
                Some(nearest) => entry = nearest,
                None => return,
            }
        }
    }

    fn run(&mut self) {
        while let Some(entry) = self.heap.pop() {
            if entry.bound_mm >= self.limit_mm() || !self.search.go_on(8) {
                self.search.discard(entry.bound_mm);
                break;
            }
            self.look(entry);
        }
    }

    /// Bounds an entry by its hull; evaluates it where both are leaves; splits it otherwise.
    fn look(&mut self, mut entry: Entry) {
        let (one, two) = (
            self.a.items[entry.a as usize],
            self.b.items[entry.b as usize],
        );
        let (solid_a, solid_b) = (one.solid, two.solid);
        let delta_deg = entry.to_deg - entry.from_deg;
        if delta_deg <= HULL_MAX_DEG {
            let hull_mm = self.hull_mm(&entry, [solid_a, solid_b], [&one, &two]);
            entry.bound_mm = entry.bound_mm.max(hull_mm);
            if entry.bound_mm >= self.limit_mm() {
                return self.search.discard(entry.bound_mm);
            }
        }
        if one.is_leaf() && two.is_leaf() {
            self.evaluate(&entry, &one, &two);
            return self.halve(entry);
        }
        let (size_a, size_b) = (one.bounds.radius_mm(), two.bounds.radius_mm());
        let bulge_mm = two.orbit.radial.1 * (1.0 - (delta_deg * 0.5).to_radians().cos());
        let largest_mm = if one.is_leaf() {
            size_b
        } else if two.is_leaf() {
            size_a
        } else {
            size_a.max(size_b)
        };
        if bulge_mm > BULGE_TO_SIZE * largest_mm {
            return self.halve(entry);
        }
        let slab = self.slab(&entry);
        let open_a = opens_first(&one, &two);
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
            self.consider(Entry { a, b, ..entry }, slab.as_ref());
        }
    }

    fn halve(&mut self, entry: Entry) {
        let middle_deg = (entry.from_deg + entry.to_deg) * 0.5;
        if middle_deg <= entry.from_deg || middle_deg >= entry.to_deg {
            return self.search.discard(entry.bound_mm);
        }
        for half in [
            Entry {
                to_deg: middle_deg,
                ..entry
            },
            Entry {
                from_deg: middle_deg,
                ..entry
            },
        ] {
            let slab = self.slab(&half);
            self.consider(half, slab.as_ref());
        }
    }

    /// Bounds an entry and keeps it, unless it cannot matter.
    fn consider(&mut self, mut entry: Entry, slab: Option<&Slab>) {
        entry.bound_mm = entry.bound_mm.max(self.orbits_mm(&entry));
        if let Some(slab) = slab.filter(|_| entry.bound_mm < self.limit_mm()) {
            let (one, two) = (
                &self.a.items[entry.a as usize],
                &self.b.items[entry.b as usize],
            );
            entry.bound_mm = entry.bound_mm.max(slab.width_mm(one, two));
        }
        if entry.bound_mm >= self.limit_mm() {
            self.search.discard(entry.bound_mm);
        } else {
            self.heap.push(entry);
        }
    }

    /// The slab across the line of the least gap so far, for two bodies over an interval.
    fn slab(&self, entry: &Entry) -> Option<Slab> {
        let delta_deg = entry.to_deg - entry.from_deg;
        let toward = self
            .search
            .direction()
            .filter(|_| delta_deg <= SLAB_MAX_DEG)?;
        let (a, b) = (
            self.a.items[entry.a as usize].body,
            self.b.items[entry.b as usize].body,
        );
        let pose = &self.a.bodies[a as usize].common_from_body;
        let spread_mm = self.sweep.support(&toward).dot(&toward);
        let of_a = (
            pose.rotation.inverse_transform_vector(&toward),
            pose.translation.vector.dot(&toward) + spread_mm,
        );
        let of_b = [entry.from_deg, entry.to_deg].map(|angle_deg| {
            let pose = self.turned(b, angle_deg);
            let back = pose.rotation.inverse_transform_vector(&-toward);
            (back, pose.translation.vector.dot(&toward))
        });
        let size_mm = of_a.1.abs() + of_b[0].1.abs() + of_b[1].1.abs();
        let bulge = 1.0 - (delta_deg * 0.5).to_radians().cos();
        Some(Slab {
            of_a,
            of_b,
            bulge,
            size_mm,
        })
    }

    fn orbits_mm(&self, entry: &Entry) -> f64 {
        let (one, two) = (
            &self.a.items[entry.a as usize],
            &self.b.items[entry.b as usize],
        );
        let (from, to) = (entry.from_deg.to_radians(), entry.to_deg.to_radians());
        one.orbit.apart_mm(&two.orbit, from, to)
    }

    fn turned(&self, b: u32, angle_deg: f64) -> Pose {
        about_axis(&self.axis.along, &self.axis.centre, angle_deg)
            * self.b.bodies[b as usize].common_from_body
    }

    /// Upper values of two leaves: at the middle of the interval, and where they stand opposite.
    /// A much better one is followed to the least for these two.
    fn evaluate(&mut self, entry: &Entry, one: &Item<'_>, two: &Item<'_>) {
        let before_mm = self.search.hi_mm();
        let (from, to) = (entry.from_deg.to_radians(), entry.to_deg.to_radians());
        let aligned_deg = one.orbit.aligned(&two.orbit, from, to).to_degrees();
        let aligned_deg = aligned_deg.clamp(entry.from_deg, entry.to_deg);
        let width_deg = entry.to_deg - entry.from_deg;
        self.evaluate_at((entry.from_deg + entry.to_deg) * 0.5, one, two);
        if width_deg > ALIGNED_MIN_DEG {
            self.evaluate_at(aligned_deg, one, two);
        }
        let better = self.search.hi_mm() < before_mm - self.search.ask.tolerance_mm;
        let Some(mut best_deg) = self.search.angle_deg().filter(|_| better) else {
            return;
        };
        let mut step_deg = width_deg.min(FOLLOW_DEG);
        for _ in 0..FOLLOW_STEPS {
            step_deg *= 0.5;
            for angle_deg in [best_deg - step_deg, best_deg + step_deg] {
                self.evaluate_at(angle_deg.clamp(entry.from_deg, entry.to_deg), one, two);
            }
            best_deg = self.search.angle_deg().unwrap_or(best_deg);
        }
    }

    fn evaluate_at(&mut self, angle_deg: f64, one: &Item<'_>, two: &Item<'_>) {
        let body = &self.a.bodies[one.body as usize];
        let turned = self.turned(two.body, angle_deg);
        let relative = Relative {
            first_from_second: body.common_from_body.inv_mul(&turned),
            sweep: &self.a.sweeps[one.body as usize],
            pairing: Pairing {
                instance_a: one.body as usize,
                instance_b: two.body as usize,
                common_from_first: body.common_from_body,
                swapped: false,
                angle_deg,
                shift: self.shift,
            },
        };
        let (solid_a, solid_b) = (one.solid, two.solid);
        let near = leaf_pair(solid_a, solid_b, &relative, self.search.hi_mm());
        self.search.offer(
            &relative.pairing,
            &near,
            self.a.number(one),
            self.b.number(two),
        );
    }

    /// Lower value from the hull of the ends of `b`.
    fn hull_mm(&self, entry: &Entry, leaves: [Leaf<'_>; 2], items: [&Item<'_>; 2]) -> f64 {
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

/// A slab across one direction: a part of `b` over an interval lies beyond its two ends less the
/// bulge of its arc.
struct Slab {
    /// Direction in the frame of the body, and where its origin is along it.
    of_a: (Vec3, f64),
    /// The direction back from each end, and where the origin is there.
    of_b: [(Vec3, f64); 2],
    bulge: f64,
    size_mm: f64,
}

impl Slab {
    fn width_mm(&self, one: &Item<'_>, two: &Item<'_>) -> f64 {
        let reach_a = one.solid.reach_mm(&self.of_a.0);
        let [first, last] =
            [0, 1].map(|end: usize| self.of_b[end].1 - two.solid.reach_mm(&self.of_b[end].0));
        let width_mm = first.min(last) - self.of_a.1 - reach_a;
        let size_mm = self.size_mm + reach_a.abs() + first.abs() + last.abs();
        width_mm - two.orbit.radial.1 * self.bulge - size_mm * 1e-13
    }
}

/// Whether the first of two parts is the one to open: the larger, if it is not a leaf.
fn opens_first(one: &Item<'_>, two: &Item<'_>) -> bool {
    !one.is_leaf() && (two.is_leaf() || one.bounds.radius_mm() >= two.bounds.radius_mm())
}
