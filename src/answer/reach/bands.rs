//! Bands: over which angles of the rotary a tool reaches a face, as intervals that are proved whole.
//!
//! An interval is asked at its middle. Seen from the point that the flutes touch, the tool turns about it
//! while the rotary turns, so that a point of the tool at a distance `d` moves by no more than `d` times
//! the angle; what rests on the bed moves by the point's own distance from the rotary axis. Free: each
//! element keeps its gap with that much in hand. Stopped: an element made smaller by as much still
//! does not. Else the interval is halved; what is left at the finest is undecided.

use super::cells::Cell;
use super::cutter::{Contacts, contacts};
use super::ladder::ROOM_MM;
use super::model::Bands;
use super::open::{Found, Hints, KINDS, Open, Piece, Settled, TRAVEL, bit};
use super::place::{Held, Kind, Place};
use super::surface::{Surface, tidy};
use super::tools::ReadyTool;
use crate::answer::check::erode::eroded;
use crate::answer::check::measure::CONTACT_GRAIN_MM;
use crate::answer::check::model::Element;
use crate::answer::scene::{Body, Scene, revolved};
use crate::gap::{Ask, CannotAsk, HalfSpace, Motion, Placed, Shape, Witness, group_gap};
use crate::setup::file::ToolKind;
use crate::setup::model::Profile;
use crate::value::{Pose, Vec3, wrap_deg};
use nalgebra::Point3;
use rayon::prelude::*;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

/// An interval no wider than this share of what is asked for is not halved: what is left undecided
/// about the end of a band is then some 0.01 degree wide for 0.01 degree and a part of 100 mm.
const FINEST_OF_ASKED: f64 = 0.25;

/// Width of the first intervals.
const FIRST_DEG: f64 = 15.0;

/// Work that one question may take.
const BUDGET: u64 = 200_000;

/// A cell is split where it is larger than this many times what the angle moves.
const CELL_TO_MOVE: f64 = 4.0;

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

/// A cell over an interval of angle.
enum Over {
    Free,
    Stopped,
    /// How far the angle moves the tool, or so.
    Mixed {
        moved_mm: f64,
    },
}

