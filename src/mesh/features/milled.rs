//! Pockets, slots, steps and planar faces, richest first, so that the wall of a pocket is not told
//! as the floor of a step.

use super::floor::{Floor, LEAST_SHARE, is_wall};
use super::graph::{Graph, Rim};
use super::rays::Rays;
use super::{Feature, FeatureForm, PlanarFace, Pocket, Slot, Step};
use crate::mesh::faces::FaceForm;
use crate::mesh::faces::finish::upward;
use crate::mesh::faces::surface::across;
use crate::mesh::weld::index_u32;
use crate::value::Vec3;
use nalgebra::Point3;

/// Cosine of 175 degrees: walls that face each other.
const OPPOSITE_COS: f64 = -0.996;

/// Most triangles of a floor that are asked whether anything stands over them.
const RAYS: usize = 24;

/// Floors smaller than this share of the whole area are not told: facets of lettering.
const LEAST_FLOOR: f64 = 2.0e-5;

/// The same for faces that nothing rises from.
const LEAST_PLANE: f64 = 1.0e-3;

/// A ledge narrower than this share of its wall's height is the wall's own edge.
const LEAST_LEDGE: f64 = 0.02;

/// Most pairs of vertices compared in the search for a ring groove.
const MOST_PAIRS: usize = 4_000_000;

/// Finds the features; marks the faces they take.
pub(super) fn milled(graph: &Graph<'_>, rays: &Rays<'_>, taken: &mut [bool]) -> Vec<Feature> {
    let free = (0..index_u32(graph.faces.len())).filter(|face| !taken[*face as usize]);
    let mut floors: Vec<Floor> = free.filter_map(|face| Floor::of(graph, face)).collect();
    let area = |floor: &Floor| graph.faces[floor.face as usize].area_mm2;
    floors.sort_by(|a, b| {
        let order = richness(b).cmp(&richness(a));
        order
            .then(area(b).total_cmp(&area(a)))
            .then(a.face.cmp(&b.face))
    });
    let whole_mm2: f64 = graph.faces.iter().map(|face| face.area_mm2).sum();
    floors.retain(|floor| area(floor) >= LEAST_FLOOR * whole_mm2);
    let mut found = Vec::new();
    let stand = |floors: &[&Floor], taken: &mut [bool], found: &mut Vec<Feature>| {
        for floor in floors {
            let rises = floor.rise_mm >= LEAST_SHARE * floor.around_mm();
            if taken[floor.face as usize] || !rises {
                continue;
            }
            if let Some(feature) = standing(graph, rays, floor) {
                feature
                    .faces
                    .iter()
                    .for_each(|face| taken[*face as usize] = true);
                found.push(feature);
            }
        }
    };
    // Windows before open floors: each wall of one looks like the floor of a slot.
    let (closed, open): (Vec<&Floor>, Vec<&Floor>) = floors.iter().partition(|f| f.is_closed());
    stand(&closed, taken, &mut found);
    for floor in &floors {
        found.extend(windows(graph, rays, floor, taken));
    }
    stand(&open, taken, &mut found);
    for floor in &floors {
        let level = floor.rise_mm < LEAST_SHARE * floor.around_mm();
        let large = area(floor) >= LEAST_PLANE * whole_mm2;
        if level && large && !taken[floor.face as usize] {
            found.extend(planar_face(graph, rays, floor));
        }
    }
    found
}

/// 3 with walls all round, 2 with walls on three sides or two that face each other, 1 with fewer.
fn richness(floor: &Floor) -> u32 {
    match floor.walled.len() {
        _ if floor.is_closed() => 3,
        3.. => 2,
        2 if faces_each_other(floor) => 2,
        1 | 2 => 1,
        _ => 0,
    }
}

fn faces_each_other(floor: &Floor) -> bool {
    floor.walled.len() == 2 && floor.walled[0].outward.dot(&floor.walled[1].outward) < OPPOSITE_COS
}

