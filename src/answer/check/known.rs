//! What a change of the setup leaves as it was: pairs that need not be judged again.
//!
//! Own derivation. Let a pair keep at least `lo` over a motion, and let a change of the setup move
//! either body by a shift, the same in every pose, and every corner of the spread by at most some
//! length. Each point of the hull of the corners moves no farther than the farthest of them. So
//! each pair of points comes nearer by at most the sum `d` of these lengths, and the gap is at least
//! `lo - d`. A body that lies within the one before comes no nearer by that. While `d` grows from
//! zero the gap stays above zero, so a body cannot have come to lie in another.

use super::base::on_table;
use super::judge::Judge;
use super::measure::{Mover, Standing};
use super::model::{Element, Measured, TroubleKind};
use super::moment::Moment;
use super::own_part::{FOLLOWING, corridor_mm};
use super::run::Judged;
use super::sweep::{CutMotion, Sweep};
use super::violation::{Site, Violation};
use crate::answer::scene::{BodyId, ToolElement};
use crate::gap::{Motion, Placed, Ring, Shape, Turn};
use crate::value::{Pose, Vec3};
use nalgebra::Point3;
use std::sync::Arc;

/// Shifts no longer than this are rounding: two ways to one pose differ by less, and surfaces a
/// thousand times farther apart count as in contact.
const ROUNDING_MM: f64 = 1e-9;

/// Entries of a rotation that differ by no more than this are the same; at a metre from the origin
/// that is a thousandth of [`ROUNDING_MM`].
const TURNED: f64 = 1e-15;

/// The setup before the change, and what was found of it.
#[derive(Debug, Clone, Copy)]
pub struct Before<'t> {
    /// Its judge.
    pub judge: &'t Judge<'t>,
    /// What that found.
    pub judged: &'t Judged,
}

/// What was found at a site before the change.
pub(super) struct Stood<'t> {
    pub(super) before: Before<'t>,
    /// By how much all gaps are at least larger than wanted; 0 where one is not.
    spare_mm: f64,
    /// Pairs that did not keep their wanted gap, or of which that is not known.
    wrong: Vec<(Option<Element>, Option<BodyId>)>,
}

impl Stood<'_> {
    fn is_wrong(&self, element: Element, body: BodyId) -> bool {
        let same =
            |wrong: &(Option<Element>, Option<BodyId>)| *wrong == (Some(element), Some(body));
        self.wrong.iter().any(same)
    }
}

impl<'t> Before<'t> {
    /// What was found at a site; `None` where not every pair of it was judged.
    fn stood(self, site: Site) -> Option<Stood<'t>> {
        let judged = self.judged;
        let least = match site {
            Site::Cut(job) => {
                let at = judged.plan.jobs.iter().position(|other| *other == job)?;
                &judged.cuts[at].least
            }
            Site::Move(step) => {
                let found = judged.moves.iter().find(|(other, _, _)| *other == step);
                &found?.2.least
            }
            Site::Change(change) => {
                let found = judged.changes.iter().find(|(other, _)| *other == change);
                &found?.1.least
            }
            Site::WorkMove(_) | Site::Job => return None,
        };
        let violations = judged
            .violations()
            .filter(|violation| violation.site == site);
        let violations: Vec<_> = violations.collect();
        // Missing travel leaves the gaps judged; whatever else has no gap may not.
        let about_gaps = |violation: &&Violation| {
            violation.measured.is_some() || violation.kind == TroubleKind::ShortOfTravel
        };
        let spare_mm = |least: &Measured| least.gap.lo_mm - least.wanted_mm;
        violations.iter().all(about_gaps).then(|| Stood {
            before: self,
            spare_mm: least.as_ref().map_or(0.0, spare_mm).max(0.0),
            wrong: violations
                .iter()
                .map(|violation| (violation.element, violation.body))
                .collect(),
        })
    }
}

