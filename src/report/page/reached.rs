//! Where tools reach: a dial for each tool with a ring for each face, one for each face with a ring
//! for each tool, and the same as a table.

use super::dial::{RINGS, figure};
use super::number::{count, tagged};
use super::{PageShow, mark_chip, section, wide};
use crate::answer::check::model::{CutAnswer, Verdict};
use crate::answer::drawing::model::{Arc, BandEnd, Dial, DialOf, ReachedDial, ReachedRing, Ring};
use crate::answer::reach::ReachOptions;
use crate::report::Reached;
use crate::report::reach::assumed;
use crate::report::text::number::angle;
use crate::value::wrap_deg;
use maud::{Markup, html};

/// An angle this little off a number of three places, in thousandths, is that number.
const ROUNDING: f64 = 1e-6;

/// Where the answer stands in the JSON of `check`.
const REACH: &str = "/reached";

pub(super) fn reached(page: &PageShow) -> Markup {
    let asked_for = (
        &page.drawings.dial,
        page.show.report.reached,
        &page.options.reached,
    );
    let (Some(dial), Some(reached), Some(dials)) = asked_for else {
        let text = "Over which rotary angles each tool reaches each face is not on this page: \
                    lapidary report with --reached adds a dial for each tool and each face.";
        return section("reached", "Where tools reach", html! { p { (text) } });
    };
    let body = html! {
        (asked(&reached))
        ul.legend {
            li { (mark_chip(Verdict::Clear)) " reached: proved at every angle of the arc, at every seat of the side" }
            li { (mark_chip(Verdict::Unknown)) " unknown: reached or not" }
            li { "no arc: at least one seat of the side surely is not reached" }
        }
        h3 { "Each tool, with a ring for each face" }
        (figures(dial, &dials.tools, "by-tool"))
        (without(&dials.tools))
        h3 { "Each face, with a ring for each tool" }
        (figures(dial, &dials.faces, "by-face"))
        (without(&dials.faces))
        @if dials.tools.iter().any(has_arcs) { (wide("Where tools reach", table(page, dial, &dials.tools))) }
        p { "This takes for granted:" }
        ul { @for assumption in &reached.answer.assumes { li { (assumed(*assumption)) } } }
    };
    section("reached", "Where tools reach", body)
}

/// What was asked, and what was not.
fn asked(reached: &Reached<'_>) -> Markup {
    let options = reached.options;
    let percent = (options.bands_from_share.unwrap_or_default() * 1e6).round() / 1e4;
    html! {
        p {
            "A face counts as reached where at least " (percent) " % of it is, by a tool that comes down along the \
             spindle with every wanted gap kept. Ends of arcs are found to some " (options.bands_to_deg)
            " degrees: what lies between is unknown."
        }
        ul {
            @for (number, part) in reached.answer.parts.iter().enumerate() {
                li {
                    (part.part) " (" (part.state) "): " (part.faces.len()) " faces asked about"
                    @if part.other_faces > 0 {
                        @let at = format!("{REACH}/answer/parts/{number}");
                        ", " @if options.faces.is_empty() { "the largest; " }
                        (count(&format!("{at}/other_faces"), part.other_faces)) " others, together "
                        (tagged(&format!("{at}/other_area_mm2"), part.other_area_mm2, &format!("{:.0}", part.other_area_mm2)))
                        " mm2, not (see --most-faces, --face)"
                    }
                    "."
                }
            }
        }
        p { "The same numbers for a program: " code { (command(options)) } }
    }
}

/// What asks for the same numbers.
fn command(options: &ReachOptions) -> String {
    let mut words = format!(
        "lapidary check JOB --format json --reached --bands-to {} --share {}",
        options.bands_to_deg,
        options.bands_from_share.unwrap_or_default()
    );
    if let Some(most) = options.most_faces.filter(|_| options.faces.is_empty()) {
        words += &format!(" --most-faces {most}");
    }
    let tools = options.tools.iter().map(|tool| format!(" --tool {tool}"));
    let seats = options.seats.iter().map(|seat| format!(" --seat {seat}"));
    let faces = options.faces.iter().map(|face| format!(" --face {face}"));
    words.extend(tools.chain(seats).chain(faces));
    words
}

fn has_arcs(dial: &ReachedDial) -> bool {
    dial.rings.iter().any(|ring| !ring.ring.arcs.is_empty())
}

