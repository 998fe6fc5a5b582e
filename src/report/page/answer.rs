//! The answer first, and the table of cuts by index.

use super::number::count;
use super::{PageShow, Section, chip, mark_chip, section, wide};
use crate::answer::check::model::{CutAnswer, Outcome, Verdict};
use crate::report::mark::word;
use crate::report::text::headline;
use crate::report::text::words::{outcome, see_troubles};
use maud::{Markup, html};
use std::collections::HashMap;

pub(super) fn header(page: &PageShow) -> Markup {
    let answer = page.show.report.answer;
    html! {
        header {
            p.kind { "Lapidary check of a setup" }
            h1 { (answer.title) }
            p { "on " (answer.machine) "; lengths in " (page.show.lengths.name()) ", angles in degrees; "
                (page.options.date) }
        }
    }
}

pub(super) fn answer(page: &PageShow) -> Option<Section> {
    let answer = page.show.report.answer;
    let choice = headline::choice(&page.show);
    let counts = &answer.outcomes;
    let rows = [
        ("clear", Verdict::Clear, "reached and clear", counts.clear),
        ("close", Verdict::Close, "reached but close", counts.close),
        (
            "short_of_travel",
            Verdict::Clash,
            "short of travel",
            counts.short_of_travel,
        ),
        ("blocked", Verdict::Clash, "blocked", counts.blocked),
        (
            "facing_away",
            Verdict::Clash,
            "facing away",
            counts.facing_away,
        ),
        ("unknown", Verdict::Unknown, "unknown", counts.unknown),
    ];
    let class = format!("answer {}", word(answer.verdict));
    let body = html! {
        p class=(class) { (mark_chip(answer.verdict)) " " (headline::first_line(&page.show)) }
        @if !choice.is_empty() {
            p { strong { "Only a part was checked: " } (choice.join("; ")) }
        }
        table.small {
            caption { "Cut places by outcome" }
            thead { tr { th scope="col" { "outcome" } th.num scope="col" { "cut places" } } }
            tbody {
                @for (key, verdict, name, number) in rows {
                    @if number > 0 {
                        tr {
                            th scope="row" { (mark_chip(verdict)) " " (name) }
                            td.num { (count(&format!("/answer/outcomes/{key}"), number)) }
                        }
                    }
                }
            }
        }
    };
    section("answer", "The answer", body)
}

pub(super) fn cuts(page: &PageShow) -> Option<Section> {
    let rows = rows(&page.show.report.answer.cuts);
    if rows.is_empty() {
        return None;
    }
    let table = html! {
        table {
            caption { "At each index the seat where it is tightest" }
            thead { tr {
                th scope="col" { "cut" } th scope="col" { "tool" } th scope="col" { "index" }
                th scope="col" { "verdict" } th.num scope="col" { "seats clear" }
                th.num scope="col" { "least gap" } th.num scope="col" { "wanted" }
                th scope="col" { "seat and bodies" }
            } }
            tbody { @for row in &rows { (cut_row(page, row)) } }
        }
    };
    section("cuts", "Cuts by index", wide("Cuts by index", table))
}

/// All seats of one cut at one index; positions count in the answer.
struct Row<'a> {
    worst: usize,
    cut: &'a CutAnswer,
    seats: usize,
    clear: usize,
}

fn rows(cuts: &[CutAnswer]) -> Vec<Row<'_>> {
    let spare_mm = |cut: &CutAnswer| {
        let least = cut.least.as_ref();
        least.map_or(f64::INFINITY, |least| least.gap.lo_mm - least.wanted_mm)
    };
    let mut rows: Vec<Row> = Vec::new();
    let mut known: HashMap<(&str, Option<u64>), usize> = HashMap::new();
    for (at, cut) in cuts.iter().enumerate() {
        let key = (cut.cut.as_str(), cut.index_deg.map(f64::to_bits));
        let row = *known.entry(key).or_insert_with(|| {
            rows.push(Row {
                worst: at,
                cut,
                seats: 0,
                clear: 0,
            });
            rows.len() - 1
        });
        let row = &mut rows[row];
        row.seats += 1;
        row.clear += usize::from(cut.verdict == Verdict::Clear);
        let worse = cut.verdict > row.cut.verdict
            || (cut.verdict == row.cut.verdict && spare_mm(cut) < spare_mm(row.cut));
        if worse {
            (row.worst, row.cut) = (at, cut);
        }
    }
    rows
}

fn cut_row(page: &PageShow, row: &Row) -> Markup {
    let cut = row.cut;
    let at = format!("/answer/cuts/{}", row.worst);
    html! {
        tr {
            th.words scope="row" { (cut.cut) }
            td { "T" (cut.tool) }
            td { @match cut.index_deg {
                Some(deg) => { (page.index(&format!("{at}/index_deg"), deg)) }
                None => "none",
            } }
            td.verdict { (chip(cut.verdict)) @if cut.outcome != Outcome::Reached {
                br; small { (outcome(cut.outcome)) }
            } }
            td.num { (row.clear) " of " (row.seats) }
            @match &cut.least {
                Some(least) => {
                    td.num { (page.gap(&format!("{at}/least/gap"), &least.gap)) }
                    td.num { (page.near(&format!("{at}/least/wanted_mm"), least.wanted_mm)) }
                    td.words { (cut.seat) ": " (least.element_body) " to " (least.body)
                        (see_troubles(least, cut.verdict)) (missing(page, cut, "; ", &at)) }
                }
                None => { td.num { "–" } td.num { "–" } td { (cut.seat) (missing(page, cut, ": ", &at)) } }
            }
        }
    }
}

/// The axis that is short, and by how much.
pub(super) fn missing(page: &PageShow, cut: &CutAnswer, lead: &str, at: &str) -> Markup {
    html! {
        @if let Some((axis, used)) = cut.short_axis() {
            (lead) (used.axis) " short, spare "
            (page.down(&format!("{at}/travel/{axis}/spare_mm"), used.spare_mm))
        }
    }
}
