//! The index dial: the carrier in the middle, rings of tools or faces about it, the scale of
//! angles, the spindle at its side.

use super::ink::{Window, axes, path};
use super::number::tagged;
use super::{PageShow, Section, section, wide};
use crate::answer::check::model::{Outcome, Verdict};
use crate::answer::drawing::model::{Arc, BodyKind, Dial, Extent, Rest, Ring};
use crate::report::mark::{mark, word};
use crate::report::text::number::angle;
use crate::report::text::words::{direction, outcome};
use maud::{Markup, html};

/// Paper of a dial: fits a phone with little loss.
const PAPER: f64 = 132.0;

/// Radius of the carrier's picture.
const INNER: f64 = 24.0;

/// Radius of the first ring, and from ring to ring.
const FIRST_RING: f64 = 27.5;
const RING_STEP: f64 = 3.7;

/// Rings of one dial; more go to another.
pub(super) const RINGS: usize = 6;

/// Radius of the scale of angles.
const SCALE: f64 = FIRST_RING + RING_STEP * (RINGS as f64 - 1.0) + 2.6;

/// Identity of the page's first dial, and of what it lends to the others.
const FIRST: &str = "dial-1";
const GROUND: &str = "dial-ground";

/// Angles that get a number on the scale.
const NUMBERED_DEG: usize = 30;

pub(super) fn dial(page: &PageShow) -> Option<Section> {
    let Some(dial) = &page.drawings.dial else {
        let text =
            "The machine file does not say which way the rotary turns the work: there is no dial.";
        return section("dial", "Index dial", html! { p { (text) } });
    };
    let groups: Vec<&[Ring]> = if dial.rings.is_empty() {
        vec![&[]]
    } else {
        dial.rings.chunks(RINGS).collect()
    };
    let body = html! {
        p {
            "The carrier at " (dial.rotary) "0, cut through the part at the first seat, seen against machine "
            (direction(dial.view_normal()))
            ". The scale turns with the carrier: what stands at an angle faces the spindle when the rotary is there."
        }
        div.dials {
            @for (number, rings) in groups.iter().enumerate() {
                @let named: Vec<(String, &Ring)> = rings.iter().map(|ring| (ring.name.clone(), ring)).collect();
                @let names: Vec<&str> = rings.iter().map(|ring| ring.name.as_str()).collect();
                @let caption = html! {
                    "Rings from inside: " (names.join(", ")) "."
                    @if groups.len() > 1 { " The other rings are on the other dial." }
                };
                @let title = format!("Index dial {}", names.join(", "));
                (figure(dial, &named, &format!("dial-{}", number + 1), (&title, &words(dial, rings), caption)))
            }
        }
        ul.legend {
            @for verdict in [Verdict::Clear, Verdict::Close, Verdict::Clash, Verdict::Unknown] {
                li { (super::chip(verdict)) }
            }
            li { "bead: an index that is used; arc: a range of angles" }
        }
        @if !dial.rings.is_empty() { (wide("Index dial", table(page, dial))) }
    };
    section("dial", "Index dial", body)
}

/// One dial; each ring with the name that stands on it. Its name, what it shows in words, and its caption.
pub(super) fn figure(
    dial: &Dial,
    rings: &[(String, &Ring)],
    id: &str,
    (name, words, caption): (&str, &str, Markup),
) -> Markup {
    let (title, desc) = (format!("{id}-t"), format!("{id}-d"));
    let half = PAPER / 2.0;
    html! {
        figure.dial {
            svg role="img" aria-labelledby=(format!("{title} {desc}"))
                viewBox=(format!("{} {} {PAPER} {PAPER}", -half, -half)) width=(format!("{PAPER}mm")) height=(format!("{PAPER}mm")) {
                title id=(title) { (name) }
                desc id=(desc) { (words) }
                @if id == FIRST { (ground(dial)) } @else { use href=(format!("#{GROUND}")) {} }
                @for (number, (_, ring)) in rings.iter().enumerate() { (ring_of(dial, ring, radius(number))) }
                (ring_names(dial, rings))
            }
            figcaption { (caption) }
        }
    }
}

/// What all dials of a page have under their rings. It is written once, as the carrier has many corners.
fn ground(dial: &Dial) -> Markup {
    let half = PAPER / 2.0;
    html! {
        g id=(GROUND) {
            (carrier(dial))
            (scale(dial))
            (spindle(dial))
            (turning_arrow(dial))
            (axes(&dial.axes, [-half + 13.5, half - 13.5]))
        }
    }
}

fn radius(number: usize) -> f64 {
    FIRST_RING + RING_STEP * number as f64
}

/// What the picture shows, in words.
fn words(dial: &Dial, rings: &[Ring]) -> String {
    let rings = rings.iter().map(|ring| ring_words(dial, ring));
    rings.collect::<Vec<_>>().join(". ") + "."
}

