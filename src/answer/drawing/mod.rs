//! Drawings as values: what a page or a window shows of an answer, decided here.
//!
//! - [`model`]: sections, gap drawings, dials, rings
//! - `moment`: which bodies stand where at a place of an answer
//! - `gap`: the section through the tool axis and the nearest points
//! - `tightest`: the tightest place of each tool
//! - `dial`: the carrier along its rotary axis, with a ring for each tool
//! - `arcs`, `marks`, `reached`: arcs from bands of angle, marks from single angles; dials of where tools
//!   reach faces

mod arcs;
mod dial;
mod gap;
mod marks;
pub mod model;
mod moment;
mod reached;
mod tightest;

pub use arcs::{Ended, arcs_of};
pub use marks::{Marked, marks_of};
pub use reached::reached_dials;

use super::check::model::{CheckAnswer, Outcome};
use super::scene::{Scene, ShapeStore};
use crate::gap::CannotAsk;
use crate::setup::model::Setup;
use gap::About;
use model::{Drawings, GapDrawing, Site, ToolPlace};
use rayon::prelude::*;

/// Every drawing of an answer of the same setup.
///
/// # Guarantees
/// The same setup and answer give the same values, on any number of threads. Nothing is judged
/// anew: gaps, points and verdicts are those of the answer.
///
/// # Errors
/// A [`CannotAsk`] where a shape is not fit to be asked; a checked setup has none.
pub fn drawings(setup: &Setup, answer: &CheckAnswer) -> Result<Drawings, CannotAsk> {
    let scene = Scene::new(setup, ShapeStore::build(setup)?)?;
    let troubles: Vec<Option<GapDrawing>> = answer
        .troubles
        .par_iter()
        .map(|trouble| match &trouble.worst {
            Some(worst) => gap::draw(&scene, worst, &About::trouble(setup, trouble)),
            None => Ok(None),
        })
        .collect::<Result<_, _>>()?;
    let tools = answer
        .tools
        .par_iter()
        .map(|tool| tool_place(&scene, answer, tool.number))
        .collect::<Result<Vec<Option<ToolPlace>>, _>>()?;
    Ok(Drawings {
        troubles,
        tools: tools.into_iter().flatten().collect(),
        dial: dial::dial(&scene, answer)?,
    })
}

/// The tightest place of a tool; `None` where nothing was measured for it.
fn tool_place(
    scene: &Scene<'_>,
    answer: &CheckAnswer,
    tool: u32,
) -> Result<Option<ToolPlace>, CannotAsk> {
    let Some((site, measured)) = tightest::of(answer, tool) else {
        return Ok(None);
    };
    let same = |trouble: &super::check::model::Trouble| trouble.worst.as_ref() == Some(measured);
    let trouble = answer.troubles.iter().position(same);
    let about = match site {
        Site::Cut(at) => About::cut(scene.setup, &answer.cuts[at]),
        Site::IndexMove(at) => About::index_move(scene.setup, &answer.index_moves[at]),
        Site::ToolChange(at) => About::tool_change(scene.setup, &answer.tool_changes[at]),
    };
    let not_reached = match site {
        Site::Cut(at) => Some(at).filter(|at| answer.cuts[*at].outcome != Outcome::Reached),
        Site::IndexMove(_) | Site::ToolChange(_) => None,
    };
    let drawing = match trouble {
        Some(_) => None,
        None => gap::draw(scene, measured, &about)?,
    };
    Ok(Some(ToolPlace {
        tool,
        site,
        measured: measured.clone(),
        not_reached,
        trouble,
        drawing,
    }))
}
