//! The index dial: the carrier along its rotary axis, the spindle at its true side.
//!
//! The scale turns with the carrier and the spindle is its pointer, as on a dividing head. A click
//! on the scale brings that angle under the spindle.

use crate::act::Act;
use crate::doing::indexes_deg;
use crate::reached::Reached;
use crate::sheets::{INK, PALE, verdict_colour};
use crate::state::State;
use crate::views::Sides;
use crate::words;
use kiss3d::egui::{
    Align2, Color32, FontId, Painter, Pos2, Response, Sense, Shape, Stroke, Ui, Vec2, pos2, vec2,
};
use lapidary::answer::check::model::{CheckAnswer, Verdict};
use lapidary::answer::scene::Scene;
use lapidary::report::mark;
use lapidary::value::{Vec3, about_axis};
use nalgebra::Point3;

/// A click this near to an index that the job uses means that index.
const SNAP_DEG: f64 = 5.0;

/// Width and height of the dial, with the numbers round it.
const SIDE: f32 = 220.0;

/// Share of the radius at which arcs stand: on the strokes of the scale, which are longer to either side.
const REACHED: f32 = 0.955;

/// Share of the radius at which the arcs of index moves stand: between the two rings of chips.
const MOVES: f32 = 0.74;

/// A wider arc has a chip with its mark in its middle.
const CHIPPED_DEG: f64 = 8.0;

/// Angles of the dial, without a screen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dial {
    /// Where the spindle is: counter-clockwise from the right, in degrees.
    pub spindle_deg: f64,
    /// How far the work turns, counter-clockwise, per degree of the rotary.
    pub per_deg: f64,
    /// Rotary angle now.
    pub index_deg: f64,
}

impl Dial {
    /// The dial of a setup; `None` without a rotary sense, or where the spindle lies along the
    /// rotary axis.
    #[must_use]
    pub fn of(scene: &Scene<'_>, sides: &Sides, index_deg: f64) -> Option<Self> {
        let per_deg = scene.kinematics.work_turn_per_deg()?;
        let [right, up] = sides.dial_axes();
        let (x, y) = (sides.spindle.dot(&right), sides.spindle.dot(&up));
        (x.hypot(y) > 1e-6).then(|| Self {
            spindle_deg: y.atan2(x).to_degrees(),
            per_deg,
            index_deg,
        })
    }

    /// Where on the dial a rotary angle stands now.
    #[must_use]
    pub fn place_deg(&self, rotary_deg: f64) -> f64 {
        self.spindle_deg + self.per_deg * (self.index_deg - rotary_deg)
    }

    /// The rotary angle that stands at a place of the dial now, from 0 to below 360.
    #[must_use]
    pub fn rotary_deg(&self, place_deg: f64) -> f64 {
        (self.index_deg - (place_deg - self.spindle_deg) / self.per_deg).rem_euclid(360.0)
    }
}

/// An angle that was clicked, on a step of the rotary or on an index that the job uses.
#[must_use]
pub fn snapped_deg(clicked_deg: f64, used_deg: &[f64], step_deg: Option<f64>) -> f64 {
    let apart = |angle: f64| {
        let off = (angle - clicked_deg).rem_euclid(360.0);
        off.min(360.0 - off)
    };
    let near = used_deg
        .iter()
        .copied()
        .min_by(|a, b| apart(*a).total_cmp(&apart(*b)))
        .filter(|angle| apart(*angle) <= SNAP_DEG);
    near.unwrap_or_else(|| {
        let step_deg = step_deg.unwrap_or(1.0);
        ((clicked_deg / step_deg).round() * step_deg).rem_euclid(360.0)
    })
}

/// The angles that index moves go over.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turned {
    /// Begin, from 0 to below 360.
    pub from_deg: f64,
    /// End.
    pub to_deg: f64,
    /// Verdict.
    pub verdict: Verdict,
}

