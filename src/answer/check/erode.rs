//! A cutter made smaller all round by the gouge tolerance: what must stay out of the part.

use crate::setup::model::{Profile, ProfilePiece, ProfileRing};

/// The profile less a skin of thickness `depth_mm` on its sides and its lowest end.
///
/// The upper end of each piece and the joints between pieces stay where they are. `None` where
/// nothing is left, or nothing of a slim piece.
///
/// # Guarantees
/// Every point of the result is at least `depth_mm` inside the sides and the bottom of the
/// piece that it comes from, and no more than that is taken off (rings with a ball lose it from
/// the ball).
#[must_use]
pub fn eroded(profile: &Profile, depth_mm: f64) -> Option<Profile> {
    let lowest_mm = profile
        .pieces
        .iter()
        .flat_map(|piece| &piece.rings)
        .map(|ring| ring.height_mm - ring.ball_mm)
        .fold(f64::INFINITY, f64::min);
    let mut pieces: Vec<ProfilePiece> = Vec::new();
    for piece in &profile.pieces {
        match eroded_piece(piece, depth_mm, lowest_mm) {
            Some(left) => pieces.push(left),
            // A slim piece that is gone would be held against nothing.
            None if height_mm(piece) > FLAT_PIECE * depth_mm => return None,
            None => {}
        }
    }
    let chord_allowance_mm = profile.chord_allowance_mm;
    (!pieces.is_empty()).then_some(Profile {
        pieces,
        chord_allowance_mm,
    })
}

/// A piece no higher than this many times the depth may vanish: all of it lies within a few depths
/// of its neighbours, which stay. A higher one is slimmer than the depth, and must not.
const FLAT_PIECE: f64 = 4.0;

fn height_mm(piece: &ProfilePiece) -> f64 {
    let top = |ring: &ProfileRing| ring.height_mm + ring.ball_mm;
    let bottom = |ring: &ProfileRing| ring.height_mm - ring.ball_mm;
    piece
        .rings
        .iter()
        .map(top)
        .fold(f64::NEG_INFINITY, f64::max)
        - piece.rings.iter().map(bottom).fold(f64::INFINITY, f64::min)
}

fn eroded_piece(piece: &ProfilePiece, depth_mm: f64, lowest_mm: f64) -> Option<ProfilePiece> {
    let mut rings = piece.rings.clone();
    rings.sort_by(|a, b| a.height_mm.total_cmp(&b.height_mm));
    if rings.iter().any(|ring| ring.ball_mm > 0.0) {
        return eroded_round(&rings, depth_mm);
    }
    let is_lowest = rings[0].height_mm <= lowest_mm + 1e-9;
    eroded_polygon(&rings, depth_mm, is_lowest)
}

/// Balls shrink in place; sharp rings move inward. `None` where a ring is smaller than the depth: a
/// hull without it would leave out more than the skin.
fn eroded_round(rings: &[ProfileRing], depth_mm: f64) -> Option<ProfilePiece> {
    let shrunk = rings.iter().map(|ring| {
        // Not by a difference of differences: its rounding once took the whole ball away.
        let ball_mm = (ring.ball_mm - depth_mm).max(0.0);
        let radius_mm = ring.radius_mm - (depth_mm - ring.ball_mm).max(0.0);
        (radius_mm >= 0.0).then_some(ProfileRing {
            radius_mm,
            ball_mm,
            ..*ring
        })
    });
    let rings = shrunk.collect::<Option<Vec<ProfileRing>>>()?;
    Some(ProfilePiece { rings })
}

/// A line `normal . (r, z) = offset` of the half section.
#[derive(Clone, Copy)]
struct Side {
    normal: [f64; 2],
    offset: f64,
}

/// Every side line of the convex half section moved inward, cut with the next.
fn eroded_polygon(rings: &[ProfileRing], depth_mm: f64, is_lowest: bool) -> Option<ProfilePiece> {
    let bottom_mm = rings[0].height_mm;
    let top_mm = rings[rings.len() - 1].height_mm;
    let mut sides = Vec::new();
    for pair in rings.windows(2) {
        let rise = [
            pair[1].radius_mm - pair[0].radius_mm,
            pair[1].height_mm - pair[0].height_mm,
        ];
        let length = rise[0].hypot(rise[1]);
        if rise[1] <= 1e-12 || length <= 1e-12 {
            continue;
        }
        let normal = [rise[1] / length, -rise[0] / length];
        let offset = normal[0] * pair[0].radius_mm + normal[1] * pair[0].height_mm - depth_mm;
        sides.push(Side { normal, offset });
    }
    let low_mm = if is_lowest && rings[0].radius_mm > 0.0 {
        bottom_mm + depth_mm
    } else {
        bottom_mm
    };
    let radius_at = |z: f64| {
        let reach = |side: &Side| (side.offset - side.normal[1] * z) / side.normal[0];
        sides.iter().map(reach).fold(f64::INFINITY, f64::min)
    };
    let mut heights = vec![low_mm, top_mm];
    for (index, a) in sides.iter().enumerate() {
        heights.extend(
            sides[index + 1..]
                .iter()
                .filter_map(|b| meeting_height(a, b)),
        );
        if a.normal[1].abs() > 1e-12 {
            heights.push(a.offset / a.normal[1]);
        }
    }
    heights.retain(|z| (low_mm..=top_mm).contains(z));
    heights.sort_by(f64::total_cmp);
    heights.dedup();
    let rings: Vec<ProfileRing> = heights
        .into_iter()
        .map(|z| ProfileRing {
            radius_mm: radius_at(z),
            height_mm: z,
            ball_mm: 0.0,
        })
        .filter(|ring| ring.radius_mm >= -1e-9 && ring.radius_mm.is_finite())
        .map(|ring| ProfileRing {
            radius_mm: ring.radius_mm.max(0.0),
            ..ring
        })
        .collect();
    (!rings.is_empty()).then_some(ProfilePiece { rings })
}

