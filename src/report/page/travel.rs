//! Axis travel: a bar from limit to limit for each axis, used and spare.

use super::{PageShow, Section, section};
use crate::answer::check::model::AxisUse;
use maud::{Markup, html};

/// Paper of a bar.
const WIDTH: f64 = 100.0;

/// Room at each end, for what lies beyond a limit.
const ENDS: f64 = 10.0;

pub(super) fn travel(page: &PageShow) -> Option<Section> {
    let axes = &page.show.report.answer.travel;
    let swing = &page.show.report.answer.swing;
    if axes.is_empty() {
        return None;
    }
    let body = html! {
        p { "Used by cuts, index moves and tool changes of the whole job." }
        @for (number, used) in axes.iter().enumerate() {
            (figure(page, &format!("axis-{}", number + 1), &format!("/answer/travel/{number}"), used))
        }
        p {
            "Swing: " (swing.body) " sweeps radius " (page.up("/answer/swing/radius_mm", swing.radius_mm))
            @match swing.limit_mm {
                Some(limit_mm) => { "; the machine allows " (page.down("/answer/swing/limit_mm", limit_mm)) "." }
                None => "; the machine file states no limit.",
            }
        }
    };
    section("travel", "Axis travel", body)
}

/// One axis with its numbers. `id` is unique on the page; `at` is the axis in the JSON.
pub(super) fn figure(page: &PageShow, id: &str, at: &str, used: &AxisUse) -> Markup {
    let key = |name: &str| format!("{at}/{name}");
    let words = format!(
        "{} is used from {} to {}; limits {} and {}.",
        used.axis,
        page.show.lengths.down(used.low_mm),
        page.show.lengths.up(used.high_mm),
        page.show.lengths.near(used.limit_low_mm),
        page.show.lengths.near(used.limit_high_mm)
    );
    html! {
        figure.travel {
            (bar(id, used, &words))
            figcaption {
                strong { (used.axis) } " used from " (page.down(&key("low_mm"), used.low_mm))
                " to " (page.up(&key("high_mm"), used.high_mm))
                ", limits " (page.near(&key("limit_low_mm"), used.limit_low_mm))
                " and " (page.near(&key("limit_high_mm"), used.limit_high_mm))
                @if used.spare_mm < 0.0 { ", SHORT: spare " } @else { ", spare " }
                (page.down(&key("spare_mm"), used.spare_mm))
            }
        }
    }
}

fn bar(id: &str, used: &AxisUse, words: &str) -> Markup {
    let span_mm = (used.limit_high_mm - used.limit_low_mm).max(1e-9);
    let at = |position_mm: f64| {
        let share = (position_mm - used.limit_low_mm) / span_mm;
        (ENDS + share * (WIDTH - 2.0 * ENDS)).clamp(0.5, WIDTH - 0.5)
    };
    let (low, high) = (at(used.limit_low_mm), at(used.limit_high_mm));
    let (from, to) = (at(used.low_mm), at(used.high_mm));
    let class = if used.spare_mm < 0.0 {
        "used clash"
    } else {
        "used"
    };
    let (title, desc) = (format!("{id}-t"), format!("{id}-d"));
    html! {
        svg role="img" aria-labelledby=(format!("{title} {desc}")) viewBox=(format!("0 0 {WIDTH} 9"))
            width=(format!("{WIDTH}mm")) height="9mm" {
            title id=(title) { "Travel of " (used.axis) }
            desc id=(desc) { (words) }
            rect.limits x=(format!("{low:.2}")) y="2" width=(format!("{:.2}", high - low)) height="5" {}
            rect class=(class) x=(format!("{from:.2}")) y="3" width=(format!("{:.2}", (to - from).max(0.4))) height="3" {}
            path.limit d=(format!("M{low:.2} 0.5V8.5M{high:.2} 0.5V8.5")) {}
            @if used.low_mm < used.limit_low_mm { text x="1" y="6" { "x" } }
            @if used.high_mm > used.limit_high_mm { text x=(WIDTH - 3.0) y="6" { "x" } }
        }
    }
}
