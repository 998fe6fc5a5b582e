//! What the threads do with each task: all values come from the library.

use crate::pick::first_hit;
use crate::shapes::shapes;
use crate::worker::{Context, Reply, Task, WalkTask};
use lapidary::answer::check::{CheckError, CheckOptions, Progress, check_with};
use lapidary::answer::moment::find::stand;
use lapidary::answer::moment::now::gap_now;
use lapidary::answer::moment::walk::Walked;
use lapidary::answer::scene::Scene;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc::Sender;
use std::sync::{Arc, Mutex};

/// Checks quickly, tells it, then checks with remedies and lengths.
pub fn check(context: &Context, stop: &AtomicBool, tell: &Sender<Reply>) {
    let generation = context.generation;
    if context.setup.cuts.is_empty() {
        let message = "the job has no cuts: there is nothing to check".to_owned();
        let _ = tell.send(Reply::Refused(generation, message));
        return;
    }
    let progress = Told {
        generation,
        tell: Mutex::new(tell.clone()),
        stage: Mutex::default(),
        done: AtomicUsize::new(0),
    };
    for whole in [false, true] {
        let options = CheckOptions {
            lengths: whole,
            remedies: whole,
            overlaps: true,
            ..CheckOptions::default()
        };
        let asked = check_with(&context.setup, &context.store, &options, &progress, stop);
        let reply = match asked {
            Ok(answer) => Reply::Answer(generation, Arc::new(answer), whole),
            Err(CheckError::Stopped) => return,
            Err(fault) => Reply::Refused(generation, fault.to_string()),
        };
        let refused = matches!(reply, Reply::Refused(..));
        if tell.send(reply).is_err() || refused {
            return;
        }
    }
}

/// Tells the window how far a check is, now and then.
struct Told {
    generation: u64,
    tell: Mutex<Sender<Reply>>,
    stage: Mutex<(String, usize)>,
    done: AtomicUsize,
}

impl Told {
    fn say(&self, done: usize) {
        let (Ok(stage), Ok(tell)) = (self.stage.lock(), self.tell.lock()) else {
            return;
        };
        let reply = Reply::Stage(self.generation, (stage.0.clone(), done, stage.1));
        let _ = tell.send(reply);
    }
}

impl Progress for Told {
    fn stage(&self, name: &str, steps: usize) {
        if let Ok(mut stage) = self.stage.lock() {
            *stage = (name.to_owned(), steps);
        }
        self.done.store(0, Ordering::Relaxed);
        self.say(0);
    }

    fn step(&self) {
        let done = self.done.fetch_add(1, Ordering::Relaxed) + 1;
        // A message for each step of 2,000 cuts would only keep the window busy.
        if done.is_multiple_of(16) {
            self.say(done);
        }
    }
}

/// Does a task that is soon done.
#[must_use]
pub fn quick(task: Task) -> Option<Reply> {
    match task {
        Task::Stand(context, answer, spot) => Some(with_scene(&context, |scene| {
            let stood = stand(scene, &answer, spot)?;
            Ok(Reply::Stood(context.generation, spot, Box::new(stood)))
        })),
        Task::Shapes(context, asked) => Some(with_scene(&context, |scene| {
            let made = shapes(scene, &asked)?;
            Ok(Reply::Shapes(asked.clone(), Box::new(made)))
        })),
        Task::Measure(context, moment, walk) => Some(with_scene(&context, |scene| {
            let never = AtomicBool::new(false);
            let measured = gap_now(scene, &moment, &never)?;
            let over = |walk: &WalkTask| Walked::over(scene, walk.shares, &walk.stretches, &never);
            Ok(Reply::Now(
                context.generation,
                moment.clone(),
                measured.map(Box::new),
                walk.as_deref().map(over).transpose()?.map(Box::new),
            ))
        })),
        Task::Pick(context, asked) => Some(with_scene(&context, |scene| {
            Ok(Reply::Picked(first_hit(scene, &asked)?))
        })),
        Task::Check(_) | Task::Reach(..) | Task::Watch(..) => None,
    }
}

/// The scene of a context; what the engine refuses is told.
fn with_scene(
    context: &Context,
    work: impl FnOnce(&Scene<'_>) -> Result<Reply, lapidary::gap::CannotAsk>,
) -> Reply {
    Scene::new(&context.setup, context.store.clone())
        .and_then(|scene| work(&scene))
        .unwrap_or_else(|fault| Reply::Refused(context.generation, fault.to_string()))
}
