//! What of the cutter may enter the part it cuts: flutes down to the finished form, and neck and
//! shank in the corridor behind them.

use super::erode::eroded;
use super::judge::{CutJudgement, Judge};
use super::measure::{Asked, Mover, Standing, apart, measure};
use super::model::{Element, Measured, Phase, TroubleKind, Verdict};
use super::moment::Moment;
use super::sweep::Sweep;
use super::violation::{Other, Site, Violation};
use crate::answer::scene::revolved;
use crate::gap::{CannotAsk, Motion, Placed, Shape};
use crate::setup::model::{Profile, Tool};
use std::sync::Arc;

/// What may follow the flutes.
pub const FOLLOWING: [Element; 2] = [Element::Neck, Element::Shank];

/// Difference of the radii of the flutes and what follows them; `None` where that is the wider, or follows
/// nothing.
#[must_use]
pub fn corridor_mm(tool: &Tool, element: Element) -> Option<f64> {
    let follower = match element {
        Element::Neck => &tool.neck,
        Element::Shank => &tool.shank,
        _ => return None,
    };
    let widest = |profile: &Profile| {
        let rings = profile.pieces.iter().flat_map(|piece| &piece.rings);
        rings
            .map(|ring| ring.radius_mm + ring.ball_mm)
            .fold(0.0, f64::max)
    };
    let difference_mm = widest(&tool.flutes) - widest(follower);
    (difference_mm >= -1e-9).then_some(difference_mm.max(0.0))
}

/// The one of two with the smaller gap.
fn nearer(a: Option<Measured>, b: Option<Measured>) -> Option<Measured> {
    match (a, b) {
        (Some(a), Some(b)) if b.gap.lo_mm < a.gap.lo_mm => Some(b),
        (a, b) => a.or(b),
    }
}

