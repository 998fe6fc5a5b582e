//! Machine files to the checked machine.

use super::bodies::{Bodies, bodies};
use super::file::{AxisFile, BodyGroup, ContactFile, IndexRule, MachineFile, RotaryFile};
use super::meshes::Store;
use super::model::{Contact, IndexAt, LinearAxis, Machine, MachineBody, Rotary};
use super::nearest::suggest;
use super::spot::Spot;
use crate::value::{Pose, Vec3, frame_from_z_and_hint};
use nalgebra::{Matrix3, Translation3};

/// Least volume spanned by three unit vectors that count as independent: about 0.06 degrees
/// between the flattest two. Real axes are square; anything near 0 is a slip of the pen.
const LEAST_SPAN: f64 = 1.0e-3;

/// Checks and makes a machine; faults go to the log of `spot`.
pub(super) fn machine(spot: &Spot<'_>, file: &MachineFile, store: &Store) -> Option<Machine> {
    spot.key("name").name(&file.name);
    let gauge_point = spot.key("gauge_point").point(file.gauge_point);
    let spindle = spot.key("spindle").direction(file.spindle);
    let axes = axes(&spot.key("axes"), &file.axes, &file.rotary.name);
    let rotary = rotary(&spot.key("rotary"), &file.rotary);
    let Bodies {
        nose,
        head,
        bed,
        base,
    } = bodies(spot, file, store);
    note_missing_bodies(spot, file);
    let contacts = contacts(&spot.key("contacts"), file, &bed);
    let spindle = spindle?;
    let rotation = frame_from_z_and_hint(&spindle, &Vec3::x())
        .or_else(|| frame_from_z_and_hint(&spindle, &Vec3::y()))?;
    Some(Machine {
        name: file.name.clone(),
        axes: axes?,
        rotary: rotary?,
        machine_from_spindle_at_zero: Pose::from_parts(
            Translation3::from(gauge_point.coords),
            rotation,
        ),
        nose,
        head,
        bed,
        base,
        contacts,
    })
}

fn axes(spot: &Spot<'_>, files: &[AxisFile], rotary_name: &str) -> Option<[LinearAxis; 3]> {
    let names: Vec<&str> = files.iter().map(|file| file.name.as_str()).collect();
    spot.unique(&names, "name");
    if let Some(index) = names.iter().position(|name| *name == rotary_name) {
        let name = spot.item(index).key("name");
        name.error(format!(
            "\"{rotary_name}\" is the name of the rotary too; rename one"
        ));
    }
    let axes: Vec<Option<LinearAxis>> = files
        .iter()
        .enumerate()
        .map(|(index, file)| axis(&spot.item(index), file))
        .collect();
    if files.len() != 3 {
        spot.error(format!(
            "there are {} linear axes; exactly three are needed",
            files.len()
        ));
        return None;
    }
    let axes: Vec<LinearAxis> = axes.into_iter().collect::<Option<_>>()?;
    let axes: [LinearAxis; 3] = axes.try_into().ok()?;
    let span = Matrix3::from_columns(&[axes[0].direction, axes[1].direction, axes[2].direction]);
    if span.determinant().abs() < LEAST_SPAN {
        spot.error("the three directions lie in one plane; give three independent directions");
        return None;
    }
    Some(axes)
}

fn axis(spot: &Spot<'_>, file: &AxisFile) -> Option<LinearAxis> {
    let direction = spot.key("direction").direction(file.direction);
    let limits = spot.key("limits");
    limits.ordered(file.limits, "limit");
    let [low_mm, high_mm] = file.limits.map(|limit| limits.length(limit));
    let within = |key: &str, value: f64, remedy: &str| {
        let spot = spot.key(key);
        let position_mm = spot.length(value);
        if low_mm < high_mm && !(low_mm..=high_mm).contains(&position_mm) {
            let [low, high] = file.limits;
            spot.error(format!(
                "{value} is outside the limits {low} to {high}; {remedy}"
            ));
        }
        position_mm
    };
    let home_mm = within(
        "home",
        file.home,
        "give `home` (0 unless stated) within the limits",
    );
    let tool_change_mm = match file.tool_change {
        Some(position) => within("tool_change", position, "give a position within the limits"),
        None => home_mm,
    };
    let index = match (file.index_at, file.index_rule) {
        (Some(_), Some(_)) => {
            spot.error("`index_at` and `index_rule` are both given; give one of them");
            IndexAt::Rule(IndexRule::Home)
        }
        (Some(at), None) => {
            IndexAt::At(within("index_at", at, "give a position within the limits"))
        }
        (None, rule) => IndexAt::Rule(rule.unwrap_or(IndexRule::Home)),
    };
    Some(LinearAxis {
        name: file.name.clone(),
        direction: direction?,
        low_mm,
        high_mm,
        moves: file.moves,
        home_mm,
        tool_change_mm,
        index,
    })
}

