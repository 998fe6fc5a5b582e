//! The index dial: the carrier across its rotary axis, and a ring for each tool.

use super::gap::{CHORD_MM, radius_mm, view, view_axes};
use super::model::{Dial, DrawnBody, Rest, Ring};
use super::moment::stood;
use crate::answer::check::model::{CheckAnswer, CutAnswer, Outcome};
use crate::answer::scene::{Body, Scene};
use crate::gap::{CannotAsk, section};
use crate::setup::model::Setup;
use crate::value::{Pose, Vec3};
use nalgebra::{Matrix3, Point3, Rotation3, Translation3};

/// The dial of an answer; `None` without a declared rotary sense.
pub(super) fn dial(scene: &Scene<'_>, answer: &CheckAnswer) -> Result<Option<Dial>, CannotAsk> {
    let setup = scene.setup;
    let Some(table_from_carrier) = scene.kinematics.table_from_carrier(&setup.carrier, 0.0) else {
        return Ok(None);
    };
    let height_mm = height_mm(setup);
    let table_from_plane = plane(setup, &table_from_carrier, height_mm);
    let plane_from_table = table_from_plane.inverse();
    let mut work = scene.iron()?;
    for (seat_index, seat) in setup.seats.iter().enumerate() {
        if seat.part.is_some() {
            work.extend(scene.part(seat_index, 0)?);
        }
    }
    let bodies: Vec<DrawnBody> = work
        .iter()
        .filter_map(|body| cut(body, &table_from_carrier, &plane_from_table))
        .collect();
    let lines = bodies.iter().map(|body| radius_mm(&body.outlines));
    let picture_deg = |direction: Vec3| {
        let seen = plane_from_table.rotation * direction;
        (seen.x.hypot(seen.y) > 1e-9).then(|| tidy(seen.y.atan2(seen.x).to_degrees()))
    };
    let Some(spindle_deg) = picture_deg(scene.kinematics.spindle()) else {
        return Ok(None);
    };
    let side_1 = picture_deg(table_from_carrier.rotation * Vec3::x()).unwrap_or(0.0);
    Ok(Some(Dial {
        rotary: setup.machine.rotary.name.clone(),
        view: view(&table_from_plane),
        axes: view_axes(&setup.machine.axes, &table_from_plane),
        height_mm,
        radius_mm: lines.fold(0.0, f64::max),
        bodies,
        sides: sides(setup, side_1),
        spindle_deg,
        work_turn_per_deg: scene.kinematics.work_turn_per_deg().unwrap_or(1.0),
        rings: rings(answer),
    }))
}

/// Arctangents of quarter turns come out a rounding error off.
fn tidy(angle_deg: f64) -> f64 {
    let grains = (angle_deg * 1e6).round() / 1e6;
    if (grains - angle_deg).abs() < 1e-9 {
        grains
    } else {
        angle_deg
    }
}

/// Through the middle of the part at the first seat that has one: there the section shows most.
fn height_mm(setup: &Setup) -> f64 {
    let seat = setup.seats.iter().find(|seat| seat.part.is_some());
    let Some((seat, part)) = seat.and_then(|seat| Some((seat, seat.part?))) else {
        let first = setup.seats.first();
        return first.map_or(0.0, |seat| seat.carrier_from_seat.translation.vector.z);
    };
    let carrier_from_part = seat.carrier_from_seat * seat.seat_from_part;
    let vertices = setup.parts[part].states[0].mesh.vertices.iter();
    let heights = vertices.map(|vertex| (carrier_from_part * vertex).z);
    let none = (f64::INFINITY, f64::NEG_INFINITY);
    let (low, high) = heights.fold(none, |(low, high), z| (low.min(z), high.max(z)));
    (low + high) / 2.0
}

