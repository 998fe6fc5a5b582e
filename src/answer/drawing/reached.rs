//! Dials of where tools reach faces: arcs or marks where all seats of a side are reached.

use super::arcs::{Ended, arcs_of};
use super::dial::rests_of;
use super::marks::{Marked, marks_of, reached_count, turn_onto_themselves};
use super::model::{DialOf, ReachedBy, ReachedDial, ReachedDials, ReachedRing, Ring};
use crate::answer::check::model::{CheckAnswer, Verdict};
use crate::answer::kinematics::Kinematics;
use crate::answer::reach::model::{Bands, PartReach, ReachAnswer, Reason, SeatReach};
use crate::setup::model::Setup;
use crate::value::wrap_deg;

/// Arcs whose ends differ by no more than this are the same on two sides.
const SAME_DEG: f64 = 1e-6;

/// Dials of an answer of `reach` that was asked for bands or for shares, with the cuts that `check` found.
///
/// # Guarantees
/// As [`ReachedDial`]. Sides are told as alike only where every arc or mark of every tool and face is, and
/// the angles asked about are.
#[must_use]
pub fn reached_dials(
    setup: &Setup,
    answer: &ReachAnswer,
    by: ReachedBy,
    check: &CheckAnswer,
) -> ReachedDials {
    let mut dials = ReachedDials {
        tools: Vec::new(),
        faces: Vec::new(),
    };
    for (number, part) in answer.parts.iter().enumerate() {
        let about = About {
            setup,
            check,
            by,
            indexes_deg: &answer.indexes_deg,
            number,
            part,
        };
        for side in about.sides() {
            dials.tools.extend(about.tools(&side));
            dials.faces.extend(about.faces(&side));
        }
    }
    dials
}

/// One part.
struct About<'a> {
    setup: &'a Setup,
    check: &'a CheckAnswer,
    by: ReachedBy,
    /// Single angles asked about.
    indexes_deg: &'a [f64],
    /// Its position in the answer.
    number: usize,
    part: &'a PartReach,
}

/// The seats of a side.
struct Side {
    number: u32,
    /// Positions in the lists of the answer.
    seats: Vec<usize>,
    names: Vec<String>,
    facing_deg: Option<f64>,
    alike: Vec<(u32, f64)>,
    /// For each face and each tool; `None` for a tool that has no bands.
    told: Vec<Vec<Option<Told>>>,
}

/// What a face with a tool has on its ring.
#[derive(Default)]
struct Told {
    arcs: Vec<Ended>,
    marks: Vec<Marked>,
}

