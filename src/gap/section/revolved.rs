//! Plane section of a convex solid of revolution.

use super::super::piece::{Piece, Ring};
use super::Outline;
use crate::value::{Pose, Vec3};
use std::f64::consts::{FRAC_PI_2, TAU};

/// A plane whose normal is this near to the axis cuts a plain circle.
const ALONG_GRAIN: f64 = 1e-9;

/// How often a piece of a curve is halved at most: 2^14 chords.
const HALVINGS: u32 = 14;

/// The section with z = 0 of the plane's frame; `None` where the plane passes by.
pub(super) fn section(piece: &Piece, plane_from_body: &Pose, chord_mm: f64) -> Option<Outline> {
    let profile = half_profile(piece.rings(), chord_mm);
    let cut = Cut::new(plane_from_body);
    let points_mm = match cut {
        Cut::Across { height_mm, centre } => circle(&profile, height_mm, centre, chord_mm)?,
        Cut::Along(along) => along.outline(&profile, chord_mm)?,
    };
    let mut outline = Outline {
        points_mm,
        closed: true,
    };
    if outline.area_mm2() < 0.0 {
        outline.points_mm.reverse();
    }
    Some(outline)
}

/// How the plane stands to the axis.
enum Cut {
    /// Square to it, at a height of the body.
    Across { height_mm: f64, centre: [f64; 2] },
    /// At another angle.
    Along(Along),
}

/// The plane meets the disc at height h in a chord at signed distance `at_zero + slope * h` from
/// the axis, along `up`; the chord runs along `side`.
struct Along {
    origin: Vec3,
    axis: Vec3,
    up: Vec3,
    side: Vec3,
    at_zero_mm: f64,
    slope: f64,
}

impl Cut {
    fn new(plane_from_body: &Pose) -> Self {
        let origin = plane_from_body.translation.vector;
        let axis = plane_from_body.rotation * Vec3::z();
        let across = axis.x.hypot(axis.y);
        if across < ALONG_GRAIN {
            let height_mm = -origin.z / axis.z;
            let centre = origin + axis * height_mm;
            return Self::Across {
                height_mm,
                centre: [centre.x, centre.y],
            };
        }
        let up = (Vec3::z() - axis * axis.z) / across;
        Self::Along(Along {
            origin,
            axis,
            up,
            side: axis.cross(&up),
            at_zero_mm: -origin.z / across,
            slope: -axis.z / across,
        })
    }
}

impl Along {
    fn outline(&self, profile: &[[f64; 2]], chord_mm: f64) -> Option<Vec<[f64; 2]>> {
        let mut halves: Vec<[f64; 2]> = Vec::new();
        for pair in profile.windows(2) {
            // A flat end is the line between the two halves.
            let flat = pair[0][1] == pair[1][1];
            let Some([from, to]) = self.clipped(pair[0], pair[1]).filter(|_| !flat) else {
                continue;
            };
            if halves.last() != Some(&from) {
                halves.push(from);
            }
            self.halve(&mut halves, from, to, chord_mm, HALVINGS);
        }
        let right = halves.iter().map(|&at| self.point(at, 1.0));
        let left = halves.iter().rev().map(|&at| self.point(at, -1.0));
        let mut points: Vec<[f64; 2]> = right.chain(left).collect();
        points.dedup();
        (points.len() >= 3).then_some(points)
    }

    /// The share of a profile line that the plane meets: radius no less than the chord's distance.
    fn clipped(&self, from: [f64; 2], to: [f64; 2]) -> Option<[[f64; 2]; 2]> {
        let off_mm = |[_, height_mm]: [f64; 2]| self.slope.mul_add(height_mm, self.at_zero_mm);
        let (mut low, mut high) = (0.0_f64, 1.0_f64);
        for sign in [1.0, -1.0] {
            let (a, b) = (from[0] - sign * off_mm(from), to[0] - sign * off_mm(to));
            if a < 0.0 && b < 0.0 {
                return None;
            }
            if a < 0.0 {
                low = low.max(a / (a - b));
            } else if b < 0.0 {
                high = high.min(a / (a - b));
            }
        }
        let at = |share: f64| [0, 1].map(|i: usize| (to[i] - from[i]).mul_add(share, from[i]));
        let end = |share: f64| match share {
            0.0 => from,
            1.0 => to,
            _ => at(share),
        };
        (low <= high).then(|| [end(low), end(high)])
    }