/// The feature that a floor with walls is.
fn standing(graph: &Graph<'_>, rays: &Rays<'_>, floor: &Floor) -> Option<Feature> {
    if floor.walls.is_empty() {
        return None;
    }
    let form = ring_groove(graph, floor)
        .or_else(|| slot(graph, floor))
        .or_else(|| step(graph, floor))
        .or_else(|| pocket(graph, floor))?;
    let mut access = Vec::new();
    if is_open(graph, rays, floor.face, &floor.normal) {
        access.push(floor.normal);
    }
    if let FeatureForm::Step(step) = &form
        && (access.is_empty() || step.width_mm < LEAST_LEDGE * step.depth_mm)
    {
        return None;
    }
    // A step is open to where its wall looks, too.
    if let (FeatureForm::Step(step), [side]) = (&form, floor.walled.as_slice()) {
        let away = -side.outward;
        if step
            .walls
            .iter()
            .all(|wall| is_open(graph, rays, *wall, &away))
        {
            access.push(away);
        }
    }
    let mut faces = floor.faces();
    if let FeatureForm::Slot(slot) = &form {
        faces.extend(&slot.walls);
        faces.sort_unstable();
        faces.dedup();
    }
    Some(Feature {
        name: String::new(),
        form,
        access,
        faces,
    })
}

/// Whether nothing of the part stands over a face.
fn is_open(graph: &Graph<'_>, rays: &Rays<'_>, face: u32, along: &Vec3) -> bool {
    let triangles = &graph.triangles[face as usize];
    let stride = triangles.len().div_ceil(RAYS).max(1);
    triangles.iter().step_by(stride).all(|triangle| {
        let from = graph.geo.centre(*triangle) + along * 1e-4;
        rays.is_free(&from, along)
    })
}

fn opens(floor: &Floor) -> Vec<Vec3> {
    floor.open.iter().map(|side| side.outward).collect()
}

/// A slot: two walls that face each other, ends open or rounded.
fn slot(graph: &Graph<'_>, floor: &Floor) -> Option<FeatureForm> {
    if !faces_each_other(floor) {
        return None;
    }
    let across = floor.walled[0].outward;
    let along = floor.normal.cross(&across).normalize();
    let [left, right] = floor.reach(graph, &across);
    let width_mm = right - left;
    let mut rounded = [false; 2];
    for wall in floor.walls.keys() {
        if let FaceForm::Cylinder {
            point,
            radius_mm,
            hollow: true,
            ..
        } = *graph.form(*wall)
        {
            if (2.0 * radius_mm - width_mm).abs() > 0.05 * width_mm {
                return None;
            }
            rounded[usize::from((point - floor.point).dot(&along) > 0.0)] = true;
        }
    }
    let depth_mm = floor.depth_mm(graph);
    let [mut from, mut to] = floor.reach(graph, &along);
    from += if rounded[0] { width_mm / 2.0 } else { 0.0 };
    to -= if rounded[1] { width_mm / 2.0 } else { 0.0 };
    let middle = floor.point + across * f64::midpoint(left, right) + floor.normal * depth_mm;
    let points = if to - from > graph.grain_mm {
        vec![middle + along * from, middle + along * to]
    } else {
        return None;
    };
    Some(FeatureForm::Slot(Slot {
        points,
        closed: false,
        direction: floor.normal,
        width_mm,
        depth_mm,
        floor: floor.face,
        walls: floor.walls.keys().copied().collect(),
        open_sides: opens(floor),
    }))
}

/// A groove that runs back into itself: walls on both rims, everywhere at one distance.
fn ring_groove(graph: &Graph<'_>, floor: &Floor) -> Option<FeatureForm> {
    let [inner] = floor.inner.as_slice() else {
        return None;
    };
    let rises = inner.iter().all(|rim| graph.lean(rim) < -1e-3);
    if !floor.is_closed() || !rises || floor.fillet_radius_mm > 0.0 {
        return None;
    }
    if inner.len() * floor.outer.len() > MOST_PAIRS {
        return None;
    }
    let distance = |rim: &Rim| {
        let point = graph.at(rim.from);
        let to_edge = |edge: &Rim| to_segment(&point, &graph.at(edge.from), &graph.at(edge.to));
        floor
            .outer
            .iter()
            .map(to_edge)
            .fold(f64::INFINITY, f64::min)
    };
    let widths: Vec<f64> = inner.iter().map(distance).collect();
    let width_mm = widths.iter().sum::<f64>() / widths.len() as f64;
    let even = |width: &f64| (width - width_mm).abs() < graph.grain_mm.max(0.03 * width_mm);
    let mean_mm = (graph.length(inner) + graph.length(&floor.outer)) / 2.0;
    let area_mm2 = graph.faces[floor.face as usize].area_mm2;
    let fills = (area_mm2 - width_mm * mean_mm).abs() < 0.05 * area_mm2;
    if !widths.iter().all(even) || !fills || width_mm * 4.0 > mean_mm {
        return None;
    }
    let depth_mm = floor.depth_mm(graph);
    let count = inner.len();
    let points = (0..count).map(|k| {
        // Into the groove, square to both edges that meet here.
        let [one, two] = [(k + count - 1) % count, k].map(|k| -graph.outward(&inner[k]));
        let mitre = (one + two) / (1.0 + one.dot(&two)).max(0.2);
        graph.at(inner[k].from) + mitre * (width_mm / 2.0) + floor.normal * depth_mm
    });
    let points = thinned(points.collect());
    let mut walls: Vec<u32> = floor.walls.keys().copied().collect();
    let inside = inner.iter().filter_map(|rim| graph.behind(rim));
    walls.extend(inside.filter(|face| is_wall(graph, *face, &floor.normal)));
    walls.sort_unstable();
    walls.dedup();
    Some(FeatureForm::Slot(Slot {
        points,
        closed: true,
        direction: floor.normal,
        width_mm,
        depth_mm,
        floor: floor.face,
        walls,
        open_sides: Vec::new(),
    }))
}

