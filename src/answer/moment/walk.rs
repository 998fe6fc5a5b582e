//! A motion walked piece by piece: the least gap over all that was walked, not at moments only.

use super::find::{Stood, entering};
use super::now::gap_over;
use super::{Moment, Own};
use crate::answer::check::model::Measured;
use crate::answer::scene::Scene;
use crate::gap::CannotAsk;
use nalgebra::Point3;
use std::sync::atomic::AtomicBool;

/// A motion between two instants during which all but one thing stays as at its begin.
#[derive(Debug, Clone, PartialEq)]
pub struct Stretch {
    /// Everything in its place, and what may enter the part that is cut: for the whole stretch.
    pub begin: Moment,
    /// What moves.
    pub way: Way,
}

/// What moves in a stretch.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Way {
    /// The tip, in a straight line to there (table frame).
    Straight(Point3<f64>),
    /// The carrier, counted through to this rotary angle.
    Turn {
        /// End.
        to_deg: f64,
    },
}

/// What of a motion has been walked, without a hole, and the least gap there.
///
/// # Guarantees
/// `least` is certified over all shares from `from` to `to`, as [`gap_over`] tells it.
#[derive(Debug, Clone, PartialEq)]
pub struct Walked {
    /// Share of the motion at which it begins.
    pub from: f64,
    /// Share at which it ends.
    pub to: f64,
    /// The least gap; `None` where there is nothing to measure.
    pub least: Option<Measured>,
}

impl Walked {
    /// Measures the stretches that lead from one share of a motion to another.
    ///
    /// # Errors
    /// As [`gap_over`].
    pub fn over(
        scene: &Scene<'_>,
        shares: [f64; 2],
        stretches: &[Stretch],
        stop: &AtomicBool,
    ) -> Result<Self, CannotAsk> {
        let mut least = None;
        for stretch in stretches {
            least = nearer(least, gap_over(scene, stretch, stop)?);
        }
        let [from, to] = shares;
        Ok(Self { from, to, least })
    }

    /// This, and what follows on it; `None` where the next does not begin where this one ends.
    #[must_use]
    pub fn then(self, next: Self) -> Option<Self> {
        (self.to.to_bits() == next.from.to_bits()).then(|| Self {
            from: self.from,
            to: next.to,
            least: nearer(self.least, next.least),
        })
    }
}

/// The one with the least room against what is wanted. Its upper value was really found, and no
/// lower value of the other is below its own: the bracket holds for both together.
fn nearer(one: Option<Measured>, other: Option<Measured>) -> Option<Measured> {
    let room_mm = |measured: &Measured| measured.gap.lo_mm - measured.wanted_mm;
    [one, other]
        .into_iter()
        .flatten()
        .min_by(|a, b| room_mm(a).total_cmp(&room_mm(b)))
}

impl Stood {
    /// The approach from one share (0 to 1) to another; in two where it passes the feed plane,
    /// below which flutes may enter the part.
    #[must_use]
    pub fn over_approach(&self, from: f64, to: f64) -> Vec<Stretch> {
        let (Some(approach), Some(begin), Some(end)) = (
            self.approach.as_ref(),
            self.on_approach(from),
            self.on_approach(to),
        ) else {
            return Vec::new();
        };
        let course = &approach.course;
        let stretch = |begin: Moment, to| Stretch {
            begin,
            way: Way::Straight(to),
        };
        if course.in_cut(begin.tip) == course.in_cut(end.tip) {
            return vec![stretch(begin, end.tip)];
        }
        let plane = course.above(end.tip, course.planes.feed_mm);
        // On the plane itself counts as above it; the other piece has what may enter below.
        let (low, high) = if course.in_cut(begin.tip) {
            (begin.tip, end.tip)
        } else {
            (end.tip, begin.tip)
        };
        let at = |tip, of| Moment {
            tip,
            own: self.seat.map(|seat| Own {
                seat,
                enters: entering(course, of),
            }),
            ..begin.clone()
        };
        vec![stretch(at(high, high), plane), stretch(at(plane, low), low)]
    }

    /// The index move from one share (0 to 1) to another.
    #[must_use]
    pub fn over_turn(&self, from: f64, to: f64) -> Vec<Stretch> {
        let ends = self.on_turn(from).zip(self.on_turn(to));
        let stretch = |(begin, end): (Moment, Moment)| Stretch {
            begin,
            way: Way::Turn {
                to_deg: end.index_deg,
            },
        };
        ends.map(stretch).into_iter().collect()
    }
}
