//! The answer of `reach` as values.

use crate::value::wrap_deg;
use schemars::JsonSchema;
use serde::Serialize;

/// Share of a face's area, as a bracket: what is certainly reached, and what may be besides.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Share {
    /// Certainly reached.
    pub certain: f64,
    /// Not decided: it may be reached or not.
    pub undecided: f64,
}

impl Share {
    /// Nothing is reached.
    pub const NONE: Self = Self {
        certain: 0.0,
        undecided: 0.0,
    };

    /// The most that may be reached.
    #[must_use]
    pub fn most(&self) -> f64 {
        self.certain + self.undecided
    }
}

/// Why an area is not reached.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, JsonSchema)]
#[serde(tag = "why", rename_all = "snake_case")]
pub enum Reason {
    /// The surface looks away from the spindle.
    FacingAway,
    /// Another face of the part stands over it.
    Undercut,
    /// Nothing stands over it, but the cutter meets what stands beside it: it is too large for the
    /// corner, the fillet or the bore.
    CutterTooLarge,
    /// The point of a drill meets the bottom of its bore before the full diameter is there.
    PointMeetsBottom,
    /// The shank, wider than the flutes can clear, comes to the part before they reach down.
    FlutesTooShort,
    /// The face is not what this kind of tool makes: a drill makes bores of its own diameter.
    NotThisToolsWork,
    /// An element of the tool group would touch a body.
    Stopped {
        /// The element.
        element: String,
        /// The body.
        body: String,
    },
    /// An element of the tool group would not touch a body, but keep less than the wanted gap.
    Close {
        /// The element.
        element: String,
        /// The body.
        body: String,
    },
    /// An axis would leave its travel.
    ShortOfTravel {
        /// Letter of the axis.
        axis: String,
    },
}

/// A reason with the share of the face that it takes.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ReasonShare {
    /// Why.
    #[serde(flatten)]
    pub reason: Reason,
    /// Share of the face's area.
    pub share: f64,
}

/// A face with one tool at one seat and index.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct IndexReach {
    /// Rotary angle.
    pub index_deg: f64,
    /// Share of the face.
    pub share: Share,
    /// Why the rest is not reached, the greatest share first.
    pub reasons: Vec<ReasonShare>,
}

/// Intervals of the rotary angle, ascending; one that goes on beyond 360 degrees ends above 360.
#[derive(Debug, Clone, Default, PartialEq, Serialize, JsonSchema)]
pub struct Bands {
    /// At every angle of these the share asked for is reached.
    pub reached_deg: Vec<[f64; 2]>,
    /// At angles of these it may be reached or not, but for those of `reached_deg`; at all others it is
    /// not.
    pub undecided_deg: Vec<[f64; 2]>,
}

/// An angle at which alone the share may be reached, by what counts as level or upright so far about it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Alone {
    pub angle_deg: f64,
    pub about_deg: f64,
}

/// Within an undecided interval no wider than this it is told where an angle alone is reached.
const NARROW_DEG: f64 = 1.0;

/// Angles that differ by no more than this are the same: a floor or a wall still counts as level or upright.
pub(super) const SAME_DEG: f64 = 5e-5;

impl Bands {
    /// Adds an interval that is reached; intervals come in ascending order.
    pub(super) fn free(&mut self, low_deg: f64, high_deg: f64) {
        add(&mut self.reached_deg, low_deg, high_deg);
    }

    /// Adds an interval that is undecided.
    pub(super) fn undecided(&mut self, low_deg: f64, high_deg: f64) {
        add(&mut self.undecided_deg, low_deg, high_deg);
    }

