//! The whole check: plan, judge everything in parallel, put troubles together.

use super::judge::{CutJudgement, Judge};
use super::model::{
    AxisUse, CheckAnswer, ContactUse, CutAnswer, IndexMoveAnswer, Outcome, OutcomeCounts,
    ToolChangeAnswer, ToolLengths, ToolName, TroubleKind, Turning, Verdict,
};
use super::moves::{AxisRanges, MoveJudgement};
use super::plan::{CutJob, IndexMove, Plan, Stop, ToolChange, plan, states_between, states_during};
use super::sweep::Planes;
use super::swing::WorkReach;
use super::violation::{Site, Violation};
use super::work::judge_work_moves;
use super::{CheckError, CheckOptions, Progress, lengths, reliance, trouble};
use crate::answer::scene::{Scene, ShapeStore};
use crate::setup::model::Setup;
use crate::value::{Vec3, about_axis};
use nalgebra::Point3;
use rayon::prelude::*;
use std::sync::atomic::{AtomicBool, Ordering};

/// Everything that was judged, before it is told.
#[derive(Debug)]
pub struct Judged {
    /// The order of the job.
    pub plan: Plan,
    /// One for each job of the plan.
    pub cuts: Vec<CutJudgement>,
    /// Index moves, each with the axis ranges it was judged at.
    pub moves: Vec<(IndexMove, AxisRanges, MoveJudgement)>,
    /// Tool changes.
    pub changes: Vec<(ToolChange, MoveJudgement)>,
    /// The work group's own index moves, each different one once.
    pub work_moves: Vec<(IndexMove, MoveJudgement)>,
    /// For each of `moves` its work move.
    work_of: Vec<usize>,
    /// Swing of the work.
    pub reach: WorkReach,
    /// What is wrong with the job as a whole.
    pub whole: Vec<Violation>,
}

/// See [`super::check`].
pub(super) fn run(
    setup: &Setup,
    store: ShapeStore,
    options: &CheckOptions,
    progress: &dyn Progress,
    stop: &AtomicBool,
) -> Result<CheckAnswer, CheckError> {
    options.fits(setup)?;
    let scene = Scene::new(setup, store)?;
    let judge = Judge::new(&scene, options.tolerance_mm, stop)?;
    let plan = plan(setup, &scene.kinematics, options);
    if plan.jobs.is_empty() && !setup.cuts.is_empty() {
        let message = "no cut of the job is left by this choice of cuts, seats, tools and index";
        return Err(CheckError::NotInJob(message.to_owned()));
    }
    let mut judged = judge_all(&judge, plan, progress)?;
    halt(stop)?;
    let (troubles, deepest) = trouble::troubles(&judge, &judged, options, progress)?;
    for deepest in deepest {
        deepest.stand(&mut judged);
    }
    let lengths = if options.lengths {
        lengths::lengths(&judge, &judged, progress)?
    } else {
        Vec::new()
    };
    halt(stop)?;
    Ok(answer(&judge, &judged, troubles, lengths))
}

/// See [`super::judge_lengths`].
pub(super) fn lengths_alone(
    setup: &Setup,
    options: &CheckOptions,
    propose: &lengths::Propose<'_>,
    progress: &dyn Progress,
    stop: &AtomicBool,
) -> Result<Vec<(usize, ToolLengths, bool)>, CheckError> {
    options.fits(setup)?;
    let store = ShapeStore::build(setup)?;
    let scene = Scene::new(setup, store)?;
    let judge = Judge::new(&scene, options.tolerance_mm, stop)?;
    let plan = plan(setup, &scene.kinematics, options);
    let judged = judge_all(&judge, plan, progress)?;
    halt(stop)?;
    let found = lengths::proved(&judge, &judged, propose, progress)?;
    halt(stop)?;
    Ok(found)
}

/// An answer cut short would be a wrong answer.
pub(super) fn halt(stop: &AtomicBool) -> Result<(), CheckError> {
    if stop.load(Ordering::Relaxed) {
        Err(CheckError::Stopped)
    } else {
        Ok(())
    }
}

