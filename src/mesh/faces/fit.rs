//! First guesses of a surface from a patch of triangles, made exact by least squares.

use super::corners::Hold;
use super::facets::Facets;
use super::surface::{Surface, about, across};
use crate::value::Vec3;
use nalgebra::{Matrix3, Point3, SMatrix, Vector3};

/// Kinds of curved surface, simplest first: a simpler one that fits is taken.
pub(super) const CURVED: [Kind; 4] = [Kind::Cylinder, Kind::Cone, Kind::Sphere, Kind::Torus];

/// A kind of curved surface.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    Cylinder,
    Sphere,
    Cone,
    Torus,
}

/// Most points that a fit uses; more make no face better known.
const MOST_POINTS: usize = 120;

/// The kind of a curved surface.
pub(super) const fn kind(surface: &Surface) -> Option<Kind> {
    match surface {
        Surface::Plane { .. } => None,
        Surface::Cylinder { .. } => Some(Kind::Cylinder),
        Surface::Cone { .. } => Some(Kind::Cone),
        Surface::Sphere { .. } => Some(Kind::Sphere),
        Surface::Torus { .. } => Some(Kind::Torus),
    }
}

impl Kind {
    /// Whether a corner may lie off a surface of this kind, on a chord of it.
    pub(super) fn is_loose(self, hold: Hold) -> bool {
        let curved_twice = matches!(self, Self::Sphere | Self::Torus);
        hold == Hold::Cut || (curved_twice && hold == Hold::Rim)
    }

    /// So many corners are enough for a fit.
    const fn enough(self) -> usize {
        match self {
            Self::Cylinder => 8,
            Self::Cone | Self::Sphere => 10,
            Self::Torus => 14,
        }
    }
}

/// Corners of a patch that a surface is fitted through, at most [`MOST_POINTS`] of them, evenly
/// taken: those that surely lie on it, or all where these are too few.
pub(super) fn points(facets: &Facets<'_>, kind: Kind, patch: &[u32]) -> Vec<Point3<f64>> {
    let stride = (patch.len() / (MOST_POINTS / 2)).max(1);
    let taken = || patch.iter().step_by(stride);
    let sorted = |mut vertices: Vec<u32>| {
        vertices.sort_unstable();
        vertices.dedup();
        vertices
    };
    let corners = || taken().flat_map(|facet| facets.corners(*facet));
    let sure = corners().filter(|corner| !kind.is_loose(corner.hold));
    let mut vertices = sorted(sure.map(|corner| corner.vertex).collect());
    if vertices.len() < kind.enough() {
        vertices = sorted(corners().map(|corner| corner.vertex).collect());
    }
    let stride = vertices.len().div_ceil(MOST_POINTS).max(1);
    let at = |vertex: &u32| facets.geo.canon.vertices[*vertex as usize];
    vertices.iter().step_by(stride).map(at).collect()
}

/// Area-weighted plane of a region: exact for triangles of one plane.
pub(super) fn plane(facets: &Facets<'_>, region: &[u32]) -> Option<Surface> {
    let (mut normal, mut moment, mut area) = (Vec3::zeros(), Vec3::zeros(), 0.0);
    for &facet in region {
        let shape = &facets.shape[facet as usize];
        normal += shape.normal * shape.area_mm2;
        moment += facets.centre(facet).coords * shape.area_mm2;
        area += shape.area_mm2;
    }
    let normal = normal.try_normalize(1e-300)?;
    Some(Surface::Plane {
        point: Point3::from(moment / area),
        normal,
    })
}

/// The surface of a kind that fits a patch best.
pub(super) fn curved(
    facets: &Facets<'_>,
    kind: Kind,
    patch: &[u32],
    hopeless_mm: f64,
) -> Option<Surface> {
    let points = points(facets, kind, patch);
    let first = match kind {
        Kind::Cylinder => cylinder(facets, patch, &points),
        Kind::Sphere => sphere(&points),
        Kind::Cone => cone(facets, patch, &points),
        Kind::Torus => torus(facets, patch, &points),
    }?;
    let fitted = first.refined(&points, hopeless_mm);
    fitted.is_sound().then_some(fitted)
}

fn mean(points: &[Point3<f64>]) -> Point3<f64> {
    let sum: Vec3 = points.iter().map(|p| p.coords).sum();
    Point3::from(sum / points.len().max(1) as f64)
}

/// Unit vector in which a symmetric matrix is least.
fn least_direction(matrix: Matrix3<f64>) -> Option<Vec3> {
    let eigen = matrix.symmetric_eigen();
    let least = eigen.eigenvalues.imin();
    eigen
        .eigenvectors
        .column(least)
        .into_owned()
        .try_normalize(1e-12)
}

/// Normals of a cylinder are square to its axis; its section is a circle.
fn cylinder(facets: &Facets<'_>, patch: &[u32], points: &[Point3<f64>]) -> Option<Surface> {
    let mut spread = Matrix3::zeros();
    for &facet in patch {
        let shape = &facets.shape[facet as usize];
        spread += shape.normal * shape.normal.transpose() * shape.area_mm2;
    }
    let axis = least_direction(spread)?;
    let middle = mean(points);
    let [u, v] = across(&axis);
    let flat = points
        .iter()
        .map(|p| [(p - middle).dot(&u), (p - middle).dot(&v)]);
    let ([x, y], radius) = circle(flat)?;
    Some(Surface::Cylinder {
        point: middle + u * x + v * y,
        axis,
        radius,
    })
}

