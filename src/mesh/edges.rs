//! The edges of a triangle list, each with the triangles that use it.

/// One use of an edge by a triangle.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct EdgeUse {
    /// Which triangle.
    pub triangle: u32,
    /// Corner of the triangle opposite to the edge: 0, 1 or 2.
    pub opposite: usize,
    /// Whether the triangle runs from the lower to the higher vertex.
    pub forward: bool,
}

impl EdgeUse {
    fn unpack(packed: u64) -> Self {
        let half_edge = (packed as u32) >> 1;
        Self {
            triangle: half_edge / 3,
            opposite: ((half_edge % 3 + 2) % 3) as usize,
            forward: packed & 1 == 1,
        }
    }
}

/// All edges of a triangle list, grouped.
///
/// Half-edges go into one bucket for each lower vertex by counting, and are then sorted by higher
/// vertex within their bucket, where some six stand: linear in practice, and the same order always.
#[derive(Debug)]
pub(super) struct EdgeTable {
    bucket_start: Vec<u32>,
    /// Higher vertex in the upper half; half-edge number and direction in the lower.
    packed: Vec<u64>,
}

impl EdgeTable {
    /// Groups the edges of triangles whose corners are below `vertex_count`.
    pub(super) fn new(triangles: &[[u32; 3]], vertex_count: usize) -> Self {
        let mut bucket_start = vec![0_u32; vertex_count + 2];
        for &[a, b, c] in triangles {
            for lower in [a.min(b), b.min(c), c.min(a)] {
                bucket_start[lower as usize + 2] += 1;
            }
        }
        let mut sum = 0;
        for start in &mut bucket_start {
            sum += *start;
            *start = sum;
        }
        let mut packed = vec![0_u64; triangles.len() * 3];
        let mut half_edge = 0_u64;
        for &[a, b, c] in triangles {
            for (from, to) in [(a, b), (b, c), (c, a)] {
                let next = &mut bucket_start[from.min(to) as usize + 1];
                packed[*next as usize] =
                    u64::from(from.max(to)) << 32 | half_edge << 1 | u64::from(from < to);
                *next += 1;
                half_edge += 1;
            }
        }
        for bucket in bucket_start.windows(2) {
            packed[bucket[0] as usize..bucket[1] as usize].sort_unstable();
        }
        Self {
            bucket_start,
            packed,
        }
    }

    /// Calls `visit(lower, higher, uses)` for each edge, by lower and then higher vertex.
    pub(super) fn for_each(&self, mut visit: impl FnMut(u32, u32, &[EdgeUse])) {
        let mut uses = Vec::with_capacity(16);
        for (lower, bucket) in self.bucket_start.windows(2).enumerate() {
            let mut rest = &self.packed[bucket[0] as usize..bucket[1] as usize];
            while let Some(&first) = rest.first() {
                let higher = (first >> 32) as u32;
                let end = rest
                    .iter()
                    .take_while(|&&p| (p >> 32) as u32 == higher)
                    .count();
                uses.clear();
                uses.extend(rest[..end].iter().map(|&p| EdgeUse::unpack(p)));
                visit(lower as u32, higher, &uses);
                rest = &rest[end..];
            }
        }
    }
}
