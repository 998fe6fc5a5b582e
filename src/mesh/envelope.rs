//! Outer envelope of a mesh that spins about an axis, as a profile of cylinders and cones.
//!
//! In a slab of heights the largest radius of a triangle is taken on its edges (distance from the
//! axis is convex along the cut). Along a straight edge the radius is a convex function of height.
//! So where every edge that meets a slab crosses all of it, the greatest radius is a maximum of
//! convex functions, itself convex, and lies below the cone through its two end values. Where a
//! vertex lies inside a slab (only in slabs of less than a quarter tolerance), the greatest radius
//! of the pieces within counts for the whole slab: a cylinder.
//!
//! The cone is too wide by at most twice its excess at mid-height, since a concave function that is
//! zero at both ends is at most twice its middle value; slabs are halved until that is small.

use super::Mesh;
use nalgebra::{Point3, UnitVector3};

/// Added to every radius and to both end heights: far more than rounding (1e-10 mm at
/// [`super::FARTHEST_MM`]), far less than any tolerance.
const MARGIN_MM: f64 = 1.0e-9;

/// Up to this slope an end follows its cone outward, which widens it by 1e-7 mm at most.
const STEEPEST_FOLLOWED: f64 = 100.0;

/// Tolerances below this are raised to it, so that the number of slabs stays bounded.
const FINEST_TOLERANCE_MM: f64 = 1.0e-3;

/// Outer envelope of a mesh turning about an axis: `(height_mm, radius_mm)` pairs in rising order,
/// joined by straight lines; two pairs of equal height make a step.
///
/// Heights are measured from the origin along the direction.
///
/// # Guarantees
/// The filled body of revolution contains every triangle at every angle (at steps between its ends
/// up to the rounding of heights, 1e-10 mm). No point of it is farther
/// than `tolerance_mm` (0.001 or more) from the filled body that the triangles sweep. Where the
/// mesh leaves a gap along the axis the radius is next to 0. The chord allowance of the mesh is not
/// included.
///
/// # Source
/// Own derivation, at the head of this file.
#[must_use]
pub fn envelope_of_revolution(
    mesh: &Mesh,
    axis_origin: Point3<f64>,
    axis_direction: UnitVector3<f64>,
    tolerance_mm: f64,
) -> Vec<(f64, f64)> {
    let tolerance_mm = tolerance_mm.max(FINEST_TOLERANCE_MM);
    let sweep = Sweep::new(mesh, axis_origin, axis_direction);
    let mut borders_mm = sweep.borders(tolerance_mm / 4.0);
    let mut slabs = sweep.measure(&borders_mm);
    // Halving a kilometre 40 times is past any tolerance; the loop ends long before.
    for _ in 0..40 {
        let halved = halve_where_wide(&borders_mm, &slabs, tolerance_mm / 4.0);
        if halved.len() == borders_mm.len() {
            break;
        }
        borders_mm = halved;
        slabs = sweep.measure(&borders_mm);
    }
    let exact = slabs.chain(&borders_mm);
    let mut profile_mm = simplify(&exact, tolerance_mm / 2.0);
    widen(&mut profile_mm);
    profile_mm
}

/// Adds [`MARGIN_MM`] to every radius and beyond both ends.
fn widen(profile_mm: &mut Vec<(f64, f64)>) {
    for (_, radius_mm) in profile_mm.iter_mut() {
        *radius_mm += MARGIN_MM;
    }
    for outward_mm in [-MARGIN_MM, MARGIN_MM] {
        let Some(&end) = profile_mm.first() else {
            return;
        };
        // Moved outward, an end must not lower the line to the next pair: it follows that line, or
        // where the line is too steep gets a thin disc before it.
        let slope = profile_mm
            .get(1)
            .map_or(0.0, |next| (end.1 - next.1) / (end.0 - next.0).abs());
        if slope > STEEPEST_FOLLOWED {
            profile_mm.insert(0, (end.0 + outward_mm, end.1));
        } else {
            let rise_mm = if slope > 0.0 { slope * MARGIN_MM } else { 0.0 };
            profile_mm[0] = (end.0 + outward_mm, end.1 + rise_mm);
        }
        // Twice turned round, the profile rises again.
        profile_mm.reverse();
    }
}

