//! Round holes with all their steps, and round bosses.

use super::axis::{Axis, Piece, axes};
use super::graph::Graph;
use super::rays::Rays;
use super::{Boss, Feature, FeatureForm, HoleBottom, HoleStep, RoundHole};
use crate::mesh::faces::FaceForm;
use crate::mesh::faces::surface::across;
use crate::value::Vec3;
use nalgebra::Point3;

/// A wall that goes less far round than this is no hole: the rest belongs to a pocket or a slot.
const LEAST_TURN_DEG: f64 = 330.0;

/// Holes and bosses; marks the faces they take.
pub(super) fn round(graph: &Graph<'_>, rays: &Rays<'_>, taken: &mut [bool]) -> Vec<Feature> {
    let mut found = Vec::new();
    for axis in axes(graph, true) {
        for chain in chains(graph, &axis) {
            found.extend(hole(graph, rays, &axis, &chain, taken));
        }
    }
    for axis in axes(graph, false) {
        for piece in &axis.pieces {
            found.extend(boss(graph, rays, &axis, piece));
        }
    }
    for feature in &found {
        for &face in &feature.faces {
            taken[face as usize] = true;
        }
    }
    found
}

/// Pieces that follow one another along the axis; at least one of them goes all round.
fn chains(graph: &Graph<'_>, axis: &Axis) -> Vec<Vec<Piece>> {
    let mut chains: Vec<Vec<Piece>> = Vec::new();
    for piece in &axis.pieces {
        let follows = |chain: &&mut Vec<Piece>| {
            chain.last().is_some_and(|last| {
                let gap = piece.from_mm - last.to_mm;
                gap.abs() <= graph.grain_mm.max(0.05) || (gap > 0.0 && share(graph, last, piece))
            })
        };
        match chains.iter_mut().find(follows) {
            Some(chain) => chain.push(piece.clone()),
            None => chains.push(vec![piece.clone()]),
        }
    }
    chains.retain(|chain| chain.iter().any(|piece| piece.turn_deg >= LEAST_TURN_DEG));
    chains
}

/// Whether two walls of a hole meet the same small face: a shoulder, a fillet between them.
fn share(graph: &Graph<'_>, one: &Piece, two: &Piece) -> bool {
    let beside = |piece: &Piece| -> std::collections::BTreeSet<u32> {
        piece
            .faces
            .iter()
            .flat_map(|face| graph.beside(*face))
            .collect()
    };
    let between = two.from_mm - one.to_mm;
    let small = between <= one.radii_mm[1].max(two.radii_mm[0]);
    small && beside(one).intersection(&beside(two)).next().is_some()
}

/// One end of a chain of walls, seen outward.
struct End {
    centre: Point3<f64>,
    outward: Vec3,
    radius_mm: f64,
    /// `None` where it is open.
    bottom: Option<HoleBottom>,
    bottom_face: Option<u32>,
    /// Whether a tool can come in there along the axis.
    free: bool,
}

fn hole(
    graph: &Graph<'_>,
    rays: &Rays<'_>,
    axis: &Axis,
    chain: &[Piece],
    taken: &mut [bool],
) -> Option<Feature> {
    let (first, last) = (chain.first()?, chain.last()?);
    let mut faces: Vec<u32> = chain.iter().flat_map(|piece| piece.faces.clone()).collect();
    let low = end(graph, rays, axis, first, false, &faces);
    let high = end(graph, rays, axis, last, true, &faces);
    let rank = |end: &End| {
        let d = end.outward;
        // Where all else is equal the end that looks up, then along y, then x.
        let looks = [d.z, d.y, d.x].map(|x| (x * 1e3).round());
        (
            end.bottom.is_none(),
            end.free,
            (end.radius_mm * 1e3).round(),
            looks,
        )
    };
    let (open, far) = if rank(&high) >= rank(&low) {
        (high, low)
    } else {
        (low, high)
    };
    if open.bottom.is_some() {
        return None;
    }
    let mut steps = steps_from(axis, &open, chain);
    let bottom = far.bottom.unwrap_or(HoleBottom::Through);
    // The drill point is the bottom, not a step.
    if let HoleBottom::Conical(_) = bottom
        && steps.len() > 1
        && steps
            .last()
            .is_some_and(|step| step.inner_diameter_mm < 0.2 * step.diameter_mm)
    {
        steps.pop();
    }
    let depth_mm = steps.iter().map(|step| step.to_mm).fold(0.0, f64::max);
    let access = access(&open, &far, &steps, graph.grain_mm);
    // A cone alone is a countersink or a spot only where a tool can have made it.
    let is_cone = |step: &HoleStep| step.diameter_mm - step.inner_diameter_mm > graph.grain_mm;
    if access.is_empty() && steps.iter().all(is_cone) {
        return None;
    }
    faces.extend(far.bottom_face);
    faces.extend(shoulders(graph, &faces, &axis.direction));
    faces.sort_unstable();
    faces.dedup();
    faces.iter().for_each(|face| taken[*face as usize] = true);
    let form = RoundHole {
        opening: open.centre,
        direction: open.outward,
        steps,
        bottom,
        depth_mm,
    };
    Some(Feature {
        name: String::new(),
        form: FeatureForm::RoundHole(form),
        access,
        faces,
    })
}

