//! Troubles and their remedies.

use super::{GapValue, Measured, Phase, Verdict};
use schemars::JsonSchema;
use serde::Serialize;

/// What kind of thing is wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum TroubleKind {
    /// Contact or overlap.
    Clash,
    /// Flutes stand in the finished part.
    Gouge,
    /// A rapid goes through stock.
    RapidInStock,
    /// An axis ends before the place.
    ShortOfTravel,
    /// No index turns the access direction toward the spindle.
    FacingAway,
    /// The work sweeps more than the machine allows.
    SwingTooLarge,
    /// The cutter does not fit the feature.
    CutterDoesNotFit,
    /// The cutter cannot plunge and has no way in from outside.
    NoWayIn,
    /// One pass is deeper than the cutting edges.
    EdgesTooShort,
    /// A gap, but less than wanted.
    Close,
    /// A shank as wide as its flutes follows them into the cut.
    Rubs,
    /// Not decided.
    Undecided,
    /// The machine file does not say which way the rotary turns.
    NoRotarySense,
    /// Nothing says what stock the part has.
    NoStock,
}

/// One thing that is wrong, at its worst place, with all the places where it happens.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Trouble {
    /// Kind.
    pub kind: TroubleKind,
    /// `clash`, `close` or `unknown`.
    pub verdict: Verdict,
    /// Name of the cut; left out where it is about the whole job.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cut: Option<String>,
    /// Number of the tool.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tool: Option<u32>,
    /// Phase.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub phase: Option<Phase>,
    /// By how much: overlap, missing travel, missing gap.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub amount_mm: Option<f64>,
    /// Axis that is short.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub axis: Option<String>,
    /// The two bodies and their gap at the worst place.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub worst: Option<Measured>,
    /// Seat of the worst place.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub seat: Option<String>,
    /// Index (or, in an index move, start and end) of the worst place.
    pub angles_deg: Vec<f64>,
    /// Everywhere that it happens, worst place included.
    pub places: Vec<TroublePlace>,
    /// What else there is to say.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// Smallest changes that mend it, each tried by the engine.
    pub remedies: Vec<Remedy>,
}

/// Where a trouble happens.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct TroublePlace {
    /// Seat; left out in an index move or tool change.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub seat: Option<String>,
    /// Rotary angle, or start and end of an index move.
    pub angles_deg: Vec<f64>,
}

/// A change that mends a trouble at all its places; each was tried before it is told.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Remedy {
    /// What to change.
    pub change: Change,
    /// The least gap that is left after the change at these places, where the trouble is a gap.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub gap_after: Option<GapValue>,
}

/// What to change.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(tag = "what", rename_all = "kebab-case")]
pub enum Change {
    /// Set the tool longer out of the holder.
    StickOutAtLeast {
        /// Number of the tool.
        tool: u32,
        /// New stick-out.
        stick_out_mm: f64,
        /// New gauge length.
        gauge_length_mm: f64,
    },
    /// Set the tool to a longer gauge length.
    GaugeLengthAtLeast {
        /// Number of the tool.
        tool: u32,
        /// New gauge length.
        gauge_length_mm: f64,
        /// Whether the cutter is too short for it: tried with the cutter as far out as it goes, and a holder that is
        /// longer at its upper end by what is lacking.
        longer_holder: bool,
    },
    /// Set the tool to a shorter gauge length.
    GaugeLengthAtMost {
        /// Number of the tool.
        tool: u32,
        /// New gauge length.
        gauge_length_mm: f64,
    },
    /// Take a slimmer holder.
    HolderDiameterAtMost {
        /// Number of the tool.
        tool: u32,
        /// Greatest diameter.
        diameter_mm: f64,
    },
    /// Set the seats farther apart along the rotary axis.
    PitchAtLeast {
        /// Seat group.
        group: String,
        /// New distance of the two seats.
        pitch_mm: f64,
    },
    /// Stand an axis elsewhere during index moves.
    IndexPose {
        /// Axis letter.
        axis: String,
        /// New position: at least or at most this, as `at_least` says.
        position_mm: f64,
        /// Whether higher is better.
        at_least: bool,
    },
    /// Raise the feed plane.
    FeedPlaneAtLeast {
        /// Name of the cut.
        cut: String,
        /// New height above the opening.
        height_mm: f64,
    },
    /// Raise the travel plane.
    TravelPlaneAtLeast {
        /// Name of the cut.
        cut: String,
        /// New height above the opening.
        height_mm: f64,
    },
    /// Cut less deep.
    DepthAtMost {
        /// Name of the cut.
        cut: String,
        /// By how much less.
        less_mm: f64,
    },
    /// Take a smaller cutter.
    CutterDiameterAtMost {
        /// Number of the tool.
        tool: u32,
        /// Greatest cutting diameter.
        diameter_mm: f64,
    },
    /// Move the feature's seat or the table along an axis so that travel suffices.
    ShiftWork {
        /// Axis letter.
        axis: String,
        /// By how much, in the direction of the axis.
        shift_mm: f64,
    },
    /// Something that takes no number.
    Say {
        /// What to do.
        text: String,
    },
}
