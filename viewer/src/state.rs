//! What the window shows, as plain values: no window, no driver, no thread.
//!
//! A person's [`Act`] or a [`Reply`] of the worker changes the state and gives the tasks that
//! follow from it. Whatever goes wrong becomes a notice; the last good state stays.

use crate::act::{Act, Course, List};
use crate::job::Job;
use crate::reached::{Pointed, ReachTask, Reached};
use crate::worker::{Context, Reply, ShapesTask, Task};
use lapidary::answer::check::model::{CheckAnswer, Measured, Verdict};
use lapidary::answer::moment::find::{Spot, Stood, loaded};
use lapidary::answer::moment::walk::Walked;
use lapidary::answer::moment::{Group, Moment};
use lapidary::answer::otherwise::Otherwise;
use lapidary::answer::scene::Scene;
use lapidary::setup::model::Setup;
use std::sync::Arc;

/// How a group is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Look {
    /// As it is.
    #[default]
    Whole,
    /// Seen through.
    Faint,
    /// Not at all.
    Hidden,
}

impl Look {
    /// The look after this one.
    #[must_use]
    pub const fn next(self) -> Self {
        match self {
            Self::Whole => Self::Faint,
            Self::Faint => Self::Hidden,
            Self::Hidden => Self::Whole,
        }
    }
}

/// An answer, and whether remedies and lengths are in it yet.
#[derive(Debug, Clone)]
pub struct Answered {
    /// The answer.
    pub answer: Arc<CheckAnswer>,
    /// Whether it is whole; before, it lacks remedies and lengths.
    pub whole: bool,
}

/// A walk: a motion being played.
#[derive(Debug, Clone, PartialEq)]
pub struct Walk {
    /// What is walked.
    pub course: Course,
    /// How far, 0 to 1.
    pub share: f64,
    /// Whether it goes on by itself.
    pub goes: bool,
    /// Time that has passed and is not walked yet.
    pub owed_s: f64,
    /// The share from which it goes without a jump.
    pub begin: f64,
    /// What was walked since then, as far as it is measured, and the least gap over all of it.
    pub walked: Option<Walked>,
}

/// What is shown.
#[derive(Debug, Clone)]
pub struct State {
    /// The job as it was read.
    pub job: Job,
    /// The setup that is asked: the job's, or one set otherwise.
    pub setup: Arc<Setup>,
    /// What is set otherwise.
    pub otherwise: Otherwise,
    /// The answer to the setup; an older one while it is checked again.
    pub answered: Option<Answered>,
    /// Whether the answer belongs to the setup as it is now.
    pub fresh: bool,
    /// Where in the answer.
    pub spot: Option<Spot>,
    /// Where the worker is asked to go: what stands there is not known yet.
    pub going: Option<Spot>,
    /// What stands there.
    pub stood: Stood,
    /// The dial, where it was turned away from the spot.
    pub turned_deg: Option<f64>,
    /// The walk.
    pub walk: Option<Walk>,
    /// Speed of walks, a factor.
    pub speed: f64,
    /// Looks of the groups, in their order.
    pub looks: [Look; 7],
    /// Whether the scene is open, and by how much its plane is turned.
    pub open: Option<f64>,
    /// Gap at this moment; while it is measured, the one before.
    pub now: Option<Measured>,
    /// Whether the gap at this moment is yet to come.
    pub measuring: bool,
    /// Name of the body that was picked.
    pub picked: Option<String>,
    /// The face that was picked.
    pub pointed: Option<Pointed>,
    /// Where the tool at hand reaches it, and what was asked.
    pub reached: Option<(ReachTask, Reached)>,
    /// What went wrong, or what was done.
    pub notice: Option<String>,
    /// What is wrong with what was typed last.
    pub slip: Option<String>,
    /// Stage of the check.
    pub stage: Option<(String, usize, usize)>,
    /// Which list is shown.
    pub list: List,
    /// Whether the keys are shown.
    pub help: bool,
    /// Raised with every setup that is asked: replies to older ones are dropped.
    pub generation: u64,
    /// The cut that was asked for at the start.
    pub begin_cut: Option<String>,
    /// The angle that was asked for at the start.
    pub begin_deg: Option<f64>,
    /// Whether the shapes asked for last are yet to come: what is drawn is of a moment before.
    pub shaping: bool,
    /// The shapes that were asked for last.
    asked_shapes: Option<ShapesTask>,
    /// The moment that was measured last.
    asked_moment: Option<Moment>,
}

