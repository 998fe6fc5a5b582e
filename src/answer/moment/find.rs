//! The moments that an answer speaks of: the worst place of a trouble, a cut, a move.

use super::{Moment, Own};
use crate::answer::check::course::{Course, course};
use crate::answer::check::model::{CheckAnswer, CutAnswer, IndexMoveAnswer, Measured, Phase};
use crate::answer::check::plan::{states_after_all, states_during};
use crate::answer::scene::Scene;
use crate::gap::CannotAsk;
use nalgebra::Point3;

/// Something of an answer that can be gone to, by its position in the answer's lists.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Spot {
    /// A trouble, at its worst place.
    Trouble(usize),
    /// A cut at a seat.
    Cut(usize),
    /// An index move.
    Move(usize),
}

/// A moment of the answer, with what there is to know and to play about it.
#[derive(Debug, Clone, PartialEq)]
pub struct Stood {
    /// Everything in its place.
    pub moment: Moment,
    /// The gap that the answer tells for this spot: of the whole motion, not of this moment.
    pub measured: Option<Measured>,
    /// Cut of the setup that it belongs to.
    pub cut: Option<usize>,
    /// Seat of the setup.
    pub seat: Option<usize>,
    /// The approach through this moment's place, where there is one.
    pub approach: Option<Approach>,
    /// The index move at this spot, or the one that leads to it: begin and end angle, and the
    /// tip that stands meanwhile.
    pub turn: Option<TurnWalk>,
}

/// Straight down along the access direction.
#[derive(Debug, Clone, PartialEq)]
pub struct Approach {
    /// Tip at the travel plane.
    pub from: Point3<f64>,
    /// Tip at the depth of the moment (the deepest tip where the moment is above the feed plane).
    pub to: Point3<f64>,
    /// Where the cut begins.
    pub course: Course,
}

/// The carrier turns, the tip stands.
#[derive(Debug, Clone, PartialEq)]
pub struct TurnWalk {
    /// Begin.
    pub from_deg: f64,
    /// End, counted through.
    pub to_deg: f64,
    /// Tip.
    pub tip: Point3<f64>,
    /// Tool.
    pub tool: usize,
}

impl Stood {
    /// The moment at a share (0 to 1) of the approach.
    #[must_use]
    pub fn on_approach(&self, share: f64) -> Option<Moment> {
        let approach = self.approach.as_ref()?;
        let tip = approach.from + (approach.to - approach.from) * share.clamp(0.0, 1.0);
        let mut moment = self.moment.clone();
        moment.tip = tip;
        moment.turning = false;
        moment.own = self.seat.map(|seat| Own {
            seat,
            enters: entering(&approach.course, tip),
        });
        Some(moment)
    }

    /// The moment at a share (0 to 1) of the index move.
    #[must_use]
    pub fn on_turn(&self, share: f64) -> Option<Moment> {
        let turn = self.turn.as_ref()?;
        let share = share.clamp(0.0, 1.0);
        Some(Moment {
            index_deg: turn.from_deg + (turn.to_deg - turn.from_deg) * share,
            tip: turn.tip,
            tool: Some(turn.tool),
            own: None,
            turning: true,
            states: self.moment.states.clone(),
        })
    }
}

pub(super) fn entering(
    course: &Course,
    tip: Point3<f64>,
) -> Vec<crate::answer::check::model::Element> {
    if course.in_cut(tip) {
        course.enters.clone()
    } else {
        Vec::new()
    }
}

/// The setup as it is loaded: no tool, the start index, every part in its first state.
#[must_use]
pub fn loaded(scene: &Scene<'_>) -> Stood {
    let setup = scene.setup;
    Stood {
        moment: Moment {
            index_deg: setup.start_index_deg,
            states: vec![0; setup.seats.len()],
            tool: None,
            tip: Point3::origin(),
            own: None,
            turning: false,
        },
        measured: None,
        cut: None,
        seat: None,
        approach: None,
        turn: None,
    }
}

/// The spot to open at: the worst trouble that has a place, else the cut with the least room.
#[must_use]
pub fn worst_spot(answer: &CheckAnswer) -> Option<Spot> {
    let placed = |trouble: &crate::answer::check::model::Trouble| {
        trouble
            .worst
            .as_ref()
            .is_some_and(|worst| worst.place.is_some())
    };
    let first = answer.troubles.iter().position(placed);
    if let Some(first) = first.or((!answer.troubles.is_empty()).then_some(0)) {
        return Some(Spot::Trouble(first));
    }
    let room = |cut: &CutAnswer| {
        cut.least
            .as_ref()
            .map_or(f64::INFINITY, |least| least.gap.lo_mm - least.wanted_mm)
    };
    let cuts = answer.cuts.iter().enumerate();
    cuts.min_by(|(_, a), (_, b)| room(a).total_cmp(&room(b)))
        .map(|(index, _)| Spot::Cut(index))
}

