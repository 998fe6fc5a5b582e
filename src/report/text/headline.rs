//! The answer in one line, and what was asked.

use super::Show;
use super::page::Page;
use super::words::{count, index};
use crate::answer::check::model::{OutcomeCounts, Verdict};
use crate::report::mark::word;

pub fn write(page: &mut Page, show: &Show) {
    let answer = show.report.answer;
    page.marked(answer.verdict, 2, &first_line(show));
    let others = others(&answer.outcomes);
    if !others.is_empty() {
        page.text(2, 2, &format!("of the rest: {}", others.join(", ")));
    }
    page.text(2, 2, &answer.title);
    let unit = show.lengths.name();
    page.text(2, 2, &format!("on {}; lengths in {unit}", answer.machine));
    let choice = choice(show);
    if !choice.is_empty() {
        page.text(
            2,
            2,
            &format!("ONLY A PART was checked: {}", choice.join("; ")),
        );
    }
}

pub fn first_line(show: &Show) -> String {
    let answer = show.report.answer;
    let accepted = if answer.verdict == Verdict::Close && show.report.accept_close {
        " (accepted)"
    } else {
        ""
    };
    format!(
        "{}{accepted}: {}; {} of {} reached and clear",
        word(answer.verdict),
        match answer.troubles.len() {
            0 => "no trouble".to_owned(),
            number => count(number, "trouble", "troubles"),
        },
        answer.outcomes.clear,
        count(total(&answer.outcomes), "cut place", "cut places"),
    )
}

fn total(outcomes: &OutcomeCounts) -> usize {
    outcomes.clear
        + outcomes.close
        + outcomes.short_of_travel
        + outcomes.blocked
        + outcomes.facing_away
        + outcomes.unknown
}

pub fn others(outcomes: &OutcomeCounts) -> Vec<String> {
    [
        (outcomes.blocked, "blocked"),
        (outcomes.short_of_travel, "short of travel"),
        (outcomes.facing_away, "facing away"),
        (outcomes.close, "reached but close"),
        (outcomes.unknown, "unknown"),
    ]
    .into_iter()
    .filter(|(number, _)| *number > 0)
    .map(|(number, outcome)| format!("{number} {outcome}"))
    .collect()
}

/// What the person picked out; empty for the whole job.
pub fn choice(show: &Show) -> Vec<String> {
    let options = show.report.options;
    let mut choice = Vec::new();
    if !options.cuts.is_empty() {
        choice.push(format!("cuts {}", options.cuts.join(", ")));
    }
    if !options.seats.is_empty() {
        choice.push(format!("seats {}", options.seats.join(", ")));
    }
    if !options.tools.is_empty() {
        let tools: Vec<_> = options
            .tools
            .iter()
            .map(|tool| format!("T{tool}"))
            .collect();
        choice.push(format!("tools {}", tools.join(", ")));
    }
    if let Some(angle_deg) = options.index_deg {
        let rotary = &show.report.answer.turning.rotary;
        choice.push(format!("index {}", index(rotary, angle_deg)));
    }
    choice
}
