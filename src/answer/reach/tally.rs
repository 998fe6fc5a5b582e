//! Areas by face and cause, and the shares made of them.

use super::cells::Cell;
use super::ground::Stop;
use super::model::Share;

/// A share below this is rounding.
const SHARE_GRAIN: f64 = 1e-9;

/// Why cells are not reached.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Cause {
    /// The surface looks away from the spindle.
    FacingAway,
    /// Another kind of tool makes such a face.
    NotMade,
    /// The own part stands over it.
    Undercut,
    /// The own part stops the flutes beside it.
    CutterTooLarge,
    /// The point of a drill stops at the bottom of the bore that it makes.
    PointMeetsBottom,
    /// By a body or an axis.
    Stopped(Stop),
}

/// Areas of one face.
#[derive(Debug, Clone, Default)]
pub struct FaceTally {
    /// Surely reached.
    pub certain_mm2: f64,
    /// Undecided.
    pub undecided_mm2: f64,
    /// Not reached, by cause.
    pub not_mm2: Vec<(Cause, f64)>,
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
    pub fn not(&mut self, cell: &Cell, cause: Cause) {
        let not = &mut self.0[cell.face as usize].not_mm2;
        match not.iter_mut().find(|(other, _)| *other == cause) {
            Some((_, area_mm2)) => *area_mm2 += cell.area_mm2(),
            None => not.push((cause, cell.area_mm2())),
        }
    }
}

impl FaceTally {
    /// The share reached, and the shares not reached by cause, the greatest first.
    ///
    /// The certain share is never rounded up: what the sum of areas lacks for rounding is
    /// nobody's, and shares are cut at 1.
    #[must_use]
    pub fn shares(&self, area_mm2: f64) -> (Share, Vec<(Cause, f64)>) {
        let share = |part_mm2: f64| {
            let share = (part_mm2 / area_mm2).clamp(0.0, 1.0);
            if share < SHARE_GRAIN { 0.0 } else { share }
        };
        let mut causes: Vec<(Cause, f64)> = self
            .not_mm2
            .iter()
            .map(|(cause, part_mm2)| (*cause, share(*part_mm2)))
            .filter(|(_, share)| *share > 0.0)
            .collect();
        causes.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
        let found = Share {
            certain: share(self.certain_mm2),
            undecided: share(self.undecided_mm2),
        };
        (found, causes)
    }
}
