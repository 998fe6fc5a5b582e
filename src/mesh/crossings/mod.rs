//! Where the surface of a mesh crosses itself: one surface through itself, or shells that overlap.
//!
//! `boxes` finds triangles near each other, `pair` says whether two of them cross. Where an edge lies on another
//! triangle or edge, `seam` says whether bodies overlap there, from the wedges `around` it and from what `winds` round
//! one of them.

mod around;
mod boxes;
mod pair;
mod seam;
mod winds;

use super::Mesh;
use super::fault::{FaultKind, FaultLog, Place};
use boxes::{Bound, Boxes};
use nalgebra::Point3;
use pair::{Meeting, meeting};
use rayon::prelude::*;
pub(super) use seam::at_edges;
use seam::{On, Seam, ends};
use std::sync::atomic::{AtomicU64, Ordering};

/// A shift that would part two triangles is none below this: bodies that are meant to touch, and
/// seams between the surfaces of one, are off by rounding. The demo's corners lie on a grid of
/// 6e-5 mm, so that two may be 1.1e-4 mm off.
const GRAIN_MM: f64 = 2.0e-4;

/// Steps of rounding to single precision, as a share of the farthest coordinate.
const GRAIN_SHARE: f64 = 2.4e-7;

/// Work is given up beyond so many steps and so many for each triangle; a step takes some 5 ns.
/// Good meshes take fewer than 150 for each; 20,000 triangles in a heap would take 1e9.
const MOST_STEPS: u64 = 40_000_000;
const STEPS_EACH: u64 = 1000;

/// What is done in order once it was given up, so that the same pair is told again.
const LAST_STEPS: u64 = 10_000_000;

/// Two triangles count as so many boxes.
const PAIR_STEPS: u64 = 12;

/// Where a mesh crosses itself.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Crossings {
    /// How many pairs of triangles cross, or lie on each other the same way round; an edge at which
    /// bodies overlap counts as one.
    pub pairs: u64,
    /// A point where the first of them do.
    pub place: Option<Point3<f64>>,
    /// Whether it was given up before all were looked at, as so many lie over each other: there may
    /// be more.
    pub given_up: bool,
}

impl Crossings {
    /// Whether the surface is known not to cross itself.
    #[must_use]
    pub fn is_none(&self) -> bool {
        self.pairs == 0 && !self.given_up
    }

    /// Both, of one mesh.
    pub(super) fn and(self, other: Self) -> Self {
        Self {
            pairs: self.pairs + other.pairs,
            place: self.place.or(other.place),
            given_up: self.given_up || other.given_up,
        }
    }

    /// Notes them as a fault.
    pub(super) fn note(&self, log: &mut FaultLog) {
        if self.is_none() {
            return;
        }
        log.add(FaultKind::Crossings, Place::File, || self.words());
    }

    /// How many, and where one is.
    fn words(&self) -> String {
        let Some(at) = self.place else {
            return "so many triangles lie over each other that it was given up to look whether \
                    they cross"
                .to_owned();
        };
        let least = if self.given_up { "at least " } else { "" };
        let pairs = match self.pairs {
            1 => "1 pair of triangles crosses".to_owned(),
            pairs => format!("{pairs} pairs of triangles cross"),
        };
        let [x, y, z] = [at.x, at.y, at.z].map(|c| (c * 1e3).round() / 1e3 + 0.0);
        format!("{least}{pairs}, the first near ({x:.3}, {y:.3}, {z:.3})")
    }
}

/// Finds pairs of triangles that cross.
///
/// # Shapes
/// Any mesh. Triangles that have an edge in common do not cross. Bodies that only touch do not,
/// nor do surfaces that lie on each other and face opposite ways, as where one body stands on another;
/// bodies that overlap do, also where their faces lie in one plane. A body wholly within another
/// does not, unless it touches a face of that from inside.
///
/// # Guarantees
/// Whatever is told crosses: no shift of 0.0002 mm, or of some steps of single precision, would part
/// the two. Not seen: what is smaller than that shift, and bodies that overlap by the same triangles,
/// of which reading left one of each in the mesh; [`super::read_stl`] tells these. The same for any number of
/// threads.
#[must_use]
pub fn crossings(mesh: &Mesh) -> Crossings {
    let (low, high) = mesh.bounds();
    let farthest_mm = low.coords.abs().max().max(high.coords.abs().max());
    let seeker = Seeker {
        mesh,
        boxes: Boxes::new(mesh),
        grain_mm: grain_mm(farthest_mm),
    };
    let most = MOST_STEPS + STEPS_EACH * mesh.triangles.len() as u64;
    let leaves = 0..seeker.boxes.len();
    let work = Work::new(most);
    let shared = leaves.clone().into_par_iter().with_min_len(16);
    let looked = shared.fold(Tally::default, |tally, leaf| {
        tally.and(seeker.look(leaf, &work))
    });
    let mut found = looked.reduce(Tally::default, Tally::and);
    let given_up = work.is_spent();
    if given_up {
        // How far each thread came is chance.
        let work = Work::new(LAST_STEPS);
        let looked = leaves.map(|leaf| seeker.look(leaf, &work));
        found = looked.fold(Tally::default(), Tally::and);
    }
    if !given_up {
        seam::join(&seeker, &mut found);
    }
    Crossings {
        pairs: found.pairs,
        place: found.first.map(|(_, at)| at),
        given_up,
    }
}