/// Leaves out points on the straight between their neighbours.
fn thinned(points: Vec<Point3<f64>>) -> Vec<Point3<f64>> {
    let count = points.len();
    let bends = |k: &usize| {
        let (before, here) = (points[(k + count - 1) % count], points[*k]);
        let after = points[(k + 1) % count];
        to_segment(&here, &before, &after) > 1e-3
    };
    (0..count).filter(bends).map(|k| points[k]).collect()
}

fn to_segment(point: &Point3<f64>, from: &Point3<f64>, to: &Point3<f64>) -> f64 {
    let edge = to - from;
    let share = (point - from).dot(&edge) / edge.norm_squared().max(f64::MIN_POSITIVE);
    (point - (from + edge * share.clamp(0.0, 1.0))).norm()
}

fn step(graph: &Graph<'_>, floor: &Floor) -> Option<FeatureForm> {
    let side = floor.walled.first()?;
    if floor.is_closed() || floor.walled.len() > 2 || faces_each_other(floor) {
        return None;
    }
    // The wall is on the side of -(direction x along).
    let inward = -side.outward;
    let along = inward.cross(&floor.normal).normalize();
    let [wall, far] = floor.reach(graph, &inward);
    let [from, to] = floor.reach(graph, &along);
    let depth_mm = floor.depth_mm(graph);
    let at =
        floor.point + inward * wall + along * f64::midpoint(from, to) + floor.normal * depth_mm;
    Some(FeatureForm::Step(Step {
        at,
        direction: floor.normal,
        along,
        length_mm: to - from,
        width_mm: far - wall,
        depth_mm,
        floor: floor.face,
        walls: floor.walls.keys().copied().collect(),
        open_sides: opens(floor),
    }))
}

fn pocket(graph: &Graph<'_>, floor: &Floor) -> Option<FeatureForm> {
    let along = floor.walled.first().map_or_else(
        || across(&floor.normal)[0],
        |side| side.outward.cross(&floor.normal).normalize(),
    );
    let along = upward(along);
    let across = floor.normal.cross(&along);
    let ([from, to], [left, right]) = (floor.reach(graph, &along), floor.reach(graph, &across));
    let depth_mm = floor.depth_mm(graph);
    let opening = floor.point
        + along * f64::midpoint(from, to)
        + across * f64::midpoint(left, right)
        + floor.normal * depth_mm;
    Some(FeatureForm::Pocket(Pocket {
        opening,
        direction: floor.normal,
        along,
        length_mm: to - from,
        width_mm: right - left,
        depth_mm,
        corner_radius_mm: floor.corner_radius_mm(graph),
        floor_radius_mm: floor.fillet_radius_mm,
        floor: Some(floor.face),
        walls: floor.walls.keys().copied().collect(),
        open_sides: opens(floor),
        is_rectangle: is_rectangle(graph, floor, [&along, &across]),
    }))
}

/// Whether the floor fills the box round it but for its rounded corners.
fn is_rectangle(graph: &Graph<'_>, floor: &Floor, axes: [&Vec3; 2]) -> bool {
    let reach = |axis: &Vec3| {
        let at = floor
            .outer
            .iter()
            .map(|rim| (graph.at(rim.from) - floor.point).dot(axis));
        let ends = at.fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], at| {
            [low.min(at), high.max(at)]
        });
        ends[1] - ends[0]
    };
    let box_mm2 = reach(axes[0]) * reach(axes[1]);
    let mut corners_mm2 = 0.0;
    for wall in floor.walls.keys() {
        if let FaceForm::Cylinder {
            radius_mm,
            turn_deg,
            hollow: true,
            ..
        } = *graph.form(*wall)
        {
            // On the floor a corner is smaller by the fillet below it.
            let radius_mm = (radius_mm - floor.fillet_radius_mm).max(0.0);
            let quarters = turn_deg / 90.0;
            corners_mm2 += quarters * radius_mm * radius_mm * (1.0 - std::f64::consts::FRAC_PI_4);
        }
    }
    let floor_mm2 = graph.loop_area(&floor.outer, &floor.normal).abs();
    let islands = floor
        .inner
        .iter()
        .flatten()
        .any(|rim| graph.lean(rim) < -1e-3);
    !islands && (box_mm2 - corners_mm2 - floor_mm2).abs() < 0.01 * box_mm2
}

