//! The entry points: one pair, two groups, and the yes-or-no question.

use super::ask::{Ask, CannotAsk, Decision, Gap, Motion};
use super::shape::Placed;
use std::slice::from_ref;

/// The least gap of one pair over a motion.
///
/// # Errors
/// As [`group_gap`].
pub fn pair_gap(a: &Placed, b: &Placed, motion: &Motion, ask: &Ask<'_>) -> Result<Gap, CannotAsk> {
    group_gap(from_ref(a), from_ref(b), motion, ask)
}

/// The least gap between two groups over a motion, with the pair that has it.
///
/// # Errors
/// A [`CannotAsk`] where a pose, the motion or an option is not sound.
pub fn group_gap(
    _a: &[Placed],
    _b: &[Placed],
    _motion: &Motion,
    _ask: &Ask<'_>,
) -> Result<Gap, CannotAsk> {
    Ok(Gap {
        lo_mm: 0.0,
        hi_mm: f64::INFINITY,
        witness: None,
        contained: None,
        decided: false,
    })
}

/// Whether two groups keep at least `wanted_mm` over a motion.
///
/// # Errors
/// As [`group_gap`].
pub fn at_least(
    a: &[Placed],
    b: &[Placed],
    motion: &Motion,
    wanted_mm: f64,
    ask: &Ask<'_>,
) -> Result<Decision, CannotAsk> {
    let ask = Ask {
        enough_mm: Some(wanted_mm),
        less_mm: Some(wanted_mm),
        cap_mm: ask.cap_mm.max(wanted_mm),
        ..*ask
    };
    let gap = group_gap(a, b, motion, &ask)?;
    Ok(if gap.lo_mm >= wanted_mm {
        Decision::Yes
    } else if gap.hi_mm < wanted_mm {
        Decision::No(gap)
    } else {
        Decision::Unknown(gap)
    })
}
