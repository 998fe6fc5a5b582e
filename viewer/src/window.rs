//! The window: a loop that draws, listens and never waits for the worker.

use crate::act::{Act, of_key};
use crate::args::Args;
use crate::eye::Eye;
use crate::fields::Typed;
use crate::fonts::Letters;
use crate::job::Job;
use crate::log::Log;
use crate::panels;
use crate::ready;
use crate::scene::{AMBIENT, BACKGROUND, Stage, linear};
use crate::state::{Look, State};
use crate::views::Sides;
use crate::worker::{PickTask, Reply, Task, Worker};
use crate::{marks, sheets};
use kiss3d::camera::Camera3d;
use kiss3d::egui::{Rect, pos2, vec2};
use kiss3d::event::{Action, MouseButton, WindowEvent};
use kiss3d::post_processing::Tonemap;
use kiss3d::window::{CanvasSetup, NumSamples, Window};
use lapidary::answer::moment::Group;
use lapidary::answer::scene::Scene;
use nalgebra::Point3;
use std::time::{Duration, Instant};

/// After this long without anything new, frames are drawn rarely.
const IDLE_AFTER: Duration = Duration::from_millis(800);

/// Between rare frames: soon enough for a first key, and a quiet processor.
const IDLE_FRAME: Duration = Duration::from_millis(60);

/// A pointer that moves less between press and release has clicked, not dragged.
const CLICK_PX: f64 = 4.0;

/// Distance of a first look at a place, in millimetres: a holder and what is round it.
const NEAR_MM: f64 = 620.0;

/// The window with everything in it.
struct Show {
    window: Window,
    stage: Stage,
    eye: Eye,
    state: State,
    worker: Worker,
    log: Option<Log>,
    letters: Letters,
    typed: Typed,
    pressed: Option<(f64, f64)>,
    pointer: (f64, f64),
    looked_at_spot: bool,
    arrived: Option<lapidary::answer::moment::find::Spot>,
    told: Instant,
}

/// Opens the window and runs until it is closed.
///
/// # Errors
/// Why there is no window, or why it ended: no display, no driver, a lost device.
pub fn run(args: &Args, job: Job, begun: Instant) -> Result<(), String> {
    let log = args.log.as_deref().map(Log::create).transpose()?;
    let (state, tasks) = State::new(job, args.cut.clone(), args.index_deg);
    let worker = Worker::new();
    let watch = Task::Watch(state.job.path.clone(), state.job.stamps.clone());
    worker.give(watch);
    for task in tasks {
        worker.give(task);
    }
    let title = format!("{} - lapidary", crate::words::name(&state.setup.title));
    let (width, height) = args.size;
    let opened = ready::guarded("no window could be opened", || {
        kiss3d::pollster::block_on(Window::new_with_setup(
            &title,
            width,
            height,
            CanvasSetup {
                samples: NumSamples::One,
                ..CanvasSetup::default()
            },
        ))
    })
    .map_err(ready::plainer)?;
    let eye = first_eye(&state)?;
    let mut show = Show {
        window: opened,
        stage: Stage::new(),
        eye,
        state,
        worker,
        log,
        letters: Letters::default(),
        typed: Typed::default(),
        pressed: None,
        pointer: (0.0, 0.0),
        looked_at_spot: false,
        arrived: None,
        told: Instant::now(),
    };
    prepare(&mut show.window);
    let outcome = ready::guarded("the window was closed by its driver", || {
        kiss3d::pollster::block_on(show.run(args.frames, begun));
    });
    if outcome.is_err() {
        // Its device is gone: cleaning up would panic once more.
        std::mem::forget(show);
    }
    outcome
}

fn prepare(window: &mut Window) {
    window.set_background_color(linear(BACKGROUND, 1.0));
    window.set_ambient(AMBIENT);
    window.set_shadows_enabled(false);
    window.set_tonemap(Tonemap::None);
    window.set_bloom_enabled(false);
    window.set_transmission_enabled(false);
    sheets::style(window.egui_context());
}

/// An eye that sees the whole carrier.
pub(crate) fn first_eye(state: &State) -> Result<Eye, String> {
    let scene = Scene::new(&state.setup, state.job.store.clone())
        .map_err(|fault| format!("the setup cannot be shown: {fault}"))?;
    let sides = Sides::of(&scene);
    Ok(Eye::new(sides, scene.setup.machine.rotary.centre, 2200.0))
}