fn judge_all(judge: &Judge<'_>, plan: Plan, progress: &dyn Progress) -> Result<Judged, CheckError> {
    progress.stage("cuts", plan.jobs.len());
    let cuts = plan
        .jobs
        .par_iter()
        .map(|job| {
            halt(judge.stop)?;
            let judgement = judge.cut(job)?;
            progress.step();
            Ok(judgement)
        })
        .collect::<Result<Vec<_>, CheckError>>()?;
    let reach = judge.reach.clone();
    let whole = reach
        .too_large()
        .into_iter()
        .chain(cut_nowhere(judge.scene.setup))
        .collect();
    let mut judged = Judged {
        plan,
        cuts,
        moves: Vec::new(),
        work_moves: Vec::new(),
        work_of: Vec::new(),
        changes: Vec::new(),
        reach,
        whole,
    };
    if judge.scene.setup.machine.rotary.sense.is_some() {
        judge_moves(judge, &mut judged, progress)?;
    }
    Ok(judged)
}

/// Cuts whose part stands on no seat: nothing was checked of them, so nothing is clear.
fn cut_nowhere(setup: &Setup) -> Option<Violation> {
    let nowhere = |part: usize| setup.seats.iter().all(|seat| seat.part != Some(part));
    let cuts = setup.cuts.iter().filter(|cut| nowhere(cut.part));
    let names: Vec<String> = cuts.map(|cut| format!("\"{}\"", cut.name)).collect();
    (!names.is_empty()).then(|| {
        let kind = TroubleKind::Undecided;
        let mut violation = Violation::plain(kind, Verdict::Unknown, Site::Job);
        let names = names.join(", ");
        violation.note = Some(format!(
            "no seat holds the part of {names}: not checked anywhere"
        ));
        violation
    })
}

fn judge_moves(
    judge: &Judge<'_>,
    judged: &mut Judged,
    progress: &dyn Progress,
) -> Result<(), CheckError> {
    let setup = judge.scene.setup;
    let steps = judged.plan.index_moves(setup);
    let changes = judged.plan.tool_changes(setup);
    progress.stage("index moves", 2 * steps.len() + changes.len());
    let work = judge_work_moves(judge, judged, &steps, progress)?;
    (judged.work_moves, judged.work_of) = (work.moves, work.work_of);
    judged.moves = steps
        .par_iter()
        .map(|step| {
            halt(judge.stop)?;
            let ranges = judged.ranges_of(judge, step);
            let work = judge.work_bodies(&judged.states_of(setup, step))?;
            let judgement = judge.index_move(step, &ranges, &work)?;
            progress.step();
            Ok((*step, ranges, judgement))
        })
        .collect::<Result<_, CheckError>>()?;
    judged.changes = changes
        .par_iter()
        .map(|change| {
            halt(judge.stop)?;
            let work = judge.work_bodies(&judged.states_of_change(setup, change))?;
            let judgement = judge.tool_change(change, &work)?;
            progress.step();
            Ok((*change, judgement))
        })
        .collect::<Result<_, CheckError>>()?;
    Ok(())
}

impl Judged {
    /// The axis ranges of an index move.
    pub(super) fn ranges_of(&self, judge: &Judge<'_>, step: &IndexMove) -> AxisRanges {
        let left = self.last(step).and_then(|job| self.cuts[job].left);
        judge.index_ranges(left)
    }

    /// The cut in whose place the axes still stand in an index move.
    pub(super) fn last_job(&self, step: &IndexMove) -> Option<CutJob> {
        self.last(step).map(|job| self.plan.jobs[job])
    }

    /// The same by its position in the plan.
    fn last(&self, step: &IndexMove) -> Option<usize> {
        let (Stop::Visit(visit), Some(seat)) = (step.after, step.left_by) else {
            return None;
        };
        let mut jobs = self.plan.visits[visit].jobs.iter().copied();
        jobs.find(|&job| self.plan.jobs[job].seat == seat)
    }

    /// The planes that a cut was judged with.
    pub(super) fn planes_of(&self, job: &CutJob) -> Option<Planes> {
        let position = self.plan.jobs.iter().position(|other| other == job)?;
        self.cuts[position].planes
    }

    /// The states of all parts at a tool change.
    pub(super) fn states_of_change(&self, setup: &Setup, change: &ToolChange) -> Vec<Vec<usize>> {
        states_during(setup, self.plan.visits[change.before].cut)
    }

