//! Where the tool at hand reaches the face that was clicked: asked in a thread of its own.

use crate::pick::{Ray, nearest};
use crate::state::State;
use crate::worker::{Context, PickTask, Reply, Task};
use lapidary::answer::check::{CheckError, Silent};
use lapidary::answer::drawing::arcs_of;
use lapidary::answer::drawing::model::Arc;
use lapidary::answer::moment::{Group, table_from_group};
use lapidary::answer::reach::model::ReachAnswer;
use lapidary::answer::reach::{ReachOptions, reach_with};
use lapidary::answer::scene::Scene;
use lapidary::gap::{CannotAsk, Shape};
use lapidary::mesh::faces::faces;
use std::sync::atomic::AtomicBool;
use std::sync::mpsc::Sender;

/// How exactly the ends of arcs are found: a finer one would not be seen on a dial of this size.
pub const BANDS_TO_DEG: f64 = 1.0;

/// From which share of its area on a face counts as reached: as `lapidary reach` has it.
pub const FROM_SHARE: f64 = 0.95;

/// A face of the finished part at a seat.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Pointed {
    /// Seat: index into the seats.
    pub seat: usize,
    /// Name of the face.
    pub face: String,
}

/// One question: a tool and a face.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ReachTask {
    /// Of which setup.
    pub generation: u64,
    /// Tool: index into the tools.
    pub tool: usize,
    /// The face.
    pub at: Pointed,
}

/// What is known of a question.
#[derive(Debug, Clone, PartialEq)]
pub enum Reached {
    /// It is being asked.
    Asking,
    /// The arcs.
    Arcs(Vec<Arc>),
    /// A drill or a tap reaches at one angle, or the machine does not say which way it turns.
    NoArcs,
    /// No answer came; the notice says why.
    Refused,
}

/// The face of the finished part at a seat that a ray meets first; `None` where it meets only stock.
///
/// # Errors
/// As [`Scene::part`].
pub fn face_under(
    scene: &Scene<'_>,
    asked: &PickTask,
    seat: usize,
    drawn: &dyn Fn(f64) -> bool,
) -> Result<Option<Pointed>, CannotAsk> {
    let part = scene.setup.seats.get(seat).and_then(|seat| seat.part);
    let last = part.map(|part| scene.setup.parts[part].states.len() - 1);
    let Some(last) = last else { return Ok(None) };
    let Some(body) = scene.part(seat, last)? else {
        return Ok(None);
    };
    let table_from_body = table_from_group(scene, Group::Parts, &asked.moment) * body.pose;
    let body_from_table = table_from_body.inverse();
    let ray = Ray {
        from: body_from_table * asked.ray.from,
        towards: body_from_table * asked.ray.towards,
    };
    let (Some((_, triangle)), Shape::Mesh(shape)) =
        (nearest(&body.shape, &ray, drawn), &body.shape)
    else {
        return Ok(None);
    };
    let found = faces(shape.mesh());
    let face = found.face_of_triangle.get(triangle);
    let face = face.and_then(|face| found.faces.get(*face as usize));
    Ok(face.map(|face| Pointed {
        seat,
        face: face.name.clone(),
    }))
}

/// The task that follows from what is shown: another question, or an end of the one before.
pub(crate) fn follow(state: &mut State) -> Option<Task> {
    let wanted = state.pointed.as_ref().and_then(|at| {
        Some(ReachTask {
            generation: state.generation,
            tool: state.tool()?,
            at: at.clone(),
        })
    });
    if state.reached.as_ref().map(|(asked, _)| asked) == wanted.as_ref() {
        return None;
    }
    state.reached = wanted.clone().map(|asked| (asked, Reached::Asking));
    Some(Task::Reach(state.context(), wanted.map(Box::new)))
}

/// Takes an answer in; one to an older question is dropped.
pub(crate) fn hear(state: &mut State, asked: &ReachTask, told: Reached) {
    if let Some((current, reached)) = &mut state.reached
        && current == asked
    {
        *reached = told;
    }
}

/// Asks, and tells.
pub fn ask(context: &Context, task: ReachTask, stop: &AtomicBool, tell: &Sender<Reply>) {
    let setup = &context.setup;
    let part = setup.seats[task.at.seat].part;
    let options = ReachOptions {
        tools: vec![setup.tools[task.tool].number],
        seats: vec![setup.seats[task.at.seat].name.clone()],
        parts: part
            .iter()
            .map(|part| setup.parts[*part].name.clone())
            .collect(),
        faces: vec![task.at.face.clone()],
        from_share: FROM_SHARE,
        bands: true,
        bands_to_deg: BANDS_TO_DEG,
        at_indexes: false,
        ..ReachOptions::default()
    };
    let reply = match reach_with(setup, &context.store, &options, &Silent, stop) {
        Ok(answer) => Reply::Reached(Box::new(task), arcs(&answer)),
        Err(CheckError::Stopped) => return,
        Err(fault) => Reply::Refused(context.generation, fault.to_string()),
    };
    // A window that is closed has no one to tell.
    let _ = tell.send(reply);
}

/// The arcs of an answer about one face, tool and seat.
fn arcs(answer: &ReachAnswer) -> Reached {
    let seat = answer.parts.first().and_then(|part| {
        let tool = part.faces.first()?.tools.first()?;
        tool.seats.first()
    });
    let bands = seat.and_then(|seat| seat.bands.as_ref());
    bands.map_or(Reached::NoArcs, |bands| {
        let arcs = arcs_of(&[(0, bands)]).into_iter();
        Reached::Arcs(arcs.map(|(arc, _)| arc).collect())
    })
}
