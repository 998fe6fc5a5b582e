//! A setup with one thing set otherwise: a gauge length, an index, the wanted gaps.

use super::retool::{stick_out_limits, with_stick_out};
use crate::setup::model::{Setup, Tool, WantedGap};

/// Shortest and longest gauge length that the holder allows (`None` where the cutter's overall
/// length is not known); see [`super::retool::stick_out_limits`].
#[must_use]
pub fn gauge_limits_mm(tool: &Tool) -> (f64, Option<f64>) {
    let above_stick_out_mm = tool.gauge_length_mm - tool.stick_out_mm;
    let limits = stick_out_limits(tool);
    (
        limits.least_mm + above_stick_out_mm,
        limits.most_mm.map(|most_mm| most_mm + above_stick_out_mm),
    )
}

/// What is set otherwise than in the job. Nothing: the job as it is.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Otherwise {
    /// Gauge lengths: index into the tools, length. The stick-out changes by as much.
    pub gauge_lengths_mm: Vec<(usize, f64)>,
    /// Rotary angles: index into the cuts, the angle at which the cut is to be made.
    pub indexes_deg: Vec<(usize, f64)>,
    /// Wanted gap at rest and along lines, for every element.
    pub wanted_rest_mm: Option<f64>,
    /// Wanted gap in index moves, for every element.
    pub wanted_index_mm: Option<f64>,
}

impl Otherwise {
    /// Whether it is the job as it is.
    #[must_use]
    pub fn is_nothing(&self) -> bool {
        *self == Self::default()
    }

    /// The setup with these changes.
    ///
    /// # Guarantees
    /// Entries that the setup does not have, lengths outside [`gauge_limits_mm`] and numbers that
    /// are not finite are left out; wanted gaps are never negative.
    #[must_use]
    pub fn applied(&self, setup: &Setup) -> Setup {
        let mut changed = setup.clone();
        for &(tool, length_mm) in &self.gauge_lengths_mm {
            let Some(slot) = changed.tools.get_mut(tool) else {
                continue;
            };
            let stick_out_mm = slot.stick_out_mm + (length_mm - slot.gauge_length_mm);
            let (low_mm, high_mm) = gauge_limits_mm(slot);
            let high_mm = high_mm.unwrap_or(f64::INFINITY);
            if (low_mm - 1e-9..=high_mm + 1e-9).contains(&length_mm) && stick_out_mm.is_finite() {
                *slot = with_stick_out(slot, stick_out_mm);
            }
        }
        for &(cut, index_deg) in &self.indexes_deg {
            if let Some(slot) = changed.cuts.get_mut(cut)
                && index_deg.is_finite()
            {
                slot.index_deg = Some(vec![index_deg]);
            }
        }
        let wanted = &mut changed.wanted;
        let all: [&mut WantedGap; 6] = [
            &mut wanted.flutes,
            &mut wanted.shank,
            &mut wanted.holder,
            &mut wanted.nose,
            &mut wanted.head,
            &mut wanted.work,
        ];
        for gap in all {
            let sound = |wanted: &f64| wanted.is_finite();
            if let Some(rest_mm) = self.wanted_rest_mm.filter(sound) {
                gap.rest_mm = rest_mm.max(0.0);
            }
            if let Some(index_mm) = self.wanted_index_mm.filter(sound) {
                gap.index_mm = index_mm.max(0.0);
            }
        }
        changed
    }
}
