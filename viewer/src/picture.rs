//! Pictures: drawn without a display, or taken from the window.

use crate::args::Args;
use crate::eye::Eye;
use crate::fonts::Letters;
use crate::job::Job;
use crate::marks;
use crate::ready;
use crate::scene::{AMBIENT, BACKGROUND, Stage, linear};
use crate::shapes::Shapes;
use crate::sheets::{self, note_within};
use crate::state::State;
use crate::views::View;
use crate::window::first_eye;
use crate::words;
use crate::worker::{Reply, Task, Worker};
use image::RgbImage;
use kiss3d::camera::Camera3d;
use kiss3d::egui::{Align2, LayerId, pos2, vec2};
use kiss3d::event::WindowEvent;
use kiss3d::post_processing::Tonemap;
use kiss3d::window::{CanvasSetup, NumSamples, OffscreenSurface};
use lapidary::answer::check::model::Verdict;
use lapidary::answer::scene::Scene;
use lapidary::report::mark;
use nalgebra::Point3;
use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::time::Duration;

/// Longest wait for a reply: a check tells of every sixteenth of its steps.
const PATIENCE: Duration = Duration::from_secs(600);

/// Distance of a picture of a place, and of one without a place, in millimetres.
const DISTANCES_MM: [f64; 2] = [760.0, 1900.0];

/// Everything of a picture, before it is drawn.
pub struct Ready {
    state: State,
    shapes: Option<Box<Shapes>>,
    eye: Eye,
}

/// Asks the job, waits for the answer, and finds what stands where.
///
/// # Errors
/// That the job has no such cut, or that it cannot be asked.
pub fn prepare(args: &Args, job: Job) -> Result<Ready, String> {
    if let Some(name) = &args.cut
        && !job.setup.cuts.iter().any(|cut| cut.name == *name)
    {
        return Err(format!("the job has no cut `{name}`"));
    }
    let (mut state, tasks) = State::new(job, args.cut.clone(), args.index_deg);
    let worker = Worker::new();
    let mut last_shapes = None;
    let mut open: Vec<Task> = tasks;
    let mut stood = state.setup.cuts.is_empty();
    let mut progress = Progress::new();
    loop {
        for task in open.drain(..) {
            worker.give(task);
        }
        // Remedies and lengths are in no picture.
        let answered = state.answered.is_some();
        let shown = !state.shaping && !state.measuring;
        if (answered || state.notice.is_some()) && stood && shown {
            break;
        }
        let Some(reply) = worker.wait(PATIENCE) else {
            return Err("no answer within ten minutes".to_owned());
        };
        match reply {
            Reply::Shapes(asked, shapes) => {
                state.shapes_came(&asked);
                last_shapes = Some(shapes);
            }
            Reply::Refused(_, message) if !stood => return Err(message),
            Reply::Stage(_, (name, done, steps)) => progress.say(&name, done, steps),
            other => {
                stood |= matches!(other, Reply::Stood(..));
                open = state.hear(other);
            }
        }
    }
    let mut eye = first_eye(&state)?;
    let place = state.place().map(Point3::from);
    let tip = state.moment().tool.map(|_| state.moment().tip);
    match place.or(tip) {
        Some(at) => eye.look(View::Corner, at, DISTANCES_MM[0]),
        None => eye.look(
            View::Corner,
            state.setup.machine.rotary.centre,
            DISTANCES_MM[1],
        ),
    }
    Ok(Ready {
        state,
        shapes: last_shapes,
        eye,
    })
}

/// How far the check is, in a line that writes over itself: on a terminal only, where someone waits.
struct Progress {
    shown: bool,
    written: usize,
}

impl Progress {
    fn new() -> Self {
        Self {
            shown: std::io::stderr().is_terminal(),
            written: 0,
        }
    }

    fn say(&mut self, name: &str, done: usize, steps: usize) {
        let words = match steps {
            0 => format!("checking: {name}"),
            _ => format!("checking: {name} {done} of {steps}"),
        };
        self.line(&words);
    }

    fn line(&mut self, words: &str) {
        if self.shown {
            eprint!("\r{words:width$}", width = self.written);
            self.written = words.len();
        }
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        if self.written > 0 {
            self.line("");
            eprint!("\r");
        }
    }
}

/// Draws a picture without a display.
///
/// # Errors
/// That there is no driver, or that it failed.
pub fn draw(ready: &mut Ready, size: (u32, u32)) -> Result<RgbImage, String> {
    ready::driver()?;
    ready::guarded("no picture could be drawn", || {
        kiss3d::pollster::block_on(drawn(ready, size))
    })
}

