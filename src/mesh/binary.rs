//! Binary STL: 80 bytes of header, a 32-bit count, 50 bytes a triangle, all little-endian.

use super::fault::{FaultKind, FaultLog, Place};
use super::weld::Welder;

const HEADER: usize = 80;
const PREFIX: usize = 84;
const RECORD: usize = 50;

/// Whether the count at byte 80 explains the size exactly.
pub(super) fn size_fits(bytes: &[u8]) -> bool {
    count(bytes).is_some_and(|count| needed(count) == bytes.len() as u64)
}

/// For a size that the count does not explain: whether to read on, and what is wrong.
///
/// # Guarantees
/// True only if every whole triangle that the count asks for is there.
pub(super) fn explain_size(bytes: &[u8], log: &mut FaultLog) -> bool {
    let Some(count) = count(bytes) else {
        let size = bytes.len();
        let (kind, message) = if is_text(bytes) {
            (
                FaultKind::NotStl,
                format!("{size} bytes of text that does not start with \"solid\""),
            )
        } else {
            (
                FaultKind::Truncated,
                format!("{size} bytes, but a binary header takes {PREFIX}"),
            )
        };
        log.add(kind, Place::Byte(0), || message);
        return false;
    };
    if needed(count) > bytes.len() as u64 {
        note_missing(bytes, count, log);
        return false;
    }
    let end = PREFIX + count as usize * RECORD;
    if solids_follow(&bytes[end..]) {
        log.add(
            FaultKind::SeveralBinarySolids,
            Place::Byte(end as u64),
            || format!("another binary solid starts after the first {count} triangles"),
        );
        return true;
    }
    note_surplus(bytes, count, end, log)
}

fn note_missing(bytes: &[u8], count: u32, log: &mut FaultLog) {
    let held = (bytes.len() - PREFIX) / RECORD;
    let left_over = (bytes.len() - PREFIX) % RECORD;
    if is_text(&bytes[..PREFIX]) || !records(bytes, held.min(16)).all(is_plausible) {
        log.add(FaultKind::NotStl, Place::Byte(0), || {
            "the bytes are neither ASCII STL (no \"solid\" at the start) nor binary STL (size and \
             count at byte 80 do not fit, and the numbers make no triangles)"
                .into()
        });
    } else if left_over == 0 && held > 0 && count > 100_000_000 {
        // Writers that never went back to fill in the count leave it at its greatest.
        log.add(FaultKind::CountMismatch, Place::Byte(HEADER as u64), || {
            format!("the count says {count} triangles, but the file holds exactly {held}")
        });
    } else {
        log.add(
            FaultKind::Truncated,
            Place::Byte(bytes.len() as u64),
            || {
                format!(
                    "the count says {count} triangles ({} bytes), but the file ends after {} bytes \
                 ({held} whole triangles)",
                    needed(count),
                    bytes.len()
                )
            },
        );
    }
}

/// Bytes after the last triangle: a warning, or an error if they may be triangles.
fn note_surplus(bytes: &[u8], count: u32, end: usize, log: &mut FaultLog) -> bool {
    let surplus = &bytes[end..];
    let empty = surplus.iter().all(|&byte| byte == 0);
    let whole = surplus.len().is_multiple_of(RECORD);
    let plausible = surplus.len() >= RECORD && is_triangle(&surplus[..RECORD]);
    if count == 0 && is_text(&bytes[..PREFIX.min(bytes.len())]) {
        log.add(FaultKind::NotStl, Place::Byte(0), || {
            "the text is not ASCII STL".into()
        });
        return false;
    }
    if !empty && (whole || plausible) {
        let held = (bytes.len() - PREFIX) / RECORD;
        log.add(FaultKind::CountMismatch, Place::Byte(HEADER as u64), || {
            format!("the count says {count} triangles, but the file has room for {held}")
        });
        return false;
    }
    log.add(FaultKind::TrailingBytes, Place::Byte(end as u64), || {
        format!(
            "{} bytes follow the last of {count} triangles",
            surplus.len()
        )
    });
    true
}

/// Reads all triangles; the size has been checked.
pub(super) fn read_binary(
    bytes: &[u8],
    mm_per_unit: f64,
    log: &mut FaultLog,
) -> (Welder, Vec<String>) {
    let mut rest = bytes;
    let mut solids = Vec::new();
    let mut welder = Welder::with_capacity(count(bytes).map_or(0, |count| count as usize));
    while let Some(count) = count(rest) {
        let end = PREFIX + count as usize * RECORD;
        // After the first solid come others to the last byte, or bytes that count for nothing.
        if solids.len() == 1 && !solids_follow(rest) {
            break;
        }
        solids.push(header_text(&rest[..HEADER]));
        for record in rest[PREFIX..end].chunks_exact(RECORD) {
            let number = u64::from(welder.seen()) + 1;
            let corners_mm = corners(record).map(|p| p.map(|x| f64::from(x) * mm_per_unit));
            welder.add(corners_mm, log, || Place::Triangle(number));
        }
        rest = &rest[end..];
    }
    (welder, solids)
}

/// Whether the bytes are one or more whole binary solids, to the last byte.
fn solids_follow(mut bytes: &[u8]) -> bool {
    if bytes.is_empty() {
        return false;
    }
    while !bytes.is_empty() {
        match count(bytes) {
            Some(count) if count > 0 && needed(count) <= bytes.len() as u64 => {
                bytes = &bytes[PREFIX + count as usize * RECORD..];
            }
            _ => return false,
        }
    }
    true
}

fn count(bytes: &[u8]) -> Option<u32> {
    let field = bytes.get(HEADER..PREFIX)?;
    Some(u32::from_le_bytes([field[0], field[1], field[2], field[3]]))
}

fn needed(count: u32) -> u64 {
    PREFIX as u64 + RECORD as u64 * u64::from(count)
}

fn records(bytes: &[u8], most: usize) -> impl Iterator<Item = &[u8]> {
    bytes[PREFIX..].chunks_exact(RECORD).take(most)
}

fn float(record: &[u8], at: usize) -> f32 {
    f32::from_le_bytes([record[at], record[at + 1], record[at + 2], record[at + 3]])
}

fn corners(record: &[u8]) -> [[f32; 3]; 3] {
    [12, 24, 36].map(|at| {
        [
            float(record, at),
            float(record, at + 4),
            float(record, at + 8),
        ]
    })
}

/// Whether a record may be a triangle: no coordinate beyond what any file would hold.
fn is_plausible(record: &[u8]) -> bool {
    // Random bits exceed 1e9 or fall below 1e-9 (but are not zero) with chance 0.75 each.
    corners(record).iter().flatten().all(|x| {
        let size = x.abs();
        size == 0.0 || !x.is_finite() || (1.0e-9..1.0e9).contains(&size)
    })
}

/// Whether a record surely looks like a triangle: plausible corners, and a normal of length 1.
fn is_triangle(record: &[u8]) -> bool {
    let length = float(record, 0)
        .hypot(float(record, 4))
        .hypot(float(record, 8));
    is_plausible(record) && (length - 1.0).abs() < 0.01
}

fn is_text(bytes: &[u8]) -> bool {
    bytes
        .iter()
        .all(|&byte| byte >= 0x20 || byte.is_ascii_whitespace())
}

/// The header up to its first zero byte, without control characters.
fn header_text(header: &[u8]) -> String {
    let end = header.iter().position(|&byte| byte == 0).unwrap_or(HEADER);
    super::ascii::decode(&header[..end])
}
