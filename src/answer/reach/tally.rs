//! Areas by face and reason, and the shares made of them.

use super::cells::Cell;
use super::model::{IndexReach, Reason, ReasonShare, Share};
use std::collections::BTreeMap;

/// A share below this is rounding.
const SHARE_GRAIN: f64 = 1e-9;

/// Areas of one face.
#[derive(Debug, Clone, Default)]
pub struct FaceTally {
    /// Surely reached.
    pub certain_mm2: f64,
    /// Undecided.
    pub undecided_mm2: f64,
    /// Not reached, by reason.
    pub not_mm2: BTreeMap<Reason, f64>,
}

/// Areas of all faces of a part, for one tool, seat and index.
#[derive(Debug, Clone)]
pub struct Tally(pub Vec<FaceTally>);

impl Tally {
    /// Nothing counted yet.
    #[must_use]
    pub fn new(faces: usize) -> Self {
        Self(vec![FaceTally::default(); faces])
    }

    /// Counts cells that are reached.
    pub fn certain(&mut self, cells: &[Cell]) {
        for cell in cells {
            self.0[cell.face as usize].certain_mm2 += cell.area_mm2();
        }
    }

    /// Counts cells that are undecided.
    pub fn undecided(&mut self, cells: &[Cell]) {
        for cell in cells {
            self.0[cell.face as usize].undecided_mm2 += cell.area_mm2();
        }
    }

    /// Counts a cell that is not reached.
    pub fn not(&mut self, cell: &Cell, reason: &Reason) {
        let not = &mut self.0[cell.face as usize].not_mm2;
        match not.get_mut(reason) {
            Some(area_mm2) => *area_mm2 += cell.area_mm2(),
            None => {
                not.insert(reason.clone(), cell.area_mm2());
            }
        }
    }
}

impl FaceTally {
    /// As shares of the face's area.
    ///
    /// The certain share is never rounded up: what the sum of areas lacks for rounding is
    /// nobody's, and shares are cut at 1.
    #[must_use]
    pub fn shares(&self, area_mm2: f64, index_deg: f64) -> IndexReach {
        let share = |part_mm2: f64| {
            let share = (part_mm2 / area_mm2).clamp(0.0, 1.0);
            if share < SHARE_GRAIN { 0.0 } else { share }
        };
        let mut reasons: Vec<ReasonShare> = self
            .not_mm2
            .iter()
            .map(|(reason, part_mm2)| ReasonShare {
                reason: reason.clone(),
                share: share(*part_mm2),
            })
            .collect();
        reasons.sort_by(|a, b| b.share.total_cmp(&a.share));
        IndexReach {
            index_deg,
            share: Share {
                certain: share(self.certain_mm2),
                undecided: share(self.undecided_mm2),
            },
            reasons,
        }
    }
}
