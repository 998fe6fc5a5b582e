//! Cells that are open over an interval of angle, what is proved of them, and areas so far.

use super::cells::Cell;
use super::model::Bands;
use super::place::Kind;
use crate::gap::Witness;

/// A cell that is neither free nor stopped so far, with what is proved of it: that holds for its pieces and
/// for narrower intervals too, and is not asked again.
#[derive(Clone)]
pub struct Open {
    pub cell: Cell,
    /// A bit for each element and kind of body that keeps its gap, and one for travel.
    pub proved: u64,
}

/// How many kinds of bodies there are.
pub const KINDS: usize = 3;

/// The bit of travel; the others come after it.
pub const TRAVEL: u64 = 1;

/// The bit of an element and a kind of body: none beyond 63 of them, which are asked every time.
pub fn bit(element: usize, kind: Kind) -> u64 {
    let number = 1 + KINDS * element + kind as usize;
    u32::try_from(number).map_or(0, |number| 1_u64.checked_shl(number).unwrap_or(0))
}

/// An interval while it is asked.
pub struct Piece {
    pub bands: Bands,
    /// For each element and kind of body the nearest pairs of the last questions; the next are alike.
    pub hints: Vec<Hints>,
}

/// Of growing and of shrinking, each with the plane of its cell.
pub type Hints = [Option<(u32, Witness)>; 2];

/// Areas over an interval so far.
#[derive(Debug, Clone, Copy, Default)]
pub struct Found {
    pub area_mm2: f64,
    pub free_mm2: f64,
    pub stopped_mm2: f64,
    /// Neither, and not asked again.
    pub given_up_mm2: f64,
}

/// What holds for a whole interval, whatever the cells that are not decided yet turn out to be.
pub enum Settled {
    Reached,
    Stopped,
    Undecided,
}

impl Found {
    /// What the areas so far settle.
    pub fn settled(&self, from_share: f64) -> Option<Settled> {
        let wanted_mm2 = from_share * self.area_mm2 * (1.0 - 1e-9);
        let not_stopped_mm2 = self.area_mm2 - self.stopped_mm2;
        if self.free_mm2 >= wanted_mm2 {
            Some(Settled::Reached)
        } else if not_stopped_mm2 < wanted_mm2 {
            Some(Settled::Stopped)
        } else if not_stopped_mm2 - self.given_up_mm2 < wanted_mm2
            && self.free_mm2 + self.given_up_mm2 >= wanted_mm2
        {
            // With what was given up the share would be reached, without it not.
            Some(Settled::Undecided)
        } else {
            None
        }
    }
}
