//! The same as the dials of where tools reach, as tables: for eyes that do not see the pictures, and for the
//! paper.

use super::number::tagged;
use super::reached::{has_rings, names};
use super::{PageShow, mark_chip};
use crate::answer::check::model::{CutAnswer, Verdict};
use crate::answer::drawing::model::{Arc, BandEnd, Dial, MarkPlace, ReachedDial, ReachedRing};
use crate::report::text::number::angle;
use crate::value::wrap_deg;
use maud::{Markup, html};

/// An angle this little off a number of three places, in thousandths, is that number.
pub(super) const ROUNDING: f64 = 1e-6;

/// Where the answer stands in the JSON of `check`.
pub(super) const REACH: &str = "/reached";

/// Dials of tools that have rings: a row for each.
pub(super) fn by_tool(page: &PageShow, frame: &Dial, dials: &[ReachedDial], steps: bool) -> Markup {
    html! {
        table {
            caption { "The same as a table" }
            (head(["tool", "side", "face"], steps))
            tbody {
                @for dial in dials.iter().filter(|dial| has_rings(dial)) {
                    @for ring in &dial.rings {
                        tr {
                            th scope="row" { (dial.name) }
                            td { (dial.side) }
                            td.face { (ring.ring.name) }
                            td {
                                (arcs(frame, ring)) (marks(frame, ring))
                                @if ring.place.is_none() { (rests(page, dial, ring)) }
                            }
                            (worst(ring))
                        }
                    }
                }
            }
        }
    }
}

/// Dials of faces that have rings: a row for each.
pub(super) fn by_face(frame: &Dial, dials: &[&ReachedDial], steps: bool) -> Markup {
    html! {
        table {
            caption { "The same as a table" }
            (head(["face", "side", "tool"], steps))
            tbody {
                @for dial in dials {
                    @for ring in &dial.rings {
                        tr {
                            th.faces scope="row" { (names(dial)) }
                            td { (dial.side) }
                            td { (ring.ring.name) }
                            td { (arcs(frame, ring)) (marks(frame, ring)) }
                            (worst(ring))
                        }
                    }
                }
            }
        }
    }
}

fn head(names: [&str; 3], steps: bool) -> Markup {
    html! {
        thead { tr {
            @for name in names { th scope="col" { (name) } }
            th scope="col" { "angles" } th scope="col" { @if steps { "fewest at seat" } @else { "narrowest at seat" } }
        } }
    }
}

fn worst(ring: &ReachedRing) -> Markup {
    html! { td { @if let Some(seat) = &ring.worst_seat { (seat) } @else { "–" } } }
}

fn arcs(frame: &Dial, ring: &ReachedRing) -> Markup {
    let all = ring.ring.arcs.iter().zip(&ring.ends);
    html! {
        @for (arc, [from, to]) in all {
            span.item {
                (mark_chip(arc.verdict)) " " (frame.rotary)
                (end(ring, from)) " to " (end(ring, to)) " " (said(arc))
            } " "
        }
    }
}

/// An end within one turn, with its place in the JSON.
fn end(ring: &ReachedRing, end: &BandEnd) -> Markup {
    // What is reached is told no wider than it is, what is undecided no narrower.
    let up = end.is_upper != end.is_reached;
    let thousandths = wrap_deg(end.deg) * 1e3;
    let rounded = if up {
        (thousandths - ROUNDING).ceil()
    } else {
        (thousandths + ROUNDING).floor()
    };
    let shown = angle(rounded / 1e3);
    let Some([part, face, tool]) = ring.place else {
        return html! { (shown) };
    };
    let list = if end.is_reached {
        "reached_deg"
    } else {
        "undecided_deg"
    };
    let at = format!(
        "{REACH}/answer/parts/{part}/faces/{face}/tools/{tool}/seats/{}/bands/{list}/{}/{}",
        end.seat,
        end.band,
        usize::from(end.is_upper)
    );
    tagged(&at, end.deg, &shown)
}

/// Verdicts of marks, with the word for each.
pub(super) const MARKS: [(Verdict, &str); 2] = [
    (Verdict::Clear, "reached at"),
    (Verdict::Unknown, "unknown at"),
];

/// Angles of the marks of one verdict, each with its place in the lists of the answer.
pub(super) fn marked(ring: &ReachedRing, verdict: Verdict) -> Vec<(f64, MarkPlace)> {
    let all = ring.ring.rests.iter().zip(&ring.marks);
    let mine = all.filter(|(rest, _)| rest.verdict == verdict);
    mine.map(|(rest, place)| (rest.index_deg, *place)).collect()
}

/// Each angle singly: a range would speak of what lies between.
fn marks(frame: &Dial, ring: &ReachedRing) -> Markup {
    let one = |(index_deg, MarkPlace { seat, index }): &(f64, MarkPlace)| {
        let shown = format!("{}{}", frame.rotary, angle(*index_deg));
        match ring.place {
            Some([part, face, tool]) => tagged(
                &format!(
                    "{REACH}/answer/parts/{part}/faces/{face}/tools/{tool}/seats/{seat}/indexes/{index}/index_deg"
                ),
                *index_deg,
                &shown,
            ),
            None => html! { (shown) },
        }
    };
    html! {
        @for (verdict, said) in MARKS {
            @let all = marked(ring, verdict);
            @if !all.is_empty() {
                div.marks {
                    (mark_chip(verdict)) " " (said)
                    @for (number, mark) in all.iter().enumerate() { @if number > 0 { "," } " " (one(mark)) }
                }
            }
        }
    }
}

fn said(arc: &Arc) -> &'static str {
    match (arc.verdict, arc.to_deg - arc.from_deg >= 360.0) {
        (Verdict::Clear, true) => "reached, all round",
        (Verdict::Clear, false) => "reached",
        (_, true) => "unknown, all round",
        (_, false) => "unknown",
    }
}

/// Beads of a ring of cuts.
fn rests(page: &PageShow, dial: &ReachedDial, ring: &ReachedRing) -> Markup {
    let cuts = &page.show.report.answer.cuts;
    let place = |index_deg: f64| {
        let mine = |cut: &CutAnswer| {
            format!("T{}", cut.tool) == dial.name
                && cut.index_deg == Some(index_deg)
                && dial.seats.contains(&cut.seat)
        };
        cuts.iter().position(mine)
    };
    html! {
        @for rest in &ring.ring.rests {
            span.item {
                (mark_chip(rest.verdict)) " "
                @match place(rest.index_deg) {
                    Some(cut) => (page.index(&format!("/answer/cuts/{cut}/index_deg"), rest.index_deg)),
                    None => (angle(rest.index_deg)),
                }
                " " (super::dial::standing(rest))
            } " "
        }
    }
}
