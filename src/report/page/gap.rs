//! A gap drawing: the whole tool, and close to the gap.

use super::PageShow;
use super::ink::{Window, axes, inner_point, path};
use super::number::tagged;
use crate::answer::check::model::Verdict;
use crate::answer::drawing::model::{BodyKind, DrawnBody, GapDrawing};
use crate::report::mark::word;
use crate::report::text::words::{direction, index, pair};
use maud::{Markup, html};

/// Paper of each of the two views: two beside one another fit A4 and Letter, one fits a phone, and
/// two drawings with their words fit a page.
const PAPER: [f64; 2] = [84.0, 76.0];

/// Least distance of the names of elements on paper.
const NAME_STEP: f64 = 4.4;

/// A body narrower than this on paper gets no number.
const NUMBER_ROOM: f64 = 5.0;

/// Both views with their words. `id` is unique on the page; `at` is the measurement in the JSON; `also` is
/// to be said to those, too, who do not see the drawing.
pub(super) fn figure(
    page: &PageShow,
    id: &str,
    at: &str,
    drawing: &GapDrawing,
    also: &str,
) -> Markup {
    let whole = Window::around(&drawing.whole, PAPER);
    let close = Window::around(&drawing.close, PAPER);
    let seen = seen(drawing, &whole, &close);
    let words = words(page, drawing) + also;
    let sheets = [
        Sheet {
            id: format!("{id}-whole"),
            name: "Whole tool",
            words: &words,
            marks: whole_marks(drawing, &whole, &close),
            window: &whole,
        },
        Sheet {
            id: format!("{id}-close"),
            name: "Close to the gap",
            words: &words,
            marks: close_marks(page, at, drawing, &close),
            window: &close,
        },
    ];
    html! {
        figure.gap {
            div.views { @for sheet in &sheets { (view(page, drawing, &seen, sheet)) } }
            figcaption { (caption(page, at, drawing, &close, &seen)) }
        }
    }
}

/// Bodies that one of the views shows, with their number.
fn seen<'d>(
    drawing: &'d GapDrawing,
    whole: &Window,
    close: &Window,
) -> Vec<(usize, &'d DrawnBody)> {
    let shown = |body: &&DrawnBody| {
        [whole, close]
            .iter()
            .any(|window| !window.loops(&body.outlines).is_empty())
    };
    let mut bodies: Vec<&DrawnBody> = drawing.bodies.iter().filter(shown).collect();
    bodies.sort_by_key(|body| !body.nearest);
    bodies
        .into_iter()
        .enumerate()
        .map(|(at, body)| (at + 1, body))
        .collect()
}

fn words(page: &PageShow, drawing: &GapDrawing) -> String {
    let measured = &drawing.measured;
    let rotary = &page.show.report.answer.turning.rotary;
    format!(
        "Section at {} through the nearest points of {}: {}, wanted {}, {}. Up is machine {}, right is {}.",
        index(rotary, drawing.angle_deg),
        pair(measured),
        amount(page, drawing),
        page.show.lengths.near(measured.wanted_mm),
        word(measured.verdict),
        direction(drawing.view.up),
        direction(drawing.view.right),
    )
}

/// The gap, or the overlap where it is known, as the trouble's heading has it.
fn amount(page: &PageShow, drawing: &GapDrawing) -> String {
    match drawing.overlap_mm {
        Some(overlap_mm) => format!("overlap {}", page.show.lengths.up(overlap_mm)),
        None => format!("gap {}", page.show.lengths.gap(&drawing.measured.gap)),
    }
}

/// Whether the two points are one on paper: a cross stands for them, and no line.
fn is_touching(drawing: &GapDrawing, window: &Window) -> bool {
    let [a, b] = drawing.points_mm.map(|point| window.at(point));
    (b[0] - a[0]).hypot(b[1] - a[1]) < 0.5
}

/// One of the two views, with what only it shows.
struct Sheet<'a> {
    id: String,
    name: &'static str,
    words: &'a str,
    window: &'a Window,
    marks: Markup,
}