fn rotary(spot: &Spot<'_>, file: &RotaryFile) -> Option<Rotary> {
    spot.key("name").name(&file.name);
    let direction = spot.key("direction").direction(file.direction);
    let centre = spot.key("centre").point(file.centre);
    if let Some(step_deg) = file.step_deg {
        let spot = spot.key("step_deg");
        if step_deg <= 0.0 {
            spot.error(format!(
                "must be more than 0, but is {step_deg}; leave it out for any angle"
            ));
        } else if !divides(step_deg) {
            spot.error(format!(
                "{step_deg} does not divide 360; give 360 divided by a whole number"
            ));
        }
    }
    if let Some(limits_deg) = file.limits_deg {
        spot.key("limits_deg").ordered(limits_deg, "limit");
    }
    if file.sense.is_none() {
        spot.warn(
            "`sense` is missing: it has no default, so every answer that depends on an index will \
             be `unknown`; add sense = \"iso-841\" or \"reversed\" after watching the machine turn",
        );
    }
    if file.way.is_none() {
        spot.warn(
            "`way` is missing: index moves are checked both ways round; add the way that the \
             machine goes to ask for less",
        );
    }
    let swing_radius_mm = file
        .swing_radius
        .map(|radius| spot.key("swing_radius").positive(radius));
    Some(Rotary {
        name: file.name.clone(),
        direction: direction?,
        centre,
        sense: file.sense,
        step_deg: file.step_deg,
        limits_deg: file.limits_deg,
        way: file.way,
        swing_radius_mm,
    })
}

/// Whether a whole number of steps makes a turn, to the digits that a file can hold.
fn divides(step_deg: f64) -> bool {
    let steps = 360.0 / step_deg;
    steps >= 1.0 - 1.0e-9 && (steps - steps.round()).abs() <= 1.0e-9 * steps.max(1.0)
}

/// Says why an angle cannot be an index of this rotary.
pub(super) fn check_index(spot: &Spot<'_>, rotary: &Rotary, angle_deg: f64) {
    if let Some(step_deg) = rotary.step_deg
        && step_deg > 0.0
        && divides(step_deg)
    {
        let nearest_deg = (angle_deg / step_deg).round() * step_deg;
        if (nearest_deg - angle_deg).abs() > 1.0e-6 {
            spot.error(format!(
                "{angle_deg} degrees is no multiple of the step {step_deg}; the nearest is \
                 {nearest_deg}"
            ));
        }
    }
    if let Some([low_deg, high_deg]) = rotary.limits_deg
        && low_deg < high_deg
        && !(low_deg..=high_deg).contains(&angle_deg)
    {
        spot.error(format!(
            "{angle_deg} degrees is outside the limits {low_deg} to {high_deg} of axis {}; give an \
             angle within them",
            rotary.name
        ));
    }
}

fn note_missing_bodies(spot: &Spot<'_>, file: &MachineFile) {
    let groups = [
        (BodyGroup::Nose, "nose"),
        (BodyGroup::Head, "head"),
        (BodyGroup::Bed, "bed"),
        (BodyGroup::Base, "base"),
    ];
    let absent = groups
        .into_iter()
        .filter(|(group, _)| file.bodies.iter().all(|body| body.group != *group))
        .map(|(_, name)| name)
        .collect::<Vec<_>>();
    if !absent.is_empty() {
        spot.key("bodies").warn(format!(
            "there is no body of the group {}: nothing is checked against it; add one if the \
             machine has it in reach",
            absent.join(", ")
        ));
    }
}

fn contacts(spot: &Spot<'_>, machine: &MachineFile, bed: &[MachineBody]) -> Vec<Contact> {
    let files = &machine.contacts;
    let of_bed = machine
        .bodies
        .iter()
        .filter(|body| body.group == BodyGroup::Bed);
    let known: Vec<&str> = of_bed.map(|body| body.name.as_str()).collect();
    let names: Vec<&str> = files.iter().map(|file| file.name.as_str()).collect();
    spot.unique(&names, "name");
    let contact = |(index, file): (usize, &ContactFile)| {
        let spot = spot.item(index);
        if file.work != "carrier" {
            let message = "a contact is meant for the carrier only; write work = \"carrier\"";
            spot.key("work")
                .error(format!("is \"{}\": {message}", file.work));
        }
        spot.key("along").ordered(file.along, "end");
        let along_mm = file.along.map(|end| spot.key("along").length(end));
        let radius_mm = spot.key("radius").positive(file.radius);
        let found = bed.iter().position(|body| body.name == file.bed);
        if !known.contains(&file.bed.as_str()) {
            let remedy = suggest(&file.bed, &known);
            spot.key("bed")
                .error(format!("there is no bed body \"{}\"; {remedy}", file.bed));
        }
        Some(Contact {
            name: file.name.clone(),
            bed: found?,
            radius_mm,
            along_mm,
        })
    };
    files.iter().enumerate().filter_map(contact).collect()
}
