//! What can be wrong with a mesh: kind, place, what it means for the answer, what to do.

use std::collections::BTreeMap;
use std::fmt;

/// How many faults of one kind are listed one by one; the rest is only counted.
///
/// A broken file of a million triangles would otherwise bury the first line that helps.
pub const LISTED_PER_KIND: u64 = 5;

/// Every way in which a mesh file or a triangle list can be bad.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FaultKind {
    /// The options make no sense (unit factor or allowance).
    BadOption,
    /// There are no bytes at all.
    EmptyFile,
    /// More bytes or triangles than allowed.
    TooLarge,
    /// The bytes are not STL.
    NotStl,
    /// The file ends too early.
    Truncated,
    /// The triangle count of a binary file does not fit its size.
    CountMismatch,
    /// No triangle is left.
    ZeroTriangles,
    /// An ASCII file breaks the grammar.
    BadSyntax,
    /// A coordinate is not a number.
    BadNumber,
    /// A coordinate is written with a decimal comma.
    CommaDecimal,
    /// A coordinate is infinite or NaN.
    NonFinite,
    /// A coordinate is farther than [`super::FARTHEST_MM`] from the origin.
    TooFar,
    /// A triangle names a vertex that does not exist.
    BadIndex,
    /// Bytes or text follow the last triangle.
    TrailingBytes,
    /// A binary file holds several solids, one after the other.
    SeveralBinarySolids,
    /// Coordinates so far out that single precision is coarse.
    CoarseCoordinates,
    /// A triangle without area was dropped.
    ZeroArea,
    /// A triangle is listed twice; one was dropped.
    DuplicateTriangle,
    /// Two triangles lie on each other, back to back.
    BackToBack,
    /// A shell has edges with only one triangle.
    OpenEdges,
    /// A shell has edges shared by more than two triangles.
    CrowdedEdges,
    /// Neighbours in a shell are turned against each other.
    MixedOrientation,
    /// A closed shell is inside out and is no cavity.
    InsideOut,
    /// The surface crosses itself, or bodies of one mesh overlap.
    Crossings,
    /// The estimated chord allowance is large.
    LargeChordAllowance,
    /// The size suggests another length unit.
    ProbableUnit,
}

/// Whether a fault stops the mesh from being used.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// There is no mesh.
    Error,
    /// There is a mesh, with a limit on what can be said about it.
    Warning,
}

/// Where a fault is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Place {
    /// The whole file or mesh.
    File,
    /// A byte offset, counted from 0.
    Byte(u64),
    /// A line, counted from 1.
    Line(u64),
    /// A triangle in the order of the file, counted from 1.
    Triangle(u64),
    /// A shell, counted from 1: its index in [`super::Mesh::shells`] plus one.
    Shell(u64),
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::File => write!(f, "whole file"),
            Self::Byte(offset) => write!(f, "byte {offset}"),
            Self::Line(line) => write!(f, "line {line}"),
            Self::Triangle(number) => write!(f, "triangle {number}"),
            Self::Shell(number) => write!(f, "shell {number}"),
        }
    }
}

/// One fault, with its place, its meaning and its remedy.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MeshFault {
    /// What kind of fault.
    pub kind: FaultKind,
    /// Whether it stops the mesh from being used.
    pub severity: Severity,
    /// Where it is.
    pub place: Place,
    /// What is wrong, with the values found.
    pub message: String,
    /// What it means for the answer.
    pub means: &'static str,
    /// What to do about it.
    pub remedy: &'static str,
    /// How many further faults of this kind were found but not listed (on the last one listed).
    pub further: u64,
}

impl MeshFault {
    /// A fault of a kind at a place; severity, meaning and remedy follow from the kind.
    #[must_use]
    pub fn new(kind: FaultKind, place: Place, message: String) -> Self {
        let (means, remedy) = kind.means_and_remedy();
        Self {
            kind,
            severity: kind.severity(),
            place,
            message,
            means,
            remedy,
            further: 0,
        }
    }
}

impl fmt::Display for MeshFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let severity = match self.severity {
            Severity::Error => "error",
            Severity::Warning => "warning",
        };
        write!(f, "{severity}, {}: {}", self.place, self.message)?;
        if self.further > 0 {
            write!(f, " (and {} more of this kind)", self.further)?;
        }
        write!(f, "; {}; {}", self.means, self.remedy)
    }
}

/// All faults of a mesh that cannot be used: errors first, then the warnings found on the way.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}", self.lines())]
pub struct MeshFaults {
    /// At least one of them is an error.
    pub faults: Vec<MeshFault>,
}

impl MeshFaults {
    /// Whether a fault of this kind is among them.
    #[must_use]
    pub fn has(&self, kind: FaultKind) -> bool {
        self.faults.iter().any(|fault| fault.kind == kind)
    }

    fn lines(&self) -> String {
        self.faults
            .iter()
            .map(ToString::to_string)
            .collect::<Vec<_>>()
            .join("\n")
    }
}

/// Collects faults; lists the first of each kind and counts the rest.
#[derive(Debug, Default)]
pub(super) struct FaultLog {
    faults: Vec<MeshFault>,
    count_of_kind: BTreeMap<FaultKind, u64>,
    has_error: bool,
}

