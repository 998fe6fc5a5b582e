//! Cuts and features as written in a job file. Features stand in part coordinates.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What one tool cuts on one part, at every seat of that part.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CutFile {
    /// Name shown in answers; unique in the job.
    pub name: String,
    /// Number of the tool.
    pub tool: u32,
    /// Name of the part.
    pub part: String,
    /// State of the part before this cut.
    pub before: String,
    /// State of the part after this cut.
    pub after: String,
    /// Rotary angles to cut at; left out, they are found from the access direction.
    pub index_deg: Option<Vec<f64>>,
    /// What is cut.
    pub feature: FeatureFile,
    /// Height above the feature's opening where rapid becomes feed (default: top of the part as
    /// it stands before the cut, plus the wanted gap at rest, plus 1 mm).
    pub feed_plane: Option<f64>,
    /// Height above the feature's opening over which rapids go from place to place (default: all
    /// that turns with the carrier, plus the wanted gap in index moves).
    pub travel_plane: Option<f64>,
    /// Depth of one pass; left out, the cut is taken in passes no deeper than APMX.
    pub pass_depth: Option<f64>,
}

/// A feature: its form, in ISO 14649 terms, and its place in part coordinates.
///
/// `at` is a point of the feature's opening, `access` points out of the part toward the tool, and
/// `depth` counts from `at` against `access`.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum FeatureFile {
    /// Round holes of one depth, on parallel axes.
    RoundHole {
        /// Centres of the openings.
        at: Vec<[f64; 3]>,
        /// Out of the part, toward the tool.
        access: Direction,
        /// Depth of the hole.
        depth: f64,
        /// What the depth counts to (default: full diameter).
        #[serde(default)]
        depth_to: DepthTo,
        /// How far past the depth the full diameter goes (through holes).
        #[serde(default)]
        break_through: f64,
    },
    /// A flat face, milled in straight passes.
    PlanarFace {
        /// Centre of the finished face.
        at: [f64; 3],
        /// Out of the part, toward the tool.
        access: Direction,
        /// Direction of the passes.
        along: Direction,
        /// Extent along the passes.
        length: f64,
        /// Extent across the passes.
        width: f64,
        /// How far the outermost pass cuts past the face, across the passes (default 0).
        #[serde(default)]
        overhang: f64,
        /// How far the tool axis runs past the face at both ends of a pass (default: the tool
        /// radius plus the wanted gap at rest, so that the cutter leaves the face).
        #[serde(skip_serializing_if = "Option::is_none")]
        run_out: Option<f64>,
    },
    /// A rectangular pocket with rounded corners; sides may be open.
    Pocket {
        /// Centre of the opening.
        at: [f64; 3],
        /// Out of the part, toward the tool.
        access: Direction,
        /// Direction of the length.
        along: Direction,
        /// Extent along.
        length: f64,
        /// Extent across.
        width: f64,
        /// Radius of the corners seen along the tool (0 for none; the cutter must fit).
        #[serde(default)]
        corner_radius: f64,
        /// Depth of the floor.
        depth: f64,
        /// Sides without a wall.
        #[serde(default)]
        open: Vec<OpenSide>,
        /// Material left on walls and floor by this cut (default 0).
        #[serde(default)]
        stock_left: f64,
    },
    /// A round pocket or a bored seat milled to its diameter.
    RoundPocket {
        /// Centre of the opening.
        at: [f64; 3],
        /// Out of the part, toward the tool.
        access: Direction,
        /// Diameter of the wall.
        diameter: f64,
        /// Depth of the floor.
        depth: f64,
        /// Material left on wall and floor by this cut (default 0).
        #[serde(default)]
        stock_left: f64,
    },
    /// A slot or groove of one width along a line of points.
    Slot {
        /// Centre line on the opening; the points lie in one plane across the access direction.
        points: Vec<[f64; 3]>,
        /// Whether the last point joins the first.
        #[serde(default)]
        closed: bool,
        /// Out of the part, toward the tool.
        access: Direction,
        /// Width of the slot (default: the cutting diameter).
        width: Option<f64>,
        /// Depth of the floor.
        depth: f64,
    },
    /// A step: a floor with one wall.
    Step {
        /// Middle of the wall's upper edge.
        at: [f64; 3],
        /// Out of the part, toward the tool.
        access: Direction,
        /// Direction of the wall.
        along: Direction,
        /// Length of the wall.
        length: f64,
        /// Width of the floor, from the wall toward access x along.
        width: f64,
        /// Depth of the floor.
        depth: f64,
    },
    /// A contour of walls or edges along a line of points.
    Profile {
        /// Points of the contour on the opening, in one plane across the access direction.
        points: Vec<[f64; 3]>,
        /// Whether the last point joins the first.
        #[serde(default)]
        closed: bool,
        /// Out of the part, toward the tool.
        access: Direction,
        /// On which side of the contour the tool runs, looking along it from the tool's side.
        side: PathSide,
        /// Distance of the tool axis from the contour (default: half the cutting diameter).
        offset: Option<f64>,
        /// Depth of the tool's reference point.
        depth: f64,
    },
    /// A feature found in the mesh of the part, by the name that `lapidary features` prints.
    FromMesh {
        /// Name of the feature, such as `hole-2`.
        name: String,
        /// State of the part whose mesh it is found in (default: the state that the cut leaves).
        state: Option<String>,
        /// Which step of a stepped hole, from 1 at the opening (needed where there are several).
        step: Option<usize>,
        /// Out of the part, toward the tool (default: as found; a hole that goes through may be
        /// cut from its other end).
        access: Option<Direction>,
        /// How far past the depth the full diameter goes (through holes).
        #[serde(default)]
        break_through: f64,
        /// Material left on walls and floor of a pocket by this cut (default 0).
        #[serde(default)]
        stock_left: f64,
    },
    /// An explicit path of the tool's reference point.
    Path {
        /// Out of the part, toward the tool.
        access: Direction,
        /// The moves, from the first position on; planes of the cut count from that position.
        moves: Vec<MoveFile>,
    },
}

/// A direction in part coordinates; any length but zero.
pub type Direction = [f64; 3];

/// What the depth of a hole counts to.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum DepthTo {
    /// The full diameter (or full thread) reaches the depth; point or lead goes deeper.
    #[default]
    FullDiameter,
    /// The tip reaches the depth.
    Tip,
}

/// A side of a rectangular pocket.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub enum OpenSide {
    /// Where the length direction points.
    #[serde(rename = "+along")]
    PlusAlong,
    /// The opposite end.
    #[serde(rename = "-along")]
    MinusAlong,
    /// Where access x along points.
    #[serde(rename = "+across")]
    PlusAcross,
    /// The opposite side.
    #[serde(rename = "-across")]
    MinusAcross,
}

/// The side of a contour that the tool runs on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum PathSide {
    /// Left of the direction of the points, seen from the tool's side.
    Left,
    /// Right of it.
    Right,
    /// On it.
    On,
}

/// One straight move of an explicit path.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MoveFile {
    /// Where the reference point goes, in part coordinates.
    pub to: [f64; 3],
    /// Whether at rapid (default: feed).
    #[serde(default)]
    pub rapid: bool,
}