fn meeting_height(a: &Side, b: &Side) -> Option<f64> {
    let determinant = a.normal[0] * b.normal[1] - b.normal[0] * a.normal[1];
    (determinant.abs() > 1e-12)
        .then(|| (a.normal[0] * b.offset - b.normal[0] * a.offset) / determinant)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ring(radius_mm: f64, height_mm: f64, ball_mm: f64) -> ProfileRing {
        ProfileRing {
            radius_mm,
            height_mm,
            ball_mm,
        }
    }

    fn profile(pieces: Vec<Vec<ProfileRing>>) -> Profile {
        let pieces = pieces
            .into_iter()
            .map(|rings| ProfilePiece { rings })
            .collect();
        Profile {
            pieces,
            chord_allowance_mm: 0.0,
        }
    }

    #[test]
    fn cylinder_loses_side_and_bottom() {
        let cutter = profile(vec![vec![ring(6.0, 0.0, 0.0), ring(6.0, 30.0, 0.0)]]);
        let small = eroded(&cutter, 0.25).unwrap();
        assert_eq!(
            small.pieces[0].rings,
            vec![ring(5.75, 0.25, 0.0), ring(5.75, 30.0, 0.0)]
        );
        assert!(eroded(&cutter, 6.5).is_none());
    }

    #[test]
    fn drill_point_moves_up_by_depth_over_sine() {
        let half_angle = 59.0_f64.to_radians();
        let point_mm = 2.5 / half_angle.tan();
        let drill = profile(vec![
            vec![ring(0.0, 0.0, 0.0), ring(2.5, point_mm, 0.0)],
            vec![ring(2.5, point_mm, 0.0), ring(2.5, 40.0, 0.0)],
        ]);
        let small = eroded(&drill, 0.1).unwrap();
        let tip = small.pieces[0].rings[0];
        assert!((tip.height_mm - 0.1 / half_angle.sin()).abs() < 1e-12 && tip.radius_mm < 1e-12);
        assert_eq!(small.pieces[1].rings[0], ring(2.4, point_mm, 0.0));
    }

    #[test]
    fn a_slim_pilot_is_not_forgotten_beside_a_thick_body() {
        let stepped = profile(vec![
            vec![ring(0.2, 0.0, 0.0), ring(0.2, 10.0, 0.0)],
            vec![ring(5.0, 10.0, 0.0), ring(5.0, 30.0, 0.0)],
        ]);
        assert!(eroded(&stepped, 0.3).is_none());
        assert_eq!(eroded(&stepped, 0.1).unwrap().pieces.len(), 2);
    }

    #[test]
    fn ball_shrinks_about_its_centre() {
        let ball = profile(vec![vec![ring(0.0, 5.0, 5.0), ring(5.0, 30.0, 0.0)]]);
        let small = eroded(&ball, 0.5).unwrap();
        assert_eq!(
            small.pieces[0].rings,
            vec![ring(0.0, 5.0, 4.5), ring(4.5, 30.0, 0.0)]
        );
    }

    /// Found by the shares of `reach`: `5 - (5 - 0.01)` is not 0.01, and the ball was gone.
    #[test]
    fn no_rounding_takes_a_ball_away() {
        for tenth in 1..200 {
            let radius_mm = f64::from(tenth) * 0.1;
            let ball = profile(vec![vec![
                ring(0.0, radius_mm, radius_mm),
                ring(radius_mm, 40.0, 0.0),
            ]]);
            for depth_mm in [0.01, 0.013, 0.02, 0.031] {
                let small = eroded(&ball, depth_mm).unwrap();
                let tip = small.pieces[0].rings[0];
                assert_eq!((tip.radius_mm, tip.height_mm), (0.0, radius_mm));
                assert!((tip.ball_mm - (radius_mm - depth_mm)).abs() < 1e-12);
            }
        }
        // A corner smaller than the depth: what is left of the side would not hold the rest.
        let small = profile(vec![vec![ring(0.0, 0.005, 0.005), ring(5.0, 20.0, 0.0)]]);
        assert!(eroded(&small, 0.01).is_none());
    }
}
