//! What the window tells of numbers that were typed, and of index moves on the dial.

#![allow(clippy::unwrap_used)]

use lapidary::answer::check::model::Verdict;
use lapidary_viewer::act::Act;
use lapidary_viewer::dial::moves;
use lapidary_viewer::state::State;
use lapidary_viewer::worker::Task;
use lapidary_viewer::{job, tasks};
use std::path::PathBuf;
use std::sync::atomic::AtomicBool;
use std::sync::mpsc::channel;

/// The demo at its worst place, every task done one after the other.
fn opened() -> State {
    let models = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../demo-models");
    let job = job::read(&models.join("horizontal.toml")).unwrap();
    let (mut state, mut open) = State::new(job, None, None);
    while let Some(task) = open.pop() {
        let mut replies = Vec::new();
        match task {
            Task::Check(context) => {
                let (tell, told) = channel();
                tasks::check(&context, &AtomicBool::new(false), &tell);
                replies.extend(told.try_iter());
            }
            other => replies.extend(tasks::quick(other)),
        }
        for reply in replies {
            open.extend(state.hear(reply));
        }
    }
    state
}

/// A number that cannot be set gives way to the nearest one, and that is told.
#[test]
fn a_number_that_cannot_be_set_is_told() {
    let mut state = opened();
    let tool = state.tool().unwrap();
    let number = state.setup.tools[tool].number;
    state.act(Act::Length(1.0));
    let shortest_mm = state.setup.tools[tool].gauge_length_mm;
    assert!(shortest_mm > 1.0);
    let told = state.slip.clone().unwrap();
    let begin = format!("T{number} gauge length, mm: 1 cannot be set; the shortest is ");
    assert!(told.starts_with(&begin), "{told}");
    state.act(Act::Length(shortest_mm + 1.0));
    assert_eq!(state.slip, None);
    state.act(Act::WantedRest(-1.0));
    assert!(
        state
            .slip
            .clone()
            .unwrap()
            .contains("-1 cannot be set; the least is 0")
    );
    let before = state.otherwise.clone();
    state.act(Act::NoNumber("speed".to_owned(), "12x".to_owned()));
    assert_eq!(
        state.slip.as_deref(),
        Some("speed: \"12x\" is no number; nothing is changed")
    );
    assert_eq!(state.otherwise, before);
    state.act(Act::Seen);
    assert_eq!(state.slip, None);
}

/// The dial's arcs: each range of angles once, with the worst verdict of its moves.
#[test]
fn arcs_of_index_moves_have_the_worst_verdict() {
    let state = opened();
    let answer = state.answered.unwrap().answer;
    for (tool, worst) in [(10, Verdict::Clash), (3, Verdict::Clear)] {
        let arcs = moves(&answer, tool);
        assert_eq!(arcs.len(), 4, "{arcs:?}");
        assert_eq!(arcs.last().unwrap().verdict, worst);
        assert!(arcs.iter().all(|arc| arc.to_deg - arc.from_deg == 90.0));
    }
}
