//! What `check` answers: values only, ready to be shown as text, JSON or a page.
//!
//! Units stand in the names. Everything is ordered, so that the same job gives the same bytes.

mod trouble;

pub use trouble::{Change, Remedy, Trouble, TroubleKind, TroublePlace};

use schemars::JsonSchema;
use serde::Serialize;

/// The answer to a whole job.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct CheckAnswer {
    /// Title of the job.
    pub title: String,
    /// Name of the machine.
    pub machine: String,
    /// The worst of all verdicts.
    pub verdict: Verdict,
    /// How many cut, seat and index combinations there are, by outcome.
    pub outcomes: OutcomeCounts,
    /// Which way the work turns.
    pub turning: Turning,
    /// Every cut at every seat and index.
    pub cuts: Vec<CutAnswer>,
    /// Every index move of the program, in order.
    pub index_moves: Vec<IndexMoveAnswer>,
    /// Every tool change, in order.
    pub tool_changes: Vec<ToolChangeAnswer>,
    /// Swing of the work about the rotary axis.
    pub swing: Swing,
    /// Travel of every linear axis over the whole job.
    pub travel: Vec<AxisUse>,
    /// What is wrong, worst first.
    pub troubles: Vec<Trouble>,
    /// Tools of the job.
    pub tools: Vec<ToolName>,
    /// Shortest and longest gauge length of every tool.
    pub lengths: Vec<ToolLengths>,
    /// What a `clear` relies on.
    pub relies_on: Vec<Reliance>,
    /// Contacts that are meant and were found.
    pub contacts: Vec<ContactUse>,
}

/// Number and name of a tool.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ToolName {
    /// Number.
    pub number: u32,
    /// Name.
    pub name: String,
}

/// Verdict on a gap or on a whole job, from good to bad.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// The gap is at or above the wanted gap.
    Clear,
    /// Not decided.
    Unknown,
    /// A gap, but less than wanted.
    Close,
    /// Contact or overlap, or a place that is not reached.
    Clash,
}

/// Outcome of a cut at an index.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// The tool gets there within travel, without contact (it may be close).
    Reached,
    /// An axis ends before the place.
    ShortOfTravel,
    /// Something stands in the way.
    Blocked,
    /// No index turns the access direction toward the spindle.
    FacingAway,
    /// Not decided.
    Unknown,
}

/// How many of each outcome.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, JsonSchema)]
pub struct OutcomeCounts {
    /// Reached and clear.
    pub clear: usize,
    /// Reached, but close.
    pub close: usize,
    /// Short of travel.
    pub short_of_travel: usize,
    /// Blocked.
    pub blocked: usize,
    /// Facing away.
    pub facing_away: usize,
    /// Unknown.
    pub unknown: usize,
}

/// A certified bracket of a least gap, after chord allowances.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct GapValue {
    /// The gap is at least this.
    pub lo_mm: f64,
    /// The gap is at most this; left out where only the lower end was asked for.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub hi_mm: Option<f64>,
}

/// Element of the tool group, or the work group itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Element {
    /// Cutting part.
    Flutes,
    /// Neck and shank.
    Shank,
    /// Holder.
    Holder,
    /// Spindle nose.
    Nose,
    /// Spindle head.
    Head,
    /// The work group (against bed and base).
    Work,
    /// The bed group (against base).
    Bed,
}

/// When in the program something happens.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Phase {
    /// From the travel plane down to the feed plane and back, at rapid.
    Approach,
    /// From the feed plane to full depth, at feed.
    Cut,
    /// A rapid of an explicit path below the feed plane.
    Link,
    /// The carrier turns to its next index.
    IndexMove,
    /// The tool is changed.
    ToolChange,
}

/// A least gap with what it is between and where.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Measured {
    /// Element of the tool group (or work, bed).
    pub element: Element,
    /// Name of the body on that side, such as `T3 holder`.
    pub element_body: String,
    /// Name of the other body, such as `nut of seat 1.2`.
    pub body: String,
    /// The gap.
    pub gap: GapValue,
    /// Chord allowance that was taken off.
    pub chord_allowance_mm: f64,
    /// The gap asked for.
    pub wanted_mm: f64,
    /// Verdict.
    pub verdict: Verdict,
    /// Phase.
    pub phase: Phase,
    /// Where the two come nearest; left out where nothing nearer than the cap was found.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub place: Option<Place>,
}

/// A place, in machine coordinates at that moment (bed at rest) and, for a seat's part, in part
/// coordinates.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Place {
    /// Point on the body, machine coordinates with the table at zero.
    pub machine_mm: [f64; 3],
    /// The same point in the coordinates of the part whose seat the cut is at.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub part_mm: Option<[f64; 3]>,
    /// Nearest point on the tool group.
    pub tool_mm: [f64; 3],
    /// Tip of the tool at that moment, in the same coordinates; left out where no tool takes part.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tip_mm: Option<[f64; 3]>,
    /// How far the body on the tool's side then stands from its place with the linear axes at
    /// zero (beside base bodies the axes shift one against the other); left out for a tool.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub shift_mm: Option<[f64; 3]>,
    /// Rotary angle at that moment.
    pub angle_deg: f64,
}

/// One cut at one seat and one index.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct CutAnswer {
    /// Name of the cut.
    pub cut: String,
    /// Number of the tool.
    pub tool: u32,
    /// Name of the seat.
    pub seat: String,
    /// Rotary angle; left out where none was found.
    pub index_deg: Option<f64>,
    /// Outcome.
    pub outcome: Outcome,
    /// Verdict (worst of gaps, travel and rules).
    pub verdict: Verdict,
    /// The least gap that counts, measured against what was wanted there.
    pub least: Option<Measured>,
    /// Travel of every axis over this cut.
    pub travel: Vec<AxisUse>,
}

