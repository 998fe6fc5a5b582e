//! Bands: over which angles of the rotary a tool reaches a face, as intervals that are proved whole.
//!
//! An interval is asked at its middle. Seen from the point that the flutes touch, the tool turns about it
//! while the rotary turns, so that a point of the tool at a distance `d` moves by no more than `d` times
//! the angle; what rests on the bed moves by the point's own distance from the rotary axis. Free: each
//! element keeps its gap with that much in hand. Stopped: an element made smaller by as much still
//! does not. Else the interval is halved (`open`); what is left at the finest is undecided.

use super::cells::Cell;
use super::cutter::{Contacts, contacts};
use super::element::{ElementOver, ElementQuestion};
use super::model::{Alone, Bands};
use super::open::{Found, Hints, KINDS, Next, Open, Over, TRAVEL, bit};
use super::patch::Patch;
use super::place::{Held, Place};
use super::surface::Surface;
use super::tools::ReadyTool;
use super::travel::Travel;
use crate::answer::scene::{Body, Scene};
use crate::gap::CannotAsk;
use crate::setup::file::ToolKind;
use crate::value::{Pose, Vec3, wrap_deg};
use nalgebra::Point3;
use std::sync::atomic::AtomicBool;

/// Width of the first intervals.
const FIRST_DEG: f64 = 15.0;

/// Beside what counts as level, so far about it an angle at which a face lies level or upright is undecided
/// where it may be reached there alone.
const LEVEL_DEG: f64 = 5e-4;

/// A normal with more than this along the rotary axis lies along it.
const SQUARE: f64 = 1.0 - 1e-9;

/// A normal with more than this along the rotary axis hardly turns: its face can count as upright far from the
/// angle at which it is.
const NEARLY_SQUARE: f64 = 0.995;

/// A component of a normal that is no more than this is none.
const LEVEL: f64 = 1e-9;

/// One tool at one seat, asked about one face.
pub struct BandQuestion<'b> {
    /// Bodies and motions.
    pub scene: &'b Scene<'b>,
    /// The tool.
    pub ready: &'b ReadyTool<'b>,
    /// The part's surface.
    pub surface: &'b Surface<'b>,
    /// The seat.
    pub seat: usize,
    /// What turns with the rotary, in the carrier's frame; the own part is left out.
    pub work: &'b [Body],
    /// The part at the seat, in its last state.
    pub own: &'b Body,
    /// What closes open meshes: of the part, of what turns, of the bed.
    pub lids: [&'b [Body]; 3],
    /// From which share on a face counts as reached.
    pub from_share: f64,
    /// How wide what is left undecided about the end of a band may be, or so.
    pub to_deg: f64,
    /// Set from outside to stop.
    pub stop: &'b AtomicBool,
}