/// How a mover went before the change.
pub(super) struct Was<'k> {
    pub(super) mover: Mover<'k>,
    pub(super) motion: Motion,
    pub(super) bodies: &'k [Standing<'k>],
    pub(super) stood: &'k Stood<'k>,
}

impl Was<'_> {
    /// The bodies whose gap the change may have brought below what is wanted; all where nothing is
    /// known.
    ///
    /// # Guarantees
    /// Every body that is left out keeps its wanted gap, as it did before (see the module; a shift
    /// of [`ROUNDING_MM`] counts as none).
    pub(super) fn in_doubt<'b>(
        was: Option<&Self>,
        mover: &Mover<'_>,
        motion: &Motion,
        bodies: &[Standing<'b>],
    ) -> Vec<Standing<'b>> {
        let Some(was) = was else {
            return bodies.to_vec();
        };
        let may_have = |(index, standing): &(usize, &Standing<'_>)| {
            let old = was.bodies.get(*index);
            let old = old.filter(|old| old.body.id == standing.body.id);
            let old = old.filter(|old| !was.stood.is_wrong(mover.element, old.body.id));
            let nearer_mm = old.and_then(|old| was.nearer_mm(mover, motion, old, standing));
            nearer_mm.is_none_or(|mm| mm > ROUNDING_MM && mm >= was.stood.spare_mm)
        };
        let doubtful = bodies.iter().enumerate().filter(may_have);
        doubtful.map(|(_, standing)| standing.clone()).collect()
    }

    /// Whether nothing at all has changed about a pair in which nothing was wrong.
    pub(super) fn same(
        &self,
        mover: &Mover<'_>,
        motion: &Motion,
        old: &Standing<'_>,
        standing: &Standing<'_>,
    ) -> bool {
        !self.stood.is_wrong(mover.element, old.body.id)
            && within(&self.mover.placed.shape, &mover.placed.shape)
            && self
                .nearer_mm(mover, motion, old, standing)
                .is_some_and(|mm| mm <= ROUNDING_MM)
    }

    /// By how much the pair has come nearer at most; `None` where that is not known.
    fn nearer_mm(
        &self,
        mover: &Mover<'_>,
        motion: &Motion,
        old: &Standing<'_>,
        standing: &Standing<'_>,
    ) -> Option<f64> {
        let same_bodies = within(&mover.placed.shape, &self.mover.placed.shape)
            && within(&standing.placed.shape, &old.placed.shape)
            && mover.allowance_mm <= self.mover.allowance_mm
            && standing.body.chord_allowance_mm <= old.body.chord_allowance_mm
            && standing.body.gouge_chord_mm == old.body.gouge_chord_mm;
        if !same_bodies || !same_turn(motion.turn.as_ref(), self.motion.turn.as_ref()) {
            return None;
        }
        let mover_mm = shift_of(&self.mover.placed, &mover.placed)?;
        let body_mm = shift_of(&old.placed, &standing.placed)?;
        // While the body turns, its shift turns with it.
        let pair_mm = match motion.turn {
            Some(_) => mover_mm.norm() + body_mm.norm(),
            None => (mover_mm - body_mm).norm(),
        };
        Some(pair_mm + spread_change_mm(&self.motion, motion)?)
    }
}

/// How a cut went before the change.
pub(super) struct KnownCut<'k> {
    moment: Moment<'k>,
    motion: CutMotion,
    bodies: Vec<Standing<'k>>,
    stood: &'k Stood<'k>,
}

impl<'k> KnownCut<'k> {
    pub(super) fn new(moment: Moment<'k>, motion: CutMotion, stood: &'k Stood<'k>) -> Self {
        let mut bodies = moment.around.clone();
        bodies.push(moment.own_before.clone());
        Self {
            moment,
            motion,
            bodies,
            stood,
        }
    }

    fn judge(&self) -> &'k Judge<'k> {
        self.stood.before.judge
    }