fn view(
    page: &PageShow,
    drawing: &GapDrawing,
    seen: &[(usize, &DrawnBody)],
    sheet: &Sheet,
) -> Markup {
    let Sheet {
        id,
        name,
        words,
        window,
        marks,
    } = sheet;
    let [width, height] = window.size;
    let (title, desc) = (format!("{id}-t"), format!("{id}-d"));
    html! {
        div.view {
            p.name { (name) ", " (window.scale_words()) }
            svg role="img" aria-labelledby=(format!("{title} {desc}"))
                viewBox=(format!("0 0 {width} {height}"))
                width=(format!("{width}mm")) height=(format!("{height}mm")) {
                title id=(title) { (name) ": " (pair(&drawing.measured)) }
                desc id=(desc) { (words) }
                rect.paper width=(width) height=(height) {}
                (bodies(window, seen))
                (tool(window, drawing))
                (overlapped(window, drawing, seen))
                (numbers(window, seen))
                (marks)
                (window.scale_bar(page.options.unit))
            }
        }
    }
}

fn bodies(window: &Window, seen: &[(usize, &DrawnBody)]) -> Markup {
    html! {
        // The nearest body comes last, on top.
        @for (_, body) in seen.iter().rev() {
            @let class = match (body.nearest, body.kind) {
                (true, _) => "body near",
                (false, BodyKind::Part) => "body part",
                (false, _) => "body iron",
            };
            @let lines = window.loops(&body.outlines);
            @if !lines.is_empty() { path class=(class) d=(path(&lines)) {} }
        }
    }
}

/// Convex pieces of an element are drawn with their border first and filled over it, so that only
/// the border of all together is seen.
fn tool(window: &Window, drawing: &GapDrawing) -> Markup {
    html! {
        @for element in &drawing.elements {
            @let lines = window.loops(&element.outlines);
            @let data = path(&lines);
            @if !lines.is_empty() {
                path class=(if element.nearest { "tool rim near" } else { "tool rim" }) d=(data) {}
                path.tool.fill d=(data) {}
            }
        }
        @if drawing.off_axis_mm == Some(0.0) {
            @let [x, _] = window.at([0.0, 0.0]);
            @if x > 0.0 && x < window.size[0] {
                path.centre d=(format!("M{x:.2} 0V{}", window.size[1])) {}
            }
        }
    }
}

/// Where the two overlap, the border of the body is seen through the tool.
fn overlapped(window: &Window, drawing: &GapDrawing, seen: &[(usize, &DrawnBody)]) -> Markup {
    if drawing.measured.verdict != Verdict::Clash {
        return html! {};
    }
    html! {
        @for (_, body) in seen.iter().filter(|(_, body)| body.nearest) {
            path.through d=(path(&window.loops(&body.outlines))) {}
        }
    }
}

fn numbers(window: &Window, seen: &[(usize, &DrawnBody)]) -> Markup {
    html! {
        @for (number, body) in seen {
            @if let Some(([x, y], width)) = inner_point(&window.loops(&body.outlines), window.size) {
                @if width > NUMBER_ROOM {
                    text.number x=(format!("{x:.2}")) y=(format!("{:.2}", y + 1.2)) text-anchor="middle" { (number) }
                }
            }
        }
    }
}

/// Names of the elements on the left, and the frame of the close view.
fn whole_marks(drawing: &GapDrawing, window: &Window, close: &Window) -> Markup {
    let corner = [window.size[0] - 12.5, 12.5];
    let extent = close.extent();
    let (low, high) = (window.at(extent.low_mm), window.at(extent.high_mm));
    let mut names: Vec<(f64, f64, &str)> = drawing
        .elements
        .iter()
        .filter_map(|element| {
            let lines = window.loops(&element.outlines);
            let (mut left, mut top, mut bottom) = (f64::INFINITY, f64::INFINITY, 0.0_f64);
            for [x, y] in lines.iter().flatten() {
                let y = y.clamp(0.0, window.size[1]);
                (left, top, bottom) = (left.min(*x), top.min(y), bottom.max(y));
            }
            let y = (top + bottom) / 2.0;
            left.is_finite()
                .then_some((y, left.max(0.0), element.name.as_str()))
        })
        .collect();
    names.sort_by(|a, b| a.0.total_cmp(&b.0));
    let mut last = 0.0;
    for name in &mut names {
        name.0 = name.0.max(last + NAME_STEP);
        last = name.0;
    }
    html! {
        (axes(&drawing.axes, corner))
        rect.frame x=(format!("{:.2}", low[0])) y=(format!("{:.2}", high[1]))
            width=(format!("{:.2}", high[0] - low[0])) height=(format!("{:.2}", low[1] - high[1])) {}
        @for (y, left, name) in names {
            @if y < window.size[1] - 2.0 {
                text.name x="2" y=(format!("{:.2}", y + 1.1)) { (short(name)) }
                @let from = 3.0 + 1.75 * short(name).chars().count() as f64;
                @if left > from + 1.0 { path.leader d=(format!("M{from:.2} {y:.2}H{left:.2}")) {} }
            }
        }
    }
}

