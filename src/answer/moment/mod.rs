//! What stands where at one instant: for a window, a picture, a drawing.
//!
//! - [`Moment`], [`Group`], [`Shown`]: bodies by group, each group with one pose
//! - [`find`]: the moments of troubles, cuts and moves of an answer
//! - [`now`]: the certified gap of the tool group at a moment, and over a stretch
//! - [`walk`]: a motion walked piece by piece, with the least gap over all of it

pub mod find;
pub mod now;
pub mod walk;

use super::check::model::Element;
use super::scene::{Body, BodyId, Scene};
use crate::gap::{CannotAsk, Shape};
use crate::value::{Pose, translation};
use nalgebra::Point3;

/// Bodies that move together, or are of one kind, so that they are shown or hidden together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Group {
    /// Bed bodies.
    Bed,
    /// Base bodies.
    Base,
    /// The carrier.
    Carrier,
    /// Clamps.
    Clamps,
    /// Parts.
    Parts,
    /// Flutes, shank, holder.
    Tool,
    /// Nose and head.
    Spindle,
}

impl Group {
    /// All groups, in the order in which they are listed.
    pub const ALL: [Self; 7] = [
        Self::Bed,
        Self::Base,
        Self::Carrier,
        Self::Clamps,
        Self::Parts,
        Self::Tool,
        Self::Spindle,
    ];
}

/// One instant: carrier, parts, tool and tip.
#[derive(Debug, Clone, PartialEq)]
pub struct Moment {
    /// Rotary angle.
    pub index_deg: f64,
    /// State of the part at each seat; without meaning for an empty seat.
    pub states: Vec<usize>,
    /// Tool in the spindle: index into the tools. `None` shows no tool group.
    pub tool: Option<usize>,
    /// Tip, in the table frame.
    pub tip: Point3<f64>,
    /// The seat whose part is being cut, and the elements that may be in it at this instant.
    pub own: Option<Own>,
    /// Whether the carrier turns: the wanted gap of index moves counts then.
    pub turning: bool,
}

/// The part that is cut.
#[derive(Debug, Clone, PartialEq)]
pub struct Own {
    /// Seat.
    pub seat: usize,
    /// Elements that may be in it: none above the feed plane.
    pub enters: Vec<Element>,
}

/// A body as it is shown.
#[derive(Debug, Clone)]
pub struct Shown {
    /// Its group.
    pub group: Group,
    /// Name, as in answers.
    pub name: String,
    /// Shape.
    pub shape: Shape,
    /// Pose in its group's frame.
    pub group_from_body: Pose,
    /// Which body of the setup; `None` for the tool group.
    pub id: Option<BodyId>,
    /// Which element of the tool group.
    pub element: Option<Element>,
    /// By how much the true body may stand outside its shape.
    pub chord_allowance_mm: f64,
}

/// Everything that stands around at a moment.
///
/// # Errors
/// As [`Scene::new`].
pub fn shown(scene: &Scene<'_>, moment: &Moment) -> Result<Vec<Shown>, CannotAsk> {
    let mut all: Vec<Shown> = scene.bed.iter().map(|body| of(body, Group::Bed)).collect();
    all.extend(scene.base.iter().map(|body| of(body, Group::Base)));
    for body in scene.iron()? {
        let group = match body.id {
            BodyId::Clamp { .. } => Group::Clamps,
            _ => Group::Carrier,
        };
        all.push(of(&body, group));
    }
    for (seat, &state) in moment.states.iter().enumerate() {
        all.extend(scene.part(seat, state)?.map(|part| of(&part, Group::Parts)));
    }
    let Some(tool) = moment.tool else {
        return Ok(all);
    };
    for element in scene.tool_elements(&scene.setup.tools[tool])? {
        let group = match element.element {
            Element::Nose | Element::Head => Group::Spindle,
            _ => Group::Tool,
        };
        all.push(Shown {
            group,
            name: element.name,
            shape: element.shape,
            group_from_body: element.tool_from_body,
            id: None,
            element: Some(element.element),
            chord_allowance_mm: element.chord_allowance_mm,
        });
    }
    Ok(all)
}

fn of(body: &Body, group: Group) -> Shown {
    Shown {
        group,
        name: body.name.clone(),
        shape: body.shape.clone(),
        group_from_body: body.pose,
        id: Some(body.id),
        element: None,
        chord_allowance_mm: body.chord_allowance_mm,
    }
}

/// The pose of a group in the table frame at a moment.
///
/// # Guarantees
/// Without a declared rotary sense the carrier is shown at angle 0, whatever the moment says.
#[must_use]
pub fn table_from_group(scene: &Scene<'_>, group: Group, moment: &Moment) -> Pose {
    let kinematics = &scene.kinematics;
    match group {
        Group::Bed => Pose::identity(),
        Group::Base => {
            let length_mm = moment
                .tool
                .map_or(0.0, |tool| scene.setup.tools[tool].gauge_length_mm);
            let shift_mm = kinematics.shift_mm(moment.tip, length_mm);
            translation(-kinematics.machine_shift_of_table(shift_mm))
        }
        Group::Carrier | Group::Clamps | Group::Parts => kinematics
            .table_from_carrier(&scene.setup.carrier, moment.index_deg)
            .unwrap_or(scene.setup.carrier.machine_from_carrier_at_zero),
        Group::Tool | Group::Spindle => kinematics.table_from_tool(moment.tip),
    }
}