    /// Whether what may enter the own part is the same, and how far.
    pub(super) fn is_like(&self, moment: &Moment<'_>) -> bool {
        let (old, new) = (self.moment.tool, moment.tool);
        let corridors = |tool| FOLLOWING.map(|element| corridor_mm(tool, element));
        old.flutes == new.flutes && corridors(old) == corridors(new)
    }

    /// The same element in the same sweep before the change, with all bodies of the moment.
    pub(super) fn was(
        &self,
        sweep_index: usize,
        sweep: &Sweep,
        element: &ToolElement,
    ) -> Option<Was<'_>> {
        let old_sweep = self.motion.sweeps.get(sweep_index)?;
        let elements = &self.judge().elements[self.moment.cut.tool];
        let same = |old: &&ToolElement| old.element == element.element && old.name == element.name;
        let old = elements.iter().find(same)?;
        if old_sweep.phase != sweep.phase || old_sweep.allowance_mm != sweep.allowance_mm {
            return None;
        }
        let (mover, motion) = self.judge().swept(&self.moment, old_sweep, old);
        Some(Was {
            mover,
            motion,
            bodies: &self.bodies,
            stood: self.stood,
        })
    }

    /// The same sweep before the change against base, with work and bed as they stood.
    pub(super) fn base(&self, sweep_index: usize, sweep: &Sweep) -> Option<KnownMove<'_>> {
        let old_sweep = self.motion.sweeps.get(sweep_index)?;
        if old_sweep.phase != sweep.phase || old_sweep.allowance_mm != sweep.allowance_mm {
            return None;
        }
        Some(KnownMove {
            tips: self.judge().tips_round(&self.moment, old_sweep),
            bodies: self.bodies.clone(),
            base: self.judge().base_standing(),
            turn: None,
            stood: self.stood,
        })
    }

    /// Whether nothing has changed between a mover and its own part.
    pub(super) fn own_is_same(
        &self,
        was: &Was<'_>,
        moment: &Moment<'_>,
        mover: &Mover<'_>,
        motion: &Motion,
    ) -> bool {
        let (old, new) = (&self.moment, moment);
        let pairs = [
            (&old.own_before, &new.own_before),
            (&old.own_after, &new.own_after),
            (&old.own_last, &new.own_last),
        ];
        let same = |(old, new): (&Standing<'_>, &Standing<'_>)| was.same(mover, motion, old, new);
        pairs.into_iter().all(same)
    }
}

/// How the tool group stood in an index move or at a tool change before the setup was changed.
pub(super) struct KnownMove<'k> {
    pub(super) tips: Vec<Point3<f64>>,
    pub(super) bodies: Vec<Standing<'k>>,
    pub(super) base: Vec<Standing<'k>>,
    pub(super) turn: Option<Turn>,
    pub(super) stood: &'k Stood<'k>,
}

impl<'k> KnownMove<'k> {
    pub(super) fn judge(&self) -> &'k Judge<'k> {
        self.stood.before.judge
    }

    /// The same element before the change, with all bodies.
    pub(super) fn was(&self, tool: usize, index: usize, element: &ToolElement) -> Option<Was<'_>> {
        let old = self.judge().elements[tool].get(index)?;
        if (old.element, &old.name) != (element.element, &element.name) {
            return None;
        }
        let turn = self.turn.as_ref();
        let (mover, motion) = self.judge().spread_element(old, &self.tips, turn);
        Some(Was {
            mover,
            motion,
            bodies: &self.bodies,
            stood: self.stood,
        })
    }
}

impl KnownMove<'_> {
    /// The same element in machine coordinates, against base.
    pub(super) fn was_in_machine(
        &self,
        tool: usize,
        index: usize,
        element: &ToolElement,
    ) -> Option<Was<'_>> {
        let old = self.judge().elements[tool].get(index)?;
        if (old.element, &old.name) != (element.element, &element.name) {
            return None;
        }
        let (mover, motion) = self.judge().element_in_machine(old, tool, &self.tips);
        Some(self.against_base(mover, motion))
    }

    /// The same body of work or bed in machine coordinates, against base. Its number says which: a
    /// change leaves the order of the bodies as it is.
    pub(super) fn was_on_table(&self, index: usize, motion: &Motion) -> Option<Was<'_>> {
        let old = self.bodies.get(index)?;
        Some(self.against_base(on_table(old), motion.clone()))
    }

    fn against_base<'k>(&'k self, mover: Mover<'k>, motion: Motion) -> Was<'k> {
        Was {
            mover,
            motion,
            bodies: &self.base,
            stood: self.stood,
        }
    }
}

