//! Tool files. Keys in capitals are the property codes of ISO 13399 (from memory).

use super::machine::PlacementFile;
use crate::value::Unit;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::path::PathBuf;

/// A drawer of tools.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ToolsFile {
    /// `lapidary/tools`.
    pub format: String,
    /// Version of this format: 1.
    pub version: u32,
    /// Length unit of this file.
    pub units: Unit,
    /// The tools.
    pub tools: Vec<ToolFile>,
}

/// A tool as it is set: cutter, holder, stick-out and gauge length.
///
/// Heights count from the tip toward the spindle. Flutes reach from the tip to APMX (drills and
/// taps: to LU), the neck from there to LU, the shank from there to the holder face.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[allow(non_snake_case, reason = "ISO 13399 codes are written in capitals")]
pub struct ToolFile {
    /// Pocket number.
    pub number: u32,
    /// Name shown in answers.
    pub name: String,
    /// Kind of cutter.
    pub kind: ToolKind,
    /// Cutting diameter.
    pub DC: f64,
    /// Greatest depth of cut: length of the cutting edges along the axis.
    pub APMX: Option<f64>,
    /// Usable length: how deep the cutter may go before its shank begins.
    pub LU: Option<f64>,
    /// Functional length: gauge line to the reference point (gauge length). Give this or
    /// `stick_out`; the other follows from the holder. Where both are given they must agree.
    pub LF: Option<f64>,
    /// Overall length of the cutter alone, shank included.
    pub OAL: Option<f64>,
    /// Shank diameter (default: DC).
    pub DMM: Option<f64>,
    /// Neck or body diameter between the edges and LU (default: the smaller of DC and DMM).
    pub BD: Option<f64>,
    /// Point angle in degrees (drills 118 unless given; chamfer mills: included angle).
    pub SIG: Option<f64>,
    /// Corner radius.
    pub RE: Option<f64>,
    /// Cutting width of a groove mill (default: APMX).
    pub CW: Option<f64>,
    /// Thread pitch of a tap.
    pub TP: Option<f64>,
    /// Diameter at the tip of a chamfer mill (default 0).
    pub tip_diameter: Option<f64>,
    /// Chamfered lead of a tap along its axis (default: three pitches; common practice, no source).
    pub tap_lead: Option<f64>,
    /// Whether it can plunge straight down (default: drills, taps and mills other than face mills
    /// and groove mills).
    pub plunges: Option<bool>,
    /// Point that the depth refers to (default: the tip).
    #[serde(default)]
    pub reference: Reference,
    /// Holder face to tip.
    pub stick_out: Option<f64>,
    /// Steps and cones of the holder, from its face at the cutter up to the gauge line.
    #[serde(default)]
    pub holder: Vec<HolderStepFile>,
    /// Holder as an STL file instead (its outer envelope of revolution about z is taken); z up
    /// from the holder face. What goes on above the gauge line is left out.
    pub holder_mesh: Option<HolderMeshFile>,
    /// Shortest grip of the shank in the holder (default 2.5 x DMM; common practice, no source).
    /// 0: the cutter is screwed on, and its length cannot be set.
    pub grip: Option<f64>,
    /// Clamping length maximum: how deep the shank goes into the bore or collet of the holder, with its stop screw
    /// taken out. With OAL it bounds how short the tool can be set.
    pub LSCX: Option<f64>,
}

/// Kinds of cutter.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum ToolKind {
    /// Twist drill, spot drill.
    Drill,
    /// Flat end mill.
    EndMill,
    /// Ball end mill.
    BallMill,
    /// End mill with a corner radius RE.
    CornerRadiusMill,
    /// Face mill.
    FaceMill,
    /// Tap.
    Tap,
    /// Chamfer mill.
    ChamferMill,
    /// Groove mill: a thin disc or a narrow end mill of width CW.
    GrooveMill,
}

/// Point of the tool that depths and paths refer to.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Reference {
    /// Lowest point on the axis.
    #[default]
    Tip,
    /// Centre of the ball or of the corner radius, on the axis.
    Centre,
}

/// One step (or cone) of a holder.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HolderStepFile {
    /// Diameter at the end nearer the tip.
    pub diameter: f64,
    /// Diameter at the end nearer the spindle (default: the same).
    pub diameter_top: Option<f64>,
    /// Height of the step along the axis.
    pub height: f64,
}

/// A holder mesh.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HolderMeshFile {
    /// Path, relative to the file that names it.
    pub file: PathBuf,
    /// Unit of the STL numbers (default: the unit of the naming file).
    pub mesh_units: Option<Unit>,
    /// Stated chord allowance; left out, it is estimated from the mesh.
    pub chord_allowance: Option<f64>,
    /// Where the mesh stands in the frame of the holder face.
    #[serde(default)]
    pub place: PlacementFile,
}
