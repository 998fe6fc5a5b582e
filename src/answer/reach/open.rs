//! Intervals of angle, halved level by level until each is settled.
//!
//! Pieces of the surface are cut along the edge of what is reached, as near to it as the angle allows: what is
//! undecided there then shrinks with the interval, and the number of pieces hardly grows.

use super::bands::BandQuestion;
use super::cells::Cell;
use super::model::Bands;
use super::patch::{Edge, Patch};
use super::place::{Kind, Place};
use crate::gap::{CannotAsk, Witness};
use rayon::prelude::*;
use std::sync::atomic::Ordering;

/// An interval no wider than this share of what is asked for is not halved, where the undecided ones about it
/// are no wider together than what is asked for,
const FINE_OF_ASKED: f64 = 0.125;

/// nor one no wider than this, ever.
const FINEST_OF_ASKED: f64 = 1.0 / 64.0;

/// A piece of which no edge is known is halved where it is larger than this many times what the angle moves.
const CELL_TO_MOVE: f64 = 4.0;

/// Nothing would tell more: a cell of which this was found at so many angles, one after the other, is
/// given up.
const HOPELESS: u8 = 2;

/// So many questions about pieces of a face, for ends of bands to 0.01 degree.
const QUESTIONS: f64 = 2e6;

/// How many questions there may be about one face: the coarser the ends are wanted, the fewer.
fn questions(to_deg: f64) -> u64 {
    (QUESTIONS * (0.01 / to_deg).powf(0.25).min(1.0)) as u64
}

/// A piece that is neither free nor stopped so far, with what is proved of it: that holds for its pieces and
/// for narrower intervals too, and is not asked again.
#[derive(Clone)]
pub struct Open {
    pub patch: Patch,
    /// A bit for each element and kind of body that keeps its gap, and one for travel.
    pub proved: u64,
    /// At how many angles, one after the other, nothing would have told more.
    pub hopeless: u8,
}

impl Open {
    fn pieces(self, cut: impl Fn(&Patch) -> Vec<Patch>) -> impl Iterator<Item = Self> {
        let Self {
            patch,
            proved,
            hopeless,
        } = self;
        cut(&patch).into_iter().map(move |patch| Self {
            patch,
            proved,
            hopeless,
        })
    }
}

/// A cell over an interval of angle.
pub enum Over {
    Free,
    Stopped,
    /// Pieces on either side of the edge tell more.
    Cut(Edge),
    Mixed(Next),
}

/// What would tell more of a cell; the later, the less.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Next {
    /// Smaller cells.
    Smaller,
    /// Narrower intervals.
    Narrower,
    /// Neither: at the middle of the interval as narrow a one as there is would leave it open.
    Nothing,
}

impl Next {
    /// Smaller cells, unless the angle moves what they meet farther than they are large.
    pub fn smaller(patch: &Patch, moved_mm: f64) -> Self {
        if patch.longest_mm() < CELL_TO_MOVE * moved_mm {
            Self::Narrower
        } else {
            Self::Smaller
        }
    }
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

/// For each element and kind of body the nearest pairs of the last questions, of growing and of
/// shrinking, each with the plane of its cell: the next are alike.
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
#[derive(Clone, Copy, PartialEq)]
enum Settled {
    Reached,
    Stopped,
    Undecided,
}

impl Found {
    /// What the areas so far settle.
    fn settled(&self, from_share: f64) -> Option<Settled> {
        let wanted_mm2 = from_share * self.area_mm2 * (1.0 - 1e-9);
        if self.free_mm2 >= wanted_mm2 {
            Some(Settled::Reached)
        } else if self.area_mm2 - self.stopped_mm2 < wanted_mm2 {
            Some(Settled::Stopped)
        } else if self.area_mm2 - self.stopped_mm2 - self.given_up_mm2 < wanted_mm2
            && self.free_mm2 + self.given_up_mm2 >= wanted_mm2
        {
            // With what was given up the share would be reached, without it not.
            Some(Settled::Undecided)
        } else {
            None
        }
    }
}

/// An interval that is not settled yet.
#[derive(Clone)]
struct Interval {
    ends_deg: [f64; 2],
    open: Vec<Open>,
    found: Found,
    hints: Vec<Hints>,
}

impl BandQuestion<'_> {
    /// The bands between the first and the last of some ends of intervals. `found` has the area of all cells.
    pub(super) fn settled(
        &self,
        ends_deg: &[f64],
        cells: &[Cell],
        found: Found,
    ) -> Result<Bands, CannotAsk> {
        let open = |cell: &Cell| Open {
            patch: Patch::from(cell),
            proved: 0,
            hopeless: 0,
        };
        let first = |ends: &[f64]| Interval {
            ends_deg: [ends[0], ends[1]],
            open: cells.iter().map(open).collect(),
            found,
            hints: vec![[None; 2]; self.ready.elements.len() * KINDS],
        };
        let mut level: Vec<Interval> = ends_deg.windows(2).map(first).collect();
        let mut left = questions(self.to_deg);
        let mut all = Vec::new();
        while !level.is_empty() {
            // The same for each, whichever thread comes first.
            let each = left / level.len() as u64;
            let asked: Vec<(Interval, Option<Settled>, u64)> = level
                .into_par_iter()
                .map(|mut interval| {
                    let mut questions = each;
                    let settled = self.ask_over(&mut interval, &mut questions)?;
                    Ok((interval, settled, each - questions))
                })
                .collect::<Result<_, CannotAsk>>()?;
            let mut open: Vec<Interval> = Vec::new();
            for (interval, settled, used) in asked {
                left -= used;
                match settled {
                    Some(settled) => all.push((interval.ends_deg, settled)),
                    None => open.push(interval),
                }
            }
            level = Vec::new();
            let touch = |a: &Interval, b: &Interval| a.ends_deg[1] == b.ends_deg[0];
            for run in open.chunk_by(touch) {
                if self.is_fine(run) {
                    all.extend(run.iter().map(|open| (open.ends_deg, Settled::Undecided)));
                } else {
                    level.extend(run.iter().cloned().flat_map(Interval::halves));
                }
            }
        }
        all.sort_by(|a, b| a.0[0].total_cmp(&b.0[0]));
        let mut bands = Bands::default();
        for ([low_deg, high_deg], settled) in all {
            match settled {
                Settled::Reached => bands.free(low_deg, high_deg),
                Settled::Undecided => bands.undecided(low_deg, high_deg),
                Settled::Stopped => {}
            }
        }
        Ok(bands)
    }

