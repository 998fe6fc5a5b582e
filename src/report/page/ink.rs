//! Lines on paper: scales, clipping, paths, hatches, axes.
//!
//! Pictures are laid out in millimetres of paper, x to the right and y down.

use crate::answer::drawing::model::{Extent, ViewAxis};
use crate::gap::Outline;
use crate::value::Unit;
use maud::{Markup, html};
use std::fmt::Write;

/// Scales of drawings.
///
/// # Source
/// The recommended series of ISO 5455 (from memory), with the reductions and enlargements that a
/// setup needs.
const SCALES: [f64; 11] = [50.0, 20.0, 10.0, 5.0, 2.0, 1.0, 0.5, 0.2, 0.1, 0.05, 0.02];

/// A window of a view on paper.
pub(super) struct Window {
    low_mm: [f64; 2],
    /// Paper millimetres for a millimetre.
    pub scale: f64,
    /// Size on paper.
    pub size: [f64; 2],
}

impl Window {
    /// The largest scale that shows an extent on paper of a size, in its middle.
    pub fn around(extent: &Extent, size: [f64; 2]) -> Self {
        let wide = [0, 1].map(|i: usize| extent.high_mm[i] - extent.low_mm[i]);
        let fits = |scale: &&f64| (0..2).all(|i| wide[i] * **scale <= size[i] * (1.0 + 1e-9));
        let scale = *SCALES.iter().find(fits).unwrap_or(&0.01);
        let low_mm =
            [0, 1].map(|i: usize| (extent.low_mm[i] + extent.high_mm[i] - size[i] / scale) / 2.0);
        Self {
            low_mm,
            scale,
            size,
        }
    }

    /// A square extent on square paper, at whatever scale fills it.
    pub fn exactly(extent: &Extent, size: f64) -> Self {
        Self {
            low_mm: extent.low_mm,
            scale: size / (extent.high_mm[0] - extent.low_mm[0]),
            size: [size; 2],
        }
    }

    /// A point on paper.
    pub fn at(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        [
            (x - self.low_mm[0]) * self.scale,
            self.size[1] - (y - self.low_mm[1]) * self.scale,
        ]
    }

    /// What it shows.
    pub fn extent(&self) -> Extent {
        Extent {
            low_mm: self.low_mm,
            high_mm: [0, 1].map(|i: usize| self.low_mm[i] + self.size[i] / self.scale),
        }
    }

    /// Lines cut off a little outside the window, as corners on paper.
    pub fn loops(&self, outlines: &[Outline]) -> Vec<Vec<[f64; 2]>> {
        outlines
            .iter()
            .map(|line| {
                clipped(
                    line.points_mm.iter().map(|&p| self.at(p)).collect(),
                    self.size,
                )
            })
            .filter(|line: &Vec<[f64; 2]>| line.len() > 2)
            .collect()
    }

    /// `1 : 2` or `5 : 1`.
    pub fn scale_words(&self) -> String {
        if self.scale < 1.0 {
            format!("1 : {:.0}", 1.0 / self.scale)
        } else {
            format!("{:.0} : 1", self.scale)
        }
    }

    /// A bar with its length, at the lower right.
    pub fn scale_bar(&self, unit: Unit) -> Markup {
        let nice = [
            200.0, 100.0, 50.0, 20.0, 10.0, 5.0, 2.0, 1.0, 0.5, 0.2, 0.1, 0.05, 0.02, 0.01,
        ];
        let paper = |length: f64| length * unit.mm() * self.scale;
        let length = nice
            .into_iter()
            .find(|length| paper(*length) <= 26.0)
            .unwrap_or(0.01);
        let (right, y) = (self.size[0] - 4.0, self.size[1] - 4.0);
        let left = right - paper(length);
        let name = match unit {
            Unit::Mm => "mm",
            Unit::Inch => "in",
        };
        html! {
            g.scale {
                path.bar d=(format!("M{left:.2} {:.2}V{y:.2}H{right:.2}V{:.2}", y - 1.5, y - 1.5)) {}
                text x=(format!("{right:.2}")) y=(format!("{:.2}", y - 2.6)) text-anchor="end" {
                    (length) " " (name)
                }
            }
        }
    }
}