    /// The states of all parts over an index move.
    pub(super) fn states_of(&self, setup: &Setup, step: &IndexMove) -> Vec<Vec<usize>> {
        states_between(setup, &self.plan, step.after, step.before)
    }

    /// Everything wrong, in the order of the program.
    pub(super) fn violations(&self) -> impl Iterator<Item = &Violation> {
        let cuts = self.cuts.iter().flat_map(|judgement| &judgement.violations);
        let moves = self
            .moves
            .iter()
            .flat_map(|(_, _, judgement)| &judgement.violations);
        let changes = self
            .changes
            .iter()
            .flat_map(|(_, judgement)| &judgement.violations);
        let whole = self.whole.iter();
        let work = self
            .work_moves
            .iter()
            .flat_map(|(_, judgement)| &judgement.violations);
        whole.chain(cuts).chain(moves).chain(work).chain(changes)
    }
}

fn answer(
    judge: &Judge<'_>,
    judged: &Judged,
    troubles: Vec<super::model::Trouble>,
    lengths: Vec<ToolLengths>,
) -> CheckAnswer {
    let setup = judge.scene.setup;
    let cuts: Vec<CutAnswer> = judged
        .plan
        .jobs
        .iter()
        .zip(&judged.cuts)
        .map(|(job, found)| cut_answer(setup, job, found))
        .collect();
    let mut verdict = troubles
        .iter()
        .map(|trouble| trouble.verdict)
        .max()
        .unwrap_or(Verdict::Clear);
    verdict = cuts
        .iter()
        .map(|cut| cut.verdict)
        .fold(verdict, Verdict::max);
    let travel = whole_travel(judged);
    CheckAnswer {
        title: setup.title.clone(),
        machine: setup.machine.name.clone(),
        verdict,
        outcomes: counts(&cuts),
        turning: turning(judge),
        index_moves: judged
            .moves
            .iter()
            .zip(&judged.work_of)
            .map(|(found, &work)| move_answer(judge, judged, found, &judged.work_moves[work].1))
            .collect(),
        tool_changes: judged
            .changes
            .iter()
            .map(|(change, found)| ToolChangeAnswer {
                tool: setup.tools[change.tool].number,
                index_deg: change.index_deg,
                verdict: worst(&found.violations),
                least: found.least.clone(),
            })
            .collect(),
        swing: judged.reach.swing.clone(),
        travel,
        troubles,
        tools: setup
            .tools
            .iter()
            .map(|tool| ToolName {
                number: tool.number,
                name: tool.name.clone(),
            })
            .collect(),
        lengths,
        relies_on: reliance::relies_on(judge, judged),
        contacts: contacts(judge, judged),
        cuts,
    }
}

/// Every contact that is meant, with the least gap that its bodies keep outside the region.
fn contacts(judge: &Judge<'_>, judged: &Judged) -> Vec<ContactUse> {
    let found = judged
        .work_moves
        .iter()
        .flat_map(|(_, found)| &found.contacts);
    let least_of = |name: &str| {
        let mine = found.clone().filter(|(mine, _)| mine == name);
        let measured = mine.filter_map(|(_, least)| least.as_ref().map(|least| &least.measured));
        measured.min_by(|a, b| a.gap.lo_mm.total_cmp(&b.gap.lo_mm))
    };
    let told = judge.contacts.iter().map(|contact| ContactUse {
        name: contact.name.clone(),
        work: judge.scene.setup.carrier.name.clone(),
        bed: contact.bed_name.clone(),
        outside_region: least_of(&contact.name).map(|measured| measured.gap),
    });
    told.collect()
}

fn cut_answer(setup: &Setup, job: &CutJob, found: &CutJudgement) -> CutAnswer {
    let cut = &setup.cuts[job.cut];
    let verdict = worst(&found.violations);
    CutAnswer {
        cut: cut.name.clone(),
        tool: setup.tools[cut.tool].number,
        seat: setup.seats[job.seat].name.clone(),
        index_deg: job.index_deg,
        outcome: outcome(&found.violations),
        verdict,
        least: found.least.clone(),
        travel: found.travel.clone(),
    }
}

fn worst(violations: &[Violation]) -> Verdict {
    violations
        .iter()
        .map(|violation| violation.verdict)
        .max()
        .unwrap_or(Verdict::Clear)
}

