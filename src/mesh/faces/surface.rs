//! Surfaces that a face may lie on: distance of a point, its change with every size, least squares.

use crate::value::Vec3;
use nalgebra::{Point3, SMatrix, SVector};

/// A surface; directions are unit vectors.
#[derive(Debug, Clone, Copy)]
pub(in crate::mesh) enum Surface {
    Plane {
        point: Point3<f64>,
        normal: Vec3,
    },
    Cylinder {
        point: Point3<f64>,
        axis: Vec3,
        radius: f64,
    },
    /// `radius` at `point`; grows along `axis` for a positive angle (radians).
    Cone {
        point: Point3<f64>,
        axis: Vec3,
        radius: f64,
        half_angle: f64,
    },
    Sphere {
        centre: Point3<f64>,
        radius: f64,
    },
    Torus {
        centre: Point3<f64>,
        axis: Vec3,
        major: f64,
        minor: f64,
    },
}

/// Most sizes that a surface is fitted in.
const MOST: usize = 7;

/// Where a point stands to an axis: height along it, distance, and the unit vector away from it.
pub(in crate::mesh) fn about(
    point: &Point3<f64>,
    axis: &Vec3,
    p: &Point3<f64>,
) -> (f64, f64, Vec3) {
    let offset = p - point;
    let height = offset.dot(axis);
    let away = offset - axis * height;
    let distance = away.norm();
    (height, distance, away / distance.max(1e-12))
}

/// Two unit vectors square to an axis and to each other.
pub(in crate::mesh) fn across(axis: &Vec3) -> [Vec3; 2] {
    let least = axis.abs().imin();
    let u = axis.cross(&Vec3::ith(least, 1.0)).normalize();
    [u, axis.cross(&u)]
}

impl Surface {
    /// Signed distance: positive on the far side of the axis or centre.
    pub(in crate::mesh) fn distance(&self, p: &Point3<f64>) -> f64 {
        match self {
            Self::Plane { point, normal } => (p - point).dot(normal),
            Self::Cylinder {
                point,
                axis,
                radius,
            } => about(point, axis, p).1 - radius,
            Self::Cone {
                point,
                axis,
                radius,
                half_angle,
            } => {
                let (height, distance, _) = about(point, axis, p);
                let (sin, cos) = half_angle.sin_cos();
                (distance - radius) * cos - height * sin
            }
            Self::Sphere { centre, radius } => (p - centre).norm() - radius,
            Self::Torus {
                centre,
                axis,
                major,
                minor,
            } => {
                let (height, distance, _) = about(centre, axis, p);
                ((distance - major).powi(2) + height * height).sqrt() - minor
            }
        }
    }

    /// Unit direction in which the distance grows.
    pub(in crate::mesh) fn gradient(&self, p: &Point3<f64>) -> Vec3 {
        match self {
            Self::Plane { normal, .. } => *normal,
            Self::Cylinder { point, axis, .. } => about(point, axis, p).2,
            Self::Cone {
                point,
                axis,
                half_angle,
                ..
            } => {
                let (sin, cos) = half_angle.sin_cos();
                about(point, axis, p).2 * cos - axis * sin
            }
            Self::Sphere { centre, .. } => (p - centre) / (p - centre).norm().max(1e-12),
            Self::Torus {
                centre,
                axis,
                major,
                ..
            } => {
                let (height, distance, away) = about(centre, axis, p);
                let tube = ((distance - major).powi(2) + height * height)
                    .sqrt()
                    .max(1e-12);
                (away * (distance - major) + axis * height) / tube
            }
        }
    }

    /// Axis, where there is one, with a point of it.
    pub(in crate::mesh) const fn axis(&self) -> Option<(Point3<f64>, Vec3)> {
        match self {
            Self::Cylinder { point, axis, .. } | Self::Cone { point, axis, .. } => {
                Some((*point, *axis))
            }
            Self::Torus { centre, axis, .. } => Some((*centre, *axis)),
            Self::Plane { .. } | Self::Sphere { .. } => None,
        }
    }

    /// Its smaller radius.
    pub(in crate::mesh) fn bend_mm(&self) -> f64 {
        match self {
            Self::Plane { .. } => f64::INFINITY,
            Self::Cylinder { radius, .. } | Self::Sphere { radius, .. } => *radius,
            Self::Cone {
                radius, half_angle, ..
            } => radius / half_angle.cos(),
            Self::Torus { minor, .. } => *minor,
        }
    }

    /// Whether its sizes are finite and make sense.
    pub(in crate::mesh) fn is_sound(&self) -> bool {
        match self {
            Self::Plane { normal, .. } => normal.iter().all(|x| x.is_finite()),
            Self::Cylinder { radius, .. } | Self::Sphere { radius, .. } => {
                *radius > 0.0 && *radius < LARGEST_MM
            }
            Self::Cone {
                radius, half_angle, ..
            } => {
                let angle = half_angle.abs();
                *radius > 0.0 && *radius < LARGEST_MM && (0.004..FLATTEST_RAD).contains(&angle)
            }
            Self::Torus { major, minor, .. } => {
                *major > 0.0 && *minor > 0.0 && *major < LARGEST_MM && *minor < LARGEST_MM
            }
        }
    }

