//! Which bodies stand where at a place of an answer.

use super::gap::About;
use super::model::BodyKind;
use crate::answer::check::model::{Element, Measured, Phase, Place};
use crate::answer::check::plan::states_during;
use crate::answer::scene::{Body, BodyId, Scene, placed};
use crate::gap::{CannotAsk, Placed};
use crate::setup::model::Tool;
use crate::value::{Pose, Vec3, translation};
use nalgebra::Point3;

/// A body in its place.
pub(super) struct Stood {
    pub name: String,
    pub kind: BodyKind,
    pub placed: Placed,
}

/// How bodies on the table and bodies of the base stand in the common frame of a measurement;
/// `None` where that does not follow from it.
struct Frames {
    table: Option<Pose>,
    base: Option<Pose>,
}

/// Every body whose place at that moment is known.
///
/// Parts stand in the state that the answer names, or else as they are before the cut (the part
/// that is cut: after it).
pub(super) fn bodies(
    scene: &Scene<'_>,
    measured: &Measured,
    place: &Place,
    about: &About<'_>,
) -> Result<Vec<Stood>, CannotAsk> {
    let setup = scene.setup;
    let frames = frames(scene, measured, place, about.tool);
    let mut all = Vec::new();
    let turned = scene
        .kinematics
        .table_from_carrier(&setup.carrier, place.angle_deg);
    if let (Some(common_from_table), Some(table_from_carrier)) = (frames.table, turned) {
        let common_from_carrier = common_from_table * table_from_carrier;
        let mut work = scene.iron()?;
        work.extend(parts(scene, measured, about)?);
        all.extend(work.iter().map(|body| stood(body, &common_from_carrier)));
        all.extend(scene.bed.iter().map(|body| stood(body, &common_from_table)));
    }
    if let Some(common_from_base) = frames.base {
        all.extend(scene.base.iter().map(|body| stood(body, &common_from_base)));
    }
    Ok(all)
}

pub(super) fn stood(body: &Body, common_from_group: &Pose) -> Stood {
    let kind = match body.id {
        BodyId::Carrier(_) => BodyKind::Carrier,
        BodyId::Part { .. } => BodyKind::Part,
        BodyId::Clamp { .. } => BodyKind::Clamp,
        BodyId::Bed(_) => BodyKind::Bed,
        BodyId::Base(_) => BodyKind::Base,
    };
    Stood {
        name: body.name.clone(),
        kind,
        placed: placed(body, common_from_group),
    }
}

fn frames(scene: &Scene<'_>, measured: &Measured, place: &Place, tool: Option<&Tool>) -> Frames {
    let is_base = |name: &str| scene.base.iter().any(|body| body.name == name);
    let here = Some(Pose::identity());
    let shift_mm = Vec3::from(place.shift_mm.unwrap_or_default());
    let of_tool = !matches!(measured.element, Element::Work | Element::Bed);
    match (
        of_tool,
        is_base(&measured.body),
        is_base(&measured.element_body),
    ) {
        // Beside the base the tool's place is known in the machine, not to the table.
        (true, true, _) => Frames {
            table: None,
            base: here,
        },
        (true, false, _) => Frames {
            table: here,
            base: place.tip_mm.zip(tool).map(|(tip_mm, tool)| {
                let kinematics = &scene.kinematics;
                let shift_mm = kinematics.shift_mm(Point3::from(tip_mm), tool.gauge_length_mm);
                translation(-kinematics.machine_shift_of_table(shift_mm))
            }),
        },
        (false, true, _) => Frames {
            table: Some(translation(shift_mm)),
            base: here,
        },
        (false, false, true) => Frames {
            table: here,
            base: Some(translation(shift_mm)),
        },
        (false, false, false) => Frames {
            table: here,
            base: None,
        },
    }
}

fn parts(
    scene: &Scene<'_>,
    measured: &Measured,
    about: &About<'_>,
) -> Result<Vec<Body>, CannotAsk> {
    let setup = scene.setup;
    let states = match about.cut {
        Some(cut) => states_during(setup, cut),
        None => vec![vec![0]; setup.parts.len()],
    };
    let mut bodies = Vec::new();
    for (seat_index, seat) in setup.seats.iter().enumerate() {
        let Some(part) = seat.part else { continue };
        let own = about.seat == Some(seat_index) && measured.phase == Phase::Cut;
        let usual = if own {
            states[part].last()
        } else {
            states[part].first()
        };
        let named = (0..setup.parts[part].states.len()).find(|&state| {
            let body = scene.part_name(seat_index, state);
            body.as_ref() == Some(&measured.body) || body.as_ref() == Some(&measured.element_body)
        });
        let state = named.or(usual.copied()).unwrap_or(0);
        bodies.extend(scene.part(seat_index, state)?);
    }
    Ok(bodies)
}
