//! Index moves, tool changes, travel and swing.

use super::Show;
use super::page::Page;
use super::words::{count, index, pair, see_troubles, wanted};
use crate::answer::check::model::{AxisUse, IndexMoveAnswer, Measured, ToolChangeAnswer, Verdict};

pub fn write(page: &mut Page, show: &Show) {
    index_moves(page, show);
    tool_changes(page, show);
    travel(page, show);
    swing(page, show);
}

/// What is left over the wanted gap, least first; nothing measured comes last.
pub fn spare_mm(least: Option<&Measured>) -> f64 {
    least.map_or(f64::INFINITY, |least| least.gap.lo_mm - least.wanted_mm)
}

/// The worse, or else the tighter, of the tool's and the work's least gap.
pub fn tightest(step: &IndexMoveAnswer) -> Option<&Measured> {
    let (tool, work) = (step.least.as_ref(), step.work_least.as_ref());
    let verdict = |least: Option<&Measured>| least.map(|least| least.verdict);
    let worse = verdict(work) > verdict(tool);
    let tighter = verdict(work) == verdict(tool) && spare_mm(work) < spare_mm(tool);
    if worse || tighter { work } else { tool }
}

fn index_moves(page: &mut Page, show: &Show) {
    let moves = &show.report.answer.index_moves;
    if moves.is_empty() {
        return;
    }
    let clear = moves
        .iter()
        .filter(|step| step.verdict == Verdict::Clear)
        .count();
    let all = count(moves.len(), "index move", "index moves");
    let measured = moves.iter().filter_map(tightest);
    let same = wanted(measured, show.lengths);
    page.heading(&format!(
        "{all}, {clear} clear; the tightest of each tool{same}"
    ));
    let mut worst: Vec<&IndexMoveAnswer> = Vec::new();
    for step in moves {
        let key = |step: &IndexMoveAnswer| (step.verdict, spare_mm(tightest(step)));
        match worst.iter_mut().find(|other| other.tool == step.tool) {
            None => worst.push(step),
            Some(other) => {
                let ((verdict, spare), (other_verdict, other_spare)) = (key(step), key(other));
                if verdict > other_verdict || (verdict == other_verdict && spare < other_spare) {
                    *other = step;
                }
            }
        }
    }
    for step in worst {
        page.marked(step.verdict, 6, &index_move(step, show));
    }
}

fn index_move(step: &IndexMoveAnswer, show: &Show) -> String {
    let rotary = &show.report.answer.turning.rotary;
    let from = index(rotary, step.from_deg);
    let to = index(rotary, step.to_deg);
    let gap = tightest(step).map_or_else(
        || "nothing measured".to_owned(),
        |least| {
            let at = least.place.as_ref();
            let at = at.map_or_else(String::new, |place| {
                format!(" near {}", index(rotary, place.angle_deg))
            });
            let hint = see_troubles(least, step.verdict);
            format!("{} {}{at}{hint}", show.lengths.gap(&least.gap), pair(least))
        },
    );
    let (after, before) = (named(&step.after), named(&step.before));
    format!(
        "T{}  {gap}; {from} to {to}, from {after} to {before}",
        step.tool
    )
}

/// A cut's name in quotes; the ends of the program stand bare.
pub fn named(cut: &str) -> String {
    match cut {
        "start" | "end" => format!("the {cut}"),
        _ => format!("\"{cut}\""),
    }
}

fn tool_changes(page: &mut Page, show: &Show) {
    let changes = &show.report.answer.tool_changes;
    let Some(first) = changes.first() else {
        return;
    };
    let clear = changes
        .iter()
        .filter(|change| change.verdict == Verdict::Clear)
        .count();
    let all = count(changes.len(), "tool change", "tool changes");
    page.heading(&format!("{all}, {clear} clear; the tightest"));
    let worst = changes[1..].iter().fold(first, |worst, change| {
        let spare = |change: &ToolChangeAnswer| spare_mm(change.least.as_ref());
        let worse = change.verdict > worst.verdict
            || (change.verdict == worst.verdict && spare(change) < spare(worst));
        if worse { change } else { worst }
    });
    let gap = worst.least.as_ref().map_or_else(
        || "nothing measured".to_owned(),
        |least| format!("{} {}", show.lengths.gap(&least.gap), pair(least)),
    );
    let at = index(&show.report.answer.turning.rotary, worst.index_deg);
    page.marked(
        worst.verdict,
        6,
        &format!("T{}  {gap}; at {at}", worst.tool),
    );
}

fn travel(page: &mut Page, show: &Show) {
    let axes = &show.report.answer.travel;
    if axes.is_empty() {
        return;
    }
    page.heading("Travel over the whole job");
    let header = [
        "axis",
        "lowest",
        "highest",
        "limit low",
        "limit high",
        "spare",
    ];
    page.text(2, 2, &travel_line(header.map(str::to_owned)));
    for axis in axes {
        page.text(2, 2, &travel_line(travel_cells(axis, show)));
    }
}

fn travel_line(cells: [String; 6]) -> String {
    let [axis, low, high, limit_low, limit_high, spare] = cells;
    format!("{axis:4}  {low:>10}  {high:>10}  {limit_low:>10}  {limit_high:>10}  {spare}")
}

fn travel_cells(axis: &AxisUse, show: &Show) -> [String; 6] {
    let lengths = show.lengths;
    let spare = if axis.spare_mm < 0.0 {
        format!("SHORT by {}", lengths.up(-axis.spare_mm))
    } else {
        lengths.down(axis.spare_mm)
    };
    [
        axis.axis.clone(),
        lengths.down(axis.low_mm),
        lengths.up(axis.high_mm),
        lengths.near(axis.limit_low_mm),
        lengths.near(axis.limit_high_mm),
        spare,
    ]
}

fn swing(page: &mut Page, show: &Show) {
    let swing = &show.report.answer.swing;
    let radius = show.lengths.up(swing.radius_mm);
    let limit = match swing.limit_mm {
        Some(limit_mm) => format!("the machine allows {}", show.lengths.down(limit_mm)),
        None => "the machine file states no limit".to_owned(),
    };
    let text = format!("Swing: {} sweeps radius {radius}; {limit}", swing.body);
    page.heading(&text);
}