/// The index moves of a tool, each range of angles once with the worst verdict of all that go over
/// it, the worst last: it is drawn on top.
#[must_use]
pub fn moves(answer: &CheckAnswer, tool: u32) -> Vec<Turned> {
    let mut arcs: Vec<Turned> = Vec::new();
    for step in answer.index_moves.iter().filter(|step| step.tool == tool) {
        let low_deg = step.from_deg.min(step.to_deg);
        let from_deg = low_deg.rem_euclid(360.0);
        let to_deg = from_deg + (step.to_deg - step.from_deg).abs();
        let same = |arc: &&mut Turned| (arc.from_deg, arc.to_deg) == (from_deg, to_deg);
        match arcs.iter_mut().find(same) {
            Some(arc) => arc.verdict = arc.verdict.max(step.verdict),
            None => arcs.push(Turned {
                from_deg,
                to_deg,
                verdict: step.verdict,
            }),
        }
    }
    arcs.sort_by_key(|arc| arc.verdict);
    arcs
}

/// Draws the dial, and takes a click on it.
pub fn show(ui: &mut Ui, state: &State, scene: &Scene<'_>, sides: &Sides, acts: &mut Vec<Act>) {
    let moment = state.moment();
    let Some(dial) = Dial::of(scene, sides, moment.index_deg) else {
        ui.label("no dial: the machine file does not say which way the rotary turns");
        return;
    };
    let side = ui.available_width().min(SIDE);
    let (response, painter) = ui.allocate_painter(Vec2::splat(side), Sense::click());
    crate::sheets::remember(ui.ctx(), "dial", response.rect);
    let face = Face {
        centre: response.rect.center(),
        radius: side / 2.0 - 20.0,
    };
    face.scale(&painter, &dial);
    face.reached(&painter, state, &dial);
    face.carrier(&painter, scene, sides, &dial);
    face.indexes(&painter, state, &dial);
    face.moves(&painter, state, &dial);
    face.spindle(&painter, &dial);
    let rotary = &scene.setup.machine.rotary.name;
    // A tenth is enough here, and leaves room for the numbers of the sides.
    let tenth_deg = (moment.index_deg * 10.0).round() / 10.0;
    let here = format!("{} {}", words::name(rotary), words::angle(tenth_deg));
    painter.text(
        face.centre,
        Align2::CENTER_CENTER,
        here,
        FontId::proportional(15.0),
        INK,
    );
    click(&response, &face, &dial, state, acts);
}

fn click(response: &Response, face: &Face, dial: &Dial, state: &State, acts: &mut Vec<Act>) {
    let at = response
        .interact_pointer_pos()
        .filter(|_| response.clicked());
    let Some(at) = at else { return };
    let off = at - face.centre;
    if off.length() < face.radius * 0.25 {
        return;
    }
    let place_deg = f64::from((-off.y).atan2(off.x).to_degrees());
    let clicked_deg = dial.rotary_deg(place_deg);
    let step_deg = state.setup.machine.rotary.step_deg;
    acts.push(Act::Turn(snapped_deg(
        clicked_deg,
        &indexes_deg(state),
        step_deg,
    )));
}

/// Where the dial is on the screen.
struct Face {
    centre: Pos2,
    radius: f32,
}

impl Face {
    /// A point at a place and a share of the radius.
    fn at(&self, place_deg: f64, share: f32) -> Pos2 {
        let angle = place_deg.to_radians() as f32;
        self.centre + vec2(angle.cos(), -angle.sin()) * self.radius * share
    }

