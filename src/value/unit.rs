//! Length units of files. Inside the program every length is in millimetres.

use serde::{Deserialize, Serialize};

/// The length unit of a file; converted to millimetres once, when the file is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize, schemars::JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Unit {
    /// Millimetre.
    Mm,
    /// International inch, 25.4 mm exactly (ISO 80000-3, from memory).
    Inch,
}

impl Unit {
    /// Millimetres in one of this unit.
    #[must_use]
    pub const fn mm(self) -> f64 {
        match self {
            Self::Mm => 1.0,
            Self::Inch => 25.4,
        }
    }
}
