//! How short a tool may be set and still reach all faces that it reaches as set.
//!
//! A shorter tool brings holder, nose and head lower at every tip, and what is swept on the way down
//! is then more; an axis comes nearer to one end of its travel. So what is lost at a length is lost at
//! shorter ones, but for a wide shank that is drawn in until only its neck is left: the shortest is
//! found by halving, and there may be a shorter one then. Every length that is told was asked of `reach`
//! itself.

use crate::answer::check::{CheckError, Progress, Silent};
use crate::answer::reach::model::{ReachAnswer, Reason, SeatReach};
use crate::answer::reach::{ReachOptions, reach_with};
use crate::answer::retool::{stick_out_limits, with_stick_out};
use crate::answer::scene::ShapeStore;
use crate::setup::model::{Setup, Tool};
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeMap;
use std::sync::atomic::AtomicBool;

/// A length this little outside a multiple of the step lies on it.
const GRAIN_MM: f64 = 1e-9;

/// What a tool reaches as set, and how short it still does.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ReachedLengths {
    /// How many faces at seats it reaches as set, each at one index at least.
    pub places: usize,
    /// The shortest multiple of the step at which it still reaches all of them; left out where it
    /// reaches none as set, or loses some at the next multiple already.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub shortest_mm: Option<f64>,
    /// What a step less loses; left out where the holder allows no less.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub lost: Option<Lost>,
}

/// A face that a length loses.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Lost {
    /// That gauge length.
    pub gauge_length_mm: f64,
    /// Part.
    pub part: String,
    /// Face.
    pub face: String,
    /// Seat.
    pub seat: String,
    /// The main reason; left out where the share is only undecided.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reason: Option<Reason>,
}

/// A face at a seat with the indexes at which it is reached, the best first.
struct Place {
    part: String,
    face: String,
    seat: String,
    indexes_deg: Vec<f64>,
}

/// One tool and what it reaches as set.
pub(super) struct Reached<'r> {
    setup: &'r Setup,
    store: ShapeStore,
    ask: &'r ReachOptions,
    tool: usize,
    places: Vec<Place>,
    stop: &'r AtomicBool,
}

/// Every tool asked about with what it reaches as set.
///
/// # Errors
/// As [`reach_with`].
pub(super) fn as_set<'r>(
    setup: &'r Setup,
    ask: &'r ReachOptions,
    progress: &dyn Progress,
    stop: &'r AtomicBool,
) -> Result<BTreeMap<usize, Reached<'r>>, CheckError> {
    let store = ShapeStore::build(setup)?;
    let answer = reach_with(setup, &store, ask, progress, stop)?;
    let asked = answer.tools.iter().map(|(number, _)| *number);
    let of = |number: u32| {
        let tool = setup.tools.iter().position(|tool| tool.number == number)?;
        let places = places(&answer, number, ask.from_share);
        Some((
            tool,
            Reached {
                setup,
                store: store.clone(),
                ask,
                tool,
                places,
                stop,
            },
        ))
    };
    Ok(asked.filter_map(of).collect())
}

fn places(answer: &ReachAnswer, number: u32, from_share: f64) -> Vec<Place> {
    let mut places = Vec::new();
    for (part, face, seat) in seats(answer, number) {
        let mut reached: Vec<(f64, f64)> = seat
            .indexes
            .iter()
            .filter(|found| found.share.certain >= from_share)
            .map(|found| (found.share.certain, found.index_deg))
            .collect();
        reached.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.total_cmp(&b.1)));
        if !reached.is_empty() {
            places.push(Place {
                part: part.to_owned(),
                face: face.to_owned(),
                seat: seat.seat.clone(),
                indexes_deg: reached
                    .into_iter()
                    .map(|(_, index_deg)| index_deg)
                    .collect(),
            });
        }
    }
    places
}

fn reason(answer: &ReachAnswer, number: u32, place: &Place) -> Option<Reason> {
    let here = |(part, face, seat): &(&str, &str, &SeatReach)| {
        *part == place.part && *face == place.face && seat.seat == place.seat
    };
    seats(answer, number)
        .find(here)
        .and_then(|(_, _, seat)| seat.reason.clone())
}

/// Part, face and seat of everything that one tool was asked about.
fn seats(answer: &ReachAnswer, number: u32) -> impl Iterator<Item = (&str, &str, &SeatReach)> {
    answer.parts.iter().flat_map(move |part| {
        part.faces.iter().flat_map(move |face| {
            let mine = face.tools.iter().filter(move |tool| tool.tool == number);
            mine.flat_map(|tool| &tool.seats)
                .map(|seat| (part.part.as_str(), face.face.as_str(), seat))
        })
    })
}

