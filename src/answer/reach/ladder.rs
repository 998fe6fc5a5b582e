//! A tool group made larger and smaller step by step, so that one question about one tip answers
//! for every tip around it.

use super::tools::ReadyTool;
use crate::answer::check::erode::eroded;
use crate::answer::check::measure::CONTACT_GRAIN_MM;
use crate::answer::check::model::Element;
use crate::answer::scene::revolved;
use crate::gap::{
    CannotAsk, Freedom, HalfSpace, Landscape, Ring, Shape, Stack, StackElement, tip_is_free,
    tip_is_free_beyond,
};
use crate::setup::model::{Profile, ProfilePiece, ProfileRing, Setup};
use crate::value::{Pose, Vec3};
use std::sync::Arc;

/// Lowest rung. Cells of the finest grain are not much smaller.
const FIRST_MM: f64 = 1.0 / 64.0;

/// Rungs: up to 128 mm, each larger than the one before by the root of 2.
const RUNGS: i32 = 27;

/// What tips and landscapes may be off by, for rounding of poses that count as one.
pub const ROOM_MM: f64 = 1e-5;

/// Radius of a needle.
const NEEDLE_MM: f64 = 1e-3;

/// A tool group in many sizes.
#[derive(Debug)]
pub struct Ladder {
    rungs: Vec<Rung>,
    /// With no wanted gap: whether what is too near really touches.
    bare: Option<Sizing>,
    needle: Stack,
    /// Rings of all elements, in the tool frame, each with the gap that it keeps; `None` where an
    /// element is a mesh.
    rings: Option<Vec<(Ring, f64)>>,
    /// What each turned element surely keeps at least, the flutes in the own part left out.
    gaps_mm: Vec<(usize, f64)>,
}

#[derive(Debug)]
struct Rung {
    by_mm: f64,
    grown: Option<Sizing>,
    shrunk: Option<Sizing>,
}

/// A stack, with the element of the tool that each of its own is.
#[derive(Debug)]
struct Sizing {
    stack: Stack,
    element: Vec<usize>,
}

/// Where tips are: all within a distance of a point in plan, and between two heights.
#[derive(Debug, Clone, Copy)]
pub struct Tips {
    /// Point in plan, in the frame of a landscape or an approach.
    pub centre: [f64; 2],
    /// Greatest distance in plan.
    pub around_mm: f64,
    /// Least height.
    pub low_mm: f64,
    /// Greatest height.
    pub high_mm: f64,
}

impl Tips {
    /// The same tips seen from a frame that is shifted.
    #[must_use]
    pub fn from(&self, shift: &Vec3) -> Self {
        Self {
            centre: [self.centre[0] - shift.x, self.centre[1] - shift.y],
            around_mm: self.around_mm,
            low_mm: self.low_mm - shift.z,
            high_mm: self.high_mm - shift.z,
        }
    }
}

/// What is known of all tips at once.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Known {
    /// Every tip is free, its way down included.
    Free,
    /// No tip is free. The element of the tool, and the body of the landscape.
    Stopped(usize, usize),
    /// Some may be free and some not.
    Mixed,
}

/// Which elements, and the chord allowances between which the bodies' lie.
#[derive(Debug, Clone, Copy)]
pub struct Rule<'r> {
    /// Elements, by their place in the tool.
    pub elements: &'r [usize],
    /// Least chord allowance of a body.
    pub chord_least_mm: f64,
    /// Greatest chord allowance of a body.
    pub chord_most_mm: f64,
    /// For flutes in the own part: how deep they may seem to stand there. Grown, they come free only
    /// where the face that they touch is known not to count.
    pub gouge_mm: Option<f64>,
}

impl Ladder {
    /// Makes all sizes.
    ///
    /// # Errors
    /// As [`Stack::new`].
    pub fn new(ready: &ReadyTool<'_>, setup: &Setup, rule: &Rule<'_>) -> Result<Self, CannotAsk> {
        let rungs = (0..RUNGS).map(|k| {
            let by_mm = FIRST_MM * (f64::from(k) * 0.5).exp2();
            Ok(Rung {
                by_mm,
                grown: Sizing::grown(ready, setup, rule, by_mm)?,
                shrunk: Sizing::shrunk(ready, setup, rule, by_mm)?,
            })
        });
        Ok(Self {
            rungs: rungs.collect::<Result<_, CannotAsk>>()?,
            bare: Sizing::bare(ready, rule)?,
            needle: needle()?,
            rings: rings(ready, setup, rule),
            gaps_mm: gaps_mm(ready, setup, rule),
        })
    }

