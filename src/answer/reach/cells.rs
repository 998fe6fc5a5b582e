//! Pieces of the surface with the tips that touch them, split until each is decided.

use crate::value::Vec3;

/// A triangle of the surface, or a piece of one, with the shifts from its corners to tips that touch
/// them, in the part's frame.
///
/// Between the corners the shifts are mixed as the corners are. A mix of places at which a convex
/// cutter holds a point holds it too: no mixed tip leaves its point untouched.
#[derive(Debug, Clone, Copy)]
pub struct Cell {
    /// Corners.
    pub corners: [Vec3; 3],
    /// Unit normal: of its plane, of the facet that it is a piece of; 0 where there is no area.
    pub normal: Vec3,
    /// Tip less surface point, at each corner.
    pub tip_from_corner: [Vec3; 3],
    /// On a round face, the same with the normals of the face in place of the facet's.
    pub smooth: Option<[Vec3; 3]>,
    /// Which face.
    pub face: u32,
    /// Cells of one plane and one shift can be asked together.
    pub plane: u32,
    /// No cell with edges no longer than this is split,
    pub grain_mm: f64,
    /// nor one with no more area than this.
    pub grain_mm2: f64,
}

impl Cell {
    /// Area.
    #[must_use]
    pub fn area_mm2(&self) -> f64 {
        let [a, b, c] = self.corners;
        (b - a).cross(&(c - a)).norm() * 0.5
    }

    /// Unit normal; `None` where there is no area.
    #[must_use]
    pub fn normal(&self) -> Option<Vec3> {
        (self.normal != Vec3::zeros()).then_some(self.normal)
    }

    /// Tips over the corners.
    pub fn tips(&self) -> impl Iterator<Item = Vec3> {
        let corners = self.corners.into_iter().zip(self.tip_from_corner);
        corners.map(|(corner, shift)| corner + shift)
    }

    /// Middle.
    #[must_use]
    pub fn middle(&self) -> Vec3 {
        (self.corners[0] + self.corners[1] + self.corners[2]) / 3.0
    }

    /// The tip over the middle.
    #[must_use]
    pub fn tip_over_middle(&self) -> Vec3 {
        let [a, b, c] = self.tip_from_corner;
        self.middle() + (a + b + c) / 3.0
    }

    /// The same with one shift for all corners.
    #[must_use]
    pub const fn with_shift(&self, tip_from_point: Vec3) -> Self {
        Self {
            tip_from_corner: [tip_from_point; 3],
            ..*self
        }
    }

    /// Tips over the corners by the normals of the smooth face.
    #[must_use]
    pub fn smooth_tips(&self) -> Option<[Vec3; 3]> {
        let smooth = self.smooth?;
        Some([0, 1, 2].map(|k| self.corners[k] + smooth[k]))
    }

    /// Length of the longest edge.
    #[must_use]
    pub fn longest_mm(&self) -> f64 {
        self.longest_edge().0
    }

    /// Length of the longest edge, and where it starts.
    fn longest_edge(&self) -> (f64, usize) {
        let length = |i: usize| (self.corners[(i + 1) % 3] - self.corners[i]).norm();
        (0..3).map(|i| (length(i), i)).fold(
            (0.0, 0),
            |best, next| if next.0 > best.0 { next } else { best },
        )
    }

    /// Both halves across the longest edge; `None` where that is no longer than the grain.
    #[must_use]
    pub fn halves(&self) -> Option<[Self; 2]> {
        let whole = self.longest_mm() <= self.grain_mm || self.area_mm2() <= self.grain_mm2;
        (!whole).then(|| self.halved())
    }

    /// Both halves across the longest edge.
    #[must_use]
    pub fn halved(&self) -> [Self; 2] {
        let i = self.longest_edge().1;
        let halved = |of: &[Vec3; 3]| {
            let [a, b, c] = [0, 1, 2].map(|k| of[(i + k) % 3]);
            let middle = (a + b) * 0.5;
            [[a, middle, c], [middle, b, c]]
        };
        let (corners, shifts) = (halved(&self.corners), halved(&self.tip_from_corner));
        let smooth = self.smooth.as_ref().map(halved);
        [0, 1].map(|half| Self {
            corners: corners[half],
            tip_from_corner: shifts[half],
            smooth: smooth.map(|smooth| smooth[half]),
            ..*self
        })
    }
}

