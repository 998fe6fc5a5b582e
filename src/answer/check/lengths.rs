//! Shortest and longest gauge length of every tool: the stick-out changes, the holder stays.
//!
//! The shortest keeps holder, nose and head off everything in all cuts of the tool; the longest
//! stays within travel and clears index moves and tool changes. Both are searched from the side
//! that fails, and what is told was judged once more at all places.

use super::judge::Judge;
use super::model::{Element, LengthLimit, ToolLengths};
use super::own_part::FOLLOWING;
use super::run::{Judged, halt};
use super::search::least_steps;
use super::trial::Trial;
use super::violation::{Site, Violation};
use super::{CheckError, Progress};
use crate::answer::retool::{stick_out_limits, with_stick_out};
use crate::setup::model::{Setup, Tool};
use rayon::prelude::*;

/// Lengths are told, and tried, in steps of this.
const STEP_MM: f64 = 0.01;

/// A longest length is looked for no farther than this beyond the one that is set.
const FARTHEST_MM: f64 = 300.0;

/// What the length may bring nearer to the work, or cannot keep from it: all but the flutes.
const BEHIND: [Element; 5] = [
    Element::Neck,
    Element::Shank,
    Element::Holder,
    Element::Nose,
    Element::Head,
];

/// Gives a length to prove for a range.
pub(super) type Propose<'p> = dyn Fn(&ToolLengths) -> Option<f64> + Sync + 'p;

/// The range of every tool that cuts.
pub(super) fn lengths(
    judge: &Judge<'_>,
    judged: &Judged,
    progress: &dyn Progress,
) -> Result<Vec<ToolLengths>, CheckError> {
    let found = proved(judge, judged, &|_| None, progress)?;
    Ok(found.into_iter().map(|(_, range, _)| range).collect())
}

/// The range of every tool that cuts, and whether the length proposed for it keeps every wanted
/// gap that depends on the length.
pub(super) fn proved(
    judge: &Judge<'_>,
    judged: &Judged,
    propose: &Propose<'_>,
    progress: &dyn Progress,
) -> Result<Vec<(usize, ToolLengths, bool)>, CheckError> {
    let setup = judge.scene.setup;
    let used = |tool: &usize| {
        judged
            .plan
            .jobs
            .iter()
            .any(|job| setup.cuts[job.cut].tool == *tool)
    };
    let tools: Vec<usize> = (0..setup.tools.len()).filter(used).collect();
    if setup.machine.rotary.sense.is_none() {
        return Ok(Vec::new());
    }
    progress.stage("lengths", tools.len());
    tools
        .par_iter()
        .map(|&tool| {
            halt(judge.stop)?;
            let search = Search::new(Trial { judge, judged }, tool);
            let (shortest_mm, shortest_by) = search.shortest()?;
            let (longest_mm, longest_by) = search.longest()?;
            let range = ToolLengths {
                tool: setup.tools[tool].number,
                name: setup.tools[tool].name.clone(),
                set_mm: setup.tools[tool].gauge_length_mm,
                shortest_mm,
                shortest_by,
                longest_mm,
                longest_by,
            };
            let proved = match propose(&range) {
                Some(length_mm) => search.keeps(length_mm)?,
                None => false,
            };
            progress.step();
            Ok((tool, range, proved))
        })
        .collect()
}

/// An end of the range, with what sets it.
type End = (f64, LengthLimit);

struct Search<'t> {
    trial: Trial<'t>,
    tool: usize,
}

impl<'t> Search<'t> {
    fn new(trial: Trial<'t>, tool: usize) -> Self {
        Self { trial, tool }
    }