    /// Distance, and its change with each size; tilts and shifts go along `across` the axis.
    fn row(&self, [u, v]: &[Vec3; 2], p: &Point3<f64>) -> (f64, [f64; MOST]) {
        let mut row = [0.0; MOST];
        let distance = self.distance(p);
        match self {
            Self::Plane { .. } => {}
            Self::Cylinder { point, axis, .. } => {
                let (height, _, away) = about(point, axis, p);
                let (eu, ev) = (away.dot(u), away.dot(v));
                row[..5].copy_from_slice(&[-eu, -ev, -height * eu, -height * ev, -1.0]);
            }
            Self::Cone {
                point,
                axis,
                radius,
                half_angle,
            } => {
                let (height, reach, away) = about(point, axis, p);
                let (sin, cos) = half_angle.sin_cos();
                let (eu, ev) = (away.dot(u), away.dot(v));
                let tilt = -(cos * height + sin * reach);
                let turn = -(reach - radius) * sin - height * cos;
                let sizes = [-cos * eu, -cos * ev, tilt * eu, tilt * ev, -cos, turn];
                row[..6].copy_from_slice(&sizes);
            }
            Self::Sphere { .. } => {
                let away = self.gradient(p);
                row[..4].copy_from_slice(&[-away.x, -away.y, -away.z, -1.0]);
            }
            Self::Torus {
                centre,
                axis,
                major,
                minor,
            } => {
                let (height, reach, away) = about(centre, axis, p);
                let tube = (distance + minor).max(1e-12);
                let (a, b) = ((reach - major) / tube, height / tube);
                let (eu, ev) = (away.dot(u), away.dot(v));
                let tilt = b * reach - a * height;
                row = [-a * eu, -a * ev, -b, tilt * eu, tilt * ev, -a, -1.0];
            }
        }
        (distance, row)
    }

    /// The same surface with its sizes changed.
    fn changed(&self, [u, v]: &[Vec3; 2], by: &SVector<f64, MOST>) -> Self {
        let shift = |p: &Point3<f64>| p + u * by[0] + v * by[1];
        let tilt = |axis: &Vec3, a: f64, b: f64| (axis + u * a + v * b).normalize();
        match self {
            Self::Plane { .. } => *self,
            Self::Cylinder {
                point,
                axis,
                radius,
            } => Self::Cylinder {
                point: shift(point),
                axis: tilt(axis, by[2], by[3]),
                radius: radius + by[4],
            },
            Self::Cone {
                point,
                axis,
                radius,
                half_angle,
            } => Self::Cone {
                point: shift(point),
                axis: tilt(axis, by[2], by[3]),
                radius: radius + by[4],
                half_angle: half_angle + by[5],
            },
            Self::Sphere { centre, radius } => Self::Sphere {
                centre: centre + Vec3::new(by[0], by[1], by[2]),
                radius: radius + by[3],
            },
            Self::Torus {
                centre,
                axis,
                major,
                minor,
            } => Self::Torus {
                centre: shift(centre) + axis * by[2],
                axis: tilt(axis, by[3], by[4]),
                major: major + by[5],
                minor: minor + by[6],
            },
        }
    }

    /// The surface of this kind nearest to the points in the sense of least squares; given up
    /// early where points stay farther off than `hopeless_mm`.
    ///
    /// # Source
    /// Levenberg and Marquardt's damped least squares, from memory.
    pub(in crate::mesh) fn refined(&self, points: &[Point3<f64>], hopeless_mm: f64) -> Self {
        let mut best = *self;
        let mut square = square_sum(&best, points);
        let mut damping = 1e-6;
        let worst = points.len() as f64 * hopeless_mm * hopeless_mm;
        for count in 0..STEPS {
            let frame = across(&best.axis().map_or_else(Vec3::z, |(_, axis)| axis));
            let mut matrix = SMatrix::<f64, MOST, MOST>::zeros();
            let mut side = SVector::<f64, MOST>::zeros();
            for point in points {
                let (distance, row) = best.row(&frame, point);
                let row = SVector::<f64, MOST>::from(row);
                matrix.ger(1.0, &row, &row, 1.0);
                side.axpy(-distance, &row, 1.0);
            }
            let mut better = None;
            for _ in 0..4 {
                let mut damped = matrix;
                for k in 0..MOST {
                    damped[(k, k)] += damping * matrix[(k, k)] + 1e-12;
                }
                let step = damped.cholesky().map(|factors| factors.solve(&side));
                let trial = step.map(|step| best.changed(&frame, &step));
                let trial = trial.filter(Self::is_sound);
                let gained = trial.map(|trial| (trial, square_sum(&trial, points)));
                better = gained.filter(|(_, found)| *found < square);
                if better.is_some() {
                    damping *= 0.1;
                    break;
                }
                damping = (damping * 30.0).max(1e-9);
            }
            let Some((surface, found)) = better else {
                break;
            };
            let converged = found > square * 0.999_9 || found < 1e-16 * points.len() as f64;
            // Another form will fit; this one comes nearer too slowly.
            let hopeless = count >= 3 && found > worst && found > square * 0.5;
            (best, square) = (surface, found);
            if converged || hopeless {
                break;
            }
        }
        best
    }
}

/// Sizes beyond this are those of a plane, whatever the fit says.
const LARGEST_MM: f64 = 1.0e5;

/// Cones flatter than this (83 degrees) are bent planes: drill points end at 80.
const FLATTEST_RAD: f64 = 1.45;

/// Most steps of a fit; from a fair start five are enough, and what needs more is another form.
const STEPS: usize = 20;

fn square_sum(surface: &Surface, points: &[Point3<f64>]) -> f64 {
    points.iter().map(|p| surface.distance(p).powi(2)).sum()
}