/// Everything in its place at a spot of the answer.
///
/// # Errors
/// A [`CannotAsk`] as [`Scene::new`]. A spot that the answer does not have, or whose place is not
/// known (facing away, no rotary sense), gives the setup as it is loaded.
pub fn stand(scene: &Scene<'_>, answer: &CheckAnswer, spot: Spot) -> Result<Stood, CannotAsk> {
    let found = match spot {
        Spot::Trouble(index) => trouble(scene, answer, index)?,
        Spot::Cut(index) => match answer.cuts.get(index) {
            Some(cut) => at_cut(scene, answer, cut, cut.least.as_ref())?,
            None => None,
        },
        Spot::Move(index) => answer
            .index_moves
            .get(index)
            .and_then(|step| at_move(scene, step, best_of(step))),
    };
    Ok(found.unwrap_or_else(|| loaded(scene)))
}

fn trouble(
    scene: &Scene<'_>,
    answer: &CheckAnswer,
    index: usize,
) -> Result<Option<Stood>, CannotAsk> {
    let Some(trouble) = answer.troubles.get(index) else {
        return Ok(None);
    };
    let worst = trouble.worst.as_ref();
    if trouble.phase == Some(Phase::IndexMove) || trouble.angles_deg.len() == 2 {
        let step = answer.index_moves.iter().find(|step| {
            let tool = trouble.tool.is_none_or(|tool| tool == step.tool);
            let named = |name: &String| *name == step.before || *name == step.after;
            let cut = trouble.cut.as_ref().is_none_or(named);
            tool && cut && trouble.angles_deg == [step.from_deg, step.to_deg]
        });
        return Ok(step.and_then(|step| at_move(scene, step, worst)));
    }
    let cut = answer.cuts.iter().find(|cut| {
        let here = trouble.seat.as_ref() == Some(&cut.seat);
        trouble.cut.as_ref() == Some(&cut.cut) && (here || trouble.seat.is_none())
    });
    let Some(cut) = cut else { return Ok(None) };
    if trouble.phase == Some(Phase::ToolChange) {
        return Ok(at_change(scene, cut, trouble.tool, worst));
    }
    at_cut(scene, answer, cut, worst)
}

fn at_cut(
    scene: &Scene<'_>,
    answer: &CheckAnswer,
    told: &CutAnswer,
    measured: Option<&Measured>,
) -> Result<Option<Stood>, CannotAsk> {
    let setup = scene.setup;
    let cut = setup.cuts.iter().position(|cut| cut.name == told.cut);
    let seat = setup.seats.iter().position(|seat| seat.name == told.seat);
    let (Some(cut), Some(seat), Some(index_deg)) = (cut, seat, told.index_deg) else {
        return Ok(None);
    };
    let Some(course) = course(scene, cut, seat, index_deg)? else {
        return Ok(None);
    };
    let tip = measured
        .and_then(|measured| tip_of(scene, measured))
        .unwrap_or(course.deep_tip);
    let to = if course.in_cut(tip) {
        tip
    } else {
        course.deep_tip
    };
    let moment = Moment {
        index_deg,
        states: states(
            scene,
            &states_before(scene, cut),
            measured.map(|measured| measured.body.as_str()),
        ),
        tool: Some(setup.cuts[cut].tool),
        tip,
        own: Some(Own {
            seat,
            enters: entering(&course, tip),
        }),
        turning: false,
    };
    let before = answer
        .index_moves
        .iter()
        .rfind(|step| step.before == told.cut && step.to_deg.rem_euclid(360.0) == index_deg);
    Ok(Some(Stood {
        moment,
        measured: measured.cloned(),
        cut: Some(cut),
        seat: Some(seat),
        approach: Some(Approach {
            from: course.above(to, course.planes.travel_mm),
            to,
            course,
        }),
        turn: before.and_then(|step| turn_of(scene, step, best_of(step))),
    }))
}

