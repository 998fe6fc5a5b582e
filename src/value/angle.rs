//! Angles in degrees, exact at multiples of 90 degrees.

/// Cosine and sine of an angle in degrees, exact at every multiple of 90 degrees.
///
/// # Guarantees
/// Quarter turns give exactly 0, 1 or -1, so that a carrier turned four times by 90 degrees is
/// back where it began, to the last bit. Elsewhere the error is that of `f64::sin_cos`.
#[must_use]
pub fn cos_sin_deg(angle_deg: f64) -> (f64, f64) {
    let reduced_deg = angle_deg.rem_euclid(360.0);
    match reduced_deg {
        0.0 | 360.0 => (1.0, 0.0),
        90.0 => (0.0, 1.0),
        180.0 => (-1.0, 0.0),
        270.0 => (0.0, -1.0),
        _ => {
            let (sin, cos) = reduced_deg.to_radians().sin_cos();
            (cos, sin)
        }
    }
}

/// The same angle within [0, 360).
#[must_use]
pub fn wrap_deg(angle_deg: f64) -> f64 {
    let wrapped = angle_deg.rem_euclid(360.0);
    if wrapped >= 360.0 { 0.0 } else { wrapped + 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quarter_turns_are_exact() {
        assert_eq!(cos_sin_deg(0.0), (1.0, 0.0));
        assert_eq!(cos_sin_deg(90.0), (0.0, 1.0));
        assert_eq!(cos_sin_deg(-90.0), (0.0, -1.0));
        assert_eq!(cos_sin_deg(540.0), (-1.0, 0.0));
        let (cos, sin) = cos_sin_deg(30.0);
        assert!((cos - 0.75_f64.sqrt()).abs() < 1e-15 && (sin - 0.5).abs() < 1e-15);
    }

    #[test]
    fn wrapping_keeps_the_angle() {
        assert_eq!(wrap_deg(-90.0), 270.0);
        assert_eq!(wrap_deg(720.0), 0.0);
        assert_eq!(wrap_deg(-1e-300), 0.0);
    }
}