/// Cuts a closed line off at a box one millimetre outside the paper.
///
/// # Source
/// Sutherland and Hodgman, "Reentrant Polygon Clipping", 1974: against each side in turn.
fn clipped(mut line: Vec<[f64; 2]>, size: [f64; 2]) -> Vec<[f64; 2]> {
    for (axis, limit, sign) in [
        (0, -1.0, 1.0),
        (1, -1.0, 1.0),
        (0, size[0] + 1.0, -1.0),
        (1, size[1] + 1.0, -1.0),
    ] {
        let inside = |point: &[f64; 2]| sign * (point[axis] - limit) >= 0.0;
        let mut kept = Vec::with_capacity(line.len());
        for (at, point) in line.iter().enumerate() {
            let before = line[(at + line.len() - 1) % line.len()];
            if inside(point) != inside(&before) {
                let share = (limit - before[axis]) / (point[axis] - before[axis]);
                kept.push([0, 1].map(|i: usize| before[i] + share * (point[i] - before[i])));
            }
            if inside(point) {
                kept.push(*point);
            }
        }
        line = kept;
        if line.is_empty() {
            break;
        }
    }
    line
}

/// Path data of closed lines; corners nearer than a hundredth of a millimetre fall together.
pub(super) fn path(loops: &[Vec<[f64; 2]>]) -> String {
    let mut data = String::new();
    for line in loops {
        let mut last = [f64::NAN; 2];
        let mut letter = 'M';
        for &[x, y] in line {
            let at = [x, y].map(|part| (part * 100.0).round() / 100.0 + 0.0);
            if at != last {
                // A string takes all that is written to it.
                let _ = write!(data, "{letter}{} {}", at[0], at[1]);
                letter = 'L';
                last = at;
            }
        }
        data.push('Z');
    }
    data
}

/// A point well inside some lines, and the room about it: among the middles of stretches across
/// and up, the one with most room.
pub(super) fn inner_point(loops: &[Vec<[f64; 2]>], size: [f64; 2]) -> Option<([f64; 2], f64)> {
    let mut best: Option<([f64; 2], f64)> = None;
    for step in 0..24 {
        let y = size[1] * (f64::from(step) + 0.37) / 24.0;
        for [left, right] in stretches(loops, 1, y, size[0]) {
            let x = (left + right) / 2.0;
            let holds = |[top, bottom]: &[f64; 2]| (*top..=*bottom).contains(&y);
            let upright = stretches(loops, 0, x, size[1]).into_iter().find(holds);
            let Some([top, bottom]) = upright else {
                continue;
            };
            let room = (right - left).min(bottom - top);
            let middle = [x, (top + bottom) / 2.0];
            // The scale bar stands in the lower right corner.
            let under_bar = middle[0] > size[0] - 34.0 && middle[1] > size[1] - 11.0;
            if !under_bar && best.is_none_or(|(_, most)| room > most) {
                best = Some((middle, room));
            }
        }
    }
    best
}

/// Where a line across (`axis` 1) or up (`axis` 0) is within some lines, from 0 to `limit`.
fn stretches(loops: &[Vec<[f64; 2]>], axis: usize, at: f64, limit: f64) -> Vec<[f64; 2]> {
    let along = 1 - axis;
    let mut crossings: Vec<f64> = Vec::new();
    for line in loops {
        for (corner, b) in line.iter().enumerate() {
            let a = line[(corner + line.len() - 1) % line.len()];
            if (a[axis] > at) != (b[axis] > at) {
                let share = (at - a[axis]) / (b[axis] - a[axis]);
                crossings.push(a[along] + share * (b[along] - a[along]));
            }
        }
    }
    crossings.sort_by(f64::total_cmp);
    let pairs = crossings.chunks_exact(2);
    let kept = pairs.map(|pair| [pair[0].max(0.0), pair[1].min(limit)]);
    kept.filter(|[from, to]| to > from).collect()
}

