//! Where to look from, in the table frame.

use lapidary::answer::scene::Scene;
use lapidary::value::Vec3;
use nalgebra::Point3;

/// A place to look from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum View {
    /// From the side of the operator and the spindle, from above.
    Corner,
    /// Along the tool axis, from the spindle.
    Spindle,
    /// Along the rotary axis, from its far end: as the dial shows it.
    RotaryAxis,
    /// Across spindle and rotary axis.
    Operator,
}

/// The directions of a machine that a view needs, all of length 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sides {
    /// From the tip to the spindle.
    pub spindle: Vec3,
    /// Along the rotary axis.
    pub rotary: Vec3,
    /// To the operator: across both.
    pub operator: Vec3,
    /// Up in the picture.
    pub up: Vec3,
}

impl Sides {
    /// The sides of a setup's machine.
    ///
    /// Up is the rotary axis where that is Y (a horizontal spindle with a B axis), else the
    /// spindle. Common practice, no source: a machine file does not say where up is, so it can be
    /// changed in the window.
    #[must_use]
    pub fn of(scene: &Scene<'_>) -> Self {
        let spindle = scene.kinematics.spindle();
        let rotary = scene.setup.machine.rotary.direction;
        let operator = (-spindle.cross(&rotary))
            .try_normalize(1e-6)
            .unwrap_or_else(|| any_across(&spindle));
        let across = spindle.dot(&rotary).abs() < 0.7;
        let up = if rotary.y.abs() > 0.9 && across {
            rotary
        } else {
            spindle
        };
        Self {
            spindle,
            rotary,
            operator,
            up,
        }
    }

    /// The eye for a view of a point from a distance.
    ///
    /// A view straight along the up direction is tilted a little, so that right and left are
    /// always the same.
    #[must_use]
    pub fn eye(&self, view: View, at: Point3<f64>, distance_mm: f64) -> Point3<f64> {
        let back = match view {
            View::Corner => self.spindle * 0.75 + self.operator * 0.85 + self.lift() * 0.5,
            View::Spindle => self.spindle,
            View::RotaryAxis => self.rotary,
            View::Operator => self.operator,
        };
        let along_up = back.normalize().dot(&self.up).abs() > 0.99;
        let tilt = match view {
            View::RotaryAxis => self.spindle,
            _ => self.operator,
        };
        let back = if along_up {
            back.normalize() + tilt * 0.03
        } else {
            back
        };
        at + back.normalize() * distance_mm
    }

    /// The direction that lifts a view above spindle and operator.
    fn lift(&self) -> Vec3 {
        if self.up.dot(&self.spindle).abs() > 0.9 {
            self.rotary
        } else {
            self.up
        }
    }

    /// The next machine axis for up.
    #[must_use]
    pub fn with_next_up(&self) -> Self {
        let axes = [Vec3::x(), Vec3::y(), Vec3::z()];
        let nearest = axes
            .iter()
            .position(|axis| axis.dot(&self.up).abs() > 0.7)
            .unwrap_or(0);
        Self {
            up: axes[(nearest + 1) % 3],
            ..*self
        }
    }

    /// Right and up on the dial, which is seen against the rotary direction.
    ///
    /// # Guarantees
    /// A right-handed turn about the rotary direction is counter-clockwise on the dial.
    #[must_use]
    pub fn dial_axes(&self) -> [Vec3; 2] {
        let flat = |v: Vec3| (v - self.rotary * self.rotary.dot(&v)).try_normalize(1e-6);
        // The spindle is at the top, or at the bottom where up is the rotary axis itself.
        let up = if self.up.dot(&self.rotary).abs() > 0.9 {
            flat(-self.spindle)
        } else {
            flat(self.up)
        };
        let up = up.unwrap_or_else(|| any_across(&self.rotary));
        [up.cross(&self.rotary), up]
    }
}

fn any_across(direction: &Vec3) -> Vec3 {
    let helper = if direction.x.abs() < 0.9 {
        Vec3::x()
    } else {
        Vec3::y()
    };
    direction.cross(&helper).normalize()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn horizontal() -> Sides {
        Sides {
            spindle: Vec3::z(),
            rotary: Vec3::y(),
            operator: Vec3::x(),
            up: Vec3::y(),
        }
    }

    #[test]
    fn the_dial_shows_the_spindle_where_the_view_along_the_axis_does() {
        let [right, up] = horizontal().dial_axes();
        assert_eq!((right, up), (Vec3::x(), -Vec3::z()));
        // Counter-clockwise is right-handed about the rotary direction.
        assert_eq!(right.cross(&up), Vec3::y());
        let vertical = Sides {
            spindle: Vec3::z(),
            rotary: Vec3::x(),
            operator: -Vec3::y(),
            up: Vec3::z(),
        };
        assert_eq!(vertical.dial_axes(), [Vec3::y(), Vec3::z()]);
    }

    #[test]
    fn no_view_looks_straight_along_up() {
        for view in [
            View::Corner,
            View::Spindle,
            View::RotaryAxis,
            View::Operator,
        ] {
            let sides = horizontal();
            let eye = sides.eye(view, Point3::origin(), 100.0);
            assert!((eye.coords.norm() - 100.0).abs() < 1e-9);
            assert!(eye.coords.normalize().dot(&sides.up).abs() < 0.9999);
        }
        assert_eq!(horizontal().with_next_up().up, Vec3::z());
    }
}
