//! The underside of a convex piece that comes down along its axis: height over radius.
//!
//! A convex solid of revolution, at a height and at every height above, fills all that is over its
//! underside `L(radius)`: a convex function that does not fall from the axis outward. Swept so, the
//! piece is convex and endless upward, and it touches a point `(q, z)` at the tip height
//! `z - L(|q|)`.

use super::super::piece::{Piece, Ring};

/// A stretch of the underside.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Span {
    pub from_mm: f64,
    pub to_mm: f64,
    pub form: Form,
}

/// What a stretch looks like.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Form {
    /// A flat or a cone: the height at radius 0 of its line, and its slope, 0 or more.
    Line { base_mm: f64, slope: f64 },
    /// A quarter of a circle about `(radius, height)`: a ball where the radius is 0, else a torus.
    Arc {
        radius_mm: f64,
        height_mm: f64,
        ball_mm: f64,
    },
}

impl Form {
    pub(super) fn height_mm(&self, radius: f64) -> f64 {
        match *self {
            Self::Line { base_mm, slope } => base_mm + slope * radius,
            Self::Arc {
                radius_mm,
                height_mm,
                ball_mm,
            } => {
                let out = (radius - radius_mm).clamp(0.0, ball_mm);
                height_mm - ((ball_mm - out) * (ball_mm + out)).sqrt()
            }
        }
    }

    pub(super) fn slope(&self, radius: f64) -> f64 {
        match *self {
            Self::Line { slope, .. } => slope,
            Self::Arc {
                radius_mm, ball_mm, ..
            } => {
                let out = (radius - radius_mm).clamp(0.0, ball_mm);
                let down = ((ball_mm - out) * (ball_mm + out)).sqrt();
                if down > 0.0 {
                    out / down
                } else {
                    f64::INFINITY
                }
            }
        }
    }
}

/// The underside of one piece, grown or lessened by its wanted gap.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Underside {
    /// From the axis outward, without a hole.
    pub spans: Vec<Span>,
    pub rings: Vec<Ring>,
    pub radius_mm: f64,
    pub low_mm: f64,
    /// Greatest coordinate: what rounding is measured by.
    pub size_mm: f64,
}

impl Underside {
    /// The underside of a piece that stands `shift_mm` up its axis (upside down where `flipped`),
    /// grown by `gap_mm` all round; less than 0 makes it smaller.
    ///
    /// # Guarantees
    /// Growing is exact (the Minkowski sum with a ball). A piece is made smaller by moving its
    /// underside and its wall inward; where that leaves no clean outline it stays as it is.
    pub(super) fn new(piece: &Piece, flipped: bool, shift_mm: f64, gap_mm: f64) -> Self {
        let sign = if flipped { -1.0 } else { 1.0 };
        let place = |ring: &Ring| Ring {
            height_mm: ring.height_mm * sign + shift_mm,
            ball_mm: ring.ball_mm + gap_mm.max(0.0),
            ..*ring
        };
        let rings: Vec<Ring> = piece.rings().iter().map(place).collect();
        let whole = Self::of(rings);
        if gap_mm < 0.0 {
            whole.lessened(-gap_mm).unwrap_or(whole)
        } else {
            whole
        }
    }

    fn of(rings: Vec<Ring>) -> Self {
        let spans = spans_of(&rings);
        let low = |ring: &Ring| ring.height_mm - ring.ball_mm;
        let out = |ring: &Ring| ring.radius_mm + ring.ball_mm;
        let size = |ring: &Ring| ring.radius_mm + ring.height_mm.abs() + ring.ball_mm;
        Self {
            spans,
            radius_mm: rings.iter().map(out).fold(0.0, f64::max),
            low_mm: rings.iter().map(low).fold(f64::INFINITY, f64::min),
            size_mm: rings.iter().map(size).fold(0.0, f64::max),
            rings,
        }
    }