/// Steps from the opening inward.
fn steps_from(axis: &Axis, open: &End, chain: &[Piece]) -> Vec<HoleStep> {
    let from_high = open.outward.dot(&axis.direction) > 0.0;
    let steps = chain
        .iter()
        .map(|p| step(&turned(axis, open, p, from_high)));
    if from_high {
        steps.rev().collect()
    } else {
        steps.collect()
    }
}

/// From where a tool that makes every step can come in.
fn access(open: &End, far: &End, steps: &[HoleStep], grain_mm: f64) -> Vec<Vec3> {
    let mut access = Vec::new();
    let widths = || steps.iter().map(|s| s.diameter_mm.max(s.inner_diameter_mm));
    if open.free && narrows(widths(), grain_mm) {
        access.push(open.outward);
    }
    if far.bottom.is_none() && far.free && narrows(widths().rev(), grain_mm) {
        access.push(far.outward);
    }
    if access.is_empty() && open.free {
        access.push(open.outward);
    }
    access
}

/// Whether no step is wider than one before it.
fn narrows(mut widths: impl Iterator<Item = f64>, grain_mm: f64) -> bool {
    let mut least = f64::INFINITY;
    widths.all(|width| {
        let fits = width <= least + grain_mm;
        least = least.min(width);
        fits
    })
}

/// A piece by its depth below the opening.
fn turned(axis: &Axis, open: &End, piece: &Piece, from_high: bool) -> Piece {
    let at = (open.centre - axis.point).dot(&axis.direction);
    let [low, high] = piece.radii_mm;
    let (from_mm, to_mm, radii_mm) = if from_high {
        (at - piece.to_mm, at - piece.from_mm, [high, low])
    } else {
        (piece.from_mm - at, piece.to_mm - at, [low, high])
    };
    Piece {
        from_mm,
        to_mm,
        radii_mm,
        ..piece.clone()
    }
}

fn step(piece: &Piece) -> HoleStep {
    HoleStep {
        diameter_mm: 2.0 * piece.radii_mm[0],
        inner_diameter_mm: 2.0 * piece.radii_mm[1],
        from_mm: piece.from_mm,
        to_mm: piece.to_mm,
    }
}

/// Flat rings between two walls of the hole.
fn shoulders(graph: &Graph<'_>, walls: &[u32], axis: &Vec3) -> Vec<u32> {
    let mut count = std::collections::BTreeMap::new();
    for wall in walls {
        for face in graph.beside(*wall) {
            if let FaceForm::Flat { normal, .. } = graph.form(face)
                && normal.cross(axis).norm() < 0.01
            {
                *count.entry(face).or_insert(0) += 1;
            }
        }
    }
    let all_within = |face: &u32| {
        graph
            .beside(*face)
            .iter()
            .all(|other| walls.contains(other))
    };
    count
        .into_iter()
        .filter(|(f, n)| *n > 1 && all_within(f))
        .map(|(face, _)| face)
        .collect()
}

