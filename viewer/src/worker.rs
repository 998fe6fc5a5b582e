//! The threads beside the window: checking, measuring, merging, picking, watching files.
//!
//! The window sends a [`Task`] and looks for [`Reply`]s once a frame; it never waits. Of tasks of
//! one kind only the latest is done. Replies carry the generation of the setup that was asked, so
//! that late ones can be told.

use crate::job::{Job, Stamp};
use crate::pick::{Hit, Ray};
use crate::reached::{ReachTask, Reached};
use crate::shapes::Shapes;
use lapidary::answer::check::model::{CheckAnswer, Measured};
use lapidary::answer::moment::find::{Spot, Stood};
use lapidary::answer::moment::walk::{Stretch, Walked};
use lapidary::answer::moment::{Group, Moment};
use lapidary::answer::scene::ShapeStore;
use lapidary::setup::model::Setup;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex};
use std::time::Duration;

/// How often input files are looked at: a change is seen soon, and a network folder is not worn.
const WATCH_EVERY: Duration = Duration::from_millis(500);

/// What a task needs to know of the setup.
#[derive(Debug, Clone)]
pub struct Context {
    /// The setup.
    pub setup: Arc<Setup>,
    /// Trees of its meshes.
    pub store: ShapeStore,
    /// Which setup in the order of asking.
    pub generation: u64,
}

/// Which shapes are wanted.
#[derive(Debug, Clone, PartialEq)]
pub struct ShapesTask {
    /// Of which setup.
    pub generation: u64,
    /// State of the part at each seat.
    pub states: Vec<usize>,
    /// Tool: index into the tools.
    pub tool: Option<usize>,
    /// The seat whose part is cut.
    pub own: Option<usize>,
    /// Names of the two bodies that come nearest.
    pub marked: Option<[String; 2]>,
    /// Cut open at this moment, the plane turned by this about the tool axis.
    pub open: Option<(f64, Moment)>,
    /// The place that the plane goes through.
    pub place: Option<[f64; 3]>,
}

/// Work for the threads.
#[derive(Debug)]
pub enum Task {
    /// Check the setup, first quickly, then with remedies and lengths.
    Check(Context),
    /// What stands at a spot.
    Stand(Context, Arc<CheckAnswer>, Spot),
    /// Triangles to draw.
    Shapes(Context, Box<ShapesTask>),
    /// The gap at a moment, and over what was walked to it.
    Measure(Context, Box<Moment>, Option<Box<WalkTask>>),
    /// Which body a ray hits first.
    Pick(Context, Box<PickTask>),
    /// Where a tool reaches a face; `None` ends the question before.
    Reach(Context, Option<Box<ReachTask>>),
    /// Other files to watch.
    Watch(PathBuf, Vec<Stamp>),
}

impl Task {
    /// The setup that it belongs to.
    const fn generation(&self) -> u64 {
        match self {
            Self::Check(context)
            | Self::Stand(context, ..)
            | Self::Shapes(context, _)
            | Self::Measure(context, ..)
            | Self::Pick(context, _)
            | Self::Reach(context, _) => context.generation,
            Self::Watch(..) => 0,
        }
    }
}

/// What was walked since the last gap that is known.
#[derive(Debug, Clone, PartialEq)]
pub struct WalkTask {
    /// Shares of the motion, begin and end.
    pub shares: [f64; 2],
    /// What moves between them.
    pub stretches: Vec<Stretch>,
}

/// A ray into a moment.
#[derive(Debug, Clone)]
pub struct PickTask {
    /// The ray, in the table frame.
    pub ray: Ray,
    /// Everything in its place.
    pub moment: Moment,
    /// Groups that are not drawn.
    pub hidden: Vec<Group>,
    /// Where the scene is open: the turn of the plane, and the place that it goes through.
    pub open: Option<(f64, Option<[f64; 3]>)>,
}

/// What the threads tell.
#[derive(Debug)]
pub enum Reply {
    /// An answer, and whether it is whole.
    Answer(u64, Arc<CheckAnswer>, bool),
    /// How far the check is: stage, steps done, steps.
    Stage(u64, (String, usize, usize)),
    /// What stands at a spot.
    Stood(u64, Spot, Box<Stood>),
    /// Triangles to draw, and what was asked for.
    Shapes(Box<ShapesTask>, Box<Shapes>),
    /// The gap at a moment, and over what was walked to it.
    Now(u64, Box<Moment>, Option<Box<Measured>>, Option<Box<Walked>>),
    /// What was hit.
    Picked(Hit),
    /// Where a tool reaches a face.
    Reached(Box<ReachTask>, Reached),
    /// Files have changed and were read again.
    Reloaded(Box<Job>),
    /// Files have changed and could not be read.
    Failed(String),
    /// A setup could not be asked.
    Refused(u64, String),
}

/// The threads.
#[derive(Debug)]
pub struct Worker {
    quick: Sender<Task>,
    watch: Sender<(PathBuf, Vec<Stamp>)>,
    replies: Receiver<Reply>,
    tell: Sender<Reply>,
    stop: Arc<Mutex<Arc<AtomicBool>>>,
    stop_reach: Arc<Mutex<Arc<AtomicBool>>>,
}

impl Default for Worker {
    fn default() -> Self {
        Self::new()
    }
}