    /// Every line of the outline moved inward, arcs with their ball lessened.
    fn lessened(&self, depth_mm: f64) -> Option<Self> {
        let outline = outline_of(&self.rings);
        let mut left: Vec<Ring> = Vec::new();
        for (place, ring) in outline.iter().enumerate() {
            if ring.ball_mm >= depth_mm {
                left.push(Ring {
                    ball_mm: ring.ball_mm - depth_mm,
                    ..*ring
                });
                continue;
            }
            let before = match place.checked_sub(1) {
                Some(before) => tangent(&outline[before], ring)?,
                None if ring.radius_mm > 0.0 => [0.0, -1.0, ring.ball_mm - ring.height_mm],
                None => {
                    // On the axis: the line after it, mirrored.
                    let [radial, axial, reach] =
                        outline.get(1).and_then(|next| tangent(ring, next))?;
                    [-radial, axial, reach]
                }
            };
            let after = match outline.get(place + 1) {
                Some(next) => tangent(ring, next)?,
                None => [1.0, 0.0, ring.radius_mm + ring.ball_mm],
            };
            left.push(meeting(before, after, depth_mm)?);
        }
        let rising = |pair: &[Ring]| {
            pair[1].radius_mm + pair[1].ball_mm >= pair[0].radius_mm
                && pair[1].height_mm >= pair[0].height_mm - pair[0].ball_mm
        };
        let kept = outline_of(&left).len() == left.len() && left.windows(2).all(rising);
        let sound = |ring: &Ring| ring.radius_mm >= 0.0 && ring.height_mm.is_finite();
        (kept && left.iter().all(sound)).then(|| Self::of(left))
    }

    /// Height of the underside at a radius; infinite beyond the piece.
    pub(super) fn height_mm(&self, radius: f64) -> f64 {
        if radius > self.radius_mm {
            return f64::INFINITY;
        }
        self.span(radius).form.height_mm(radius)
    }

    /// The least and the greatest slope at a radius: they differ at rims.
    pub(super) fn slopes(&self, radius: f64, grain_mm: f64) -> (f64, f64) {
        let inward = (radius - grain_mm).max(0.0);
        let least = self.span(inward).form.slope(inward);
        let outward = radius + grain_mm;
        let greatest = if outward >= self.radius_mm {
            f64::INFINITY
        } else {
            self.span(outward).form.slope(outward)
        };
        let at = self.span(radius).form.slope(radius);
        (least.min(at), greatest.max(at))
    }

    fn span(&self, radius: f64) -> &Span {
        let last = self.spans.len() - 1;
        let at = self.spans[..last]
            .iter()
            .position(|span| radius < span.to_mm);
        &self.spans[at.unwrap_or(last)]
    }

    /// How far the piece reaches in the direction of slope `slope` outward and 1 down: the greatest
    /// of `slope * radius - L(radius)`.
    pub(super) fn reach_mm(&self, slope: f64) -> f64 {
        let length = (1.0 + slope * slope).sqrt();
        let reach = |ring: &Ring| ring.radius_mm * slope - ring.height_mm + ring.ball_mm * length;
        self.rings
            .iter()
            .map(reach)
            .fold(f64::NEG_INFINITY, f64::max)
    }

    /// A lower value of the underside at every radius from `radius` outward; infinite where there
    /// is nothing of it.
    ///
    /// # Source
    /// Convexity: `L(r) >= s * r - reach(s)` for every slope `s`, with equality at the slope of `r`.
    pub(super) fn least_beyond_mm(&self, radius: f64) -> f64 {
        let grain_mm = GRAIN * self.size_mm;
        if radius > self.radius_mm + grain_mm {
            return f64::INFINITY;
        }
        let inward = (radius - grain_mm).clamp(0.0, self.radius_mm);
        let slope = self.span(inward).form.slope(inward).min(STEEPEST);
        let height = slope * inward - self.reach_mm(slope);
        (height - grain_mm * (1.0 + slope)).max(self.low_mm - grain_mm)
    }
}

/// Slopes beyond this are taken as this in a bound: larger ones lose digits.
const STEEPEST: f64 = 1e3;

/// Lengths below this share of the coordinates may be rounding.
pub(super) const GRAIN: f64 = 1e-13;

/// The line along two rings from below and outside: `radial * r + axial * z = reach`.
fn tangent(inner: &Ring, outer: &Ring) -> Option<[f64; 3]> {
    let angle = tangent_angle(inner, outer)?;
    let (radial, down) = (angle.sin(), angle.cos());
    let reach = inner.radius_mm * radial - inner.height_mm * down + inner.ball_mm;
    Some([radial, -down, reach])
}

/// Where two lines meet after both went inward.
fn meeting(one: [f64; 3], two: [f64; 3], depth_mm: f64) -> Option<Ring> {
    let (reach_one, reach_two) = (one[2] - depth_mm, two[2] - depth_mm);
    let determinant = one[0] * two[1] - one[1] * two[0];
    if determinant.abs() < 1e-9 {
        return None;
    }
    let radius_mm = (reach_one * two[1] - one[1] * reach_two) / determinant;
    let height_mm = (one[0] * reach_two - reach_one * two[0]) / determinant;
    // The mirrored line meets its own on the axis, but for rounding.
    let radius_mm = if radius_mm.abs() < 1e-12 {
        0.0
    } else {
        radius_mm
    };
    Some(Ring::disc(radius_mm, height_mm))
}

