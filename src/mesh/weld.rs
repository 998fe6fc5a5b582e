//! Joins bit-equal corners into shared vertices, in the order of their first use.

use super::fault::{FaultKind, FaultLog, Place};
use nalgebra::Point3;

/// Farthest coordinate that is taken: one kilometre.
///
/// No machining centre comes near it, and single precision steps by 0.06 mm there. A file beyond
/// it has a wrong unit or origin, so it is refused.
pub const FARTHEST_MM: f64 = 1.0e6;

/// Beyond this the warning about coarse coordinates is given.
///
/// Single precision steps by 0.002 mm from 16,384 to 32,768 mm: a fifth of the 0.01 mm that
/// answers are given to.
pub const COARSE_BEYOND_MM: f64 = 20_000.0;

/// A triangle no higher than this over its longest edge has no area.
///
/// Rounding alone makes 1e-10 mm at [`FARTHEST_MM`]; the smallest certified gap tolerance in use
/// is 4e-6 mm. Dropping such a triangle moves the surface by less than this.
pub(super) const FLAT_BELOW_MM: f64 = 1.0e-9;

/// Triangles with welded corners, before shells are known.
#[derive(Debug, Default)]
pub(super) struct Soup {
    /// Welded vertices.
    pub vertices: Vec<Point3<f64>>,
    /// Triangles with three different corners.
    pub triangles: Vec<[u32; 3]>,
    /// Ascending indices of those in `triangles` that have no area all the same.
    pub flat: Vec<u32>,
    /// Ascending file indices of triangles left out (two equal corners, or bad).
    skipped: Vec<u32>,
}

impl Soup {
    /// Number in the file, from 1, of a triangle in `triangles`.
    pub(super) fn file_number(&self, triangle: u32) -> u64 {
        // `skipped[i] - i` triangles were kept before the i-th that was left out.
        let (mut low, mut high) = (0, self.skipped.len());
        while low < high {
            let middle = usize::midpoint(low, high);
            if self.skipped[middle] as usize - middle <= triangle as usize {
                low = middle + 1;
            } else {
                high = middle;
            }
        }
        u64::from(triangle) + low as u64 + 1
    }

    /// Whether a triangle of the file is not among `triangles`: vertices may then be unused.
    pub(super) fn left_some_out(&self) -> bool {
        !self.skipped.is_empty()
    }

    /// Adds file indices to those left out; the caller has removed their triangles.
    pub(super) fn leave_out(&mut self, file_indices: &[u32]) {
        self.skipped.extend_from_slice(file_indices);
        self.skipped.sort_unstable();
    }
}

/// Takes triangles one by one and welds their corners.
///
/// The table is open addressing over (hash tag, vertex): a million triangles weld in a fraction
/// of the time that the standard map with its keyed hash takes.
#[derive(Debug)]
pub(super) struct Welder {
    soup: Soup,
    slots: Vec<u64>,
    seen: u32,
    farthest_mm: f64,
}

const EMPTY: u64 = u64::MAX;

impl Welder {
    /// A welder that expects about this many triangles.
    pub(super) fn with_capacity(triangles: usize) -> Self {
        let soup = Soup {
            vertices: Vec::with_capacity(triangles / 2 + 8),
            triangles: Vec::with_capacity(triangles),
            ..Soup::default()
        };
        let slots = vec![EMPTY; triangles.max(8).next_power_of_two()];
        Self {
            soup,
            slots,
            seen: 0,
            farthest_mm: 0.0,
        }
    }

    /// Adds a triangle; bad ones are left out and noted at `place`.
    pub(super) fn add(
        &mut self,
        corners_mm: [[f64; 3]; 3],
        log: &mut FaultLog,
        place: impl Fn() -> Place,
    ) {
        let file_index = self.seen;
        self.seen += 1;
        // NaN is not within anything.
        if !corners_mm.iter().flatten().all(|x| x.abs() <= FARTHEST_MM) {
            self.soup.skipped.push(file_index);
            return note_bad_corners(&corners_mm, log, place());
        }
        let triangle = corners_mm.map(|corner| self.vertex(corner));
        let [a, b, c] = triangle;
        if a == b || b == c || c == a {
            self.soup.skipped.push(file_index);
            log.add(FaultKind::ZeroArea, place(), || {
                "two corners are the same point".into()
            });
            return;
        }
        if is_flat(triangle.map(|v| self.soup.vertices[v as usize])) {
            self.soup.flat.push(index_u32(self.soup.triangles.len()));
            log.add(FaultKind::ZeroArea, place(), || {
                "the corners lie on one line".into()
            });
        }
        self.soup.triangles.push(triangle);
    }

