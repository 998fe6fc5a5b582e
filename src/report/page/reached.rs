//! Where tools reach: a dial for each tool with a ring for each face, one for each face with a ring
//! for each tool, and the same as a table. Arcs, or beads at the single angles asked about.

use super::dial::{RINGS, figure, ring_words};
use super::number::{count, tagged};
use super::{PageShow, Section, mark_chip, section, wide};
use crate::answer::check::model::{CutAnswer, Verdict};
use crate::answer::drawing::model::{
    Arc, BandEnd, Dial, DialOf, MarkPlace, ReachedBy, ReachedDial, ReachedRing, Ring,
};
use crate::report::Reached;
use crate::report::reach::assumed;
use crate::report::text::number::angle;

use crate::value::wrap_deg;
use maud::{Markup, html};

/// An angle this little off a number of three places, in thousandths, is that number.
const ROUNDING: f64 = 1e-6;

/// Where the answer stands in the JSON of `check`.
const REACH: &str = "/reached";

const NOT_ASKED: &str = "At which rotary angles each tool reaches each face was not asked for this page (--reached=none); \
     lapidary report without that adds a dial for each tool and each face.";

const NO_DIAL: &str =
    "There is no index dial for this machine: where tools reach is not on this page.";

pub(super) fn reached(page: &PageShow) -> Option<Section> {
    let asked_for = (
        &page.drawings.dial,
        page.show.report.reached,
        &page.options.reached,
    );
    let (Some(dial), Some(reached), Some(dials)) = asked_for else {
        let text = match page.show.report.reached {
            None => NOT_ASKED,
            Some(_) => NO_DIAL,
        };
        return section("reached", "Where tools reach", html! { p { (text) } });
    };
    let steps = matches!(reached.by, ReachedBy::Steps { .. });
    let body = html! {
        (asked(dial, &reached))
        ul.legend {
            li { (mark_chip(Verdict::Clear)) " reached: proved at every "
                @if steps { "seat of the side, at this very angle" } @else { "angle of the arc, at every seat of the side" } }
            li { (mark_chip(Verdict::Unknown)) " unknown: reached or not" }
            li {
                @if steps { "no bead at an angle asked about" } @else { "no arc" }
                ": at least one seat of the side surely is not reached"
            }
        }
        h3 { "Each tool, with a ring for each face" }
        (figures(dial, &dials.tools, "by-tool", steps))
        (without(&dials.tools, steps))
        h3 { "Each face, with a ring for each tool" }
        (figures(dial, &dials.faces, "by-face", steps))
        (without(&dials.faces, steps))
        @if dials.tools.iter().any(has_rings) { (wide("Where tools reach", table(page, dial, &dials.tools, steps))) }
        p { "This takes for granted:" }
        ul { @for assumption in &reached.answer.assumes { li { (assumed(*assumption)) } } }
    };
    section("reached", "Where tools reach", body)
}

/// What was asked, and what was not.
fn asked(frame: &Dial, reached: &Reached<'_>) -> Markup {
    let options = reached.options;
    let percent = (reached.options.from_share * 1e6).round() / 1e4;
    html! {
        p {
            "A face counts as reached where at least " (percent) " % of it is, by a tool that comes down along the \
             spindle with every wanted gap kept. "
            @match reached.by {
                ReachedBy::Bands => {
                    "Ends of arcs are found to some " (options.bands_to_deg) " degrees: what lies between is unknown."
                }
                ReachedBy::Steps { .. } => {
                    "It was asked at " (steps_asked(frame, reached)) ". Between these angles nothing is told: \
                     lapidary report with --reached finds the arcs, which takes minutes."
                }
            }
        }
        ul {
            @for (number, part) in reached.answer.parts.iter().enumerate() {
                li {
                    (part.part) " (" (part.state) "): " (part.faces.len()) " faces asked about"
                    @if part.other_faces > 0 {
                        @let at = format!("{REACH}/answer/parts/{number}");
                        ", "
                        @if options.faces.is_empty() { "the largest" }
                        @if !options.bores_mm.is_empty() { " and the bores that a drill makes" }
                        @if options.faces.is_empty() { "; " }
                        (count(&format!("{at}/other_faces"), part.other_faces)) " others, together "
                        (tagged(&format!("{at}/other_area_mm2"), part.other_area_mm2, &format!("{:.0}", part.other_area_mm2)))
                        " mm2, not (see --most-faces, --face)"
                    }
                    "."
                }
            }
        }
        p { "The same numbers for a program: " code { (command(reached)) } }
    }
}

