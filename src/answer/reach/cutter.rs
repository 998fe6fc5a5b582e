//! Where a cutter touches a surface: tip positions relative to a point, from the surface's normal.

use crate::setup::model::{Profile, ProfileRing};
use crate::value::Vec3;

/// A component of a normal below this counts as none: a wall is upright, a floor level.
const LEVEL: f64 = 1e-9;

/// Two rings whose reach toward a surface differs by no more than this touch it both.
const TIE_MM: f64 = 1e-6;

/// Tip positions, relative to a point of the surface, at which the flutes touch that point.
#[derive(Debug, Clone, PartialEq)]
pub enum Contacts {
    /// The surface looks away from the spindle.
    None,
    /// One position.
    One(Vec3),
    /// All positions between two: a cone lies on the surface along a line.
    Line(Vec3, Vec3),
    /// All positions within a disc across the axis: the flat end lies on the surface.
    Disc {
        /// Centre.
        centre: Vec3,
        /// Radius.
        radius_mm: f64,
    },
}

/// Where flutes touch a surface with outward unit normal `normal`, in a frame whose z points to
/// the spindle.
///
/// # Guarantees
/// At each position the convex hull of the flutes has the tangent plane as a support plane. For a
/// wall the highest of all positions is given: whatever a lower one reaches, this one does,
/// as every other gap only grows on the way up.
///
/// # Source
/// Own derivation: support point of a solid of revolution in the direction `-normal`.
#[must_use]
pub fn contacts(flutes: &Profile, normal: &Vec3) -> Contacts {
    let across = normal.xy().norm();
    if normal.z < -LEVEL || flutes.pieces.is_empty() {
        return Contacts::None;
    }
    let upright = normal.z <= LEVEL;
    let axial = if upright { 0.0 } else { normal.z };
    let reach = |ring: &ProfileRing| ring.radius_mm * across - ring.height_mm * axial + ring.ball_mm;
    let rings = || flutes.pieces.iter().flat_map(|piece| &piece.rings);
    let farthest = rings().map(reach).fold(f64::NEG_INFINITY, f64::max);
    let mut touching: Vec<ProfileRing> = rings()
        .filter(|ring| reach(ring) >= farthest - TIE_MM)
        .copied()
        .collect();
    touching.sort_by(|a, b| a.height_mm.total_cmp(&b.height_mm));
    let toward = if across > LEVEL {
        Vec3::new(normal.x / across, normal.y / across, 0.0)
    } else {
        Vec3::zeros()
    };
    let tip = |ring: &ProfileRing| {
        toward * ring.radius_mm - Vec3::z() * ring.height_mm + normal * ring.ball_mm
    };
    let (lowest, highest) = (touching[0], touching[touching.len() - 1]);
    if across <= LEVEL {
        let level = touching
            .iter()
            .map(|ring| ring.radius_mm)
            .fold(0.0, f64::max);
        let centre = tip(&ProfileRing {
            radius_mm: 0.0,
            ..lowest
        });
        return if level > 0.0 {
            Contacts::Disc {
                centre,
                radius_mm: level,
            }
        } else {
            Contacts::One(centre)
        };
    }
    let (first, last) = (tip(&lowest), tip(&highest));
    if upright || (first - last).norm() <= TIE_MM {
        Contacts::One(first)
    } else {
        Contacts::Line(first, last)
    }
}

/// Radii and heights that a tool group surely fills on its way down: sorted by radius, the height
/// never falling. A point at distance `d` from the axis is hit where it stands at least
/// `height(d)` over the tip.
#[derive(Debug, Clone, Default)]
pub struct Fill {
    steps: Vec<Step>,
    /// For each width of [`TABLE_MM`] of distance, the first step that fills all of it.
    table: Vec<u32>,
}

/// Width of a row of the table of distances.
const TABLE_MM: f64 = 0.05;

#[derive(Debug, Clone, Copy)]
struct Step {
    radius_mm: f64,
    height_mm: f64,
    element: usize,
}

/// Points on each generator between two rings.
const ON_GENERATOR: usize = 8;

impl Fill {
    /// Adds an element: its profile shifted up by `up_mm`, grown all round by `grown_mm`.
    pub fn add(&mut self, profile: &Profile, up_mm: f64, grown_mm: f64, element: usize) {
        for piece in &profile.pieces {
            let mut points: Vec<(f64, f64)> = Vec::new();
            for ring in &piece.rings {
                let ball_mm = ring.ball_mm + grown_mm;
                for eighth in 0..=ON_GENERATOR {
                    let angle = std::f64::consts::FRAC_PI_2 * eighth as f64 / ON_GENERATOR as f64;
                    let (sin, cos) = angle.sin_cos();
                    points.push((
                        ring.radius_mm + ball_mm * sin,
                        up_mm + ring.height_mm - ball_mm * cos,
                    ));
                }
            }
            for pair in piece.rings.windows(2) {
                for part in 1..ON_GENERATOR {
                    let share = part as f64 / ON_GENERATOR as f64;
                    let mix = |a: f64, b: f64| a + (b - a) * share;
                    points.push((
                        mix(pair[0].radius_mm, pair[1].radius_mm),
                        up_mm + mix(pair[0].height_mm, pair[1].height_mm),
                    ));
                }
            }
            self.steps.extend(points.into_iter().map(|(radius_mm, height_mm)| Step {
                radius_mm,
                height_mm,
                element,
            }));
        }
    }