/// Pockets that go through: inner loops of a flat face with walls all round and no floor.
fn windows(graph: &Graph<'_>, rays: &Rays<'_>, floor: &Floor, taken: &mut [bool]) -> Vec<Feature> {
    let mut found = Vec::new();
    for inner in &floor.inner {
        let mut walls: Vec<u32> = inner.iter().filter_map(|rim| graph.behind(rim)).collect();
        walls.sort_unstable();
        walls.dedup();
        let stands = |wall: &u32| !taken[*wall as usize] && is_wall(graph, *wall, &floor.normal);
        let falls = inner.iter().all(|rim| graph.lean(rim) > 0.0);
        if walls.len() < 2 || !falls || !walls.iter().all(stands) {
            continue;
        }
        let mut window = Floor {
            outer: inner.clone(),
            inner: Vec::new(),
            walls: walls.iter().map(|wall| (*wall, 0.0)).collect(),
            fillets: Vec::new(),
            fillet_rim_mm: std::collections::BTreeMap::new(),
            walled: Vec::new(),
            open: Vec::new(),
            ..*floor
        };
        let longest = walls
            .iter()
            .filter_map(|wall| flat_side(graph, *wall, inner));
        window.walled = longest
            .max_by(|a, b| a.length_mm.total_cmp(&b.length_mm))
            .into_iter()
            .collect();
        let Some(FeatureForm::Pocket(mut pocket)) = pocket(graph, &window) else {
            continue;
        };
        let foot = |corner: Point3<f64>| (floor.point - corner).dot(&floor.normal);
        let corners = walls.iter().flat_map(|wall| graph.corners(*wall));
        pocket.depth_mm = corners.map(foot).fold(0.0, f64::max);
        pocket.opening -= floor.normal * window.depth_mm(graph);
        pocket.floor = None;
        let middle = pocket.opening - floor.normal * (pocket.depth_mm / 2.0);
        let free = |d: &Vec3| rays.is_free(&middle, d);
        let access = [floor.normal, -floor.normal]
            .into_iter()
            .filter(free)
            .collect();
        walls.iter().for_each(|wall| taken[*wall as usize] = true);
        let form = FeatureForm::Pocket(pocket);
        found.push(Feature {
            name: String::new(),
            form,
            access,
            faces: walls,
        });
    }
    found
}

fn flat_side(graph: &Graph<'_>, wall: u32, inner: &[Rim]) -> Option<super::floor::Side> {
    let FaceForm::Flat { normal, .. } = graph.form(wall) else {
        return None;
    };
    let here = inner.iter().filter(|rim| graph.behind(rim) == Some(wall));
    let length_mm = here
        .map(|rim| (graph.at(rim.to) - graph.at(rim.from)).norm())
        .sum();
    Some(super::floor::Side {
        outward: -normal,
        length_mm,
    })
}

fn planar_face(graph: &Graph<'_>, rays: &Rays<'_>, floor: &Floor) -> Option<Feature> {
    // Along the longest straight of its rim.
    let longest = floor.open.first()?;
    let along = upward(longest.outward.cross(&floor.normal).try_normalize(1e-9)?);
    let across = floor.normal.cross(&along);
    let ([from, to], [left, right]) = (floor.reach(graph, &along), floor.reach(graph, &across));
    let at = floor.point + along * f64::midpoint(from, to) + across * f64::midpoint(left, right);
    let open = is_open(graph, rays, floor.face, &floor.normal);
    let form = FeatureForm::PlanarFace(PlanarFace {
        at,
        direction: floor.normal,
        along,
        length_mm: to - from,
        width_mm: right - left,
        face: floor.face,
    });
    let access = if open { vec![floor.normal] } else { Vec::new() };
    Some(Feature {
        name: String::new(),
        form,
        access,
        faces: vec![floor.face],
    })
}