/// What cannot be reached at all comes before what is in the way.
fn outcome(violations: &[Violation]) -> Outcome {
    let any = |kind: TroubleKind| violations.iter().any(|violation| violation.kind == kind);
    if any(TroubleKind::FacingAway) {
        Outcome::FacingAway
    } else if any(TroubleKind::ShortOfTravel) {
        Outcome::ShortOfTravel
    } else {
        match worst(violations) {
            Verdict::Clash => Outcome::Blocked,
            Verdict::Unknown => Outcome::Unknown,
            Verdict::Close if violations.iter().any(|v| v.verdict == Verdict::Unknown) => {
                Outcome::Unknown
            }
            Verdict::Close | Verdict::Clear => Outcome::Reached,
        }
    }
}

fn counts(cuts: &[CutAnswer]) -> OutcomeCounts {
    let mut counts = OutcomeCounts::default();
    for cut in cuts {
        let slot = match (cut.outcome, cut.verdict) {
            (Outcome::Reached, Verdict::Clear) => &mut counts.clear,
            (Outcome::Reached, _) => &mut counts.close,
            (Outcome::ShortOfTravel, _) => &mut counts.short_of_travel,
            (Outcome::Blocked, _) => &mut counts.blocked,
            (Outcome::FacingAway, _) => &mut counts.facing_away,
            (Outcome::Unknown, _) => &mut counts.unknown,
        };
        *slot += 1;
    }
    counts
}

fn move_answer(
    judge: &Judge<'_>,
    judged: &Judged,
    (step, ranges, found): &(IndexMove, AxisRanges, MoveJudgement),
    work: &MoveJudgement,
) -> IndexMoveAnswer {
    let setup = judge.scene.setup;
    let name = |stop: Stop| match stop {
        Stop::Start => "start".to_owned(),
        Stop::End => "end".to_owned(),
        Stop::Visit(visit) => setup.cuts[judged.plan.visits[visit].cut].name.clone(),
    };
    let axes = judge.scene.kinematics.axes().iter().zip(ranges);
    IndexMoveAnswer {
        tool: setup.tools[step.tool].number,
        after: name(step.after),
        before: name(step.before),
        from_deg: step.from_deg,
        to_deg: step.to_deg,
        verdict: worst(&found.violations).max(worst(&work.violations)),
        least: found.least.clone(),
        work_least: work.work_least.clone(),
        axes: axes
            .map(|(axis, range)| super::travel::axis_use(axis, *range))
            .collect(),
    }
}

/// Travel over the whole job: cuts, index moves and tool changes.
fn whole_travel(judged: &Judged) -> Vec<AxisUse> {
    let uses = judged.cuts.iter().map(|found| &found.travel);
    let uses = uses.chain(judged.moves.iter().map(|(_, _, found)| &found.axes));
    let mut whole: Vec<AxisUse> = Vec::new();
    for used in uses.flatten() {
        match whole.iter_mut().find(|mine| mine.axis == used.axis) {
            None => whole.push(used.clone()),
            Some(mine) => {
                mine.low_mm = mine.low_mm.min(used.low_mm);
                mine.high_mm = mine.high_mm.max(used.high_mm);
                mine.spare_mm = mine.spare_mm.min(used.spare_mm);
            }
        }
    }
    whole
}

fn turning(judge: &Judge<'_>) -> Turning {
    let setup = judge.scene.setup;
    let rotary = &setup.machine.rotary;
    let per_deg = judge.scene.kinematics.work_turn_per_deg();
    let side_1: Vec3 = setup.carrier.machine_from_carrier_at_zero.rotation * Vec3::x();
    let quarter = |per_deg: f64| {
        about_axis(&rotary.direction, &Point3::origin(), 90.0 * per_deg).rotation * side_1
    };
    let tidy = |v: Vec3| [0, 1, 2].map(|i: usize| if v[i].abs() < 1e-12 { 0.0 } else { v[i] });
    Turning {
        rotary: rotary.name.clone(),
        direction: tidy(rotary.direction),
        work_right_handed: per_deg.map(|per_deg| per_deg > 0.0),
        toward_spindle: tidy(judge.scene.kinematics.spindle()),
        side_1_at_zero: tidy(side_1),
        side_1_after_plus_90: per_deg.map(|per_deg| tidy(quarter(per_deg))),
    }
}