/// A name that fits beside the tool; the whole name stands in the words.
fn short(name: &str) -> String {
    if name.chars().count() <= 16 {
        return name.to_owned();
    }
    name.chars().take(15).chain(['…']).collect()
}

/// The two points and the dimension.
fn close_marks(page: &PageShow, at: &str, drawing: &GapDrawing, window: &Window) -> Markup {
    let [a, b] = drawing.points_mm.map(|point| window.at(point));
    let measured = &drawing.measured;
    let touching = is_touching(drawing, window);
    let middle = [(a[0] + b[0]) / 2.0, (a[1] + b[1]) / 2.0];
    // The value stands beside the line, on the side with more room.
    let right = middle[0] < window.size[0] * 0.5;
    let upright = (b[1] - a[1]).abs() > (b[0] - a[0]).abs();
    let (x, y, anchor) = match (touching, upright) {
        (true, _) => (middle[0], middle[1] - 6.0, "middle"),
        (false, true) if right => (middle[0] + 2.5, middle[1] + 1.4, "start"),
        (false, true) => (middle[0] - 2.5, middle[1] + 1.4, "end"),
        (false, false) => (middle[0], middle[1] - 2.5, "middle"),
    };
    let (raw, place) = match drawing.overlap_mm {
        Some(overlap_mm) => (overlap_mm, at.replace("/worst", "/amount_mm")),
        None => (measured.gap.lo_mm, format!("{at}/gap/lo_mm")),
    };
    let class = format!("gapline {}", word(measured.verdict));
    let cross = |[x, y]: [f64; 2]| format!("M{:.2} {:.2}l5 5m0 -5l-5 5", x - 2.5, y - 2.5);
    html! {
        g class=(class) {
            @if touching {
                path.cross d=(cross(middle)) {}
            } @else {
                path.line d=(format!("M{:.2} {:.2}L{:.2} {:.2}", a[0], a[1], b[0], b[1])) {}
                @for [x, y] in [a, b] { circle cx=(format!("{x:.2}")) cy=(format!("{y:.2}")) r="0.9" {} }
            }
            text.value x=(format!("{x:.2}")) y=(format!("{y:.2}")) text-anchor=(anchor)
                data-value=(raw) data-at=(place) { (amount(page, drawing)) }
        }
    }
}

fn caption(
    page: &PageShow,
    at: &str,
    drawing: &GapDrawing,
    close: &Window,
    seen: &[(usize, &DrawnBody)],
) -> Markup {
    let measured = &drawing.measured;
    let rotary = &page.show.report.answer.turning.rotary;
    let angle = index(rotary, drawing.angle_deg);
    let through = match drawing.off_axis_mm {
        Some(off_mm) if off_mm > 0.0 => "beside the tool axis and parallel to it",
        Some(_) => "through the tool axis",
        None => "along the rotary axis",
    };
    html! {
        p {
            "Section at " (tagged(&format!("{at}/place/angle_deg"), drawing.angle_deg, &angle))
            " " (through) ", up is machine " (direction(drawing.view.up))
            ". True scale when printed at full size. "
            @if measured.chord_allowance_mm > 0.0 && !is_touching(drawing, close) {
                "The line is longer than the gap by the chord allowance, "
                (page.up(&format!("{at}/chord_allowance_mm"), measured.chord_allowance_mm)) "."
            }
        }
        @if !seen.is_empty() {
            ol.bodies { @for (_, body) in seen {
                li { (body.name) @if body.nearest { " (the nearest)" } }
            } }
        }
    }
}
