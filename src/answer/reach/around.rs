//! Everything that stands at one index, seen along the approach: z to the spindle.
//!
//! A landscape is made once for each body and way it is turned; seats that see the spindle alike
//! share it, shifted. Indexes at which the whole work group looks the same, as a carrier with alike
//! sides does every quarter turn, are known by their signature: one answer serves them all.

use super::ladder::Ladder;
use super::lids::Lids;
use super::looks::in_order;
use super::obstacle::Obstacle;
use crate::answer::scene::{Body, BodyId, Scene};
use crate::gap::{CannotAsk, Landscape, Placed, Shape};
use crate::value::{Pose, Vec3};
use nalgebra::Translation3;
use std::collections::HashMap;
use std::sync::Arc;

/// Turned alike: entries of two rotations differ by no more than this.
pub const SAME_TURN: f64 = 1e-9;

/// Places that differ by no more than this are one: well below what gaps are asked with in hand.
pub const SAME_PLACE_MM: f64 = 2e-6;

/// Number of the shape and its turn.
type Key = (usize, [i64; 9]);

/// Everything that a place at an index depends on: key and shift of each body, in order.
pub type Signature = Vec<(Key, [i64; 3])>;

/// A clamp of a seat, or its part in one state.
#[derive(Debug)]
struct SeatBody {
    seat: usize,
    /// For a part, whether in its last state.
    part_is_last: Option<bool>,
    /// The same for bodies of one shape.
    shape_number: usize,
    body: Body,
    names: Arc<Vec<String>>,
    /// What closes the body where its mesh is open, in its place.
    is_lid: bool,
}

/// All bodies of a setup that a tool may meet.
#[derive(Debug)]
pub struct Bodies {
    carrier: Vec<Body>,
    at_seats: Vec<SeatBody>,
    bed: Option<(Arc<Landscape>, Arc<Vec<String>>)>,
    carrier_lids: Vec<Body>,
    bed_lids: Option<Arc<Landscape>>,
    /// Lids of all of them.
    pub lids: Lids,
    /// Least and greatest chord allowance.
    pub chord_mm: [f64; 2],
    table_from_approach: Pose,
}

/// What stands at one index.
#[derive(Debug)]
pub struct AtIndex {
    /// Rotary angle.
    pub index_deg: f64,
    /// `approach_from_carrier`.
    pub approach_from_carrier: Pose,
    stands: Vec<Stand>,
}

#[derive(Debug)]
struct Stand {
    key: Key,
    /// Seat of a part, and whether it is in its last state.
    part: Option<(usize, bool)>,
    landscape: Arc<Landscape>,
    shift: Vec3,
    names: Arc<Vec<String>>,
    is_lid: bool,
}

impl Bodies {
    /// Carrier, clamps, bed, and every part in its first state and its last.
    ///
    /// # Errors
    /// As [`Scene::iron`] and [`Landscape::new`].
    pub fn new(scene: &Scene<'_>, lids: Lids) -> Result<Self, CannotAsk> {
        let carrier = scene.carrier()?;
        let at_seats = at_seats(scene, &lids)?;
        let rotation = scene.setup.machine.machine_from_spindle_at_zero.rotation;
        let table_from_approach = Pose::from_parts(Translation3::identity(), rotation);
        let of_bed = |bodies: &[Body]| match bodies {
            [] => Ok(None),
            _ => seen(bodies, &table_from_approach.inverse()).map(|seen| Some(Arc::new(seen))),
        };
        let bed = of_bed(&scene.bed)?.map(|seen| (seen, names(&scene.bed)));
        let all = || {
            let of_seats = at_seats.iter().map(|part| &part.body);
            carrier.iter().chain(of_seats).chain(&scene.bed)
        };
        let chords = || all().map(|body| body.chord_allowance_mm);
        Ok(Self {
            chord_mm: [
                chords().fold(f64::INFINITY, f64::min).min(0.0),
                chords().fold(0.0, f64::max),
            ],
            carrier_lids: lids.of_all(&carrier),
            bed_lids: of_bed(&lids.of_all(&scene.bed))?,
            lids,
            carrier,
            at_seats,
            bed,
            table_from_approach,
        })
    }

