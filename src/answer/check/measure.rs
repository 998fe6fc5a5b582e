//! One element of the tool group against some bodies over a motion: bracket, verdict, place.

use super::model::{Element, GapValue, Measured, Phase, Place, Verdict};
use crate::answer::scene::{Body, BodyId};
use crate::gap::{Ask, CannotAsk, Gap, Motion, Placed, Witness, group_gap, pair_gap};
use crate::value::Pose;
use nalgebra::Point3;
use std::sync::Mutex;
use std::sync::atomic::AtomicBool;

/// A wanted gap counts as kept when the certified lower value is below it by no more than this.
/// A nominal gap of exactly the wanted size would else hang on the last bit of a pose.
pub const WANTED_GRAIN_MM: f64 = 1e-6;

/// Surfaces no farther apart than this touch.
pub const CONTACT_GRAIN_MM: f64 = 1e-6;

/// Gaps beyond this (and beyond twice what is wanted) are told as "at least" only.
const CAP_MM: f64 = 10.0;

/// A gap that is told as "at least" is larger than one found before by this, so that rounding does
/// not put it first.
const TOLD_GRAIN_MM: f64 = 1e-9;

/// A body in its place.
#[derive(Debug, Clone)]
pub struct Standing<'b> {
    /// The body.
    pub body: &'b Body,
    /// In the common frame (for a turn: at turn angle 0).
    pub placed: Placed,
}

impl<'b> Standing<'b> {
    /// Places a body.
    #[must_use]
    pub fn new(body: &'b Body, common_from_group: &Pose) -> Self {
        let placed = crate::answer::scene::placed(body, common_from_group);
        Self { body, placed }
    }
}

/// What moves: an element (or a body of the bed) with its name.
#[derive(Debug, Clone)]
pub struct Mover<'m> {
    /// Which element.
    pub element: Element,
    /// Name shown in answers.
    pub name: &'m str,
    /// In the common frame, at offset zero.
    pub placed: Placed,
    /// Chord allowance of it, and of its path.
    pub allowance_mm: f64,
    /// Tip of the tool at offset zero, in the common frame; `None` for a body that is no tool.
    pub tip: Option<Point3<f64>>,
}

/// What is asked of a measurement.
#[derive(Debug, Clone, Copy)]
pub struct Asked<'q> {
    /// Wanted gap.
    pub wanted_mm: f64,
    /// Phase.
    pub phase: Phase,
    /// Width of the bracket of a turn.
    pub tolerance_mm: f64,
    /// Only whether the wanted gap is kept, not how large the gap is.
    pub decide_only: bool,
    /// A least gap that has more to spare than this need not be told.
    pub spare_mm: f64,
    /// Where a question alike found its least gap.
    pub hint: Option<&'q Hint>,
    /// Work after which a question is left undecided; the engine's own limit where there is none.
    pub budget: Option<u64>,
    /// Set from outside to stop.
    pub stop: &'q AtomicBool,
}

/// Where a question found its least gap: saves time in the next one that is alike, and is no
/// evidence. Questions that share one come one after the other, so that answers do not hang on the
/// number of threads.
#[derive(Debug, Default)]
pub struct Hint(Mutex<Option<Witness>>);

impl Hint {
    fn get(&self) -> Option<Witness> {
        self.0.lock().ok().and_then(|witness| *witness)
    }

    fn set(&self, found: Option<Witness>) {
        if let (Ok(mut witness), Some(_)) = (self.0.lock(), found) {
            *witness = found;
        }
    }
}

/// A least gap and the body that has it, with the raw witness.
#[derive(Debug, Clone)]
pub struct Found {
    /// The value as it is shown, without part coordinates.
    pub measured: Measured,
    /// The other body.
    pub body: BodyId,
}

/// The least gap over all bodies, and each body that does not keep the wanted gap.
#[derive(Debug, Clone, Default)]
pub struct Measurement {
    /// The least gap; `None` where there are no bodies.
    pub least: Option<Found>,
    /// Bodies that do not keep the wanted gap (or of which it is not known).
    pub violations: Vec<Found>,
}

impl Measurement {
    /// By how much the least gap so far is larger than wanted; infinite where there is none.
    #[must_use]
    pub fn spare_mm(&self) -> f64 {
        self.least.as_ref().map_or(f64::INFINITY, margin)
    }