    /// Puts in what is known at single angles: where the share is reached at an angle alone, it is a band of
    /// no width. About an angle at which alone it may be reached a little is undecided, within limits of the
    /// rotary, unless it is known that it is not.
    pub(super) fn know(
        &mut self,
        alone: &[Alone],
        at: &[IndexReach],
        from_share: f64,
        limits_deg: Option<[f64; 2]>,
    ) {
        let surely_not = |angle_deg: f64| {
            at.iter().any(|known| {
                let off_deg = (known.index_deg - angle_deg).rem_euclid(360.0);
                off_deg.min(360.0 - off_deg) <= SAME_DEG
                    && known.share.most() < from_share * (1.0 - 1e-9)
            })
        };
        let reached = at.iter().filter(|known| known.share.certain >= from_share);
        let reached = reached.map(|known| known.index_deg);
        // Within what is undecided over degrees one angle tells little of a band.
        let wide = |[low_deg, high_deg]: &&[f64; 2]| high_deg - low_deg > NARROW_DEG;
        let tells = |deg: &f64| {
            let undecided = self.undecided_deg.iter().filter(wide);
            let mut known = self.reached_deg.iter().chain(undecided);
            !known.any(|band| holds(band, *deg))
        };
        let reached: Vec<f64> = reached.filter(tells).collect();
        for alone in alone.iter().filter(|alone| !surely_not(alone.angle_deg)) {
            self.doubt(*alone, limits_deg);
        }
        self.reached_deg.extend(reached.iter().map(|deg| [*deg; 2]));
        self.reached_deg.sort_by(|a, b| a[0].total_cmp(&b[0]));
        self.undecided_deg.sort_by(|a, b| a[0].total_cmp(&b[0]));
    }

    /// Makes an angle undecided, and a little about it, as far as there is no interval: beyond its end where an
    /// interval ends at this very angle.
    fn doubt(&mut self, alone: Alone, limits_deg: Option<[f64; 2]>) {
        let angle_deg = alone.angle_deg;
        let [least_deg, most_deg] = limits_deg.unwrap_or([f64::MIN, f64::MAX]);
        let low_deg = (angle_deg - alone.about_deg).max(least_deg);
        let high_deg = (angle_deg + alone.about_deg).min(most_deg);
        let mut left = vec![[low_deg, high_deg]];
        for other in self.reached_deg.iter().chain(&self.undecided_deg) {
            for turn_deg in [-360.0, 0.0, 360.0] {
                let [from_deg, to_deg] = other.map(|end_deg| end_deg + turn_deg);
                let rest = |piece: [f64; 2]| {
                    let below = [piece[0], piece[1].min(from_deg)];
                    let above = [piece[0].max(to_deg), piece[1]];
                    [below, above].into_iter().filter(|[low, high]| low < high)
                };
                left = left.into_iter().flat_map(rest).collect();
            }
        }
        let here = |[low, high]: &[f64; 2]| (*low..=*high).contains(&angle_deg);
        for [low_deg, high_deg] in left.into_iter().filter(here) {
            let turn_deg = match limits_deg {
                None => wrap_deg(low_deg) - low_deg,
                Some(_) => 0.0,
            };
            self.undecided_deg
                .push([low_deg + turn_deg, high_deg + turn_deg]);
        }
    }

    /// The same with the rotary gone on by so many degrees, for a rotary without limits.
    pub(super) fn turned(&self, by_deg: f64) -> Self {
        let all = |list: &[[f64; 2]]| {
            let mut turned: Vec<[f64; 2]> = list
                .iter()
                .map(|&[low_deg, high_deg]| {
                    if high_deg - low_deg >= 360.0 {
                        return [low_deg, high_deg];
                    }
                    let turns_deg = wrap_deg(low_deg + by_deg) - (low_deg + by_deg);
                    [low_deg, high_deg].map(|end_deg| end_deg + by_deg + turns_deg)
                })
                .collect();
            turned.sort_by(|a, b| a[0].total_cmp(&b[0]));
            turned
        };
        Self {
            reached_deg: all(&self.reached_deg),
            undecided_deg: all(&self.undecided_deg),
        }
    }

    /// Joins what ends at 360 degrees with what begins at 0.
    pub(super) fn close_the_circle(&mut self) {
        for list in [&mut self.reached_deg, &mut self.undecided_deg] {
            if let [[first_deg, end_deg], .., [_, last_deg]] = list[..]
                && first_deg == 0.0
                && last_deg == 360.0
            {
                list.remove(0);
                if let Some(last) = list.last_mut() {
                    last[1] = 360.0 + end_deg;
                }
            }
        }
    }
}

/// Whether an interval holds an angle, whole turns aside.
fn holds([low_deg, high_deg]: &[f64; 2], angle_deg: f64) -> bool {
    (angle_deg - low_deg).rem_euclid(360.0) <= high_deg - low_deg
}

fn add(list: &mut Vec<[f64; 2]>, low_deg: f64, high_deg: f64) {
    match list.last_mut() {
        Some(last) if last[1] == low_deg => last[1] = high_deg,
        _ => list.push([low_deg, high_deg]),
    }
}

