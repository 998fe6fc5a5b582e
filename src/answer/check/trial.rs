//! A changed setup judged again at the places of a trouble, by the same code that found it.

use super::CheckError;
use super::judge::{Focus, Judge};
use super::known::Before;
use super::measure::Hint;
use super::model::{Element, GapValue, Measured, Verdict};
use super::moves::AxisRanges;
use super::plan::IndexMove;
use super::run::{Judged, halt};
use super::violation::{Site, Violation};
use crate::answer::scene::{BodyId, Scene};
use crate::setup::model::Setup;
use crate::value::Vec3;
use rayon::prelude::*;

/// Work after which a place that may refute a change is left for a second look: a refutation is
/// mostly quick, and a gap that is just kept takes long to prove. It changes times alone.
const QUICK_WORK: u64 = 4_000;

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
    pub least: Option<Measured>,
}

impl Trial<'_> {
    /// Judges gaps of some elements at some sites of a changed setup.
    pub(super) fn see(
        &self,
        setup: &Setup,
        sites: &[Site],
        only: &[Element],
    ) -> Result<Vec<Seen>, CheckError> {
        let scene = Scene::new(setup, self.judge.scene.store.clone())?;
        let mut judge = self.judge.trial(&scene)?;
        judge.only = only.to_vec();
        sites
            .par_iter()
            .map(|site| {
                halt(judge.stop)?;
                self.at(&judge, *site, Vec3::zeros())
            })
            .collect()
    }

    /// What the element of a violation comes nearest to with the tool shifted, where its whole phase
    /// is free of that one body: the last gap that opens.
    pub(super) fn nearest(
        &self,
        setup: &Setup,
        violation: &Violation,
        shift_mm: Vec3,
    ) -> Result<Option<Measured>, CheckError> {
        let scene = Scene::new(setup, self.judge.scene.store.clone())?;
        let mut judge = self.focused(&scene, violation, violation.body)?;
        judge.decide_only = false;
        Ok(self.at(&judge, violation.site, shift_mm)?.least)
    }

    fn at(&self, judge: &Judge<'_>, site: Site, shift_mm: Vec3) -> Result<Seen, CheckError> {
        let setup = judge.scene.setup;
        Ok(match site {
            Site::Cut(job) => {
                let found = judge.cut(&job)?;
                Seen {
                    least: found.least,
                    violations: found.violations,
                }
            }
            Site::Move(step) => {
                let ranges = self.shifted_ranges(judge, &step, shift_mm)?;
                let work = judge.work_bodies(&self.judged.states_of(setup, &step))?;
                let found = judge.index_move(&step, &ranges, &work)?;
                Seen {
                    least: found.least,
                    violations: found.violations,
                }
            }
            Site::WorkMove(step) => {
                let ranges = self.shifted_ranges(judge, &step, Vec3::zeros())?;
                let work = judge.work_bodies(&self.judged.states_of(setup, &step))?;
                let found = judge.work_move(&step, &ranges, &work)?;
                Seen {
                    least: found.work_least,
                    violations: found.violations,
                }
            }
            Site::Change(change) => {
                let work = judge.work_bodies(&self.judged.states_of_change(setup, &change))?;
                let found = judge.tool_change(&change, &work)?;
                Seen {
                    least: found.least,
                    violations: found.violations,
                }
            }
            Site::Job => Seen::default(),
        })
    }

    /// Where the axes stand in an index move of the changed setup, shifted.
    fn shifted_ranges(
        &self,
        judge: &Judge<'_>,
        step: &IndexMove,
        shift_mm: Vec3,
    ) -> Result<AxisRanges, CheckError> {
        let left = match self.judged.last_job(step) {
            Some(job) => judge.left_by(&job)?,
            None => None,
        };
        let shifts = judge.scene.kinematics.positions_per_shift(shift_mm);
        let ranges = judge.index_ranges(left);
        Ok([0, 1, 2].map(|axis: usize| ranges[axis].map(|position_mm| position_mm + shifts[axis])))
    }

    /// Whether a changed setup is free of a trouble at one of its places: only the pair of the
    /// trouble is looked at, in its phase.
    pub(super) fn mends_at(
        &self,
        setup: &Setup,
        group: &[&Violation],
        place: usize,
        hint: &Hint,
    ) -> Result<bool, CheckError> {
        let scene = Scene::new(setup, self.judge.scene.store.clone())?;
        let mut judge = self.focused(&scene, group[0], None)?;
        judge.hint = Some(hint);
        let found = self.found_again(&judge, group[0], group[place].site, Vec3::zeros())?;
        Ok(found.is_none())
    }

    /// Whether a changed setup, with the tool shifted, is free of a violation: only its two bodies
    /// are looked at, in its phase.
    pub(super) fn parts(
        &self,
        setup: &Setup,
        violation: &Violation,
        shift_mm: Vec3,
        hint: &Hint,
    ) -> Result<bool, CheckError> {
        let scene = Scene::new(setup, self.judge.scene.store.clone())?;
        let mut judge = self.focused(&scene, violation, violation.body)?;
        judge.hint = Some(hint);
        let found = self.found_again(&judge, violation, violation.site, shift_mm)?;
        Ok(found.is_none())
    }

    /// The first place at which a changed setup is not free of a trouble, looked at as in
    /// [`Self::mends_at`]; any place that is quickly refuted comes before it.
    pub(super) fn not_mended(
        &self,
        setup: &Setup,
        group: &[&Violation],
    ) -> Result<Option<usize>, CheckError> {
        let scene = Scene::new(setup, self.judge.scene.store.clone())?;
        let mut judge = self.focused(&scene, group[0], None)?;
        judge.budget = Some(QUICK_WORK);
        let refuted = |verdict: Verdict| verdict != Verdict::Unknown;
        let quickly = self.first_place(&judge, group, refuted)?;
        if quickly.is_some() {
            return Ok(quickly);
        }
        judge.budget = None;
        self.first_place(&judge, group, |_| true)
    }

    /// The first place at which the trouble is found again with such a verdict.
    fn first_place(
        &self,
        judge: &Judge<'_>,
        group: &[&Violation],
        counts: impl Fn(Verdict) -> bool + Sync,
    ) -> Result<Option<usize>, CheckError> {
        let still = |place: usize| {
            halt(judge.stop)?;
            let site = group[place].site;
            let found = self.found_again(judge, group[0], site, Vec3::zeros())?;
            Ok(found.is_some_and(&counts))
        };
        let ask = |place: usize| match still(place) {
            Ok(false) => None,
            Ok(true) => Some(Ok(place)),
            Err(fault) => Some(Err(fault)),
        };
        let places = (0..group.len()).into_par_iter();
        places.find_map_first(ask).transpose()
    }

    /// A judge of a changed setup that looks at the pair of a violation, in its phase; of bodies
    /// that are alike only at one, where that is given.
    fn focused<'s>(
        &'s self,
        scene: &'s Scene<'s>,
        violation: &Violation,
        body: Option<BodyId>,
    ) -> Result<Judge<'s>, CheckError> {
        let mut judge = self.judge.trial(scene)?;
        judge.only = violation.element.into_iter().collect();
        judge.focus = Some(Focus {
            phase: violation.phase,
            other: violation.other,
            body,
        });
        Ok(judge)
    }

    /// The verdict of a violation that is found again at a site; the clearest where there are more.
    fn found_again(
        &self,
        judge: &Judge<'_>,
        violation: &Violation,
        site: Site,
        shift_mm: Vec3,
    ) -> Result<Option<Verdict>, CheckError> {
        let seen = self.at(judge, site, shift_mm)?;
        let again = seen
            .violations
            .iter()
            .filter(|found| found.same_pair(violation));
        let known = |verdict: &Verdict| *verdict != Verdict::Unknown;
        Ok(again.map(|found| found.verdict).max_by_key(known))
    }

    /// Whether nothing is wrong at these sites in a changed setup that was not wrong before.
    ///
    /// What was clear, and has not come nearer by more than there was to spare, is not asked again
    /// (see `known`).
    pub(super) fn harmless(
        &self,
        setup: &Setup,
        group: &[&Violation],
        sites: &[Site],
    ) -> Result<bool, CheckError> {
        let scene = Scene::new(setup, self.judge.scene.store.clone())?;
        let mut judge = self.judge.trial(&scene)?;
        judge.before = Some(Before {
            judge: self.judge,
            judged: self.judged,
        });
        let known = |violation: &Violation| {
            self.judged.violations().any(|before| {
                before.site == violation.site
                    && before.same_pair(violation)
                    && before.verdict >= violation.verdict
            })
        };
        let fine = |violation: &Violation| known(violation) && !violation.same_pair(group[0]);
        let harmed = |site: &Site| {
            halt(judge.stop)?;
            let seen = self.at(&judge, *site, Vec3::zeros())?;
            Ok(!seen.violations.iter().all(fine))
        };
        Ok(!any(sites, harmed)?)
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
        let scene = Scene::new(setup, self.judge.scene.store.clone())?;
        let mut judge = self.judge.trial(&scene)?;
        judge.only = only;
        judge.decide_only = false;
        let seen: Vec<Seen> = group
            .par_iter()
            .map(|violation| self.at(&judge, violation.site, Vec3::zeros()))
            .collect::<Result<_, CheckError>>()?;
        let gaps = seen
            .iter()
            .filter_map(|seen| Some(seen.least.as_ref()?.gap));
        Ok(gaps.reduce(|least, gap| if gap.lo_mm < least.lo_mm { gap } else { least }))
    }
}

/// Whether something holds for any of them; the rest is not asked once one is found.
fn any<T: Sync>(
    list: &[T],
    holds: impl Fn(&T) -> Result<bool, CheckError> + Sync,
) -> Result<bool, CheckError> {
    let ask = |item: &T| match holds(item) {
        Ok(false) => None,
        found_or_failed => Some(found_or_failed),
    };
    list.par_iter().find_map_any(ask).unwrap_or(Ok(false))
}