impl Reached<'_> {
    fn set(&self) -> &Tool {
        &self.setup.tools[self.tool]
    }

    /// The shortest multiple of the step that keeps all that is reached as set.
    ///
    /// # Errors
    /// As [`reach_with`].
    pub(super) fn shortest(&self, step_mm: f64) -> Result<ReachedLengths, CheckError> {
        let mut found = ReachedLengths {
            places: self.places.len(),
            shortest_mm: None,
            lost: None,
        };
        if self.places.is_empty() {
            return Ok(found);
        }
        let set = self.set();
        let holder_mm = set.gauge_length_mm - set.stick_out_mm;
        let least_mm = holder_mm + stick_out_limits(set).least_mm;
        let steps = |length_mm: f64| ((length_mm - GRAIN_MM) / step_mm).ceil().max(0.0) as u64;
        // The first that may do, and the one that does or nearly: as set, or just above where the
        // holder allows it.
        let most_mm = stick_out_limits(set).most_mm.unwrap_or(f64::INFINITY);
        let most = ((holder_mm + most_mm + GRAIN_MM) / step_mm).floor();
        let (mut low, set_steps) = (steps(least_mm), steps(set.gauge_length_mm));
        let mut high = set_steps.min(most.max(0.0) as u64);
        let length_mm = |steps: u64| steps as f64 * step_mm;
        if low > high {
            return Ok(found);
        }
        found.lost = self.lost_at(length_mm(high))?;
        if found.lost.is_some() {
            return Ok(found);
        }
        while low < high {
            let middle = (low + high) / 2;
            match self.lost_at(length_mm(middle))? {
                None => high = middle,
                Some(lost) => {
                    found.lost = Some(lost);
                    low = middle + 1;
                }
            }
        }
        found.shortest_mm = Some(length_mm(high));
        Ok(found)
    }

    /// What is lost at a gauge length, the first of all; `None` where nothing is.
    ///
    /// # Errors
    /// As [`reach_with`].
    pub(super) fn lost_at(&self, gauge_length_mm: f64) -> Result<Option<Lost>, CheckError> {
        let set = self.set();
        if (gauge_length_mm - set.gauge_length_mm).abs() < GRAIN_MM {
            return Ok(None);
        }
        let stick_out_mm = set.stick_out_mm + gauge_length_mm - set.gauge_length_mm;
        let mut setup = self.setup.clone();
        setup.tools[self.tool] = with_stick_out(set, stick_out_mm);
        let mut open: Vec<&Place> = self.places.iter().collect();
        let mut reasons = None;
        // First each at its best index; what is lost there, at all others.
        for first in [true, false] {
            let left = |place: &&Place| {
                let (best, others) = place.indexes_deg.split_at(1);
                if first { best } else { others }.to_vec()
            };
            let mut indexes_deg: Vec<f64> = open.iter().flat_map(left).collect();
            indexes_deg.sort_by(f64::total_cmp);
            indexes_deg.dedup();
            if indexes_deg.is_empty() {
                continue;
            }
            let answer = self.asked(&setup, &open, indexes_deg)?;
            let reached = places(&answer, set.number, self.ask.from_share);
            open.retain(|place| !reached.iter().any(|other| other.is(place)));
            if open.is_empty() {
                return Ok(None);
            }
            // The reason at the best index says more than one at a poor index.
            reasons = reasons.or(Some(answer));
        }
        Ok(open.first().map(|place| Lost {
            gauge_length_mm,
            part: place.part.clone(),
            face: place.face.clone(),
            seat: place.seat.clone(),
            reason: reasons
                .as_ref()
                .and_then(|answer| reason(answer, set.number, place)),
        }))
    }

    fn asked(
        &self,
        setup: &Setup,
        open: &[&Place],
        indexes_deg: Vec<f64>,
    ) -> Result<ReachAnswer, CheckError> {
        let names = |name: fn(&Place) -> &String| {
            let mut names: Vec<String> = open.iter().map(|place| name(place).clone()).collect();
            names.sort();
            names.dedup();
            names
        };
        let options = ReachOptions {
            indexes_deg,
            tools: vec![self.set().number],
            parts: names(|place| &place.part),
            seats: names(|place| &place.seat),
            faces: names(|place| &place.face),
            bands: false,
            ..self.ask.clone()
        };
        reach_with(setup, &self.store, &options, &Silent, self.stop)
    }
}

impl Place {
    fn is(&self, other: &Self) -> bool {
        (&self.part, &self.face, &self.seat) == (&other.part, &other.face, &other.seat)
    }
}