impl BandQuestion<'_> {
    /// The bands of a face; `None` for a drill, which reaches a bore at its own angle only.
    ///
    /// # Guarantees
    /// Within a band at least `from_share` of the face is reached at every angle; outside of bands and
    /// undecided intervals less than that at every angle.
    ///
    /// # Errors
    /// A [`CannotAsk`] where the engine refuses a question.
    pub fn bands(&self, face: usize) -> Result<Option<Bands>, CannotAsk> {
        if matches!(self.ready.tool.kind, ToolKind::Drill | ToolKind::Tap) {
            return Ok(None);
        }
        let cells = self.surface.cells_of(face);
        let open = |cell: &Cell| Open {
            cell: *cell,
            proved: 0,
        };
        let mut ends = self.first_ends(&cells);
        ends.dedup();
        let found = Found {
            area_mm2: self.surface.area_mm2[face],
            ..Found::default()
        };
        let pieces: Vec<Bands> = ends
            .par_windows(2)
            .map(|pair| {
                let mut piece = Piece {
                    bands: Bands::default(),
                    hints: vec![[None; 2]; self.ready.elements.len() * KINDS],
                };
                let open = cells.iter().map(open).collect();
                self.settle([pair[0], pair[1]], open, found, &mut piece)?;
                Ok(piece.bands)
            })
            .collect::<Result<_, CannotAsk>>()?;
        let mut bands = Bands::default();
        for piece in pieces {
            bands.append(&piece);
        }
        if self.scene.setup.machine.rotary.limits_deg.is_none() {
            bands.close_the_circle();
        }
        Ok(Some(bands))
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

    /// `open` are the cells that are neither free nor stopped over a wider interval.
    fn settle(
        &self,
        [low_deg, high_deg]: [f64; 2],
        open: Vec<Open>,
        mut found: Found,
        piece: &mut Piece,
    ) -> Result<(), CannotAsk> {
        if self.stop.load(Ordering::Relaxed) {
            piece.bands.undecided(low_deg, high_deg);
            return Ok(());
        }
        let place = Place::new(self, [low_deg, high_deg])?;
        let (mut open, mut left) = (open, Vec::new());
        let mut settled = found.settled(self.from_share);
        while let Some(mut asked) = open.pop().filter(|_| settled.is_none()) {
            let over = self.over(&mut asked, &place, &mut piece.hints)?;
            let Open { cell, proved } = asked;
            match over {
                Over::Free => found.free_mm2 += cell.area_mm2(),
                Over::Stopped => found.stopped_mm2 += cell.area_mm2(),
                // Smaller cells would not help.
                Over::Mixed { moved_mm } if cell.longest_mm() < CELL_TO_MOVE * moved_mm => {
                    left.push(asked);
                    continue;
                }
                // Narrower intervals would not help; at the grain nothing does.
                Over::Mixed { .. } => match cell.halves() {
                    Some(halves) => {
                        open.extend(halves.map(|cell| Open { cell, proved }));
                        continue;
                    }
                    None => found.given_up_mm2 += cell.area_mm2(),
                },
            }
            settled = found.settled(self.from_share);
        }
        let finest_deg = self.to_deg * FINEST_OF_ASKED;
        let is_finest = high_deg - low_deg <= finest_deg || left.is_empty();
        match settled.or(is_finest.then_some(Settled::Undecided)) {
            Some(Settled::Reached) => piece.bands.free(low_deg, high_deg),
            Some(Settled::Stopped) => {}
            Some(Settled::Undecided) => piece.bands.undecided(low_deg, high_deg),
            None => {
                let middle_deg = (low_deg + high_deg) * 0.5;
                self.settle([low_deg, middle_deg], left.clone(), found, piece)?;
                self.settle([middle_deg, high_deg], left, found, piece)?;
            }
        }
        Ok(())
    }

    fn over(
        &self,
        asked: &mut Open,
        place: &Place,
        hints: &mut [Hints],
    ) -> Result<Over, CannotAsk> {
        let cell = &asked.cell;
        let far_mm = self.ready.reach_mm.iter().copied().fold(0.0, f64::max);
        let mixed = Over::Mixed {
            moved_mm: far_mm * place.half_rad,
        };
        let Some(normal) = cell.normal() else {
            return Ok(mixed);
        };
        // A sine that is nowhere above 0 at both ends of less than half a turn is so between them.
        let facing = place.part.map(|pose| (pose.rotation * normal).z);
        if facing[0] <= LEVEL && facing[2] <= LEVEL && facing[1] < 0.0 {
            return Ok(Over::Stopped);
        }
        if facing[0] < -LEVEL || facing[2] < -LEVEL {
            return Ok(mixed);
        }
        let Some(held) = self.held(cell, &normal, place) else {
            return Ok(mixed);
        };
        if asked.proved & TRAVEL == 0 {
            match self.travel(&held, place) {
                Some(true) => asked.proved |= TRAVEL,
                Some(false) => return Ok(Over::Stopped),
                None => return Ok(mixed),
            }
        }
        let mut all_free = true;
        for element in 0..self.ready.elements.len() {
            for (bodies, kind) in place.bodies() {
                let bit = bit(element, kind);
                if asked.proved & bit != 0 {
                    continue;
                }
                match self.element_over(
                    element,
                    bodies,
                    kind,
                    &held,
                    (place, &mut hints[element * KINDS + kind as usize]),
                )? {
                    Some(true) => asked.proved |= bit,
                    Some(false) => return Ok(Over::Stopped),
                    None => all_free = false,
                }
            }
        }
        Ok(if all_free { Over::Free } else { mixed })
    }

    /// Where the flutes hold a cell: `None` where the contact is not one tip.
    fn held(&self, cell: &Cell, normal: &Vec3, place: &Place) -> Option<Held> {
        let flutes = &self.ready.tool.flutes;
        let touched = |seen: &Vec3| {
            let seen = tidy(seen);
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
        let corners = cell
            .corners
            .map(|corner| (place.part[1] * Point3::from(corner)).coords);
        let middle = (corners[0] + corners[1] + corners[2]) / 3.0;
        let away = |corner: &Vec3| (corner - middle).norm();
        Some(Held {
            plane: cell.plane,
            tips: corners.iter().map(|corner| corner + middle_tip).collect(),
            spread_mm: corners.iter().map(away).fold(0.0, f64::max),
            middle,
            normal: place.part[1].rotation * normal,
            half_rad: place.half_rad,
            shift_mm,
            tip_from_point_mm: middle_tip.norm() + shift_mm,
        })
    }

    /// Whether every tip is within travel, or none.
    fn travel(&self, held: &Held, place: &Place) -> Option<bool> {
        let table_from_approach = self.table_from_approach();
        let grown_mm = held.shift_mm + held.swing_mm(place) + ROOM_MM;
        let (mut inside, mut outside) = (true, false);
        let gauge_mm = self.ready.tool.gauge_length_mm;
        for (axis, limits) in self.scene.kinematics.axes().iter().enumerate() {
            let at = held.tips.iter().map(|tip| {
                let tip = table_from_approach * Point3::from(*tip);
                self.scene.kinematics.positions_mm(tip, gauge_mm)[axis]
            });
            let low_mm = at.clone().fold(f64::INFINITY, f64::min);
            let high_mm = at.fold(f64::NEG_INFINITY, f64::max);
            inside &= low_mm - grown_mm >= limits.low_mm && high_mm + grown_mm <= limits.high_mm;
            outside |= high_mm + grown_mm < limits.low_mm || low_mm - grown_mm > limits.high_mm;
        }
        match (inside, outside) {
            (true, _) => Some(true),
            (_, true) => Some(false),
            _ => None,
        }
    }

    /// How far the angle moves an element and bodies of a kind against one another, and room for rounding.
    fn moved_mm(&self, element: usize, kind: Kind, held: &Held, place: &Place) -> f64 {
        let moved_mm = match kind {
            Kind::Own | Kind::Work => {
                let raised_mm = held.raised_mm(place);
                let tool_mm = self.ready.reach_mm[element] + held.tip_from_point_mm + raised_mm;
                // They meet where both are: what the nearer of the two can move is enough.
                let far_mm = match kind {
                    Kind::Own => tool_mm.min(held.far_mm(place)),
                    _ => tool_mm,
                };
                held.shift_mm + far_mm * held.half_rad
            }
            Kind::Bed => held.shift_mm + held.swing_mm(place),
        };
        moved_mm + ROOM_MM
    }

    /// Whether an element is surely free of bodies, or surely stopped.
    fn element_over(
        &self,
        element: usize,
        bodies: &[Placed],
        kind: Kind,
        held: &Held,
        (place, hints): (&Place, &mut Hints),
    ) -> Result<Option<bool>, CannotAsk> {
        let what = &self.ready.elements[element];
        let own_flutes = kind == Kind::Own && what.element == Element::Flutes;
        let follows = what.element == Element::Shank && self.ready.shank_follows;
        if bodies.is_empty() || (kind == Kind::Own && follows) {
            return Ok(Some(true));
        }
        let setup = self.scene.setup;
        let moved_mm = self.moved_mm(element, kind, held, place);
        let gouge_mm = setup.gouge_mm + self.own.gouge_chord_mm;
        let (wanted_mm, beyond, shape) = if own_flutes {
            let Some(core) = eroded(&self.ready.tool.flutes, gouge_mm) else {
                return Ok(None);
            };
            // The core keeps as far from the plane touched as the gouge tolerance, at every angle.
            let beyond = HalfSpace {
                normal: held.normal,
                offset_mm: held.normal.dot(&held.middle) + gouge_mm * 0.5,
            };
            (0.0, Some(beyond), turned_shape(&core)?)
        } else {
            let wanted_mm = self.ready.wanted_mm(setup, element) + place.chord_mm(kind);
            (wanted_mm, None, what.shape.clone())
        };
        let tool = Placed {
            shape,
            common_from_body: what.tool_from_body,
        };
        let enough_mm = wanted_mm + moved_mm;
        let plane = held.plane;
        let of_plane = |hint: &Option<(u32, Witness)>| {
            let alike = hint.filter(|(other, _)| *other == plane || !own_flutes);
            alike.map(|(_, witness)| witness)
        };
        let asked = self.ask(enough_mm, beyond, of_plane(&hints[0]));
        let raised = held
            .tips
            .iter()
            .map(|tip| Vec3::new(tip.x, tip.y, place.top_mm.max(tip.z)));
        let ways = Motion::spread(raised.chain(held.tips.iter().copied()).collect());
        let gap = group_gap(std::slice::from_ref(&tool), bodies, &ways, &asked)?;
        if gap.lo_mm >= enough_mm {
            return Ok(Some(true));
        }
        hints[0] = gap.witness.map(|witness| (plane, witness)).or(hints[0]);
        let less_mm = moved_mm + held.spread_mm;
        let core_mm = if own_flutes {
            gouge_mm + less_mm
        } else {
            less_mm - wanted_mm
        };
        let bodies = &bodies[..place.without_lids(kind)];
        let stopped = self.stopped(element, core_mm, bodies, held, (place, &mut hints[1]))?;
        Ok(stopped.then_some(false))
    }

    /// Whether an element made smaller by `core_mm` (larger where it is below 0) meets bodies at the
    /// middle tip, or on the way down to it.
    fn stopped(
        &self,
        element: usize,
        core_mm: f64,
        bodies: &[Placed],
        held: &Held,
        (place, hint): (&Place, &mut Option<(u32, Witness)>),
    ) -> Result<bool, CannotAsk> {
        if element >= self.ready.without_lids {
            return Ok(false);
        }
        let what = &self.ready.elements[element];
        let (shape, near_mm) = if core_mm <= -CONTACT_GRAIN_MM {
            (what.shape.clone(), -core_mm)
        } else {
            let profile = self.ready.profiles[element].as_ref();
            match profile.and_then(|profile| eroded(profile, core_mm.max(0.0) + CONTACT_GRAIN_MM)) {
                Some(core) => (turned_shape(&core)?, CONTACT_GRAIN_MM),
                None => return Ok(false),
            }
        };
        let tool = Placed {
            shape,
            common_from_body: what.tool_from_body,
        };
        let tip = (held.tips[0] + held.tips[1] + held.tips[2]) / 3.0;
        let raised = Vec3::new(tip.x, tip.y, place.top_mm.max(tip.z));
        let asked = self.ask(near_mm, None, hint.map(|(_, witness)| witness));
        let way = Motion::line(raised, tip);
        let gap = group_gap(std::slice::from_ref(&tool), bodies, &way, &asked)?;
        *hint = gap.witness.map(|witness| (held.plane, witness)).or(*hint);
        Ok(gap.hi_mm < near_mm || gap.contained.is_some())
    }

    fn ask(&self, enough_mm: f64, beyond: Option<HalfSpace>, hint: Option<Witness>) -> Ask<'_> {
        Ask {
            enough_mm: Some(enough_mm),
            less_mm: Some(enough_mm),
            budget: BUDGET,
            stop: Some(self.stop),
            beyond,
            hint,
            ..Ask::default()
        }
    }
}

fn turned_shape(profile: &Profile) -> Result<Shape, CannotAsk> {
    Ok(Shape::Revolved(Arc::new(revolved(profile)?)))
}
