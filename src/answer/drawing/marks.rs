//! Marks of a ring from shares at single angles: where all of some seats are reached.

use super::model::{MarkPlace, Rest};
use crate::answer::check::model::{Outcome, Verdict};
use crate::answer::reach::model::{IndexReach, SeatReach};
use crate::value::wrap_deg;

/// Angles that differ by no more than this are the same.
const SAME_DEG: f64 = 1e-6;

/// A mark with where its angle stands in the answer.
pub type Marked = (Rest, MarkPlace);

/// Marks at the angles asked about at which each of some seats is reached, or is reached or undecided, in
/// ascending order.
///
/// # Units
/// Degrees, as they stand in the answer.
///
/// # Guarantees
/// A mark that is clear has a certain share of at least `from_share` at every seat; at an angle that was
/// asked about and has no mark, at least one seat surely has less. No seat at all gives no mark.
#[must_use]
pub fn marks_of(seats: &[(usize, &SeatReach)], from_share: f64) -> Vec<Marked> {
    let Some(((seat, first), others)) = seats.split_first() else {
        return Vec::new();
    };
    let mark = |(index, at): (usize, &IndexReach)| {
        // What is not listed at an angle is surely not reached there.
        let others = others.iter().map(|(_, other)| {
            let same = |there: &&IndexReach| there.index_deg == at.index_deg;
            other
                .indexes
                .iter()
                .find(same)
                .and_then(|there| verdict(there, from_share))
        });
        let worst = others
            .chain([verdict(at, from_share)])
            .try_fold(Verdict::Clear, |worst, one| Some(worst.max(one?)))?;
        let rest = Rest {
            index_deg: at.index_deg,
            outcome: match worst {
                Verdict::Clear => Outcome::Reached,
                _ => Outcome::Unknown,
            },
            verdict: worst,
        };
        Some((rest, MarkPlace { seat: *seat, index }))
    };
    first.indexes.iter().enumerate().filter_map(mark).collect()
}

/// At how many angles a seat is reached.
pub(super) fn reached_count(seat: &SeatReach, from_share: f64) -> usize {
    let reached = |at: &&IndexReach| verdict(at, from_share) == Some(Verdict::Clear);
    seat.indexes.iter().filter(reached).count()
}

/// `None` where less than the share is reached, surely.
fn verdict(at: &IndexReach, from_share: f64) -> Option<Verdict> {
    if at.share.certain >= from_share {
        Some(Verdict::Clear)
    } else if at.share.most() >= from_share - ROUNDING {
        Some(Verdict::Unknown)
    } else {
        None
    }
}

/// Two shares that are one together may add up to a hair less: that is no proof of less.
const ROUNDING: f64 = 1e-9;

/// Whether the angles asked about are the same ones once the rotary has gone on by an angle: only then
/// can one side speak for another.
#[must_use]
pub fn turn_onto_themselves(indexes_deg: &[f64], turn_deg: f64) -> bool {
    let near = |a: f64, b: f64| wrap_deg(a - b).min(wrap_deg(b - a)) <= SAME_DEG;
    indexes_deg
        .iter()
        .all(|one| indexes_deg.iter().any(|other| near(one + turn_deg, *other)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::answer::reach::model::Share;

    fn seat(shares: &[(f64, f64, f64)]) -> SeatReach {
        let index = |&(index_deg, certain, undecided): &(f64, f64, f64)| IndexReach {
            index_deg,
            share: Share { certain, undecided },
            reasons: Vec::new(),
        };
        SeatReach {
            seat: "1.1".to_owned(),
            best: None,
            indexes: shares.iter().map(index).collect(),
            reason: None,
            bands: None,
        }
    }

    fn plain(seats: &[SeatReach]) -> Vec<(f64, Verdict, MarkPlace)> {
        // Positions of seats in an answer need not begin at 0.
        let seats: Vec<(usize, &SeatReach)> = (4..).zip(seats).collect();
        let marks = marks_of(&seats, 0.95).into_iter();
        marks
            .map(|(rest, place)| (rest.index_deg, rest.verdict, place))
            .collect()
    }

    #[test]
    fn marks_are_what_the_shares_say() {
        use Verdict::{Clear, Unknown};
        let one = seat(&[
            (0.0, 0.949, 0.0),
            (15.0, 0.95, 0.0),
            (30.0, 0.949, 0.001),
            (45.0, 0.5, 0.5),
            (60.0, 0.5, 0.4),
            (75.0, 1.0, 0.0),
        ]);
        let at = |index| MarkPlace { seat: 4, index };
        let alone = [
            (15.0, Clear, at(1)),
            (30.0, Unknown, at(2)),
            (45.0, Unknown, at(3)),
            (75.0, Clear, at(5)),
        ];
        assert_eq!(plain(std::slice::from_ref(&one)), alone);
        // The worse of two holds; at 30 and 75 degrees the other has nothing, or too little.
        let other = seat(&[
            (15.0, 0.3, 0.7),
            (45.0, 1.0, 0.0),
            (75.0, 0.9, 0.0),
            (90.0, 1.0, 0.0),
        ]);
        let both = [(15.0, Unknown, at(1)), (45.0, Unknown, at(3))];
        assert_eq!(plain(&[one.clone(), other.clone()]), both);
        assert_eq!(reached_count(&one, 0.95), 2);
        // The other way round: the same verdicts, found in the other list.
        let turned: Vec<_> = plain(&[other, one])
            .iter()
            .map(|mark| (mark.0, mark.1, mark.2.index))
            .collect();
        assert_eq!(turned, [(15.0, Unknown, 0), (45.0, Unknown, 1)]);
        assert_eq!(plain(&[]), []);
    }

    #[test]
    fn rounding_proves_nothing() {
        // Nine tenths and a tenth as 64-bit numbers may add up to less than what both make together.
        let (certain, undecided) = (0.85, 0.1 - 1e-17 - 1e-12);
        assert!(certain + undecided < 0.95);
        assert_eq!(
            plain(&[seat(&[(0.0, certain, undecided)])])[0].1,
            Verdict::Unknown
        );
    }

    #[test]
    fn angles_turn_onto_themselves() {
        let every: Vec<f64> = (0..24).map(|step| f64::from(step) * 15.0).collect();
        assert!(turn_onto_themselves(&every, 90.0) && turn_onto_themselves(&every, -45.0));
        assert!(!turn_onto_themselves(&every, 72.0));
        assert!(!turn_onto_themselves(&[-90.0, -75.0, 0.0], 90.0));
        assert!(turn_onto_themselves(&[], 72.0));
    }
}
