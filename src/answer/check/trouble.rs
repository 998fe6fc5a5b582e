//! Violations put together into troubles, each with its amount and remedies.

use super::judge::Judge;
use super::model::{Trouble, TroublePlace};
use super::plan::Stop;
use super::run::Judged;
use super::violation::{Site, Violation};
use super::{CheckError, Progress};
use crate::setup::model::Setup;

/// Every trouble, worst first.
pub(super) fn troubles(
    judge: &Judge<'_>,
    judged: &Judged,
    _remedies: bool,
    _progress: &dyn Progress,
) -> Result<Vec<Trouble>, CheckError> {
    let mut groups: Vec<Vec<&Violation>> = Vec::new();
    for violation in judged.violations() {
        match groups
            .iter_mut()
            .find(|group| group[0].same_trouble(violation))
        {
            Some(group) => group.push(violation),
            None => groups.push(vec![violation]),
        }
    }
    let mut troubles: Vec<Trouble> = groups
        .iter()
        .map(|group| trouble(judge.scene.setup, judged, group))
        .collect();
    troubles.sort_by(|a, b| b.verdict.cmp(&a.verdict).then(a.kind.cmp(&b.kind)));
    Ok(troubles)
}

/// The violation that is worst, the first of equals.
fn worst<'v>(group: &[&'v Violation]) -> &'v Violation {
    group
        .iter()
        .copied()
        .reduce(|worst, next| {
            if next.badness() > worst.badness() {
                next
            } else {
                worst
            }
        })
        .unwrap_or(group[0])
}

fn trouble(setup: &Setup, judged: &Judged, group: &[&Violation]) -> Trouble {
    let worst = worst(group);
    let place = place(setup, worst.site);
    let (cut, tool) = subject(setup, judged, worst.site);
    Trouble {
        kind: worst.kind,
        verdict: worst.verdict,
        cut,
        tool,
        phase: worst.phase,
        amount_mm: worst.amount_mm,
        axis: worst.axis.map(|axis| setup.machine.axes[axis].name.clone()),
        worst: worst.measured.clone(),
        seat: place.seat,
        angles_deg: place.angles_deg,
        places: group
            .iter()
            .map(|violation| self::place(setup, violation.site))
            .collect(),
        note: worst.note.clone(),
        remedies: Vec::new(),
    }
}

/// Name of the cut (in a move: the one that it leads to, or comes from) and number of the tool.
fn subject(setup: &Setup, judged: &Judged, site: Site) -> (Option<String>, Option<u32>) {
    let cut_at = |stop: Stop| match stop {
        Stop::Visit(visit) => Some(setup.cuts[judged.plan.visits[visit].cut].name.clone()),
        Stop::Rest => None,
    };
    match site {
        Site::Cut(job) => {
            let cut = &setup.cuts[job.cut];
            (Some(cut.name.clone()), Some(setup.tools[cut.tool].number))
        }
        Site::Move(step) => {
            let cut = cut_at(step.before).or_else(|| cut_at(step.after));
            (cut, Some(setup.tools[step.tool].number))
        }
        Site::Change(change) => (
            cut_at(Stop::Visit(change.before)),
            Some(setup.tools[change.tool].number),
        ),
        Site::WorkMove(_) | Site::Job => (None, None),
    }
}

fn place(setup: &Setup, site: Site) -> TroublePlace {
    match site {
        Site::Cut(job) => TroublePlace {
            seat: Some(setup.seats[job.seat].name.clone()),
            angles_deg: job.index_deg.into_iter().collect(),
        },
        Site::Move(step) | Site::WorkMove(step) => TroublePlace {
            seat: None,
            angles_deg: vec![step.from_deg, step.to_deg],
        },
        Site::Change(change) => TroublePlace {
            seat: None,
            angles_deg: vec![change.index_deg],
        },
        Site::Job => TroublePlace {
            seat: None,
            angles_deg: Vec::new(),
        },
    }
}
