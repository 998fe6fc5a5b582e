//! Violations put together into troubles, each with its amount and remedies.

use super::judge::Judge;
use super::model::{Measured, Place, Trouble, TroublePlace, Verdict};
use super::plan::Stop;
use super::run::{Judged, halt};
use super::trial::Trial;
use super::violation::{Site, Violation};
use super::{CheckError, CheckOptions, Progress};
use crate::setup::model::Setup;
use rayon::prelude::*;

/// The moment at which a clash is deepest, in the stead of the one at which it was found.
#[derive(Debug, Clone)]
pub(super) struct Deepest {
    /// Where in the program.
    pub site: Site,
    /// What was measured there.
    pub found: Measured,
    /// The same pair at its deepest.
    pub place: Place,
}

impl Deepest {
    /// A clash that was found somewhere is told where it is deepest, wherever it is told.
    pub(super) fn stand(self, judged: &mut Judged) {
        let told = match self.site {
            Site::Cut(job) => {
                let at = judged.plan.jobs.iter().position(|other| *other == job);
                at.and_then(|at| judged.cuts[at].least.as_mut())
            }
            Site::Move(step) => {
                let at = judged.moves.iter().position(|(other, ..)| *other == step);
                at.and_then(|at| judged.moves[at].2.least.as_mut())
            }
            Site::WorkMove(_) | Site::Change(_) | Site::Job => None,
        };
        if let Some(told) = told.filter(|told| **told == self.found) {
            told.place = Some(self.place);
        }
    }
}

/// Every trouble, worst first; and where clashes are deepest.
pub(super) fn troubles(
    judge: &Judge<'_>,
    judged: &Judged,
    options: &CheckOptions,
    progress: &dyn Progress,
) -> Result<(Vec<Trouble>, Vec<Deepest>), CheckError> {
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
    if options.remedies {
        progress.stage("remedies", groups.len());
    } else if options.overlaps {
        progress.stage("overlaps", groups.len());
    }
    let trial = Trial { judge, judged };
    let mut told = groups
        .par_iter()
        .map(|group| {
            halt(judge.stop)?;
            let mut told = trouble(judge.scene.setup, judged, group);
            let deepest = amount(&trial, group, options.overlaps, &mut told)?;
            if options.remedies {
                told.remedies = trial.remedies(group)?;
            }
            if options.remedies || options.overlaps {
                progress.step();
            }
            Ok((told, deepest))
        })
        .collect::<Result<Vec<(Trouble, Option<Deepest>)>, CheckError>>()?;
    told.sort_by(|(a, _), (b, _)| b.verdict.cmp(&a.verdict).then(a.kind.cmp(&b.kind)));
    let (troubles, deepest): (Vec<_>, Vec<_>) = told.into_iter().unzip();
    Ok((troubles, deepest.into_iter().flatten().collect()))
}

/// By how much: known for travel and fit, the missing gap where it is close, else searched for;
/// where that finds the moment at which an overlap is deepest, the trouble is told there.
fn amount(
    trial: &Trial<'_>,
    group: &[&Violation],
    search: bool,
    told: &mut Trouble,
) -> Result<Option<Deepest>, CheckError> {
    let worst = worst(group);
    let missing_mm = worst
        .measured
        .as_ref()
        .filter(|measured| measured.verdict == Verdict::Close)
        .map(|measured| measured.wanted_mm - measured.gap.lo_mm);
    told.amount_mm = worst.amount_mm.or(missing_mm);
    if told.amount_mm.is_some() || !search || worst.verdict != Verdict::Clash {
        return Ok(None);
    }
    let (Some(found), Some(measured)) = (&worst.measured, &mut told.worst) else {
        return Ok(None);
    };
    let Some(overlap) = trial.overlap(worst)? else {
        return Ok(None);
    };
    told.amount_mm = Some(overlap.length_mm);
    let deepest = overlap.place.map(|place| Deepest {
        site: worst.site,
        found: found.clone(),
        place,
    });
    measured.place = overlap.place.or(measured.place);
    Ok(deepest)
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
        places: places(setup, group),
        note: worst.note.clone(),
        remedies: Vec::new(),
    }
}

/// Every place once.
fn places(setup: &Setup, group: &[&Violation]) -> Vec<TroublePlace> {
    let mut places: Vec<TroublePlace> = Vec::new();
    for violation in group {
        let place = place(setup, violation.site);
        if !places.contains(&place) {
            places.push(place);
        }
    }
    places
}

/// Name of the cut (in a move: the one that it leads to, or comes from) and number of the tool.
fn subject(setup: &Setup, judged: &Judged, site: Site) -> (Option<String>, Option<u32>) {
    let cut_at = |stop: Stop| match stop {
        Stop::Visit(visit) => Some(setup.cuts[judged.plan.visits[visit].cut].name.clone()),
        Stop::Start | Stop::End => None,
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
