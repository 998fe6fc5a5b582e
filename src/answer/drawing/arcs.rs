//! Arcs of a ring from bands of angle: where all of some seats are reached.

use super::model::{Arc, BandEnd};
use crate::answer::check::model::{Outcome, Verdict};
use crate::answer::reach::model::Bands;
use crate::value::wrap_deg;

/// An arc with the ends of bands that its own ends are.
pub type Ended = (Arc, [BandEnd; 2]);

/// Arcs over which every list of bands is reached, or is reached or undecided; in ascending order, none
/// beside another of its kind.
///
/// # Units
/// Degrees. An arc begins from 0 to below 360, and is no longer than a whole turn.
///
/// # Guarantees
/// Ends are ends of bands, to the last bit but for whole turns. No list at all gives no arc.
#[must_use]
pub fn arcs_of(bands: &[(usize, &Bands)]) -> Vec<Ended> {
    let mut ends: Vec<(f64, BandEnd)> = bands
        .iter()
        .flat_map(|(seat, bands)| ends_of(*seat, bands))
        .map(|end| (wrap_deg(end.deg), end))
        .collect();
    ends.sort_by(|a, b| a.0.total_cmp(&b.0));
    ends.dedup_by(|later, first| later.0 == first.0);
    // What holds from each end to the next.
    let holds: Vec<Option<Verdict>> = (0..ends.len())
        .map(|at| {
            let next_deg = ends.get(at + 1).map_or(ends[0].0 + 360.0, |next| next.0);
            verdict(bands, (ends[at].0 + next_deg) * 0.5)
        })
        .collect();
    let changes: Vec<usize> = (0..ends.len())
        .filter(|&at| holds[at] != holds[(at + ends.len() - 1) % ends.len()])
        .collect();
    // The same all round: from the first end to itself.
    let begins = match (changes.is_empty(), ends.is_empty()) {
        (true, false) => vec![0],
        _ => changes,
    };
    let arc = |(number, &begin): (usize, &usize)| {
        let verdict = holds[begin]?;
        let end = begins[(number + 1) % begins.len()];
        let from_deg = ends[begin].0;
        let turns = if ends[end].0 > from_deg { 0.0 } else { 360.0 };
        let arc = Arc {
            from_deg,
            to_deg: ends[end].0 + turns,
            outcome: match verdict {
                Verdict::Clear => Outcome::Reached,
                _ => Outcome::Unknown,
            },
            verdict,
        };
        Some((arc, [ends[begin].1, ends[end].1]))
    };
    begins.iter().enumerate().filter_map(arc).collect()
}

fn ends_of(seat: usize, bands: &Bands) -> impl Iterator<Item = BandEnd> {
    let lists = [(true, &bands.reached_deg), (false, &bands.undecided_deg)];
    lists.into_iter().flat_map(move |(is_reached, list)| {
        list.iter().enumerate().flat_map(move |(number, band)| {
            [false, true].map(|is_upper| BandEnd {
                seat,
                is_reached,
                band: number,
                is_upper,
                deg: band[usize::from(is_upper)],
            })
        })
    })
}

/// What holds at an angle: `None` where one of the lists is surely not reached.
fn verdict(bands: &[(usize, &Bands)], angle_deg: f64) -> Option<Verdict> {
    let within = |list: &[[f64; 2]]| list.iter().any(|band| holds(band, angle_deg));
    let reached = |(_, bands): &(usize, &Bands)| within(&bands.reached_deg);
    let may_be = |pair: &(usize, &Bands)| reached(pair) || within(&pair.1.undecided_deg);
    if bands.iter().all(reached) {
        Some(Verdict::Clear)
    } else if bands.iter().all(may_be) {
        Some(Verdict::Unknown)
    } else {
        None
    }
}

