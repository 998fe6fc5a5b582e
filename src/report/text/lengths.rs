//! Shortest and longest gauge length of every tool, with what sets them.

use super::Show;
use super::page::Page;
use super::words::phase;
use crate::answer::check::model::{LengthLimit, Phase, ToolLengths};

/// Column at which the limits of a tool start.
const LIMIT: usize = 19;

pub fn write(page: &mut Page, show: &Show) {
    let tools = &show.report.answer.lengths;
    if tools.is_empty() {
        return;
    }
    page.heading("Gauge lengths: as set, and the range that keeps every wanted gap");
    for tool in tools {
        let set = show.lengths.near(tool.set_mm);
        let head = format!("T{:<4} {set:>9}", tool.tool);
        let shortest = shortest(tool, show);
        page.text(
            2,
            LIMIT + 9,
            &format!("{head:<width$}{shortest}", width = LIMIT - 2),
        );
        page.text(LIMIT, LIMIT + 9, &longest(tool, show));
        let crossed = tool.shortest_mm.zip(tool.longest_mm);
        if crossed.is_some_and(|(shortest_mm, longest_mm)| shortest_mm > longest_mm) {
            page.text(LIMIT, LIMIT + 9, "no length does both");
        }
    }
}

fn shortest(tool: &ToolLengths, show: &Show) -> String {
    match tool.shortest_mm {
        Some(mm) => format!("shortest {}{}", show.lengths.up(mm), by(&tool.shortest_by)),
        None => format!("shortest not found{}", by(&tool.shortest_by)),
    }
}

fn longest(tool: &ToolLengths, show: &Show) -> String {
    match tool.longest_mm {
        Some(mm) => format!("longest  {}{}", show.lengths.down(mm), by(&tool.longest_by)),
        None => format!("longest  not found{}", by(&tool.longest_by)),
    }
}

/// What sets an end, with a colon before it.
pub fn by(limit: &Option<LengthLimit>) -> String {
    let Some(limit) = limit else {
        return String::new();
    };
    let mut text = format!(": {}", limit.by);
    if let Some(cut) = &limit.cut {
        text.push_str(&format!(", cut \"{cut}\""));
    }
    if let Some(seat) = &limit.seat {
        text.push_str(&format!(", seat {seat}"));
    }
    match limit.phase {
        None | Some(Phase::Cut) => {}
        Some(other) => text.push_str(&format!(", {}", phase(other))),
    }
    text
}
