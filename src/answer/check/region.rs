//! Regions and lines of tip positions on the opening of a feature.

use crate::value::Vec3;
use cavalier_contours::polyline::{PlineSource, PlineSourceMut, Polyline};

/// How far a chord may stand from the arc of a tool path that it stands for. Gaps of such a path
/// are taken smaller by this amount, and a gouge tolerance is twenty times larger.
pub const ARC_CHORD_MM: f64 = 0.0005;

/// Corners of a convex region on the opening, each with the same disc.
pub(super) struct Region {
    pub(super) corners_mm: Vec<[f64; 2]>,
    pub(super) disc_mm: f64,
    pub(super) allowance_mm: f64,
}

impl Region {
    pub(super) fn exact(corners_mm: Vec<[f64; 2]>, disc_mm: f64) -> Self {
        Self {
            corners_mm,
            disc_mm,
            allowance_mm: 0.0,
        }
    }
}

/// The rectangle of tip positions; corners between two walls are rounded by `round_mm`.
pub(super) fn rounded_region(
    low: [f64; 2],
    high: [f64; 2],
    open: [bool; 4],
    round_mm: f64,
) -> Region {
    let [x0, y0] = low;
    let [x1, y1] = high;
    if round_mm <= 0.0 {
        return Region::exact(vec![[x0, y0], [x1, y0], [x1, y1], [x0, y1]], 0.0);
    }
    if open == [false; 4] {
        let (x0, y0, x1, y1) = (x0 + round_mm, y0 + round_mm, x1 - round_mm, y1 - round_mm);
        let corners_mm = vec![
            [x0, y0],
            [x1.max(x0), y0],
            [x1.max(x0), y1.max(y0)],
            [x0, y1.max(y0)],
        ];
        return Region::exact(corners_mm, round_mm);
    }
    let [open_x1, open_x0, open_y1, open_y0] = open;
    let corners = [
        ([x0, y0], [1.0, 1.0], open_x0 || open_y0),
        ([x1, y0], [-1.0, 1.0], open_x1 || open_y0),
        ([x1, y1], [-1.0, -1.0], open_x1 || open_y1),
        ([x0, y1], [1.0, -1.0], open_x0 || open_y1),
    ];
    let mut corners_mm = Vec::new();
    for (corner, inward, sharp) in corners {
        if sharp {
            corners_mm.push(corner);
        } else {
            let centre = [
                corner[0] + inward[0] * round_mm,
                corner[1] + inward[1] * round_mm,
            ];
            corners_mm.extend(quarter_arc(centre, [-inward[0], -inward[1]], round_mm));
        }
    }
    Region {
        corners_mm,
        disc_mm: 0.0,
        allowance_mm: ARC_CHORD_MM,
    }
}

/// Points of a quarter circle whose chords stand at most [`ARC_CHORD_MM`] from it.
fn quarter_arc(centre: [f64; 2], outward: [f64; 2], radius_mm: f64) -> Vec<[f64; 2]> {
    let half_step = (1.0 - ARC_CHORD_MM / radius_mm)
        .clamp(0.0, 1.0)
        .acos()
        .max(1e-3);
    let steps = (std::f64::consts::FRAC_PI_4 / half_step).ceil().max(1.0) as usize;
    (0..=steps)
        .map(|step| {
            let (sin, cos) = (std::f64::consts::FRAC_PI_2 * step as f64 / steps as f64).sin_cos();
            [
                centre[0] + outward[0] * radius_mm * cos,
                centre[1] + outward[1] * radius_mm * sin,
            ]
        })
        .collect()
}

pub(super) fn segments(points_mm: &[[f64; 2]], closed: bool) -> Vec<[[f64; 2]; 2]> {
    let mut lines: Vec<_> = points_mm
        .windows(2)
        .map(|pair| [pair[0], pair[1]])
        .collect();
    if let (true, [first, _, .., last]) = (closed, points_mm) {
        lines.push([*last, *first]);
    }
    lines
}

/// The curve at a distance (left positive), its arcs cut into chords.
pub(super) fn offset_segments(
    points_mm: &[[f64; 2]],
    closed: bool,
    offset_mm: f64,
) -> Vec<[[f64; 2]; 2]> {
    let mut contour = if closed {
        Polyline::new_closed()
    } else {
        Polyline::new()
    };
    for &[x, y] in points_mm {
        contour.add(x, y, 0.0);
    }
    let mut lines = Vec::new();
    for curve in contour.parallel_offset(offset_mm) {
        let Some(chords) = curve.arcs_to_approx_lines(ARC_CHORD_MM) else {
            continue;
        };
        lines.extend(
            chords
                .iter_segments()
                .map(|(a, b)| [[a.x, a.y], [b.x, b.y]]),
        );
    }
    lines
}

/// Whether a point lies on a line between its ends, within a nanometre.
pub(super) fn on_line(line: &[Vec3; 2], point: Vec3) -> bool {
    let direction = line[1] - line[0];
    let length_squared = direction.norm_squared();
    let t = if length_squared > 0.0 {
        ((point - line[0]).dot(&direction) / length_squared).clamp(0.0, 1.0)
    } else {
        0.0
    };
    (line[0] + direction * t - point).norm() < 1e-6
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn left_of_a_line_is_left() {
        let lines = offset_segments(&[[0.0, 0.0], [10.0, 0.0]], false, 2.0);
        assert_eq!(lines, vec![[[0.0, 2.0], [10.0, 2.0]]]);
    }

    #[test]
    fn outside_of_a_square_goes_round_its_corners() {
        let square = [[0.0, 0.0], [10.0, 0.0], [10.0, 10.0], [0.0, 10.0]];
        let lines = offset_segments(&square, true, -3.0);
        let length: f64 = lines
            .iter()
            .map(|[a, b]| (a[0] - b[0]).hypot(a[1] - b[1]))
            .sum();
        let exact = 40.0 + std::f64::consts::TAU * 3.0;
        assert!(length < exact && exact - length < 0.01, "{length} {exact}");
        let inside = offset_segments(&square, true, 6.0);
        assert!(inside.is_empty());
    }

    #[test]
    fn arcs_of_an_open_pocket_stay_within_the_chord() {
        let points = quarter_arc([0.0, 0.0], [1.0, 1.0], 4.0);
        for pair in points.windows(2) {
            let middle = [
                (pair[0][0] + pair[1][0]) / 2.0,
                (pair[0][1] + pair[1][1]) / 2.0,
            ];
            assert!(4.0 - middle[0].hypot(middle[1]) <= ARC_CHORD_MM * 1.000_001);
        }
        assert_eq!(points[0], [4.0, 0.0]);
    }
}
