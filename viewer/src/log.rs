//! What the panels show, as JSON lines: for tests, and for whoever drives the window.

use crate::reached::Reached;
use crate::sheets::remembered;
use crate::state::{Look, State};
use kiss3d::egui::Context;
use lapidary::answer::check::model::{GapValue, Measured, Verdict};
use lapidary::answer::moment::find::Spot;
use serde::Serialize;
use std::fs::File;
use std::io::Write;
use std::path::Path;

/// A file of panel values; a line for each change.
#[derive(Debug)]
pub struct Log {
    file: File,
    last: String,
}

/// What the panels show.
#[derive(Debug, Serialize)]
struct Panel<'a> {
    title: &'a str,
    verdict: Option<Verdict>,
    troubles: Option<usize>,
    cuts: Option<usize>,
    fresh: bool,
    whole: bool,
    spot: Option<&'static str>,
    spot_number: Option<usize>,
    cut: Option<&'a str>,
    tool: Option<u32>,
    seat: Option<&'a str>,
    index_deg: f64,
    gauge_length_mm: Option<f64>,
    at_spot: bool,
    walking: bool,
    here: Option<Value<'a>>,
    now: Option<Value<'a>>,
    picked: Option<&'a str>,
    pointed: Option<&'a str>,
    reached: Option<Ring<'a>>,
    notice: Option<&'a str>,
    slip: Option<&'a str>,
    looks: [&'static str; 7],
    places: Places,
}

/// Where some things are: middle, width and height, in points from the top left.
#[derive(Debug, Serialize)]
struct Places {
    dial: Option<[f32; 4]>,
    gauge_length: Option<[f32; 4]>,
}

/// The outer ring of the dial.
#[derive(Debug, Serialize)]
struct Ring<'a> {
    tool: u32,
    seat: &'a str,
    face: &'a str,
    asking: bool,
    /// Begin, end, verdict; nothing where the tool has no arcs.
    arcs: Option<Vec<(f64, f64, Verdict)>>,
}

/// A gap as it is shown.
#[derive(Debug, Serialize)]
struct Value<'a> {
    element_body: &'a str,
    body: &'a str,
    gap: GapValue,
    wanted_mm: f64,
    verdict: Verdict,
}

impl Log {
    /// Begins a log.
    ///
    /// # Errors
    /// Why the file cannot be written.
    pub fn create(path: &Path) -> Result<Self, String> {
        let file = File::create(path)
            .map_err(|fault| format!("cannot write {}: {fault}", path.display()))?;
        Ok(Self {
            file,
            last: String::new(),
        })
    }

    /// Adds a line where something has changed.
    pub fn note(&mut self, state: &State, context: &Context) {
        let places = Places {
            dial: remembered(context, "dial"),
            gauge_length: remembered(context, &gauge_length(state)),
        };
        let Ok(line) = serde_json::to_string(&panel(state, places)) else {
            return;
        };
        if line != self.last {
            // The window goes on where its log cannot.
            let _ = writeln!(self.file, "{line}");
            let _ = self.file.flush();
            self.last = line;
        }
    }
}

/// The words of the field for it.
fn gauge_length(state: &State) -> String {
    let tool = state.tool().and_then(|tool| state.setup.tools.get(tool));
    format!("T{} gauge length, mm", tool.map_or(0, |tool| tool.number))
}

fn value(measured: &Measured) -> Value<'_> {
    Value {
        element_body: &measured.element_body,
        body: &measured.body,
        gap: measured.gap,
        wanted_mm: measured.wanted_mm,
        verdict: measured.verdict,
    }
}

fn ring(state: &State) -> Option<Ring<'_>> {
    let (asked, told) = state.reached.as_ref()?;
    let arcs = match told {
        Reached::Arcs(arcs) => {
            let arcs = arcs.iter();
            Some(
                arcs.map(|arc| (arc.from_deg, arc.to_deg, arc.verdict))
                    .collect(),
            )
        }
        Reached::Asking | Reached::NoArcs | Reached::Refused => None,
    };
    Some(Ring {
        tool: state.setup.tools.get(asked.tool)?.number,
        seat: &state.setup.seats.get(asked.at.seat)?.name,
        face: &asked.at.face,
        asking: *told == Reached::Asking,
        arcs,
    })
}

fn panel(state: &State, places: Places) -> Panel<'_> {
    let answer = state.answered.as_ref().map(|answered| &answered.answer);
    let moment = state.moment();
    let tool = moment.tool.and_then(|tool| state.setup.tools.get(tool));
    let (spot, spot_number) = match state.spot {
        Some(Spot::Trouble(number)) => (Some("trouble"), Some(number)),
        Some(Spot::Cut(number)) => (Some("cut"), Some(number)),
        Some(Spot::Move(number)) => (Some("move"), Some(number)),
        None => (None, None),
    };
    Panel {
        title: &state.setup.title,
        verdict: answer.map(|answer| answer.verdict),
        troubles: answer.map(|answer| answer.troubles.len()),
        cuts: answer.map(|answer| answer.cuts.len()),
        fresh: state.fresh,
        whole: state
            .answered
            .as_ref()
            .is_some_and(|answered| answered.whole),
        spot,
        spot_number,
        cut: state
            .stood
            .cut
            .map(|cut| state.setup.cuts[cut].name.as_str()),
        tool: tool.map(|tool| tool.number),
        seat: state
            .stood
            .seat
            .map(|seat| state.setup.seats[seat].name.as_str()),
        index_deg: moment.index_deg,
        gauge_length_mm: tool.map(|tool| tool.gauge_length_mm),
        at_spot: state.at_spot(),
        walking: state.walk.as_ref().is_some_and(|walk| walk.goes),
        here: state.measured().map(value),
        now: state.now.as_ref().filter(|_| !state.measuring).map(value),
        picked: state.picked.as_deref(),
        pointed: state.pointed.as_ref().map(|at| at.face.as_str()),
        reached: ring(state),
        notice: state.notice.as_deref(),
        slip: state.slip.as_deref(),
        looks: state.looks.map(|look| match look {
            Look::Whole => "whole",
            Look::Faint => "faint",
            Look::Hidden => "hidden",
        }),
        places,
    }
}
