//! The entry points: one pair, two groups, and the yes-or-no question.

use super::ask::{Ask, CannotAsk, Decision, Gap, Motion, Spread, Turn, Witness};
use super::bounds::{Envelope, box_box_mm, lessened};
use super::contain::{Containment, containment};
use super::mesh_pair::{Depth, mesh_mesh};
use super::rest::{self, Relative};
use super::search::{Pairing, Search, contained_gap};
use super::shape::{Placed, Shape};
use super::sweep::Sweep;
use super::tree::Bounds;
use super::turn::turning;
use crate::value::{Pose, Vec3, about_axis, translation};
use nalgebra::Point3;
use std::borrow::Cow;
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
/// # Guarantees
/// The bracket encloses the least distance of the solids over the whole motion; where a body lies
/// wholly inside another it is 0. An empty group gives the cap (or infinity) as a lower value.
/// The answer does not depend on the number of threads.
///
/// # Errors
/// A [`CannotAsk`] where a pose, the motion or an option is not sound.
pub fn group_gap(
    a: &[Placed],
    b: &[Placed],
    motion: &Motion,
    ask: &Ask<'_>,
) -> Result<Gap, CannotAsk> {
    check(a, b, motion, ask)?;
    let sweep = Sweep::new(&motion.spread);
    let shift = sweep.single().unwrap_or_default();
    let folded = sweep.single().is_some();
    let sweep = if folded { Sweep::none() } else { sweep };
    let moved_a = moved(a, &translation(shift));
    let mut search = Search::new(ask);
    let turn = motion.turn.as_ref().map(unit);
    let start_deg = turn.as_ref().map_or(0.0, |turn| turn.from_deg);
    let at = |angle_deg: f64| match &turn {
        Some(turn) => Cow::Owned(moved(
            b,
            &about_axis(&turn.direction, &turn.centre, angle_deg),
        )),
        None => Cow::Borrowed(b),
    };
    let resting_b = at(start_deg);
    hinted(&moved_a, &at, &sweep, shift, turn.as_ref(), &mut search);
    let rest_at = |angle_deg: f64, search: &mut Search<'_>| {
        rest_groups(&moved_a, &at(angle_deg), &sweep, shift, angle_deg, search);
    };
    match turn.as_ref().filter(|turn| turn.from_deg != turn.to_deg) {
        Some(turn) => turning(&moved_a, b, &sweep, turn, shift, &rest_at, &mut search),
        None => rest_at(start_deg, &mut search),
    }
    let gap = search.surface_gap();
    if gap.hi_mm <= 0.0 {
        return Ok(gap);
    }
    let first = motion
        .spread
        .offsets_mm
        .first()
        .copied()
        .unwrap_or_default();
    let placed_a = moved(a, &translation(first));
    Ok(match containment(&placed_a, &resting_b) {
        Containment::None => gap,
        Containment::Found(contained) => contained_gap(contained),
        Containment::Unknown => {
            let below = ask.less_mm.is_some_and(|less| gap.hi_mm < less);
            Gap {
                lo_mm: 0.0,
                decided: below,
                ..gap
            }
        }
    })
}

/// An upper value of the gap of one pair of parts alone, over a motion without a turn, and where it is found;
/// infinity where there is no such pair.
///
/// # Guarantees
/// Parts are convex. As a function of where the first group stands, their distance is convex too: what
/// holds at the corners of a hull holds all over it.
///
/// # Errors
/// As [`group_gap`].
pub fn parts_gap(
    a: &[Placed],
    b: &[Placed],
    motion: &Motion,
    parts: &Witness,
) -> Result<(f64, Option<Witness>), CannotAsk> {
    let ask = Ask {
        hint: Some(*parts),
        ..Ask::default()
    };
    check(a, b, motion, &ask)?;
    let sweep = Sweep::new(&motion.spread);
    let mut search = Search::new(&ask);
    let resting = |_: f64| Cow::Borrowed(b);
    hinted(a, &resting, &sweep, Vec3::zeros(), None, &mut search);
    let gap = search.surface_gap();
    Ok((gap.hi_mm, gap.witness))
}

/// Whether two groups keep at least `wanted_mm` over a motion.
///
/// # Guarantees
/// `Yes` is proved, `No` has a pose with a smaller gap, an overlap or a body inside another.
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
        cap_mm: f64::INFINITY,
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

