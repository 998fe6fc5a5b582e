//! The work group's own index moves: each different one is judged once.

use super::judge::Judge;
use super::moves::MoveJudgement;
use super::plan::IndexMove;
use super::run::{Judged, halt};
use super::{CheckError, Progress};
use rayon::prelude::*;
use std::collections::HashMap;

/// What the work group's move of a step depends on: its angles, the states of the parts, and where
/// the table stands, if there is a base to come near to.
#[derive(PartialEq, Eq, Hash)]
struct WorkKey(Vec<u64>, Vec<Vec<usize>>);

impl WorkKey {
    fn of(judge: &Judge<'_>, judged: &Judged, step: &IndexMove) -> Self {
        let mut numbers = vec![step.from_deg, step.to_deg];
        if !judge.scene.base.is_empty() {
            numbers.extend(judged.ranges_of(judge, step).into_iter().flatten());
        }
        // Adding zero makes one of the two zeros.
        let bits = numbers.into_iter().map(|number| (number + 0.0).to_bits());
        Self(bits.collect(), judged.states_of(judge.scene.setup, step))
    }
}

/// What was judged of the work group's moves.
pub(super) struct WorkMoves {
    /// Each different one.
    pub moves: Vec<(IndexMove, MoveJudgement)>,
    /// For each step which of them is its own.
    pub work_of: Vec<usize>,
}

/// The work group's own index moves: one judgement for all steps with the same angles, bodies
/// and table position; and which of them is that of each step.
pub(super) fn judge_work_moves(
    judge: &Judge<'_>,
    judged: &Judged,
    steps: &[IndexMove],
    progress: &dyn Progress,
) -> Result<WorkMoves, CheckError> {
    let mut known: HashMap<WorkKey, usize> = HashMap::new();
    let mut distinct: Vec<&IndexMove> = Vec::new();
    let mut work_of = Vec::with_capacity(steps.len());
    for step in steps {
        let at = *known
            .entry(WorkKey::of(judge, judged, step))
            .or_insert(distinct.len());
        if at == distinct.len() {
            distinct.push(step);
        }
        work_of.push(at);
    }
    let moves = distinct
        .par_iter()
        .map(|step| {
            halt(judge.stop)?;
            let work = judge.work_bodies(&judged.states_of(judge.scene.setup, step))?;
            let ranges = judged.ranges_of(judge, step);
            let judgement = judge.work_move(step, &ranges, &work)?;
            progress.step();
            Ok((**step, judgement))
        })
        .collect::<Result<_, CheckError>>()?;
    Ok(WorkMoves { moves, work_of })
}
