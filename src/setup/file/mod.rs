//! What stands in the files, as written: the one home of keys, units and the JSON Schema.
//!
//! Lengths are in the file's `units`; nothing here has been checked beyond its type.

pub mod cut;
pub mod job;
pub mod machine;
pub mod tool;

pub use cut::{CutFile, DepthTo, Direction, FeatureFile, MoveFile, OpenSide, PathSide};
pub use job::{
    AllowanceFile, CarrierFile, CarrierKind, CarrierMeshFile, ClampFile, GridFile, IndexPoseFile,
    JobFile, PadFile, PartFile, SeatFile, SideOrder, StateFile, WantedFile, WantedGapFile,
};
pub use machine::{
    AxisFile, BodyFile, BodyGroup, ContactFile, IndexRule, MachineFile, Mover, PlacementFile,
    RotaryFile, Sense, ShapeFile, Way,
};
pub use tool::{HolderMeshFile, HolderStepFile, Reference, ToolFile, ToolKind, ToolsFile};