impl Judge<'_> {
    /// Whether an element may enter the part's own stock while it cuts: flutes, and a neck or shank no
    /// wider than the flutes, in the corridor that they have swept.
    pub(super) fn may_enter(&self, moment: &Moment<'_>, element: Element) -> bool {
        element == Element::Flutes || corridor_mm(moment.tool, element).is_some()
    }

    /// Flutes against the finished part, and a following neck or shank against the part after the cut.
    pub(super) fn own_contact(
        &self,
        moment: &Moment<'_>,
        sweep: &Sweep,
        mover: &Mover<'_>,
        swept: &Motion,
        judgement: &mut CutJudgement,
    ) -> Result<(), CannotAsk> {
        let (profile, standing) = match mover.element {
            Element::Flutes => (&moment.tool.flutes, &moment.own_last),
            Element::Neck => (&moment.tool.neck, &moment.own_after),
            _ => (&moment.tool.shank, &moment.own_after),
        };
        let gouge_mm = self.gouge_mm(standing, sweep);
        let asked = self.asked(mover.element, sweep.phase);
        let follows = mover.element != Element::Flutes;
        let Some(core) = eroded(profile, gouge_mm) else {
            if follows {
                // Without a core its gap decides: contact is a trouble still, never clear.
                return self.follow(moment, sweep, mover, swept, judgement);
            }
            let coarse = self.too_coarse(moment, mover, standing, swept)?;
            judgement.violations.push(coarse);
            return Ok(());
        };
        let core = Placed {
            shape: Shape::Revolved(Arc::new(revolved(&core)?)),
            common_from_body: mover.placed.common_from_body,
        };
        let core_apart = apart(&core, &standing.placed, swept, &asked)?;
        let thread_mm = if core_apart == Some(true) || follows {
            None
        } else {
            self.thread_mm(moment, sweep, mover, swept, gouge_mm)?
        };
        if thread_mm.is_some() {
            judgement.thread_mm = thread_mm;
        } else if core_apart != Some(true) {
            let kind = if core_apart.is_none() {
                TroubleKind::Undecided
            } else if follows {
                TroubleKind::Clash
            } else {
                TroubleKind::Gouge
            };
            let verdict = if core_apart.is_none() {
                Verdict::Unknown
            } else {
                Verdict::Clash
            };
            let violation = self.own_violation(moment, mover, standing, kind, verdict, swept)?;
            judgement.violations.push(violation);
        } else if self.focus.is_some_and(|focus| focus.body.is_some()) && !self.decide_only {
            let core = Mover {
                placed: core,
                ..mover.clone()
            };
            let found = measure(&core, std::slice::from_ref(standing), swept, &asked)?.least;
            let measured = found.map(|found| moment.in_part(found.measured));
            judgement.least = nearer(judgement.least.take(), measured);
        } else if follows {
            self.follow(moment, sweep, mover, swept, judgement)?;
        }
        Ok(())
    }

    /// Nothing can be told of a cutter within a mesh that is coarser than it.
    fn too_coarse(
        &self,
        moment: &Moment<'_>,
        mover: &Mover<'_>,
        standing: &Standing<'_>,
        swept: &Motion,
    ) -> Result<Violation, CannotAsk> {
        let (kind, verdict) = (TroubleKind::Undecided, Verdict::Unknown);
        let mut violation = self.own_violation(moment, mover, standing, kind, verdict, swept)?;
        violation.note = Some(
            "the chord allowance of the part's mesh is larger than the cutter: \
             give a finer mesh"
                .to_owned(),
        );
        Ok(violation)
    }

    /// How deep a cutter may seem to stand in a surface that it truly touches.
    fn gouge_mm(&self, standing: &Standing<'_>, sweep: &Sweep) -> f64 {
        self.scene.setup.gouge_mm + standing.body.gouge_chord_mm + sweep.allowance_mm
    }

    /// A following neck or shank that is out of the material: does it rub, and by how much does it follow.
    fn follow(
        &self,
        moment: &Moment<'_>,
        sweep: &Sweep,
        mover: &Mover<'_>,
        swept: &Motion,
        judgement: &mut CutJudgement,
    ) -> Result<(), CannotAsk> {
        // How large the gap is decides, not only whether the wanted one is kept.
        let asked = Asked {
            decide_only: false,
            ..self.asked(mover.element, sweep.phase)
        };
        let standing = std::slice::from_ref(&moment.own_after);
        let measurement = measure(mover, standing, swept, &asked)?;
        let Some(found) = measurement
            .least
            .filter(|_| !measurement.violations.is_empty())
        else {
            return Ok(());
        };
        let difference_mm = corridor_mm(moment.tool, mover.element).unwrap_or(0.0);
        let gouge_mm = self.gouge_mm(&moment.own_after, sweep);
        if difference_mm > gouge_mm {
            // Nearer than the flutes' own wall: not in the corridor, so the wanted gap holds.
            if found.measured.gap.lo_mm < difference_mm - gouge_mm {
                let measured = moment.in_part(found.measured);
                judgement
                    .violations
                    .push(self.gap_violation(moment, measured, found.body));
            } else {
                let told_mm = judgement.corridor_mm.unwrap_or(difference_mm);
                judgement.corridor_mm = Some(told_mm.min(difference_mm));
            }
            return Ok(());
        }
        if found.measured.gap.lo_mm > gouge_mm {
            let measured = moment.in_part(found.measured);
            let violation = self.gap_violation(moment, measured, found.body);
            judgement.violations.push(violation);
            return Ok(());
        }
        let kind = TroubleKind::Rubs;
        let verdict = Verdict::Close;
        let violation =
            self.own_violation(moment, mover, &moment.own_after, kind, verdict, swept)?;
        judgement.violations.push(violation);
        Ok(())
    }

    fn own_violation(
        &self,
        moment: &Moment<'_>,
        mover: &Mover<'_>,
        standing: &Standing<'_>,
        kind: TroubleKind,
        verdict: Verdict,
        swept: &Motion,
    ) -> Result<Violation, CannotAsk> {
        let asked = self.asked(mover.element, Phase::Cut);
        let found = measure(mover, std::slice::from_ref(standing), swept, &asked)?.least;
        let mut violation = Violation::plain(kind, verdict, Site::Cut(moment.job));
        violation.phase = Some(Phase::Cut);
        violation.element = Some(mover.element);
        violation.other = Some(Other::OwnPart);
        violation.body = Some(standing.body.id);
        violation.measured = found.map(|found| {
            let mut measured = moment.in_part(found.measured);
            measured.verdict = verdict;
            measured
        });
        Ok(violation)
    }
}
