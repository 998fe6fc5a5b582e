//! The same overlap at full depth: of moments that are equally deep, the one where a cut ends.

use super::CheckError;
use super::judge::CutJudgement;
use super::measure::measure;
use super::model::{Measured, Phase};
use super::sweep::Sweep;
use super::trial::Trial;
use super::violation::{Site, Violation};
use crate::answer::scene::Scene;
use crate::setup::model::Setup;
use crate::value::Vec3;
use nalgebra::Point3;

/// Tips this near to one another are one.
const SAME_MM: f64 = 1e-9;

impl Trial<'_> {
    /// The gap of a violation's two bodies at rest, in a changed setup, with the tip of a measured
    /// place straight down at the deepest tip of the cut.
    ///
    /// # Guarantees
    /// That tip is one of the cut's: `None` where that does not follow from the form of its sets, and
    /// for all that is no cut into another body's room.
    pub(super) fn at_full_depth(
        &self,
        setup: &Setup,
        violation: &Violation,
        parted: &Measured,
    ) -> Result<Option<Measured>, CheckError> {
        let (Site::Cut(job), Some(body), Some(place)) =
            (violation.site, violation.body, parted.place)
        else {
            return Ok(None);
        };
        let (Some(tip_mm), Some(index_deg)) = (place.tip_mm, job.index_deg) else {
            return Ok(None);
        };
        let scene = Scene::new(setup, self.judge.scene.store.clone())?;
        let mut judge = self.judge.trial(&scene)?;
        judge.decide_only = false;
        let turned = scene
            .kinematics
            .table_from_carrier(&setup.carrier, index_deg);
        let Some(table_from_carrier) = turned.filter(|_| parted.phase == Phase::Cut) else {
            return Ok(None);
        };
        let (others, own) = (judge.other_parts(&job)?, judge.own_parts(&job)?);
        let moment = judge.moment(&job, table_from_carrier, &others, &own);
        let motion = judge.motion(&moment, &mut CutJudgement::default());
        let Some(low_mm) = floor_mm(&motion.sweeps) else {
            return Ok(None);
        };
        let mut tip = moment.table_from_feature.inverse() * Point3::from(tip_mm);
        tip.z = low_mm;
        let elements = judge.elements[moment.cut.tool].iter();
        let mut named = elements.filter(|element| element.name == parted.element_body);
        let mut around = moment.around.iter();
        let standing = around.find(|standing| standing.body.id == body);
        let (Some(element), Some(standing)) = (named.next(), standing) else {
            return Ok(None);
        };
        let rest = Sweep {
            phase: Phase::Cut,
            tips_mm: vec![tip.coords],
            disc_mm: 0.0,
            allowance_mm: 0.0,
        };
        let (mover, at_rest) = judge.swept(&moment, &rest, element);
        let asked = judge.asked(element.element, Phase::Cut);
        let bodies = std::slice::from_ref(standing);
        let found = measure(&mover, bodies, &at_rest, &asked)?.least;
        Ok(found.map(|found| moment.in_part(found.measured)))
    }
}

/// The height to which every tip of a cut goes straight down; `None` where not all do.
fn floor_mm(sweeps: &[Sweep]) -> Option<f64> {
    let cuts = || sweeps.iter().filter(|sweep| sweep.phase == Phase::Cut);
    let tips = cuts().flat_map(|sweep| &sweep.tips_mm);
    let low_mm = tips.map(|tip| tip.z).reduce(f64::min)?;
    let beneath = |sweep: &Sweep, tip: &Vec3| {
        let foot = Vec3::new(tip.x, tip.y, low_mm);
        let tips = &mut sweep.tips_mm.iter();
        tips.any(|other| (other - foot).norm() < SAME_MM)
    };
    let stands = |sweep: &Sweep| sweep.tips_mm.iter().all(|tip| beneath(sweep, tip));
    cuts().all(stands).then_some(low_mm)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cut(tips: &[[f64; 3]]) -> Sweep {
        Sweep {
            phase: Phase::Cut,
            tips_mm: tips.iter().map(|tip| Vec3::from(*tip)).collect(),
            disc_mm: 1.0,
            allowance_mm: 0.0,
        }
    }

    #[test]
    fn only_prisms_on_one_floor_have_one() {
        let hole = cut(&[[1.0, 2.0, 3.0], [1.0, 2.0, -20.0]]);
        assert_eq!(floor_mm(std::slice::from_ref(&hole)), Some(-20.0));
        let slanted = cut(&[[1.0, 2.0, 3.0], [4.0, 2.0, -20.0]]);
        assert_eq!(floor_mm(&[slanted]), None);
        let shallow = cut(&[[5.0, 2.0, 3.0], [5.0, 2.0, -4.0]]);
        assert_eq!(floor_mm(&[hole, shallow]), None);
        assert_eq!(floor_mm(&[]), None);
    }
}