/// Whether a band holds an angle, whole turns aside.
fn holds([low_deg, high_deg]: &[f64; 2], angle_deg: f64) -> bool {
    (angle_deg - low_deg).rem_euclid(360.0) <= high_deg - low_deg
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bands(reached: &[[f64; 2]], undecided: &[[f64; 2]]) -> Bands {
        Bands {
            reached_deg: reached.to_vec(),
            undecided_deg: undecided.to_vec(),
        }
    }

    fn plain(lists: &[Bands]) -> Vec<(f64, f64, Verdict)> {
        let lists: Vec<(usize, &Bands)> = lists.iter().enumerate().collect();
        let arcs = arcs_of(&lists).into_iter().map(|(arc, _)| arc);
        arcs.map(|arc| (arc.from_deg, arc.to_deg, arc.verdict))
            .collect()
    }

    #[test]
    fn one_list_is_its_own_arcs() {
        use Verdict::{Clear, Unknown};
        let one = bands(&[[10.0, 20.0], [350.0, 365.0]], &[[20.0, 20.5]]);
        let wanted = [
            (10.0, 20.0, Clear),
            (20.0, 20.5, Unknown),
            (350.0, 365.0, Clear),
        ];
        assert_eq!(plain(&[one]), wanted);
        assert_eq!(plain(&[bands(&[[0.0, 360.0]], &[])]), [(0.0, 360.0, Clear)]);
        // All round, from another angle than 0.
        assert_eq!(
            plain(&[bands(&[[90.0, 450.0]], &[])]),
            [(90.0, 450.0, Clear)]
        );
        assert_eq!(plain(&[bands(&[], &[])]), []);
        assert_eq!(plain(&[]), []);
        // A rotary with limits.
        let limited = bands(&[[-120.0, -100.0]], &[]);
        assert_eq!(plain(&[limited]), [(240.0, 260.0, Clear)]);
    }

    #[test]
    fn ends_are_those_of_the_bands() {
        let [a, b] = [bands(&[[350.0, 380.0]], &[]), bands(&[[5.0, 40.0]], &[])];
        let arcs = arcs_of(&[(2, &a), (7, &b)]);
        let [(arc, [from, to])] = &arcs[..] else {
            panic!("{arcs:?}")
        };
        assert_eq!([arc.from_deg, arc.to_deg], [5.0, 20.0]);
        assert_eq!((from.seat, from.deg, from.is_upper), (7, 5.0, false));
        assert_eq!((to.seat, to.deg, to.is_upper), (2, 380.0, true));
    }

    /// Numbers that look random: a linear congruence (Knuth's MMIX constants), from a seed.
    fn next(seed: &mut u64, below: u64) -> u64 {
        *seed = seed
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (*seed >> 33) % below
    }

    /// Bands that do not overlap, some over the end of the turn.
    fn random(seed: &mut u64) -> Bands {
        let mut made = bands(&[], &[]);
        let begin_deg = next(seed, 360) as f64;
        let mut at_deg = begin_deg;
        loop {
            let (gap, width) = (next(seed, 40) as f64, next(seed, 60) as f64 + 1.0);
            let band = [at_deg + gap, at_deg + gap + width];
            if band[1] > begin_deg + 360.0 {
                return made;
            }
            let turns = if band[0] >= 360.0 { 360.0 } else { 0.0 };
            let list = match next(seed, 3) {
                0 => &mut made.undecided_deg,
                _ => &mut made.reached_deg,
            };
            list.push([band[0] - turns, band[1] - turns]);
            at_deg = band[1];
        }
    }

    /// Every tenth of a degree asked of the lists themselves.
    #[test]
    fn arcs_are_where_every_seat_is_reached() {
        let mut seed = 20_260_331;
        let mut seen = [0_usize; 3];
        for case in 0..300 {
            let count = 1 + next(&mut seed, 4) as usize;
            let lists: Vec<Bands> = (0..count).map(|_| random(&mut seed)).collect();
            let numbered: Vec<(usize, &Bands)> = lists.iter().enumerate().collect();
            let arcs = arcs_of(&numbered);
            for tenth in 0..3600 {
                // Bands end at whole degrees: these points lie on no end.
                let angle_deg = f64::from(tenth) * 0.1 + 0.05;
                let inside = |[low, high]: &[f64; 2]| {
                    [0.0, 360.0]
                        .iter()
                        .any(|turn| angle_deg + turn > *low && angle_deg + turn < *high)
                };
                let reached = |list: &Bands| list.reached_deg.iter().any(inside);
                let may = |list: &Bands| reached(list) || list.undecided_deg.iter().any(inside);
                let wanted = match (lists.iter().all(reached), lists.iter().all(may)) {
                    (true, _) => Some(Verdict::Clear),
                    (_, true) => Some(Verdict::Unknown),
                    _ => None,
                };
                seen[match wanted {
                    Some(Verdict::Clear) => 0,
                    Some(_) => 1,
                    None => 2,
                }] += 1;
                let on = |(arc, _): &&Ended| inside(&[arc.from_deg, arc.to_deg]);
                let found: Vec<Verdict> =
                    arcs.iter().filter(on).map(|(arc, _)| arc.verdict).collect();
                let wanted: Vec<Verdict> = wanted.into_iter().collect();
                assert_eq!(found, wanted, "case {case}, {angle_deg}: {lists:?}");
            }
        }
        assert!(seen.iter().all(|count| *count > 10_000), "{seen:?}");
    }
}
