//! The course of a cut at a seat: its planes and its deepest tip, as the judge has them.

use super::judge::Judge;
use super::model::{Element, Phase};
use super::plan::CutJob;
use super::sweep::{Planes, Sweep, motion_of};
use crate::answer::scene::Scene;
use crate::gap::CannotAsk;
use crate::value::{Pose, Vec3};
use nalgebra::Point3;
use std::sync::atomic::AtomicBool;

/// Where the tip goes in a cut at one seat and index.
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    /// The feature's frame at that index.
    pub table_from_feature: Pose,
    /// Planes above the feature's opening.
    pub planes: Planes,
    /// A deepest tip of the cut, in the table frame: in the middle of the set that it lies in.
    pub deep_tip: Point3<f64>,
    /// Elements that may enter the part's own stock below the feed plane.
    pub enters: Vec<Element>,
}

impl Course {
    /// The tip straight above another along the access direction, this high over the opening.
    #[must_use]
    pub fn above(&self, tip: Point3<f64>, height_mm: f64) -> Point3<f64> {
        let mut in_feature = self.table_from_feature.inverse() * tip;
        in_feature.z = height_mm;
        self.table_from_feature * in_feature
    }

    /// Whether a tip stands below the feed plane, where the cut is made.
    #[must_use]
    pub fn in_cut(&self, tip: Point3<f64>) -> bool {
        let height_mm = (self.table_from_feature.inverse() * tip).z;
        height_mm < self.planes.feed_mm - 1e-9
    }
}

/// The course of a cut at a seat, with the carrier at `index_deg`.
///
/// # Errors
/// `Ok(None)` where the rotary sense is not declared, the seat does not hold the cut's part, or
/// the cut has no path; a [`CannotAsk`] as [`Scene::new`].
pub fn course(
    scene: &Scene<'_>,
    cut: usize,
    seat: usize,
    index_deg: f64,
) -> Result<Option<Course>, CannotAsk> {
    let setup = scene.setup;
    if setup.seats[seat].part != Some(setup.cuts[cut].part) {
        return Ok(None);
    }
    let Some(table_from_carrier) = scene
        .kinematics
        .table_from_carrier(&setup.carrier, index_deg)
    else {
        return Ok(None);
    };
    let job = CutJob {
        cut,
        seat,
        index_deg: Some(index_deg),
    };
    // Nothing is measured here, so the tolerance and the stop have no part in it.
    let never = AtomicBool::new(false);
    let judge = Judge::new(scene, 1e-3, &never)?;
    let others = judge.other_parts(&job)?;
    let own = judge.own_parts(&job)?;
    let moment = judge.moment(&job, table_from_carrier, &others, &own);
    let planes = judge.planes(&moment);
    let motion = motion_of(moment.cut, moment.tool, planes, setup.wanted.flutes.rest_mm);
    let Some(deep) = deepest(&motion.sweeps) else {
        return Ok(None);
    };
    let all = [
        Element::Flutes,
        Element::Neck,
        Element::Shank,
        Element::Holder,
        Element::Nose,
        Element::Head,
    ];
    Ok(Some(Course {
        table_from_feature: moment.table_from_feature,
        planes,
        deep_tip: moment.table_from_feature * Point3::from(deep),
        enters: all
            .into_iter()
            .filter(|element| judge.may_enter(&moment, *element))
            .collect(),
    }))
}

/// The middle of the lowest tips of the lowest set.
fn deepest(sweeps: &[Sweep]) -> Option<Vec3> {
    let low = |sweep: &Sweep| {
        let heights = sweep.tips_mm.iter().map(|tip| tip.z);
        heights.fold(f64::INFINITY, f64::min)
    };
    let sweep = sweeps
        .iter()
        .filter(|sweep| sweep.phase == Phase::Cut && !sweep.tips_mm.is_empty())
        .min_by(|a, b| low(a).total_cmp(&low(b)))?;
    let low_mm = low(sweep);
    let lowest: Vec<Vec3> = sweep
        .tips_mm
        .iter()
        .copied()
        .filter(|tip| tip.z <= low_mm + 1e-9)
        .collect();
    Some(lowest.iter().sum::<Vec3>() / lowest.len() as f64)
}
