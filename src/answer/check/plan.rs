//! What the program does, in order: which cut at which seat and index, and the moves between.

use super::CheckOptions;
use crate::answer::kinematics::{ALIGNMENT_TOLERANCE_DEG, Kinematics};
use crate::setup::file::{IndexRule, Way};
use crate::setup::model::{IndexAt, Setup};
use crate::value::{Vec3, wrap_deg};
use std::collections::HashSet;

/// One cut at one seat.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CutJob {
    /// Index into the cuts.
    pub cut: usize,
    /// Index into the seats.
    pub seat: usize,
    /// Rotary angle; `None` where no allowed angle turns the access direction to the spindle.
    pub index_deg: Option<f64>,
}

/// One cut at one index, at all its seats there.
#[derive(Debug, Clone, PartialEq)]
pub struct Visit {
    /// Index into the cuts.
    pub cut: usize,
    /// Rotary angle.
    pub index_deg: f64,
    /// Positions in the list of jobs.
    pub jobs: Vec<usize>,
}

/// The order of the whole job.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Plan {
    /// Every cut at every seat, in order.
    pub jobs: Vec<CutJob>,
    /// Cuts by index, in order.
    pub visits: Vec<Visit>,
}

/// A position in the program: before the first visit, at a visit, or after the last.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stop {
    /// Where the rotary stands when the program starts: nothing is cut yet.
    Start,
    /// At a visit.
    Visit(usize),
    /// Where the rotary stands when the program ends, as at its start: everything is cut.
    End,
}

/// An index move with one tool in the spindle.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct IndexMove {
    /// Index into the tools.
    pub tool: usize,
    /// Where it starts.
    pub after: Stop,
    /// Where it goes.
    pub before: Stop,
    /// Rotary angle at the start.
    pub from_deg: f64,
    /// Rotary angle at the end, counted through.
    pub to_deg: f64,
    /// The seat of the last cut, in whose place the axes still stand; `None` where they stand as
    /// a tool change left them, or where no axis stays as the last cut left it.
    pub left_by: Option<usize>,
}

/// A tool change: the tool in the spindle, before or after.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ToolChange {
    /// Index into the tools.
    pub tool: usize,
    /// Rotary angle.
    pub index_deg: f64,
    /// The visit that it leads to.
    pub before: usize,
}

/// Orders the job: cut by cut as listed, in each cut index by index from the lowest angle.
///
/// Cuts, seats and tools that the options leave out are not in the plan.
#[must_use]
pub fn plan(setup: &Setup, kinematics: &Kinematics<'_>, options: &CheckOptions) -> Plan {
    let mut plan = Plan::default();
    for (cut_index, cut) in setup.cuts.iter().enumerate() {
        let tool_number = setup.tools[cut.tool].number;
        if !chosen(&options.cuts, &cut.name) || !chosen(&options.tools, &tool_number) {
            continue;
        }
        let first_job = plan.jobs.len();
        for (seat_index, seat) in setup.seats.iter().enumerate() {
            if seat.part != Some(cut.part) || !chosen(&options.seats, &seat.name) {
                continue;
            }
            let index_deg = index_of(setup, kinematics, cut_index, seat_index);
            let outside = |deg: f64| {
                options
                    .index_deg
                    .is_some_and(|only| wrap_deg(only) != wrap_deg(deg))
            };
            if index_deg.is_some_and(outside) {
                continue;
            }
            plan.jobs.push(CutJob {
                cut: cut_index,
                seat: seat_index,
                index_deg,
            });
        }
        plan.add_visits(cut_index, first_job);
    }
    plan
}

fn chosen<T: PartialEq>(wanted: &[T], candidate: &T) -> bool {
    wanted.is_empty() || wanted.contains(candidate)
}

impl Plan {
    fn add_visits(&mut self, cut: usize, first_job: usize) {
        let mut angles: Vec<f64> = self.jobs[first_job..]
            .iter()
            .filter_map(|job| job.index_deg)
            .collect();
        angles.sort_by(f64::total_cmp);
        angles.dedup();
        for index_deg in angles {
            let jobs = (first_job..self.jobs.len())
                .filter(|&job| self.jobs[job].index_deg == Some(index_deg))
                .collect();
            self.visits.push(Visit {
                cut,
                index_deg,
                jobs,
            });
        }
    }

    /// The visits before and after each move or change, the program's rest at both ends.
    fn steps(&self, setup: &Setup) -> Vec<(Stop, f64, Stop, f64)> {
        let start = (Stop::Start, setup.start_index_deg);
        let end = (Stop::End, setup.start_index_deg);
        let visits = self
            .visits
            .iter()
            .enumerate()
            .map(|(index, visit)| (Stop::Visit(index), visit.index_deg));
        let stops: Vec<(Stop, f64)> = std::iter::once(start)
            .chain(visits)
            .chain(std::iter::once(end))
            .collect();
        stops
            .windows(2)
            .map(|pair| (pair[0].0, pair[0].1, pair[1].0, pair[1].1))
            .collect()
    }

