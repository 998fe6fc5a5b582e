//! Each trouble with its gap drawing and remedies, and the tightest place of each tool.

use super::answer::missing;
use super::{PageShow, Section, chip, gap, mark_chip, section, travel};
use crate::answer::check::model::{CutAnswer, Trouble, TroubleKind, Verdict};
use crate::answer::drawing::model::{Site, ToolPlace};
use crate::report::mark::word;
use crate::report::text::motion::named;
use crate::report::text::words::{index, outcome, pair, phase};
use crate::report::text::{remedy, troubles as words};
use maud::{Markup, html};

pub(super) fn troubles(page: &PageShow) -> Option<Section> {
    let list = &page.show.report.answer.troubles;
    let body = html! {
        @if list.is_empty() { p { "There is no trouble." } }
        @for (number, trouble) in list.iter().enumerate() { (trouble_article(page, number, trouble)) }
    };
    section("troubles", "Troubles, the worst first", body)
}

fn trouble_article(page: &PageShow, number: usize, trouble: &Trouble) -> Markup {
    let show = &page.show;
    let id = format!("trouble-{}", number + 1);
    let mut lines = vec![words::when(trouble, show)];
    lines.extend(
        trouble
            .worst
            .iter()
            .flat_map(|worst| words::place(worst, show)),
    );
    lines.extend(words::elsewhere(&trouble.places, show));
    lines.extend(trouble.note.clone());
    lines.retain(|line| !line.is_empty());
    let at = format!("/answer/troubles/{number}");
    let drawing = page.drawings.troubles.get(number).and_then(Option::as_ref);
    html! {
        article aria-labelledby=(id) {
            h3 id=(id) {
                (mark_chip(trouble.verdict)) " " (number + 1) ". " (words::title(trouble, show))
            }
            ul { @for line in &lines { li { (line) } } }
            (mends(page, trouble))
            @match drawing {
                Some(drawing) => (gap::figure(page, &id, &format!("{at}/worst"), drawing, "")),
                None => (no_drawing(page, trouble, &id)),
            }
        }
    }
}

fn mends(page: &PageShow, trouble: &Trouble) -> Markup {
    let list = &trouble.remedies;
    html! {
        @if !list.is_empty() {
            h4 { "What mends it" @if list.len() > 1 { " (each tried; one is enough)" } @else { " (tried)" } }
            ul.mends { @for mend in list { li { (remedy::words(mend, page.show.lengths)) } } }
        } @else if page.show.report.options.remedies && trouble.verdict != Verdict::Unknown {
            p { "No remedy was found." }
        }
    }
}

/// A trouble without two points: its axis bar, or why there is no picture.
fn no_drawing(page: &PageShow, trouble: &Trouble, id: &str) -> Markup {
    let short = trouble.kind == TroubleKind::ShortOfTravel;
    let cuts = page.show.report.answer.cuts.iter().enumerate();
    let mut cuts = cuts.filter(|(_, cut)| {
        Some(&cut.cut) == trouble.cut.as_ref() && Some(&cut.seat) == trouble.seat.as_ref()
    });
    let used = cuts.find_map(|(at, cut)| {
        let axis = cut
            .travel
            .iter()
            .position(|used| Some(&used.axis) == trouble.axis.as_ref())?;
        Some((
            format!("/answer/cuts/{at}/travel/{axis}"),
            &cut.travel[axis],
        ))
    });
    match used {
        Some((at, used)) if short => travel::figure(page, id, &at, used),
        _ => {
            html! { p.quiet { "No two nearest points belong to this trouble, so there is no gap drawing." } }
        }
    }
}

pub(super) fn tightest(page: &PageShow) -> Option<Section> {
    let tools = &page.drawings.tools;
    if tools.is_empty() {
        return None;
    }
    let body = html! { @for place in tools { (tool_article(page, place)) } };
    section("tightest", "Tightest place of each tool", body)
}

fn tool_article(page: &PageShow, place: &ToolPlace) -> Markup {
    let id = format!("tool-{}", place.tool);
    let answer = page.show.report.answer;
    let name = answer.tools.iter().find(|tool| tool.number == place.tool);
    let (at, site) = site(page, place.site);
    let at = format!("{at}/least");
    let measured = &place.measured;
    let not_reached = place.not_reached.map(|at| (at, &answer.cuts[at]));
    let also = not_reached.map_or_else(String::new, |(_, cut)| not_reached_words(page, cut));
    html! {
        article aria-labelledby=(id) {
            h3 id=(id) { "T" (place.tool) " " @if let Some(tool) = name { (tool.name) } }
            p {
                (chip(measured.verdict)) ": gap " (page.gap(&format!("{at}/gap"), &measured.gap))
                ", wanted " (page.near(&format!("{at}/wanted_mm"), measured.wanted_mm))
                "; " (pair(measured)) "; " (site)
            }
            @if let Some((at, cut)) = not_reached {
                p {
                    (chip(cut.verdict)) ": " (NOT_REACHED) (outcome(cut.outcome))
                    (missing(page, cut, ": ", &format!("/answer/cuts/{at}"))) "."
                }
            }
            @match (place.trouble, &place.drawing) {
                (Some(trouble), _) => p {
                    a href=(format!("#trouble-{}", trouble + 1)) { "Drawn at trouble " (trouble + 1) }
                },
                (None, Some(drawing)) => (gap::figure(page, &id, &at, drawing, &also)),
                (None, None) => p.quiet { "Nothing comes near enough to be drawn." },
            }
        }
    }
}

/// What must not be read out of the chip of a gap.
const NOT_REACHED: &str = "the cut itself is not reached there, whatever the gap: ";

fn not_reached_words(page: &PageShow, cut: &CutAnswer) -> String {
    let short = cut.short_axis().map_or_else(String::new, |(_, used)| {
        let spare = page.show.lengths.down(used.spare_mm);
        format!(": {} short, spare {spare}", used.axis)
    });
    let (verdict, outcome) = (word(cut.verdict), outcome(cut.outcome));
    format!(" {verdict}: {NOT_REACHED}{outcome}{short}.")
}

/// JSON place and words of a site.
fn site(page: &PageShow, site: Site) -> (String, String) {
    let answer = page.show.report.answer;
    let rotary = &answer.turning.rotary;
    match site {
        Site::Cut(at) => {
            let cut = &answer.cuts[at];
            let angle = cut
                .index_deg
                .map(|deg| format!(" at {}", index(rotary, deg)));
            let when = cut.least.as_ref().map_or("", |least| phase(least.phase));
            let words = format!(
                "cut \"{}\", seat {}{}, {when}",
                cut.cut,
                cut.seat,
                angle.unwrap_or_default()
            );
            (format!("/answer/cuts/{at}"), words)
        }
        Site::IndexMove(at) => {
            let step = &answer.index_moves[at];
            let (from, to) = (index(rotary, step.from_deg), index(rotary, step.to_deg));
            let words = format!(
                "while the carrier turns {from} to {to}, from {} to {}",
                named(&step.after),
                named(&step.before)
            );
            (format!("/answer/index_moves/{at}"), words)
        }
        Site::ToolChange(at) => {
            let change = &answer.tool_changes[at];
            let words = format!("at the tool change at {}", index(rotary, change.index_deg));
            (format!("/answer/tool_changes/{at}"), words)
        }
    }
}