/// Splits cells in two heaps across the longest side of their box.
pub fn split(cells: &mut [Cell]) -> usize {
    let middle_of = |cell: &Cell| (cell.corners[0] + cell.corners[1] + cell.corners[2]) / 3.0;
    let mut low = Vec3::repeat(f64::INFINITY);
    let mut high = Vec3::repeat(f64::NEG_INFINITY);
    for cell in cells.iter() {
        low = low.inf(&middle_of(cell));
        high = high.sup(&middle_of(cell));
    }
    let axis = (high - low).imax();
    let half = cells.len() / 2;
    cells.select_nth_unstable_by(half, |a, b| {
        middle_of(a)[axis].total_cmp(&middle_of(b)[axis])
    });
    half
}

/// Convex hull of points that lie in one plane, in the order round; all of them where they are
/// few or not in one plane to a millionth of their extent.
///
/// # Source
/// Andrew, "Another efficient algorithm for convex hulls in two dimensions", Information
/// Processing Letters 9 (1979): the monotone chain, from memory.
#[must_use]
pub fn flat_hull(points: &[Vec3], normal: &Vec3) -> Vec<Vec3> {
    let drop = normal.iamax();
    let (u, v) = ((drop + 1) % 3, (drop + 2) % 3);
    let mut order: Vec<Vec3> = points.to_vec();
    order.sort_by(|a, b| a[u].total_cmp(&b[u]).then(a[v].total_cmp(&b[v])));
    order.dedup();
    if order.len() <= 3 {
        return order;
    }
    let turn = |a: &Vec3, b: &Vec3, c: &Vec3| {
        (b[u] - a[u]) * (c[v] - a[v]) - (b[v] - a[v]) * (c[u] - a[u])
    };
    let chain = |points: &mut dyn Iterator<Item = &Vec3>| {
        let mut hull: Vec<Vec3> = Vec::new();
        for point in points {
            while hull.len() >= 2 && turn(&hull[hull.len() - 2], &hull[hull.len() - 1], point) < 0.0
            {
                hull.pop();
            }
            hull.push(*point);
        }
        hull.pop();
        hull
    };
    let mut hull = chain(&mut order.iter());
    hull.extend(chain(&mut order.iter().rev()));
    hull
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn halves_keep_area_and_end_at_the_grain() {
        let cell = Cell {
            corners: [Vec3::zeros(), Vec3::x() * 4.0, Vec3::y() * 3.0],
            normal: Vec3::z(),
            tip_from_corner: [Vec3::z(); 3],
            smooth: None,
            face: 0,
            plane: 0,
            grain_mm: 1.0,
            grain_mm2: 0.0,
        };
        let [a, b] = cell.halves().unwrap();
        assert!((a.area_mm2() + b.area_mm2() - 6.0).abs() < 1e-12);
        let coarse = Cell {
            grain_mm: 5.0,
            ..cell
        };
        assert!(coarse.halves().is_none());
    }

    #[test]
    fn hull_of_a_grid_is_its_outline() {
        let points: Vec<Vec3> = (0..25)
            .map(|k| Vec3::new(f64::from(k % 5), f64::from(k / 5), 2.0))
            .collect();
        let hull = flat_hull(&points, &Vec3::z());
        for corner in [(0.0, 0.0), (4.0, 0.0), (4.0, 4.0), (0.0, 4.0)] {
            assert!(hull.contains(&Vec3::new(corner.0, corner.1, 2.0)));
        }
        let inside = |p: &Vec3| p.x > 0.0 && p.x < 4.0 && p.y > 0.0 && p.y < 4.0;
        assert!(!hull.iter().any(inside));
    }
}
