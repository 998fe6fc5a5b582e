//! The answer of `reach` as text: the fewest indexes first, then each face with its tools.

use super::{ReachReport, words};
use crate::answer::reach::choice::Place;
use crate::answer::reach::model::{
    Assumption, FaceReach, IndexReach, PartReach, SeatReach, ToolReach,
};
use crate::report::text::page::Page;
use std::collections::BTreeMap;

/// How many tools are told for a face.
const TOLD: usize = 3;

/// A share below this is told as nothing.
const NEXT_TO_NOTHING: f64 = 0.0005;

/// The answer as text: 80 columns.
///
/// # Guarantees
/// A share is rounded down. Shares are those of the worst seat at its best index.
#[must_use]
pub fn reach_text(report: &ReachReport<'_>) -> String {
    let answer = report.answer;
    let mut page = Page::new(false);
    page.text(0, 0, &answer.title);
    page.text(0, 0, &format!("on {}", answer.machine));
    if !answer.sense_declared {
        page.heading("unknown: the machine file does not declare the rotary sense");
        page.text(
            2,
            2,
            "Add sense to [rotary]; watch which way the work turns first.",
        );
        return page.finish();
    }
    choice(&mut page, report);
    for part in &answer.parts {
        faces(&mut page, part);
    }
    page.heading("What this takes for granted");
    for assumption in &answer.assumes {
        page.text(2, 4, assumed(*assumption));
    }
    page.text(
        2,
        4,
        "Meshes, lengths and offsets are as in the job. Run check before posting.",
    );
    page.finish()
}

fn choice(page: &mut Page, report: &ReachReport<'_>) {
    let choice = report.choice;
    let percent = percent(choice.from_share);
    let places = choice.reached + choice.not_reached.len();
    page.heading(&format!(
        "{} of {places} faces at seats are reached: {percent} % of a face or more, by one tool \
         at one index, faces from {} mm2 on",
        choice.reached, report.options.least_area_mm2
    ));
    if choice.indexes_deg.is_empty() {
        return;
    }
    page.text(
        2,
        2,
        &format!(
            "Fewest indexes among the {} asked about: {} (proved). With these, the fewest pairs of \
             tool and index: {} (proved).",
            report.answer.indexes_deg.len(),
            choice.fewest_indexes_proved,
            choice.fewest_pairs_proved
        ),
    );
    for index_deg in &choice.indexes_deg {
        let tools = choice
            .tools
            .iter()
            .filter(|pair| pair.index_deg == *index_deg);
        let tools: Vec<String> = tools.map(|pair| format!("T{}", pair.tool)).collect();
        page.text(
            4,
            16,
            &format!("{:>9}  {}", degrees(*index_deg), tools.join(", ")),
        );
    }
    let mut missing: BTreeMap<(&str, &str), Vec<&str>> = BTreeMap::new();
    for Place { part, face, seat } in &choice.not_reached {
        missing.entry((part, face)).or_default().push(seat);
    }
    if !missing.is_empty() {
        page.text(2, 2, "Not reached so far by any tool at any index:");
    }
    for ((part, face), seats) in missing {
        let seats = seats.join(", ");
        page.text(4, 6, &format!("{part} {face}, seats {seats}"));
    }
}

fn faces(page: &mut Page, part: &PartReach) {
    page.heading(&format!(
        "{} ({}): share of each face, worst seat, best index",
        part.part, part.state
    ));
    for face in &part.faces {
        page.text(2, 4, &format!("{}, {:.1} mm2", face.face, face.area_mm2));
        let mut tools: Vec<&ToolReach> = face
            .tools
            .iter()
            .filter(|tool| tool.worst.most() >= NEXT_TO_NOTHING)
            .collect();
        tools.sort_by(|a, b| b.worst.certain.total_cmp(&a.worst.certain));
        if tools.is_empty() {
            page.text(6, 8, &nothing(face));
        }
        for tool in tools.iter().take(TOLD) {
            page.text(6, 12, &tool_line(tool));
            for line in band_lines(tool) {
                page.text(10, 12, &line);
            }
        }
        if tools.len() > TOLD {
            page.text(6, 8, &format!("and {} more", tools.len() - TOLD));
        }
    }
    if part.other_faces > 0 {
        let line = format!(
            "and {} other faces, together {:.1} mm2: not asked about (see --least-area, --face)",
            part.other_faces, part.other_area_mm2
        );
        page.text(2, 4, &line);
    }
}