/// `T3, housing, side 1`.
fn title(dial: &ReachedDial) -> String {
    format!("{}, {}, side {}", dial.name, dial.part, dial.side)
}

/// Dials that have an arc; of more rings than one dial takes, more dials.
fn figures(frame: &Dial, dials: &[ReachedDial], id: &str) -> Markup {
    html! {
        div.dials {
            @for (number, dial) in dials.iter().enumerate().filter(|(_, dial)| has_arcs(dial)) {
                @let groups: Vec<&[ReachedRing]> = dial.rings.chunks(RINGS).collect();
                @for (group, rings) in groups.iter().enumerate() {
                    @let named = named(dial.of, rings);
                    @let of = (group + 1, groups.len());
                    @let caption = caption(dial, &named, of);
                    (figure(frame, &named, &format!("{id}-{}-{}", number + 1, group + 1), (&title(dial), caption)))
                }
            }
        }
    }
}

/// Rings with what stands on them: tools their number, faces a letter, as their names are long.
fn named(of: DialOf, rings: &[ReachedRing]) -> Vec<(String, &Ring)> {
    let mut letters = 'a'..='z';
    let mut name = |ring: &Ring| match of {
        DialOf::Face => ring.name.clone(),
        DialOf::Tool if ring.arcs.is_empty() => ring.name.clone(),
        DialOf::Tool => letters.next().map(String::from).unwrap_or_default(),
    };
    let rings = rings.iter().map(|ring| &ring.ring);
    rings.map(|ring| (name(ring), ring)).collect()
}

fn caption(
    dial: &ReachedDial,
    named: &[(String, &Ring)],
    (group, groups): (usize, usize),
) -> Markup {
    let rings: Vec<String> = named
        .iter()
        .map(|(name, ring)| match *name == ring.name {
            true => name.clone(),
            false => format!("{name} {}", ring.name),
        })
        .collect();
    html! {
        strong { (title(dial)) } @if groups > 1 { ", dial " (group) " of " (groups) } ". "
        "Rings from inside: " (rings.join(", ")) ". "
        "Seats " (dial.seats.join(", ")) "."
        @if !dial.alike.is_empty() { " The same at " (alike(dial)) "." }
        @if !dial.never.is_empty() { " At no angle: " (dial.never.join(", ")) "." }
    }
}

/// `side 2 (all angles +90), side 3 (+180)`.
fn alike(dial: &ReachedDial) -> String {
    let mut more = " at all angles";
    let side = |(side, turn_deg): &(u32, f64)| {
        let told = format!("side {side} ({}{more})", angle(*turn_deg));
        more = "";
        told
    };
    dial.alike.iter().map(side).collect::<Vec<_>>().join(", ")
}

/// Tools and faces without a dial, and why.
fn without(dials: &[ReachedDial]) -> Markup {
    let names = |chosen: &dyn Fn(&ReachedDial) -> bool| {
        let chosen = dials.iter().filter(|dial| chosen(dial));
        chosen.map(title).collect::<Vec<_>>().join("; ")
    };
    let never = names(&|dial| dial.has_bands && !has_arcs(dial));
    let drills = names(&|dial| !dial.has_bands && dial.of == DialOf::Tool);
    html! {
        @if !never.is_empty() { p { "Surely no angle, so no dial: " (never) "." } }
        @if !drills.is_empty() {
            p { "Without a dial, as a drill reaches a bore at its own angle and at no other: " (drills) "." }
        }
    }
}

/// The same values for eyes that do not see the pictures, and for the paper.
fn table(page: &PageShow, frame: &Dial, dials: &[ReachedDial]) -> Markup {
    html! {
        table {
            caption { "The same as a table" }
            thead { tr {
                th scope="col" { "tool" } th scope="col" { "side" } th scope="col" { "face" }
                th scope="col" { "angles" } th scope="col" { "narrowest at seat" }
            } }
            tbody {
                @for dial in dials.iter().filter(|dial| has_arcs(dial)) {
                    @for ring in &dial.rings {
                        tr {
                            th scope="row" { (dial.name) }
                            td { (dial.side) }
                            td.face { (ring.ring.name) }
                            td { (arcs(frame, ring)) (rests(page, dial, ring)) }
                            td { @if let Some(seat) = &ring.worst_seat { (seat) } @else { "–" } }
                        }
                    }
                }
            }
        }
    }
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