/// Normals of a cone make one angle with its axis.
fn cone(facets: &Facets<'_>, patch: &[u32], points: &[Point3<f64>]) -> Option<Surface> {
    let area = facets.area_mm2(patch).max(f64::MIN_POSITIVE);
    let weighted = |f: &u32| facets.shape[*f as usize].normal * facets.shape[*f as usize].area_mm2;
    let middle_normal: Vec3 = patch.iter().map(weighted).sum::<Vec3>() / area;
    let (mut spread, mut tangent, mut side) = (Matrix3::zeros(), Matrix3::zeros(), Vec3::zeros());
    for &facet in patch {
        let shape = &facets.shape[facet as usize];
        let off = shape.normal - middle_normal;
        spread += off * off.transpose() * shape.area_mm2;
        let outer = shape.normal * shape.normal.transpose() * shape.area_mm2;
        tangent += outer;
        side += outer * facets.centre(facet).coords;
    }
    let axis = least_direction(spread)?;
    // The apex lies in every tangent plane.
    let apex = Point3::from(tangent.lu().solve(&side)?);
    let middle = mean(points);
    let axis = if (middle - apex).dot(&axis) < 0.0 {
        -axis
    } else {
        axis
    };
    let mean_of = |value: &dyn Fn(&Point3<f64>) -> f64| {
        points.iter().map(value).sum::<f64>() / points.len() as f64
    };
    let height = mean_of(&|p| (p - apex).dot(&axis));
    let radius = mean_of(&|p| about(&apex, &axis, p).1);
    let half_angle = radius.atan2(height);
    Some(Surface::Cone {
        point: apex + axis * height,
        axis,
        radius,
        half_angle,
    })
}

fn sphere(points: &[Point3<f64>]) -> Option<Surface> {
    let middle = mean(points);
    let (mut matrix, mut side) = (SMatrix::<f64, 4, 4>::zeros(), SMatrix::<f64, 4, 1>::zeros());
    for point in points {
        let q = point - middle;
        let row = SMatrix::<f64, 4, 1>::new(q.x, q.y, q.z, 1.0);
        matrix += row * row.transpose();
        side += row * q.norm_squared();
    }
    let found = matrix.lu().solve(&side)?;
    let offset = Vector3::new(found[0], found[1], found[2]) / 2.0;
    let radius = (found[3] + offset.norm_squared()).max(0.0).sqrt();
    let surface = Surface::Sphere {
        centre: middle + offset,
        radius,
    };
    surface.is_sound().then_some(surface)
}

/// Every normal of a turned surface meets its axis; the section through the axis is a circle.
///
/// # Source
/// Own derivation: the line through p along n meets the axis through q along d where
/// d . (n x p) = n . (q x d); least squares in d and q x d, with |d| = 1.
fn torus(facets: &Facets<'_>, patch: &[u32], points: &[Point3<f64>]) -> Option<Surface> {
    let middle = mean(points);
    let (mut dd, mut dm, mut mm) = (Matrix3::zeros(), Matrix3::zeros(), Matrix3::zeros());
    for &facet in patch.iter().take(MOST_POINTS) {
        let (centre, shape) = (facets.centre(facet), &facets.shape[facet as usize]);
        let (normal, area_mm2) = (shape.normal, shape.area_mm2);
        let a = normal.cross(&(centre - middle));
        let b = -normal;
        dd += a * a.transpose() * area_mm2;
        dm += a * b.transpose() * area_mm2;
        mm += b * b.transpose() * area_mm2;
    }
    let inverse = mm.try_inverse()?;
    let axis = least_direction(dd - dm * inverse * dm.transpose())?;
    let moment = -(inverse * dm.transpose() * axis);
    let on_axis = middle + axis.cross(&moment);
    let section = points.iter().map(|p| {
        let (height, reach, _) = about(&on_axis, &axis, p);
        [reach, height]
    });
    let ([major, height], minor) = circle(section)?;
    let surface = Surface::Torus {
        centre: on_axis + axis * height,
        axis,
        major: major.abs(),
        minor,
    };
    surface.is_sound().then_some(surface)
}

/// Centre and radius of the circle through points of a plane.
///
/// # Source
/// The algebraic fit: x^2 + y^2 = 2 a x + 2 b y + c is linear in a, b and c (own derivation).
fn circle(points: impl Iterator<Item = [f64; 2]>) -> Option<([f64; 2], f64)> {
    let (mut matrix, mut side) = (Matrix3::zeros(), Vec3::zeros());
    for [x, y] in points {
        let row = Vec3::new(x, y, 1.0);
        matrix += row * row.transpose();
        side += row * (x * x + y * y);
    }
    let found = matrix.lu().solve(&side)?;
    let (a, b) = (found.x / 2.0, found.y / 2.0);
    let square = found.z + a * a + b * b;
    (square > 0.0 && square.is_finite()).then(|| ([a, b], square.sqrt()))
}