impl About<'_> {
    /// Sides with what is told of them; those that are like an earlier one are told there.
    fn sides(&self) -> Vec<Side> {
        let mut sides: Vec<Side> = Vec::new();
        let first = self.part.faces.first().and_then(|face| face.tools.first());
        let kinematics = Kinematics::new(&self.setup.machine);
        let seats = first.map_or(&[][..], |tool| &tool.seats);
        for (position, told) in seats.iter().enumerate() {
            let seat = self.setup.seats.iter().find(|seat| seat.name == told.seat);
            let Some(seat) = seat else { continue };
            if let Some(side) = sides.iter_mut().find(|side| side.number == seat.side) {
                side.seats.push(position);
                side.names.push(told.seat.clone());
                continue;
            }
            let facing_deg = kinematics
                .as_ref()
                .and_then(|kinematics| kinematics.seat_facing_deg(&self.setup.carrier, seat));
            sides.push(Side {
                number: seat.side,
                seats: vec![position],
                names: vec![told.seat.clone()],
                facing_deg,
                alike: Vec::new(),
                told: Vec::new(),
            });
        }
        let mut kept: Vec<Side> = Vec::new();
        for mut side in sides {
            side.told = self.told(&side.seats);
            let turn = |other: &Side| {
                let turn_deg = side.facing_deg? - other.facing_deg?;
                let alike = other.seats.len() == side.seats.len()
                    && turn_onto_themselves(self.indexes_deg, turn_deg)
                    && all_alike(&other.told, &side.told, turn_deg);
                alike.then_some(turn_deg)
            };
            let found = kept.iter().map(turn).enumerate();
            let found = found.filter_map(|(at, turn)| Some((at, turn?))).next();
            match found {
                Some((at, turn_deg)) => kept[at].alike.push((side.number, wrap_deg(turn_deg))),
                None => kept.push(side),
            }
        }
        kept
    }

    fn told(&self, seats: &[usize]) -> Vec<Vec<Option<Told>>> {
        let of_tool = |all: &[SeatReach]| {
            if let ReachedBy::Steps { from_share } = self.by {
                let seats: Vec<_> = seats.iter().map(|&seat| (seat, &all[seat])).collect();
                return Some(Told {
                    marks: marks_of(&seats, from_share),
                    ..Told::default()
                });
            }
            let bands: Option<Vec<(usize, &Bands)>> = seats
                .iter()
                .map(|&seat| Some((seat, all[seat].bands.as_ref()?)))
                .collect();
            bands.map(|bands| Told {
                arcs: arcs_of(&bands),
                ..Told::default()
            })
        };
        let faces = self.part.faces.iter();
        faces
            .map(|face| face.tools.iter().map(|tool| of_tool(&tool.seats)).collect())
            .collect()
    }

    /// A dial for each tool; for those without bands the list of rings is left empty.
    fn tools(&self, side: &Side) -> Vec<ReachedDial> {
        let tools = self.part.faces.first().map_or(&[][..], |face| &face.tools);
        let mut largest: Vec<usize> = (0..self.part.faces.len()).collect();
        let area_mm2 = |face: usize| self.part.faces[face].area_mm2;
        largest.sort_by(|a, b| area_mm2(*b).total_cmp(&area_mm2(*a)));
        let dial = |(tool, told): (usize, &crate::answer::reach::model::ToolReach)| {
            let name = format!("T{}", told.tool);
            let places = largest.iter().map(|&face| {
                let told = side.told[face][tool].as_ref();
                (self.part.faces[face].face.clone(), [face, tool], told)
            });
            let mut dial = self.dial(side, DialOf::Tool, name.clone(), places);
            let mine = |cut: &crate::answer::check::model::CutAnswer| {
                cut.tool == told.tool && side.names.contains(&cut.seat)
            };
            let rests = rests_of(self.check.cuts.iter().filter(|cut| mine(cut)));
            if dial.is_asked && !rests.is_empty() {
                let ring = Ring {
                    name: "cuts".to_owned(),
                    arcs: Vec::new(),
                    rests,
                };
                dial.rings.insert(
                    0,
                    ReachedRing {
                        ring,
                        ends: Vec::new(),
                        marks: Vec::new(),
                        place: None,
                        worst_seat: None,
                    },
                );
            }
            dial
        };
        tools.iter().enumerate().map(dial).collect()
    }

    fn faces(&self, side: &Side) -> Vec<ReachedDial> {
        let dial = |(face, told): (usize, &crate::answer::reach::model::FaceReach)| {
            let places = told.tools.iter().enumerate().map(|(tool, told)| {
                let on_ring = side.told[face][tool].as_ref();
                (format!("T{}", told.tool), [face, tool], on_ring)
            });
            self.dial(side, DialOf::Face, told.face.clone(), places)
        };
        self.part.faces.iter().enumerate().map(dial).collect()
    }

    fn dial<'s>(
        &self,
        side: &'s Side,
        of: DialOf,
        name: String,
        places: impl Iterator<Item = (String, [usize; 2], Option<&'s Told>)>,
    ) -> ReachedDial {
        let mut dial = ReachedDial {
            of,
            name,
            part: self.part.part.clone(),
            side: side.number,
            seats: side.names.clone(),
            alike: side.alike.clone(),
            rings: Vec::new(),
            never: Vec::new(),
            not_made: Vec::new(),
            is_asked: false,
        };
        for (name, [face, tool], told) in places {
            let Some(Told { arcs, marks }) = told else {
                continue;
            };
            dial.is_asked = true;
            if arcs.is_empty() && marks.is_empty() {
                let seats = &self.part.faces[face].tools[tool].seats;
                let is_made = |seat: &usize| seats[*seat].reason != Some(Reason::NotThisToolsWork);
                if side.seats.iter().any(is_made) {
                    dial.never.push(name);
                } else {
                    dial.not_made.push(name);
                }
                continue;
            }
            dial.rings.push(ReachedRing {
                ring: Ring {
                    name,
                    arcs: arcs.iter().map(|(arc, _)| *arc).collect(),
                    rests: marks.iter().map(|(rest, _)| *rest).collect(),
                },
                ends: arcs.iter().map(|(_, ends)| *ends).collect(),
                marks: marks.iter().map(|(_, place)| *place).collect(),
                place: Some([self.number, face, tool]),
                worst_seat: self.worst_seat(side, [face, tool]),
            });
        }
        dial
    }

    /// The seat whose reached bands are narrowest together, or that is reached at the fewest angles; of
    /// equals the first.
    fn worst_seat(&self, side: &Side, [face, tool]: [usize; 2]) -> Option<String> {
        let seats = &self.part.faces[face].tools[tool].seats;
        let width = |seat: usize| {
            if let ReachedBy::Steps { from_share } = self.by {
                return reached_count(&seats[seat], from_share) as f64;
            }
            let bands = seats[seat].bands.iter();
            let reached = bands.flat_map(|bands| &bands.reached_deg);
            reached.map(|[low, high]| high - low).sum::<f64>()
        };
        let seats_of = side.seats.iter().copied();
        let worst = seats_of.min_by(|a, b| width(*a).total_cmp(&width(*b)));
        worst.map(|seat| seats[seat].seat.clone())
    }
}