    fn tool_at(&self, setup: &Setup, stop: Stop) -> Option<usize> {
        match stop {
            Stop::Start | Stop::End => None,
            Stop::Visit(visit) => Some(setup.cuts[self.visits[visit].cut].tool),
        }
    }

    /// Every index move, with every tool that may be in the spindle and every way round that
    /// the machine may take.
    ///
    /// Where an axis stays as the last cut left it, any seat may be the last: the move is listed
    /// for each. Where a tool change falls between two cuts at different angles, the carrier may turn
    /// before it or after it: the move is listed with both tools.
    #[must_use]
    pub fn index_moves(&self, setup: &Setup) -> Vec<IndexMove> {
        let mut moves = Vec::new();
        for (after, from_deg, before, to_deg) in self.steps(setup) {
            let leaving = self.tool_at(setup, after);
            let coming = self.tool_at(setup, before);
            let mut tools: Vec<(usize, bool)> = Vec::new();
            tools.extend(leaving.map(|tool| (tool, true)));
            if coming != leaving {
                tools.extend(coming.map(|tool| (tool, false)));
            }
            for (tool, from_cut) in tools {
                for to_deg in ends_of_move(setup, from_deg, to_deg) {
                    let step = IndexMove {
                        tool,
                        after,
                        before,
                        from_deg,
                        to_deg,
                        left_by: None,
                    };
                    match after {
                        Stop::Visit(visit) if from_cut && some_axis_stays(setup) => {
                            let jobs = self.visits[visit].jobs.iter();
                            let seats = jobs.map(|&job| self.jobs[job].seat);
                            let left_by = |seat| IndexMove {
                                left_by: Some(seat),
                                ..step
                            };
                            moves.extend(seats.map(left_by));
                        }
                        _ => moves.push(step),
                    }
                }
            }
        }
        moves
    }

    /// Every tool change, with the tool before it and the tool after it.
    #[must_use]
    pub fn tool_changes(&self, setup: &Setup) -> Vec<ToolChange> {
        let mut changes: Vec<ToolChange> = Vec::new();
        for (after, from_deg, before, to_deg) in self.steps(setup) {
            let (leaving, coming) = (self.tool_at(setup, after), self.tool_at(setup, before));
            let Stop::Visit(visit) = before else { continue };
            if leaving == coming {
                continue;
            }
            for tool in [leaving, coming].into_iter().flatten() {
                for index_deg in [from_deg, to_deg] {
                    let change = ToolChange {
                        tool,
                        index_deg,
                        before: visit,
                    };
                    if !changes.contains(&change) {
                        changes.push(change);
                    }
                }
            }
        }
        changes
    }
}

fn some_axis_stays(setup: &Setup) -> bool {
    (0..3).any(|axis| index_position(setup, axis).is_none())
}

/// Where an index move may end, counted through from its start.
fn ends_of_move(setup: &Setup, from_deg: f64, to_deg: f64) -> Vec<f64> {
    let rotary = &setup.machine.rotary;
    let ahead_deg = wrap_deg(to_deg - from_deg);
    if ahead_deg == 0.0 && rotary.way != Some(Way::Signed) {
        return Vec::new();
    }
    let (up, down) = (from_deg + ahead_deg, from_deg + ahead_deg - 360.0);
    let mut ends = match rotary.way {
        Some(Way::Signed) if to_deg == from_deg => Vec::new(),
        Some(Way::Signed) => vec![to_deg],
        Some(Way::Positive) => vec![up],
        Some(Way::Negative) => vec![down],
        Some(Way::Shortest) if ahead_deg < 180.0 => vec![up],
        Some(Way::Shortest) if ahead_deg > 180.0 => vec![down],
        Some(Way::Shortest) | None => vec![up, down],
    };
    if let Some([low_deg, high_deg]) = rotary.limits_deg {
        ends.retain(|end| (low_deg..=high_deg).contains(end));
        if ends.is_empty() && to_deg != from_deg {
            ends.push(to_deg);
        }
    }
    ends
}

/// The chosen angle that faces the spindle, or the angle that is found.
fn index_of(
    setup: &Setup,
    kinematics: &Kinematics<'_>,
    cut_index: usize,
    seat_index: usize,
) -> Option<f64> {
    let access = access_at_zero(setup, cut_index, seat_index);
    match &setup.cuts[cut_index].index_deg {
        None => kinematics.facing_angle_deg(access),
        Some(angles) => angles.iter().copied().find(|&angle_deg| {
            kinematics
                .misalignment_deg(access, angle_deg)
                .is_some_and(|off_deg| off_deg <= ALIGNMENT_TOLERANCE_DEG)
        }),
    }
}

