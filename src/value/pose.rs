//! Rigid poses. A name says both frames: `machine_from_part` takes part to machine coordinates.

use super::angle::cos_sin_deg;
use nalgebra::{IsometryMatrix3, Matrix3, Point3, Rotation3, Translation3, Vector3};

/// A vector in millimetres (or a direction).
pub type Vec3 = Vector3<f64>;

/// A rigid pose with a rotation matrix, so that quarter turns stay exact.
pub type Pose = IsometryMatrix3<f64>;

/// A pure shift.
#[must_use]
pub fn translation(shift_mm: Vec3) -> Pose {
    Pose::from_parts(Translation3::from(shift_mm), Rotation3::identity())
}

/// A right-handed turn by `angle_deg` about the line through `centre` along `direction`.
///
/// # Shapes
/// `direction` is a unit vector.
///
/// # Guarantees
/// For a direction along a coordinate axis, multiples of 90 degrees are exact.
///
/// # Source
/// Rodrigues' rotation formula (own derivation from the projection onto the axis).
#[must_use]
pub fn about_axis(direction: &Vec3, centre: &Point3<f64>, angle_deg: f64) -> Pose {
    let (cos, sin) = cos_sin_deg(angle_deg);
    let cross = direction.cross_matrix();
    let outer = direction * direction.transpose();
    let matrix = Matrix3::identity() * cos + cross * sin + outer * (1.0 - cos);
    let rotation = Rotation3::from_matrix_unchecked(matrix);
    let shift = centre.coords - rotation * centre.coords;
    Pose::from_parts(Translation3::from(shift), rotation)
}

/// The rotation whose z axis is `z` and whose x axis is as near to `x_hint` as it can be.
///
/// # Errors
/// `None` where the two are parallel or one has no length.
#[must_use]
pub fn frame_from_z_and_hint(z: &Vec3, x_hint: &Vec3) -> Option<Rotation3<f64>> {
    let z = z.try_normalize(1e-12)?;
    let x = (x_hint - z * z.dot(x_hint)).try_normalize(1e-9)?;
    let y = z.cross(&x);
    Some(Rotation3::from_matrix_unchecked(Matrix3::from_columns(&[
        x, y, z,
    ])))
}

/// Whether every entry of the rotation is exactly 0, 1 or -1.
#[must_use]
pub fn quarter_turn_exact(rotation: &Rotation3<f64>) -> bool {
    rotation
        .matrix()
        .iter()
        .all(|entry| [0.0, 1.0, -1.0].contains(entry))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn four_quarter_turns_are_identity() {
        let centre = Point3::new(3.0, -7.0, 200.0);
        let turn = about_axis(&Vec3::x(), &centre, 90.0);
        assert_eq!(turn * turn * turn * turn, Pose::identity());
        assert_eq!(
            turn * Point3::new(1.0, -7.0, 250.0),
            Point3::new(1.0, -57.0, 200.0)
        );
    }

    #[test]
    fn general_turn_agrees_with_nalgebra() {
        let axis = nalgebra::Unit::new_normalize(Vec3::new(1.0, 2.0, 3.0));
        let ours = about_axis(&axis, &Point3::origin(), 37.5);
        let theirs = Rotation3::from_axis_angle(&axis, 37.5_f64.to_radians());
        assert!((ours.rotation.matrix() - theirs.matrix()).norm() < 1e-15);
    }

    #[test]
    fn frame_keeps_z() {
        let frame = frame_from_z_and_hint(&Vec3::y(), &Vec3::new(1.0, 5.0, 0.0)).unwrap();
        assert_eq!(frame * Vec3::z(), Vec3::y());
        assert!(frame_from_z_and_hint(&Vec3::y(), &Vec3::y()).is_none());
    }
}
