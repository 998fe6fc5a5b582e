//! The answer of `reach` as text: the fewest indexes first, then each face with its tools.

use super::{ReachReport, words};
use crate::answer::reach::choice::Place;
use crate::answer::reach::model::{
    Assumption, FaceReach, IndexReach, PartReach, SeatReach, ToolReach,
};
use crate::report::text::page::Page;
use crate::setup::Severity;
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
    doubts(&mut page, report);
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
            "Fewest indexes among the {} asked about: {} (proved{}). With these, the fewest pairs of \
             tool and index: {} (proved).",
            report.answer.indexes_deg.len(),
            choice.fewest_indexes_proved,
            if choice.indexes_at_least < choice.fewest_indexes_proved {
                format!(
                    "; {} if all that is undecided were reached",
                    choice.indexes_at_least
                )
            } else {
                String::new()
            },
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
    missing(page, &choice.not_reached);
}

/// Faces that are missed at the same seats stand together.
fn missing(page: &mut Page, places: &[Place]) {
    let mut seats: BTreeMap<(&str, &str), Vec<&str>> = BTreeMap::new();
    for Place { part, face, seat } in places {
        seats.entry((part, face)).or_default().push(seat);
    }
    let mut faces: BTreeMap<(&str, Vec<&str>), Vec<&str>> = BTreeMap::new();
    for ((part, face), seats) in seats {
        faces.entry((part, seats)).or_default().push(face);
    }
    if !faces.is_empty() {
        page.text(2, 2, "Not reached so far by any tool at any index:");
    }
    for ((part, seats), faces) in faces {
        let (seats, faces) = (seats.join(", "), faces.join(", "));
        page.text(4, 6, &format!("{part}, seats {seats}: {faces}"));
    }
}

fn faces(page: &mut Page, part: &PartReach) {
    page.heading(&format!(
        "{} ({}): share of each face, worst seat, best index",
        part.part, part.state
    ));
    let mut unreached: BTreeMap<String, Vec<&FaceReach>> = BTreeMap::new();
    for face in &part.faces {
        let reaches = |tool: &ToolReach| tool.worst.most() >= NEXT_TO_NOTHING;
        if !face.tools.iter().any(reaches) {
            unreached.entry(nothing(face)).or_default().push(face);
            continue;
        }
        page.text(2, 4, &format!("{}, {:.1} mm2", face.face, face.area_mm2));
        let mut tools: Vec<&ToolReach> = face
            .tools
            .iter()
            .filter(|tool| tool.worst.most() >= NEXT_TO_NOTHING)
            .collect();
        tools.sort_by(|a, b| b.worst.certain.total_cmp(&a.worst.certain));
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
    for (reason, faces) in unreached {
        let area_mm2: f64 = faces.iter().map(|face| face.area_mm2).sum();
        let names: Vec<&str> = faces.iter().map(|face| face.face.as_str()).collect();
        let names = names.join(", ");
        let count = faces.len();
        let line = format!("no tool reaches {count} ({area_mm2:.1} mm2), {reason}: {names}");
        page.text(2, 4, &line);
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
        // What is reached is told no wider than it is, what is undecided no narrower.
        let list = |list: &[[f64; 2]], outward: f64| {
            let rounded =
                |angle_deg: f64, up: f64| degrees((angle_deg * 1e4 * up).floor() * up / 1e4);
            let band = |[low, high]: &[f64; 2]| {
                let (low, high) = match low == high {
                    true => (degrees(*low), degrees(*low)),
                    false => (rounded(*low, outward), rounded(*high, -outward)),
                };
                match low == high {
                    true => format!("{low} alone"),
                    false => format!("{low} to {high}"),
                }
            };
            list.iter().map(band).collect::<Vec<_>>().join(", ")
        };
        let mut line = format!("seat {}: ", seat.seat);
        line += &match bands.reached_deg.is_empty() {
            true => "no band".to_owned(),
            false => list(&bands.reached_deg, -1.0),
        };
        if !bands.undecided_deg.is_empty() {
            line += &format!("; undecided {}", list(&bands.undecided_deg, 1.0));
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
            format!("{reason} ({count} of {} tools)", face.tools.len())
        }
        None if face.tools.is_empty() => {
            "none was asked about (taps make no faces of their own)".to_owned()
        }
        None => "no reason found".to_owned(),
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

/// Meshes that are not sound, and how many warnings there were.
fn doubts(page: &mut Page, report: &ReachReport<'_>) {
    let doubts = &report.answer.doubts;
    if !doubts.is_empty() {
        page.heading("Meshes that are not sound");
    }
    for doubt in doubts {
        let shells = |count: usize| match count {
            1 => "1 shell is".to_owned(),
            _ => format!("{count} shells are"),
        };
        let mut line = format!("{}:", doubt.body);
        if doubt.open_edges > 0 {
            line += &format!(
                " open along {} edges; what is missing is taken to lie in the plane of its rim, or in \
                 the box round it, and what would go through there is undecided. Close the \
                 surface in the model and export again.",
                doubt.open_edges
            );
        }
        if doubt.inside_out > 0 {
            line += &format!(
                " {} inside out, taken as if turned right. Flip the surface normals; if the body was \
                 mirrored, export it unmirrored.",
                shells(doubt.inside_out)
            );
        }
        if doubt.mixed > 0 {
            line += &format!(
                " {} turned against {}; faces there are undecided. Make the surface normals \
                 consistent and export again.",
                shells(doubt.mixed),
                if doubt.mixed == 1 {
                    "itself"
                } else {
                    "themselves"
                },
            );
        }
        line += &match doubt.crossings {
            Some(0) => String::new(),
            None => " whether its triangles cross is not known, as too many lie over each other."
                .to_owned(),
            Some(pairs) => format!(
                " {} each other; tools meet every surface, so that what lies within the body is not \
                 reached, and counts in the area of its face. Join the bodies that overlap, or \
                 mend the surface, and export again.",
                match pairs {
                    1 => "1 pair of triangles crosses".to_owned(),
                    pairs => format!("{pairs} pairs of triangles cross"),
                }
            ),
        };
        page.text(2, 4, &line);
    }
    let warnings = report.warnings.iter();
    let warnings = warnings.filter(|fault| fault.severity == Severity::Warning);
    match warnings.count() {
        0 => {}
        1 => page.text(2, 4, "1 warning about the files, printed apart."),
        count => page.text(
            2,
            4,
            &format!("{count} warnings about the files, printed apart."),
        ),
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
