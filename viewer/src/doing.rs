//! What each act does to the state.

use crate::act::{Act, Course, List};
use crate::state::{State, Walk};
use crate::words;
use crate::worker::{Task, WalkTask};
use lapidary::answer::moment::Group;
use lapidary::answer::moment::find::Spot;
use lapidary::answer::moment::walk::Walked;
use lapidary::answer::otherwise::gauge_limits_mm;

/// Millimetres a second at speed 1: an approach of some 200 mm takes four seconds.
const APPROACH_MM_PER_S: f64 = 50.0;

/// Degrees a second at speed 1: a quarter turn takes three seconds.
const TURN_DEG_PER_S: f64 = 30.0;

/// Longest steps of a walk, in millimetres and degrees: what is drawn does not jump.
const STEP_MM: f64 = 5.0;
const STEP_DEG: f64 = 3.0;

/// Wanted gaps that can be set: more than any spindle has room for is a slip of the pen.
const WANTED_MM: [f64; 2] = [0.0, 50.0];

/// Does an act; the tasks that it needs beside those that follow from what is shown.
pub(crate) fn done(state: &mut State, act: Act) -> Vec<Task> {
    match act {
        Act::Go(spot) => return leave_and_go(state, spot),
        Act::StepTrouble(step) => return step_to(state, step, true),
        Act::StepCut(step) => return step_to(state, step, false),
        Act::Worst => {
            let answer = state.answered.as_ref().map(|answered| &answered.answer);
            let spot = answer.and_then(|answer| lapidary::answer::moment::find::worst_spot(answer));
            return spot.map_or_else(Vec::new, |spot| leave_and_go(state, spot));
        }
        Act::Turn(index_deg) if index_deg.is_finite() => {
            state.walk = None;
            state.turned_deg = Some(index_deg);
        }
        Act::StepIndex(step) => step_index(state, step),
        Act::Walk(course) => walk(state, course),
        Act::Speed(speed) if speed.is_finite() => {
            state.speed = taken(state, "speed", speed, [0.1, 10.0]);
        }
        Act::Share(share) => {
            if let Some(walk) = state.walk.as_mut() {
                walk.share = share.clamp(0.0, 1.0);
                walk.goes = false;
                // What lies between was not walked.
                walk.begin = walk.share;
                walk.walked = None;
            }
        }
        Act::Look(group) => {
            let position = Group::ALL.iter().position(|other| *other == group);
            if let Some(look) = position.and_then(|position| state.looks.get_mut(position)) {
                *look = look.next();
            }
        }
        Act::Open => {
            state.open = if state.open.is_some() {
                None
            } else {
                Some(0.0)
            }
        }
        Act::OpenTurn(turned_deg) => {
            if state.open.is_some() && turned_deg.is_finite() {
                state.open = Some(taken(state, "open", turned_deg, [-180.0, 180.0]));
            }
        }
        Act::Length(_)
        | Act::Index(_)
        | Act::WantedRest(_)
        | Act::WantedIndex(_)
        | Act::AsInJob => return set_otherwise(state, &act),
        Act::List(list) => state.list = list,
        Act::Help => state.help = !state.help,
        Act::Seen => {
            state.notice = None;
            state.slip = None;
        }
        Act::NoNumber(word, text) => state.slip = Some(words::no_number(&word, &text)),
        // Done where the camera and the file are.
        Act::Turn(_) | Act::Speed(_) | Act::From(_) | Act::Focus | Act::Up | Act::Picture => {}
    }
    Vec::new()
}

fn leave_and_go(state: &mut State, spot: Spot) -> Vec<Task> {
    state.walk = None;
    state.turned_deg = None;
    state.begin_deg = None;
    state.picked = None;
    state.pointed = None;
    state.list = match spot {
        Spot::Trouble(_) => List::Troubles,
        Spot::Cut(_) => List::Cuts,
        Spot::Move(_) => List::Moves,
    };
    state.go(spot)
}