/// Hatches of all pictures; parts lean one way, iron the other, the nearest body is closer.
pub(super) fn hatches() -> Markup {
    let hatch = |id: &str, step: &str, angle: &str| {
        html! {
            pattern id=(id) class=(id) width=(step) height=(step) patternUnits="userSpaceOnUse"
                patternTransform=(format!("rotate({angle})")) {
                rect.ground width=(step) height=(step) {}
                path.line d=(format!("M0 0V{step}")) {}
            }
        }
    };
    html! {
        svg.hatches width="0" height="0" aria-hidden="true" focusable="false" {
            defs {
                (hatch("hatch-part", "2.4", "45"))
                (hatch("hatch-iron", "2.4", "-45"))
                (hatch("hatch-near", "1.2", "45"))
            }
        }
    }
}

/// Machine axes in a corner: arrows in the plane, a ring with a dot (toward the eye) or a cross.
pub(super) fn axes(axes: &[ViewAxis; 3], [x, y]: [f64; 2]) -> Markup {
    html! {
        g.axes {
            @for (number, axis) in axes.iter().enumerate() { (axis_arrow(axis, number, [x, y])) }
        }
    }
}

fn axis_arrow(axis: &ViewAxis, number: usize, [x, y]: [f64; 2]) -> Markup {
    let [right, up] = axis.along;
    let length = right.hypot(up);
    if length < 0.3 {
        let away = axis.toward_eye < 0.0;
        return html! {
            circle.ring cx=(x) cy=(y) r="1.5" {}
            @if away {
                path.ring d=(format!("M{} {}l2 2m0 -2l-2 2", x - 1.0, y - 1.0)) {}
            } @else {
                circle.dot cx=(x) cy=(y) r="0.6" {}
            }
            text x=(format!("{:.2}", x - 4.2)) y=(format!("{:.2}", y + 4.2)) text-anchor="middle" { (axis.name) }
        };
    }
    let at = |along: f64, aside: f64| {
        format!(
            "{:.2} {:.2}",
            x + right * along - up * aside,
            y - up * along - right * aside
        )
    };
    let tip = 7.0;
    // Two axes that leave the plane may lie over one another: their letters go to either side.
    let aside = match number {
        _ if length > 0.98 => 0.0,
        0 => 2.2,
        _ => -2.2,
    };
    let beyond = tip * length + 2.6;
    let text = [
        x + (right * beyond - up * aside) / length,
        y - (up * beyond + right * aside) / length,
    ];
    html! {
        path.arrow d=(format!("M{}L{}", at(1.6 / length, 0.0), at(tip, 0.0))) {}
        path.head d=(format!("M{}L{}L{}Z", at(tip + 0.6, 0.0), at(tip - 1.8 / length, 0.9 / length), at(tip - 1.8 / length, -0.9 / length))) {}
        text x=(format!("{:.2}", text[0])) y=(format!("{:.2}", text[1] + 1.1)) text-anchor="middle" { (axis.name) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_is_cut_off_at_the_paper() {
        let big = vec![
            [-50.0, -50.0],
            [150.0, -50.0],
            [150.0, 150.0],
            [-50.0, 150.0],
        ];
        let cut = clipped(big, [86.0, 92.0]);
        let xs = cut.iter().map(|p| p[0]);
        assert_eq!(xs.clone().fold(f64::INFINITY, f64::min), -1.0);
        assert_eq!(xs.fold(0.0, f64::max), 87.0);
        assert!(clipped(vec![[200.0, 0.0], [210.0, 0.0], [210.0, 5.0]], [86.0, 92.0]).is_empty());
    }

    #[test]
    fn scales_are_of_the_series() {
        let extent = Extent {
            low_mm: [-4.0, -4.0],
            high_mm: [4.0, 4.0],
        };
        let window = Window::around(&extent, [86.0, 92.0]);
        assert_eq!(window.scale_words(), "10 : 1");
        assert_eq!(window.at([0.0, 0.0]), [43.0, 46.0]);
    }
}