    /// How many triangles were added, bad ones included.
    pub(super) fn seen(&self) -> u32 {
        self.seen
    }

    /// The welded triangles; notes coordinates that are far from the origin.
    pub(super) fn finish(self, log: &mut FaultLog) -> Soup {
        if self.farthest_mm > COARSE_BEYOND_MM {
            let farthest_mm = self.farthest_mm;
            log.add(FaultKind::CoarseCoordinates, Place::File, || {
                format!("coordinates go out to {farthest_mm:.0} mm")
            });
        }
        self.soup
    }

    fn vertex(&mut self, corner_mm: [f64; 3]) -> u32 {
        // Adding zero turns -0.0 into 0.0, so that both weld.
        let corner_mm = corner_mm.map(|x| x + 0.0);
        let hash = hash_of(corner_mm);
        let mask = self.slots.len() - 1;
        let tag = hash & 0xFFFF_FFFF_0000_0000;
        let mut slot = (hash >> 20) as usize & mask;
        loop {
            let entry = self.slots[slot];
            if entry == EMPTY {
                return self.insert(slot, tag, corner_mm);
            }
            let vertex = entry as u32;
            if entry & 0xFFFF_FFFF_0000_0000 == tag
                && self.soup.vertices[vertex as usize] == Point3::from(corner_mm)
            {
                return vertex;
            }
            slot = (slot + 1) & mask;
        }
    }

    fn insert(&mut self, slot: usize, tag: u64, corner_mm: [f64; 3]) -> u32 {
        self.farthest_mm = corner_mm
            .iter()
            .fold(self.farthest_mm, |far, x| far.max(x.abs()));
        let vertex = index_u32(self.soup.vertices.len());
        self.slots[slot] = tag | u64::from(vertex);
        self.soup.vertices.push(corner_mm.into());
        if self.soup.vertices.len() * 3 > self.slots.len() * 2 {
            self.grow();
        }
        vertex
    }

    fn grow(&mut self) {
        let size = self.slots.len() * 4;
        self.slots.clear();
        self.slots.resize(size, EMPTY);
        for (vertex, point) in self.soup.vertices.iter().enumerate() {
            let hash = hash_of([point.x, point.y, point.z]);
            let mut slot = (hash >> 20) as usize & (size - 1);
            while self.slots[slot] != EMPTY {
                slot = (slot + 1) & (size - 1);
            }
            self.slots[slot] = (hash & 0xFFFF_FFFF_0000_0000) | vertex as u64;
        }
    }
}

fn note_bad_corners(corners_mm: &[[f64; 3]; 3], log: &mut FaultLog, place: Place) {
    let worst = corners_mm.iter().flatten().find(|x| !x.is_finite());
    if let Some(x) = worst {
        log.add(FaultKind::NonFinite, place, || {
            format!("a coordinate is {x}")
        });
    } else {
        let far = corners_mm
            .iter()
            .flatten()
            .fold(0.0_f64, |far, x| far.max(x.abs()));
        log.add(FaultKind::TooFar, place, || {
            format!("a coordinate is {far:.3e} mm from the origin, more than {FARTHEST_MM:.0e}")
        });
    }
}

/// Whether a triangle has no area: see [`FLAT_BELOW_MM`].
fn is_flat([a, b, c]: [Point3<f64>; 3]) -> bool {
    let (ab, bc, ca) = (b - a, c - b, a - c);
    let longest2 = ab
        .norm_squared()
        .max(bc.norm_squared())
        .max(ca.norm_squared());
    let doubled_area2 = ab.cross(&ca).norm_squared();
    doubled_area2 <= FLAT_BELOW_MM * FLAT_BELOW_MM * longest2
}

/// Mixes three coordinates; the upper bits are the good ones.
fn hash_of([x, y, z]: [f64; 3]) -> u64 {
    // Odd constants with no pattern; single precision leaves the low 29 bits zero, which the
    // rotations bring back into play.
    let mut hash = x.to_bits().wrapping_mul(0x9E37_79B9_7F4A_7C15);
    hash = (hash.rotate_left(29) ^ y.to_bits()).wrapping_mul(0xD6E8_FEB8_6659_FD93);
    hash = (hash.rotate_left(29) ^ z.to_bits()).wrapping_mul(0xA076_1D64_78BD_642F);
    hash ^ (hash >> 29)
}

/// Index of a vertex or triangle; readers refuse more than `u32` holds.
pub(super) fn index_u32(index: usize) -> u32 {
    u32::try_from(index).expect("readers refuse more triangles than 32 bits can number")
}