/// Below this a shift is none, where coordinates go out so far.
fn grain_mm(farthest_mm: f64) -> f64 {
    GRAIN_MM.max(farthest_mm * GRAIN_SHARE)
}

/// How many steps were taken, of how many.
struct Work {
    most: u64,
    done: AtomicU64,
}

impl Work {
    const fn new(most: u64) -> Self {
        Self {
            most,
            done: AtomicU64::new(0),
        }
    }

    fn add(&self, steps: u64) {
        self.done.fetch_add(steps, Ordering::Relaxed);
    }

    fn is_spent(&self) -> bool {
        self.done.load(Ordering::Relaxed) > self.most
    }
}

/// What was found.
#[derive(Default)]
struct Tally {
    pairs: u64,
    /// The pair with the least numbers.
    first: Option<([u32; 2], Point3<f64>)>,
    seams: Vec<Seam>,
}

impl Tally {
    fn cross(&mut self, pair: [u32; 2], at: Point3<f64>) {
        self.pairs += 1;
        if self.first.is_none_or(|(first, _)| pair < first) {
            self.first = Some((pair, at));
        }
    }

    fn and(mut self, other: Self) -> Self {
        self.pairs += other.pairs;
        if let Some((pair, at)) = other.first
            && self.first.is_none_or(|(first, _)| pair < first)
        {
            self.first = Some((pair, at));
        }
        self.seams.extend(other.seams);
        self
    }
}

struct Seeker<'a> {
    mesh: &'a Mesh,
    boxes: Boxes,
    grain_mm: f64,
}

impl Seeker<'_> {
    /// Looks at the triangles of a leaf with each other and with those of later leaves, unless all
    /// work is spent.
    fn look(&self, leaf: usize, work: &Work) -> Tally {
        let mut tally = Tally::default();
        let (own, bounds) = self.boxes.leaf(leaf);
        let bounds: Vec<Bound> = bounds.iter().map(|b| b.grown(self.grain_mm)).collect();
        self.boxes.near(leaf, self.grain_mm, |near| {
            if work.is_spent() {
                return;
            }
            let (others, other_bounds) = self.boxes.leaf(near);
            let mut steps = 0;
            for (index, (other, other_bound)) in others.iter().zip(other_bounds).enumerate() {
                // Within its own leaf each pair is looked at once.
                let end = if near == leaf { index } else { own.len() };
                steps += end as u64;
                for k in (0..end).filter(|k| bounds[*k].meets(other_bound)) {
                    steps += PAIR_STEPS;
                    self.meet(own[k], *other, &mut tally);
                }
            }
            work.add(steps);
        });
        tally
    }

    fn meet(&self, one: u32, two: u32, tally: &mut Tally) {
        let corners = |t: u32| self.mesh.triangles[t as usize];
        let (of_one, of_two) = (corners(one), corners(two));
        let shared = of_one.iter().filter(|corner| of_two.contains(corner));
        if shared.count() > 1 {
            return;
        }
        let pair = [one.min(two), one.max(two)];
        let found = meeting(
            &self.mesh.corners(one),
            &self.mesh.corners(two),
            self.grain_mm,
        );
        match found {
            Meeting::Apart => {}
            Meeting::Cross(at) => tally.cross(pair, at),
            Meeting::Edge(edge) => {
                let (of, other) = if edge.of_second {
                    (of_two, one)
                } else {
                    (of_one, two)
                };
                let edge_of = ends(of, edge.corner);
                tally
                    .seams
                    .push((edge_of, On::Triangle(other), edge.piece, pair));
            }
            Meeting::Edges([of_first, of_second], piece) => {
                let edges = [ends(of_one, of_first), ends(of_two, of_second)];
                let [lower, higher] = [edges[0].min(edges[1]), edges[0].max(edges[1])];
                tally.seams.push((lower, On::Edge(higher), piece, pair));
            }
        }
    }
}
