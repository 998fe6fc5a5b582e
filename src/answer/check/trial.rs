//! A changed setup judged again at the places of a trouble, by the same code that found it.

use super::CheckError;
use super::judge::Judge;
use super::model::{Element, GapValue};
use super::moves::AxisRanges;
use super::run::{Judged, halt};
use super::violation::{Site, Violation};
use crate::answer::scene::Scene;
use crate::setup::model::Setup;
use crate::value::Vec3;
use rayon::prelude::*;

/// Judges changed setups against what was judged first.
#[derive(Debug, Clone, Copy)]
pub struct Trial<'t> {
    /// Judge of the setup as it is.
    pub judge: &'t Judge<'t>,
    /// What it found.
    pub judged: &'t Judged,
}

/// What a site looks like in a changed setup.
#[derive(Debug, Clone, Default)]
pub struct Seen {
    /// Everything wrong there.
    pub violations: Vec<Violation>,
    /// The least gap there.
    pub least: Option<GapValue>,
}

impl Trial<'_> {
    /// Judges some sites of a changed setup, only some elements (none: all), the tool shifted.
    pub(super) fn see(
        &self,
        setup: &Setup,
        sites: &[Site],
        only: &[Element],
        shift_mm: Vec3,
    ) -> Result<Vec<Seen>, CheckError> {
        let scene = Scene::new(setup, self.judge.scene.store.clone())?;
        let judge = self.judge.trial(&scene, only)?;
        sites
            .par_iter()
            .map(|site| {
                halt(judge.stop)?;
                self.at(&judge, *site, shift_mm)
            })
            .collect()
    }

    fn at(&self, judge: &Judge<'_>, site: Site, shift_mm: Vec3) -> Result<Seen, CheckError> {
        let setup = judge.scene.setup;
        let value = |measured: &super::model::Measured| measured.gap;
        Ok(match site {
            Site::Cut(job) => {
                let found = judge.cut(&job)?;
                Seen {
                    least: found.least.as_ref().map(value),
                    violations: found.violations,
                }
            }
            Site::Move(step) => {
                let ranges = self.shifted_ranges(judge, &step, shift_mm);
                let work = judge.work_bodies(&self.judged.states_of(setup, &step))?;
                let found = judge.index_move(&step, &ranges, &work)?;
                Seen {
                    least: found.least.as_ref().map(value),
                    violations: found.violations,
                }
            }
            Site::WorkMove(step) => {
                let ranges = self.judged.ranges_of(judge, &step);
                let work = judge.work_bodies(&self.judged.states_of(setup, &step))?;
                let found = judge.work_move(&step, &ranges, &work)?;
                Seen {
                    least: found.work_least.as_ref().map(value),
                    violations: found.violations,
                }
            }
            Site::Change(change) => {
                let work = judge.work_bodies(&self.judged.states_of_change(setup, &change))?;
                let found = judge.tool_change(&change, &work)?;
                Seen {
                    least: found.least.as_ref().map(value),
                    violations: found.violations,
                }
            }
            Site::Job => Seen::default(),
        })
    }

    fn shifted_ranges(
        &self,
        judge: &Judge<'_>,
        step: &super::plan::IndexMove,
        shift_mm: Vec3,
    ) -> AxisRanges {
        let shifts = judge.scene.kinematics.positions_per_shift(shift_mm);
        let ranges = self.judged.ranges_of(judge, step);
        [0, 1, 2].map(|axis: usize| ranges[axis].map(|position_mm| position_mm + shifts[axis]))
    }

    /// Whether a changed setup is free of a trouble at all its places.
    pub(super) fn mends(
        &self,
        setup: &Setup,
        group: &[&Violation],
        shift_mm: Vec3,
    ) -> Result<bool, CheckError> {
        let only: Vec<Element> = group[0].element.into_iter().collect();
        let sites: Vec<Site> = group.iter().map(|violation| violation.site).collect();
        // The worst place first: most steps of a search end there.
        let (first, rest) = sites.split_at(1);
        for sites in [first, rest] {
            let seen = self.see(setup, sites, &only, shift_mm)?;
            let still = |violation: &Violation| violation.same_pair(group[0]);
            if seen.iter().any(|seen| seen.violations.iter().any(still)) {
                return Ok(false);
            }
        }
        Ok(true)
    }

    /// Whether nothing is wrong at these sites in a changed setup that was not wrong before; the
    /// least gap at the places of the trouble.
    pub(super) fn harmless(
        &self,
        setup: &Setup,
        group: &[&Violation],
        sites: &[Site],
    ) -> Result<bool, CheckError> {
        let seen = self.see(setup, sites, &[], Vec3::zeros())?;
        let known = |violation: &Violation| {
            self.judged.violations().any(|before| {
                before.site == violation.site
                    && before.same_pair(violation)
                    && before.verdict >= violation.verdict
            })
        };
        let fine = |violation: &Violation| known(violation) && !violation.same_pair(group[0]);
        Ok(seen.iter().all(|seen| seen.violations.iter().all(fine)))
    }

    /// The least gap at the places of a trouble in a changed setup.
    pub(super) fn gap_after(
        &self,
        setup: &Setup,
        group: &[&Violation],
    ) -> Result<Option<GapValue>, CheckError> {
        let only: Vec<Element> = group[0].element.into_iter().collect();
        if only.is_empty() {
            return Ok(None);
        }
        let sites: Vec<Site> = group.iter().map(|violation| violation.site).collect();
        let scene = Scene::new(setup, self.judge.scene.store.clone())?;
        let mut judge = self.judge.trial(&scene, &only)?;
        judge.decide_only = false;
        let mut least: Option<GapValue> = None;
        for site in sites {
            let seen = self.at(&judge, site, Vec3::zeros())?;
            if let Some(gap) = seen.least
                && least.is_none_or(|least| gap.lo_mm < least.lo_mm)
            {
                least = Some(gap);
            }
        }
        Ok(least)
    }
}
