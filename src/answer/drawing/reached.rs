//! Dials of where tools reach faces: arcs or marks where all seats of a side are reached.

use super::arcs::{Ended, arcs_of};
use super::dial::rests_of;
use super::marks::{Marked, marks_of, reached_count, turn_onto_themselves};
use super::model::{DialOf, ReachedBy, ReachedDial, ReachedDials, ReachedRing, Rest, Ring};
use crate::answer::check::model::{CheckAnswer, CutAnswer, Verdict};
use crate::answer::kinematics::Kinematics;
use crate::answer::reach::model::{Bands, PartReach, ReachAnswer, Reason, SeatReach, ToolReach};
use crate::setup::file::ToolKind;
use crate::setup::model::{Setup, Tool};
use crate::value::wrap_deg;

/// Arcs whose ends differ by no more than this are the same on two sides.
const SAME_DEG: f64 = 1e-6;

/// Dials of an answer of `reach` that was asked for bands or for shares, with the cuts that `check` found.
/// So many faces of each part, the largest, have a ring on each tool's dial.
///
/// # Guarantees
/// As [`ReachedDial`]. A side is told as alike only where every arc or mark of the dial is, and the angles
/// asked about are; a face with another one only where all is equal to the last bit.
#[must_use]
pub fn reached_dials(
    setup: &Setup,
    answer: &ReachAnswer,
    by: ReachedBy,
    most_faces: usize,
    check: &CheckAnswer,
) -> ReachedDials {
    let mut dials = ReachedDials {
        tools: Vec::new(),
        faces: Vec::new(),
        other_faces: Vec::new(),
    };
    for (number, part) in answer.parts.iter().enumerate() {
        let mut largest: Vec<usize> = (0..part.faces.len()).collect();
        let area_mm2 = |face: usize| part.faces[face].area_mm2;
        largest.sort_by(|a, b| area_mm2(*b).total_cmp(&area_mm2(*a)));
        let about = About {
            setup,
            check,
            by,
            indexes_deg: &answer.indexes_deg,
            number,
            part,
            largest: &largest,
            most_faces,
        };
        for side in about.sides() {
            dials.tools.extend(about.tools(&side));
            let [large, others] = about.faces(&side);
            dials.faces.extend(joined(large));
            dials.other_faces.extend(joined(others));
        }
    }
    dials
}

/// Puts faces together that have the same rings.
fn joined(dials: Vec<ReachedDial>) -> Vec<ReachedDial> {
    let mut kept: Vec<ReachedDial> = Vec::new();
    for dial in dials {
        let shown = |ring: &ReachedRing| (ring.ring.clone(), ring.worst_seat.clone());
        let same = |other: &&mut ReachedDial| {
            let rings = other
                .rings
                .iter()
                .map(shown)
                .eq(dial.rings.iter().map(shown));
            let lists = [&other.never, &other.not_made] == [&dial.never, &dial.not_made];
            rings && lists && !dial.rings.is_empty()
        };
        match kept.iter_mut().find(same) {
            Some(other) => other.also.push(dial.name),
            None => kept.push(dial),
        }
    }
    kept
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
    /// Positions of its faces, the largest first.
    largest: &'a [usize],
    /// So many of these have rings.
    most_faces: usize,
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

impl Told {
    fn is_empty(&self) -> bool {
        self.arcs.is_empty() && self.marks.is_empty()
    }
}

/// The ring of a tool's cuts.
fn of_cuts(rests: Vec<Rest>) -> ReachedRing {
    ReachedRing {
        ring: Ring {
            name: "cuts".to_owned(),
            arcs: Vec::new(),
            rests,
        },
        ends: Vec::new(),
        marks: Vec::new(),
        place: None,
        worst_seat: None,
    }
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
        let dial = |(tool, told): (usize, &ToolReach)| {
            let name = format!("T{}", told.tool);
            let places = self.faces_of(side, tool).map(|face| {
                let told = side.told[face][tool].as_ref();
                (self.part.faces[face].face.clone(), [face, tool], told)
            });
            let mut dial = self.dial(side, DialOf::Tool, name, places);
            let mine = |cut: &CutAnswer| cut.tool == told.tool && side.names.contains(&cut.seat);
            let rests = rests_of(self.check.cuts.iter().filter(|cut| mine(cut)));
            if dial.is_asked && !rests.is_empty() {
                dial.rings.insert(0, of_cuts(rests));
            }
            dial
        };
        tools.iter().enumerate().map(dial).collect()
    }

    /// Faces that a tool's dial is about: the largest, and for a drill besides all that it may reach.
    fn faces_of(&self, side: &Side, tool: usize) -> impl Iterator<Item = usize> {
        let number = self.part.faces.first().map(|face| face.tools[tool].tool);
        let is_drill = |tool: &Tool| Some(tool.number) == number && tool.kind == ToolKind::Drill;
        let is_drill = self.setup.tools.iter().any(is_drill);
        let has_ring = move |face: usize| {
            let told = side.told[face][tool].as_ref();
            is_drill && told.is_some_and(|told| !told.is_empty())
        };
        let faces = self.largest.iter().copied().enumerate();
        let faces = faces.filter(move |(place, face)| *place < self.most_faces || has_ring(*face));
        faces.map(|(_, face)| face)
    }

    /// Dials of the largest faces, and of all others; each in the order of the answer.
    fn faces(&self, side: &Side) -> [Vec<ReachedDial>; 2] {
        let dial = |face: usize| {
            let asked = &self.part.faces[face];
            let places = asked.tools.iter().enumerate().map(|(tool, told)| {
                let on_ring = side.told[face][tool].as_ref();
                (format!("T{}", told.tool), [face, tool], on_ring)
            });
            self.dial(side, DialOf::Face, asked.face.clone(), places)
        };
        let (largest, others) = self
            .largest
            .split_at(self.most_faces.min(self.largest.len()));
        [largest, others].map(|faces| {
            let mut faces = faces.to_vec();
            faces.sort_unstable();
            faces.into_iter().map(dial).collect()
        })
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
            also: Vec::new(),
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
            let Some(told) = told else { continue };
            let Told { arcs, marks } = told;
            dial.is_asked = true;
            if told.is_empty() {
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