/// The angle, from straight down outward, at which `next` begins to reach farther than `ring`.
fn tangent_angle(ring: &Ring, next: &Ring) -> Option<f64> {
    let (run, rise) = (
        next.radius_mm - ring.radius_mm,
        next.height_mm - ring.height_mm,
    );
    let length = run.hypot(rise);
    let ahead = ring.ball_mm - next.ball_mm;
    (length > ahead.abs()).then(|| rise.atan2(run) + (ahead / length).asin())
}

/// The rings that the underside rests on, from the axis outward.
fn outline_of(rings: &[Ring]) -> Vec<Ring> {
    let quarter = std::f64::consts::FRAC_PI_2;
    let below = |ring: &Ring| (ring.height_mm - ring.ball_mm, -ring.radius_mm);
    let Some(mut current) = rings
        .iter()
        .min_by(|p, q| {
            let (p, q) = (below(p), below(q));
            p.0.total_cmp(&q.0).then(p.1.total_cmp(&q.1))
        })
        .copied()
    else {
        return Vec::new();
    };
    let mut outline = vec![current];
    let mut angle = 0.0_f64;
    for _ in 0..2 * rings.len() {
        let mut next: Option<(f64, Ring)> = None;
        for ring in rings.iter().filter(|ring| **ring != current) {
            let ahead = |at: &f64| *at > angle - SAME_ANGLE && *at < quarter;
            let Some(at) = tangent_angle(&current, ring).filter(ahead) else {
                continue;
            };
            let out = ring.radius_mm + ring.ball_mm * at.sin();
            let farther = next.is_none_or(|(least, chosen)| {
                let chosen_out = chosen.radius_mm + chosen.ball_mm * least.sin();
                at < least - SAME_ANGLE || (at < least + SAME_ANGLE && out > chosen_out)
            });
            if farther {
                next = Some((at, *ring));
            }
        }
        let Some((at, ring)) = next else { break };
        angle = angle.max(at);
        current = ring;
        outline.push(ring);
    }
    outline
}

/// Rings on one line are met at one angle, but for rounding.
const SAME_ANGLE: f64 = 1e-9;

fn spans_of(rings: &[Ring]) -> Vec<Span> {
    let outline = outline_of(rings);
    let mut spans = Vec::new();
    let mut angle = 0.0_f64;
    let mut from_mm = 0.0;
    let mut push = |to_mm: f64, form: Form, from_mm: &mut f64| {
        if to_mm > *from_mm {
            spans.push(Span {
                from_mm: *from_mm,
                to_mm,
                form,
            });
            *from_mm = to_mm;
        }
    };
    if let Some(first) = outline.first() {
        let base_mm = first.height_mm - first.ball_mm;
        let flat = Form::Line {
            base_mm,
            slope: 0.0,
        };
        push(first.radius_mm, flat, &mut from_mm);
    }
    for (place, ring) in outline.iter().enumerate() {
        let next = outline.get(place + 1);
        let until = next
            .and_then(|next| tangent_angle(ring, next))
            .map_or(std::f64::consts::FRAC_PI_2, |at| at.max(angle));
        let arc = Form::Arc {
            radius_mm: ring.radius_mm,
            height_mm: ring.height_mm,
            ball_mm: ring.ball_mm,
        };
        if ring.ball_mm > 0.0 {
            push(
                ring.radius_mm + ring.ball_mm * until.sin(),
                arc,
                &mut from_mm,
            );
        }
        if let Some(next) = next {
            let slope = until.tan();
            let (radial, down) = (until.sin(), until.cos());
            let foot = (
                ring.radius_mm + ring.ball_mm * radial,
                ring.height_mm - ring.ball_mm * down,
            );
            let line = Form::Line {
                base_mm: foot.1 - slope * foot.0,
                slope,
            };
            push(next.radius_mm + next.ball_mm * radial, line, &mut from_mm);
        }
        angle = until;
    }
    if spans.is_empty() {
        // A point, or a line along the axis.
        let base_mm = outline.first().map_or(0.0, |ring| ring.height_mm);
        spans.push(Span {
            from_mm: 0.0,
            to_mm: 0.0,
            form: Form::Line {
                base_mm,
                slope: 0.0,
            },
        });
    }
    spans
}