    /// What turns with the rotary, in the carrier's frame, but for the part at a seat; and the lids
    /// of these.
    #[must_use]
    pub fn turning_without(&self, seat: usize) -> [Vec<Body>; 2] {
        let own = |body: &SeatBody| body.seat == seat && body.part_is_last.is_some();
        let with = |carrier: &[Body], is_lid: bool| {
            let at_seats = self.at_seats.iter();
            let at_seats = at_seats.filter(|body| !own(body) && body.is_lid == is_lid);
            let at_seats = at_seats.map(|body| body.body.clone());
            carrier.iter().cloned().chain(at_seats).collect()
        };
        [with(&self.carrier, false), with(&self.carrier_lids, true)]
    }

    /// `table_from_approach`.
    #[must_use]
    pub const fn table_from_approach(&self) -> &Pose {
        &self.table_from_approach
    }

    /// `approach_from_carrier` at a rotary angle; `None` without a rotary sense.
    #[must_use]
    pub fn approach_from_carrier(&self, scene: &Scene<'_>, index_deg: f64) -> Option<Pose> {
        let table_from_carrier = scene
            .kinematics
            .table_from_carrier(&scene.setup.carrier, index_deg)?;
        Some(self.table_from_approach.inverse() * table_from_carrier)
    }

    /// Everything at some indexes.
    ///
    /// # Errors
    /// As [`Landscape::new`].
    pub fn at_indexes(
        &self,
        scene: &Scene<'_>,
        indexes_deg: &[f64],
    ) -> Result<Vec<AtIndex>, CannotAsk> {
        let mut known: HashMap<Key, Arc<Landscape>> = HashMap::new();
        let mut all = Vec::new();
        for &index_deg in indexes_deg {
            let Some(approach_from_carrier) = self.approach_from_carrier(scene, index_deg) else {
                continue;
            };
            all.push(self.at_index(index_deg, approach_from_carrier, &mut known)?);
        }
        Ok(all)
    }

    fn at_index(
        &self,
        index_deg: f64,
        approach_from_carrier: Pose,
        known: &mut HashMap<Key, Arc<Landscape>>,
    ) -> Result<AtIndex, CannotAsk> {
        let mut stands = Vec::new();
        for (bodies, is_lid) in [(&self.carrier, false), (&self.carrier_lids, true)] {
            if bodies.is_empty() {
                continue;
            }
            let (bodies, looks) = in_order(bodies, &approach_from_carrier);
            let key = (looks, [0; 9]);
            let make = || seen(&bodies, &approach_from_carrier);
            stands.push(Stand {
                key,
                part: None,
                landscape: landscape(known, key, make)?,
                shift: Vec3::zeros(),
                names: names(&bodies),
                is_lid,
            });
        }
        let from = stands.len();
        for at_seat in &self.at_seats {
            let approach_from_body = approach_from_carrier * at_seat.body.pose;
            let turn = approach_from_body.rotation;
            let key = (
                at_seat.shape_number,
                rounded(turn.matrix().as_slice(), SAME_TURN),
            );
            let make = || turned(&at_seat.body.shape, &turn);
            stands.push(Stand {
                key,
                part: at_seat.part_is_last.map(|is_last| (at_seat.seat, is_last)),
                landscape: landscape(known, key, make)?,
                shift: approach_from_body.translation.vector,
                names: Arc::clone(&at_seat.names),
                is_lid: at_seat.is_lid,
            });
        }
        // The same order at indexes that look the same.
        stands[from..]
            .sort_by_key(|stand| (stand.key, stand.part.map(|p| p.1), place(&stand.shift)));
        if let Some((landscape, names)) = &self.bed {
            let lids = self.bed_lids.iter().map(|lids| (lids, true));
            for (landscape, is_lid) in std::iter::once((landscape, false)).chain(lids) {
                stands.push(Stand {
                    key: (0, [0; 9]),
                    part: None,
                    landscape: Arc::clone(landscape),
                    shift: Vec3::zeros(),
                    names: Arc::clone(names),
                    is_lid,
                });
            }
        }
        Ok(AtIndex {
            index_deg,
            approach_from_carrier,
            stands,
        })
    }
}

/// Clamps, parts and their lids.
fn at_seats(scene: &Scene<'_>, lids: &Lids) -> Result<Vec<SeatBody>, CannotAsk> {
    let (mut found, mut shapes) = (Vec::new(), Vec::new());
    let mut push = |seat: usize, part_is_last: Option<bool>, body: Body| {
        let lid = lids.of(&body).map(|lid| (lid, true));
        for (body, is_lid) in std::iter::once((body, false)).chain(lid) {
            found.push(SeatBody {
                seat,
                part_is_last,
                shape_number: number_of(&body.shape, &mut shapes),
                names: Arc::new(vec![body.name.clone()]),
                body,
                is_lid,
            });
        }
    };
    for body in scene.iron()? {
        if let BodyId::Clamp { seat, .. } = body.id {
            push(seat, None, body);
        }
    }
    for (seat, part) in scene.setup.seats.iter().map(|seat| seat.part).enumerate() {
        let Some(part) = part else { continue };
        let last = scene.setup.parts[part].states.len() - 1;
        for state in if last == 0 { vec![0] } else { vec![0, last] } {
            if let Some(body) = scene.part(seat, state)? {
                push(seat, Some(state == last), body);
            }
        }
    }
    Ok(found)
}