/// A ring in words.
pub(super) fn ring_words(dial: &Dial, ring: &Ring) -> String {
    let rest = |rest: &Rest| {
        format!(
            "{}{} {}",
            dial.rotary,
            angle(rest.index_deg),
            word(rest.verdict)
        )
    };
    let arc = |arc: &Arc| {
        let (from, to) = (angle(arc.from_deg), angle(arc.to_deg));
        format!("{}{from} to {to} {}", dial.rotary, outcome(arc.outcome))
    };
    let arcs = ring.arcs.iter().map(arc);
    let all: Vec<String> = arcs.chain(ring.rests.iter().map(rest)).collect();
    format!("{}: {}", ring.name, all.join(", "))
}

/// A point at a picture angle.
fn polar(radius: f64, picture_deg: f64) -> [f64; 2] {
    let (sin, cos) = picture_deg.to_radians().sin_cos();
    [radius * cos, -radius * sin]
}

fn at([x, y]: [f64; 2]) -> String {
    // Adding zero turns -0.00 into 0.00.
    format!("{:.2} {:.2}", x + 0.0, y + 0.0)
}

fn carrier(dial: &Dial) -> Markup {
    let reach_mm = dial.radius_mm.max(1.0);
    let extent = Extent {
        low_mm: [-reach_mm; 2],
        high_mm: [reach_mm; 2],
    };
    let window = Window::exactly(&extent, 2.0 * INNER);
    let mut bodies: Vec<_> = dial.bodies.iter().collect();
    bodies.sort_by_key(|body| body.kind);
    let side_radius = INNER * 0.36;
    html! {
        g transform=(format!("translate({} {})", -INNER, -INNER)) {
            @for body in bodies {
                @let class = if body.kind == BodyKind::Part { "body part" } else { "body iron" };
                path class=(class) d=(path(&window.loops(&body.outlines))) {}
            }
        }
        path.axis d="M-2 0H2M0 -2V2" {}
        @for (side, picture_deg) in &dial.sides {
            @let [x, y] = polar(side_radius, *picture_deg);
            text.side x=(format!("{x:.2}")) y=(format!("{:.2}", y + 1.5)) text-anchor="middle" { (side) }
        }
    }
}

fn scale(dial: &Dial) -> Markup {
    html! {
        circle.scale r=(SCALE) {}
        @for index_deg in (0..360_usize).step_by(10) {
            @let long = index_deg % NUMBERED_DEG == 0;
            @let picture_deg = dial.picture_deg(index_deg as f64);
            path.tick d=(format!("M{}L{}", at(polar(SCALE, picture_deg)), at(polar(SCALE + if long { 2.0 } else { 1.0 }, picture_deg)))) {}
            @if long {
                @let [x, y] = polar(SCALE + 5.0, picture_deg);
                text.degree x=(format!("{:.2}", x + 0.0)) y=(format!("{:.2}", y + 1.1)) text-anchor="middle" { (index_deg) }
            }
        }
    }
}

fn ring_of(dial: &Dial, ring: &Ring, radius: f64) -> Markup {
    html! {
        circle.ring r=(format!("{radius:.2}")) {}
        @for arc in &ring.arcs { (arc_of(dial, arc, radius)) }
        @for rest in &ring.rests {
            @let [x, y] = polar(radius, dial.picture_deg(rest.index_deg));
            g class=(format!("bead {}", word(rest.verdict))) {
                circle cx=(format!("{:.2}", x + 0.0)) cy=(format!("{:.2}", y + 0.0)) r="1.7" {}
                text x=(format!("{:.2}", x + 0.0)) y=(format!("{:.2}", y + lift(rest.verdict))) text-anchor="middle" { (mark(rest.verdict)) }
            }
        }
    }
}

/// Marks differ in height: each is put in the middle of its bead.
const fn lift(verdict: Verdict) -> f64 {
    match verdict {
        Verdict::Clear => 0.35,
        Verdict::Close => 1.25,
        Verdict::Clash => 0.85,
        Verdict::Unknown => 1.1,
    }
}

fn arc_of(dial: &Dial, arc: &Arc, radius: f64) -> Markup {
    let (from, to) = (dial.picture_deg(arc.from_deg), dial.picture_deg(arc.to_deg));
    let class = format!("arc {}", word(arc.verdict));
    if (to - from).abs() >= 360.0 {
        return html! { circle class=(class) r=(format!("{radius:.2}")) {} };
    }
    // A path's arc runs clockwise on paper with flag 1; picture angles run the other way.
    let sweep = u8::from(to < from);
    let large = u8::from((to - from).abs() > 180.0);
    let middle = polar(radius, (from + to) / 2.0);
    html! {
        path class=(class) d=(format!("M{}A{radius:.2} {radius:.2} 0 {large} {sweep} {}", at(polar(radius, from)), at(polar(radius, to)))) {}
        text.mark x=(format!("{:.2}", middle[0])) y=(format!("{:.2}", middle[1] + lift(arc.verdict))) text-anchor="middle" { (mark(arc.verdict)) }
    }
}

