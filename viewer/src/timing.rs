//! How long a start and a frame take, drawn without a display: `--frames N --picture FILE`.

use crate::act::Act;
use crate::args::Args;
use crate::eye::Eye;
use crate::job::Job;
use crate::picture::{surface, tell_size};
use crate::scene::Stage;
use crate::state::State;
use crate::views::View;
use crate::window::first_eye;
use crate::worker::{Reply, Worker};
use crate::{marks, panels, ready};
use kiss3d::camera::Camera3d;
use kiss3d::egui::{pos2, vec2};
use kiss3d::window::{NumSamples, OffscreenSurface};
use lapidary::answer::scene::Scene;
use nalgebra::Point3;
use std::time::{Duration, Instant};

/// Longest wait for a reply.
const PATIENCE: Duration = Duration::from_secs(600);

/// The eye goes round once in so many frames.
const FRAMES_ROUND: f32 = 240.0;

/// What was measured.
#[derive(Debug, Clone, PartialEq)]
pub struct Times {
    /// Name of the driver.
    pub driver: String,
    /// Triangles in the scene.
    pub triangles: usize,
    /// From the start of the program to the first frame, read back.
    pub first_s: f64,
    /// From the start of the program to the verdict.
    pub answer_s: f64,
    /// Each frame, panels included, the last one read back.
    pub frame_ms: f64,
    /// How many frames.
    pub frames: u32,
    /// From a changed gauge length to its verdict; `None` where no tool is at hand, or its length
    /// cannot be another.
    pub changed_s: Option<f64>,
}

impl std::fmt::Display for Times {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            out,
            "{}: {} triangles; first frame after {:.2} s, answer after {:.2} s, then {:.1} ms a \
             frame over {} frames",
            self.driver, self.triangles, self.first_s, self.answer_s, self.frame_ms, self.frames
        )?;
        match self.changed_s {
            Some(changed_s) => write!(out, "; a verdict {changed_s:.2} s after a changed length"),
            None => Ok(()),
        }
    }
}

/// Draws what the window would draw, and saves the last frame.
///
/// # Errors
/// That there is no driver, no answer, or that the picture cannot be written.
pub fn run(
    args: &Args,
    job: Job,
    begun: Instant,
    frames: u32,
    file: &std::path::Path,
) -> Result<Times, String> {
    let driver = ready::driver()?;
    let (state, tasks) = State::new(job, args.cut.clone(), args.index_deg);
    let worker = Worker::new();
    for task in tasks {
        worker.give(task);
    }
    let eye = first_eye(&state)?;
    let (times, last) = ready::guarded("no frame could be drawn", || {
        let mut timed = Timed {
            surface: kiss3d::pollster::block_on(surface(args.size, NumSamples::One)),
            stage: Stage::new(),
            state,
            eye,
            worker,
            size: args.size,
            triangles: 0,
        };
        kiss3d::pollster::block_on(timed.run(driver, begun, frames.max(1)))
    })??;
    last.save(file)
        .map_err(|fault| format!("cannot write {}: {fault}", file.display()))?;
    Ok(times)
}

struct Timed {
    surface: OffscreenSurface,
    stage: Stage,
    state: State,
    eye: Eye,
    worker: Worker,
    size: (u32, u32),
    triangles: usize,
}

impl Timed {
    async fn run(
        &mut self,
        driver: String,
        begun: Instant,
        frames: u32,
    ) -> Result<(Times, image::RgbImage), String> {
        tell_size(&self.surface, self.size, &mut self.eye);
        self.frame().await;
        // Read back, so that it has been drawn.
        let _ = self.surface.snap_image();
        let first_s = begun.elapsed().as_secs_f64();
        let mut answer_s = None;
        loop {
            let whole = |state: &State| state.answered.as_ref().is_some_and(|told| told.whole);
            let told = whole(&self.state) || self.state.notice.is_some();
            if told && !self.state.shaping && !self.state.measuring && self.state.going.is_none() {
                break;
            }
            let Some(reply) = self.worker.wait(PATIENCE) else {
                return Err("no answer within ten minutes".to_owned());
            };
            self.hear(reply);
            if self.state.answered.is_some() {
                answer_s.get_or_insert_with(|| begun.elapsed().as_secs_f64());
            }
        }
        let place = self.state.place().map(Point3::from);
        let at = place.unwrap_or(self.state.moment().tip);
        self.eye.look(View::Corner, at, 620.0);
        // The first frame with these shapes sends them to the driver.
        self.frame().await;
        let _ = self.surface.snap_image();
        let since = Instant::now();
        for _ in 0..frames {
            let yaw = self.eye.camera.yaw() + std::f32::consts::TAU / FRAMES_ROUND;
            self.eye.camera.set_yaw(yaw);
            self.frame().await;
        }
        let last = self.surface.snap_image();
        let frame_ms = since.elapsed().as_secs_f64() * 1e3 / f64::from(frames);
        let times = Times {
            driver,
            triangles: self.triangles,
            first_s,
            answer_s: answer_s.unwrap_or(f64::NAN),
            frame_ms,
            frames,
            changed_s: self.change()?,
        };
        Ok((times, last))
    }

    /// Changes the length of the tool at hand by half a millimetre, and waits for the verdict.
    fn change(&mut self) -> Result<Option<f64>, String> {
        let Some(tool) = self.state.tool() else {
            return Ok(None);
        };
        let begun = Instant::now();
        let length_mm = self.state.setup.tools[tool].gauge_length_mm + 0.5;
        for task in self.state.act(Act::Length(length_mm)) {
            self.worker.give(task);
        }
        if self.state.fresh {
            return Ok(None);
        }
        while !self.state.fresh {
            let reply = self.worker.wait(PATIENCE);
            self.hear(reply.ok_or("no answer within ten minutes")?);
        }
        Ok(Some(begun.elapsed().as_secs_f64()))
    }

    fn hear(&mut self, reply: Reply) {
        let tasks = match reply {
            Reply::Shapes(asked, shapes) => {
                self.state.shapes_came(&asked);
                self.triangles = shapes.triangles;
                self.stage.set_shapes(&shapes);
                Vec::new()
            }
            other => self.state.hear(other),
        };
        for task in tasks {
            self.worker.give(task);
        }
    }

    async fn frame(&mut self) {
        let state = &self.state;
        let Ok(scene) = Scene::new(&state.setup, state.job.store.clone()) else {
            return;
        };
        let camera = &self.eye.camera;
        let (from, at) = (camera.eye(), camera.at());
        self.stage.place(&scene, &state.moment());
        self.stage.dress(state);
        self.stage
            .light_from(from, at, crate::eye::to_f32(&self.eye.sides.up));
        let eye = &self.eye;
        let size = [self.size.0 as f32, self.size.1 as f32];
        self.surface.draw_ui(|context| {
            marks::gap(context, state, eye, size, 1.0);
            marks::axes(
                context,
                &scene,
                eye,
                pos2(342.0, 0.0) + vec2(0.0, size[1] - 152.0),
            );
            panels::show(context, state, &scene, &eye.sides, &mut Vec::new());
        });
        self.surface
            .render_3d(&mut self.stage.root, &mut self.eye.camera)
            .await;
    }
}