impl State {
    /// The job as it is loaded, and the tasks to begin with.
    #[must_use]
    pub fn new(job: Job, begin_cut: Option<String>, begin_deg: Option<f64>) -> (Self, Vec<Task>) {
        let stood = stood_as_loaded(&job);
        let mut state = Self {
            setup: Arc::clone(&job.setup),
            job,
            otherwise: Otherwise::default(),
            answered: None,
            fresh: false,
            spot: None,
            going: None,
            stood,
            turned_deg: begin_deg,
            walk: None,
            speed: 1.0,
            // The spindle's head would hide what it stands over.
            looks: Group::ALL.map(|group| match group {
                Group::Spindle => Look::Faint,
                _ => Look::Whole,
            }),
            open: None,
            now: None,
            measuring: false,
            picked: None,
            pointed: None,
            reached: None,
            notice: None,
            slip: None,
            stage: None,
            list: List::Troubles,
            help: false,
            generation: 0,
            begin_cut,
            begin_deg,
            shaping: false,
            asked_shapes: None,
            asked_moment: None,
        };
        let mut tasks = state.follow();
        tasks.extend(state.check());
        (state, tasks)
    }

    /// What a task needs to know.
    #[must_use]
    pub fn context(&self) -> Context {
        Context {
            setup: Arc::clone(&self.setup),
            store: self.job.store.clone(),
            generation: self.generation,
        }
    }

    /// The moment that is shown: of the spot, of the walk, or with the dial turned.
    #[must_use]
    pub fn moment(&self) -> Moment {
        let walked = self.walk.as_ref().and_then(|walk| match walk.course {
            Course::Approach => self.stood.on_approach(walk.share),
            Course::IndexMove => self.stood.on_turn(walk.share),
        });
        if let Some(moment) = walked {
            return moment;
        }
        let mut moment = self.stood.moment.clone();
        if let Some(turned_deg) = self.turned_deg {
            moment.index_deg = turned_deg;
            moment.own = None;
            moment.turning = false;
        }
        moment
    }

    /// The gap that the answer tells for the spot, where nothing was moved away from it.
    #[must_use]
    pub fn measured(&self) -> Option<&Measured> {
        self.stood.measured.as_ref()
    }

    /// The verdict that the answer has for the spot: of the trouble, the cut, the move.
    #[must_use]
    pub fn verdict_here(&self) -> Option<Verdict> {
        let answer = &self.answered.as_ref()?.answer;
        match self.spot? {
            Spot::Trouble(at) => answer.troubles.get(at).map(|told| told.verdict),
            Spot::Cut(at) => answer.cuts.get(at).map(|told| told.verdict),
            Spot::Move(at) => answer.index_moves.get(at).map(|told| told.verdict),
        }
    }

    /// Whether the moment shown is the one that the answer tells of.
    #[must_use]
    pub fn at_spot(&self) -> bool {
        self.walk.is_none() && self.turned_deg.is_none()
    }

    /// The look of a group.
    #[must_use]
    pub fn look(&self, group: Group) -> Look {
        let position = Group::ALL.iter().position(|other| *other == group);
        position.map_or(Look::Whole, |position| self.looks[position])
    }

    /// The tool at hand: index into the tools.
    #[must_use]
    pub fn tool(&self) -> Option<usize> {
        self.moment().tool
    }