/// Names of the rings, along a spoke where no bead and no arc begins or ends.
fn ring_names(dial: &Dial, rings: &[(String, &Ring)]) -> Markup {
    let mut taken: Vec<f64> = rings
        .iter()
        .flat_map(|(_, ring)| {
            let rests = ring.rests.iter().map(|rest| rest.index_deg);
            rests.chain(ring.arcs.iter().flat_map(|arc| [arc.from_deg, arc.to_deg]))
        })
        .map(|deg| deg.rem_euclid(360.0))
        .collect();
    taken.sort_by(f64::total_cmp);
    let first = taken.first().copied().unwrap_or(0.0);
    let next = taken.iter().copied().skip(1).chain([first + 360.0]);
    let widest = taken
        .iter()
        .copied()
        .zip(next)
        .fold((first, first), |best, pair| {
            if pair.1 - pair.0 > best.1 - best.0 + 1e-9 {
                pair
            } else {
                best
            }
        });
    let spoke_deg = dial.picture_deg((widest.0 + widest.1) / 2.0);
    // Along a level spoke a name is wider than the step to the next: they stand over and under it.
    let is_level = polar(1.0, spoke_deg)[1].abs() < 0.6;
    let down = |number: usize| match (is_level, number % 2) {
        (false, _) => 1.0,
        (true, 0) => -0.8,
        (true, _) => 2.8,
    };
    html! {
        @for (number, (name, _)) in rings.iter().enumerate() {
            @let [x, y] = polar(radius(number), spoke_deg);
            text.ringname x=(format!("{x:.2}")) y=(format!("{:.2}", y + down(number))) text-anchor="middle" { (name.chars().take(8).collect::<String>()) }
        }
    }
}

fn spindle(dial: &Dial) -> Markup {
    let tip = polar(SCALE + 8.2, dial.spindle_deg);
    let [left, right] = [3.0, -3.0].map(|deg| polar(SCALE + 12.4, dial.spindle_deg + deg));
    let word = polar(SCALE + 11.0, dial.spindle_deg);
    // The word stands to the right of the pointer, or under it where it points sideways.
    let sideways = word[0].abs() > word[1].abs();
    let (x, y, anchor) = if sideways {
        (word[0], word[1] + 6.0, "middle")
    } else {
        (word[0] + 3.6, word[1] + 1.2, "start")
    };
    html! {
        path.pointer d=(format!("M{}L{}L{}Z", at(tip), at(left), at(right))) {}
        text.spindle x=(format!("{x:.2}")) y=(format!("{y:.2}")) text-anchor=(anchor) { "spindle" }
    }
}

/// Which way the work turns for a positive angle.
fn turning_arrow(dial: &Dial) -> Markup {
    let radius = SCALE + 9.5;
    let middle_deg = 45.0;
    let half_deg = 14.0 * dial.work_turn_per_deg;
    let (from, to) = (middle_deg - half_deg, middle_deg + half_deg);
    let sweep = u8::from(to < from);
    let head = |radius: f64, back: f64| at(polar(radius, to - back * dial.work_turn_per_deg));
    let [x, y] = polar(radius + 3.0, middle_deg);
    html! {
        path.turn d=(format!("M{}A{radius:.2} {radius:.2} 0 0 {sweep} {}", at(polar(radius, from)), at(polar(radius, to)))) {}
        path.head d=(format!("M{}L{}L{}Z", head(radius, -1.5), head(radius + 1.0, 2.0), head(radius - 1.0, 2.0))) {}
        text.turnname x=(format!("{x:.2}")) y=(format!("{y:.2}")) text-anchor="start" { "+" (dial.rotary) }
    }
}

/// The same values for eyes that do not see the picture, and for the paper.
fn table(page: &PageShow, dial: &Dial) -> Markup {
    let cuts = &page.show.report.answer.cuts;
    let place = |ring: &Ring, rest: &Rest| {
        cuts.iter().position(|cut| {
            format!("T{}", cut.tool) == ring.name && cut.index_deg == Some(rest.index_deg)
        })
    };
    html! {
        table {
            caption { "The same as a table" }
            thead { tr { th scope="col" { "ring" } th scope="col" { "angles" } } }
            tbody { @for ring in &dial.rings { tr {
                th scope="row" { (ring.name) }
                td {
                    @for arc in &ring.arcs {
                        span.item { (super::mark_chip(arc.verdict)) " " (dial.rotary) (angle(arc.from_deg)) " to " (angle(arc.to_deg)) " " (outcome(arc.outcome)) } " "
                    }
                    @for rest in &ring.rests {
                        @let shown = format!("{}{}", dial.rotary, angle(rest.index_deg));
                        span.item {
                            (super::mark_chip(rest.verdict)) " "
                            @match place(ring, rest) {
                                Some(cut) => (tagged(&format!("/answer/cuts/{cut}/index_deg"), rest.index_deg, &shown)),
                                None => (shown),
                            }
                            " " (standing(rest))
                        } " "
                    }
                }
            } } }
        }
    }
}

pub(super) fn standing(rest: &Rest) -> &'static str {
    match rest.outcome {
        Outcome::Reached => word(rest.verdict),
        other => outcome(other),
    }
}