/// The access direction of a cut at a seat, in the table frame with the rotary at zero.
#[must_use]
pub fn access_at_zero(setup: &Setup, cut_index: usize, seat_index: usize) -> Vec3 {
    let seat = &setup.seats[seat_index];
    let carrier_from_part = seat.carrier_from_seat * seat.seat_from_part;
    let part_from_feature = setup.cuts[cut_index].feature.part_from_feature;
    let machine_from_carrier = setup.carrier.machine_from_carrier_at_zero;
    (machine_from_carrier * carrier_from_part * part_from_feature).rotation * Vec3::z()
}

/// The states that the parts may be in while a cut runs, or between it and the one before:
/// for each part a list of state numbers.
///
/// Seats of the cut's own part are before or after it, as the program goes from seat to seat.
/// Other parts are as their latest earlier cut left them.
#[must_use]
pub fn states_during(setup: &Setup, cut_index: usize) -> Vec<Vec<usize>> {
    // Backward from the cut: the last one of a part is mostly near, and a job can have thousands.
    let earlier = &setup.cuts[..cut_index];
    let left = |part: usize| earlier.iter().rfind(|cut| cut.part == part);
    let mut states: Vec<Vec<usize>> = (0..setup.parts.len())
        .map(|part| vec![left(part).map_or(0, |cut| cut.after)])
        .collect();
    let cut = &setup.cuts[cut_index];
    states[cut.part] = if cut.before == cut.after {
        vec![cut.before]
    } else {
        vec![cut.before, cut.after]
    };
    states
}

/// The states that the parts may be in while the carrier turns between two stops that follow one
/// another: for each part a list of state numbers, sorted, each once.
///
/// # Guarantees
/// A state that a part can be in then is in the list. Before the first visit that is what is
/// loaded, after the last what all cuts have left; a cut that is not in the plan at every seat of its
/// part (left out by a choice, or facing away) may have been made or not.
#[must_use]
pub fn states_between(setup: &Setup, plan: &Plan, after: Stop, before: Stop) -> Vec<Vec<usize>> {
    let mut states = match (after, before) {
        (Stop::Visit(from), Stop::Visit(to)) => {
            let mut states = states_during(setup, plan.visits[from].cut);
            let coming = states_during(setup, plan.visits[to].cut);
            for (mine, more) in states.iter_mut().zip(coming) {
                mine.extend(more);
            }
            states
        }
        (_, Stop::Visit(first)) => loaded(setup, plan.visits[first].cut),
        _ => unloaded(setup, plan),
    };
    for mine in &mut states {
        mine.sort_unstable();
        mine.dedup();
    }
    states
}

/// The state of each part when every cut has been made.
#[must_use]
pub fn states_after_all(setup: &Setup) -> Vec<usize> {
    let of_part = |part: usize| {
        let last = setup.cuts.iter().rfind(|cut| cut.part == part);
        last.map_or(0, |cut| cut.after)
    };
    (0..setup.parts.len()).map(of_part).collect()
}

/// The states before the first cut that is made: as loaded, or as earlier cuts that are not in
/// the plan left them.
fn loaded(setup: &Setup, first_cut: usize) -> Vec<Vec<usize>> {
    let mut states = arriving(setup);
    for cut in &setup.cuts[..first_cut] {
        states[cut.part].push(cut.after);
    }
    let first = &setup.cuts[first_cut];
    states[first.part].push(first.before);
    states
}

/// The states in which parts come to the machine: the first, and the one that their first cut
/// begins with where an earlier job has cut them.
fn arriving(setup: &Setup) -> Vec<Vec<usize>> {
    let mut states: Vec<Vec<usize>> = vec![vec![0]; setup.parts.len()];
    for (part, mine) in states.iter_mut().enumerate() {
        let first = setup.cuts.iter().find(|cut| cut.part == part);
        mine.extend(first.map(|cut| cut.before));
    }
    states
}

/// The states after the last cut.
fn unloaded(setup: &Setup, plan: &Plan) -> Vec<Vec<usize>> {
    let mut states = arriving(setup);
    let made = plan.jobs.iter().filter(|job| job.index_deg.is_some());
    let made: HashSet<(usize, usize)> = made.map(|job| (job.cut, job.seat)).collect();
    for (cut_index, cut) in setup.cuts.iter().enumerate() {
        let made_at = |seat: usize| made.contains(&(cut_index, seat));
        let mut seats = setup.seats.iter().enumerate();
        let everywhere = seats.all(|(seat, at)| at.part != Some(cut.part) || made_at(seat));
        if everywhere {
            states[cut.part] = vec![cut.after];
        } else {
            states[cut.part].extend([cut.before, cut.after]);
        }
    }
    states
}

/// The position of an axis during an index move, where it does not depend on the last cut.
#[must_use]
pub fn index_position(setup: &Setup, axis: usize) -> Option<f64> {
    let axis = &setup.machine.axes[axis];
    match axis.index {
        IndexAt::At(position_mm) => Some(position_mm),
        IndexAt::Rule(IndexRule::Home) => Some(axis.home_mm),
        IndexAt::Rule(IndexRule::AsLeft) => None,
    }
}
