//! The least gap of the tool group at one moment.

use super::{Group, Moment, Shown, shown, table_from_group};
use crate::answer::check::judge::wanted_of;
use crate::answer::check::measure::{Asked, Measurement, Mover, Standing, measure};
use crate::answer::check::model::{Element, Measured, Phase};
use crate::answer::scene::{Body, BodyId, Scene};
use crate::gap::{CannotAsk, Motion, Placed};
use std::sync::atomic::AtomicBool;

/// The least gap of the tool group to work, bed and base at rest at this moment, with its verdict.
///
/// # Guarantees
/// The bracket is certified, chord allowances taken off, as in a check. Elements that may enter
/// the part that is cut are not held against that part. Gaps among work, bed and base are not
/// asked. `None` without a tool, or where nothing else stands there.
///
/// # Errors
/// A [`CannotAsk`] where the engine refuses; a checked setup at a finite moment gives none.
pub fn gap_now(
    scene: &Scene<'_>,
    moment: &Moment,
    stop: &AtomicBool,
) -> Result<Option<Measured>, CannotAsk> {
    let all = shown(scene, moment)?;
    let (tool, rest): (Vec<&Shown>, Vec<&Shown>) =
        all.iter().partition(|shown| shown.element.is_some());
    let bodies: Vec<(Body, Group)> = rest
        .into_iter()
        .filter_map(|shown| Some((body_of(shown)?, shown.group)))
        .collect();
    let standing: Vec<Standing<'_>> = bodies
        .iter()
        .map(|(body, group)| Standing::new(body, &table_from_group(scene, *group, moment)))
        .collect();
    let mut least = Measurement::default();
    for shown in tool {
        let Some(element) = shown.element else {
            continue;
        };
        let common_from_group = table_from_group(scene, shown.group, moment);
        let mover = Mover {
            element,
            name: &shown.name,
            placed: Placed {
                shape: shown.shape.clone(),
                common_from_body: common_from_group * shown.group_from_body,
            },
            allowance_mm: shown.chord_allowance_mm,
            tip: Some(moment.tip),
        };
        let against: Vec<Standing<'_>> = standing
            .iter()
            .filter(|standing| !entered(moment, element, standing.body.id))
            .cloned()
            .collect();
        let asked = asked(scene, moment, element, stop);
        least.absorb(measure(&mover, &against, &Motion::rest(), &asked)?);
    }
    let mut measured = least.least.map(|found| found.measured);
    if let Some(place) = measured.as_mut().and_then(|found| found.place.as_mut()) {
        place.angle_deg = moment.index_deg;
    }
    Ok(measured)
}

fn body_of(shown: &Shown) -> Option<Body> {
    Some(Body {
        id: shown.id?,
        name: shown.name.clone(),
        shape: shown.shape.clone(),
        pose: shown.group_from_body,
        chord_allowance_mm: shown.chord_allowance_mm,
        gouge_chord_mm: shown.chord_allowance_mm,
    })
}

fn entered(moment: &Moment, element: Element, body: BodyId) -> bool {
    moment.own.as_ref().is_some_and(|own| {
        let is_own = matches!(body, BodyId::Part { seat, .. } if seat == own.seat);
        is_own && own.enters.contains(&element)
    })
}

fn asked<'q>(
    scene: &Scene<'_>,
    moment: &Moment,
    element: Element,
    stop: &'q AtomicBool,
) -> Asked<'q> {
    let wanted = wanted_of(&scene.setup.wanted, element);
    let (phase, wanted_mm) = match (&moment.own, moment.turning) {
        (_, true) => (Phase::IndexMove, wanted.index_mm),
        (Some(own), false) if own.enters.is_empty() => (Phase::Approach, wanted.rest_mm),
        (Some(_), false) => (Phase::Cut, wanted.rest_mm),
        (None, false) => (Phase::ToolChange, wanted.rest_mm),
    };
    Asked {
        wanted_mm,
        phase,
        tolerance_mm: 1e-3,
        decide_only: false,
        spare_mm: f64::INFINITY,
        hint: None,
        budget: None,
        stop,
    }
}