/// The shift from one pose to the other; `None` where they are turned against one another.
fn shift_of(old: &Placed, new: &Placed) -> Option<Vec3> {
    let turned = |old: &Pose, new: &Pose| (old.rotation.matrix() - new.rotation.matrix()).amax();
    let (old, new) = (&old.common_from_body, &new.common_from_body);
    (turned(old, new) <= TURNED).then(|| new.translation.vector - old.translation.vector)
}

/// By how much the corners of the spread, and its disc, differ at most.
fn spread_change_mm(old: &Motion, new: &Motion) -> Option<f64> {
    let (old, new) = (&old.spread, &new.spread);
    let alike = old.offsets_mm.len() == new.offsets_mm.len()
        && new.disc_radius_mm <= old.disc_radius_mm
        && (new.disc_radius_mm == 0.0 || old.disc_normal == new.disc_normal);
    let pairs = old.offsets_mm.iter().zip(&new.offsets_mm);
    let farthest_mm = pairs
        .map(|(old, new)| (new - old).norm())
        .fold(0.0, f64::max);
    alike.then_some(farthest_mm)
}

fn same_turn(new: Option<&Turn>, old: Option<&Turn>) -> bool {
    match (new, old) {
        (None, None) => true,
        (Some(new), Some(old)) => new == old,
        _ => false,
    }
}

/// Whether a shape is the same as another, or lies within it piece by piece.
fn within(inner: &Shape, outer: &Shape) -> bool {
    match (inner, outer) {
        (Shape::Mesh(inner), Shape::Mesh(outer)) => Arc::ptr_eq(inner, outer),
        (Shape::Revolved(inner), Shape::Revolved(outer)) => {
            inner.pieces().len() == outer.pieces().len()
                && inner
                    .pieces()
                    .iter()
                    .zip(outer.pieces())
                    .all(|(inner, outer)| {
                        let (rings, hull) = (inner.rings(), outer.rings());
                        rings.iter().all(|ring| ring_within(ring, hull))
                    })
        }
        _ => false,
    }
}

/// Whether a ring lies in the hull of others: no wider than one of them at the same height with the
/// same ball, or than the straight line from one to the next (both without a ball).
fn ring_within(ring: &Ring, hull: &[Ring]) -> bool {
    let below = |outer: &Ring| {
        ring.height_mm == outer.height_mm
            && ring.ball_mm == outer.ball_mm
            && ring.radius_mm <= outer.radius_mm
    };
    let beside = |pair: &[Ring]| {
        let (low, high) = if pair[0].height_mm <= pair[1].height_mm {
            (pair[0], pair[1])
        } else {
            (pair[1], pair[0])
        };
        let rise_mm = high.height_mm - low.height_mm;
        let share = (ring.height_mm - low.height_mm) / rise_mm;
        let plain = low.ball_mm == 0.0 && high.ball_mm == 0.0 && ring.ball_mm == 0.0;
        let line_mm = low.radius_mm + share * (high.radius_mm - low.radius_mm);
        // A ring put on a slanted line stands beside it by the rounding of a division.
        plain && (0.0..=1.0).contains(&share) && ring.radius_mm <= line_mm + 1e-12
    };
    hull.iter().any(below) || hull.windows(2).any(beside)
}

impl<'s> Judge<'s> {
    /// What was found at a site before the change; `None` where there is none, or not all of the
    /// site was judged.
    pub(super) fn stood_before(&self, site: Site) -> Option<Stood<'s>> {
        self.before?.stood(site)
    }
}