/// Across the axis, seen against it, the first machine axis that is not along it to the right.
fn plane(setup: &Setup, table_from_carrier: &Pose, height_mm: f64) -> Pose {
    let toward = setup.machine.rotary.direction;
    let flat = |v: Vec3| v - toward * toward.dot(&v);
    let right = flat(Vec3::x())
        .try_normalize(0.5)
        .or_else(|| flat(Vec3::y()).try_normalize(1e-6))
        .unwrap_or_else(Vec3::y);
    let up = toward.cross(&right);
    let rotation = Rotation3::from_matrix_unchecked(Matrix3::from_columns(&[right, up, toward]));
    let origin = table_from_carrier * Point3::new(0.0, 0.0, height_mm);
    Pose::from_parts(Translation3::from(origin.coords), rotation)
}

fn cut(body: &Body, table_from_carrier: &Pose, plane_from_table: &Pose) -> Option<DrawnBody> {
    let stood = stood(body, table_from_carrier);
    let outlines = section(&stood.placed, plane_from_table, CHORD_MM);
    (!outlines.is_empty()).then_some(DrawnBody {
        name: stood.name,
        kind: stood.kind,
        outlines,
        nearest: false,
    })
}

/// Side 1 faces the carrier's x; the seats tell which way round the others follow. Sides of which
/// nothing tells that are left out.
fn sides(setup: &Setup, side_1_deg: f64) -> Vec<(u32, f64)> {
    let step_deg = 360.0 / f64::from(setup.carrier.sides);
    let ahead_deg = |side: u32| f64::from(side - 1) * step_deg;
    let both_ways = |side: u32| ahead_deg(side).rem_euclid(180.0) < 1e-9;
    let telling = setup.seats.iter().find(|seat| !both_ways(seat.side));
    let sign = telling.map(|seat| {
        let out = seat.carrier_from_seat.rotation * Vec3::z();
        let faces_deg = out.y.atan2(out.x).to_degrees();
        let off_deg = (faces_deg - ahead_deg(seat.side)).rem_euclid(360.0);
        if off_deg.min(360.0 - off_deg) < 1.0 {
            1.0
        } else {
            -1.0
        }
    });
    let known = |side: &u32| sign.is_some() || both_ways(*side);
    let faces = |side| {
        (
            side,
            tidy(side_1_deg + sign.unwrap_or(1.0) * ahead_deg(side)),
        )
    };
    (1..=setup.carrier.sides).filter(known).map(faces).collect()
}

/// A ring for each tool that cuts, with the worst of its cuts at every index.
fn rings(answer: &CheckAnswer) -> Vec<Ring> {
    let mut rings = Vec::new();
    for tool in &answer.tools {
        let mine = answer.cuts.iter().filter(|cut| cut.tool == tool.number);
        let rests = rests_of(mine);
        if !rests.is_empty() {
            rings.push(Ring {
                name: format!("T{}", tool.number),
                arcs: Vec::new(),
                rests,
            });
        }
    }
    rings
}

/// The worst of some cuts at every index.
pub(super) fn rests_of<'c>(cuts: impl Iterator<Item = &'c CutAnswer>) -> Vec<Rest> {
    let mut rests: Vec<Rest> = Vec::new();
    for (cut, index_deg) in cuts.filter_map(|cut| Some((cut, cut.index_deg?))) {
        match rests.iter_mut().find(|rest| rest.index_deg == index_deg) {
            Some(rest) => worsen(rest, cut),
            None => rests.push(Rest {
                index_deg,
                outcome: cut.outcome,
                verdict: cut.verdict,
            }),
        }
    }
    rests.sort_by(|a, b| a.index_deg.total_cmp(&b.index_deg));
    rests
}

fn worsen(rest: &mut Rest, cut: &CutAnswer) {
    let better = |outcome: Outcome| outcome == Outcome::Reached;
    if cut.verdict > rest.verdict || (cut.verdict == rest.verdict && better(rest.outcome)) {
        rest.verdict = cut.verdict;
        rest.outcome = cut.outcome;
    }
}