    /// Tasks that follow from what is shown now: shapes where they differ, a gap where the moment
    /// differs.
    pub(crate) fn follow(&mut self) -> Vec<Task> {
        let mut tasks: Vec<Task> = crate::reached::follow(self).into_iter().collect();
        let moment = self.moment();
        let marked = self.marked();
        let shapes = ShapesTask {
            generation: self.generation,
            states: moment.states.clone(),
            tool: moment.tool,
            own: moment.own.as_ref().map(|own| own.seat).or(self.stood.seat),
            marked,
            open: self.open.map(|turned_deg| (turned_deg, moment.clone())),
            place: self.open.and(self.plane_place()),
        };
        if self.asked_shapes.as_ref() != Some(&shapes) {
            self.asked_shapes = Some(shapes.clone());
            self.shaping = true;
            tasks.push(Task::Shapes(self.context(), Box::new(shapes)));
        }
        if self.asked_moment.as_ref() != Some(&moment) {
            self.asked_moment = Some(moment.clone());
            self.measuring = moment.tool.is_some();
            // In a walk the gap of a moment ago stays; elsewhere it would tell of another place.
            if self.walk.is_none() {
                self.now = None;
            }
            if moment.tool.is_some() {
                let walk = crate::doing::walk_task(self).map(Box::new);
                tasks.push(Task::Measure(self.context(), Box::new(moment), walk));
            }
        }
        tasks
    }

    /// Takes note that shapes have come: they may not be the last that were asked for.
    pub fn shapes_came(&mut self, asked: &ShapesTask) {
        self.shaping &= self.asked_shapes.as_ref() != Some(asked);
    }

    /// Names of the two bodies that come nearest.
    fn marked(&self) -> Option<[String; 2]> {
        let measured = if self.at_spot() {
            self.measured()
        } else {
            None
        };
        // Beyond the cap no two bodies are the nearest.
        let measured = measured.filter(|measured| measured.gap.hi_mm.is_some());
        measured.map(|measured| [measured.element_body.clone(), measured.body.clone()])
    }

    /// The place of the gap shown, in the table frame.
    #[must_use]
    pub fn place(&self) -> Option<[f64; 3]> {
        let shown = if self.at_spot() {
            self.measured().or(self.now.as_ref())
        } else {
            self.now.as_ref()
        };
        shown?.place.map(|place| place.machine_mm)
    }

    /// The place that the opening plane goes through: it stays while a walk goes on.
    #[must_use]
    pub fn plane_place(&self) -> Option<[f64; 3]> {
        let place = self.measured().and_then(|measured| measured.place);
        place.map(|place| place.machine_mm)
    }

    /// Asks the setup again.
    pub(crate) fn check(&mut self) -> Vec<Task> {
        self.fresh = false;
        self.stage = Some(("begin".to_owned(), 0, 0));
        vec![Task::Check(self.context())]
    }

    /// Takes a message of the worker in.
    pub fn hear(&mut self, reply: Reply) -> Vec<Task> {
        match reply {
            Reply::Answer(generation, answer, whole) if generation == self.generation => {
                self.take_answer(answer, whole)
            }
            Reply::Stage(generation, stage) if generation == self.generation => {
                self.stage = Some(stage);
                Vec::new()
            }
            Reply::Now(generation, moment, measured, walked) if generation == self.generation => {
                if self.asked_moment.as_ref() == Some(&*moment) {
                    crate::doing::count(self, walked.map(|walked| *walked));
                    self.measuring = false;
                    self.now = measured.map(|measured| *measured);
                }
                Vec::new()
            }
            Reply::Stood(generation, spot, stood) if generation == self.generation => {
                self.take_stood(spot, *stood);
                self.follow()
            }
            Reply::Picked(hit) => {
                let spot = crate::change::spot_of_hit(self, hit.body.as_ref());
                let mut tasks = spot.map_or_else(Vec::new, |spot| self.act(Act::Go(spot)));
                self.picked = hit.body.map(|(name, _)| name);
                self.pointed = hit.pointed;
                tasks.extend(self.follow());
                tasks
            }
            Reply::Reached(asked, told) => {
                crate::reached::hear(self, &asked, told);
                Vec::new()
            }
            Reply::Reloaded(job) => self.take_job(*job),
            Reply::Failed(message) => {
                self.notice = Some(message);
                Vec::new()
            }
            Reply::Refused(generation, message) if generation == self.generation => {
                self.stage = None;
                self.notice = Some(message);
                if let Some((_, reached @ Reached::Asking)) = &mut self.reached {
                    *reached = Reached::Refused;
                }
                Vec::new()
            }
            _ => Vec::new(),
        }
    }