fn moved(bodies: &[Placed], by: &Pose) -> Vec<Placed> {
    let shifted = |body: &Placed| Placed {
        shape: body.shape.clone(),
        common_from_body: by * body.common_from_body,
    };
    bodies.iter().map(shifted).collect()
}

fn unit(turn: &Turn) -> Turn {
    Turn {
        direction: turn.direction.normalize(),
        ..turn.clone()
    }
}

fn check(a: &[Placed], b: &[Placed], motion: &Motion, ask: &Ask<'_>) -> Result<(), CannotAsk> {
    if !a.iter().chain(b).all(|body| rigid(&body.common_from_body)) {
        return Err(CannotAsk::BadPose);
    }
    let turn_sound = motion.turn.as_ref().is_none_or(|turn| {
        let finite = turn
            .centre
            .iter()
            .chain(turn.direction.iter())
            .all(|c| c.abs() < 1e15);
        let angles = turn.from_deg.is_finite() && turn.to_deg.is_finite();
        finite && angles && turn.direction.norm() > 1e-12
    });
    if !spread_sound(&motion.spread) || !turn_sound {
        return Err(CannotAsk::BadMotion);
    }
    let limits = [
        Some(ask.cap_mm),
        ask.enough_mm,
        ask.less_mm,
        Some(ask.tolerance_mm),
    ];
    let limit_sound = |limit: f64| limit >= 0.0;
    if !limits.into_iter().flatten().all(limit_sound) {
        return Err(CannotAsk::BadLimit);
    }
    Ok(())
}

fn spread_sound(spread: &Spread) -> bool {
    let finite = |vector: &Vec3| vector.iter().all(|c| c.abs() < 1e15);
    let disc = (0.0..1e15).contains(&spread.disc_radius_mm);
    let normal = finite(&spread.disc_normal) && spread.disc_normal.norm() > 1e-12;
    !spread.offsets_mm.is_empty() && spread.offsets_mm.iter().all(finite) && disc && normal
}

pub(super) fn rigid(pose: &Pose) -> bool {
    let matrix = pose.rotation.matrix();
    let finite = matrix
        .iter()
        .chain(pose.translation.vector.iter())
        .all(|c| c.abs() < 1e15);
    finite
        && (matrix.transpose() * matrix - nalgebra::Matrix3::identity()).amax() < 1e-9
        && matrix.determinant() > 0.0
}

/// The upper value of the hint's pair, where there is such a pair and such an angle.
fn hinted<'b>(
    a: &[Placed],
    at: &dyn Fn(f64) -> Cow<'b, [Placed]>,
    sweep: &Sweep,
    shift: Vec3,
    turn: Option<&Turn>,
    search: &mut Search<'_>,
) {
    let Some(Witness {
        part_a,
        part_b,
        angle_deg,
        ..
    }) = search.ask.hint
    else {
        return;
    };
    let angle_deg = turn.map_or(0.0, |turn| {
        let (low, high) = (
            turn.from_deg.min(turn.to_deg),
            turn.from_deg.max(turn.to_deg),
        );
        if angle_deg.is_finite() {
            angle_deg.clamp(low, high)
        } else {
            low
        }
    });
    let b = at(angle_deg);
    let (Some(one), Some(two)) = (a.get(part_a.instance), b.get(part_b.instance)) else {
        return;
    };
    let (Some(leaf_a), Some(leaf_b)) = (one.leaf(part_a.element), two.leaf(part_b.element)) else {
        return;
    };
    let own_sweep = sweep.turned(&one.common_from_body.rotation.inverse());
    let relative = Relative {
        first_from_second: one.common_from_body.inv_mul(&two.common_from_body),
        sweep: &own_sweep,
        pairing: Pairing {
            instance_a: part_a.instance,
            instance_b: part_b.instance,
            common_from_first: one.common_from_body,
            swapped: false,
            angle_deg,
            shift,
        },
    };
    let near = rest::leaf_pair(leaf_a, leaf_b, &relative, f64::INFINITY);
    search.offer(&relative.pairing, &near, part_a.element, part_b.element);
}