    /// Adds points up to `to`, as close as the chord asks.
    fn halve(
        &self,
        points: &mut Vec<[f64; 2]>,
        from: [f64; 2],
        to: [f64; 2],
        chord_mm: f64,
        left: u32,
    ) {
        let middle = [0, 1].map(|i: usize| (from[i] + to[i]) / 2.0);
        let [a, m, b] = [from, middle, to].map(|at| self.point(at, 1.0));
        if left > 0 && distance_to_line(m, a, b) > chord_mm {
            self.halve(points, from, middle, chord_mm, left - 1);
            self.halve(points, middle, to, chord_mm, left - 1);
        } else if points.last() != Some(&to) {
            points.push(to);
        }
    }

    /// An end of the chord at a profile point, in the plane.
    fn point(&self, [radius_mm, height_mm]: [f64; 2], sign: f64) -> [f64; 2] {
        let off_mm = self.slope.mul_add(height_mm, self.at_zero_mm);
        let half_mm = ((radius_mm - off_mm) * (radius_mm + off_mm))
            .max(0.0)
            .sqrt();
        let at =
            self.origin + self.axis * height_mm + self.up * off_mm + self.side * (sign * half_mm);
        [at.x, at.y]
    }
}

fn distance_to_line(point: [f64; 2], a: [f64; 2], b: [f64; 2]) -> f64 {
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let (px, py) = (point[0] - a[0], point[1] - a[1]);
    let length = dx.hypot(dy);
    if length < f64::MIN_POSITIVE {
        px.hypot(py)
    } else {
        (dx * py - dy * px).abs() / length
    }
}

fn circle(
    profile: &[[f64; 2]],
    height_mm: f64,
    [x, y]: [f64; 2],
    chord_mm: f64,
) -> Option<Vec<[f64; 2]>> {
    let radius_at = |pair: &[[f64; 2]]| {
        let [[from_r, from_h], [to_r, to_h]] = [pair[0], pair[1]];
        if !(from_h..=to_h).contains(&height_mm) {
            return 0.0;
        }
        if to_h == from_h {
            return from_r.max(to_r);
        }
        from_r + (to_r - from_r) * (height_mm - from_h) / (to_h - from_h)
    };
    let radius_mm = profile.windows(2).map(radius_at).fold(0.0, f64::max);
    if radius_mm <= 0.0 {
        return None;
    }
    let count = chords(TAU, radius_mm, chord_mm).max(3);
    let point = |step: usize| {
        let (sin, cos) = (TAU * step as f64 / count as f64).sin_cos();
        [radius_mm.mul_add(cos, x), radius_mm.mul_add(sin, y)]
    };
    Some((0..count).map(point).collect())
}

/// How many chords keep an arc within the chord height.
fn chords(angle: f64, radius_mm: f64, chord_mm: f64) -> usize {
    let widest = 2.0 * (1.0 - (chord_mm / radius_mm).min(1.0)).acos();
    ((angle / widest).ceil() as usize).clamp(1, 1 << HALVINGS)
}

/// See [`super::half_profile`]: the hull of the rings, walked by the angle of its normal.
pub(super) fn half_profile(rings: &[Ring], chord_mm: f64) -> Vec<[f64; 2]> {
    let at = |ring: &Ring, angle: f64| {
        let (sin, cos) = angle.sin_cos();
        [
            ring.ball_mm.mul_add(cos, ring.radius_mm),
            ring.ball_mm.mul_add(sin, ring.height_mm),
        ]
    };
    let lowest = |a: &&Ring, b: &&Ring| {
        let low = |ring: &Ring| ring.height_mm - ring.ball_mm;
        low(a)
            .total_cmp(&low(b))
            .then(b.radius_mm.total_cmp(&a.radius_mm))
    };
    let Some(mut ring) = rings.iter().min_by(lowest) else {
        return Vec::new();
    };
    let mut angle = -FRAC_PI_2;
    let mut line = vec![[0.0, ring.height_mm - ring.ball_mm]];
    // Each ring is entered once at most.
    for _ in 0..=rings.len() {
        let next = rings
            .iter()
            .filter_map(|other| Some((overtaken_at(ring, other, angle)?, other)))
            .min_by(|a, b| a.0.total_cmp(&b.0));
        let until = next.map_or(FRAC_PI_2, |(at, _)| at);
        let steps = if ring.ball_mm > 0.0 {
            chords(until - angle, ring.ball_mm, chord_mm)
        } else {
            1
        };
        for step in 0..=steps {
            let share = step as f64 / steps as f64;
            line.push(at(ring, (until - angle).mul_add(share, angle)));
        }
        let Some((at, other)) = next else { break };
        (ring, angle) = (other, at);
    }
    let top_mm = line.last().map_or(0.0, |point| point[1]);
    line.push([0.0, top_mm]);
    line.dedup();
    line
}