impl Worker {
    /// Starts the threads; they end with the worker.
    #[must_use]
    pub fn new() -> Self {
        let (tell, replies) = channel();
        let (quick, quick_tasks) = channel();
        let (watch, watched) = channel();
        let quick_tell = tell.clone();
        std::thread::spawn(move || quick_loop(&quick_tasks, &quick_tell));
        let watch_tell = tell.clone();
        std::thread::spawn(move || watch_loop(&watched, &watch_tell));
        Self {
            quick,
            watch,
            replies,
            tell,
            stop: Arc::default(),
            stop_reach: Arc::default(),
        }
    }

    /// Hands work over; does not wait.
    pub fn give(&self, task: Task) {
        // A thread that has ended has no one to tell; the window goes on without it.
        match task {
            Task::Check(context) => self.check(context),
            Task::Reach(context, asked) => self.reach(context, asked),
            Task::Watch(job, stamps) => {
                let _ = self.watch.send((job, stamps));
            }
            other => {
                let _ = self.quick.send(other);
            }
        }
    }

    /// What was told since the last look.
    pub fn replies(&self) -> impl Iterator<Item = Reply> + '_ {
        self.replies.try_iter()
    }

    /// The next reply, waited for; `None` after a while without one.
    #[must_use]
    pub fn wait(&self, longest: Duration) -> Option<Reply> {
        self.replies.recv_timeout(longest).ok()
    }

    /// A check in a thread of its own; the one before is stopped.
    fn check(&self, context: Context) {
        let stop = next_stop(&self.stop);
        let tell = self.tell.clone();
        std::thread::spawn(move || {
            let generation = context.generation;
            let work = || crate::tasks::check(&context, &stop, &tell);
            if let Err(refused) = unbroken(generation, work) {
                let _ = tell.send(refused);
            }
        });
    }

    /// A question of reach in a thread of its own; the one before is stopped.
    fn reach(&self, context: Context, asked: Option<Box<ReachTask>>) {
        let stop = next_stop(&self.stop_reach);
        let Some(asked) = asked else { return };
        let tell = self.tell.clone();
        std::thread::spawn(move || {
            let generation = context.generation;
            let work = || crate::reached::ask(&context, *asked, &stop, &tell);
            if let Err(refused) = unbroken(generation, work) {
                let _ = tell.send(refused);
            }
        });
    }
}

impl Drop for Worker {
    fn drop(&mut self) {
        next_stop(&self.stop);
        next_stop(&self.stop_reach);
    }
}

/// Stops what goes on, and gives the stop of what comes next.
fn next_stop(current: &Mutex<Arc<AtomicBool>>) -> Arc<AtomicBool> {
    let stop = Arc::new(AtomicBool::new(false));
    if let Ok(mut current) = current.lock() {
        current.store(true, Ordering::Relaxed);
        *current = Arc::clone(&stop);
    }
    stop
}

/// A fault in the work ends neither thread nor window: it is told, and what is shown stays.
fn unbroken<T>(generation: u64, work: impl FnOnce() -> T) -> Result<T, Reply> {
    catch_unwind(AssertUnwindSafe(work)).map_err(|_| {
        let message = "this could not be worked out: a fault of the program, told on stderr";
        Reply::Refused(generation, message.to_owned())
    })
}

/// Does the latest task of each kind, in the order of the kinds.
fn quick_loop(tasks: &Receiver<Task>, tell: &Sender<Reply>) {
    while let Ok(first) = tasks.recv() {
        let mut latest: [Option<Task>; 4] = [None, None, None, None];
        for task in std::iter::once(first).chain(tasks.try_iter()) {
            let kind = match &task {
                Task::Stand(..) => 0,
                Task::Shapes(..) => 1,
                Task::Measure(..) => 2,
                _ => 3,
            };
            latest[kind] = Some(task);
        }
        for task in latest.into_iter().flatten() {
            let generation = task.generation();
            let reply = unbroken(generation, || crate::tasks::quick(task)).unwrap_or_else(Some);
            if let Some(reply) = reply
                && tell.send(reply).is_err()
            {
                return;
            }
        }
    }
}

/// Looks at the files of the job, and reads it again when one has changed.
fn watch_loop(watched: &Receiver<(PathBuf, Vec<Stamp>)>, tell: &Sender<Reply>) {
    let Ok((mut path, mut stamps)) = watched.recv() else {
        return;
    };
    loop {
        match watched.recv_timeout(WATCH_EVERY) {
            Ok(other) => (path, stamps) = other,
            Err(std::sync::mpsc::RecvTimeoutError::Timeout) => {}
            Err(std::sync::mpsc::RecvTimeoutError::Disconnected) => return,
        }
        if !stamps.iter().any(Stamp::has_changed) {
            continue;
        }
        // The same change is read once, whether it can be used or not.
        stamps = stamps.iter().map(|stamp| Stamp::of(&stamp.path)).collect();
        let reply = match crate::job::read(&path) {
            Ok(job) => {
                stamps.clone_from(&job.stamps);
                Reply::Reloaded(Box::new(job))
            }
            Err(faults) => Reply::Failed(crate::words::cannot_reload(&faults)),
        };
        if tell.send(reply).is_err() {
            return;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fault_in_the_work_is_told() {
        assert!(matches!(unbroken(3, || 5), Ok(5)));
        let told = unbroken(3, || -> u8 { panic!("planted") });
        assert!(matches!(told, Err(Reply::Refused(3, _))));
    }
}
