//! Entry of the STL reader: tells binary from ASCII, reads, welds, finds shells.

use super::ascii::read_ascii;
use super::binary::{self, read_binary};
use super::build::assemble;
use super::crossings::{Crossings, crossings};
use super::fault::{FaultKind, FaultLog, MeshFault, MeshFaults, Place};
use super::weld::Welder;
use super::{Chord, Mesh};

/// How to read a mesh file. There is no default: an STL file has no unit, so the job says it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReadOptions {
    /// Millimetres in one unit of the file (1, or 25.4 for inches).
    pub mm_per_unit: f64,
    /// The chord allowance, where it is known; otherwise it is estimated.
    pub chord_allowance_mm: Option<f64>,
    /// Files with more bytes are refused before anything is read.
    pub largest_bytes: u64,
}

impl ReadOptions {
    /// Options for a unit: chord allowance estimated, up to 2 GiB (43 million binary triangles).
    #[must_use]
    pub const fn new(mm_per_unit: f64) -> Self {
        Self {
            mm_per_unit,
            chord_allowance_mm: None,
            largest_bytes: 1 << 31,
        }
    }
}

/// The two encodings of STL.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StlFormat {
    /// 80 bytes of header, a count, 50 bytes a triangle.
    Binary,
    /// Text with keywords.
    Ascii,
}

/// A mesh that was read, with what is worth knowing about it.
#[derive(Debug, Clone)]
pub struct ReadMesh {
    /// The mesh, in millimetres.
    pub mesh: Mesh,
    /// Warnings.
    pub faults: Vec<MeshFault>,
    /// Name of each solid in the file, in order; the header text for binary. May be empty text.
    pub solids: Vec<String>,
    /// The encoding found.
    pub format: StlFormat,
}

/// Largest number of triangles: half-edges are numbered in 32 bits with one for direction.
pub(super) const MOST_TRIANGLES: u64 = 500_000_000;

/// Reads an STL file, binary or ASCII, from its bytes.
///
/// All solids of the file become one mesh. The stored normals are ignored: the order of the
/// corners counts.
///
/// # Guarantees
/// Never panics on any bytes. The size is checked before memory is reserved. A file of which
/// part is missing gives an error, never a smaller mesh; the one exception that no reader can
/// see is ASCII text cut exactly between two solids.
///
/// # Errors
/// All faults found, in one value: see [`FaultKind`].
///
/// # Source
/// The format as commonly described (3D Systems, 1989; from memory). That the size decides before
/// the first word does is our own rule: many binary files start with "solid".
pub fn read_stl(bytes: &[u8], options: &ReadOptions) -> Result<ReadMesh, MeshFaults> {
    let mut log = FaultLog::default();
    check_options(bytes, options, &mut log);
    if log.has_error() {
        return Err(log.into_error());
    }
    let (format, welder, solids) = match sniff(bytes, &mut log) {
        Some(StlFormat::Binary) => {
            let (welder, solids) = read_binary(bytes, options.mm_per_unit, &mut log);
            (StlFormat::Binary, welder, solids)
        }
        Some(StlFormat::Ascii) => {
            let (welder, solids) = read_ascii(bytes, options.mm_per_unit, &mut log);
            (StlFormat::Ascii, welder, solids)
        }
        None => return Err(log.into_error()),
    };
    let chord = options
        .chord_allowance_mm
        .map_or(Chord::Estimated, Chord::Stated);
    match finish(welder, chord, &mut log) {
        Some((mut mesh, at_edges)) => {
            let crossings = crossings(&mesh).and(at_edges);
            crossings.note(&mut log);
            mesh.crossings = Some(crossings);
            Ok(ReadMesh {
                mesh,
                faults: log.into_faults(),
                solids,
                format,
            })
        }
        None => Err(log.into_error()),
    }
}

/// Shells and chord allowance, unless something was wrong before; with edges at which bodies overlap.
pub(super) fn finish(
    welder: Welder,
    chord: Chord,
    log: &mut FaultLog,
) -> Option<(Mesh, Crossings)> {
    if welder.seen() == 0 && !log.has_error() {
        log.add(FaultKind::ZeroTriangles, Place::File, || {
            "there are no triangles".into()
        });
    }
    let soup = welder.finish(log);
    if log.has_error() {
        return None;
    }
    assemble(soup, chord, log)
}

fn check_options(bytes: &[u8], options: &ReadOptions, log: &mut FaultLog) {
    let unit = options.mm_per_unit;
    if !(unit.is_finite() && unit > 0.0) {
        log.add(FaultKind::BadOption, Place::File, || {
            format!("the unit factor is {unit}; it must be positive and finite")
        });
    }
    if let Some(allowance_mm) = options.chord_allowance_mm {
        check_allowance(allowance_mm, log);
    }
    let size = bytes.len() as u64;
    if size == 0 {
        log.add(FaultKind::EmptyFile, Place::File, || {
            "the file is empty".into()
        });
    }
    if size > options.largest_bytes {
        log.add(FaultKind::TooLarge, Place::File, || {
            format!(
                "the file has {size} bytes, more than the {} allowed",
                options.largest_bytes
            )
        });
    }
    // An ASCII triangle takes more bytes than a binary one, so this bounds both.
    if size / 50 > MOST_TRIANGLES {
        log.add(FaultKind::TooLarge, Place::File, || {
            format!("the file has {size} bytes, room for more than {MOST_TRIANGLES} triangles")
        });
    }
}

/// Notes an allowance that is negative or not finite.
pub(super) fn check_allowance(allowance_mm: f64, log: &mut FaultLog) {
    if !(allowance_mm.is_finite() && allowance_mm >= 0.0) {
        log.add(FaultKind::BadOption, Place::File, || {
            format!("the chord allowance is {allowance_mm}; it must be zero or positive")
        });
    }
}

/// Tells the encoding: by size first, then by the first word.
fn sniff(bytes: &[u8], log: &mut FaultLog) -> Option<StlFormat> {
    if binary::size_fits(bytes) {
        return Some(StlFormat::Binary);
    }
    if bytes.starts_with(&[0xFF, 0xFE]) || bytes.starts_with(&[0xFE, 0xFF]) {
        log.add(FaultKind::NotStl, Place::Byte(0), || {
            "the file is UTF-16 text; ASCII STL is one byte a character".into()
        });
        return None;
    }
    // A cut binary file whose header starts with "solid" has zero bytes near its count.
    let looks_like_text = starts_with_solid(bytes) && !bytes[..bytes.len().min(512)].contains(&0);
    if looks_like_text {
        return Some(StlFormat::Ascii);
    }
    binary::explain_size(bytes, log).then_some(StlFormat::Binary)
}

fn starts_with_solid(bytes: &[u8]) -> bool {
    let text = bytes
        .strip_prefix(b"\xEF\xBB\xBF")
        .unwrap_or(bytes)
        .trim_ascii_start();
    text.len() >= 5 && text[..5].eq_ignore_ascii_case(b"solid")
}