/// The angle of normal, after `angle` and before the top, from which another ring reaches farther.
fn overtaken_at(ring: &Ring, other: &Ring, angle: f64) -> Option<f64> {
    let (across, rise) = (
        other.radius_mm - ring.radius_mm,
        other.height_mm - ring.height_mm,
    );
    let apart = across.hypot(rise);
    let less_mm = ring.ball_mm - other.ball_mm;
    if apart <= less_mm.abs() {
        return None;
    }
    let at = rise.atan2(across) - (less_mm / apart).acos();
    let at = if at < -FRAC_PI_2 - 1e-9 { at + TAU } else { at };
    (at > angle - 1e-12 && at < FRAC_PI_2 - 1e-12).then(|| at.max(angle))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::value::{about_axis, translation};
    use nalgebra::Point3;
    use std::f64::consts::PI;

    fn piece(rings: &[[f64; 3]]) -> Piece {
        let ring = |&[radius_mm, height_mm, ball_mm]: &[f64; 3]| Ring {
            radius_mm,
            height_mm,
            ball_mm,
        };
        Piece::new(rings.iter().map(ring).collect()).unwrap()
    }

    fn upright() -> Pose {
        about_axis(&Vec3::x(), &Point3::origin(), -90.0)
    }

    fn area(piece: &Piece, plane_from_body: &Pose) -> f64 {
        section(piece, plane_from_body, 1e-4).map_or(0.0, |line| line.area_mm2())
    }

    /// A cone frustum through its axis is a trapezium, with its four corners and no more.
    #[test]
    fn through_the_axis_it_is_the_profile() {
        let cone = piece(&[[5.0, 0.0, 0.0], [2.0, 10.0, 0.0]]);
        let line = section(&cone, &upright(), 1e-3).unwrap();
        assert_eq!(line.points_mm.len(), 4);
        assert!((line.area_mm2() - 70.0).abs() < 1e-12);
    }

    #[test]
    fn across_the_axis_it_is_a_circle() {
        let cone = piece(&[[5.0, 0.0, 0.0], [2.0, 10.0, 0.0]]);
        let found = area(&cone, &translation(Vec3::new(1.0, 2.0, -4.0)));
        let radius_mm = 5.0 - 0.3 * 4.0;
        assert!((found / (PI * radius_mm * radius_mm) - 1.0).abs() < 1e-4);
        assert_eq!(area(&cone, &translation(Vec3::new(0.0, 0.0, -11.0))), 0.0);
    }

    /// A cylinder of radius r cut at an angle to its axis: an ellipse r by r / sin.
    #[test]
    fn at_an_angle_it_is_an_ellipse() {
        let cylinder = piece(&[[3.0, -50.0, 0.0], [3.0, 50.0, 0.0]]);
        let tilted = about_axis(&Vec3::x(), &Point3::origin(), 60.0);
        let expected = PI * 3.0 * 3.0 / 60.0_f64.to_radians().cos();
        assert!((area(&cylinder, &tilted) / expected - 1.0).abs() < 1e-4);
    }

    /// Beside the axis a cylinder gives a rectangle, a ball a smaller circle.
    #[test]
    fn beside_the_axis() {
        let cylinder = piece(&[[5.0, 0.0, 0.0], [5.0, 10.0, 0.0]]);
        let aside = translation(Vec3::new(0.0, 0.0, -3.0)) * upright();
        assert!((area(&cylinder, &aside) - 80.0).abs() < 1e-9);
        let ball = piece(&[[0.0, 0.0, 5.0]]);
        for pose in [aside, translation(Vec3::new(0.0, 0.0, -3.0))] {
            assert!((area(&ball, &pose) / (PI * 16.0) - 1.0).abs() < 2e-4);
        }
    }

    /// Bull nose: half of the profile is a rectangle, two quarter circles and a strip.
    #[test]
    fn profile_of_a_bull_nose() {
        let nose = piece(&[[3.0, 2.0, 2.0], [5.0, 20.0, 0.0]]);
        let line = section(&nose, &upright(), 1e-5).unwrap();
        let expected = 2.0 * (5.0 * 18.0 + 3.0 * 2.0 + PI);
        assert!((line.area_mm2() / expected - 1.0).abs() < 1e-5);
        // A drill point: its tip is a corner.
        let drill = piece(&[[0.0, 0.0, 0.0], [3.0, 1.1, 0.0], [3.0, 30.0, 0.0]]);
        let profile = half_profile(drill.rings(), 1e-3);
        assert_eq!(profile, [[0.0, 0.0], [3.0, 1.1], [3.0, 30.0], [0.0, 30.0]]);
    }
}