impl BandQuestion<'_> {
    /// The bands of a face, and angles at which alone it may be reached, too; `None` for a drill, which
    /// reaches a bore at its own angle only.
    ///
    /// # Guarantees
    /// Within a band at least `from_share` of the face is reached at every angle; outside of bands and
    /// undecided intervals less than that at every angle but for those named.
    ///
    /// # Errors
    /// A [`CannotAsk`] where the engine refuses a question.
    pub fn bands(&self, face: usize) -> Result<Option<(Bands, Vec<Alone>)>, CannotAsk> {
        if matches!(self.ready.tool.kind, ToolKind::Drill | ToolKind::Tap) {
            return Ok(None);
        }
        let cells = self.surface.cells_of(face);
        let found = Found {
            area_mm2: self.surface.area_mm2[face],
            ..Found::default()
        };
        let ends = self.first_ends(&cells);
        let mut bands = self.settled(&ends, &cells, found)?;
        if self.scene.setup.machine.rotary.limits_deg.is_none() {
            bands.close_the_circle();
        }
        let about_deg = self.level_deg(face, &cells);
        let mut alone = Vec::new();
        for angle_deg in ends {
            if self.may_be_reached_there(&cells, found, angle_deg)? {
                alone.push(Alone {
                    angle_deg,
                    about_deg,
                });
            }
        }
        Ok(Some((bands, alone)))
    }

    /// How far the rotary may turn about an angle at which a face lies level or upright, and it counts as such:
    /// the farther, the nearer a normal is to the axis.
    fn level_deg(&self, face: usize, cells: &[Cell]) -> f64 {
        let axis = self.scene.setup.machine.rotary.direction;
        let rotation = self.machine_from_part().rotation;
        let along = |cell: &Cell| cell.normal().map(|n| axis.dot(&(rotation * n)).abs());
        let turning = cells.iter().filter_map(along);
        let most = turning
            .filter(|along| *along <= NEARLY_SQUARE)
            .fold(0.0, f64::max);
        let sine = (1.0 - most * most).sqrt();
        (self.surface.level(face) / sine).asin().to_degrees() + LEVEL_DEG
    }

    /// Ends of the first intervals: steps, and angles at which a cell lies level or upright.
    fn first_ends(&self, cells: &[Cell]) -> Vec<f64> {
        let limits = self.scene.setup.machine.rotary.limits_deg;
        let [low_deg, high_deg] = limits.unwrap_or([0.0, 360.0]);
        let steps = ((high_deg - low_deg) / FIRST_DEG).ceil().max(1.0);
        let mut ends: Vec<f64> = (0..=steps as u32)
            .map(|k| low_deg + (high_deg - low_deg) * f64::from(k) / steps)
            .collect();
        let mut planes: Vec<u32> = Vec::new();
        for cell in cells {
            if planes.contains(&cell.plane) || planes.len() > 64 {
                continue;
            }
            planes.push(cell.plane);
            let Some(normal) = cell.normal() else {
                continue;
            };
            let at_zero = self.machine_from_part().rotation * normal;
            if let Some(level_deg) = self.scene.kinematics.facing_angle_deg(at_zero) {
                for turn_deg in [0.0, 90.0, 180.0, 270.0].map(|turn| wrap_deg(level_deg + turn)) {
                    // Limits may hold the same angle below 0, or more than once.
                    let first = ((low_deg - turn_deg) / 360.0).ceil();
                    let all = (0..).map(|round| turn_deg + 360.0 * (first + f64::from(round)));
                    let inside = all.take_while(|turn| *turn < high_deg);
                    ends.extend(inside.filter(|turn| *turn > low_deg));
                }
            }
        }
        ends.sort_by(f64::total_cmp);
        ends.dedup_by(|a, b| (*a - *b).abs() < 1e-9);
        ends
    }

    /// Whether at one angle so many cells may be reached that the face is. There, and only there, a flat end
    /// lies on level cells, so that more tips touch them than those that intervals ask about; and all walls
    /// of a bore stand upright there, and lean away on one side a little further.
    fn may_be_reached_there(
        &self,
        cells: &[Cell],
        found: Found,
        angle_deg: f64,
    ) -> Result<bool, CannotAsk> {
        let place = Place::new(self, [angle_deg, angle_deg])?;
        let mut any_there = false;
        let mut not_stopped_mm2 = found.area_mm2;
        for cell in cells {
            let Some(normal) = cell.normal() else {
                not_stopped_mm2 -= cell.area_mm2();
                continue;
            };
            let normal = self
                .surface
                .tidy(cell.face, &(place.part[1].rotation * normal));
            let contacts = contacts(&self.ready.tool.flutes, &normal);
            let held = match contacts {
                Contacts::None => {
                    not_stopped_mm2 -= cell.area_mm2();
                    continue;
                }
                Contacts::Disc { centre, radius_mm } => (centre, radius_mm),
                // What lies square to the axis stands upright at every angle.
                Contacts::One(tip) if normal.z == 0.0 && place.axis.dot(&normal).abs() < SQUARE => {
                    (tip, 0.0)
                }
                _ => continue,
            };
            any_there = true;
            if self.is_stopped_there(&self.held_there(cell, &normal, held, &place), &place)? {
                not_stopped_mm2 -= cell.area_mm2();
            }
        }
        Ok(any_there && not_stopped_mm2 >= self.from_share * found.area_mm2 * (1.0 - 1e-9))
    }

    /// Where the cutter may be that touches a cell at one angle: so far about the middle of all tips.
    fn held_there(
        &self,
        cell: &Cell,
        normal: &Vec3,
        (centre, shift_mm): (Vec3, f64),
        place: &Place,
    ) -> Held {
        let pose = &place.part[1];
        let corners = cell
            .corners
            .map(|corner| (pose * Point3::from(corner)).coords);
        let middle = (corners[0] + corners[1] + corners[2]) / 3.0;
        let away = |corner: &Vec3| (corner - middle).norm();
        Held {
            plane: cell.plane,
            tips: corners.iter().map(|corner| corner + centre).collect(),
            spread_mm: corners.iter().map(away).fold(0.0, f64::max),
            smooth_mm: self.smooth_mm(cell, &centre, place),
            middle,
            normal: *normal,
            half_rad: place.half_rad,
            shift_mm,
            tip_from_point_mm: centre.norm() + shift_mm,
        }
    }

    fn is_stopped_there(&self, held: &Held, place: &Place) -> Result<bool, CannotAsk> {
        if matches!(self.travel(held, place), Travel::Outside) {
            return Ok(true);
        }
        for element in 0..self.ready.elements.len() {
            for (bodies, kind) in place.bodies() {
                let question = ElementQuestion {
                    asked: self,
                    element,
                    bodies,
                    kind,
                    held,
                    place,
                    hints: &mut [None; 2],
                };
                if matches!(question.answer()?, ElementOver::Stopped) {
                    return Ok(true);
                }
            }
        }
        Ok(false)
    }

    fn machine_from_part(&self) -> Pose {
        let setup = self.scene.setup;
        let seat = &setup.seats[self.seat];
        setup.carrier.machine_from_carrier_at_zero * seat.carrier_from_seat * seat.seat_from_part
    }

    pub(super) fn approach_from_carrier(&self, angle_deg: f64) -> Option<Pose> {
        let setup = self.scene.setup;
        let table_from_carrier = self
            .scene
            .kinematics
            .table_from_carrier(&setup.carrier, angle_deg)?;
        Some(self.table_from_approach().inverse() * table_from_carrier)
    }

    pub(super) fn table_from_approach(&self) -> Pose {
        let rotation = self
            .scene
            .setup
            .machine
            .machine_from_spindle_at_zero
            .rotation;
        Pose::from_parts(nalgebra::Translation3::identity(), rotation)
    }

    /// A cell over an interval.
    pub(super) fn over(
        &self,
        asked: &mut Open,
        place: &Place,
        hints: &mut [Hints],
    ) -> Result<Over, CannotAsk> {
        let patch = &asked.patch;
        let Some(normal) = patch.cell.normal() else {
            return Ok(Over::Mixed(Next::Nothing));
        };
        let seen = place.part.map(|pose| pose.rotation * normal);
        let facing = seen.map(|seen| self.surface.tidy(patch.cell.face, &seen).z);
        // What lies nearly square to the axis is upright over many angles, or at all.
        let is_square = place.axis.dot(&seen[1]).abs() > NEARLY_SQUARE;
        let away = |end: usize| facing[end] < 0.0 || !is_square && seen[end].z <= LEVEL;
        // A sine that is nowhere above 0 at both ends of less than half a turn is so between them.
        if away(0) && away(2) && facing[1] < 0.0 {
            return Ok(Over::Stopped);
        }
        if facing[0] < 0.0 || facing[2] < 0.0 {
            return Ok(Over::Mixed(Next::Narrower));
        }
        let Some(held) = self.held(patch, &normal, place) else {
            return Ok(Over::Mixed(Next::Narrower));
        };
        if asked.proved & TRAVEL == 0 {
            match self.travel(&held, place) {
                Travel::Within => asked.proved |= TRAVEL,
                Travel::Outside => return Ok(Over::Stopped),
                Travel::Ends(edge) => return Ok(Over::Cut(edge)),
                Travel::Close => return Ok(Over::Mixed(Next::Narrower)),
            }
        }
        self.over_elements(asked, &held, place, hints)
    }

    /// All elements against all bodies.
    fn over_elements(
        &self,
        asked: &mut Open,
        held: &Held,
        place: &Place,
        hints: &mut [Hints],
    ) -> Result<Over, CannotAsk> {
        let mut next = None;
        let mut cut = None;
        for element in 0..self.ready.elements.len() {
            for (bodies, kind) in place.bodies() {
                let bit = bit(element, kind);
                if asked.proved & bit != 0 {
                    continue;
                }
                let question = ElementQuestion {
                    asked: self,
                    element,
                    bodies,
                    kind,
                    held,
                    place,
                    hints: &mut hints[element * KINDS + kind as usize],
                };
                match question.answer()? {
                    ElementOver::Free => asked.proved |= bit,
                    ElementOver::Stopped => return Ok(Over::Stopped),
                    ElementOver::Smaller {
                        stops,
                        moved_mm,
                        edge,
                    } => {
                        cut = cut.or(edge);
                        next = next.max(Some(Next::smaller(&asked.patch, moved_mm)));
                        // Some pieces will be stopped, whatever else leaves open.
                        if let Some(edge) = edge.filter(|_| stops) {
                            return Ok(Over::Cut(edge));
                        }
                        if stops && next == Some(Next::Smaller) {
                            return Ok(Over::Mixed(Next::Smaller));
                        }
                    }
                    ElementOver::Narrower => next = next.max(Some(Next::Narrower)),
                    ElementOver::Nothing => next = Some(Next::Nothing),
                }
            }
        }
        if let Some(edge) = cut.filter(|_| next != Some(Next::Nothing)) {
            return Ok(Over::Cut(edge));
        }
        Ok(next.map_or(Over::Free, Over::Mixed))
    }

    /// Where the flutes hold a cell: `None` where the contact is not one tip.
    fn held(&self, patch: &Patch, normal: &Vec3, place: &Place) -> Option<Held> {
        let cell = &patch.cell;
        let flutes = &self.ready.tool.flutes;
        let touched = |seen: &Vec3| {
            let seen = self.surface.tidy(cell.face, seen);
            match contacts(flutes, &Vec3::new(seen.x, seen.y, seen.z.max(0.0))) {
                Contacts::One(tip) => Some(tip),
                Contacts::Line(first, last) => Some((first + last) * 0.5),
                Contacts::None | Contacts::Disc { .. } => None,
            }
        };
        let tip = |pose: &Pose| touched(&(pose.rotation * normal));
        let middle_tip = tip(&place.part[1])?;
        // Level at an end: the rim as it is a little way in.
        let end = |end: usize| tip(&place.part[end]).or_else(|| tip(&place.inner[end / 2]));
        // The part of the cutter that touches changes one way with the steepness of the face: where that
        // turns within the interval, the turning point counts as well as the ends.
        let across = place.axis.cross(&Vec3::z());
        let [from, _, to] = place.part.map(|pose| across.dot(&(pose.rotation * normal)));
        let turns = from.min(to) < -LEVEL && from.max(to) > LEVEL;
        let along = place.axis.dot(&(place.part[1].rotation * normal));
        let turning = if turns {
            let up = (1.0 - along * along).max(0.0).sqrt();
            touched(&(place.axis * along + Vec3::z() * up))?
        } else {
            middle_tip
        };
        let shift_mm = [end(0)?, end(2)?, turning]
            .into_iter()
            .map(|tip| (tip - middle_tip).norm())
            .fold(0.0, f64::max);
        let smooth_mm = self.smooth_mm(cell, &middle_tip, place) + shift_mm;
        let corners = patch.corners.iter();
        let corners: Vec<Vec3> = corners
            .map(|corner| (place.part[1] * Point3::from(*corner)).coords)
            .collect();
        let middle = corners.iter().sum::<Vec3>() / corners.len() as f64;
        let away = |corner: &Vec3| (corner - middle).norm();
        Some(Held {
            plane: cell.plane,
            tips: corners.iter().map(|corner| corner + middle_tip).collect(),
            spread_mm: corners.iter().map(away).fold(0.0, f64::max),
            middle,
            normal: place.part[1].rotation * normal,
            half_rad: place.half_rad,
            smooth_mm: if smooth_mm > shift_mm { smooth_mm } else { 0.0 },
            shift_mm,
            tip_from_point_mm: middle_tip.norm() + shift_mm,
        })
    }

    /// How far tips by a round face's own normals are from the facet's at the middle of an interval;
    /// 0 for a flat face, infinity where a corner has none.
    fn smooth_mm(&self, cell: &Cell, middle_tip: &Vec3, place: &Place) -> f64 {
        let Some(normals) = self.surface.own_normals(cell) else {
            return 0.0;
        };
        let of = |pose: &Pose, normal: &Vec3| {
            let mut seen = pose.rotation * normal;
            seen.z = seen.z.max(0.0);
            let far = |tips: &[Vec3]| {
                let away = tips.iter().map(|tip| (tip - middle_tip).norm());
                away.fold(0.0, f64::max)
            };
            let Some(seen) = seen.try_normalize(1e-9) else {
                return f64::INFINITY;
            };
            match contacts(
                &self.ready.tool.flutes,
                &self.surface.tidy(cell.face, &seen),
            ) {
                Contacts::One(tip) | Contacts::Disc { centre: tip, .. } => far(&[tip]),
                Contacts::Line(first, last) => far(&[first, last]),
                Contacts::None => f64::INFINITY,
            }
        };
        let all = place
            .part
            .iter()
            .flat_map(|pose| normals.iter().map(move |normal| of(pose, normal)));
        all.fold(0.0, f64::max)
    }
}
