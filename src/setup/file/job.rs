//! Job files: what stands on the carrier and what is cut, with the machine and tools by name.

use super::cut::CutFile;
use super::machine::{IndexRule, MachineFile, PlacementFile};
use super::tool::ToolFile;
use crate::value::Unit;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;
use std::path::PathBuf;

/// A job: a machine, tools, a carrier full of parts, and cuts.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct JobFile {
    /// `lapidary/job`.
    pub format: String,
    /// Version of this format: 1.
    pub version: u32,
    /// Length unit of this file.
    pub units: Unit,
    /// Title shown in answers.
    pub title: String,
    /// Machine file, relative to this file. Either this or `machine`.
    pub machine_file: Option<PathBuf>,
    /// The machine, written here. Either this or `machine_file`.
    pub machine: Option<MachineFile>,
    /// Tool files, relative to this file.
    #[serde(default)]
    pub tool_files: Vec<PathBuf>,
    /// Tools written here; a number here replaces the same number of a file.
    #[serde(default)]
    pub tools: Vec<ToolFile>,
    /// Gaps asked for.
    #[serde(default)]
    pub wanted: WantedFile,
    /// How deep flutes may stand in the finished part before it is a gouge, beside the chord
    /// allowance (default 0.01 mm).
    pub gouge: Option<f64>,
    /// Angle at which the rotary stands before the first cut (default 0).
    #[serde(default)]
    pub start_index_deg: f64,
    /// Where axes stand during index moves of this job; replaces the machine's rule.
    #[serde(default)]
    pub index_pose: Vec<IndexPoseFile>,
    /// What carries the parts.
    pub carrier: CarrierFile,
    /// Parts with their states.
    pub parts: Vec<PartFile>,
    /// Clamps with their states.
    #[serde(default)]
    pub clamps: Vec<ClampFile>,
    /// Places on the carrier.
    pub seats: Vec<SeatFile>,
    /// Cuts, in the order in which they run. A job without cuts is good for other questions.
    #[serde(default)]
    pub cuts: Vec<CutFile>,
}

/// Gaps asked for: everywhere, and per element of the tool group.
#[derive(Debug, Clone, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WantedFile {
    /// At rest and along lines (default 2 mm).
    pub rest: Option<f64>,
    /// During index moves (default 5 mm).
    pub index: Option<f64>,
    /// For single elements: `flutes`, `shank`, `holder`, `nose`, `head`, and `work` (the work group
    /// against bed and base).
    #[serde(default)]
    pub elements: BTreeMap<String, WantedGapFile>,
}

/// Gaps asked for one element.
#[derive(Debug, Clone, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WantedGapFile {
    /// At rest and along lines.
    pub rest: Option<f64>,
    /// During index moves.
    pub index: Option<f64>,
}

/// Where one axis stands during index moves: give `at` or `rule`.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct IndexPoseFile {
    /// Axis letter.
    pub axis: String,
    /// A position.
    pub at: Option<f64>,
    /// A rule.
    pub rule: Option<IndexRule>,
}

/// The carrier. Its frame: z along the rotary direction, origin on the rotary axis at its foot.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CarrierFile {
    /// Name shown in answers.
    pub name: String,
    /// Its form.
    pub kind: CarrierKind,
    /// How many sides (column: 3 or more; plate: always 2).
    pub sides: Option<u32>,
    /// Distance between opposite flats; for an odd number of sides twice the distance from the
    /// axis to a flat. For a plate its thickness.
    pub across_flats: f64,
    /// Width of a plate.
    pub width: Option<f64>,
    /// Length of the column or plate along the rotary axis, without its base.
    pub length: f64,
    /// Diameter of a bore along the rotary axis (default: none).
    pub bore: Option<f64>,
    /// Flat taken off each long edge, measured along a side (default: none).
    pub edge_chamfer: Option<f64>,
    /// Height of the base under the column (default: none).
    pub base_height: Option<f64>,
    /// Diameter of the round base.
    pub base_diameter: Option<f64>,
    /// Strips along the middle of each side that parts stand on.
    pub pads: Option<PadFile>,
    /// The real body as an STL file in the carrier's frame; sides, flats and pads above then only
    /// say where the seats are.
    pub mesh: Option<CarrierMeshFile>,
    /// Distance of the foot from the rotary centre along the rotary direction (default 0).
    #[serde(default)]
    pub foot: f64,
    /// Machine direction that side 1 faces at index 0 (default: toward the spindle).
    pub side_1_faces: Option<[f64; 3]>,
    /// Which way side numbers run about the rotary direction (default: right-handed).
    #[serde(default)]
    pub side_order: SideOrder,
    /// Density in g/cm3.
    pub density: Option<f64>,
}