    /// The scale: a stroke for every 10 degrees, a longer one and its number for every 30.
    fn scale(&self, painter: &Painter, dial: &Dial) {
        painter.circle_filled(self.centre, self.radius, Color32::WHITE);
        painter.circle_stroke(self.centre, self.radius, Stroke::new(1.0, INK));
        for tick in 0..36 {
            let rotary_deg = f64::from(tick) * 10.0;
            let place_deg = dial.place_deg(rotary_deg);
            let long = tick % 3 == 0;
            let inner = if long { 0.92 } else { 0.96 };
            let stroke = Stroke::new(1.0, INK);
            painter.line_segment([self.at(place_deg, inner), self.at(place_deg, 1.0)], stroke);
            // The number at the pointer stands in the middle already.
            let off_deg = (place_deg - dial.spindle_deg + 180.0).rem_euclid(360.0) - 180.0;
            if long && off_deg.abs() > 13.0 {
                painter.text(
                    self.at(place_deg, 1.12),
                    Align2::CENTER_CENTER,
                    format!("{rotary_deg}"),
                    FontId::proportional(11.0),
                    INK,
                );
            }
        }
    }

    /// An arc along the scale wherever the tool at hand reaches the face that was clicked.
    fn reached(&self, painter: &Painter, state: &State, dial: &Dial) {
        let Some((_, Reached::Arcs(arcs))) = &state.reached else {
            return;
        };
        for arc in arcs {
            let width_deg = arc.to_deg - arc.from_deg;
            // A point at least every three degrees: the line is round to a tenth of a pixel.
            let steps = (width_deg / 3.0).ceil().max(1.0);
            let at =
                |share: f64| self.at(dial.place_deg(arc.from_deg + width_deg * share), REACHED);
            let points: Vec<Pos2> = (0..=steps as u32)
                .map(|step| at(f64::from(step) / steps))
                .collect();
            painter.add(Shape::line(
                points,
                Stroke::new(5.0, verdict_colour(arc.verdict)),
            ));
            if width_deg > CHIPPED_DEG {
                chip(painter, at(0.5), 6.0, arc.verdict);
            }
        }
    }

    /// The outline of the carrier's sides with their numbers.
    fn carrier(&self, painter: &Painter, scene: &Scene<'_>, sides: &Sides, dial: &Dial) {
        let carrier = &scene.setup.carrier;
        let count = carrier.sides.clamp(1, 24);
        let [right, up] = sides.dial_axes();
        let turn = about_axis(
            &scene.setup.machine.rotary.direction,
            &Point3::origin(),
            dial.per_deg * dial.index_deg,
        );
        let first = turn.rotation * (carrier.machine_from_carrier_at_zero.rotation * Vec3::x());
        let first_deg = first.dot(&up).atan2(first.dot(&right)).to_degrees();
        let step_deg = 360.0 / f64::from(count);
        let corners: Vec<Pos2> = (0..count)
            .map(|side| self.at(first_deg + (f64::from(side) + 0.5) * step_deg, 0.6))
            .collect();
        if count > 2 {
            let outline = Shape::convex_polygon(corners, PALE, Stroke::new(1.5, INK));
            painter.add(outline);
        }
        let inner = (std::f64::consts::PI / f64::from(count.max(3))).cos() as f32 * 0.6;
        // The numbers stand where the seats are: a carrier may count its sides either way.
        let mut told = Vec::new();
        for seat in &scene.setup.seats {
            if told.contains(&seat.side) {
                continue;
            }
            told.push(seat.side);
            let carrier_from_seat = seat.carrier_from_seat.rotation;
            let machine_from_carrier = carrier.machine_from_carrier_at_zero.rotation;
            let out = turn.rotation * (machine_from_carrier * (carrier_from_seat * Vec3::z()));
            painter.text(
                self.at(
                    out.dot(&up).atan2(out.dot(&right)).to_degrees(),
                    inner - 0.08,
                ),
                Align2::CENTER_CENTER,
                seat.side.to_string(),
                FontId::proportional(12.0),
                INK,
            );
        }
    }

