//! What is drawn over the scene: the line of the gap with its label, the machine axes.

use crate::eye::{Eye, to_f32};
use crate::sheets::{INK, note, verdict_colour};
use crate::state::State;
use crate::words;
use kiss3d::egui::{Align2, Color32, Context, FontId, LayerId, Painter, Pos2, Stroke, pos2, vec2};
use kiss3d::renderer::Polyline3d;
use kiss3d::window::Window;
use lapidary::answer::check::model::Measured;
use lapidary::answer::scene::Scene;
use lapidary::report::mark;
use nalgebra::Point3;

/// Below this distance on the screen the gap is a spot, not a line.
const SPOT_PX: f32 = 7.0;

/// The gap that is drawn: of the answer at its spot, else of this moment.
#[must_use]
pub fn drawn_gap(state: &State) -> Option<&Measured> {
    if state.at_spot() {
        state.measured().or(state.now.as_ref())
    } else {
        state.now.as_ref()
    }
}

/// The edges where the scene is cut open, as lines on top.
pub fn edges(window: &mut Window, edges: &[[kiss3d::glamx::Vec3; 2]]) {
    // Many short lines cost a frame much; beyond this the colours alone must do.
    if edges.len() > 20_000 {
        return;
    }
    let ink = crate::scene::linear([INK.r(), INK.g(), INK.b()], 1.0);
    for [from, to] in edges {
        let line = Polyline3d::new(vec![*from, *to])
            .with_color(ink)
            .with_width(1.5)
            .with_depth_bias(0.0005);
        window.draw_polyline(&line);
    }
}

/// The nearest points and their gap, or the ends of an overlap.
pub fn gap(context: &Context, state: &State, eye: &Eye, size: [f32; 2], scale: f32) {
    let Some(measured) = drawn_gap(state) else {
        return;
    };
    let Some(place) = measured.place else { return };
    let painter = context.layer_painter(LayerId::background());
    let on_screen = |point: [f64; 3]| {
        let pixel = eye.on_screen(Point3::from(point), size)?;
        Some(pos2(pixel[0] / scale, pixel[1] / scale))
    };
    let (Some(tool), Some(body)) = (on_screen(place.tool_mm), on_screen(place.machine_mm)) else {
        return;
    };
    let colour = verdict_colour(measured.verdict);
    let middle = tool + (body - tool) / 2.0;
    if (tool - body).length() < SPOT_PX {
        ring(&painter, middle, colour);
    } else {
        for (width, colour) in [(5.0, Color32::WHITE), (2.5, colour)] {
            painter.line_segment([tool, body], Stroke::new(width, colour));
            for end in [tool, body] {
                painter.circle_filled(end, 2.0 + width / 2.0, colour);
            }
        }
    }
    let text = format!(
        "{} {}",
        mark::mark(measured.verdict),
        place
            .overlap_mm
            .map_or_else(|| words::gap(&measured.gap), words::overlap)
    );
    let at = middle + vec2(26.0, -26.0);
    let stroke = Stroke::new(1.0, INK);
    painter.line_segment([middle + vec2(6.0, -6.0), at], stroke);
    note(
        &painter,
        at + vec2(3.0, 0.0),
        Align2::LEFT_BOTTOM,
        &text,
        16.0,
    );
}

fn ring(painter: &Painter, at: Pos2, colour: Color32) {
    painter.circle_stroke(at, 7.0, Stroke::new(5.0, Color32::WHITE));
    painter.circle_stroke(at, 7.0, Stroke::new(2.5, colour));
}

/// The machine axes in a corner, as they lie in the view.
pub fn axes(context: &Context, scene: &Scene<'_>, eye: &Eye, at: Pos2) {
    use kiss3d::camera::Camera3d;
    let painter = context.layer_painter(LayerId::background());
    let view = eye.camera.view_transform();
    let mut arms: Vec<(f32, Pos2, &str)> = scene
        .setup
        .machine
        .axes
        .iter()
        .map(|axis| {
            let turned = view.rotation * to_f32(&axis.direction);
            let end = at + vec2(turned.x, -turned.y) * 34.0;
            (turned.z, end, axis.name.as_str())
        })
        .collect();
    arms.sort_by(|a, b| a.0.total_cmp(&b.0));
    for (_, end, name) in arms {
        painter.line_segment([at, end], Stroke::new(4.0, Color32::WHITE));
        painter.line_segment([at, end], Stroke::new(2.0, INK));
        let name = words::name(name);
        let beyond = at + (end - at) * 1.32;
        painter.text(
            beyond,
            Align2::CENTER_CENTER,
            name,
            FontId::proportional(13.0),
            INK,
        );
    }
}
