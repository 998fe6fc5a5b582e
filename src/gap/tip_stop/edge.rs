//! Where a convex piece that comes down last touches an edge.

use super::triangle::Aim;
use super::underside::{Form, Underside};

/// An edge in the plane upright over it: `t` counts up the edge from its line's nearest point to the
/// axis, which it passes at `apart_mm`.
#[derive(Debug, Clone, Copy)]
pub(super) struct Edge {
    pub apart_mm: f64,
    /// 0 or more.
    pub rise: f64,
    /// Height at `t` of 0.
    pub base_mm: f64,
    /// The edge's ends: `t`.
    pub ends_mm: [f64; 2],
}

impl Edge {
    /// Whether a point of the edge answers the question: it touches higher, or nothing on the edge
    /// does by the tangent there, the touching height being concave.
    fn answers(&self, radius: f64, height_mm: f64, slope: f64, aim: Aim) -> bool {
        let Aim::Beats(beat_mm) = aim else {
            return false;
        };
        let [from, to] = self.ends_mm;
        let foot = ((radius - self.apart_mm) * (radius + self.apart_mm))
            .max(0.0)
            .sqrt();
        let touch_mm = self.base_mm + self.rise * foot - height_mm;
        let gain = self.rise - slope * foot / radius;
        let left_mm = if gain > 0.0 { to - foot } else { from - foot };
        let most_mm = touch_mm + (gain * left_mm).max(0.0);
        most_mm < beat_mm || (touch_mm > beat_mm && (from..=to).contains(&foot))
    }
}

/// How far up an edge, from its point nearest to the axis, the piece touches the edge's line last.
///
/// The line passes the axis at `apart_mm` and rises by `rise`, 0 or more. Sought is `t` where
/// `rise = L'(r) * t / r` with `r^2 = apart^2 + t^2`; the right side does not fall with `t`.
pub(super) fn edge_foot_mm(underside: &Underside, edge: &Edge, aim: Aim) -> f64 {
    let Edge { apart_mm, rise, .. } = *edge;
    if rise <= 0.0 {
        return 0.0;
    }
    let foot = |radius: f64| ((radius - apart_mm) * (radius + apart_mm)).max(0.0).sqrt();
    for span in &underside.spans {
        if span.to_mm <= apart_mm {
            continue;
        }
        let from = span.from_mm.max(apart_mm);
        let rate = |radius: f64| span.form.slope(radius) * foot(radius) / radius;
        if from > 0.0 && rate(from) >= rise {
            return foot(from);
        }
        if rate(span.to_mm) < rise {
            continue;
        }
        return match span.form {
            Form::Line { slope, .. } => {
                let steeper = (slope - rise) * (slope + rise);
                if steeper > 0.0 {
                    (apart_mm * rise / steeper.sqrt()).clamp(foot(from), foot(span.to_mm))
                } else {
                    foot(span.to_mm)
                }
            }
            Form::Arc {
                radius_mm, ball_mm, ..
            } if radius_mm <= 0.0 => {
                let across = ((ball_mm - apart_mm) * (ball_mm + apart_mm))
                    .max(0.0)
                    .sqrt();
                rise * across / (1.0 + rise * rise).sqrt()
            }
            Form::Arc {
                radius_mm, ball_mm, ..
            } => {
                // The rate less the rise, times what keeps it finite where the ball stands upright.
                let value = |radius: f64| {
                    let out = (radius - radius_mm).clamp(0.0, ball_mm);
                    let down = ((ball_mm - out) * (ball_mm + out)).sqrt();
                    out * foot(radius) - rise * radius * down
                };
                let close = CLOSE * rise * span.to_mm * ball_mm;
                let ends = |radius: f64, value: f64| {
                    let form = &span.form;
                    value.abs() <= close
                        || edge.answers(radius, form.height_mm(radius), form.slope(radius), aim)
                };
                foot(rising_root(from, span.to_mm, ends, value))
            }
        };
    }
    foot(underside.radius_mm)
}

/// The foot of an edge is found to this share of its slope: the touching height, flat there, is then
/// off by some square of it.
const CLOSE: f64 = 1e-12;

/// A root of a function that is below zero before it and above it behind, by halving with secant
/// steps (Illinois variant of false position; Dowell and Jarratt 1971, from memory), until a place
/// and its value end it. Only the lower value rests on it.
fn rising_root(
    mut low: f64,
    mut high: f64,
    ends: impl Fn(f64, f64) -> bool,
    value: impl Fn(f64) -> f64,
) -> f64 {
    let (mut at_low, mut at_high) = (value(low), value(high));
    for step in 0..60 {
        let width = high - low;
        if width <= 4.0 * f64::EPSILON * high {
            break;
        }
        let mut middle = high - at_high * width / (at_high - at_low);
        if step % 3 == 2 || !(middle > low && middle < high) {
            middle = low + 0.5 * width;
        }
        let at_middle = value(middle);
        if ends(middle, at_middle) {
            return middle;
        }
        if at_middle > 0.0 {
            high = middle;
            at_high = at_middle;
            at_low *= 0.5;
        } else {
            low = middle;
            at_low = at_middle;
            at_high *= 0.5;
        }
    }
    low + 0.5 * (high - low)
}
