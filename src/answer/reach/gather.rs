//! Rows of one tool, seat and index put together: the best index, the worst seat, the main reason.

use super::model::{FaceReach, IndexReach, PartReach, Reason, SeatReach, Share, ToolReach};
use super::surface::Surface;
use super::tools::ReadyTool;
use crate::setup::model::Part;
use std::cmp::Ordering;

/// What one tool finds at one seat and index.
#[derive(Debug)]
pub struct Row {
    /// Place in the list of tools.
    pub tool: usize,
    /// Place in the list of seats.
    pub seat: usize,
    /// Place in the list of indexes.
    pub index: usize,
    /// Every face.
    pub faces: Vec<FaceRow>,
}

/// What one tool finds of one face at one seat and index.
#[derive(Debug, Clone)]
pub enum FaceRow {
    /// Nothing is or may be reached.
    Nothing {
        /// Share that looks away.
        away: f64,
        /// Main reason.
        reason: Option<Reason>,
    },
    /// Something is or may be reached.
    Some(Box<IndexReach>),
}

/// Puts rows together, in any order, to an answer in a fixed order.
#[must_use]
pub fn gathered(
    part: &Part,
    surface: &Surface<'_>,
    tools: &[ReadyTool<'_>],
    seats: &[String],
    mut rows: Vec<Row>,
) -> PartReach {
    rows.sort_by_key(|row| (row.tool, row.seat, row.index));
    let of_seat = |tool: usize, seat: usize| {
        let from = rows.partition_point(|row| (row.tool, row.seat) < (tool, seat));
        let to = rows.partition_point(|row| (row.tool, row.seat) <= (tool, seat));
        &rows[from..to]
    };
    let of_tool = |face: usize, tool: usize| {
        let seats: Vec<SeatReach> = seats
            .iter()
            .enumerate()
            .map(|(seat, name)| seat_reach(name, face, of_seat(tool, seat)))
            .collect();
        tool_reach(tools[tool].tool.number, seats)
    };
    let faces = surface.faces.faces.iter().zip(&surface.area_mm2);
    let (faces, small): (Vec<_>, Vec<_>) =
        faces.zip(&surface.asked).partition(|(_, asked)| **asked);
    let last = part.states.last();
    PartReach {
        part: part.name.clone(),
        state: last.map(|state| state.name.clone()).unwrap_or_default(),
        faces: faces
            .iter()
            .enumerate()
            .map(|(face, ((found, area_mm2), _))| FaceReach {
                face: found.name.clone(),
                area_mm2: **area_mm2,
                tools: (0..tools.len()).map(|tool| of_tool(face, tool)).collect(),
            })
            .collect(),
        other_faces: small.len(),
        other_area_mm2: small.iter().map(|((_, area_mm2), _)| **area_mm2).sum(),
    }
}

fn tool_reach(tool: u32, seats: Vec<SeatReach>) -> ToolReach {
    let share = |seat: &SeatReach| seat.best.as_ref().map_or(Share::NONE, |best| best.share);
    let worst = seats
        .iter()
        .min_by(|a, b| share(a).certain.total_cmp(&share(b).certain));
    ToolReach {
        tool,
        worst: worst.map_or(Share::NONE, share),
        worst_seat: worst.map(|seat| seat.seat.clone()).unwrap_or_default(),
        seats,
    }
}

fn seat_reach(name: &str, face: usize, rows: &[Row]) -> SeatReach {
    let found: Vec<&IndexReach> = rows
        .iter()
        .filter_map(|row| match &row.faces[face] {
            FaceRow::Some(found) => Some(&**found),
            FaceRow::Nothing { .. } => None,
        })
        .collect();
    let best = found.iter().copied().max_by(|a, b| poorer_first(a, b));
    let reason = match best {
        Some(best) => best.reasons.first().map(|share| share.reason.clone()),
        None => main_reason(face, rows),
    };
    SeatReach {
        seat: name.to_owned(),
        best: best.cloned(),
        indexes: found.into_iter().cloned().collect(),
        reason,
        bands: None,
    }
}

/// The order in which the best index of a face comes last: of equals the lowest angle.
pub fn poorer_first(a: &IndexReach, b: &IndexReach) -> Ordering {
    let by_share = a.share.certain.total_cmp(&b.share.certain);
    let by_share = by_share.then(a.share.undecided.total_cmp(&b.share.undecided));
    by_share.then(b.index_deg.total_cmp(&a.index_deg))
}

/// The reason that stays where the most of the face looks at the spindle; that the tool does not make such
/// a face only where it does so at no index, as a drill makes a bore along its own axis.
fn main_reason(face: usize, rows: &[Row]) -> Option<Reason> {
    let nothing = |row: &Row| match &row.faces[face] {
        FaceRow::Nothing { away, reason } => Some((*away, reason.clone())),
        FaceRow::Some(_) => None,
    };
    let not_made = |reason: &Option<Reason>| *reason == Some(Reason::NotThisToolsWork);
    let least = rows.iter().filter_map(nothing).min_by(|a, b| {
        let by_kind = not_made(&a.1).cmp(&not_made(&b.1));
        by_kind.then(a.0.total_cmp(&b.0))
    })?;
    least.1
}