/// All pairs of two groups at one angle, the nearest boxes first.
fn rest_groups(
    a: &[Placed],
    b: &[Placed],
    sweep: &Sweep,
    shift: Vec3,
    angle_deg: f64,
    search: &mut Search<'_>,
) {
    let mut pairs = Vec::with_capacity(a.len() * b.len());
    for (i, one) in a.iter().enumerate() {
        let own_sweep = sweep.turned(&one.common_from_body.rotation.inverse());
        let reach = Reach::new(one, &own_sweep);
        let limit_mm = search.rest_limit_mm();
        for (j, two) in b.iter().enumerate() {
            pairs.push((reach.apart_mm(two, limit_mm), i, j));
        }
    }
    pairs.sort_by(|p, q| p.0.total_cmp(&q.0));
    for depth in [Depth::Probe, Depth::Whole] {
        for &(bound_mm, i, j) in &pairs {
            if bound_mm >= search.rest_limit_mm() || !search.go_on(1) {
                search.discard(bound_mm);
                continue;
            }
            let pairing = Pairing {
                instance_a: i,
                instance_b: j,
                common_from_first: a[i].common_from_body,
                swapped: false,
                angle_deg,
                shift,
            };
            rest_pair(&a[i], &b[j], sweep, pairing, depth, search);
        }
    }
}

/// A body with its spread, prepared for lower values to other bodies.
struct Reach<'a> {
    common_from_own: &'a Pose,
    own: Bounds,
    centre: Vec3,
    envelope: Option<Envelope<'a>>,
}

impl<'a> Reach<'a> {
    fn new(one: &'a Placed, own_sweep: &Sweep) -> Self {
        let own = one.shape.bounds().spread(own_sweep);
        Self {
            common_from_own: &one.common_from_body,
            centre: (one.common_from_body * Point3::from(own.centre)).coords,
            own,
            envelope: match &one.shape {
                Shape::Revolved(tool) => Some(Envelope::new(tool, own_sweep)),
                Shape::Mesh(_) => None,
            },
        }
    }

    /// Lower value by the spheres about the boxes; where that is below the limit, by the boxes and
    /// the form of a solid of revolution.
    fn apart_mm(&self, two: &Placed, limit_mm: f64) -> f64 {
        let other = two.shape.bounds();
        let centre = (two.common_from_body * Point3::from(other.centre)).coords;
        let (own_mm, other_mm) = (self.own.radius_mm(), other.radius_mm());
        let size_mm = self.centre.amax()
            + centre.amax()
            + two.common_from_body.translation.vector.amax()
            + self.common_from_own.translation.vector.amax()
            + own_mm
            + other_mm;
        let spheres_mm = (self.centre - centre).norm() - own_mm - other_mm;
        let spheres_mm = lessened(spheres_mm, 10.0 * size_mm);
        if spheres_mm >= limit_mm {
            return spheres_mm;
        }
        let pose = self.common_from_own.inv_mul(&two.common_from_body);
        let boxes_mm = box_box_mm(&self.own, &other, &pose, &pose.inverse());
        let Some(envelope) = &self.envelope else {
            return boxes_mm;
        };
        let seen = envelope.seen(&other, pose.rotation.matrix(), &pose.translation.vector);
        boxes_mm.max(envelope.apart_mm(&seen))
    }
}

fn rest_pair(
    one: &Placed,
    two: &Placed,
    sweep: &Sweep,
    pairing: Pairing,
    depth: Depth,
    search: &mut Search<'_>,
) {
    let both_meshes = matches!((&one.shape, &two.shape), (Shape::Mesh(_), Shape::Mesh(_)));
    if depth == Depth::Probe && !both_meshes {
        return;
    }
    let one_from_two = one.common_from_body.inv_mul(&two.common_from_body);
    let own_sweep = sweep.turned(&one.common_from_body.rotation.inverse());
    let straight = Relative {
        first_from_second: one_from_two,
        sweep: &own_sweep,
        pairing,
    };
    match (&one.shape, &two.shape) {
        (Shape::Revolved(one), Shape::Revolved(two)) => {
            rest::revolved_revolved(one, two, &straight, search);
        }
        (Shape::Revolved(one), Shape::Mesh(two)) => {
            rest::revolved_mesh(one, two, &straight, search);
        }
        (Shape::Mesh(one), Shape::Mesh(two)) => mesh_mesh(one, two, &straight, depth, search),
        (Shape::Mesh(mesh), Shape::Revolved(tool)) => {
            let back = sweep
                .turned(&two.common_from_body.rotation.inverse())
                .negated();
            let relative = Relative {
                first_from_second: one_from_two.inverse(),
                sweep: &back,
                pairing: Pairing {
                    swapped: true,
                    common_from_first: two.common_from_body,
                    ..pairing
                },
            };
            rest::revolved_mesh(tool, mesh, &relative, search);
        }
    }
}
