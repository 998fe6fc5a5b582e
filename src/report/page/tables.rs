//! Setting list, index moves and tool changes.

use super::{PageShow, Section, chip, section, wide};
use crate::answer::check::model::{IndexMoveAnswer, Measured, ToolLengths, Verdict};
use crate::report::text::lengths::by;
use crate::report::text::motion::{named, spare_mm};
use crate::report::text::words::pair;
use maud::{Markup, html};

pub(super) fn setting_list(page: &PageShow) -> Option<Section> {
    let tools = &page.show.report.answer.lengths;
    if tools.is_empty() {
        return None;
    }
    let table = html! {
        table {
            caption { "Gauge lengths as set, and the range that keeps every wanted gap" }
            thead { tr {
                th scope="col" { "tool" } th scope="col" { "name" } th.num scope="col" { "set" }
                th.num scope="col" { "shortest" } th scope="col" { "set by" }
                th.num scope="col" { "longest" } th scope="col" { "set by" }
            } }
            tbody { @for (number, tool) in tools.iter().enumerate() { (length_row(page, number, tool)) } }
        }
    };
    section("setting", "Setting list", wide("Setting list", table))
}

fn length_row(page: &PageShow, number: usize, tool: &ToolLengths) -> Markup {
    let at = format!("/answer/lengths/{number}");
    let why = |text: String| text.trim_start_matches([':', ' ']).to_owned();
    let crossed = tool.shortest_mm.zip(tool.longest_mm);
    let crossed = crossed.is_some_and(|(shortest_mm, longest_mm)| shortest_mm > longest_mm);
    html! {
        tr {
            th scope="row" { "T" (tool.tool) }
            td.words { (tool.name) }
            td.num { (page.near(&format!("{at}/set_mm"), tool.set_mm)) }
            td.num { @match tool.shortest_mm {
                Some(mm) => (page.up(&format!("{at}/shortest_mm"), mm)),
                None => "not found",
            } }
            td.words { (why(by(&tool.shortest_by))) }
            td.num { @match tool.longest_mm {
                Some(mm) => (page.down(&format!("{at}/longest_mm"), mm)),
                None => "not found",
            } }
            td.words { (why(by(&tool.longest_by))) @if crossed { br; strong { "no length does both" } } }
        }
    }
}

pub(super) fn moves(page: &PageShow) -> Option<Section> {
    let answer = page.show.report.answer;
    if answer.index_moves.is_empty() && answer.tool_changes.is_empty() {
        return None;
    }
    let clear = |verdicts: &mut dyn Iterator<Item = Verdict>| {
        verdicts
            .filter(|verdict| *verdict == Verdict::Clear)
            .count()
    };
    let moves_clear = clear(&mut answer.index_moves.iter().map(|step| step.verdict));
    let changes_clear = clear(&mut answer.tool_changes.iter().map(|change| change.verdict));
    let table = html! {
        table {
            caption { "The tightest index move of each tool" }
            thead { tr {
                th scope="col" { "tool" } th scope="col" { "verdict" } th scope="col" { "from" } th scope="col" { "to" }
                th.num scope="col" { "least gap" } th.num scope="col" { "wanted" }
                th scope="col" { "bodies" } th scope="col" { "between" }
            } }
            tbody { @for number in tightest(&answer.index_moves) { (move_row(page, number)) } }
        }
    };
    let body = html! {
        p { (answer.index_moves.len()) " index moves, " (moves_clear) " clear; "
            (answer.tool_changes.len()) " tool changes, " (changes_clear) " clear." }
        @if !answer.index_moves.is_empty() { (wide("Index moves", table)) }
    };
    section("moves", "Index moves and tool changes", body)
}

/// The tool's or the work's least gap, with the name that it has in the JSON.
fn tighter(step: &IndexMoveAnswer) -> Option<(&'static str, &Measured)> {
    let tool = step.least.as_ref().map(|least| ("least", least));
    let work = step.work_least.as_ref().map(|least| ("work_least", least));
    let key = |least: &Measured| (least.verdict, least.gap.lo_mm - least.wanted_mm);
    match (tool, work) {
        (Some(tool), Some(work)) => {
            let ((tool_verdict, tool_mm), (work_verdict, work_mm)) = (key(tool.1), key(work.1));
            let worse =
                work_verdict > tool_verdict || (work_verdict == tool_verdict && work_mm < tool_mm);
            Some(if worse { work } else { tool })
        }
        (tool, work) => tool.or(work),
    }
}

/// Positions of the worst move of each tool, in the order in which the tools first move.
fn tightest(moves: &[IndexMoveAnswer]) -> Vec<usize> {
    let mut worst: Vec<usize> = Vec::new();
    for (at, step) in moves.iter().enumerate() {
        let spare = |step: &IndexMoveAnswer| spare_mm(tighter(step).map(|(_, least)| least));
        match worst
            .iter_mut()
            .find(|other| moves[**other].tool == step.tool)
        {
            None => worst.push(at),
            Some(other) => {
                let before = &moves[*other];
                let worse = step.verdict > before.verdict
                    || (step.verdict == before.verdict && spare(step) < spare(before));
                if worse {
                    *other = at;
                }
            }
        }
    }
    worst
}

fn move_row(page: &PageShow, number: usize) -> Markup {
    let step = &page.show.report.answer.index_moves[number];
    let at = format!("/answer/index_moves/{number}");
    html! {
        tr {
            th scope="row" { "T" (step.tool) }
            td.verdict { (chip(step.verdict)) }
            td { (page.index(&format!("{at}/from_deg"), step.from_deg)) }
            td { (page.index(&format!("{at}/to_deg"), step.to_deg)) }
            @match tighter(step) {
                Some((key, least)) => {
                    td.num { (page.gap(&format!("{at}/{key}/gap"), &least.gap)) }
                    td.num { (page.near(&format!("{at}/{key}/wanted_mm"), least.wanted_mm)) }
                    td.words { (pair(least)) }
                }
                None => { td.num { "–" } td.num { "–" } td { "nothing measured" } }
            }
            td.words { (named(&step.after)) " and " (named(&step.before)) }
        }
    }
}