    fn take_stood(&mut self, spot: Spot, stood: Stood) {
        if self.going != Some(spot) {
            return;
        }
        // Both at once, so that no panel tells of one place what belongs to another.
        self.spot = self.going.take();
        self.stood = stood;
        if let Some(begin_deg) = self.begin_deg.take() {
            let off_deg = (begin_deg - self.stood.moment.index_deg).rem_euclid(360.0);
            self.turned_deg = (off_deg != 0.0).then_some(begin_deg);
        }
    }

    fn take_answer(&mut self, answer: Arc<CheckAnswer>, whole: bool) -> Vec<Task> {
        let before = self.answered.take();
        let spot = crate::change::spot_in(
            &answer,
            before.as_ref().map(|before| before.answer.as_ref()),
            self.going.or(self.spot),
            self.begin_cut.take().as_deref(),
        );
        let old = before.as_ref().map(|before| before.answer.as_ref());
        if !crate::change::same_there(&answer, old, self.spot) {
            self.spot = None;
        }
        self.answered = Some(Answered { answer, whole });
        self.fresh = true;
        if whole {
            self.stage = None;
        }
        match spot {
            Some(spot) => self.go(spot),
            None => Vec::new(),
        }
    }

    /// Other files, the same window: everything that still makes sense stays.
    fn take_job(&mut self, job: Job) -> Vec<Task> {
        self.job = job;
        self.notice = Some("a file has changed: read again".to_owned());
        self.otherwise = Otherwise::default();
        self.restart()
    }

    /// The setup has changed: what stood is shown as far as it can, until the answer comes.
    pub(crate) fn restart(&mut self) -> Vec<Task> {
        self.generation += 1;
        self.setup = if self.otherwise.is_nothing() {
            Arc::clone(&self.job.setup)
        } else {
            Arc::new(self.otherwise.applied(&self.job.setup))
        };
        if !crate::change::fits(&self.stood, &self.setup) {
            self.stood = stood_as_loaded(&self.job);
            self.spot = None;
            self.going = None;
            self.answered = None;
        }
        self.walk = None;
        self.asked_shapes = None;
        self.asked_moment = None;
        let mut tasks = self.follow();
        tasks.extend(self.check());
        tasks
    }

    /// Goes to a spot: the worker finds what stands there.
    pub(crate) fn go(&mut self, spot: Spot) -> Vec<Task> {
        let Some(answered) = &self.answered else {
            return Vec::new();
        };
        self.going = Some(spot);
        vec![Task::Stand(
            self.context(),
            Arc::clone(&answered.answer),
            spot,
        )]
    }

    /// Takes what a person did.
    pub fn act(&mut self, act: Act) -> Vec<Task> {
        let mut tasks = crate::doing::done(self, act);
        tasks.extend(self.follow());
        tasks
    }

    /// Lets time pass: walks go on.
    pub fn tick(&mut self, seconds: f64) -> Vec<Task> {
        crate::doing::walk_on(self, seconds);
        self.follow()
    }
}

fn stood_as_loaded(job: &Job) -> Stood {
    let scene = Scene::new(&job.setup, job.store.clone());
    match scene {
        Ok(scene) => loaded(&scene),
        // The store was built from this very setup, so this is only for the type's sake.
        Err(_) => crate::change::nothing(&job.setup),
    }
}