/// A face with one tool at one seat.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct SeatReach {
    /// Seat.
    pub seat: String,
    /// The index with the greatest certain share; `None` where nothing may be reached at any.
    pub best: Option<IndexReach>,
    /// Every index at which something is or may be reached.
    pub indexes: Vec<IndexReach>,
    /// The main reason for what is not reached: at the best index, or where none reaches anything,
    /// where the surface looks most at the spindle.
    pub reason: Option<Reason>,
    /// Over which angles the face is reached; only where that was asked, and not for drills, which
    /// reach a bore at its own angle and at no other.
    pub bands: Option<Bands>,
}

/// A face with one tool.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ToolReach {
    /// Tool number.
    pub tool: u32,
    /// Share at the best index of the worst seat.
    pub worst: Share,
    /// The seat that has it.
    pub worst_seat: String,
    /// Every seat.
    pub seats: Vec<SeatReach>,
}

/// A face of a part.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct FaceReach {
    /// Name of the face.
    pub face: String,
    /// Its area.
    pub area_mm2: f64,
    /// Every tool, in the order of their numbers.
    pub tools: Vec<ToolReach>,
}

/// A part with the seats that hold it.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct PartReach {
    /// Part.
    pub part: String,
    /// State whose faces are asked about.
    pub state: String,
    /// Faces asked about.
    pub faces: Vec<FaceReach>,
    /// How many faces were not asked about: too small, or not chosen.
    pub other_faces: usize,
    /// Their area, together.
    pub other_area_mm2: f64,
}

/// What every share takes for granted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Assumption {
    /// The own part stands in its last state: stock that is still on it is not asked about.
    OwnPartFinished,
    /// Other seats hold their parts in the first state and in the last.
    OthersFirstAndLast,
    /// Tools come down along the spindle from over all that turns; whether they can plunge is
    /// not asked.
    ApproachFromAbove,
    /// Bodies of the machine's base are not asked about: `check` does that for each cut.
    BaseNotAsked,
    /// Groove mills are asked as they come from above; what they reach sideways is not counted.
    SidewaysNotAsked,
    /// Taps are left out: a thread is not a face.
    TapsLeftOut,
}

/// A mesh that is not sound, and what shares take for granted about it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, JsonSchema)]
pub struct MeshDoubt {
    /// The body: a part or clamp with its state, or a body of carrier or machine.
    pub body: String,
    /// How many edges enclose something that is missing. It is taken to lie in the plane of its rim, or
    /// in the box round a rim that is not flat; what would go through it is undecided.
    pub open_edges: u64,
    /// How many shells are inside out: they are taken as if turned right.
    pub inside_out: usize,
    /// How many shells have neighbours that are turned against each other: faces on them are
    /// undecided.
    pub mixed: usize,
    /// How many pairs of triangles cross each other, as one body through another: what lies within the
    /// body is not reached. `None` where that was given up, as too many lie over each other.
    pub crossings: Option<u64>,
    /// Whether its own faces are asked about.
    pub asked: bool,
}

/// Which faces each tool reaches at which index.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ReachAnswer {
    /// Title of the job.
    pub title: String,
    /// Name of the machine.
    pub machine: String,
    /// Whether the rotary sense is declared; without it nothing is known.
    pub sense_declared: bool,
    /// Numbers and names of the tools asked about.
    pub tools: Vec<(u32, String)>,
    /// Indexes asked about.
    pub indexes_deg: Vec<f64>,
    /// Parts.
    pub parts: Vec<PartReach>,
    /// Assumptions.
    pub assumes: Vec<Assumption>,
    /// Meshes that are not sound.
    pub doubts: Vec<MeshDoubt>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn turned_bands_go_on_beyond_a_turn() {
        let bands = Bands {
            reached_deg: vec![[0.0, 20.0], [307.25, 330.0]],
            undecided_deg: vec![[330.0, 360.0]],
        };
        let turned = bands.turned(90.0);
        assert_eq!(turned.reached_deg, [[37.25, 60.0], [90.0, 110.0]]);
        assert_eq!(turned.undecided_deg, [[60.0, 90.0]]);
        assert_eq!(bands.turned(45.0).reached_deg[1], [352.25, 375.0]);
        assert_eq!(turned.turned(270.0), bands);
        let whole = Bands {
            reached_deg: vec![[0.0, 360.0]],
            undecided_deg: Vec::new(),
        };
        assert_eq!(whole.turned(90.0), whole);
    }
}