/// Forms of carrier.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum CarrierKind {
    /// A column with n equal sides.
    Column,
    /// A plate with two sides.
    Plate,
}

/// Which way side numbers run.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum SideOrder {
    /// Right-handed about the rotary direction.
    #[default]
    RightHanded,
    /// Left-handed about the rotary direction.
    LeftHanded,
}

/// Strips that parts stand on, along the whole column.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PadFile {
    /// Width across the side.
    pub width: f64,
    /// Thickness above the flat.
    pub thickness: f64,
}

/// A carrier mesh.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CarrierMeshFile {
    /// Path, relative to the job file.
    pub file: PathBuf,
    /// Unit of the STL numbers (default: the job's).
    pub mesh_units: Option<Unit>,
    /// Stated chord allowance; left out, it is estimated from the mesh.
    pub chord_allowance: Option<f64>,
    /// Where the mesh stands in the carrier's frame.
    #[serde(default)]
    pub place: PlacementFile,
}

/// A part with its states, in order.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PartFile {
    /// Name shown in answers.
    pub name: String,
    /// States in order: the first is what is loaded, the last is what is unloaded.
    pub states: Vec<StateFile>,
    /// Density in g/cm3.
    pub density: Option<f64>,
}

/// One state of a part or clamp: a mesh, or a stock allowance over the last state's box.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StateFile {
    /// Name of the state.
    pub name: String,
    /// STL file, relative to the job file.
    pub file: Option<PathBuf>,
    /// Unit of the STL numbers (default: the job's).
    pub mesh_units: Option<Unit>,
    /// Stated chord allowance; left out, it is estimated from the mesh.
    pub chord_allowance: Option<f64>,
    /// Where the mesh stands in part coordinates (default: as modelled).
    #[serde(default)]
    pub place: PlacementFile,
    /// Instead of a file: a block, the bounding box of the last state grown by these amounts.
    pub stock: Option<AllowanceFile>,
}

/// Stock on a finished part, per direction of the part's axes: `[below, above]`.
#[derive(Debug, Clone, Default, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields, default)]
pub struct AllowanceFile {
    /// At the low and the high x end.
    pub x: [f64; 2],
    /// At the low and the high y end.
    pub y: [f64; 2],
    /// At the low and the high z end.
    pub z: [f64; 2],
}

/// A clamp as it is set, in seat coordinates.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ClampFile {
    /// Name shown in answers.
    pub name: String,
    /// States; the first is the one that holds the part.
    pub states: Vec<StateFile>,
}

/// Seats of one part on one or more sides.
///
/// A seat's frame: z out of the side, y along the rotary direction, origin on the pad (or flat).
/// A place `[x, y]` has y from the carrier's foot and x across the side from its middle.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SeatFile {
    /// Name shown in answers.
    pub name: String,
    /// Part that stands there; left out for empty seats.
    pub part: Option<String>,
    /// Sides that have these seats, by the numbers stamped on them.
    pub sides: Vec<u32>,
    /// Single places `[x, y]`.
    #[serde(default)]
    pub at: Vec<[f64; 2]>,
    /// A grid of places.
    pub grid: Option<GridFile>,
    /// Height of the seat above the side's flat (default: the thickness of the pads).
    pub height: Option<f64>,
    /// Turn of the part about the seat's z axis, in degrees.
    #[serde(default)]
    pub lay_deg: f64,
    /// Where the part's origin stands in the seat (default: at the seat's origin).
    #[serde(default)]
    pub part_at: [f64; 3],
    /// Clamps that hold the part, by name; `name/state` for a state other than the first.
    #[serde(default)]
    pub clamps: Vec<String>,
    /// A left-hand seat. Meshes are never mirrored: say `false` and give left-hand meshes.
    #[serde(default)]
    pub mirrored: bool,
}

/// A grid of places on a side.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct GridFile {
    /// First place `[x, y]`.
    pub first: [f64; 2],
    /// Step across and along.
    pub pitch: [f64; 2],
    /// How many across and along.
    pub count: [u32; 2],
}
