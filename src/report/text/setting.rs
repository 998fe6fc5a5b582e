//! The answer of `lengths` as text: a setting list first, then what sets each end.

use super::TextOptions;
use super::lengths::by;
use super::number::Lengths;
use super::page::Page;
use crate::answer::check::model::Verdict;
use crate::answer::lengths::{LengthsAnswer, Lost, Proposal, ToolSetting};
use crate::report::reach::words;

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
    let mut notes = vec![
        "the holder stays; the cutter goes farther in or out of it",
        "stiffer: the tool as a round bar of one diameter, held at the holder face and free at \
         the tip; its deflection grows with the cube of the stick-out. Flutes, neck, holder and \
         spindle give way as well: take it as the most that is won",
        "all cuts as they are planned, at every seat and index, with index moves and tool changes",
    ];
    if answer.tools.iter().any(|tool| tool.reached.is_some()) {
        notes.push(
            "a face is to stay reached at one index at least, of those asked about, and not at the same \
             one; what a longer tool would reach besides is not counted. See lapidary reach",
        );
    }
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
        let all_cut = answer.tools.iter().all(|tool| tool.cuts);
        let which = if all_cut { "tools that cut" } else { "tools" };
        let text = format!("a length for {settled} of {count} {which}");
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
        Proposal::NoLengthWorks
        | Proposal::NoStepInRange
        | Proposal::ReachesNothing
        | Proposal::LosesReach { .. } => Verdict::Clash,
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
        Proposal::ReachesNothing => format!("{head}  has no cuts, and reaches no face as set"),
        Proposal::LosesReach { lost } => {
            let length = lengths.near(lost.gauge_length_mm);
            format!(
                "{head}  the cuts need {length}, which loses {}",
                place(lost)
            )
        }
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
    faces(page, tool, lengths);
    let least = lengths.up(tool.least_mm);
    let grip = match tool.grip_mm {
        Some(mm) => format!("shank gripped up to {}", lengths.down(mm)),
        None => "grip not known without the overall length (OAL)".to_owned(),
    };
    let text = if tool.grip_mm == Some(tool.least_mm) {
        format!("the holder allows {least} only")
    } else {
        format!(
            "the holder allows {least} and more ({}); {grip}",
            tool.least_by
        )
    };
    page.text(8, 17, &text);
}

/// What stays reached, and what a step less loses.
fn faces(page: &mut Page, tool: &ToolSetting, lengths: Lengths) {
    let Some(reached) = &tool.reached else { return };
    if reached.places == 0 {
        page.text(8, 17, "reaches no face as set");
        return;
    }
    let count = match reached.places {
        1 => "1 face at a seat".to_owned(),
        many => format!("{many} faces at seats"),
    };
    let shortest = reached.shortest_mm.map(|mm| lengths.up(mm));
    let text = match shortest {
        Some(shortest) => {
            format!("reached  {shortest} still reaches {count} that it reaches as set")
        }
        None => format!("reached  {count} as set; the next step already loses some"),
    };
    page.text(8, 17, &text);
    if let Some(lost) = &reached.lost {
        let why = lost.reason.as_ref().map(words).unwrap_or_default();
        let why = if why.is_empty() {
            "not proved".to_owned()
        } else {
            why
        };
        let length = lengths.near(lost.gauge_length_mm);
        page.text(17, 17, &format!("{length} loses {}: {why}", place(lost)));
    }
}

fn place(lost: &Lost) -> String {
    format!("{} of {} at seat {}", lost.face, lost.part, lost.seat)
}