fn at_move(
    scene: &Scene<'_>,
    step: &IndexMoveAnswer,
    measured: Option<&Measured>,
) -> Option<Stood> {
    let setup = scene.setup;
    let turn = turn_of(scene, step, measured)?;
    let named = |name: &str| setup.cuts.iter().position(|cut| cut.name == name);
    let coming = named(&step.before);
    let cut = coming.or_else(|| named(&step.after));
    let usual = match (named(&step.after), coming) {
        // Nothing is cut yet, or everything.
        (None, _) => vec![0; setup.parts.len()],
        (_, None) => states_after_all(setup),
        (_, Some(coming)) => states_before(scene, coming),
    };
    let body = measured.map(|measured| measured.body.as_str());
    let index_deg = measured
        .and_then(|measured| measured.place)
        .map_or(step.from_deg, |place| place.angle_deg);
    Some(Stood {
        moment: Moment {
            index_deg,
            states: states(scene, &usual, body),
            tool: Some(turn.tool),
            tip: turn.tip,
            own: None,
            turning: true,
        },
        measured: measured.cloned(),
        cut,
        seat: None,
        approach: None,
        turn: Some(turn),
    })
}

fn at_change(
    scene: &Scene<'_>,
    told: &CutAnswer,
    tool: Option<u32>,
    measured: Option<&Measured>,
) -> Option<Stood> {
    let setup = scene.setup;
    let cut = setup.cuts.iter().position(|cut| cut.name == told.cut)?;
    let tool = match tool {
        Some(number) => setup.tools.iter().position(|tool| tool.number == number)?,
        None => setup.cuts[cut].tool,
    };
    let positions = [0, 1, 2].map(|axis: usize| setup.machine.axes[axis].tool_change_mm);
    let place = measured.and_then(|measured| measured.place);
    Some(Stood {
        moment: Moment {
            index_deg: place.map_or(told.index_deg.unwrap_or(0.0), |place| place.angle_deg),
            states: states(
                scene,
                &states_before(scene, cut),
                measured.map(|measured| measured.body.as_str()),
            ),
            tool: Some(tool),
            tip: scene
                .kinematics
                .tip(positions, setup.tools[tool].gauge_length_mm),
            own: None,
            turning: false,
        },
        measured: measured.cloned(),
        cut: Some(cut),
        seat: None,
        approach: None,
        turn: None,
    })
}

/// The gap of an index move that has a tool in it, else that of the work.
fn best_of(step: &IndexMoveAnswer) -> Option<&Measured> {
    let worst = |least: &Measured| least.gap.lo_mm - least.wanted_mm;
    [step.least.as_ref(), step.work_least.as_ref()]
        .into_iter()
        .flatten()
        .min_by(|a, b| worst(a).total_cmp(&worst(b)))
}

fn turn_of(
    scene: &Scene<'_>,
    step: &IndexMoveAnswer,
    measured: Option<&Measured>,
) -> Option<TurnWalk> {
    let tools = &scene.setup.tools;
    let tool = tools.iter().position(|tool| tool.number == step.tool)?;
    let lows = [0, 1, 2].map(|axis: usize| step.axes.get(axis).map_or(0.0, |used| used.low_mm));
    let tip = measured
        .and_then(|measured| tip_of(scene, measured))
        .unwrap_or_else(|| scene.kinematics.tip(lows, tools[tool].gauge_length_mm));
    Some(TurnWalk {
        from_deg: step.from_deg,
        to_deg: step.to_deg,
        tip,
        tool,
    })
}

/// The tip of a told place in the table frame; `None` where a base body is one of the two, as its
/// place is told in machine coordinates.
fn tip_of(scene: &Scene<'_>, measured: &Measured) -> Option<Point3<f64>> {
    let is_base = |name: &String| scene.base.iter().any(|body| body.name == *name);
    if is_base(&measured.body) || is_base(&measured.element_body) {
        return None;
    }
    measured.place?.tip_mm.map(Point3::from)
}

/// The state of each part before a cut.
fn states_before(scene: &Scene<'_>, cut: usize) -> Vec<usize> {
    let before = states_during(scene.setup, cut).into_iter();
    before
        .map(|states| states.first().copied().unwrap_or(0))
        .collect()
}

/// The state that the part at each seat is shown in: the usual one of its part, or the one that the
/// answer names.
fn states(scene: &Scene<'_>, usual: &[usize], body: Option<&str>) -> Vec<usize> {
    let setup = scene.setup;
    let of_seat = |(seat_index, seat): (usize, &crate::setup::model::Seat)| {
        let Some(part) = seat.part else { return 0 };
        let named = (0..setup.parts[part].states.len())
            .find(|&state| body.is_some() && scene.part_name(seat_index, state).as_deref() == body);
        named.unwrap_or(usual[part])
    };
    setup.seats.iter().enumerate().map(of_seat).collect()
}