impl Show {
    async fn run(&mut self, frames: Option<u32>, begun: Instant) {
        let mut last = Instant::now();
        let mut drawn = 0_u32;
        let mut first_s = None;
        let mut scene_s = None;
        let mut loaded_at = None;
        loop {
            let acts = self.listen();
            // The panels stand before the scene comes: on a slow driver it takes seconds.
            if drawn > 0 {
                self.hear();
                let context = self.window.egui_context();
                if self.letters.follow(context, &self.state.setup) {
                    self.told = Instant::now();
                }
            }
            let now = Instant::now();
            let tasks = self.state.tick((now - last).as_secs_f64());
            last = now;
            self.give(tasks);
            self.do_all(acts);
            let acts = self.draw();
            self.do_all(acts);
            if let Some(log) = &mut self.log {
                log.note(&self.state, self.window.egui_context());
            }
            if !self
                .window
                .render_3d(&mut self.stage.root, &mut self.eye.camera)
                .await
            {
                return;
            }
            first_s.get_or_insert_with(|| begun.elapsed().as_secs_f64());
            if !self.stage.is_empty() {
                scene_s.get_or_insert_with(|| begun.elapsed().as_secs_f64());
            }
            if frames.is_some() && loaded_at.is_none() && self.state.answered.is_some() {
                loaded_at = Some((Instant::now(), drawn, begun.elapsed().as_secs_f64()));
            }
            drawn += 1;
            if let (Some(frames), Some((since, at, answer_s))) = (frames, loaded_at)
                && drawn - at >= frames
            {
                let frame_ms = since.elapsed().as_secs_f64() * 1e3 / f64::from(drawn - at);
                println!(
                    "first frame after {:.2} s, with the scene after {:.2} s, answer after \
                     {answer_s:.2} s, then {frame_ms:.1} ms a frame over {frames} frames",
                    first_s.unwrap_or_default(),
                    scene_s.unwrap_or_default()
                );
                return;
            }
            if frames.is_none() && self.told.elapsed() > IDLE_AFTER {
                std::thread::sleep(IDLE_FRAME);
            }
        }
    }

    fn give(&mut self, tasks: Vec<Task>) {
        if !tasks.is_empty() {
            self.told = Instant::now();
        }
        for task in tasks {
            self.worker.give(task);
        }
    }

    /// Keys and clicks.
    fn listen(&mut self) -> Vec<Act> {
        let mut acts = Vec::new();
        let typing = self.window.is_egui_capturing_keyboard();
        let over_sheet = self.window.is_egui_capturing_mouse();
        let scale = (self.window.scale_factor() as f32).max(0.1);
        for event in self.window.events().iter() {
            self.told = Instant::now();
            if let WindowEvent::MouseButton(MouseButton::Button1, ..) = event.value {
                let (x, y) = self.pointer;
                let at = pos2(x as f32 / scale, y as f32 / scale);
                if crate::fields::at(self.window.egui_context(), at) {
                    self.typed.clicked();
                }
            }
            match event.value {
                WindowEvent::Key(key, Action::Press, with) if !typing && !self.typed.waits() => {
                    acts.extend(of_key(key, with));
                }
                WindowEvent::CursorPos(x, y, _) => self.pointer = (x, y),
                WindowEvent::MouseButton(MouseButton::Button1, Action::Press, _) => {
                    self.pressed = (!over_sheet).then_some(self.pointer);
                }
                WindowEvent::MouseButton(MouseButton::Button1, Action::Release, _) => {
                    let still = self.pressed.take().is_some_and(|(x, y)| {
                        (self.pointer.0 - x).hypot(self.pointer.1 - y) < CLICK_PX
                    });
                    if still && !over_sheet {
                        self.pick();
                    }
                }
                _ => {}
            }
        }
        acts
    }

    fn size(&self) -> [f32; 2] {
        [self.window.width() as f32, self.window.height() as f32]
    }

    fn pick(&mut self) {
        let (x, y) = self.pointer;
        // What the panels say of the pointer is a frame old, and a frame can be long.
        let scale = (self.window.scale_factor() as f32).max(0.1);
        let [width, height] = self.size();
        let screen = Rect::from_min_size(pos2(0.0, 0.0), vec2(width, height) / scale);
        if !panels::free(screen).contains(pos2(x as f32 / scale, y as f32 / scale)) {
            return;
        }
        let ray = self.eye.ray([x as f32, y as f32], self.size());
        let hidden = |group: &Group| self.state.look(*group) != Look::Whole;
        let task = PickTask {
            ray,
            moment: self.state.moment(),
            hidden: Group::ALL.into_iter().filter(hidden).collect(),
            open: self
                .state
                .open
                .map(|turned_deg| (turned_deg, self.state.plane_place())),
        };
        let context = self.state.context();
        self.give(vec![Task::Pick(context, Box::new(task))]);
    }

