//! The least gap of the tool group at one moment, and over a stretch of a walk.

use super::walk::{Stretch, Way};
use super::{Group, Moment, Shown, shown, table_from_group};
use crate::answer::check::judge::wanted_of;
use crate::answer::check::measure::{Asked, Measurement, Mover, Standing, measure};
use crate::answer::check::model::{Element, Measured, Phase};
use crate::answer::scene::{Body, BodyId, Scene};
use crate::gap::{CannotAsk, Motion, Placed, Turn};
use crate::value::Vec3;
use nalgebra::Point3;
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
    let rests = Stretch {
        begin: moment.clone(),
        way: Way::Straight(moment.tip),
    };
    gap_over(scene, &rests, stop)
}

/// The least gap of the tool group over the whole of a stretch, both ends included.
///
/// # Guarantees
/// As [`gap_now`], at every instant of the stretch: nothing is sampled. Where elements want
/// different gaps, the least is the one with the least room against what is wanted, as in a check.
/// `None` also for a turn without a declared rotary sense: which way the work turns is not known.
///
/// # Errors
/// As [`gap_now`].
pub fn gap_over(
    scene: &Scene<'_>,
    stretch: &Stretch,
    stop: &AtomicBool,
) -> Result<Option<Measured>, CannotAsk> {
    let begin = &stretch.begin;
    let all = shown(scene, begin)?;
    let (tool, rest): (Vec<&Shown>, Vec<&Shown>) =
        all.iter().partition(|shown| shown.element.is_some());
    let bodies: Vec<(Body, Group)> = rest
        .into_iter()
        .filter_map(|shown| Some((body_of(shown)?, shown.group)))
        .collect();
    let Some(courses) = courses(scene, stretch) else {
        return Ok(None);
    };
    let mut least = Measurement::default();
    for shown in tool {
        let Some(element) = shown.element else {
            continue;
        };
        let common_from_group = table_from_group(scene, shown.group, begin);
        let mover = Mover {
            element,
            name: &shown.name,
            placed: Placed {
                shape: shown.shape.clone(),
                common_from_body: common_from_group * shown.group_from_body,
            },
            allowance_mm: shown.chord_allowance_mm,
            tip: Some(begin.tip),
        };
        for course in &courses {
            let against: Vec<Standing<'_>> = bodies
                .iter()
                .filter(|(body, group)| {
                    course.kind == Kind::of(*group) && !entered(begin, element, body.id)
                })
                .map(|(body, group)| course.standing(scene, begin, body, *group))
                .collect();
            let asked = asked(scene, begin, element, stop);
            let mut found = measure(&mover, &against, &course.motion, &asked)?;
            if let Some(found) = found.least.as_mut() {
                course.tell(scene, stretch, &mut found.measured);
            }
            least.absorb(found);
        }
    }
    Ok(least.least.map(|found| found.measured))
}

/// Bodies that move alike against the tool.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Work,
    Bed,
    Base,
}

impl Kind {
    const fn of(group: Group) -> Self {
        match group {
            Group::Bed => Self::Bed,
            Group::Base => Self::Base,
            _ => Self::Work,
        }
    }
}

/// How the tool moves against bodies of one kind.
struct Course {
    kind: Kind,
    motion: Motion,
}

/// How the tool moves against each kind of bodies; `None` where that is not known.
fn courses(scene: &Scene<'_>, stretch: &Stretch) -> Option<[Course; 3]> {
    let begin = &stretch.begin;
    let (shift_mm, turn) = match stretch.way {
        Way::Straight(to) => (to - begin.tip, None),
        Way::Turn { to_deg } => (Vec3::zeros(), Some(turn(scene, begin.index_deg, to_deg)?)),
    };
    // A stretch of no length is asked as what it is: bodies at rest.
    let line = |shift_mm: Vec3| {
        if shift_mm == Vec3::zeros() {
            Motion::rest()
        } else {
            Motion::line(Vec3::zeros(), shift_mm)
        }
    };
    // An axis that moves the work moves it against the base, and the tool stands.
    let in_machine_mm = scene.kinematics.machine_shift_of_tool(shift_mm);
    let work = Motion {
        turn,
        ..line(shift_mm)
    };
    Some(
        [
            (Kind::Work, work),
            (Kind::Bed, line(shift_mm)),
            (Kind::Base, line(in_machine_mm)),
        ]
        .map(|(kind, motion)| Course { kind, motion }),
    )
}

fn turn(scene: &Scene<'_>, from_deg: f64, to_deg: f64) -> Option<Turn> {
    let per_deg = scene.kinematics.work_turn_per_deg()?;
    let rotary = &scene.setup.machine.rotary;
    Some(Turn {
        centre: rotary.centre,
        direction: rotary.direction,
        from_deg: from_deg * per_deg,
        to_deg: to_deg * per_deg,
    })
}

impl Course {
    /// A body where its motion begins: what turns is given as it stands at angle zero.
    fn standing<'b>(
        &self,
        scene: &Scene<'_>,
        begin: &Moment,
        body: &'b Body,
        group: Group,
    ) -> Standing<'b> {
        let table_from_group = if self.motion.turn.is_some() {
            scene.setup.carrier.machine_from_carrier_at_zero
        } else {
            table_from_group(scene, group, begin)
        };
        Standing::new(body, &table_from_group)
    }

    /// Tells the place in the table frame, with tip and rotary angle of that instant.
    fn tell(&self, scene: &Scene<'_>, stretch: &Stretch, measured: &mut Measured) {
        let Some(place) = measured.place.as_mut() else {
            return;
        };
        place.angle_deg = match (&self.motion.turn, scene.kinematics.work_turn_per_deg()) {
            (Some(_), Some(per_deg)) => place.angle_deg / per_deg,
            _ => stretch.begin.index_deg,
        };
        let (Kind::Base, Way::Straight(to)) = (self.kind, stretch.way) else {
            return;
        };
        // Asked with the base at rest; in the table frame the work's own axes shift it, and the
        // tip goes the whole way.
        let way_mm = to - stretch.begin.tip;
        let in_machine_mm = scene.kinematics.machine_shift_of_tool(way_mm);
        let done_mm = place.tip_mm.map_or(Vec3::zeros(), |tip_mm| {
            Point3::from(tip_mm) - stretch.begin.tip
        });
        let share = done_mm.dot(&in_machine_mm) / in_machine_mm.norm_squared().max(1e-12);
        let rest_mm = (way_mm - in_machine_mm) * share;
        let points_mm = [
            Some(&mut place.machine_mm),
            Some(&mut place.tool_mm),
            place.tip_mm.as_mut(),
        ];
        for point_mm in points_mm.into_iter().flatten() {
            *point_mm = (Vec3::from(*point_mm) + rest_mm).into();
        }
    }
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
