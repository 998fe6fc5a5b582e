//! The camera: orbit, pan and zoom are the library's; here are the views, and points on the screen.

use crate::views::{Sides, View};
use kiss3d::camera::{Camera3d, OrbitCamera3d};
use kiss3d::glamx::{Vec3, Vec4};
use lapidary::value::Vec3 as Vector;
use nalgebra::Point3;

/// Half the height of the view, as an angle: 30 degrees in all flatten little and show enough.
const VIEW_RAD: f32 = std::f32::consts::PI / 6.0;

/// Nearest and farthest that is drawn, in millimetres.
const CLIP_MM: [f32; 2] = [5.0, 30_000.0];

/// Where one looks from.
pub struct Eye {
    /// The camera.
    pub camera: OrbitCamera3d,
    /// Sides of the machine.
    pub sides: Sides,
}

impl Eye {
    /// A corner view of the rotary centre from far off.
    #[must_use]
    pub fn new(sides: Sides, at: Point3<f64>, distance_mm: f64) -> Self {
        let mut camera = OrbitCamera3d::new_with_frustum(
            VIEW_RAD,
            CLIP_MM[0],
            CLIP_MM[1],
            Vec3::new(0.0, 0.0, 1000.0),
            Vec3::ZERO,
        );
        camera.rebind_reset_key(None);
        camera.set_min_dist(20.0);
        camera.set_max_dist(20_000.0);
        // Below 1: the wheel away from oneself comes nearer.
        camera.set_dist_step(0.996);
        let mut eye = Self { camera, sides };
        eye.camera.set_up_axis(to_f32(&sides.up));
        eye.look(View::Corner, at, distance_mm);
        eye
    }

    /// Looks at a point from one of the sides.
    pub fn look(&mut self, view: View, at: Point3<f64>, distance_mm: f64) {
        let eye = self.sides.eye(view, at, distance_mm);
        self.camera.look_at(to_f32(&eye.coords), to_f32(&at.coords));
    }

    /// Looks at another point from the same side and distance.
    pub fn focus(&mut self, at: Point3<f64>) {
        self.camera.set_at(to_f32(&at.coords));
    }

    /// Another machine axis up.
    pub fn next_up(&mut self) {
        self.sides = self.sides.with_next_up();
        self.camera.set_up_axis(to_f32(&self.sides.up));
    }

    /// A point on the screen, in pixels from the top left; `None` behind the eye.
    #[must_use]
    pub fn on_screen(&self, point: Point3<f64>, size: [f32; 2]) -> Option<[f32; 2]> {
        let point = to_f32(&point.coords);
        let clip = self.camera.transformation() * Vec4::new(point.x, point.y, point.z, 1.0);
        (clip.w > 0.0).then(|| {
            [
                (clip.x / clip.w + 1.0) / 2.0 * size[0],
                (1.0 - clip.y / clip.w) / 2.0 * size[1],
            ]
        })
    }

    /// The ray from the eye through a pixel, in the table frame.
    #[must_use]
    pub fn ray(&self, pixel: [f32; 2], size: [f32; 2]) -> crate::pick::Ray {
        let x = 2.0 * pixel[0] / size[0] - 1.0;
        let y = 1.0 - 2.0 * pixel[1] / size[1];
        let far = self.camera.inverse_transformation() * Vec4::new(x, y, 0.5, 1.0);
        let eye = self.camera.eye();
        let towards = Vec3::new(far.x, far.y, far.z) / far.w - eye;
        let ahead = towards.dot(self.camera.at() - eye);
        let towards = if ahead < 0.0 { -towards } else { towards };
        crate::pick::Ray {
            from: Point3::from(to_f64(eye)),
            towards: to_f64(towards.normalize_or(Vec3::Z)),
        }
    }
}

/// To the renderer's vectors.
#[must_use]
pub fn to_f32(vector: &Vector) -> Vec3 {
    Vec3::new(vector.x as f32, vector.y as f32, vector.z as f32)
}

fn to_f64(vector: Vec3) -> Vector {
    Vector::new(
        f64::from(vector.x),
        f64::from(vector.y),
        f64::from(vector.z),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_point_on_the_screen_lies_on_the_ray_through_its_pixel() {
        let sides = Sides {
            spindle: Vector::z(),
            rotary: Vector::y(),
            operator: Vector::x(),
            up: Vector::y(),
        };
        let mut eye = Eye::new(sides, Point3::new(10.0, 200.0, 0.0), 900.0);
        let size = [800.0, 600.0];
        for view in [
            View::Corner,
            View::Spindle,
            View::RotaryAxis,
            View::Operator,
        ] {
            eye.look(view, Point3::new(10.0, 200.0, 0.0), 900.0);
            let point = Point3::new(40.0, 260.0, 30.0);
            let pixel = eye.on_screen(point, size).unwrap();
            let ray = eye.ray(pixel, size);
            let off = (point - ray.from).cross(&ray.towards).norm();
            assert!(off < 0.5, "{view:?}: {off}");
            assert!((point - ray.from).dot(&ray.towards) > 0.0, "{view:?}");
        }
    }
}