fn end(
    graph: &Graph<'_>,
    rays: &Rays<'_>,
    axis: &Axis,
    piece: &Piece,
    is_high: bool,
    walls: &[u32],
) -> End {
    let (at_mm, radius_mm) = if is_high {
        (piece.to_mm, piece.radii_mm[1])
    } else {
        (piece.from_mm, piece.radii_mm[0])
    };
    let outward = if is_high {
        axis.direction
    } else {
        -axis.direction
    };
    let centre = axis.point + axis.direction * at_mm;
    let half_mm = (piece.to_mm - piece.from_mm) / 2.0;
    let least_mm = piece.radii_mm[0].min(piece.radii_mm[1]).max(graph.grain_mm);
    let widest_mm = piece.radii_mm[0].max(piece.radii_mm[1]);
    let [u, v] = across(&axis.direction);
    // Off the axis, so that no edge or apex is met.
    let start = centre - outward * half_mm + (u * 0.0137 + v * 0.0071) * least_mm;
    let reach_mm = 1.05 * widest_mm + graph.grain_mm;
    let hit = rays
        .first(&start, &outward, 1e-9)
        .filter(|hit| hit.distance_mm < half_mm + reach_mm);
    let bottom_face = hit
        .map(|hit| graph.face_of[hit.triangle as usize])
        .filter(|face| walls.contains(face) || closes(graph, *face, walls));
    let bottom = bottom_face.map(|face| match *graph.form(face) {
        FaceForm::Flat { .. } => HoleBottom::Flat,
        FaceForm::Cone { half_angle_deg, .. } => HoleBottom::Conical(2.0 * half_angle_deg),
        FaceForm::Torus { .. } | FaceForm::Sphere { .. } => HoleBottom::Rounded,
        _ => HoleBottom::Blind,
    });
    let spokes = [u, v, -u, -v].map(|spoke| spoke * (0.9 * radius_mm));
    let inside = centre - outward * (half_mm * 0.01);
    let free = bottom.is_none()
        && spokes
            .iter()
            .all(|spoke| rays.is_free(&(inside + spoke), &outward))
        && rays.is_free(&(inside + (u * 0.0137 + v * 0.0071) * least_mm), &outward);
    End {
        centre,
        outward,
        radius_mm,
        bottom,
        bottom_face,
        free,
    }
}

/// Whether a face meets the walls, at once or over a fillet.
fn closes(graph: &Graph<'_>, face: u32, walls: &[u32]) -> bool {
    let beside = graph.beside(face);
    let over_fillet = |other: &u32| {
        let round = matches!(
            graph.form(*other),
            FaceForm::Torus { .. } | FaceForm::Cone { .. }
        );
        round
            && graph
                .beside(*other)
                .iter()
                .any(|third| walls.contains(third))
    };
    beside
        .iter()
        .any(|other| walls.contains(other) || over_fillet(other))
}

fn boss(graph: &Graph<'_>, rays: &Rays<'_>, axis: &Axis, piece: &Piece) -> Option<Feature> {
    if piece.turn_deg < LEAST_TURN_DEG {
        return None;
    }
    // Where the wall meets its neighbours in a hollow, it stands on something.
    let stands = |high: bool| {
        let at = if high { piece.to_mm } else { piece.from_mm };
        let rims = piece
            .faces
            .iter()
            .flat_map(|face| &graph.rims[*face as usize]);
        let here = rims.filter(|rim| {
            let middle = nalgebra::center(&graph.at(rim.from), &graph.at(rim.to));
            ((middle - axis.point).dot(&axis.direction) - at).abs() < graph.grain_mm
        });
        here.map(|rim| graph.lean(rim) * (graph.at(rim.to) - graph.at(rim.from)).norm())
            .sum::<f64>()
            < 0.0
    };
    let (low, high) = (stands(false), stands(true));
    if low && high {
        return None;
    }
    let d = axis.direction;
    let upward = (d.z, d.y, d.x) > (0.0, 0.0, 0.0);
    let top_is_high = if low == high { upward } else { low };
    let (at_mm, direction) = if top_is_high {
        (piece.to_mm, d)
    } else {
        (piece.from_mm, -d)
    };
    let top = axis.point + d * at_mm;
    let radius_mm = piece.radii_mm[0];
    let [u, v] = across(&d);
    let foot = top - direction * ((piece.to_mm - piece.from_mm) * 0.999);
    let free = |direction: &Vec3, from: Point3<f64>| {
        [u, v, -u, -v]
            .iter()
            .all(|spoke| rays.is_free(&(from + spoke * (1.01 * radius_mm)), direction))
    };
    let mut access = Vec::new();
    if free(&direction, foot) {
        access.push(direction);
    }
    if !low && !high && free(&-direction, top) {
        access.push(-direction);
    }
    let boss = Boss {
        top,
        direction,
        diameter_mm: 2.0 * radius_mm,
        height_mm: piece.to_mm - piece.from_mm,
    };
    let mut faces = piece.faces.clone();
    faces.sort_unstable();
    Some(Feature {
        name: String::new(),
        form: FeatureForm::Boss(boss),
        access,
        faces,
    })
}
