//! Travel of the linear axes over a cut.

use super::judge::{CutJudgement, Judge};
use super::model::{AxisUse, TroubleKind, Verdict};
use super::moment::Moment;
use super::sweep::CutMotion;
use super::violation::{Site, Violation};
use crate::setup::model::LinearAxis;
use nalgebra::Point3;

/// Axis positions this little beyond a limit count as on it.
const TRAVEL_GRAIN_MM: f64 = 1e-6;

impl Judge<'_> {
    /// Where the axes go in a cut, where it leaves them, and which of them ends too early.
    pub(super) fn travel(
        &self,
        moment: &Moment<'_>,
        motion: &CutMotion,
        judgement: &mut CutJudgement,
    ) {
        let kinematics = &self.scene.kinematics;
        let per_disc = kinematics.positions_per_disc();
        let nowhere = [[f64::INFINITY, f64::NEG_INFINITY]; 3];
        let (mut ranges, mut left) = (nowhere, nowhere);
        let travel_mm = judgement
            .planes
            .map_or(f64::INFINITY, |planes| planes.travel_mm);
        for sweep in &motion.sweeps {
            for tip in &sweep.tips_mm {
                let at_top = tip.z >= travel_mm - TRAVEL_GRAIN_MM;
                let tip = moment.table_from_feature * Point3::from(*tip);
                let positions = kinematics.positions_mm(tip, moment.tool.gauge_length_mm);
                for axis in 0..3 {
                    let disc_mm = sweep.disc_mm * per_disc[axis];
                    let here = [positions[axis] - disc_mm, positions[axis] + disc_mm];
                    ranges[axis] = wider(ranges[axis], here);
                    if at_top {
                        left[axis] = wider(left[axis], here);
                    }
                }
            }
        }
        if motion.sweeps.is_empty() {
            return;
        }
        judgement.left = Some(left);
        for (axis, range) in ranges.into_iter().enumerate() {
            let used = axis_use(&kinematics.axes()[axis], range);
            if used.spare_mm < -TRAVEL_GRAIN_MM {
                let kind = TroubleKind::ShortOfTravel;
                let site = Site::Cut(moment.job);
                let mut violation = Violation::plain(kind, Verdict::Clash, site);
                violation.axis = Some(axis);
                violation.amount_mm = Some(-used.spare_mm);
                judgement.violations.push(violation);
            }
            judgement.travel.push(used);
        }
    }
}

fn wider(range: [f64; 2], more: [f64; 2]) -> [f64; 2] {
    [range[0].min(more[0]), range[1].max(more[1])]
}

/// Travel of an axis against its limits.
#[must_use]
pub fn axis_use(axis: &LinearAxis, range_mm: [f64; 2]) -> AxisUse {
    let [low_mm, high_mm] = range_mm;
    AxisUse {
        axis: axis.name.clone(),
        low_mm,
        high_mm,
        limit_low_mm: axis.low_mm,
        limit_high_mm: axis.high_mm,
        spare_mm: (low_mm - axis.low_mm).min(axis.high_mm - high_mm),
    }
}
