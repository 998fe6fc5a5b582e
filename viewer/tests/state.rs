//! The state of the window, driven without a window: tasks are done one after the other.

#![allow(clippy::unwrap_used)]

use lapidary::answer::check::Silent;
use lapidary::answer::check::model::{IndexMoveAnswer, Measured, Phase, Trouble, Verdict};
use lapidary::answer::drawing::arcs_of;
use lapidary::answer::moment::find::Spot;
use lapidary::answer::moment::{Group, table_from_group};
use lapidary::answer::reach::{ReachOptions, reach};
use lapidary::answer::scene::Scene;
use lapidary::mesh::faces::faces;
use lapidary_viewer::act::{Act, Course};
use lapidary_viewer::job::{self, Job};
use lapidary_viewer::pick::{Hit, Ray, first_hit};
use lapidary_viewer::reached::{self, Pointed, ReachTask, Reached};
use lapidary_viewer::state::{Look, State};
use lapidary_viewer::tasks;
use lapidary_viewer::worker::{PickTask, Reply, Task};
use nalgebra::Point3;
use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;
use std::sync::mpsc::channel;

fn demo(name: &str) -> Job {
    let path = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../demo-models");
    job::read(&path.join(name)).unwrap()
}

/// Does every task, and every task that follows.
fn settle(state: &mut State, tasks: Vec<Task>) {
    let mut open: VecDeque<Task> = tasks.into();
    while let Some(task) = open.pop_front() {
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
}

fn opened(name: &str) -> State {
    let (mut state, tasks) = State::new(demo(name), None, None);
    settle(&mut state, tasks);
    state
}

fn act(state: &mut State, act: Act) {
    let tasks = state.act(act);
    settle(state, tasks);
}

#[test]
fn a_window_opens_at_the_worst_place_and_steps_on() {
    let mut state = opened("horizontal.toml");
    let answer = state.answered.clone().unwrap().answer;
    assert_eq!(state.spot, Some(Spot::Trouble(0)));
    let worst = answer.troubles[0].worst.clone().unwrap();
    assert_eq!(state.measured(), Some(&worst));
    let now = state.now.clone().unwrap();
    assert_eq!((now.verdict, &now.body), (Verdict::Clash, &worst.body));

    for step in [1, 2, 0] {
        act(&mut state, Act::StepTrouble(1));
        assert_eq!(state.spot, Some(Spot::Trouble(step)));
    }
    // The index move comes nearest between its ends, and there the moment is as told.
    let in_a_move = |trouble: &Trouble| trouble.phase == Some(Phase::IndexMove);
    let turning = answer.troubles.iter().position(in_a_move).unwrap();
    act(&mut state, Act::Go(Spot::Trouble(turning)));
    let told = state.measured().unwrap().clone();
    let now = state.now.clone().unwrap();
    assert!(state.moment().turning);
    assert!((now.gap.lo_mm - told.gap.lo_mm).abs() < 2e-3);
    assert_eq!(now.wanted_mm, told.wanted_mm);

    act(&mut state, Act::StepCut(-1));
    assert_eq!(state.spot, Some(Spot::Cut(0)));
    act(&mut state, Act::StepCut(-1));
    assert_eq!(state.spot, Some(Spot::Cut(answer.cuts.len() - 1)));

    // The dial turns the carrier away from the spot, and a walk or another spot brings it back.
    act(&mut state, Act::Worst);
    let index_deg = state.moment().index_deg;
    act(&mut state, Act::Turn(index_deg + 45.0));
    assert!(!state.at_spot() && state.moment().own.is_none());
    assert!(state.now.is_some());
    act(&mut state, Act::StepIndex(1));
    assert_eq!(state.moment().index_deg.rem_euclid(90.0), 0.0);
    act(&mut state, Act::Worst);
    assert!(state.at_spot());
    walks(&mut state);
    turns(&mut state);
    clicks(&mut state);
}

/// The approach ends at the depth of the place, and its least gap is not below the certified one.
fn walks(state: &mut State) {
    let certified = state.measured().unwrap().gap.lo_mm;
    act(state, Act::Walk(Course::Approach));
    let mut heights = Vec::new();
    for _ in 0..200 {
        let tasks = state.tick(0.25);
        settle(state, tasks);
        heights.push(state.moment().tip.z);
        if !state.walk.as_ref().unwrap().goes {
            break;
        }
    }
    let walk = state.walk.clone().unwrap();
    assert_eq!(walk.share, 1.0);
    assert!(
        heights.windows(2).all(|pair| pair[1] <= pair[0]),
        "{heights:?}"
    );
    let walked = walk.walked.unwrap();
    assert_eq!((walked.from, walked.to), (0.0, 1.0));
    assert!(walked.least.unwrap().gap.lo_mm >= certified - 1e-6);
    act(state, Act::Walk(Course::IndexMove));
    act(state, Act::Share(0.5));
    assert!(state.moment().turning && state.moment().own.is_none());
}

/// An index move walked to its end has the gap that is told of it, although answers are lost on
/// the way; after a jump only what follows is counted.
fn turns(state: &mut State) {
    let answer = state.answered.clone().unwrap().answer;
    let with_tool = |step: &IndexMoveAnswer| {
        let room = |least: &Measured| least.gap.lo_mm - least.wanted_mm;
        let tool = step
            .least
            .as_ref()
            .filter(|least| least.gap.hi_mm.is_some());
        let work = step.work_least.as_ref().map_or(f64::INFINITY, room);
        step.from_deg != step.to_deg && tool.is_some_and(|tool| room(tool) < work)
    };
    let at = answer.index_moves.iter().position(with_tool).unwrap();
    let told = answer.index_moves[at].least.clone().unwrap();
    act(state, Act::Go(Spot::Move(at)));
    act(state, Act::Walk(Course::IndexMove));
    let mut lost = 0;
    for step in 0..200 {
        let tasks = state.tick(0.25);
        if step % 3 == 1 {
            // An answer that never comes: time goes on, the walk waits, and is asked again later.
            drop(tasks);
            state.measuring = false;
            lost += 1;
            continue;
        }
        settle(state, tasks);
        if !state.walk.as_ref().unwrap().goes {
            break;
        }
    }
    let walked = state.walk.clone().unwrap().walked.unwrap();
    assert!(
        lost > 3 && walked.from == 0.0 && walked.to == 1.0,
        "{walked:?}"
    );
    let least = walked.least.unwrap();
    let off_mm = (least.gap.lo_mm - least.wanted_mm) - (told.gap.lo_mm - told.wanted_mm);
    assert!(off_mm.abs() < 2e-3, "{least:#?} {told:#?}");
    act(state, Act::Share(0.25));
    act(state, Act::Share(0.75));
    let walk = state.walk.clone().unwrap();
    let walked = walk.walked.unwrap();
    assert_eq!((walk.begin, walked.from, walked.to), (0.75, 0.75, 0.75));
}

fn picked_body(name: &str, seat: Option<usize>) -> Reply {
    Reply::Picked(Hit {
        body: Some((name.to_owned(), seat)),
        pointed: None,
    })
}

/// A click on a body of a trouble goes there; on another seat's part to a cut at that seat.
fn clicks(state: &mut State) {
    act(state, Act::Worst);
    let answer = state.answered.clone().unwrap().answer;
    // The trouble after the one that is shown.
    let body = answer.troubles[1].worst.clone().unwrap().body;
    let tasks = state.hear(picked_body(&body, None));
    settle(state, tasks);
    assert_eq!(state.spot, Some(Spot::Trouble(1)));
    assert_eq!(state.picked, Some(body));
    let seat = state.setup.seats.len() - 1;
    let tasks = state.hear(picked_body("a part", Some(seat)));
    settle(state, tasks);
    let Some(Spot::Cut(at)) = state.spot else {
        panic!("a cut was expected: {:?}", state.spot)
    };
    assert_eq!(answer.cuts[at].seat, state.setup.seats[seat].name);
}

#[test]
fn a_longer_tool_is_asked_again_and_old_replies_are_dropped() {
    let mut state = opened("horizontal.toml");
    let before = state.answered.clone().unwrap().answer;
    let tool = state.tool().unwrap();
    let length_mm = state.setup.tools[tool].gauge_length_mm;
    let late = state.generation;
    act(&mut state, Act::Length(length_mm + 10.0));
    assert_eq!(state.setup.tools[tool].gauge_length_mm, length_mm + 10.0);
    assert_eq!(state.job.setup.tools[tool].gauge_length_mm, length_mm);
    let after = state.answered.clone().unwrap().answer;
    assert_eq!(
        after.troubles.len(),
        before.troubles.len() - 1,
        "{:#?}",
        after.troubles
    );
    // Where the trouble was, the window still is.
    assert!(matches!(state.spot, Some(Spot::Cut(_))), "{:?}", state.spot);
    let tasks = state.hear(Reply::Answer(late, before.clone(), true));
    assert!(tasks.is_empty());
    assert_eq!(state.answered.clone().unwrap().answer, after);

    act(&mut state, Act::AsInJob);
    assert_eq!(state.answered.clone().unwrap().answer, before);
    act(&mut state, Act::Length(f64::NAN));
    assert!(state.otherwise.is_nothing());
    // Much wanted: something is close. Nothing wanted: close is no more, a clash stays one.
    let close = |state: &State| {
        let answer = state.answered.clone().unwrap().answer;
        let troubles = answer.troubles.iter();
        troubles
            .filter(|trouble| trouble.verdict == Verdict::Close)
            .count()
    };
    assert_eq!(close(&state), 0);
    act(&mut state, Act::WantedRest(8.0));
    assert!(close(&state) > 0);
    act(&mut state, Act::WantedRest(0.0));
    act(&mut state, Act::WantedIndex(0.0));
    assert_eq!(close(&state), 0);
    assert_eq!(
        state.answered.clone().unwrap().answer.troubles.len(),
        before.troubles.len()
    );
}

#[test]
fn groups_go_from_whole_to_faint_to_hidden() {
    let (mut state, _) = State::new(demo("vertical.toml"), None, None);
    for look in [Look::Faint, Look::Hidden, Look::Whole] {
        state.act(Act::Look(Group::Clamps));
        assert_eq!(state.look(Group::Clamps), look);
    }
    assert_eq!(state.look(Group::Parts), Look::Whole);
}

/// A small job with any names, made from the README's machine by hand.
fn written(folder: &Path, cuts: usize, word: &str) -> PathBuf {
    let demo = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("../demo-models");
    let machine = demo.join("machines/horizontal.toml");
    let quote = |text: &str| serde_json::to_string(text).unwrap();
    let mut text = format!(
        r#"
format = "lapidary/job"
version = 1
units = "mm"
title = {title}
machine_file = {machine}
[carrier]
name = "column"
kind = "column"
sides = 4
across_flats = 150
length = 300
[[parts]]
name = {title}
states = [{{ name = "blank", file = {mesh} }}]
[[seats]]
name = "one"
part = {title}
sides = [1]
at = [[0, 200]]
[[tools]]
number = 1
name = {title}
kind = "drill"
DC = 6
LU = 40
DMM = 6
LF = 120
stick_out = 60
grip = 20
holder = [{{ diameter = 30, height = 60 }}]
"#,
        title = quote(word),
        machine = quote(&machine.to_string_lossy()),
        mesh = quote(&demo.join("meshes/housing-blank.stl").to_string_lossy()),
    );
    for cut in 0..cuts {
        text += &format!(
            r#"
[[cuts]]
name = {name}
tool = 1
part = {title}
before = "blank"
after = "blank"
[cuts.feature]
kind = "round-hole"
at = [[0, 0, 60]]
access = [0, 0, 1]
depth = 5
"#,
            name = quote(&format!("{word} {cut}")),
            title = quote(word),
        );
    }
    let path = folder.join("job.toml");
    std::fs::write(&path, text).unwrap();
    path
}

#[test]
fn a_job_without_cuts_is_shown_with_a_notice() {
    let folder = tempfile::tempdir().unwrap();
    let job = job::read(&written(folder.path(), 0, "none")).unwrap();
    let (mut state, tasks) = State::new(job, None, None);
    settle(&mut state, tasks);
    assert!(state.notice.clone().unwrap().contains("no cuts"));
    for key in [
        Act::StepTrouble(1),
        Act::StepCut(1),
        Act::Worst,
        Act::StepIndex(1),
    ] {
        act(&mut state, key);
    }
    act(&mut state, Act::Walk(Course::Approach));
    assert!(state.walk.is_none() && state.spot.is_none());
}

#[test]
fn odd_names_and_thousands_of_cuts_are_shown() {
    let folder = tempfile::tempdir().unwrap();
    let word = "<b>\"q\"</b>/\\\u{6f22}\u{05d0}";
    let job = job::read(&written(folder.path(), 2000, word)).unwrap();
    let (mut state, tasks) = State::new(job, Some(format!("{word} 1999")), None);
    settle(&mut state, tasks);
    let answer = state.answered.clone().unwrap().answer;
    assert_eq!(answer.cuts.len(), 2000);
    assert_eq!(state.spot, Some(Spot::Cut(1999)));
    assert_eq!(
        state.setup.cuts[state.stood.cut.unwrap()].name,
        format!("{word} 1999")
    );
}

/// A click on a face of the finished part: asked in its own thread, older answers dropped, arcs as the library
/// has them.
#[test]
fn arcs_of_the_face_that_was_clicked() {
    let mut state = opened("horizontal.toml");
    let tool = state.tool().unwrap();
    let at = Pointed {
        seat: 0,
        face: "flat-22".to_owned(),
    };
    let hit = Hit {
        body: None,
        pointed: Some(at.clone()),
    };
    let tasks = state.hear(Reply::Picked(hit));
    let asked = tasks.into_iter().find_map(|task| match task {
        Task::Reach(context, asked) => asked.map(|asked| (context, *asked)),
        _ => None,
    });
    let (context, asked) = asked.expect("a question");
    assert_eq!((asked.tool, &asked.at), (tool, &at));
    assert_eq!(state.reached, Some((asked.clone(), Reached::Asking)));
    // An answer to another question changes nothing.
    let older = ReachTask {
        generation: asked.generation + 1,
        ..asked.clone()
    };
    let _ = state.hear(Reply::Reached(Box::new(older), Reached::NoArcs));
    assert_eq!(state.reached, Some((asked.clone(), Reached::Asking)));
    // A question that is stopped tells nothing.
    let (tell, told) = channel();
    reached::ask(&context, asked.clone(), &AtomicBool::new(true), &tell);
    assert!(told.try_recv().is_err());
    reached::ask(&context, asked, &AtomicBool::new(false), &tell);
    let _ = state.hear(told.try_recv().unwrap());
    let Some((_, Reached::Arcs(arcs))) = &state.reached else {
        panic!("{:?}", state.reached)
    };
    let options = ReachOptions {
        indexes_deg: vec![0.0],
        tools: vec![state.setup.tools[tool].number],
        seats: vec![state.setup.seats[0].name.clone()],
        faces: vec![at.face],
        bands: true,
        bands_to_deg: 1.0,
        ..ReachOptions::default()
    };
    let answer = reach(&state.setup, &options, &Silent, &AtomicBool::new(false)).unwrap();
    let bands = answer.parts[0].faces[0].tools[0].seats[0]
        .bands
        .clone()
        .unwrap();
    let wanted = arcs_of(&[(0, &bands)]);
    assert!(!wanted.is_empty());
    assert_eq!(
        *arcs,
        wanted.iter().map(|(arc, _)| *arc).collect::<Vec<_>>()
    );
    // Nothing is clicked any more: the question ends.
    let tasks = state.hear(Reply::Picked(Hit::default()));
    assert!(
        tasks
            .iter()
            .any(|task| matches!(task, Task::Reach(_, None)))
    );
    assert_eq!(state.reached, None);
}

/// The face is that of the finished part, also where stock is still over it.
#[test]
fn a_click_finds_the_face_under_the_stock() {
    let state = opened("horizontal.toml");
    let scene = Scene::new(&state.setup, state.job.store.clone()).unwrap();
    let mut moment = state.moment();
    moment.states = vec![0; state.setup.seats.len()];
    let part = state.setup.seats[0].part.unwrap();
    let last = state.setup.parts[part].states.len() - 1;
    let body = scene.part(0, last).unwrap().unwrap();
    let table_from_part = table_from_group(&scene, Group::Parts, &moment) * body.pose;
    let at = |z: f64| table_from_part * Point3::new(0.0, -10.0, z);
    let task = PickTask {
        ray: Ray {
            from: at(80.0),
            towards: at(79.0) - at(80.0),
        },
        moment,
        hidden: vec![Group::Tool, Group::Spindle],
        open: None,
    };
    let hit = first_hit(&scene, &task).unwrap();
    assert_eq!(hit.body.unwrap().1, Some(0));
    let pointed = hit.pointed.unwrap();
    // The floor of the pocket, 46 - 30 over the part's foot.
    let mesh = &state.setup.parts[part].states[last].mesh;
    let found = faces(mesh);
    let face = found.faces.iter().find(|face| face.name == pointed.face);
    assert!((face.unwrap().centre.z - 16.0).abs() < 1e-6);
}