    /// Whether the tool is surely free at every tip, where only what is `beyond` counts: see
    /// [`Self::keeps_in_front_mm`].
    #[must_use]
    pub fn is_free(&self, landscape: &Landscape, tips: &Tips, beyond: Option<&HalfSpace>) -> bool {
        if self.nothing() {
            return true;
        }
        let grown = self
            .rung(tips.around_mm)
            .and_then(|rung| rung.grown.as_ref());
        let free = |grown: &Sizing| {
            let [x, y] = tips.centre;
            let tip = Vec3::new(x, y, tips.low_mm - ROOM_MM);
            match beyond {
                Some(beyond) => tip_is_free_beyond(&grown.stack, landscape, &tip, beyond),
                None => tip_is_free(&grown.stack, landscape, &tip) == Freedom::Free,
            }
        };
        grown.is_some_and(free)
    }

    /// Turned elements that are no lids, and the gap that each keeps at least: nearer is surely too
    /// near. Flutes in the own part are left out.
    #[must_use]
    pub fn gaps_mm(&self) -> &[(usize, f64)] {
        &self.gaps_mm
    }

    /// How far in front of a plane through its tip the tool stays, its gaps included: what lies
    /// behind that it does not come near to. `None` where that is not known.
    #[must_use]
    pub fn keeps_in_front_mm(&self, normal: &Vec3) -> Option<f64> {
        let across = normal.xy().norm();
        let front = |(ring, gap_mm): &(Ring, f64)| {
            ring.height_mm * normal.z - ring.radius_mm * across - ring.ball_mm - gap_mm
        };
        let least = |rings: &Vec<_>| rings.iter().map(front).fold(f64::INFINITY, f64::min);
        self.rings.as_ref().map(least)
    }

    /// Element and body that surely stop the tool at every tip.
    #[must_use]
    pub fn stop(&self, landscape: &Landscape, tips: &Tips) -> Option<(usize, usize)> {
        let shrunk = self.rung(tips.around_mm)?.shrunk.as_ref()?;
        match shrunk.ask(landscape, tips.centre, tips.high_mm + ROOM_MM)? {
            (Freedom::Stopped(by), sized) => Some((sized.element[by.element], by.body)),
            _ => None,
        }
    }

    /// Whether the tool without any wanted gap is free at a tip.
    #[must_use]
    pub fn bare_is_free(&self, landscape: &Landscape, tips: &Tips) -> bool {
        let free = |bare: &Sizing| bare.ask(landscape, tips.centre, tips.high_mm).is_none();
        self.bare.as_ref().is_none_or(free)
    }

    /// Whether bodies stand over a point: a needle cannot come down to it.
    #[must_use]
    pub fn is_under(&self, landscape: &Landscape, point: &Vec3) -> bool {
        !matches!(tip_is_free(&self.needle, landscape, point), Freedom::Free)
    }

    fn rung(&self, around_mm: f64) -> Option<&Rung> {
        self.rungs.iter().find(|rung| rung.by_mm >= around_mm)
    }

    fn nothing(&self) -> bool {
        self.bare.is_none()
    }
}

impl Rule<'_> {
    /// For flutes in the own part what is left of them below the gouge tolerance, if anything.
    fn core(&self, ready: &ReadyTool<'_>, element: usize) -> Option<Option<Profile>> {
        let flutes = ready.elements[element].element == Element::Flutes;
        let gouge_mm = self.gouge_mm.filter(|_| flutes)?;
        let profile = ready.profiles[element].as_ref();
        Some(profile.and_then(|profile| eroded(profile, gouge_mm)))
    }

    /// What an element that is made smaller keeps from bodies.
    fn least_gap_mm(&self, ready: &ReadyTool<'_>, setup: &Setup, element: usize) -> f64 {
        ready.wanted_mm(setup, element) + self.chord_least_mm - ROOM_MM
    }

    /// What a grown element keeps from bodies.
    fn most_gap_mm(&self, ready: &ReadyTool<'_>, setup: &Setup, element: usize) -> f64 {
        ready.wanted_mm(setup, element) + self.chord_most_mm + ROOM_MM
    }
}