    /// A chip at every index that the job uses: outside for all tools, inside for the tool at hand.
    fn indexes(&self, painter: &Painter, state: &State, dial: &Dial) {
        let Some(answered) = &state.answered else {
            return;
        };
        let number = state.tool().map(|tool| state.setup.tools[tool].number);
        for index_deg in indexes_deg(state) {
            let here = |angle: Option<f64>| {
                angle.is_some_and(|angle| (angle.rem_euclid(360.0) - index_deg).abs() < 1e-9)
            };
            let cuts = answered.answer.cuts.iter();
            let at_index = cuts.filter(|cut| here(cut.index_deg));
            let worst = at_index.clone().map(|cut| cut.verdict).max();
            let own = at_index.filter(|cut| Some(cut.tool) == number);
            let own = own.map(|cut| cut.verdict).max();
            let place_deg = dial.place_deg(index_deg);
            if let Some(verdict) = worst {
                chip(painter, self.at(place_deg, 0.82), 8.5, verdict);
            }
            if let Some(verdict) = own {
                chip(painter, self.at(place_deg, 0.66), 6.5, verdict);
            }
        }
    }

    /// An arc for the index moves of the tool at hand, with the mark of their verdict.
    fn moves(&self, painter: &Painter, state: &State, dial: &Dial) {
        let Some(answered) = &state.answered else {
            return;
        };
        let number = state.tool().map(|tool| state.setup.tools[tool].number);
        let Some(number) = number else { return };
        for arc in moves(&answered.answer, number) {
            let width_deg = arc.to_deg - arc.from_deg;
            let at = |share: f64| self.at(dial.place_deg(arc.from_deg + width_deg * share), MOVES);
            let points: Vec<Pos2> = (0..=24).map(|step| at(f64::from(step) / 24.0)).collect();
            let stroke = Stroke::new(3.0, verdict_colour(arc.verdict));
            painter.add(Shape::line(points, stroke));
            chip(painter, at(0.5), 6.0, arc.verdict);
        }
    }

    /// The spindle: a wedge outside the scale that points inward.
    fn spindle(&self, painter: &Painter, dial: &Dial) {
        let tip = self.at(dial.spindle_deg, 1.01);
        let base = self.at(dial.spindle_deg, 1.19);
        let along = (base - tip).normalized();
        let across = vec2(-along.y, along.x) * 7.0;
        painter.add(Shape::convex_polygon(
            vec![tip, base + across, base - across],
            INK,
            Stroke::NONE,
        ));
    }
}

/// A spot in the colour of a verdict, with its mark.
pub fn chip(painter: &Painter, at: Pos2, radius: f32, verdict: Verdict) {
    painter.circle_filled(at, radius, verdict_colour(verdict));
    painter.text(
        pos2(at.x, at.y - 0.5),
        Align2::CENTER_CENTER,
        mark::mark(verdict).to_string(),
        FontId::monospace(radius * 1.9),
        crate::sheets::on_colour(verdict),
    );
}

#[cfg(test)]
mod tests {
    use super::*;

    const DIAL: Dial = Dial {
        spindle_deg: -90.0,
        per_deg: -1.0,
        index_deg: 90.0,
    };

    #[test]
    fn the_angle_of_the_carrier_stands_at_the_spindle() {
        assert_eq!(DIAL.place_deg(90.0), DIAL.spindle_deg);
        // Work that turns left-handed by 90 more brings the angle 180 there from the left-handed
        // side: it stands a quarter counter-clockwise now.
        assert_eq!(DIAL.place_deg(180.0), 0.0);
        for angle in [0.0, 12.5, 90.0, 271.0] {
            let back = DIAL.rotary_deg(DIAL.place_deg(angle));
            assert!((back - angle).abs() < 1e-9, "{angle}: {back}");
        }
    }

    #[test]
    fn a_click_near_a_used_index_is_that_index() {
        let used = [0.0, 90.0, 180.0];
        assert_eq!(snapped_deg(357.2, &used, Some(1.0)), 0.0);
        assert_eq!(snapped_deg(93.0, &used, Some(1.0)), 90.0);
        assert_eq!(snapped_deg(47.4, &used, Some(1.0)), 47.0);
        assert_eq!(snapped_deg(47.4, &[], Some(5.0)), 45.0);
        assert_eq!(snapped_deg(359.8, &[], None), 0.0);
    }
}