    /// Takes another measurement in: the least of both, the violations of both.
    pub fn absorb(&mut self, other: Self) {
        self.violations.extend(other.violations);
        if let Some(found) = other.least
            && self
                .least
                .as_ref()
                .is_none_or(|least| margin(&found) < margin(least))
        {
            self.least = Some(found);
        }
    }
}

fn margin(found: &Found) -> f64 {
    found.measured.gap.lo_mm - found.measured.wanted_mm
}

/// Measures an element against bodies over a motion.
///
/// # Guarantees
/// No violation means that every body keeps the wanted gap (to [`WANTED_GRAIN_MM`]) over the
/// whole motion, chord allowances taken off.
///
/// # Errors
/// As [`group_gap`].
pub fn measure(
    mover: &Mover<'_>,
    bodies: &[Standing<'_>],
    motion: &Motion,
    asked: &Asked<'_>,
) -> Result<Measurement, CannotAsk> {
    let mut measurement = Measurement::default();
    if bodies.is_empty() {
        return Ok(measurement);
    }
    let least = least_over(mover, bodies, motion, asked)?;
    let kept = least.measured.verdict == Verdict::Clear;
    measurement.least = Some(least);
    if kept {
        return Ok(measurement);
    }
    let fully = Asked {
        spare_mm: f64::INFINITY,
        ..*asked
    };
    for standing in bodies {
        let found = least_over(mover, std::slice::from_ref(standing), motion, &fully)?;
        if found.measured.verdict != Verdict::Clear {
            measurement.violations.push(found);
        }
    }
    Ok(measurement)
}

/// Bodies of one chord allowance at a time, so that each bracket stays as tight as its query.
fn least_over(
    mover: &Mover<'_>,
    bodies: &[Standing<'_>],
    motion: &Motion,
    asked: &Asked<'_>,
) -> Result<Found, CannotAsk> {
    let mut order: Vec<&Standing<'_>> = bodies.iter().collect();
    order.sort_by(|a, b| {
        a.body
            .chord_allowance_mm
            .total_cmp(&b.body.chord_allowance_mm)
    });
    let same = |a: &&Standing<'_>, b: &&Standing<'_>| {
        a.body.chord_allowance_mm.to_bits() == b.body.chord_allowance_mm.to_bits()
    };
    let told_mm = asked.wanted_mm + asked.spare_mm.max(0.0) + TOLD_GRAIN_MM;
    let cap_mm = CAP_MM.max(2.0 * asked.wanted_mm).min(told_mm);
    let mut best = Net {
        lo_mm: f64::INFINITY,
        hi_mm: f64::INFINITY,
        gap: None,
        body: order[0],
    };
    let mut best_allowance_mm = 0.0;
    for group in order.chunk_by(same) {
        let allowance_mm = mover.allowance_mm + group[0].body.chord_allowance_mm;
        let cap_mm = cap_mm.min(best.hi_mm).max(0.0) + allowance_mm;
        let placed: Vec<Placed> = group
            .iter()
            .map(|standing| standing.placed.clone())
            .collect();
        let gap = ask_group(&mover.placed, &placed, motion, cap_mm, allowance_mm, asked)?;
        best.lo_mm = best.lo_mm.min(gap.lo_mm - allowance_mm);
        if gap.hi_mm - allowance_mm < best.hi_mm || gap.contained.is_some() || best.gap.is_none() {
            let pair = gap
                .contained
                .map(|inside| inside.instance_b)
                .or_else(|| gap.witness.map(|witness| witness.part_b.instance));
            best.hi_mm = gap.hi_mm - allowance_mm;
            best.gap = Some(gap);
            best.body = pair.and_then(|index| group.get(index)).unwrap_or(&group[0]);
            best_allowance_mm = allowance_mm;
        }
    }
    Ok(best.found(mover, best_allowance_mm, asked))
}

struct Net<'n> {
    lo_mm: f64,
    hi_mm: f64,
    gap: Option<Gap>,
    body: &'n Standing<'n>,
}

impl Net<'_> {
    fn found(&self, mover: &Mover<'_>, allowance_mm: f64, asked: &Asked<'_>) -> Found {
        let contained = self.gap.is_some_and(|gap| gap.contained.is_some());
        let verdict = verdict_of(self.lo_mm, self.hi_mm, contained, asked.wanted_mm);
        let gap = GapValue {
            lo_mm: self.lo_mm,
            hi_mm: self.hi_mm.is_finite().then_some(self.hi_mm),
        };
        let place = self
            .gap
            .and_then(|gap| gap.witness)
            .map(|witness| place_of(&witness, mover));
        let measured = Measured {
            element: mover.element,
            element_body: mover.name.to_owned(),
            body: self.body.body.name.clone(),
            gap,
            chord_allowance_mm: allowance_mm,
            wanted_mm: asked.wanted_mm,
            verdict,
            phase: asked.phase,
            place,
        };
        Found {
            measured,
            body: self.body.body.id,
        }
    }
}