fn tool_line(tool: &ToolReach) -> String {
    let worst = tool.seats.iter().find(|seat| seat.seat == tool.worst_seat);
    let Some(best) = worst.and_then(|seat| seat.best.as_ref()) else {
        return format!("T{}: nothing", tool.tool);
    };
    let mut line = format!("T{}: {} %", tool.tool, percent(best.share.certain));
    if best.share.undecided >= NEXT_TO_NOTHING {
        line += &format!(" (and {} % undecided)", percent_up(best.share.undecided));
    }
    line += &format!(" at {}, seat {}", degrees(best.index_deg), tool.worst_seat);
    line += &rest(best);
    line
}

/// Bands of each seat.
fn band_lines(tool: &ToolReach) -> Vec<String> {
    let told = |seat: &SeatReach| {
        let bands = seat.bands.as_ref()?;
        let list = |list: &[[f64; 2]]| {
            let band = |[low, high]: &[f64; 2]| format!("{} to {}", degrees(*low), degrees(*high));
            list.iter().map(band).collect::<Vec<_>>().join(", ")
        };
        let mut line = format!("seat {}: ", seat.seat);
        line += &match bands.reached_deg.is_empty() {
            true => "no band".to_owned(),
            false => list(&bands.reached_deg),
        };
        if !bands.undecided_deg.is_empty() {
            line += &format!("; undecided {}", list(&bands.undecided_deg));
        }
        Some(line)
    };
    tool.seats.iter().filter_map(told).collect()
}

/// The main reason for what is missing.
fn rest(best: &IndexReach) -> String {
    match best.reasons.first() {
        Some(reason) if reason.share >= NEXT_TO_NOTHING => {
            format!(
                "; {} %: {}",
                percent_up(reason.share),
                words(&reason.reason)
            )
        }
        _ => String::new(),
    }
}

/// Why no tool reaches anything: the reason that most tools have.
fn nothing(face: &FaceReach) -> String {
    let mut reasons: BTreeMap<String, usize> = BTreeMap::new();
    for tool in &face.tools {
        let of_tool = tool.seats.iter().find_map(|seat| seat.reason.as_ref());
        if let Some(reason) = of_tool {
            *reasons.entry(words(reason)).or_default() += 1;
        }
    }
    let most = reasons.iter().max_by_key(|(_, count)| **count);
    match most {
        Some((reason, count)) => {
            format!(
                "no tool reaches it: {reason} ({count} of {} tools)",
                face.tools.len()
            )
        }
        None => "no tool was asked about".to_owned(),
    }
}

/// An assumption in a sentence.
pub(in crate::report) fn assumed(assumption: Assumption) -> &'static str {
    match assumption {
        Assumption::OwnPartFinished => {
            "The own part stands in its last state; stock still on it is not asked about."
        }
        Assumption::OthersFirstAndLast => {
            "Every other seat holds its part in the first state and in the last."
        }
        Assumption::ApproachFromAbove => {
            "Tools come down along the spindle from over all that turns; whether they can plunge is \
             not asked."
        }
        Assumption::BaseNotAsked => "The machine's base bodies are not asked about; check does.",
        Assumption::SidewaysNotAsked => "What groove mills reach sideways is not counted.",
        Assumption::TapsLeftOut => "Taps are left out.",
    }
}

fn degrees(angle_deg: f64) -> String {
    let rounded = (angle_deg * 1e4).round() / 1e4;
    format!("{rounded} deg")
}

fn percent(share: f64) -> String {
    format!("{:.1}", ((share * 1000.0 + 1e-6).floor() / 10.0))
}

fn percent_up(share: f64) -> String {
    format!("{:.1}", ((share * 1000.0 - 1e-6).ceil() / 10.0))
}