/// A surface without a display, set up as the window is.
pub(crate) async fn surface((width, height): (u32, u32), samples: NumSamples) -> OffscreenSurface {
    let setup = CanvasSetup {
        samples,
        ..CanvasSetup::default()
    };
    let mut surface = OffscreenSurface::with_setup(width, height, setup).await;
    surface.set_background_color(linear(BACKGROUND, 1.0));
    surface.set_ambient(AMBIENT);
    surface.set_shadows_enabled(false);
    surface.set_tonemap(Tonemap::None);
    surface.set_bloom_enabled(false);
    surface.window_mut().set_transmission_enabled(false);
    sheets::style(surface.window().egui_context());
    surface
}

/// The camera learns the size from an event, as in a window.
pub(crate) fn tell_size(surface: &OffscreenSurface, (width, height): (u32, u32), eye: &mut Eye) {
    let told = WindowEvent::FramebufferSize(width, height);
    eye.camera.handle_event(surface.window().canvas(), &told);
}

async fn drawn(ready: &mut Ready, (width, height): (u32, u32)) -> RgbImage {
    let size = [width as f32, height as f32];
    let mut surface = surface((width, height), NumSamples::Four).await;
    tell_size(&surface, (width, height), &mut ready.eye);
    // Nodes need the surface's device.
    let mut stage = Stage::new();
    if let Some(shapes) = &ready.shapes {
        stage.set_shapes(shapes);
    }
    // What is drawn over the scene shows a frame later, and letters that came two later.
    let mut letters = Letters::default();
    let mut frames = 2;
    while frames > 0 {
        compose(&mut surface, &mut stage, ready, size);
        surface
            .render_3d(&mut stage.root, &mut ready.eye.camera)
            .await;
        frames -= 1;
        if letters.fill(surface.window().egui_context(), &ready.state.setup) {
            frames = 2;
        }
    }
    surface.snap_image()
}

fn compose(surface: &mut OffscreenSurface, stage: &mut Stage, ready: &Ready, size: [f32; 2]) {
    let state = &ready.state;
    let Ok(scene) = Scene::new(&state.setup, state.job.store.clone()) else {
        return;
    };
    let camera = &ready.eye.camera;
    stage.place(&scene, &state.moment());
    stage.dress(state);
    let up = crate::eye::to_f32(&ready.eye.sides.up);
    stage.light_from(camera.eye(), camera.at(), up);
    let eye = &ready.eye;
    surface.draw_ui(|context| {
        marks::gap(context, state, eye, size, 1.0);
        marks::axes(context, &scene, eye, pos2(64.0, size[1] - 96.0));
        let painter = context.layer_painter(LayerId::background());
        // The mark stands in front: a long line would push it out of the picture.
        let at = pos2(40.0, size[1] - 12.0);
        let width = (size[0] - 56.0).max(60.0);
        let words = caption(state);
        let line = note_within(&painter, at, Align2::LEFT_BOTTOM, &words, 15.0, width);
        if let Some(verdict) = verdict(state) {
            let chip = line.left_center() - vec2(15.0, 0.0);
            crate::dial::chip(&painter, chip, 10.0, verdict);
        }
    });
}

/// The verdict on what is in the picture: where the carrier was turned away from it, none.
fn verdict(state: &State) -> Option<Verdict> {
    state.verdict_here().filter(|_| state.at_spot())
}

/// What is in the picture, in one line.
fn caption(state: &State) -> String {
    let moment = state.moment();
    let mut words = vec![words::name(&state.setup.title)];
    if let Some(cut) = state.stood.cut {
        words.push(words::name(&state.setup.cuts[cut].name));
    }
    if let Some(tool) = moment.tool {
        words.push(format!("T{}", state.setup.tools[tool].number));
    }
    let rotary = words::name(&state.setup.machine.rotary.name);
    words.push(format!("{rotary} {}", words::angle(moment.index_deg)));
    if let Some(verdict) = verdict(state) {
        let nearest = state.measured().filter(|told| told.gap.hi_mm.is_some());
        words.extend(nearest.map(words::pair));
        words.push(mark::word(verdict).to_owned());
    }
    // Names have commas of their own.
    words.join("; ")
}

/// Writes a picture beside the job, under a name that is free; tells what was done.
#[must_use]
pub fn save(picture: &RgbImage, job: &Path) -> String {
    let stem = job.file_stem().map_or_else(
        || "job".to_owned(),
        |stem| stem.to_string_lossy().into_owned(),
    );
    let named = |number: u32| -> PathBuf { job.with_file_name(format!("{stem}-{number}.png")) };
    let free = (1..10_000).map(named).find(|path| !path.exists());
    let Some(path) = free else {
        return "no picture was saved: 9,999 are there already".to_owned();
    };
    match picture.save(&path) {
        Ok(()) => format!("picture saved as {}", path.display()),
        Err(fault) => format!("no picture was saved: {}: {fault}", path.display()),
    }
}
