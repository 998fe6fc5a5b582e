//! One pair at one relative pose, the first body spread or not.

use super::ask::HalfSpace;
use super::bounds::{Envelope, piece_apart_mm};
use super::convex::{Near, nearest};
use super::piece::Revolved;
use super::search::{Pairing, Search};
use super::shape::MeshShape;
use super::sweep::{Leaf, Plain, Posed, Sweep, Swept};
use super::tree::{Bounds, Child};
use super::triangle_pair::Triangle;
use crate::value::Pose;
use nalgebra::Point3;

/// Two bodies; everything is computed in the frame of the first.
pub(super) struct Relative<'a> {
    pub first_from_second: Pose,
    pub sweep: &'a Sweep,
    pub pairing: Pairing,
}

impl Relative<'_> {
    /// A half-space of the common frame in the frame of the second body.
    fn in_second(&self, half: &HalfSpace) -> HalfSpace {
        let common_from_second = self.pairing.common_from_first * self.first_from_second;
        HalfSpace {
            normal: common_from_second.rotation.inverse() * half.normal,
            offset_mm: half.offset_mm - half.normal.dot(&common_from_second.translation.vector),
        }
    }
}

/// The bracket of two leaves with their margins, the second one at a pose.
pub(super) fn leaf_pair(
    first: Leaf<'_>,
    second: Leaf<'_>,
    relative: &Relative<'_>,
    beat_mm: f64,
) -> Near {
    let (of_first, of_second) = (first.margin_mm(), second.margin_mm());
    let margin_mm = of_first + of_second;
    let pose = relative.first_from_second;
    let middle = pose * Point3::from(second.inner_point());
    let direction = middle.coords - first.inner_point();
    let swept = Swept {
        leaf: first,
        sweep: relative.sweep,
    };
    let near = match second {
        Leaf::Triangle(t) => {
            let corners = Plain(t.map(|corner| (pose * Point3::from(corner)).coords));
            nearest(&swept, &corners, &direction, beat_mm + margin_mm)
        }
        Leaf::Piece(_) | Leaf::Box(_) => nearest(
            &swept,
            &Posed { leaf: second, pose },
            &direction,
            beat_mm + margin_mm,
        ),
    };
    near.grown(margin_mm, of_first)
}

/// Solid of revolution against solid of revolution.
pub(super) fn revolved_revolved(
    first: &Revolved,
    second: &Revolved,
    relative: &Relative<'_>,
    search: &mut Search<'_>,
) {
    for (i, piece) in first.pieces().iter().enumerate() {
        for (j, other) in second.pieces().iter().enumerate() {
            if !search.go_on(1) {
                return search.discard(0.0);
            }
            let (one, two) = (Leaf::Piece(piece), Leaf::Piece(other));
            let near = leaf_pair(one, two, relative, search.rest_limit_mm());
            search.offer(&relative.pairing, &near, i, j);
            search.discard(near.lo_mm);
        }
    }
}

/// Solid of revolution against mesh: down the tree, near children first.
pub(super) fn revolved_mesh(
    first: &Revolved,
    second: &MeshShape,
    relative: &Relative<'_>,
    search: &mut Search<'_>,
) {
    let envelope = Envelope::new(first, relative.sweep);
    let turn = relative.first_from_second.rotation.matrix();
    let shift = relative.first_from_second.translation.vector;
    let beyond = search.ask.beyond.map(|half| relative.in_second(&half));
    let left_out =
        |bounds: &Bounds| beyond.is_some_and(|half| bounds.along(&half.normal).1 <= half.offset_mm);
    let mut stack = vec![(0.0, Child::Node(0))];
    while let Some((bound_mm, child)) = stack.pop() {
        if bound_mm >= search.rest_limit_mm() || !search.go_on(8) {
            search.discard(bound_mm);
            continue;
        }
        match child {
            Child::Node(index) => {
                let node = &second.tree().nodes[index as usize];
                let from = stack.len();
                for slot in 0..node.len() {
                    if left_out(&node.bounds(slot)) {
                        continue;
                    }
                    let seen = envelope.seen(&node.bounds(slot), turn, &shift);
                    stack.push((envelope.apart_mm(&seen).max(bound_mm), node.child(slot)));
                }
                stack[from..].sort_by(|p, q| q.0.total_cmp(&p.0));
            }
            Child::Leaf(from, to) => {
                for slot in from..to {
                    let triangle = second.tree().triangle(second.mesh(), slot);
                    let number = second.tree().number(slot);
                    // By its corners: the box of a slanted triangle stands out of its plane.
                    if beyond.is_some_and(|half| half.holds_none_of(&triangle)) {
                        continue;
                    }
                    pieces_triangle(&envelope, &triangle, number, relative, search);
                }
            }
        }
    }
}

fn pieces_triangle(
    envelope: &Envelope<'_>,
    triangle: &Triangle,
    number: usize,
    relative: &Relative<'_>,
    search: &mut Search<'_>,
) {
    let turn = relative.first_from_second.rotation.matrix();
    let bounds = around(triangle);
    let seen = envelope.seen(
        &bounds,
        turn,
        &relative.first_from_second.translation.vector,
    );
    for (index, piece) in envelope.pieces.iter().enumerate() {
        let bound_mm = piece_apart_mm(piece, &seen);
        if bound_mm >= search.rest_limit_mm() {
            search.discard(bound_mm);
            continue;
        }
        let (one, two) = (Leaf::Piece(piece), Leaf::Triangle(*triangle));
        let near = leaf_pair(one, two, relative, search.rest_limit_mm());
        search.offer(&relative.pairing, &near, index, number);
        search.discard(near.lo_mm);
    }
}

/// The box of a triangle.
pub(super) fn around(t: &Triangle) -> Bounds {
    let (low, high) = (t[0].inf(&t[1]).inf(&t[2]), t[0].sup(&t[1]).sup(&t[2]));
    Bounds {
        centre: (low + high) * 0.5,
        half: (high - low) * 0.5,
    }
}