impl Sizing {
    /// `None` where the tip is surely free.
    fn ask(&self, landscape: &Landscape, at: [f64; 2], height_mm: f64) -> Option<(Freedom, &Self)> {
        match tip_is_free(&self.stack, landscape, &Vec3::new(at[0], at[1], height_mm)) {
            Freedom::Free => None,
            other => Some((other, self)),
        }
    }

    fn of(parts: Vec<(usize, StackElement)>) -> Result<Option<Self>, CannotAsk> {
        if parts.is_empty() {
            return Ok(None);
        }
        let (element, elements): (Vec<usize>, Vec<StackElement>) = parts.into_iter().unzip();
        Ok(Some(Self {
            stack: Stack::new(&elements)?,
            element,
        }))
    }

    fn grown(
        ready: &ReadyTool<'_>,
        setup: &Setup,
        rule: &Rule<'_>,
        by_mm: f64,
    ) -> Result<Option<Self>, CannotAsk> {
        let mut parts = Vec::new();
        for &element in rule.elements {
            if let Some(core) = rule.core(ready, element) {
                let Some(core) = core else { return Ok(None) };
                let grown = ready.reshaped(element, &wider(&core, by_mm), CORE_GAP_MM)?;
                parts.push((element, grown));
                continue;
            }
            let gap_mm = rule.most_gap_mm(ready, setup, element);
            parts.push(match &ready.profiles[element] {
                Some(profile) => (
                    element,
                    ready.reshaped(element, &wider(profile, by_mm), gap_mm)?,
                ),
                None => (element, ready.stack_element(element, gap_mm + by_mm)),
            });
        }
        Self::of(parts)
    }

    fn bare(ready: &ReadyTool<'_>, rule: &Rule<'_>) -> Result<Option<Self>, CannotAsk> {
        // What a lid would touch is not certain.
        let sound = |element: &&usize| **element < ready.without_lids;
        let parts = rule.elements.iter().filter(sound);
        Self::of(
            parts
                .map(|&element| (element, ready.stack_element(element, 0.0)))
                .collect(),
        )
    }

    /// Elements of which nothing is left by this rule are left out, so that less is stopped.
    fn shrunk(
        ready: &ReadyTool<'_>,
        setup: &Setup,
        rule: &Rule<'_>,
        by_mm: f64,
    ) -> Result<Option<Self>, CannotAsk> {
        let by_mm = by_mm + ROOM_MM;
        let mut parts = Vec::new();
        for &element in rule.elements.iter().filter(|e| **e < ready.without_lids) {
            let profile = ready.profiles[element].as_ref();
            if let Some(core) = rule.core(ready, element) {
                if let Some(left) = core.and_then(|core| narrower(&core, by_mm)) {
                    parts.push((element, ready.reshaped(element, &left, 0.0)?));
                }
                continue;
            }
            let gap_mm = rule.least_gap_mm(ready, setup, element);
            if let Some(left) = profile.and_then(|profile| narrower(profile, by_mm)) {
                parts.push((element, ready.reshaped(element, &left, gap_mm)?));
            }
            if gap_mm >= by_mm {
                parts.push((element, ready.stack_element(element, gap_mm - by_mm)));
            }
        }
        Self::of(parts)
    }
}

/// What the core of flutes keeps from the own part.
pub const CORE_GAP_MM: f64 = CONTACT_GRAIN_MM + ROOM_MM;

fn gaps_mm(ready: &ReadyTool<'_>, setup: &Setup, rule: &Rule<'_>) -> Vec<(usize, f64)> {
    let elements = rule.elements.iter().copied();
    let told = elements.filter(|&element| {
        element < ready.without_lids
            && ready.profiles[element].is_some()
            && rule.core(ready, element).is_none()
    });
    told.map(|element| (element, rule.least_gap_mm(ready, setup, element)))
        .collect()
}