/// Whether arcs and marks are the same once the rotary has gone on by an angle.
fn all_alike(one: &[Vec<Option<Told>>], other: &[Vec<Option<Told>>], turn_deg: f64) -> bool {
    let pairs = one.iter().flatten().zip(other.iter().flatten());
    pairs.into_iter().all(|pair| match pair {
        (Some(one), Some(other)) => alike(one, other, turn_deg),
        (None, None) => true,
        _ => false,
    })
}

fn alike(one: &Told, other: &Told, turn_deg: f64) -> bool {
    // Begin, width and verdict; a mark has no width.
    let keys = |told: &Told, turn_deg: f64| {
        let arcs = told.arcs.iter();
        let arcs = arcs.map(|(arc, _)| (arc.from_deg, arc.to_deg - arc.from_deg, arc.verdict));
        let marks = told.marks.iter();
        let marks = marks.map(|(rest, _)| (rest.index_deg, 0.0, rest.verdict));
        let mut keys: Vec<(f64, f64, Verdict)> = arcs
            .chain(marks)
            .map(|(from_deg, width_deg, verdict)| {
                // All round, where it begins tells nothing; a hair below a turn is 0.
                let from_deg = match width_deg >= 360.0 {
                    true => 0.0,
                    false => wrap_deg(from_deg + turn_deg + SAME_DEG) - SAME_DEG,
                };
                (from_deg, width_deg, verdict)
            })
            .collect();
        keys.sort_by(|a, b| a.0.total_cmp(&b.0));
        keys
    };
    let (one, other) = (keys(one, turn_deg), keys(other, 0.0));
    let same = |(a, b): (&(f64, f64, Verdict), &(f64, f64, Verdict))| {
        (a.0 - b.0).abs() <= SAME_DEG && (a.1 - b.1).abs() <= SAME_DEG && a.2 == b.2
    };
    one.len() == other.len() && one.iter().zip(&other).all(same)
}
