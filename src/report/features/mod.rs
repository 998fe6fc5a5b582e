//! The faces and features of a mesh as text, JSON, and snippets for a job file.
//!
//! - [`text`]: 80 columns for a person; `words`: one feature or face in words
//! - [`json`]: the same values for a program, with its schema; `rows`: its keys
//! - [`snippet`]: features as a cut of a job has them

pub mod json;
mod rows;
pub mod snippet;
pub mod text;
mod words;

pub use json::{features_json, features_schema};
pub use snippet::features_toml;
pub use text::features_text;

use crate::mesh::Mesh;
use crate::mesh::faces::Faces;
use crate::mesh::features::Feature;

/// A mesh with what was found in it.
#[derive(Debug, Clone, Copy)]
pub struct FeaturesReport<'a> {
    /// The file as it was named.
    pub file: &'a str,
    /// The mesh.
    pub mesh: &'a Mesh,
    /// Its faces.
    pub faces: &'a Faces,
    /// Its features.
    pub features: &'a [Feature],
    /// What the file was warned about.
    pub warnings: &'a [String],
}

/// Kinds of faces in the order in which they are told.
const KINDS: [&str; 6] = ["flat", "cylinder", "cone", "torus", "sphere", "other"];

impl FeaturesReport<'_> {
    /// Count and area of the faces of each of [`KINDS`], and the whole area.
    fn totals(&self) -> ([(usize, f64); 6], f64) {
        let of_kind = |kind: &str| {
            let faces = self
                .faces
                .faces
                .iter()
                .filter(|face| face.form.kind() == kind);
            faces.fold((0, 0.0), |(count, area), face| {
                (count + 1, area + face.area_mm2)
            })
        };
        let totals = KINDS.map(of_kind);
        (totals, totals.iter().map(|(_, area)| area).sum())
    }
}
