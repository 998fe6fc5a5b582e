//! Job, machine and tool files to a checked [`model::Setup`], with every fault found in one pass.
//!
//! [`load()`] reads the job and what it names: `document` takes TOML apart and remembers
//! lines, `structure` holds it against the `schema`, `assemble` turns the file structures (`file`)
//! into the model (`model`). Each kind of thing has a file: `machine` and `bodies`, `tool` with
//! `tool_form` and `holder`, `carrier`, `parts`, `seats`, `cuts` and `feature`, `wanted`; `found` and `from_mesh`
//! (a cut that names a feature of its part's mesh). Beside
//! them: `spot` (a place in a file and the checks of numbers), `meshes` (each file once), `paths`,
//! `nearest` (names that may have been meant), `profile` (convex pieces of a turned body).
//!
//! No file is opened here: bytes come from a [`Source`].

mod assemble;
mod bodies;
mod carrier;
mod cuts;
mod document;
pub mod fault;
mod feature;
pub mod file;
mod found;
mod from_mesh;
mod holder;
mod load;
mod machine;
mod meshes;
pub mod model;
mod nearest;
mod parts;
mod paths;
mod profile;
mod schema;
mod seats;
mod spot;
mod structure;
mod tool;
pub mod tool_form;
mod wanted;

#[cfg(test)]
mod tests;

pub use fault::{FileFault, SetupFaults, Severity};
pub use from_mesh::{WrittenFeature, written_feature};
pub use load::{Loaded, Source, SourceFile, load};
pub use schema::{FORMAT_VERSION, SchemaKind, schema};
pub use tool::stand_out;
