//! A line for each cut and index: mark, tool, seats that are clear, least gap and worst seat.

use super::Show;
use super::page::Page;
use super::words::{element, index, outcome, see_troubles, wanted};
use crate::answer::check::model::{AxisUse, CutAnswer, Outcome, Verdict};

/// Longest cut name that gets a column; a longer one pushes its line to the right.
const NAME_COLUMNS: usize = 20;

/// Column at which the last cell goes on at most, so that it keeps room.
const HANG_MAX: usize = 50;

pub fn write(page: &mut Page, show: &Show) {
    let rows = rows(show);
    if rows.is_empty() {
        return;
    }
    let measured = show
        .report
        .answer
        .cuts
        .iter()
        .filter_map(|cut| cut.least.as_ref());
    let same = wanted(measured, show.lengths);
    page.heading(&format!(
        "Cuts: at each index the seat where it is tightest{same}"
    ));
    let cells: Vec<[String; 6]> = rows
        .iter()
        .map(|row| row.cells(show, same.is_empty()))
        .collect();
    let header = ["tool", "cut", "index", "clear", "gap", "seat and bodies"].map(str::to_owned);
    let mut widths = [0; 5];
    for line in cells.iter().chain([&header]) {
        for (width, cell) in widths.iter_mut().zip(line) {
            *width = (*width).max(cell.chars().count());
        }
    }
    widths[1] = widths[1].min(NAME_COLUMNS);
    // The mark and its space stand before the first column.
    let rest = 2 + widths.iter().sum::<usize>() + 2 * widths.len();
    let hang = rest.min(HANG_MAX);
    page.text(2, 2, &line(&header, &widths));
    for (row, cells) in rows.iter().zip(&cells) {
        page.marked(row.verdict(), hang, &line(cells, &widths));
    }
    if rows.iter().any(|row| row.indexes > 1) {
        let legend = "(+n): clear at n more indexes, none tighter; --every-index lists them.";
        page.text(2, 2, legend);
    }
    let short = |row: &Row| is_short(row.worst()) && row.worst().least.is_some();
    if rows.iter().any(short) {
        let legend = "short of travel: the gap is told as if the axis went there.";
        page.text(2, 2, legend);
    }
}

fn line(cells: &[String; 6], widths: &[usize; 5]) -> String {
    let [tool, cut, index, clear, gap, rest] = cells;
    let [tool_w, cut_w, index_w, clear_w, gap_w] = *widths;
    format!(
        "{tool:tool_w$}  {cut:cut_w$}  {index:index_w$}  {clear:>clear_w$}  {gap:>gap_w$}  {rest}"
    )
}

/// One cut at one index, or at all its indexes where it is clear at each.
struct Row<'a> {
    cuts: Vec<&'a CutAnswer>,
    indexes: usize,
}

impl Row<'_> {
    fn verdict(&self) -> Verdict {
        self.worst().verdict
    }

    /// The worst verdict, and among equals the least that is left over the wanted gap.
    fn worst(&self) -> &CutAnswer {
        let spare_mm = |cut: &CutAnswer| {
            let least = cut.least.as_ref();
            least.map_or(f64::INFINITY, |least| least.gap.lo_mm - least.wanted_mm)
        };
        self.cuts[1..].iter().fold(self.cuts[0], |worst, cut| {
            let worse = cut.verdict > worst.verdict
                || (cut.verdict == worst.verdict && spare_mm(cut) < spare_mm(worst));
            if worse { cut } else { worst }
        })
    }

    fn cells(&self, show: &Show, with_wanted: bool) -> [String; 6] {
        let worst = self.worst();
        let clear = self.cuts.iter().filter(|cut| cut.verdict == Verdict::Clear);
        let rotary = &show.report.answer.turning.rotary;
        let mut at = worst
            .index_deg
            .map_or_else(|| "none".to_owned(), |deg| index(rotary, deg));
        if self.indexes > 1 {
            at.push_str(&format!(" (+{})", self.indexes - 1));
        }
        let rest = format!("{} {}", worst.seat, evidence(worst, show, with_wanted));
        [
            format!("T{}", worst.tool),
            worst.cut.clone(),
            at,
            format!("{}/{}", clear.count(), self.cuts.len()),
            gap(worst, show),
            rest.trim_end().to_owned(),
        ]
    }
}

