//! Where tools reach: a dial for each tool with a ring for each face, one for each face with a ring
//! for each tool. Arcs, or beads at the single angles asked about. The same as tables: `reached_table`.

use super::dial::{RINGS, figure, ring_words};
use super::number::{count, tagged};
use super::reached_table::{MARKS, REACH, ROUNDING, by_face, by_tool, marked};
use super::{PageShow, Section, mark_chip, section, wide};
use crate::answer::check::model::Verdict;
use crate::answer::drawing::model::{Dial, DialOf, ReachedBy, ReachedDial, ReachedRing, Ring};
use crate::answer::reach::ReachOptions;
use crate::answer::reach::model::PartReach;
use crate::report::Reached;
use crate::report::reach::assumed;
use crate::report::text::number::angle;
use maud::{Markup, html};

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
    let all_faces = || dials.faces.iter().chain(&dials.other_faces);
    let body = html! {
        (asked(dial, &reached))
        @if !dials.other_faces.is_empty() { (large(&dials.faces)) }
        (legend(steps))
        h3 { "Each tool, with a ring for each large face" }
        (figures(dial, &dials.tools, "by-tool", steps))
        (without_tools(&dials.tools, steps))
        h3 { "Each face, with a ring for each tool" }
        (figures(dial, &dials.faces, "by-face", steps))
        (others(dial, &dials.other_faces, steps))
        (without_faces(all_faces(), steps))
        @if dials.tools.iter().any(has_rings) { (wide("Where tools reach", by_tool(page, dial, &dials.tools, steps))) }
        p { "This takes for granted:" }
        ul { @for assumption in &reached.answer.assumes { li { (assumed(*assumption)) } } }
    };
    section("reached", "Where tools reach", body)
}

/// Which faces have rings on dials of tools.
fn large(faces: &[ReachedDial]) -> Markup {
    let count: usize = faces.iter().map(|dial| 1 + dial.also.len()).sum();
    html! {
        p {
            "A tool's dial has rings for the large faces, the first " (count) " by area, and a drill's for all faces \
             that it reaches. Every face that a tool reaches has a dial of its own; faces that are reached alike share \
             one. Where on the part a face is, lapidary features tells: give it the part's file."
        }
    }
}

fn legend(steps: bool) -> Markup {
    html! {
        ul.legend {
            li { (mark_chip(Verdict::Clear)) " reached: proved at every "
                @if steps { "seat of the side that was asked about, at this very angle" } @else { "angle of the arc, at every seat of the side that was asked about" } }
            li { (mark_chip(Verdict::Unknown)) " unknown: reached or not" }
            li {
                @if steps { "no bead at an angle asked about" } @else { "no arc" }
                ": at least one of these seats surely is not reached"
            }
        }
    }
}

/// Dials of the smaller faces, folded up so that the page stays short, with a table of their own.
fn others(frame: &Dial, dials: &[ReachedDial], steps: bool) -> Markup {
    let shown: Vec<&ReachedDial> = dials.iter().filter(|dial| has_rings(dial)).collect();
    let faces: usize = shown.iter().map(|dial| 1 + dial.also.len()).sum();
    html! {
        @if !shown.is_empty() {
            details.others {
                summary {
                    (shown.len()) @if shown.len() == 1 { " more dial" } @else { " more dials" }
                    ", of " (faces) @if faces == 1 { " smaller face" } @else { " smaller faces" }
                    ", with a table; printed only if unfolded"
                }
                (figures(frame, dials, "by-other", steps))
                (wide("Where tools reach smaller faces", by_face(frame, &shown, steps)))
            }
        }
    }
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
                    @if part.other_faces > 0 { (not_asked(options, number, part)) }
                    "."
                }
            }
        }
        p { "The same numbers for a program: " code { (command(reached)) } }
    }
}