    fn setup(&self) -> &'t Setup {
        self.trial.judge.scene.setup
    }

    fn set(&self) -> &'t Tool {
        &self.setup().tools[self.tool]
    }

    /// The setup with the tool at another gauge length.
    fn at(&self, gauge_length_mm: f64) -> Setup {
        let set = self.set();
        let stick_out_mm = set.stick_out_mm + gauge_length_mm - set.gauge_length_mm;
        let mut setup = self.setup().clone();
        setup.tools[self.tool] = with_stick_out(set, stick_out_mm);
        setup
    }

    /// What is wrong about gaps at a place with the tool at a length.
    fn wrong(
        &self,
        gauge_length_mm: f64,
        site: Site,
        only: &[Element],
    ) -> Result<Option<Violation>, CheckError> {
        let seen = self.trial.see(&self.at(gauge_length_mm), &[site], only)?;
        let gaps = seen.into_iter().flat_map(|seen| seen.violations);
        Ok(gaps
            .into_iter()
            .find(|violation| violation.measured.is_some()))
    }

    /// Whether nothing is wrong at a length: holder, nose and head in all cuts, the whole tool
    /// group in index moves and tool changes.
    fn keeps(&self, gauge_length_mm: f64) -> Result<bool, CheckError> {
        let places = [
            (self.cut_sites(), &BEHIND[..]),
            (self.move_sites(), &[][..]),
        ];
        for (sites, only) in places {
            for site in sites {
                halt(self.trial.judge.stop)?;
                if self.wrong(gauge_length_mm, site, only)?.is_some() {
                    return Ok(false);
                }
            }
        }
        Ok(true)
    }

    fn shortest(&self) -> Result<(Option<f64>, Option<LengthLimit>), CheckError> {
        let set = self.set();
        let limits = stick_out_limits(set);
        let least_mm = set.gauge_length_mm - set.stick_out_mm + limits.least_mm;
        let mut end = (ceil(least_mm), limit(limits.least_by.name()));
        if let Some((low_mm, by)) = self.travel_end(true)
            && ceil(low_mm) > end.0
        {
            end = (ceil(low_mm), by);
        }
        let sites = self.cut_sites();
        let found = self.push(end, &sites, &BEHIND, 1.0)?;
        Ok(found)
    }

    fn longest(&self) -> Result<(Option<f64>, Option<LengthLimit>), CheckError> {
        let set = self.set();
        let far_mm = set.gauge_length_mm + FARTHEST_MM;
        let mut end = (floor(far_mm), limit("nothing nearer than 300 mm more"));
        let limits = stick_out_limits(set);
        if let Some(stick_out_mm) = limits.most_mm {
            let most_mm = set.gauge_length_mm - set.stick_out_mm + stick_out_mm;
            end = (floor(most_mm), limit(limits.most_by.name()));
        }
        if let Some((high_mm, by)) = self.travel_end(false)
            && floor(high_mm) < end.0
        {
            end = (floor(high_mm), by);
        }
        // A longer tool brings more of its shank out of the holder.
        let (within_mm, by) = self.push(end, &self.cut_sites(), &FOLLOWING, -1.0)?;
        let (Some(within_mm), Some(by)) = (within_mm, by.clone()) else {
            return Ok((None, by));
        };
        self.push((within_mm, by), &self.move_sites(), &[], -1.0)
    }

    /// Moves an end until no place is wrong: `sign` 1 to longer, -1 to shorter tools.
    fn push(
        &self,
        start: End,
        sites: &[Site],
        only: &[Element],
        sign: f64,
    ) -> Result<(Option<f64>, Option<LengthLimit>), CheckError> {
        let (mut length_mm, mut by) = start;
        let room_mm = |length_mm: f64| {
            if sign > 0.0 {
                FARTHEST_MM
            } else {
                length_mm - self.least_length_mm()
            }
        };
        // A second round proves the end that the first has found, at every place.
        for _round in 0..4 {
            let mut moved = false;
            for site in sites {
                halt(self.trial.judge.stop)?;
                if self.wrong(length_mm, *site, only)?.is_none() {
                    continue;
                }
                let at = |steps: u64| rounded(length_mm + sign * steps as f64 * STEP_MM);
                let limit_steps = (room_mm(length_mm).max(0.0) / STEP_MM) as u64;
                let found = least_steps(limit_steps, |steps| {
                    Ok::<bool, CheckError>(self.wrong(at(steps), *site, only)?.is_none())
                })?;
                let Some(steps) = found else {
                    let wrong = self.wrong(length_mm, *site, only)?;
                    return Ok((None, wrong.map(|wrong| self.limit_of(&wrong))));
                };
                if let Some(wrong) = self.wrong(at(steps - 1), *site, only)? {
                    by = self.limit_of(&wrong);
                }
                length_mm = at(steps);
                moved = true;
            }
            if !moved {
                return Ok((Some(length_mm), Some(by)));
            }
        }
        Ok((
            None,
            Some(limit("gaps that do not grow steadily with the length")),
        ))
    }

    /// The shortest gauge length that the holder allows.
    fn least_length_mm(&self) -> f64 {
        let set = self.set();
        set.gauge_length_mm - set.stick_out_mm + stick_out_limits(set).least_mm
    }

    /// The gauge length at which some axis reaches a limit in some cut, from below or above.
    fn travel_end(&self, lowest: bool) -> Option<End> {
        let kinematics = &self.trial.judge.scene.kinematics;
        let per_length = kinematics.positions_per_shift(kinematics.spindle());
        let mut end: Option<End> = None;
        for (job, found) in self.jobs() {
            for (axis, used) in found.travel.iter().enumerate() {
                let rate = per_length[axis];
                if rate.abs() < 1e-9 {
                    continue;
                }
                let ends = [
                    (used.limit_low_mm - used.low_mm) / rate,
                    (used.limit_high_mm - used.high_mm) / rate,
                ];
                let [low_mm, high_mm] = if rate > 0.0 { ends } else { [ends[1], ends[0]] };
                let more_mm = if lowest { low_mm } else { high_mm };
                let length_mm = self.set().gauge_length_mm + more_mm;
                let tighter = end.as_ref().is_none_or(|(so_far_mm, _)| {
                    if lowest {
                        length_mm > *so_far_mm
                    } else {
                        length_mm < *so_far_mm
                    }
                });
                if tighter {
                    let by = LengthLimit {
                        cut: Some(self.setup().cuts[job.cut].name.clone()),
                        seat: Some(self.setup().seats[job.seat].name.clone()),
                        phase: None,
                        by: format!("travel of {}", used.axis),
                    };
                    end = Some((length_mm, by));
                }
            }
        }
        end
    }

    fn jobs(
        &self,
    ) -> impl Iterator<Item = (&'t super::plan::CutJob, &'t super::judge::CutJudgement)> {
        let (judged, tool) = (self.trial.judged, self.tool);
        let cuts = &self.trial.judge.scene.setup.cuts;
        let jobs = judged.plan.jobs.iter().zip(&judged.cuts);
        jobs.filter(move |(job, _)| cuts[job.cut].tool == tool && job.index_deg.is_some())
    }

    fn cut_sites(&self) -> Vec<Site> {
        self.jobs().map(|(job, _)| Site::Cut(*job)).collect()
    }

    fn move_sites(&self) -> Vec<Site> {
        let judged = self.trial.judged;
        let moves = judged
            .moves
            .iter()
            .filter(|(step, _, _)| step.tool == self.tool);
        let changes = judged
            .changes
            .iter()
            .filter(|(change, _)| change.tool == self.tool);
        let moves = moves.map(|(step, _, _)| Site::Move(*step));
        moves
            .chain(changes.map(|(change, _)| Site::Change(*change)))
            .collect()
    }

    fn limit_of(&self, violation: &Violation) -> LengthLimit {
        let setup = self.setup();
        let (cut, seat) = match violation.site {
            Site::Cut(job) => (
                Some(setup.cuts[job.cut].name.clone()),
                Some(setup.seats[job.seat].name.clone()),
            ),
            _ => (None, None),
        };
        let body = violation
            .measured
            .as_ref()
            .map(|measured| measured.body.clone());
        LengthLimit {
            cut,
            seat,
            phase: violation.phase,
            by: body.unwrap_or_default(),
        }
    }
}

fn limit(by: &str) -> LengthLimit {
    LengthLimit {
        cut: None,
        seat: None,
        phase: None,
        by: by.to_owned(),
    }
}

fn rounded(value_mm: f64) -> f64 {
    (value_mm / STEP_MM).round() * STEP_MM
}

fn ceil(value_mm: f64) -> f64 {
    ((value_mm / STEP_MM) - 1e-6).ceil() * STEP_MM
}

fn floor(value_mm: f64) -> f64 {
    ((value_mm / STEP_MM) + 1e-6).floor() * STEP_MM
}