/// The least gap, as if every axis went far enough; where nothing could be measured the last column says why.
fn gap(cut: &CutAnswer, show: &Show) -> String {
    match &cut.least {
        Some(least) => show.lengths.gap(&least.gap),
        None => "-".to_owned(),
    }
}

fn is_short(cut: &CutAnswer) -> bool {
    cut.outcome == Outcome::ShortOfTravel
}

/// The two bodies, and why the place is not reached.
fn evidence(cut: &CutAnswer, show: &Show, with_wanted: bool) -> String {
    let mut texts = Vec::new();
    let mut bodies = String::new();
    if cut.outcome != Outcome::Reached {
        texts.push(outcome(cut.outcome).to_owned());
    }
    let least_spare = |a: &&AxisUse, b: &&AxisUse| a.spare_mm.total_cmp(&b.spare_mm);
    let short = is_short(cut);
    let axis = cut.travel.iter().min_by(least_spare);
    if let Some(axis) = axis.filter(|axis| short && axis.spare_mm < 0.0) {
        let by = show.lengths.up(-axis.spare_mm);
        texts.push(format!("{} by {by}", axis.axis));
    }
    if let Some(least) = &cut.least {
        // The seat stands in front already.
        let own = format!(" of seat {}", cut.seat);
        let body = least.body.strip_suffix(&own).unwrap_or(&least.body);
        // Why it is worse than its gap is told in front.
        let hint = if short {
            ""
        } else {
            see_troubles(least, cut.verdict)
        };
        bodies = format!("{} to {body}{hint}", element(least.element));
    }
    let mut text = texts.join(": ");
    if !bodies.is_empty() {
        let joint = match (text.is_empty(), short) {
            (true, _) => "",
            (false, true) => "; ",
            (false, false) => ": ",
        };
        text.push_str(joint);
        text.push_str(&bodies);
    }
    if let (Some(least), true) = (&cut.least, with_wanted) {
        text.push_str(&format!(" (wanted {})", show.lengths.near(least.wanted_mm)));
    }
    text
}

fn rows<'a>(show: &Show<'a>) -> Vec<Row<'a>> {
    let mut rows: Vec<Row> = Vec::new();
    for (_, cuts) in grouped(&show.report.answer.cuts, |cut| &cut.cut) {
        let clear = cuts.iter().all(|cut| cut.verdict == Verdict::Clear);
        let by_index = grouped(cuts.iter().copied(), index_key);
        if clear && !show.every_index {
            let indexes = by_index.len();
            rows.push(Row { cuts, indexes });
        } else {
            rows.extend(
                by_index
                    .into_iter()
                    .map(|(_, cuts)| Row { cuts, indexes: 1 }),
            );
        }
    }
    rows
}

fn index_key(cut: &CutAnswer) -> Option<u64> {
    cut.index_deg.map(f64::to_bits)
}

/// Groups by key, in the order of first appearance.
fn grouped<'a, Key: PartialEq>(
    cuts: impl IntoIterator<Item = &'a CutAnswer>,
    key: impl Fn(&'a CutAnswer) -> Key,
) -> Vec<(Key, Vec<&'a CutAnswer>)> {
    let mut groups: Vec<(Key, Vec<&CutAnswer>)> = Vec::new();
    for cut in cuts {
        let of_cut = key(cut);
        match groups.iter_mut().find(|(other, _)| *other == of_cut) {
            Some((_, members)) => members.push(cut),
            None => groups.push((of_cut, vec![cut])),
        }
    }
    groups
}