/// Which faces of a part were not asked about, and what asks about them.
fn not_asked(options: &ReachOptions, number: usize, part: &PartReach) -> Markup {
    let at = format!("{REACH}/answer/parts/{number}");
    let (named, least) = (!options.faces.is_empty(), options.most_faces.is_none());
    let area = format!("{:.0}", part.other_area_mm2);
    html! {
        @if !named && !least {
            ", the largest" @if !options.bores_mm.is_empty() { " and the bores that a drill makes" }
        }
        "; " (count(&format!("{at}/other_faces"), part.other_faces)) " others"
        @if !named && least { ", each of less than " (options.least_area_mm2) " mm2" }
        ", together " (tagged(&format!("{at}/other_area_mm2"), part.other_area_mm2, &area)) " mm2, not: "
        @if !named && !least { "--most-faces asks about more, " }
        "--face about one by its name"
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
pub(super) fn has_rings(dial: &ReachedDial) -> bool {
    dial.rings.iter().any(|ring| ring.place.is_some())
}

/// `T3, housing, side 1`; faces with the same rings are all named.
fn title(dial: &ReachedDial) -> String {
    format!("{}, {}, side {}", names(dial), dial.part, dial.side)
}

pub(super) fn names(dial: &ReachedDial) -> String {
    let also = dial.also.iter().map(String::as_str);
    let all: Vec<&str> = std::iter::once(dial.name.as_str()).chain(also).collect();
    all.join(", ")
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
        @if !dial.alike.is_empty() {
            @let cuts = dial.rings.iter().any(|ring| ring.place.is_none());
            @if cuts { " Cuts aside, the same at " } @else { " The same at " } (alike(dial)) "."
        }
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

/// Tools without a dial, and why.
fn without_tools(dials: &[ReachedDial], steps: bool) -> Markup {
    let drills = |dial: &&ReachedDial| !dial.is_asked;
    let drills: Vec<String> = dials.iter().filter(drills).map(title).collect();
    html! {
        (empty(dials.iter(), [
            "the tool makes none of these faces",
            if steps { "the tool surely reaches none of these faces at any angle asked about" }
            else { "the tool surely reaches none of these faces at any angle" },
        ]))
        @if !drills.is_empty() {
            p { "Without a dial, as a drill reaches a bore at its own angle and at no other: " (drills.join("; ")) "." }
        }
    }
}

/// Faces without a dial, and why.
fn without_faces<'d>(dials: impl Iterator<Item = &'d ReachedDial> + Clone, steps: bool) -> Markup {
    let never = match steps {
        true => "surely reached at no angle asked about",
        false => "surely reached at no angle",
    };
    empty(
        dials,
        ["the tools asked about do not make such faces", never],
    )
}

/// What was asked about and has no ring, by part and side.
fn empty<'d>(
    dials: impl Iterator<Item = &'d ReachedDial> + Clone,
    [why_not_made, why_never]: [&str; 2],
) -> Markup {
    let lists = |is_never: bool| {
        let mut lists: Vec<(&ReachedDial, Vec<&str>)> = Vec::new();
        let empty = dials
            .clone()
            .filter(|dial| dial.is_asked && !has_rings(dial));
        for dial in empty.filter(|dial| dial.never.is_empty() != is_never) {
            let same = |(other, _): &&mut (&ReachedDial, _)| {
                (&other.part, other.side) == (&dial.part, dial.side)
            };
            match lists.iter_mut().find(same) {
                Some((_, names)) => names.push(&dial.name),
                None => lists.push((dial, vec![&dial.name])),
            }
        }
        let told = lists.iter().map(|(dial, names)| {
            let same = match dial.alike[..] {
                [] => String::new(),
                _ => format!(" (the same at {})", alike(dial)),
            };
            let (part, side) = (&dial.part, dial.side);
            format!("{part}, side {side}{same}: {}", names.join(", "))
        });
        told.collect::<Vec<_>>().join("; ")
    };
    html! {
        @for (why, list) in [(why_not_made, lists(false)), (why_never, lists(true))] {
            @if !list.is_empty() { p { "Without a dial, as " (why) ": " (list) "." } }
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