/// A vertex by height along the axis and position square to it.
#[derive(Clone, Copy)]
struct Station {
    height_mm: f64,
    across_mm: nalgebra::Vector3<f64>,
}

impl Station {
    fn radius_mm(&self) -> f64 {
        self.across_mm.norm()
    }
}

/// The vertices and edges of a mesh as seen from the axis.
struct Sweep {
    stations: Vec<Station>,
    /// Lower and upper station of each edge that is not level.
    edges: Vec<(u32, u32)>,
}

impl Sweep {
    fn new(mesh: &Mesh, origin: Point3<f64>, direction: UnitVector3<f64>) -> Self {
        let stations: Vec<Station> = mesh
            .vertices
            .iter()
            .map(|vertex| {
                let from_origin = vertex - origin;
                let height_mm = from_origin.dot(&direction);
                Station {
                    height_mm,
                    across_mm: from_origin - direction.scale(height_mm),
                }
            })
            .collect();
        let mut edges = Vec::with_capacity(mesh.triangles.len() * 3);
        for &[a, b, c] in &mesh.triangles {
            for (from, to) in [(a, b), (b, c), (c, a)] {
                let (low, high) = (&stations[from as usize], &stations[to as usize]);
                if low.height_mm < high.height_mm {
                    edges.push((from, to));
                } else if low.height_mm > high.height_mm {
                    edges.push((to, from));
                }
            }
        }
        edges.sort_unstable();
        edges.dedup();
        Self { stations, edges }
    }

    /// Heights of vertices, in clusters no taller than a slab: both ends of each cluster.
    fn borders(&self, cluster_mm: f64) -> Vec<f64> {
        let mut heights_mm: Vec<f64> = self.stations.iter().map(|s| s.height_mm).collect();
        heights_mm.sort_unstable_by(f64::total_cmp);
        heights_mm.dedup();
        let mut borders_mm = Vec::new();
        let mut rest = heights_mm.as_slice();
        while let Some(&low) = rest.first() {
            let count = rest.partition_point(|&height| height <= low + cluster_mm);
            borders_mm.push(low);
            if count > 1 {
                borders_mm.push(rest[count - 1]);
            }
            rest = &rest[count..];
        }
        borders_mm
    }

    /// Radius of an edge at a height within it.
    fn radius_at(&self, (low, high): (u32, u32), height_mm: f64) -> f64 {
        let (low, high) = (&self.stations[low as usize], &self.stations[high as usize]);
        let t = (height_mm - low.height_mm) / (high.height_mm - low.height_mm);
        (low.across_mm * (1.0 - t) + high.across_mm * t).norm()
    }

    fn measure(&self, borders_mm: &[f64]) -> Slabs {
        let count = borders_mm.len() - 1;
        let mut slabs = Slabs {
            at_border: vec![0.0; count + 1],
            bottom: vec![0.0; count],
            middle: vec![0.0; count],
            top: vec![0.0; count],
        };
        for station in &self.stations {
            let next = borders_mm.partition_point(|&border| border < station.height_mm);
            let radius_mm = station.radius_mm();
            if borders_mm[next] == station.height_mm {
                raise(&mut slabs.at_border[next], radius_mm);
            } else {
                slabs.raise_all(next - 1, radius_mm);
            }
        }
        for &edge in &self.edges {
            self.measure_edge(edge, borders_mm, &mut slabs);
        }
        slabs
    }

    fn measure_edge(&self, edge: (u32, u32), borders_mm: &[f64], slabs: &mut Slabs) {
        let low_mm = self.stations[edge.0 as usize].height_mm;
        let high_mm = self.stations[edge.1 as usize].height_mm;
        let first = borders_mm.partition_point(|&border| border <= low_mm) - 1;
        let mut bottom = self.radius_at(edge, borders_mm[first].max(low_mm));
        for slab in first..borders_mm.len() - 1 {
            let (floor, ceiling) = (borders_mm[slab], borders_mm[slab + 1]);
            if floor >= high_mm {
                break;
            }
            let top = self.radius_at(edge, ceiling.min(high_mm));
            if floor >= low_mm && ceiling <= high_mm {
                let middle_mm = f64::midpoint(floor, ceiling);
                raise(&mut slabs.bottom[slab], bottom);
                raise(&mut slabs.middle[slab], self.radius_at(edge, middle_mm));
                raise(&mut slabs.top[slab], top);
            } else {
                slabs.raise_all(slab, bottom.max(top));
            }
            bottom = top;
        }
    }
}