impl FaultLog {
    /// Notes a fault; the message is only made when it will be listed.
    pub(super) fn add(&mut self, kind: FaultKind, place: Place, message: impl FnOnce() -> String) {
        self.has_error |= kind.severity() == Severity::Error;
        let count = self.count_of_kind.entry(kind).or_insert(0);
        *count += 1;
        if *count <= LISTED_PER_KIND {
            self.faults.push(MeshFault::new(kind, place, message()));
        }
    }

    /// Whether an error was noted.
    pub(super) fn has_error(&self) -> bool {
        self.has_error
    }

    /// All faults listed, errors first, each kind's last one with the count of those not listed.
    pub(super) fn into_faults(mut self) -> Vec<MeshFault> {
        for (kind, count) in &self.count_of_kind {
            if let Some(last) = self.faults.iter_mut().rfind(|fault| fault.kind == *kind) {
                last.further = count.saturating_sub(LISTED_PER_KIND);
            }
        }
        self.faults.sort_by_key(|fault| fault.severity);
        self.faults
    }

    /// The error value, once something has gone wrong.
    pub(super) fn into_error(self) -> MeshFaults {
        debug_assert!(self.has_error, "an error value needs an error in it");
        MeshFaults {
            faults: self.into_faults(),
        }
    }
}

impl FaultKind {
    /// Whether a fault of this kind stops the mesh from being used.
    #[must_use]
    pub const fn severity(self) -> Severity {
        match self {
            Self::BadOption
            | Self::EmptyFile
            | Self::TooLarge
            | Self::NotStl
            | Self::Truncated
            | Self::CountMismatch
            | Self::ZeroTriangles
            | Self::BadSyntax
            | Self::BadNumber
            | Self::CommaDecimal
            | Self::NonFinite
            | Self::TooFar
            | Self::BadIndex => Severity::Error,
            _ => Severity::Warning,
        }
    }

    /// What a fault of this kind means for the answer, and what to do about it.
    const fn means_and_remedy(self) -> (&'static str, &'static str) {
        match self {
            Self::BadOption => (
                "nothing was read",
                "correct the unit factor or the allowance",
            ),
            Self::EmptyFile => ("there is no body to check", "export the file again"),
            Self::TooLarge => ("nothing was read", "export coarser or split the body"),
            Self::NotStl => ("nothing was read", "export as binary or ASCII STL"),
            Self::Truncated => (
                "part of the body is missing, so no gap could be trusted",
                "copy or export again",
            ),
            Self::CountMismatch => (
                "it is not known how many triangles belong to the body",
                "export the file again, or mend its count",
            ),
            Self::ZeroTriangles => ("there is no body to check", "export a body, not a sketch"),
            Self::BadSyntax => (
                "part of the body could not be read",
                "export the file again",
            ),
            Self::BadNumber => ("a corner of the body is not known", "export the file again"),
            Self::CommaDecimal => (
                "numbers cannot be told apart for certain",
                "export with decimal points, or as binary STL",
            ),
            Self::NonFinite => (
                "a corner of the body is not known",
                "repair the model, export again",
            ),
            Self::TooFar => (
                "no machine is that large: unit or origin is wrong",
                "check the unit, move the body near its origin",
            ),
            Self::BadIndex => (
                "a triangle of the body is not known",
                "mend the triangle list",
            ),
            Self::TrailingBytes => ("they were ignored", "export again if geometry is missing"),
            Self::SeveralBinarySolids => ("all of them were read as one body", "nothing, if meant"),
            Self::CoarseCoordinates => (
                "single precision steps by 0.002 mm or more there, and gaps with it",
                "move the body near its origin before export",
            ),
            _ => self.means_and_remedy_of_shape(),
        }
    }

    /// The same for faults in the shape of a mesh that can be used.
    const fn means_and_remedy_of_shape(self) -> (&'static str, &'static str) {
        match self {
            Self::ZeroArea => ("it was dropped: it has no surface to touch", "nothing"),
            Self::DuplicateTriangle => (
                "one of the two was dropped; distances do not change",
                "nothing",
            ),
            Self::BackToBack => (
                "distances are right; the inside of the body may be uncertain (`unknown`)",
                "join touching bodies, or remove the sheet of no thickness",
            ),
            Self::OpenEdges => (
                "distances are right, but inside and outside are not certain: `unknown` may follow",
                "close the surface in the model and export again",
            ),
            Self::CrowdedEdges => (
                "distances are right; the inside of the body may be uncertain (`unknown`)",
                "join the bodies that touch along the edge, or separate them",
            ),
            Self::MixedOrientation => (
                "distances are right, but inside and outside are not certain: `unknown` may follow",
                "make the surface normals consistent and export again",
            ),
            Self::InsideOut => (
                "its inside counts as outside: a body within it may give `unknown`",
                "flip its surface normals; if the body was mirrored, export it unmirrored",
            ),
            Self::Crossings => (
                "distances are those to the surface as it is; inside is what a shell winds round, each \
                 for itself, and what a shell wraps once each way is not",
                "join the bodies that overlap, or mend the surface, and export again",
            ),
            Self::LargeChordAllowance => (
                "every gap of this body is reduced by it",
                "export finer, or state the chord allowance if these facets are truly flat",
            ),
            Self::ProbableUnit => (
                "if so, every gap of this body is wrong",
                "state the unit of this file, or correct the expected size",
            ),
            _ => ("the answer may be limited", "export the file again"),
        }
    }
}
