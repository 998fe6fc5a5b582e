//! The stop of one convex body on another, neither of them a swept triangle: by separating planes.
//!
//! While the upper body is apart, the plane between the nearest points tells how far down it may go
//! at least; it goes there, and looks again. Every plane is a certificate of its own, so the upper
//! value never rests on how well the search went. (The idea of casting along a line by support
//! planes: van den Bergen, Ray casting against general convex objects, 2004, from memory.)

use super::super::convex::{Convex, Near, nearest};
use super::super::sweep::{Leaf, Posed};
use super::super::triangle_pair::triangle_pair;
use super::triangle::Stop;
use super::underside::GRAIN;
use crate::value::{Pose, Vec3, translation};
use nalgebra::Point3;

/// A convex body in its place, grown by a ball.
#[derive(Clone, Copy)]
pub(super) struct Body<'a> {
    pub leaf: Leaf<'a>,
    pub pose: Pose,
    pub grown_mm: f64,
    /// Greatest coordinate.
    pub size_mm: f64,
}

impl Body<'_> {
    fn margin_mm(&self) -> f64 {
        self.leaf.margin_mm() + self.grown_mm
    }

    fn core(&self, up_mm: f64) -> Posed<'_> {
        Posed {
            leaf: self.leaf,
            pose: translation(Vec3::z() * up_mm) * self.pose,
        }
    }

    /// Farthest extent along a unit direction.
    pub(super) fn reach_mm(&self, direction: &Vec3) -> f64 {
        let (core, _) = self.core(0.0).support(direction);
        core.dot(direction) + self.margin_mm()
    }
}

/// Most planes that are tried; the random tests needed no more than 20.
const PLANES_MAX: usize = 40;

/// The stop of `upper` on `lower`; ends early once the upper value is at most `beat_mm`.
///
/// # Guarantees
/// With `upper` raised by more than `hi_mm` the two are apart. Raised by `lo_mm` they touch or
/// overlap, but for the rounding of a distance.
pub(super) fn convex_stop(upper: &Body<'_>, lower: &Body<'_>, beat_mm: f64) -> Stop {
    let margin_mm = upper.margin_mm() + lower.margin_mm();
    let size_mm = upper.size_mm + lower.size_mm + margin_mm;
    let top_mm = lower.reach_mm(&Vec3::z());
    let mut hi_mm = plane_mm(upper, lower, &Vec3::z(), size_mm);
    let mut hint = Vec3::z();
    for _ in 0..PLANES_MAX {
        if hi_mm <= beat_mm {
            return only_upper(hi_mm);
        }
        let near = cores(upper, hi_mm, lower, &-hint);
        let apart_mm = near.hi_mm - margin_mm;
        if apart_mm <= GRAIN * (size_mm + top_mm.abs()) {
            break;
        }
        let Some(away) = (near.on_a - near.on_b).try_normalize(0.0) else {
            break;
        };
        hint = away;
        if away.z <= 1e-9 {
            // Apart by a plane that lower places keep as well; higher ones are known to be apart.
            let level = Vec3::new(away.x, away.y, away.z.min(0.0));
            let beside = level.try_normalize(0.0).is_some_and(|level| {
                let reach_mm = lower.reach_mm(&level) + upper.reach_mm(&-level);
                reach_mm - level.z * hi_mm < -10.0 * GRAIN * (size_mm + hi_mm.abs())
            });
            if beside {
                return Stop::NONE;
            }
        }
        let next_mm = plane_mm(upper, lower, &away, size_mm);
        if next_mm >= hi_mm - 1e-13 * (1.0 + hi_mm.abs()) {
            break;
        }
        hi_mm = next_mm;
    }
    let lo_mm = touching_below(upper, lower, hi_mm, margin_mm);
    narrowed(upper, lower, Stop { lo_mm, hi_mm })
}

/// Width at which a bracket is no longer narrowed.
const WIDTH_MM: f64 = 2e-9;

/// Halves a bracket: planes lower the upper value, touches raise the lower one.
fn narrowed(upper: &Body<'_>, lower: &Body<'_>, mut stop: Stop) -> Stop {
    let margin_mm = upper.margin_mm() + lower.margin_mm();
    let size_mm = upper.size_mm + lower.size_mm + margin_mm;
    for _ in 0..30 {
        if !stop.lo_mm.is_finite() || stop.hi_mm - stop.lo_mm <= WIDTH_MM {
            break;
        }
        let middle_mm = 0.5 * (stop.lo_mm + stop.hi_mm);
        let near = cores(upper, middle_mm, lower, &-Vec3::z());
        if near.hi_mm - margin_mm <= 0.0 {
            stop.lo_mm = middle_mm;
            continue;
        }
        let away = (near.on_a - near.on_b).try_normalize(0.0);
        let plane_mm = away.map_or(f64::INFINITY, |away| plane_mm(upper, lower, &away, size_mm));
        if plane_mm >= stop.hi_mm {
            break;
        }
        stop.hi_mm = plane_mm;
    }
    Stop {
        lo_mm: stop.lo_mm.min(stop.hi_mm),
        ..stop
    }
}

/// Distance of the cores: of two triangles in closed form, which tells a touch to the last digits.
fn cores(upper: &Body<'_>, up_mm: f64, lower: &Body<'_>, direction: &Vec3) -> Near {
    let (above, below) = (upper.core(up_mm), lower.core(0.0));
    let (Leaf::Triangle(one), Leaf::Triangle(two)) = (above.leaf, below.leaf) else {
        return nearest(&above, &below, direction, f64::INFINITY);
    };
    let placed = |pose: &Pose, corner: Vec3| (pose * Point3::from(corner)).coords;
    triangle_pair(
        &one.map(|corner| placed(&above.pose, corner)),
        &two.map(|corner| placed(&below.pose, corner)),
        f64::INFINITY,
    )
}

fn only_upper(hi_mm: f64) -> Stop {
    Stop {
        lo_mm: f64::NEG_INFINITY,
        hi_mm,
    }
}

/// The height above which a plane across `away` parts the two.
pub(super) fn plane_mm(upper: &Body<'_>, lower: &Body<'_>, away: &Vec3, size_mm: f64) -> f64 {
    if away.z <= 1e-9 {
        return f64::INFINITY;
    }
    let reach = lower.reach_mm(away) + upper.reach_mm(&-away);
    (reach + GRAIN * 10.0 * size_mm) / away.z
}

/// A height a little lower at which they really touch.
fn touching_below(upper: &Body<'_>, lower: &Body<'_>, hi_mm: f64, margin_mm: f64) -> f64 {
    let mut below_mm = 1e-9;
    while below_mm < 1e3 {
        let at_mm = hi_mm - below_mm;
        let near = cores(upper, at_mm, lower, &-Vec3::z());
        if near.hi_mm - margin_mm <= 0.0 {
            return at_mm;
        }
        if below_mm > 1e-5 && near.lo_mm - margin_mm > 0.0 {
            break;
        }
        below_mm *= 4.0;
    }
    f64::NEG_INFINITY
}