/// The next in a list, round and round; the first where another list was shown.
fn step_to(state: &mut State, step: i32, troubles: bool) -> Vec<Task> {
    let Some(answered) = &state.answered else {
        return Vec::new();
    };
    let (count, at) = match (troubles, state.going.or(state.spot)) {
        (true, Some(Spot::Trouble(at))) => (answered.answer.troubles.len(), Some(at)),
        (true, _) => (answered.answer.troubles.len(), None),
        (false, Some(Spot::Cut(at))) => (answered.answer.cuts.len(), Some(at)),
        (false, _) => (answered.answer.cuts.len(), None),
    };
    if count == 0 {
        return Vec::new();
    }
    let next = match at {
        None => 0,
        Some(at) if step > 0 => (at + 1) % count,
        Some(at) => (at + count - 1) % count,
    };
    let spot = if troubles {
        Spot::Trouble(next)
    } else {
        Spot::Cut(next)
    };
    leave_and_go(state, spot)
}

/// The angles that the job uses, from 0 to below 360, each once.
#[must_use]
pub fn indexes_deg(state: &State) -> Vec<f64> {
    let Some(answered) = &state.answered else {
        return vec![state.setup.start_index_deg];
    };
    let cuts = answered.answer.cuts.iter();
    let mut angles: Vec<f64> = cuts
        .filter_map(|cut| cut.index_deg)
        .map(|angle_deg| angle_deg.rem_euclid(360.0))
        .collect();
    angles.sort_by(f64::total_cmp);
    angles.dedup();
    angles
}

fn step_index(state: &mut State, step: i32) {
    let angles = indexes_deg(state);
    let here = state.moment().index_deg.rem_euclid(360.0);
    let after = |angle: &f64| *angle > here + 1e-6;
    let before = |angle: &f64| *angle < here - 1e-6;
    let next = if step > 0 {
        angles
            .iter()
            .copied()
            .find(after)
            .or(angles.first().copied())
    } else {
        angles
            .iter()
            .copied()
            .rfind(before)
            .or(angles.last().copied())
    };
    if let Some(next) = next {
        state.walk = None;
        state.turned_deg = Some(next);
    }
}

/// Starts a walk, or lets it rest or go on.
fn walk(state: &mut State, course: Course) {
    let there = match course {
        Course::Approach => state.stood.approach.is_some(),
        Course::IndexMove => state.stood.turn.is_some(),
    };
    if !there {
        let what = match course {
            Course::Approach => "no approach here: go to a cut first",
            Course::IndexMove => "no index move leads here: go to one in the list of moves",
        };
        state.notice = Some(what.to_owned());
        return;
    }
    state.turned_deg = None;
    match state.walk.as_mut() {
        Some(walk) if walk.course == course && walk.share < 1.0 => walk.goes = !walk.goes,
        _ => {
            state.walk = Some(Walk {
                course,
                share: 0.0,
                goes: true,
                owed_s: 0.0,
                begin: 0.0,
                walked: None,
            });
        }
    }
}

/// What is to be measured of the walk: all since the last gap that is known, so that an answer
/// that never came leaves no hole.
pub(crate) fn walk_task(state: &State) -> Option<WalkTask> {
    let walk = state.walk.as_ref()?;
    let from = walk.walked.as_ref().map_or(walk.begin, |walked| walked.to);
    let stretches = match walk.course {
        Course::Approach => state.stood.over_approach(from, walk.share),
        Course::IndexMove => state.stood.over_turn(from, walk.share),
    };
    Some(WalkTask {
        shares: [from, walk.share],
        stretches,
    })
}

/// Counts what was walked, where it goes on from what is known.
pub(crate) fn count(state: &mut State, next: Option<Walked>) {
    let (Some(walk), Some(next)) = (state.walk.as_mut(), next) else {
        return;
    };
    match walk.walked.clone() {
        Some(walked) => walk.walked = walked.then(next).or(walk.walked.take()),
        None if next.from == walk.begin => walk.walked = Some(next),
        None => {}
    }
}

