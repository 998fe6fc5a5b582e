//! The answer of `lengths` as text: a setting list first, then what sets each end.

use super::TextOptions;
use super::lengths::by;
use super::number::Lengths;
use super::page::Page;
use crate::answer::check::model::Verdict;
use crate::answer::lengths::{LengthsAnswer, Proposal, ToolSetting};

/// The answer as text.
///
/// # Units
/// Lengths as [`TextOptions::unit`] says.
///
/// # Guarantees
/// No line is longer than 80 letters. A shortest length is never shown smaller, a longest never
/// larger, than it is in the answer.
#[must_use]
pub fn lengths_text(answer: &LengthsAnswer, options: TextOptions) -> String {
    let lengths = Lengths { unit: options.unit };
    let mut page = Page::new(options.colour);
    headline(&mut page, answer, lengths);
    if answer.tools.is_empty() {
        return page.finish();
    }
    page.heading("Settings: gauge lengths, the shortest that keeps every wanted gap");
    page.text(2, 2, "tool        set    propose  stick-out  stiffer");
    for tool in &answer.tools {
        page.marked(verdict(tool), 12, &row(tool, lengths));
    }
    page.heading("What sets the ends of each range");
    for tool in &answer.tools {
        ends(&mut page, tool, lengths);
    }
    page.heading("What this takes for granted");
    let notes = [
        "the holder stays; the cutter goes farther in or out of it",
        "stiffer: the tool as a round bar of one diameter, held at the holder face and free at \
         the tip; its deflection grows with the cube of the stick-out. Flutes, neck, holder and \
         spindle give way as well: take it as the most that is won",
        "all cuts as they are planned, at every seat and index, with index moves and tool changes",
    ];
    for note in notes {
        page.text(2, 4, note);
    }
    page.finish()
}

fn headline(page: &mut Page, answer: &LengthsAnswer, lengths: Lengths) {
    let count = answer.tools.len();
    let settled = |tool: &&ToolSetting| matches!(tool.proposal, Proposal::Set { .. });
    let settled = answer.tools.iter().filter(settled).count();
    if !answer.sense_declared {
        let text = "unknown: the machine file declares no rotary sense, so no length is known";
        page.marked(Verdict::Unknown, 2, text);
    } else {
        let worst = answer.tools.iter().map(verdict).max();
        let text = format!("a length for {settled} of {count} tools that cut");
        page.marked(worst.unwrap_or(Verdict::Clear), 2, &text);
    }
    page.text(2, 4, &answer.title);
    let step = lengths.near(answer.step_mm);
    let unit = lengths.name();
    let text = format!("on {}; lengths in {unit}, steps of {step}", answer.machine);
    page.text(2, 4, &text);
}

/// Mark of a tool: the proposal decides, nothing is judged here.
fn verdict(tool: &ToolSetting) -> Verdict {
    match tool.proposal {
        Proposal::Set { .. } => Verdict::Clear,
        Proposal::NotProved { .. } => Verdict::Unknown,
        Proposal::NoLengthWorks | Proposal::NoStepInRange => Verdict::Clash,
    }
}

fn row(tool: &ToolSetting, lengths: Lengths) -> String {
    let set = lengths.near(tool.range.set_mm);
    let head = format!("T{:<4} {set:>9}", tool.range.tool);
    match &tool.proposal {
        Proposal::Set {
            gauge_length_mm,
            stick_out_mm,
            stiffer_times,
        } => {
            let (gauge, stick_out) = (lengths.near(*gauge_length_mm), lengths.near(*stick_out_mm));
            format!("{head} {gauge:>10} {stick_out:>10} {stiffer_times:>7.2}x")
        }
        Proposal::NoLengthWorks => format!("{head}  no length works"),
        Proposal::NoStepInRange => format!("{head}  no step lies in the range"),
        Proposal::NotProved { gauge_length_mm } => {
            let tried = lengths.near(*gauge_length_mm);
            format!("{head}  not decided: something is wrong at {tried}, inside the range")
        }
    }
}

fn ends(page: &mut Page, tool: &ToolSetting, lengths: Lengths) {
    let range = &tool.range;
    let shown = |end: Option<String>| end.unwrap_or_else(|| "not found".to_owned());
    let shortest = shown(range.shortest_mm.map(|mm| lengths.up(mm)));
    let head = format!("T{:<4} {}", range.tool, range.name);
    page.text(2, 8, &head);
    let text = format!("shortest {shortest}{}", by(&range.shortest_by));
    page.text(8, 17, &text);
    let longest = shown(range.longest_mm.map(|mm| lengths.down(mm)));
    let text = format!("longest  {longest}{}", by(&range.longest_by));
    page.text(8, 17, &text);
    let edges = lengths.up(tool.edges_out_mm);
    let grip = match tool.grip_mm {
        Some(mm) => format!("shank gripped up to {}", lengths.down(mm)),
        None => "grip not known without the overall length (OAL)".to_owned(),
    };
    let text = format!("edges out of the holder from {edges}; {grip}");
    page.text(8, 17, &text);
}
