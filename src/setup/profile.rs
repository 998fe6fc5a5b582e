//! Solids of revolution from `[radius, height]` points, cut into convex pieces.

use super::model::{ProfilePiece, ProfileRing};

/// A ring without a ball.
pub(super) const fn ring(radius_mm: f64, height_mm: f64) -> ProfileRing {
    ProfileRing {
        radius_mm,
        height_mm,
        ball_mm: 0.0,
    }
}

/// A cylinder or cone between two heights; none where it has no volume.
pub(super) fn frustum(low: (f64, f64), high: (f64, f64)) -> Option<ProfilePiece> {
    let [(low_radius_mm, low_mm), (high_radius_mm, high_mm)] = [low, high];
    let has_volume = high_mm > low_mm && (low_radius_mm > 0.0 || high_radius_mm > 0.0);
    has_volume.then(|| ProfilePiece {
        rings: vec![ring(low_radius_mm, low_mm), ring(high_radius_mm, high_mm)],
    })
}

/// Convex pieces whose union is the solid under a line of `(radius, height)` points of rising
/// height.
///
/// # Guarantees
/// Frusta are joined only where the line is concave from end to end, so that their hull adds
/// nothing.
pub(super) fn pieces(points: &[(f64, f64)]) -> Vec<ProfilePiece> {
    let mut pieces: Vec<ProfilePiece> = Vec::new();
    for pair in points.windows(2) {
        let Some(piece) = frustum(pair[0], pair[1]) else {
            continue;
        };
        match pieces.last_mut() {
            Some(last) if joins(last, &piece) => last.rings.push(piece.rings[1]),
            _ => pieces.push(piece),
        }
    }
    pieces
}

/// Whether the hull of two pieces on each other is their union.
fn joins(below: &ProfilePiece, above: &ProfilePiece) -> bool {
    let [.., before, seam] = below.rings.as_slice() else {
        return false;
    };
    let (start, end) = (above.rings[0], above.rings[1]);
    let meets = seam.radius_mm == start.radius_mm && seam.height_mm == start.height_mm;
    let slope = |from: ProfileRing, to: ProfileRing| {
        (to.radius_mm - from.radius_mm) / (to.height_mm - from.height_mm)
    };
    meets && slope(start, end) <= slope(*before, *seam)
}

/// The part of a line of points below a height.
pub(super) fn below(points: &[(f64, f64)], limit_mm: f64) -> Vec<(f64, f64)> {
    let mut kept: Vec<(f64, f64)> = Vec::new();
    for &(radius_mm, height_mm) in points {
        if height_mm <= limit_mm {
            kept.push((radius_mm, height_mm));
            continue;
        }
        if let Some(&(last_radius_mm, last_mm)) = kept.last()
            && last_mm < limit_mm
        {
            let share = (limit_mm - last_mm) / (height_mm - last_mm);
            kept.push((
                last_radius_mm + share * (radius_mm - last_radius_mm),
                limit_mm,
            ));
        }
        break;
    }
    kept
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Volume of a stack of frusta: pi h (a^2 + ab + b^2) / 3 each.
    fn volume_mm3(pieces: &[ProfilePiece]) -> f64 {
        let frustum = |pair: &[ProfileRing]| {
            let (a, b) = (pair[0].radius_mm, pair[1].radius_mm);
            let height_mm = pair[1].height_mm - pair[0].height_mm;
            std::f64::consts::PI * height_mm * (a * a + a * b + b * b) / 3.0
        };
        pieces
            .iter()
            .flat_map(|piece| piece.rings.windows(2).map(frustum))
            .sum()
    }

    #[test]
    fn steps_split_and_concave_lines_join() {
        // A stud with a flange: cylinder, step out, cylinder, step in, cylinder.
        let stud = pieces(&[
            (5.0, 0.0),
            (5.0, 10.0),
            (8.0, 10.0),
            (8.0, 12.0),
            (5.0, 12.0),
            (5.0, 30.0),
        ]);
        assert_eq!(stud.len(), 3);
        let expected = std::f64::consts::PI * (25.0 * 28.0 + 64.0 * 2.0);
        assert!((volume_mm3(&stud) - expected).abs() < 1e-9);
        // A cone growing ever more slowly is one convex piece; an hourglass is two.
        assert_eq!(
            pieces(&[(0.0, 0.0), (4.0, 2.0), (5.0, 6.0), (5.0, 9.0)]).len(),
            1
        );
        assert_eq!(pieces(&[(5.0, 0.0), (3.0, 4.0), (5.0, 8.0)]).len(), 2);
    }

    #[test]
    fn steep_taper_has_the_size_of_the_standard() {
        // ISO 7388-1, from memory: taper 7:24, gauge diameter 44.45, 65.4 long; small end 25.375.
        let small = 44.45 - 65.4 * 7.0 / 24.0;
        assert!((small - 25.375_f64).abs() < 1e-12);
        let taper = pieces(&[(44.45 / 2.0, 0.0), (small / 2.0, 65.4)]);
        assert_eq!(taper.len(), 1);
        let (a, b) = (22.225_f64, 12.6875_f64);
        let expected = std::f64::consts::PI * 65.4 * (a * a + a * b + b * b) / 3.0;
        assert!((volume_mm3(&taper) - expected).abs() < 1e-9);
    }

    #[test]
    fn cutting_off_keeps_what_is_below() {
        let cone = [(0.0, 0.0), (10.0, 10.0), (12.0, 10.0), (12.0, 20.0)];
        assert_eq!(below(&cone, 5.0), [(0.0, 0.0), (5.0, 5.0)]);
        assert_eq!(below(&cone, 10.0), [(0.0, 0.0), (10.0, 10.0), (12.0, 10.0)]);
        assert_eq!(below(&cone, 99.0), cone);
    }
}