/// What asks for the same numbers.
fn command(reached: &Reached<'_>) -> String {
    let options = reached.options;
    let how = match reached.by {
        ReachedBy::Bands => format!("--reached --bands-to {}", options.bands_to_deg),
        ReachedBy::Steps { .. } => "--reached=steps".to_owned(),
    };
    let mut words = format!(
        "lapidary check JOB --format json {how} --share {}",
        reached.options.from_share
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

/// Whether there is more than a ring of cuts.
fn has_rings(dial: &ReachedDial) -> bool {
    dial.rings.iter().any(|ring| ring.place.is_some())
}

/// `T3, housing, side 1`.
fn title(dial: &ReachedDial) -> String {
    format!("{}, {}, side {}", dial.name, dial.part, dial.side)
}

/// Dials that have an arc or a mark; of more rings than one dial takes, more dials.
fn figures(frame: &Dial, dials: &[ReachedDial], id: &str, steps: bool) -> Markup {
    html! {
        div.dials {
            @for (number, dial) in dials.iter().enumerate().filter(|(_, dial)| has_rings(dial)) {
                @let groups: Vec<&[ReachedRing]> = dial.rings.chunks(RINGS).collect();
                @for (group, rings) in groups.iter().enumerate() {
                    @let named = named(dial.of, rings);
                    @let of = (group + 1, groups.len());
                    @let caption = caption(dial, &named, of, steps);
                    @let words = words(frame, rings);
                    (figure(frame, &named, &format!("{id}-{}-{}", number + 1, group + 1), (&title(dial), &words, caption)))
                }
            }
        }
    }
}

/// Rings with what stands on them: tools their number, faces a letter, as their names are long.
fn named(of: DialOf, rings: &[ReachedRing]) -> Vec<(String, &Ring)> {
    let mut letters = 'a'..='z';
    let mut name = |ReachedRing { ring, place, .. }: &ReachedRing| match of {
        DialOf::Face => ring.name.clone(),
        DialOf::Tool if place.is_none() => ring.name.clone(),
        DialOf::Tool => letters.next().map(String::from).unwrap_or_default(),
    };
    let rings = rings.iter();
    rings.map(|ring| (name(ring), &ring.ring)).collect()
}

fn caption(
    dial: &ReachedDial,
    named: &[(String, &Ring)],
    (group, groups): (usize, usize),
    steps: bool,
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
        @if !dial.not_made.is_empty() {
            @match dial.of {
                DialOf::Tool => " Not what it makes: ",
                DialOf::Face => " Of a kind that does not make it: ",
            }
            (dial.not_made.join(", ")) "."
        }
        @if !dial.never.is_empty() { @if steps { " At no angle asked about: " } @else { " At no angle: " } (dial.never.join(", ")) "." }
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
fn without(dials: &[ReachedDial], steps: bool) -> Markup {
    let names = |chosen: &dyn Fn(&ReachedDial) -> bool| {
        let chosen = dials.iter().filter(|dial| chosen(dial));
        chosen.map(title).collect::<Vec<_>>().join("; ")
    };
    let empty = |dial: &ReachedDial| dial.is_asked && !has_rings(dial);
    let not_made = names(&|dial| empty(dial) && dial.never.is_empty());
    let never = names(&|dial| empty(dial) && !dial.never.is_empty());
    let drills = names(&|dial| !dial.is_asked && dial.of == DialOf::Tool);
    html! {
        @if !not_made.is_empty() {
            p { "Without a dial, as the tools asked about do not make such faces: " (not_made) "." }
        }
        @if !never.is_empty() { p { "Surely no angle" @if steps { " asked about" } ", so no dial: " (never) "." } }
        @if !drills.is_empty() {
            p { "Without a dial, as a drill reaches a bore at its own angle and at no other: " (drills) "." }
        }
    }
}

/// The same values for eyes that do not see the pictures, and for the paper.
fn table(page: &PageShow, frame: &Dial, dials: &[ReachedDial], steps: bool) -> Markup {
    html! {
        table {
            caption { "The same as a table" }
            thead { tr {
                th scope="col" { "tool" } th scope="col" { "side" } th scope="col" { "face" }
                th scope="col" { "angles" } th scope="col" { @if steps { "fewest at seat" } @else { "narrowest at seat" } }
            } }
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

/// Verdicts of marks, with the word for each.
const MARKS: [(Verdict, &str); 2] = [
    (Verdict::Clear, "reached at"),
    (Verdict::Unknown, "unknown at"),
];

/// Angles of the marks of one verdict, each with its place in the lists of the answer.
fn marked(ring: &ReachedRing, verdict: Verdict) -> Vec<(f64, MarkPlace)> {
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

/// What a dial shows, in words.
fn words(frame: &Dial, rings: &[ReachedRing]) -> String {
    let ring = |ring: &ReachedRing| {
        if ring.marks.is_empty() {
            return ring_words(frame, &ring.ring);
        }
        let of = |(verdict, said): (Verdict, &str)| {
            let marks = marked(ring, verdict);
            let angles = marks.iter().map(|(index_deg, _)| angle(*index_deg));
            let angles: Vec<String> = angles.map(|shown| frame.rotary.clone() + &shown).collect();
            (!angles.is_empty()).then(|| format!("{said} {}", angles.join(", ")))
        };
        let all: Vec<String> = MARKS.into_iter().filter_map(of).collect();
        format!("{}: {}", ring.ring.name, all.join("; "))
    };
    rings.iter().map(ring).collect::<Vec<_>>().join(". ") + "."
}

/// The angles asked about: as a step where they are nothing but that, otherwise each.
fn steps_asked(frame: &Dial, reached: &Reached<'_>) -> Markup {
    let (all, every_deg) = (&reached.answer.indexes_deg, reached.options.every_deg);
    let shown = |index_deg: f64| format!("{}{}", frame.rotary, angle(index_deg));
    let on_step = |(number, index_deg): (usize, &f64)| {
        (all[0] + number as f64 * every_deg - index_deg).abs() < ROUNDING
    };
    let even = all.iter().enumerate().all(on_step);
    let tag = |(number, index_deg): (usize, &f64)| {
        tagged(
            &format!("{REACH}/answer/indexes_deg/{number}"),
            *index_deg,
            &shown(*index_deg),
        )
    };
    html! {
        @match (all.first(), all.last()) {
            (Some(first), Some(last)) if even => {
                "every " (every_deg) " degrees from " (tag((0, first))) " to " (tag((all.len() - 1, last)))
                " (" (all.len()) " angles)"
            }
            _ => {
                (all.len()) " angles:"
                @for (number, index_deg) in all.iter().enumerate() {
                    @if number > 0 { "," } " " (tag((number, index_deg)))
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