/// Rings of all elements with their gaps, in the tool frame; `None` where one is a mesh.
fn rings(ready: &ReadyTool<'_>, setup: &Setup, rule: &Rule<'_>) -> Option<Vec<(Ring, f64)>> {
    let mut found = Vec::new();
    for &element in rule.elements {
        if let Some(core) = rule.core(ready, element) {
            let of_core = core?.pieces.into_iter().flat_map(|piece| piece.rings);
            found.extend(of_core.map(|ring| {
                let ring = Ring {
                    radius_mm: ring.radius_mm,
                    height_mm: ring.height_mm,
                    ball_mm: ring.ball_mm,
                };
                (ring, CORE_GAP_MM)
            }));
            continue;
        }
        let Shape::Revolved(solid) = &ready.elements[element].shape else {
            return None;
        };
        let gap_mm = rule.most_gap_mm(ready, setup, element);
        let tool_from_body = &ready.elements[element].tool_from_body;
        for ring in solid.pieces().iter().flat_map(|piece| piece.rings()) {
            let at = tool_from_body * nalgebra::Point3::new(0.0, 0.0, ring.height_mm);
            let ring = Ring {
                height_mm: at.z,
                ..*ring
            };
            found.push((ring, gap_mm));
        }
    }
    Some(found)
}

/// A profile spread over a disc across its axis: exact.
fn wider(profile: &Profile, by_mm: f64) -> Profile {
    let mut wider = profile.clone();
    for piece in &mut wider.pieces {
        for ring in &mut piece.rings {
            ring.radius_mm += by_mm;
        }
    }
    wider
}

/// Heights at which a ball is cut to be made narrower.
const BALL_CUTS: u32 = 12;

/// What stays within a profile wherever it is moved by so much across its axis; `None` where nothing
/// does. Of a ball narrower than that rings inside it are left, and a smaller ball.
pub(super) fn narrower(profile: &Profile, by_mm: f64) -> Option<Profile> {
    let pieces = profile.pieces.iter().filter_map(|piece| {
        let narrow = |ring: &ProfileRing| ProfileRing {
            radius_mm: ring.radius_mm - by_mm,
            ..*ring
        };
        let (mut rings, mut balls) = (Vec::new(), Vec::new());
        for ring in &piece.rings {
            if ring.radius_mm >= by_mm {
                rings.push(narrow(ring));
                continue;
            }
            let ball_mm = ring.ball_mm - (by_mm - ring.radius_mm);
            if ball_mm > 0.0 {
                balls.push(ProfileRing {
                    radius_mm: 0.0,
                    ball_mm,
                    ..*ring
                });
            }
            for cut in 0..=BALL_CUTS {
                let turn = std::f64::consts::PI * f64::from(cut) / f64::from(BALL_CUTS);
                let (sin, cos) = turn.sin_cos();
                rings.push(narrow(&ProfileRing {
                    radius_mm: ring.radius_mm + ring.ball_mm * sin,
                    height_mm: ring.height_mm - ring.ball_mm * cos,
                    ball_mm: 0.0,
                }));
            }
        }
        // A piece is the hull of its rings, so that its edge is where two of them are joined.
        let mut left: Vec<ProfileRing> = Vec::new();
        rings.sort_by(|a, b| a.height_mm.total_cmp(&b.height_mm));
        for pair in rings.windows(2) {
            let (a, b) = (pair[0], pair[1]);
            if (a.radius_mm < 0.0) != (b.radius_mm < 0.0) && a.ball_mm == 0.0 && b.ball_mm == 0.0 {
                let share = a.radius_mm / (a.radius_mm - b.radius_mm);
                left.push(ProfileRing {
                    radius_mm: 0.0,
                    height_mm: a.height_mm + (b.height_mm - a.height_mm) * share,
                    ball_mm: 0.0,
                });
            }
        }
        left.extend(rings.into_iter().filter(|ring| ring.radius_mm >= 0.0));
        left.extend(balls);
        (!left.is_empty()).then_some(ProfilePiece { rings: left })
    });
    let pieces: Vec<ProfilePiece> = pieces.collect();
    (!pieces.is_empty()).then_some(Profile {
        pieces,
        chord_allowance_mm: profile.chord_allowance_mm,
    })
}

fn core_shape(core: &Profile) -> Result<Shape, CannotAsk> {
    Ok(Shape::Revolved(Arc::new(revolved(core)?)))
}

fn needle() -> Result<Stack, CannotAsk> {
    let ring = |height_mm: f64| ProfileRing {
        radius_mm: NEEDLE_MM,
        height_mm,
        ball_mm: 0.0,
    };
    let rings = vec![ring(0.0), ring(1.0)];
    let profile = Profile {
        pieces: vec![ProfilePiece { rings }],
        chord_allowance_mm: 0.0,
    };
    Stack::new(&[StackElement {
        shape: core_shape(&profile)?,
        tool_from_body: Pose::identity(),
        wanted_gap_mm: 0.0,
    }])
}