fn raise(value: &mut f64, to: f64) {
    *value = value.max(to);
}

/// Greatest radii of slabs between borders: at both ends and in the middle of each.
struct Slabs {
    at_border: Vec<f64>,
    bottom: Vec<f64>,
    middle: Vec<f64>,
    top: Vec<f64>,
}

impl Slabs {
    /// Counts a radius for a whole slab.
    fn raise_all(&mut self, slab: usize, radius_mm: f64) {
        for part in [&mut self.bottom, &mut self.middle, &mut self.top] {
            raise(&mut part[slab], radius_mm);
        }
    }

    /// The pairs in rising order, steps included.
    fn chain(&self, borders_mm: &[f64]) -> Vec<(f64, f64)> {
        let mut chain = Vec::with_capacity(borders_mm.len() * 2);
        for (index, &border) in borders_mm.iter().enumerate() {
            let below = index.checked_sub(1).map(|slab| self.top[slab]);
            let above = self.bottom.get(index).copied();
            let own = self.at_border[index];
            let taller = below.into_iter().chain(above).all(|radius| radius < own);
            let points = [below, taller.then_some(own), above];
            chain.extend(points.into_iter().flatten().map(|radius| (border, radius)));
        }
        chain.dedup();
        chain
    }
}

/// Borders with the middle of each slab added where a cone would be too wide.
fn halve_where_wide(borders_mm: &[f64], slabs: &Slabs, limit_mm: f64) -> Vec<f64> {
    let mut halved = Vec::with_capacity(borders_mm.len());
    for (index, &border) in borders_mm.iter().enumerate() {
        halved.push(border);
        let Some(&next) = borders_mm.get(index + 1) else {
            break;
        };
        let cone_mm = f64::midpoint(slabs.bottom[index], slabs.top[index]);
        // The excess is at most twice that in the middle.
        let excess_mm = 2.0 * (cone_mm - slabs.middle[index]);
        if next - border > limit_mm && excess_mm > limit_mm {
            halved.push(f64::midpoint(border, next));
        }
    }
    halved
}

/// A chain with fewer pairs that lies nowhere below the given one, and at most `lift_mm` above.
fn simplify(exact: &[(f64, f64)], lift_mm: f64) -> Vec<(f64, f64)> {
    let mut chain = Vec::new();
    let mut from = 0;
    while from + 1 < exact.len() {
        if exact[from].0 == exact[from + 1].0 {
            chain.push(exact[from]);
            from += 1;
            continue;
        }
        // Reach out in doubling steps, then in halving ones; every reach is tested as a whole.
        let mut best = (from + 1, 0.0);
        let mut stride = 1;
        while let Some(lift) = line_over(exact, from, best.0 + stride, lift_mm) {
            best = (best.0 + stride, lift);
            stride *= 2;
        }
        while stride > 0 {
            if let Some(lift) = line_over(exact, from, best.0 + stride, lift_mm) {
                best = (best.0 + stride, lift);
            }
            stride /= 2;
        }
        let (to, lift) = best;
        chain.push((exact[from].0, exact[from].1 + lift));
        chain.push((exact[to].0, exact[to].1 + lift));
        from = to;
    }
    // Runs end with their last pair; a step at the very end, or a lone pair, is left over.
    if let Some((&last, before)) = exact.split_last()
        && before.last().is_none_or(|pair| pair.0 == last.0)
    {
        chain.push(last);
    }
    chain.dedup();
    chain
}

/// How far the line between two pairs must rise to lie over all between; none if it then lies more
/// than `lift_mm` over one of them.
fn line_over(exact: &[(f64, f64)], from: usize, to: usize, lift_mm: f64) -> Option<f64> {
    let (start, end) = (exact[from], *exact.get(to)?);
    let slope = (end.1 - start.1) / (end.0 - start.0);
    let under = |point: &(f64, f64)| point.1 - (start.1 + slope * (point.0 - start.0));
    let between = &exact[from..=to];
    let lift = between.iter().map(under).fold(0.0, f64::max);
    let deepest = between.iter().map(under).fold(0.0, f64::min);
    (lift - deepest <= lift_mm).then_some(lift)
}