/// A walk goes on by some seconds, a step at a time: the next one when the gap of the last is
/// known, so that what is told keeps up with what is drawn, however slow the machine is.
pub(crate) fn walk_on(state: &mut State, seconds: f64) {
    let speed = state.speed;
    let measuring = state.measuring;
    let stood = &state.stood;
    // How long it is, how far it goes in a second, and how far in one step.
    let [length, per_s, most] = match state.walk.as_ref().map(|walk| walk.course) {
        Some(Course::Approach) => {
            let length_mm = stood
                .approach
                .as_ref()
                .map(|way| (way.to - way.from).norm());
            [length_mm.unwrap_or(0.0), APPROACH_MM_PER_S, STEP_MM]
        }
        Some(Course::IndexMove) => {
            let turn = stood.turn.as_ref();
            let length_deg = turn.map(|turn| (turn.to_deg - turn.from_deg).abs());
            [length_deg.unwrap_or(0.0), TURN_DEG_PER_S, STEP_DEG]
        }
        None => return,
    };
    let Some(walk) = state.walk.as_mut().filter(|walk| walk.goes) else {
        return;
    };
    walk.owed_s += seconds;
    if measuring {
        return;
    }
    let step = (walk.owed_s * speed * per_s).min(most);
    walk.owed_s = 0.0;
    // A walk of no length is over at once.
    walk.share = (walk.share + step / length.max(1e-6)).min(1.0);
    walk.goes = walk.share < 1.0;
}

/// A number that can be set: the nearest one, with a word where it is another than was asked for.
fn taken(state: &mut State, what: &str, asked: f64, [low, high]: [f64; 2]) -> f64 {
    let taken = asked.clamp(low, high.max(low));
    state.slip = (taken != asked).then(|| words::taken(what, asked, taken));
    taken
}

fn set_otherwise(state: &mut State, act: &Act) -> Vec<Task> {
    let before = state.otherwise.clone();
    let sound = |value: f64| value.is_finite();
    match *act {
        Act::Length(length_mm) => {
            if let Some(tool) = state.tool().filter(|_| sound(length_mm)) {
                let set = &state.job.setup.tools[tool];
                let (low_mm, high_mm) = gauge_limits_mm(set);
                let what = format!("T{} gauge length, mm", set.number);
                let range = [low_mm, high_mm.unwrap_or(1e4)];
                let length_mm = taken(state, &what, length_mm, range);
                put(&mut state.otherwise.gauge_lengths_mm, tool, length_mm);
            }
        }
        Act::Index(index_deg) => {
            if let Some(cut) = state.stood.cut.filter(|_| sound(index_deg)) {
                let index_deg = taken(state, "index of this cut, deg", index_deg, [-360.0, 360.0]);
                put(&mut state.otherwise.indexes_deg, cut, index_deg);
            }
        }
        Act::WantedRest(wanted_mm) if sound(wanted_mm) => {
            let wanted_mm = taken(state, "wanted gap at rest, mm", wanted_mm, WANTED_MM);
            state.otherwise.wanted_rest_mm = Some(wanted_mm);
        }
        Act::WantedIndex(wanted_mm) if sound(wanted_mm) => {
            let wanted_mm = taken(state, "wanted gap in moves, mm", wanted_mm, WANTED_MM);
            state.otherwise.wanted_index_mm = Some(wanted_mm);
        }
        Act::AsInJob => {
            state.otherwise = lapidary::answer::otherwise::Otherwise::default();
            state.slip = None;
        }
        _ => {}
    }
    if state.otherwise == before {
        return Vec::new();
    }
    state.restart()
}

fn put(list: &mut Vec<(usize, f64)>, key: usize, value: f64) {
    match list.iter_mut().find(|(other, _)| *other == key) {
        Some(slot) => slot.1 = value,
        None => list.push((key, value)),
    }
}
