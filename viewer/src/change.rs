//! Keeping one's place when the setup or its answer changes.

use crate::state::State;
use lapidary::answer::check::model::{CheckAnswer, CutAnswer, Trouble};
use lapidary::answer::moment::Moment;
use lapidary::answer::moment::find::{Spot, Stood, worst_spot};
use lapidary::setup::model::Setup;
use nalgebra::Point3;

/// Where to be in a new answer: at the cut that was asked for at the start, at the same matter as
/// in the answer before, or at the worst place.
#[must_use]
pub fn spot_in(
    answer: &CheckAnswer,
    before: Option<&CheckAnswer>,
    spot: Option<Spot>,
    begin_cut: Option<&str>,
) -> Option<Spot> {
    if let Some(spot) = begin_cut.and_then(|name| tightest(answer, name)) {
        return Some(spot);
    }
    match (before, spot) {
        (Some(before), Some(spot)) => again(before, spot, answer).or_else(|| worst_spot(answer)),
        _ => worst_spot(answer),
    }
}

/// Whether a trouble that is shown is the same in another answer, but for what is found later.
#[must_use]
pub fn same_there(answer: &CheckAnswer, before: Option<&CheckAnswer>, spot: Option<Spot>) -> bool {
    let Some(Spot::Trouble(at)) = spot else {
        return true;
    };
    let old = before.and_then(|before| before.troubles.get(at));
    match (old, answer.troubles.get(at)) {
        (Some(old), Some(new)) => old.kind == new.kind && old.worst == new.worst,
        _ => false,
    }
}

/// The place of a cut with the least room.
fn tightest(answer: &CheckAnswer, name: &str) -> Option<Spot> {
    let cuts = answer.cuts.iter().enumerate();
    let named = cuts.filter(|(_, cut)| cut.cut == name);
    let room = |index: usize| {
        answer.cuts[index]
            .least
            .as_ref()
            .map_or(f64::INFINITY, |least| least.gap.lo_mm - least.wanted_mm)
    };
    named
        .map(|(index, _)| index)
        .min_by(|a, b| room(*a).total_cmp(&room(*b)))
        .map(Spot::Cut)
}

/// The same matter in another answer: the trouble between the same two, else the cut or the move
/// where it was.
fn again(before: &CheckAnswer, spot: Spot, answer: &CheckAnswer) -> Option<Spot> {
    match spot {
        Spot::Trouble(index) => {
            let old = before.troubles.get(index)?;
            let same = |new: &Trouble| {
                new.cut == old.cut
                    && new.tool == old.tool
                    && new.phase == old.phase
                    && new.axis == old.axis
            };
            let alike = |new: &Trouble| same(new) && new.kind == old.kind && new.seat == old.seat;
            let troubles = &answer.troubles;
            let found = troubles
                .iter()
                .position(alike)
                .or_else(|| troubles.iter().position(same));
            found.map(Spot::Trouble).or_else(|| place_of(old, answer))
        }
        Spot::Cut(index) => {
            let old = before.cuts.get(index)?;
            let same = |cut: &CutAnswer| cut.cut == old.cut && cut.seat == old.seat;
            answer.cuts.iter().position(same).map(Spot::Cut)
        }
        Spot::Move(index) => {
            let old = before.index_moves.get(index)?;
            let same = |step: &lapidary::answer::check::model::IndexMoveAnswer| {
                (step.tool, &step.after, &step.before) == (old.tool, &old.after, &old.before)
                    && (step.from_deg, step.to_deg) == (old.from_deg, old.to_deg)
            };
            answer.index_moves.iter().position(same).map(Spot::Move)
        }
    }
}

/// Where a click on a body leads: to the next trouble that names it, else to a cut at its seat: the
/// cut at hand, or the one with the least room.
#[must_use]
pub fn spot_of_hit(state: &State, hit: Option<&(String, Option<usize>)>) -> Option<Spot> {
    let (name, seat) = hit?;
    let answer = &state.answered.as_ref()?.answer;
    let names = |trouble: &Trouble| {
        let worst = trouble.worst.as_ref();
        worst.is_some_and(|worst| worst.body == *name || worst.element_body == *name)
    };
    let here = match state.spot {
        Some(Spot::Trouble(at)) => at + 1,
        _ => 0,
    };
    let count = answer.troubles.len();
    let next = (0..count)
        .map(|step| (here + step) % count)
        .find(|at| names(&answer.troubles[*at]));
    if let Some(next) = next {
        return (state.spot != Some(Spot::Trouble(next))).then_some(Spot::Trouble(next));
    }
    let seat = &state.setup.seats.get((*seat)?)?.name;
    let cut = state.stood.cut.map(|cut| &state.setup.cuts[cut].name);
    let cuts = || {
        let cuts = answer.cuts.iter().enumerate();
        cuts.filter(|(_, told)| told.seat == *seat)
    };
    let at_hand = cuts().find(|(_, told)| Some(&told.cut) == cut);
    let room = |told: &CutAnswer| {
        told.least
            .as_ref()
            .map_or(f64::INFINITY, |least| least.gap.lo_mm - least.wanted_mm)
    };
    let tightest = || cuts().min_by(|(_, a), (_, b)| room(a).total_cmp(&room(b)));
    at_hand.or_else(tightest).map(|(at, _)| Spot::Cut(at))
}

/// Where a trouble was that is no more.
fn place_of(old: &Trouble, answer: &CheckAnswer) -> Option<Spot> {
    let cut = answer
        .cuts
        .iter()
        .position(|cut| old.cut.as_ref() == Some(&cut.cut) && old.seat.as_ref() == Some(&cut.seat));
    let step = answer.index_moves.iter().position(|step| {
        let cut = old.cut.as_ref();
        old.angles_deg == [step.from_deg, step.to_deg]
            && old.tool == Some(step.tool)
            && (cut == Some(&step.before) || cut == Some(&step.after))
    });
    cut.map(Spot::Cut).or_else(|| step.map(Spot::Move))
}

/// Whether what stands can be shown in another setup.
#[must_use]
pub fn fits(stood: &Stood, setup: &Setup) -> bool {
    let moment = &stood.moment;
    let known = |tool: usize| tool < setup.tools.len();
    let tool = moment.tool.is_none_or(known)
        && stood.turn.as_ref().is_none_or(|turn| known(turn.tool))
        && stood.cut.is_none_or(|cut| cut < setup.cuts.len());
    let seats = moment.states.len() == setup.seats.len();
    let states = moment
        .states
        .iter()
        .zip(&setup.seats)
        .all(|(&state, seat)| {
            seat.part
                .is_none_or(|part| state < setup.parts[part].states.len())
        });
    tool && seats && states
}

/// A moment without anything that needs the engine.
#[must_use]
pub fn nothing(setup: &Setup) -> Stood {
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