    fn hear(&mut self) {
        let replies: Vec<Reply> = self.worker.replies().collect();
        for reply in replies {
            self.told = Instant::now();
            match reply {
                Reply::Shapes(asked, shapes) if asked.generation == self.state.generation => {
                    self.state.shapes_came(&asked);
                    self.stage.set_shapes(&shapes);
                    let middle = shapes.work.filter(|_| !self.looked_at_spot);
                    if let Some(([x, y, z], radius)) = middle {
                        let at = Point3::new(f64::from(x), f64::from(y), f64::from(z));
                        self.eye
                            .look(crate::views::View::Corner, at, f64::from(radius) * 4.2);
                    }
                }
                Reply::Reloaded(job) => {
                    let watch = Task::Watch(job.path.clone(), job.stamps.clone());
                    self.worker.give(watch);
                    let tasks = self.state.hear(Reply::Reloaded(job));
                    self.give(tasks);
                }
                other => {
                    let arrives = matches!(other, Reply::Stood(..));
                    let tasks = self.state.hear(other);
                    self.give(tasks);
                    if arrives {
                        self.arrive();
                    }
                }
            }
        }
    }

    /// Turns to a new place; the first time also comes near.
    fn arrive(&mut self) {
        if self.arrived.is_some() && self.arrived == self.state.spot {
            return;
        }
        self.arrived = self.state.spot;
        let place = self.state.place().map(Point3::from);
        let tip = self
            .state
            .stood
            .moment
            .tool
            .map(|_| self.state.stood.moment.tip);
        let Some(at) = place.or(tip) else { return };
        if self.looked_at_spot {
            self.eye.focus(at);
        } else {
            self.eye.look(crate::views::View::Corner, at, NEAR_MM);
            self.looked_at_spot = true;
        }
    }

    fn do_all(&mut self, acts: Vec<Act>) {
        for act in acts {
            self.told = Instant::now();
            let place = self
                .state
                .place()
                .map_or(self.state.moment().tip, Point3::from);
            match &act {
                Act::From(view) => {
                    let distance_mm = f64::from(self.eye.camera.dist());
                    self.eye.look(*view, place, distance_mm);
                }
                Act::Focus => self.eye.focus(place),
                Act::Up => self.eye.next_up(),
                Act::Picture => {
                    let told =
                        crate::picture::save(&self.window.snap_image(), &self.state.job.path);
                    self.state.notice = Some(told);
                }
                _ => {}
            }
            let tasks = self.state.act(act);
            self.give(tasks);
        }
    }

    /// Places and dresses everything and draws the panels.
    fn draw(&mut self) -> Vec<Act> {
        let mut acts = Vec::new();
        let state = &self.state;
        // The store was built from this setup, so this is only for the type's sake.
        let Ok(scene) = Scene::new(&state.setup, state.job.store.clone()) else {
            return acts;
        };
        // Other shapes are on their way: the picture stays as it is until they are here.
        if !state.shaping {
            self.stage.place(&scene, &state.moment());
            self.stage.dress(state);
        }
        let camera = &self.eye.camera;
        let up = crate::eye::to_f32(&self.eye.sides.up);
        self.stage.light_from(camera.eye(), camera.at(), up);
        marks::edges(&mut self.window, &self.stage.edges);
        let size = [self.window.width() as f32, self.window.height() as f32];
        let scale = (self.window.scale_factor() as f32).max(0.1);
        let eye = &self.eye;
        let focus = self.window.is_egui_capturing_keyboard();
        let typed = &mut self.typed;
        self.window.draw_ui(|context| {
            context.input_mut(|input| typed.pass(&mut input.events, focus));
            let screen = Rect::from_min_size(pos2(0.0, 0.0), vec2(size[0], size[1]) / scale);
            let free = panels::free(screen);
            if !state.shaping {
                marks::gap(context, state, eye, size, scale);
            }
            marks::axes(context, &scene, eye, free.left_bottom() + vec2(58.0, -50.0));
            panels::show(context, state, &scene, &eye.sides, &mut acts);
        });
        acts
    }
}
