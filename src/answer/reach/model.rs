//! The answer of `reach` as values.

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
    /// How many faces were too small to be asked about.
    pub small_faces: usize,
    /// Their area, together.
    pub small_area_mm2: f64,
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
}
