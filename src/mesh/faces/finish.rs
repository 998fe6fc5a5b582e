//! Regions to faces: sizes, names, and the order of the mesh again.

use super::extent::{Extent, extent};
use super::geo::Geo;
use super::mend::{Mended, Piece};
use super::surface::Surface;
use super::{Face, FaceForm};
use crate::mesh::weld::index_u32;
use crate::value::Vec3;
use nalgebra::Point3;

/// Lengths are rounded to this where names are given: finer than any two faces are apart, coarser
/// than what another export changes.
const NAME_GRAIN_MM: f64 = 0.01;

/// Faces in the order of their names, and the face of each triangle of the mesh.
pub(super) fn finish(geo: &Geo, mended: Mended) -> (Vec<Face>, Vec<u32>) {
    let Mended { pieces, others } = mended;
    let mut faces: Vec<Face> = pieces.into_iter().map(|piece| known(geo, piece)).collect();
    faces.extend(others.into_iter().map(|triangles| other(geo, triangles)));
    faces.sort_by_cached_key(|face| (rank(&face.form), place(face), face.triangles[0]));
    let mut counts = [0_u32; 6];
    let mut face_of_triangle = vec![0; geo.len()];
    for (index, face) in faces.iter_mut().enumerate() {
        let count = &mut counts[rank(&face.form)];
        *count += 1;
        face.name = format!("{}-{count}", face.form.kind());
        for triangle in &mut face.triangles {
            *triangle = geo.canon.original[*triangle as usize];
            face_of_triangle[*triangle as usize] = index_u32(index);
        }
        face.triangles.sort_unstable();
    }
    (faces, face_of_triangle)
}

const fn rank(form: &FaceForm) -> usize {
    match form {
        FaceForm::Flat { .. } => 0,
        FaceForm::Cylinder { .. } => 1,
        FaceForm::Cone { .. } => 2,
        FaceForm::Torus { .. } => 3,
        FaceForm::Sphere { .. } => 4,
        FaceForm::Other => 5,
    }
}

/// From the top down, then along y and x, the larger first.
fn place(face: &Face) -> [i64; 4] {
    let grains = |length: f64| (length / NAME_GRAIN_MM).round() as i64;
    let centre = face.centre;
    [
        -grains(centre.z),
        grains(centre.y),
        grains(centre.x),
        -grains(face.area_mm2),
    ]
}

fn other(geo: &Geo, triangles: Vec<u32>) -> Face {
    let (area_mm2, centre) = centre(geo, &triangles);
    let form = FaceForm::Other;
    Face {
        name: String::new(),
        form,
        triangles,
        area_mm2,
        fit_error_mm: 0.0,
        centre,
    }
}

fn known(geo: &Geo, piece: Piece) -> Face {
    let Piece {
        surface,
        mut triangles,
        hollow,
        fit_error_mm,
    } = piece;
    triangles.sort_unstable();
    let (area_mm2, centre) = centre(geo, &triangles);
    let form = form(geo, &surface, &triangles, hollow, centre);
    Face {
        name: String::new(),
        form,
        triangles,
        area_mm2,
        fit_error_mm,
        centre,
    }
}

fn centre(geo: &Geo, triangles: &[u32]) -> (f64, Point3<f64>) {
    let (mut area_mm2, mut moment) = (0.0, Vec3::zeros());
    for &triangle in triangles {
        let area = geo.shape[triangle as usize].area_mm2;
        area_mm2 += area;
        moment += geo.centre(triangle).coords * area;
    }
    (
        area_mm2,
        Point3::from(moment / area_mm2.max(f64::MIN_POSITIVE)),
    )
}

/// The same axis, always told the same way round.
pub(in crate::mesh) fn upward(axis: Vec3) -> Vec3 {
    let first = axis.iter().find(|x| x.abs() > 1e-6);
    let axis = if first.is_some_and(|x| *x < 0.0) {
        -axis
    } else {
        axis
    };
    // No zero with a sign.
    axis.map(|x| x + 0.0)
}

const fn flat(point: Point3<f64>, normal: Vec3) -> FaceForm {
    FaceForm::Flat { point, normal }
}

fn reach(geo: &Geo, triangles: &[u32], axis: (Point3<f64>, Vec3)) -> Extent {
    let piece = |t: &u32| geo.corners(*t).into_iter().map(|corner| (corner, true));
    extent(triangles.iter().map(piece), axis, 1e-3)
}

fn form(
    geo: &Geo,
    surface: &Surface,
    triangles: &[u32],
    hollow: bool,
    centre: Point3<f64>,
) -> FaceForm {
    let reach = |axis: (Point3<f64>, Vec3)| reach(geo, triangles, axis);
    match *surface {
        Surface::Plane { normal, .. } => flat(centre, normal),
        Surface::Cylinder {
            point,
            axis,
            radius,
        } => {
            let direction = upward(axis);
            let reach = reach((point, direction));
            FaceForm::Cylinder {
                point: point + direction * reach.low_mm,
                direction,
                radius_mm: radius,
                length_mm: reach.high_mm - reach.low_mm,
                turn_deg: reach.turn_deg,
                hollow,
            }
        }
        Surface::Cone {
            point,
            axis,
            radius,
            half_angle,
        } => {
            // A negative angle narrows along the axis.
            let direction = if half_angle < 0.0 { -axis } else { axis };
            let half_angle = half_angle.abs();
            let apex = point - direction * (radius / half_angle.tan());
            let reach = reach((apex, direction));
            FaceForm::Cone {
                apex,
                direction,
                half_angle_deg: half_angle.to_degrees(),
                from_mm: reach.low_mm,
                to_mm: reach.high_mm,
                turn_deg: reach.turn_deg,
                hollow,
            }
        }
        Surface::Torus {
            centre,
            axis,
            major,
            minor,
        } => {
            let direction = upward(axis);
            FaceForm::Torus {
                centre,
                direction,
                major_radius_mm: major,
                minor_radius_mm: minor,
                turn_deg: reach((centre, direction)).turn_deg,
                hollow,
            }
        }
        Surface::Sphere { centre, radius } => FaceForm::Sphere {
            centre,
            radius_mm: radius,
            hollow,
        },
    }
}