    /// Puts the steps in order; call once, after the last element.
    #[must_use]
    pub fn sorted(mut self) -> Self {
        self.steps
            .sort_by(|a, b| b.radius_mm.total_cmp(&a.radius_mm));
        let mut lowest = f64::INFINITY;
        self.steps.retain(|step| {
            let lower = step.height_mm < lowest;
            lowest = lowest.min(step.height_mm);
            lower
        });
        self.steps.reverse();
        let rows = (self.radius_mm() / TABLE_MM) as usize + 1;
        let first_beyond = |distance_mm: f64| {
            let from = self.steps.partition_point(|step| step.radius_mm < distance_mm);
            from as u32
        };
        self.table = (0..rows)
            .map(|row| first_beyond((row + 1) as f64 * TABLE_MM))
            .collect();
        self
    }

    /// Greatest radius.
    #[must_use]
    pub fn radius_mm(&self) -> f64 {
        self.steps.last().map_or(0.0, |step| step.radius_mm)
    }

    /// Height over the tip from which a point at this distance from the axis is surely hit, and by
    /// which element; `None` near the greatest radius and beyond it.
    ///
    /// # Guarantees
    /// Never lower than where the point is really hit; higher by what the profile rises in
    /// 0.05 mm.
    #[must_use]
    pub fn at(&self, distance_mm: f64) -> Option<(f64, usize)> {
        let row = (distance_mm / TABLE_MM) as usize;
        let step = self.steps.get(*self.table.get(row)? as usize)?;
        Some((step.height_mm, step.element))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::setup::model::ProfilePiece;

    fn profile(rings: &[(f64, f64, f64)]) -> Profile {
        let rings = rings
            .iter()
            .map(|&(radius_mm, height_mm, ball_mm)| ProfileRing {
                radius_mm,
                height_mm,
                ball_mm,
            })
            .collect();
        Profile {
            pieces: vec![ProfilePiece { rings }],
            chord_allowance_mm: 0.0,
        }
    }

    #[test]
    fn ball_touches_a_slope_with_its_centre_one_radius_off() {
        let ball = profile(&[(0.0, 5.0, 5.0), (5.0, 30.0, 0.0)]);
        let normal = Vec3::new(0.6, 0.0, 0.8);
        // Centre at 5 n over the point, tip 5 below the centre.
        assert_eq!(
            contacts(&ball, &normal),
            Contacts::One(Vec3::new(3.0, 0.0, -1.0))
        );
    }

    #[test]
    fn flat_end_covers_a_floor_and_touches_a_slope_with_its_rim() {
        let flat = profile(&[(6.0, 0.0, 0.0), (6.0, 30.0, 0.0)]);
        assert_eq!(
            contacts(&flat, &Vec3::z()),
            Contacts::Disc {
                centre: Vec3::zeros(),
                radius_mm: 6.0
            }
        );
        assert_eq!(
            contacts(&flat, &Vec3::new(0.0, 0.8, 0.6)),
            Contacts::One(Vec3::new(0.0, 6.0, 0.0))
        );
        assert_eq!(
            contacts(&flat, &Vec3::new(-1.0, 0.0, 0.0)),
            Contacts::One(Vec3::new(-6.0, 0.0, 0.0))
        );
        assert_eq!(contacts(&flat, &Vec3::new(0.0, 0.8, -0.6)), Contacts::None);
    }

    #[test]
    fn cone_lies_on_a_chamfer_of_its_own_angle() {
        let cone = profile(&[(0.0, 0.0, 0.0), (6.0, 6.0, 0.0)]);
        let normal = Vec3::new(1.0, 0.0, 1.0).normalize();
        let Contacts::Line(first, last) = contacts(&cone, &normal) else {
            panic!("a line was expected");
        };
        assert_eq!(first, Vec3::zeros());
        assert_eq!(last, Vec3::new(6.0, 0.0, -6.0));
    }

    #[test]
    fn fill_rises_with_the_radius() {
        let mut fill = Fill::default();
        fill.add(&profile(&[(6.0, 0.0, 0.0), (6.0, 30.0, 0.0)]), 0.0, 0.0, 0);
        fill.add(&profile(&[(20.0, 0.0, 0.0), (20.0, 60.0, 0.0)]), 40.0, 2.0, 1);
        let fill = fill.sorted();
        assert_eq!(fill.at(0.0), Some((0.0, 0)));
        assert_eq!(fill.at(5.94), Some((0.0, 0)));
        assert_eq!(fill.at(6.1), Some((38.0, 1)));
        assert_eq!(fill.at(19.94), Some((38.0, 1)));
        assert!(fill.at(21.8).is_some_and(|(height, _)| height > 38.5));
        assert_eq!(fill.at(22.1), None);
    }
}
