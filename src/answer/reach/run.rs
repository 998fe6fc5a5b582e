//! The order of work: parts, then indexes that belong together, then directions, tools, seats.

use super::ReachOptions;
use super::around::Bodies;
use super::indexes::{indexes, seats_of};
use super::lids::{Lids, doubts};
use super::model::{Assumption, ReachAnswer};
use super::part::PartQuestion;
use super::surface::Surface;
use super::tools::ReadyTool;
use crate::answer::check::{CheckError, Progress};
use crate::answer::scene::{Scene, ShapeStore};
use crate::mesh::faces::faces;
use crate::setup::file::ToolKind;
use crate::setup::model::Setup;
use std::sync::atomic::AtomicBool;

pub(super) fn run(
    setup: &Setup,
    store: &ShapeStore,
    options: &ReachOptions,
    progress: &dyn Progress,
    stop: &AtomicBool,
) -> Result<ReachAnswer, CheckError> {
    options.fits(setup)?;
    let scene = Scene::new(setup, store.clone())?;
    let lids = Lids::new(&scene)?;
    let tools: Vec<ReadyTool<'_>> = (0..setup.tools.len())
        .filter(|&tool| {
            let tool = &setup.tools[tool];
            let chosen = options.tools.is_empty() || options.tools.contains(&tool.number);
            chosen && tool.kind != ToolKind::Tap
        })
        .map(|tool| ReadyTool::new(&scene, &lids, tool))
        .collect::<Result<_, _>>()?;
    let mut answer = ReachAnswer {
        title: setup.title.clone(),
        machine: setup.machine.name.clone(),
        sense_declared: setup.machine.rotary.sense.is_some(),
        tools: tools
            .iter()
            .map(|ready| (ready.tool.number, ready.tool.name.clone()))
            .collect(),
        indexes_deg: Vec::new(),
        parts: Vec::new(),
        assumes: assumptions(setup),
        doubts: Vec::new(),
    };
    if !answer.sense_declared {
        return Ok(answer);
    }
    let bodies = Bodies::new(&scene, lids)?;
    let surfaces = surfaces(setup, options);
    options.faces_fit(&surfaces)?;
    if options.at_indexes {
        answer.indexes_deg = indexes(&scene, options, &surfaces);
    }
    for (part, surface) in &surfaces {
        let seats = seats_of(setup, options, *part);
        if seats.is_empty() {
            continue;
        }
        let asked = PartQuestion {
            scene: &scene,
            tools: &tools,
            bodies: &bodies,
            indexes_deg: &answer.indexes_deg,
            part: *part,
            surface,
            options,
            seats,
            stop,
        };
        let part = asked.answer(progress)?;
        answer.parts.push(part);
    }
    answer.doubts = doubts(setup, &answer.parts);
    Ok(answer)
}

fn assumptions(setup: &Setup) -> Vec<Assumption> {
    let has = |kind: ToolKind| setup.tools.iter().any(|tool| tool.kind == kind);
    let mut assumes = vec![
        Assumption::OwnPartFinished,
        Assumption::OthersFirstAndLast,
        Assumption::ApproachFromAbove,
        Assumption::BaseNotAsked,
    ];
    if has(ToolKind::GrooveMill) {
        assumes.push(Assumption::SidewaysNotAsked);
    }
    if has(ToolKind::Tap) {
        assumes.push(Assumption::TapsLeftOut);
    }
    assumes
}

fn surfaces<'s>(setup: &'s Setup, options: &ReachOptions) -> Vec<(usize, Surface<'s>)> {
    let chosen = |name: &String| options.parts.is_empty() || options.parts.contains(name);
    setup
        .parts
        .iter()
        .enumerate()
        .filter(|(_, part)| chosen(&part.name))
        .filter_map(|(index, part)| {
            let mesh = &part.states.last()?.mesh;
            Some((index, Surface::new(mesh, faces(mesh), options)))
        })
        .collect()
}