    /// Asks the open cells of an interval; `None` where its halves may tell more.
    fn ask_over(
        &self,
        interval: &mut Interval,
        questions: &mut u64,
    ) -> Result<Option<Settled>, CannotAsk> {
        if self.stop.load(Ordering::Relaxed) {
            return Ok(Some(Settled::Undecided));
        }
        let place = Place::new(self, interval.ends_deg)?;
        let mut open = std::mem::take(&mut interval.open);
        while let Some(mut asked) = open.pop() {
            *questions = questions.saturating_sub(1);
            if *questions == 0 {
                return Ok(Some(Settled::Undecided));
            }
            let found = &mut interval.found;
            let area_mm2 = asked.patch.area_mm2();
            match self.over(&mut asked, &place, &mut interval.hints)? {
                Over::Free => found.free_mm2 += area_mm2,
                Over::Stopped => found.stopped_mm2 += area_mm2,
                Over::Cut(edge) => {
                    open.extend(asked.pieces(|patch| patch.cut(&edge, &place.part[1])));
                    continue;
                }
                Over::Mixed(Next::Smaller) => {
                    open.extend(asked.pieces(Patch::halved));
                    continue;
                }
                Over::Mixed(Next::Nothing) if asked.hopeless + 1 >= HOPELESS => {
                    found.given_up_mm2 += area_mm2;
                }
                Over::Mixed(next) => {
                    asked.hopeless = if next == Next::Nothing {
                        asked.hopeless + 1
                    } else {
                        0
                    };
                    interval.open.push(asked);
                    continue;
                }
            }
            let settled = found.settled(self.from_share);
            if settled.is_some() {
                return Ok(settled);
            }
        }
        Ok(interval.open.is_empty().then_some(Settled::Undecided))
    }

    /// Whether intervals, one beside the other, need not be halved.
    fn is_fine(&self, run: &[Interval]) -> bool {
        let [widest_deg, all_deg] = run.iter().fold([0.0, 0.0], |[widest, all], interval| {
            let wide_deg = interval.ends_deg[1] - interval.ends_deg[0];
            [f64::max(widest, wide_deg), all + wide_deg]
        });
        let enough = if all_deg <= self.to_deg {
            FINE_OF_ASKED * self.to_deg
        } else {
            self.finest_deg()
        };
        widest_deg <= enough
    }

    /// No interval becomes narrower than half of this.
    pub(super) fn finest_deg(&self) -> f64 {
        self.to_deg * FINEST_OF_ASKED
    }
}

impl Interval {
    fn halves(self) -> [Self; 2] {
        let [low_deg, high_deg] = self.ends_deg;
        let middle_deg = (low_deg + high_deg) * 0.5;
        let first = Self {
            ends_deg: [low_deg, middle_deg],
            ..self.clone()
        };
        let second = Self {
            ends_deg: [middle_deg, high_deg],
            ..self
        };
        [first, second]
    }
}
