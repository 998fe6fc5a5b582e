//! Machine files: axes, rotary, spindle and the bodies that do not turn.

use crate::value::Unit;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use std::path::PathBuf;

/// A machining centre: three linear axes, one rotary that carries the work, and its bodies.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MachineFile {
    /// `lapidary/machine`; left out where the machine stands inside a job.
    pub format: Option<String>,
    /// Version of this format: 1.
    pub version: Option<u32>,
    /// Length unit of this file; inside a job, the job's.
    pub units: Option<Unit>,
    /// Name shown in answers.
    pub name: String,
    /// Direction from the tool tip to the spindle, in machine coordinates (default Z).
    #[serde(default = "z_axis")]
    pub spindle: [f64; 3],
    /// Where the spindle axis meets the gauge line with every linear axis at zero. Origin: the
    /// machine frame, which the rotary centre and the bed bodies share.
    pub gauge_point: [f64; 3],
    /// The three linear axes.
    pub axes: Vec<AxisFile>,
    /// The rotary axis that carries the work.
    pub rotary: RotaryFile,
    /// Nose, head, bed and base bodies.
    #[serde(default)]
    pub bodies: Vec<BodyFile>,
    /// Pairs of bodies that touch on purpose, each with the region where they may.
    #[serde(default)]
    pub contacts: Vec<ContactFile>,
}

fn z_axis() -> [f64; 3] {
    [0.0, 0.0, 1.0]
}

/// A linear axis. A positive move takes the tool along `direction` as seen from the work
/// (ISO 841), whether the tool moves or the work.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AxisFile {
    /// Axis letter.
    pub name: String,
    /// Direction of positive travel of the tool relative to the work.
    pub direction: [f64; 3],
    /// Lowest and highest position.
    pub limits: [f64; 2],
    /// Which side of the machine this axis moves.
    pub moves: Mover,
    /// Home position (default: zero).
    #[serde(default)]
    pub home: f64,
    /// Position for tool change (default: home).
    pub tool_change: Option<f64>,
    /// Where the axis stands during index moves, when it is one position.
    pub index_at: Option<f64>,
    /// Where the axis stands during index moves, when it is a rule (default: home).
    pub index_rule: Option<IndexRule>,
}

/// Which side of the machine an axis moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Mover {
    /// The axis carries the spindle.
    Tool,
    /// The axis carries the table with the rotary.
    Work,
}

/// Where a linear axis stands while the rotary turns.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum IndexRule {
    /// At its home position.
    Home,
    /// Where the last cut left it.
    AsLeft,
}

/// The rotary axis.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct RotaryFile {
    /// Axis letter.
    pub name: String,
    /// Direction about which the angle counts, in machine coordinates.
    pub direction: [f64; 3],
    /// A point on the rotary axis, in machine coordinates with every linear axis at zero.
    pub centre: [f64; 3],
    /// Which way the work turns for a positive angle. There is no default: without it every
    /// index answer is `unknown`.
    pub sense: Option<Sense>,
    /// Indexing step in degrees; left out for a rotary that stops anywhere.
    pub step_deg: Option<f64>,
    /// Lowest and highest angle in degrees; left out where it turns without end.
    pub limits_deg: Option<[f64; 2]>,
    /// Which way round an index move goes; left out, both ways are checked.
    pub way: Option<Way>,
    /// Largest radius that the machine lets the work sweep about the rotary axis.
    pub swing_radius: Option<f64>,
}

/// What a positive rotary angle does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Sense {
    /// As ISO 841 has it: the tool turns right-handed about the direction as seen from the work,
    /// so the work itself turns left-handed.
    #[serde(rename = "iso-841")]
    Iso841,
    /// The work itself turns right-handed about the direction.
    Reversed,
}

/// Which way round the rotary goes to its next index.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Way {
    /// The shorter way; half a turn may go either way, and both are checked.
    Shortest,
    /// Straight from number to number, without rollover.
    Signed,
    /// Always in the positive direction.
    Positive,
    /// Always in the negative direction.
    Negative,
}

/// A body of the machine.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BodyFile {
    /// Name shown in answers.
    pub name: String,
    /// What it belongs to. `nose` and `head` stand in the spindle frame: origin at the gauge
    /// point, +z away from the tool tip, x as near to machine X as it can be (to machine Y where
    /// the spindle lies along X). `bed` and `base` stand in machine coordinates.
    pub group: BodyGroup,
    /// Its form.
    pub shape: ShapeFile,
}

/// What a machine body belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum BodyGroup {
    /// Spindle nose.
    Nose,
    /// Spindle head, with all that moves with it.
    Head,
    /// Stands on the table and does not turn.
    Bed,
    /// Fixed to the machine.
    Base,
}

/// The form of a body.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "kind", rename_all = "kebab-case", deny_unknown_fields)]
pub enum ShapeFile {
    /// An upright box between two corners.
    Box {
        /// One corner.
        from: [f64; 3],
        /// The opposite corner.
        to: [f64; 3],
    },
    /// A round bar between the centres of its two ends.
    Cylinder {
        /// Centre of one end.
        from: [f64; 3],
        /// Centre of the other end.
        to: [f64; 3],
        /// Diameter.
        diameter: f64,
    },
    /// A solid of revolution: `[radius, height]` points along its axis, heights not falling.
    Profile {
        /// `[radius, height]` points; a step has two points of one height.
        points: Vec<[f64; 2]>,
        /// Where height zero stands.
        #[serde(default)]
        at: [f64; 3],
        /// Direction of growing height (default Z).
        #[serde(default = "z_axis")]
        axis: [f64; 3],
    },
    /// An STL file.
    Mesh {
        /// Path, relative to the file that names it.
        file: PathBuf,
        /// Unit of the STL numbers (default: the unit of the naming file).
        mesh_units: Option<Unit>,
        /// Stated chord allowance; left out, it is estimated from the mesh.
        chord_allowance: Option<f64>,
        /// Where the mesh stands (default: as modelled).
        #[serde(default)]
        place: PlacementFile,
    },
}

/// Where a mesh stands: its origin, and the directions of its x and z axes.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PlacementFile {
    /// Position of the mesh origin.
    #[serde(default)]
    pub at: [f64; 3],
    /// Direction of the mesh x axis.
    #[serde(default = "x_axis")]
    pub x: [f64; 3],
    /// Direction of the mesh z axis.
    #[serde(default = "z_axis")]
    pub z: [f64; 3],
}

impl Default for PlacementFile {
    fn default() -> Self {
        Self {
            at: [0.0; 3],
            x: x_axis(),
            z: z_axis(),
        }
    }
}

fn x_axis() -> [f64; 3] {
    [1.0, 0.0, 0.0]
}

/// A contact that is meant: a body of the work group on a bed body, within a cylinder about the
/// rotary axis.
#[derive(Debug, Clone, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ContactFile {
    /// Name shown in answers.
    pub name: String,
    /// Body of the work group: `carrier`.
    pub work: String,
    /// Body of the bed group.
    pub bed: String,
    /// Radius of the region about the rotary axis.
    pub radius: f64,
    /// Where the region begins and ends along the rotary direction, from the rotary centre.
    pub along: [f64; 2],
}