/// Known landscapes, and new ones.
fn landscape(
    known: &mut HashMap<Key, Arc<Landscape>>,
    key: Key,
    make: impl FnOnce() -> Result<Landscape, CannotAsk>,
) -> Result<Arc<Landscape>, CannotAsk> {
    if let Some(landscape) = known.get(&key) {
        return Ok(Arc::clone(landscape));
    }
    let landscape = Arc::new(make()?);
    known.insert(key, Arc::clone(&landscape));
    Ok(landscape)
}

pub fn rounded<const N: usize>(values: &[f64], grain: f64) -> [i64; N] {
    let mut rounded = [0; N];
    for (slot, value) in rounded.iter_mut().zip(values) {
        *slot = (value / grain).round() as i64;
    }
    rounded
}

pub fn place(shift: &Vec3) -> [i64; 3] {
    rounded(shift.as_slice(), SAME_PLACE_MM)
}

/// The same for shapes that are one; twice the order in which they came first.
fn number_of(shape: &Shape, shapes: &mut Vec<usize>) -> usize {
    let address = match shape {
        Shape::Mesh(shape) => Arc::as_ptr(shape) as usize,
        Shape::Revolved(shape) => Arc::as_ptr(shape) as usize,
    };
    let known = shapes.iter().position(|other| *other == address);
    2 * known.unwrap_or_else(|| {
        shapes.push(address);
        shapes.len() - 1
    })
}

fn names(bodies: &[Body]) -> Arc<Vec<String>> {
    Arc::new(bodies.iter().map(|body| body.name.clone()).collect())
}

impl AtIndex {
    /// What a seat sees: the same for two, at any index, if every body stands alike about them.
    #[must_use]
    pub fn signature(&self, seat: usize) -> Signature {
        let of_stand = |stand: &Stand| {
            let own = stand.part.is_some_and(|(at, _)| at == seat);
            let mut key = stand.key;
            // The own part is left out, or asked about less.
            key.0 = key.0.wrapping_add(usize::from(own));
            (key, place(&stand.shift))
        };
        self.stands.iter().map(of_stand).collect()
    }

    /// Obstacles for a tool at a seat: all but the part there, and that part for the elements that
    /// are meshes.
    #[must_use]
    pub fn obstacles<'g>(
        &self,
        seat: usize,
        ladder: &'g Ladder,
        own_meshes: &'g Ladder,
    ) -> Vec<Obstacle<'g>> {
        let obstacle = |stand: &Stand, ladder: &'g Ladder, is_own: bool| Obstacle {
            landscape: Arc::clone(&stand.landscape),
            shift: stand.shift,
            ladder,
            names: Arc::clone(&stand.names),
            is_own,
            is_lid: stand.is_lid,
        };
        self.stands
            .iter()
            .filter_map(|stand| match stand.part {
                Some((at, false)) if at == seat => None,
                Some((at, true)) if at == seat => Some(obstacle(stand, own_meshes, true)),
                _ => Some(obstacle(stand, ladder, false)),
            })
            .collect()
    }
}

/// Bodies of a group seen along the approach.
fn seen(bodies: &[Body], approach_from_group: &Pose) -> Result<Landscape, CannotAsk> {
    let placed: Vec<Placed> = bodies
        .iter()
        .map(|body| crate::answer::scene::placed(body, approach_from_group))
        .collect();
    Landscape::new(&placed, &Pose::identity())
}

/// A body turned, about its own origin.
///
/// # Errors
/// As [`Landscape::new`].
pub fn turned(
    shape: &Shape,
    approach_from_body: &nalgebra::Rotation3<f64>,
) -> Result<Landscape, CannotAsk> {
    let common_from_body = Pose::from_parts(Translation3::identity(), *approach_from_body);
    let placed = Placed {
        shape: shape.clone(),
        common_from_body,
    };
    Landscape::new(&[placed], &Pose::identity())
}