fn place_of(witness: &Witness, mover: &Mover<'_>) -> Place {
    let shift_mm = mover.tip.is_none().then(|| witness.offset_mm.into());
    Place {
        machine_mm: witness.point_b.coords.into(),
        part_mm: None,
        tool_mm: witness.point_a.coords.into(),
        overlap_mm: None,
        tip_mm: mover.tip.map(|tip| (tip + witness.offset_mm).coords.into()),
        shift_mm,
        angle_deg: witness.angle_deg,
    }
}

/// A yes-or-no question at a tolerance a thousand times finer; any other at the tolerance asked for
/// and, where the bracket straddles the wanted gap, once more at the finer one.
fn ask_group(
    mover: &Placed,
    placed: &[Placed],
    motion: &Motion,
    cap_mm: f64,
    allowance_mm: f64,
    asked: &Asked<'_>,
) -> Result<Gap, CannotAsk> {
    let wanted_mm = asked.wanted_mm + allowance_mm;
    let fine_mm = asked.tolerance_mm * 1e-3;
    let ask = Ask {
        cap_mm,
        tolerance_mm: if asked.decide_only {
            fine_mm
        } else {
            asked.tolerance_mm
        },
        enough_mm: asked.decide_only.then_some(wanted_mm),
        less_mm: asked
            .decide_only
            .then_some((wanted_mm - WANTED_GRAIN_MM).max(0.0)),
        hint: asked.hint.and_then(Hint::get),
        stop: Some(asked.stop),
        budget: asked.budget.unwrap_or(Ask::default().budget),
        beyond: None,
    };
    let gap = group_gap(std::slice::from_ref(mover), placed, motion, &ask)?;
    if let Some(hint) = asked.hint {
        hint.set(gap.witness);
    }
    let straddles = |edge_mm: f64| gap.lo_mm < edge_mm && gap.hi_mm >= edge_mm;
    let decided = asked.decide_only || !(straddles(wanted_mm) || straddles(allowance_mm));
    if motion.turn.is_none() || decided {
        return Ok(gap);
    }
    let finer = Ask {
        tolerance_mm: fine_mm,
        ..ask
    };
    group_gap(std::slice::from_ref(mover), placed, motion, &finer)
}

/// The verdict on a bracket, as the definitions have it.
#[must_use]
pub fn verdict_of(lo_mm: f64, hi_mm: f64, contained: bool, wanted_mm: f64) -> Verdict {
    if contained || hi_mm <= CONTACT_GRAIN_MM {
        Verdict::Clash
    } else if lo_mm <= 0.0 {
        Verdict::Unknown
    } else if lo_mm >= wanted_mm - WANTED_GRAIN_MM {
        Verdict::Clear
    } else if hi_mm < wanted_mm {
        Verdict::Close
    } else {
        Verdict::Unknown
    }
}

/// Whether two bodies are apart over a motion; `None` where that is not decided.
///
/// # Errors
/// As [`pair_gap`].
pub fn apart(
    mover: &Placed,
    other: &Placed,
    motion: &Motion,
    asked: &Asked<'_>,
) -> Result<Option<bool>, CannotAsk> {
    let ask = Ask {
        cap_mm: 1.0,
        enough_mm: Some(CONTACT_GRAIN_MM),
        less_mm: Some(CONTACT_GRAIN_MM),
        tolerance_mm: asked.tolerance_mm,
        stop: Some(asked.stop),
        ..Ask::default()
    };
    let gap = pair_gap(mover, other, motion, &ask)?;
    Ok(
        if gap.contained.is_some() || gap.hi_mm <= CONTACT_GRAIN_MM {
            Some(false)
        } else if gap.lo_mm > 0.0 {
            Some(true)
        } else {
            None
        },
    )
}