impl CutAnswer {
    /// The axis that is short, with its position in the list; of several the one that is short by most.
    #[must_use]
    pub fn short_axis(&self) -> Option<(usize, &AxisUse)> {
        let axes = self.travel.iter().enumerate();
        let least = axes.min_by(|(_, a), (_, b)| a.spare_mm.total_cmp(&b.spare_mm));
        least.filter(|(_, axis)| axis.spare_mm < 0.0)
    }
}

/// Travel of one axis.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct AxisUse {
    /// Letter.
    pub axis: String,
    /// Lowest position used.
    pub low_mm: f64,
    /// Highest position used.
    pub high_mm: f64,
    /// Lowest position allowed.
    pub limit_low_mm: f64,
    /// Highest position allowed.
    pub limit_high_mm: f64,
    /// What is left to the nearer limit; negative where it is short.
    pub spare_mm: f64,
}

/// An index move of the program.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct IndexMoveAnswer {
    /// Number of the tool in the spindle.
    pub tool: u32,
    /// What comes before: name of a cut, or `start`.
    pub after: String,
    /// What comes next: name of a cut, or `end`.
    pub before: String,
    /// From this rotary angle.
    pub from_deg: f64,
    /// To this rotary angle, counted through (may lie beyond a full turn).
    pub to_deg: f64,
    /// Verdict.
    pub verdict: Verdict,
    /// The least gap of the tool group, as measured against what was wanted.
    pub least: Option<Measured>,
    /// The least gap of the work group to bed and base.
    pub work_least: Option<Measured>,
    /// Axis positions during the move: lowest and highest of each.
    pub axes: Vec<AxisUse>,
}

/// A tool change.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ToolChangeAnswer {
    /// Number of the tool in the spindle at that position.
    pub tool: u32,
    /// Rotary angle.
    pub index_deg: f64,
    /// Verdict.
    pub verdict: Verdict,
    /// The least gap.
    pub least: Option<Measured>,
}

/// Swing of the work about the rotary axis.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Swing {
    /// Largest radius that the work sweeps, chord allowance included.
    pub radius_mm: f64,
    /// Body that sweeps it.
    pub body: String,
    /// The machine's limit.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub limit_mm: Option<f64>,
}

/// Which way the work turns.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Turning {
    /// Letter of the rotary.
    pub rotary: String,
    /// Direction of the rotary axis in machine coordinates.
    pub direction: [f64; 3],
    /// For a positive angle: whether the work itself turns right-handed about the direction;
    /// left out where the machine file does not say.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub work_right_handed: Option<bool>,
    /// Machine direction from the tool tip to the spindle.
    pub toward_spindle: [f64; 3],
    /// Machine direction that side 1 faces at angle 0.
    pub side_1_at_zero: [f64; 3],
    /// Machine direction that side 1 faces at angle +90, if the sense is known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub side_1_after_plus_90: Option<[f64; 3]>,
}

/// Shortest and longest gauge length of a tool over all its cuts.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ToolLengths {
    /// Number.
    pub tool: u32,
    /// Name.
    pub name: String,
    /// Gauge length as set.
    pub set_mm: f64,
    /// Shortest that keeps every wanted gap; left out where none was found.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub shortest_mm: Option<f64>,
    /// What sets the shortest.
    pub shortest_by: Option<LengthLimit>,
    /// Longest that clears travel, index moves and tool change.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub longest_mm: Option<f64>,
    /// What sets the longest.
    pub longest_by: Option<LengthLimit>,
}

/// What sets an end of a tool's length.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct LengthLimit {
    /// Cut (or index move, `before the cut`), where one sets it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cut: Option<String>,
    /// Seat, where one sets it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub seat: Option<String>,
    /// Phase.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub phase: Option<Phase>,
    /// What: a body, `travel of Z`, `usable length`, `shank grip`.
    pub by: String,
}

/// Something that a `clear` relies on.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(tag = "on", rename_all = "kebab-case")]
pub enum Reliance {
    /// An earlier cut has taken its material away.
    EarlierCut {
        /// The cut that relies on it.
        cut: String,
        /// The earlier cut.
        earlier: String,
        /// State of the part that it leaves.
        state: String,
    },
    /// The cut is taken in passes no deeper than the cutting edges.
    Passes {
        /// The cut.
        cut: String,
        /// Greatest depth of a pass.
        pass_mm: f64,
    },
    /// A shank follows its flutes with this difference of radii.
    Corridor {
        /// The cut.
        cut: String,
        /// Difference of the radii.
        difference_mm: f64,
    },
    /// The model shows a hole before tapping: the tap cuts this deep into its wall.
    Thread {
        /// The cut.
        cut: String,
        /// Depth of the thread.
        depth_mm: f64,
    },
    /// The rotary turns the way the machine file says.
    RotarySense {
        /// The declared sense.
        sense: String,
    },
    /// Both ways round were checked, as the machine file does not say which is taken.
    BothWays,
    /// A feed or travel plane that the job does not give.
    Plane {
        /// The cut.
        cut: String,
        /// Feed plane above the opening.
        feed_mm: f64,
        /// Travel plane above the opening.
        travel_mm: f64,
    },
}

/// A contact that is meant.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ContactUse {
    /// Its name in the machine file.
    pub name: String,
    /// The work body.
    pub work: String,
    /// The bed body.
    pub bed: String,
    /// Least gap of the two outside the region; left out where nothing of one lies outside.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub outside_region: Option<GapValue>,
}
