//! Where the surface of a mesh crosses itself: one surface through itself, or shells that overlap.
//!
//! `boxes` finds triangles near each other, `pair` says whether two of them cross, `around` whether those
//! with an edge on one line do.

mod around;
mod boxes;
mod pair;

use super::Mesh;
use super::edges::{EdgeTable, EdgeUse};
use super::fault::{FaultKind, FaultLog, Place};
use super::weld::Soup;
use around::{Leaf, Piece, overlaps};
use boxes::{Bound, Boxes};
use nalgebra::Point3;
use pair::{Meeting, meeting};
use rayon::prelude::*;
use std::collections::BTreeMap;
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
/// does not.
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
    found.join_edges();
    seeker.join_lines(&mut found);
    Crossings {
        pairs: found.pairs,
        place: found.first.map(|(_, at)| at),
        given_up,
    }
}

/// Finds edges at which bodies overlap, all their triangles on that very edge. Asked before triangles that are
/// listed twice are left out: bodies on one grid can overlap by just these.
pub(super) fn at_edges(soup: &Soup, edges: &EdgeTable) -> Crossings {
    let mut found = Crossings::default();
    edges.for_each(|lower, higher, uses| {
        let flat = |one: &EdgeUse| soup.flat.binary_search(&one.triangle).is_ok();
        if uses.len() < 4 || uses.iter().any(flat) {
            return;
        }
        let piece @ [low, high] = [lower, higher].map(|v| soup.vertices[v as usize]);
        let corners = |t: u32| soup.triangles[t as usize].map(|v| soup.vertices[v as usize]);
        let leaves: Vec<Leaf> = leaves(uses, &piece, corners).collect();
        let farthest_mm = low.coords.abs().max().max(high.coords.abs().max());
        if overlaps(&leaves, &piece, grain_mm(farthest_mm)) {
            found.pairs += 1;
            found
                .place
                .get_or_insert_with(|| nalgebra::center(&low, &high));
        }
    });
    found
}

/// Below this a shift is none, where coordinates go out so far.
fn grain_mm(farthest_mm: f64) -> f64 {
    GRAIN_MM.max(farthest_mm * GRAIN_SHARE)
}

/// The triangles of an edge, about a piece of it.
fn leaves<'a>(
    uses: &'a [EdgeUse],
    piece: &'a Piece,
    corners: impl Fn(u32) -> [Point3<f64>; 3] + 'a,
) -> impl Iterator<Item = Leaf> + 'a {
    uses.iter().map(move |one| {
        let corners = corners(one.triangle);
        let corner = |k: usize| corners[(one.opposite + k) % 3];
        Leaf::new([corner(1), corner(2), corner(0)], piece)
    })
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

/// An edge in a triangle: its ends, the triangle, the side on which its own triangle is.
type EdgeIn = ([u32; 2], u32, bool, Point3<f64>);

/// Two edges that have a piece in common: their ends, a triangle of each, the piece.
type OnLine = ([[u32; 2]; 2], [u32; 2], Piece);

/// What was found.
#[derive(Default)]
struct Tally {
    pairs: u64,
    /// The pair with the least numbers.
    first: Option<([u32; 2], Point3<f64>)>,
    edges: Vec<EdgeIn>,
    lines: Vec<OnLine>,
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
        self.edges.extend(other.edges);
        self.lines.extend(other.lines);
        self
    }

    /// A surface passes through a triangle along an edge where both triangles of the edge lie on
    /// it, one on either side.
    fn join_edges(&mut self) {
        let mut edges = std::mem::take(&mut self.edges);
        edges.sort_unstable_by_key(|(ends, triangle, above, _)| (*ends, *triangle, *above));
        edges.dedup_by_key(|(ends, triangle, above, _)| (*ends, *triangle, *above));
        for pair in edges.windows(2) {
            let [(ends, triangle, _, at), (other_ends, other, ..)] = pair else {
                continue;
            };
            if ends == other_ends && triangle == other {
                self.cross([*triangle; 2], *at);
            }
        }
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

    /// Bodies overlap at a line where their edges lie on each other and the triangles of both stand among
    /// each other.
    fn join_lines(&self, tally: &mut Tally) {
        let mut lines = std::mem::take(&mut tally.lines);
        if lines.is_empty() {
            return;
        }
        lines.sort_unstable_by_key(|(edges, triangles, _)| (*edges, *triangles));
        lines.dedup_by_key(|(edges, ..)| *edges);
        let wanted = lines.iter().flat_map(|(edges, ..)| *edges);
        let mut uses_of: BTreeMap<[u32; 2], Vec<EdgeUse>> =
            wanted.map(|ends| (ends, Vec::new())).collect();
        let mesh = self.mesh;
        let edges = EdgeTable::new(&mesh.triangles, mesh.vertices.len());
        edges.for_each(|lower, higher, uses| {
            if let Some(of_edge) = uses_of.get_mut(&[lower, higher]) {
                of_edge.extend_from_slice(uses);
            }
        });
        for (edges, [first, second], piece) in lines {
            let of = |ends: [u32; 2]| leaves(&uses_of[&ends], &piece, |t| mesh.corners(t));
            let both: Vec<Leaf> = edges.into_iter().flat_map(of).collect();
            if overlaps(&both, &piece, self.grain_mm) {
                let at = nalgebra::center(&piece[0], &piece[1]);
                tally.cross([first.min(second), first.max(second)], at);
            }
        }
    }

    fn meet(&self, one: u32, two: u32, tally: &mut Tally) {
        let corners = |t: u32| self.mesh.triangles[t as usize];
        let (of_one, of_two) = (corners(one), corners(two));
        let shared = of_one.iter().filter(|corner| of_two.contains(corner));
        if shared.count() > 1 {
            return;
        }
        let found = meeting(
            &self.mesh.corners(one),
            &self.mesh.corners(two),
            self.grain_mm,
        );
        match found {
            Meeting::Apart => {}
            Meeting::Cross(at) => tally.cross([one.min(two), one.max(two)], at),
            Meeting::Edge(edge) => {
                let (of, other) = if edge.of_second {
                    (of_two, one)
                } else {
                    (of_one, two)
                };
                tally
                    .edges
                    .push((ends(of, edge.corner), other, edge.above, edge.at));
            }
            Meeting::Edges([corner_one, corner_two], piece) => {
                let of_edges = [
                    (ends(of_one, corner_one), one),
                    (ends(of_two, corner_two), two),
                ];
                let [first, second] = match of_edges {
                    [a, b] if a.0 <= b.0 => [a, b],
                    [a, b] => [b, a],
                };
                tally
                    .lines
                    .push(([first.0, second.0], [first.1, second.1], piece));
            }
        }
    }
}

/// Ends of the edge of a triangle from a corner to the next, the lower first.
fn ends(of: [u32; 3], corner: usize) -> [u32; 2] {
    let [a, b] = [of[corner], of[(corner + 1) % 3]];
    [a.min(b), a.max(b)]
}
