//! Which body a ray hits first.

use crate::clip::Plane;
use crate::reached::{Pointed, face_under};
use crate::shapes::{Triangle, triangles_of};
use crate::worker::PickTask;
use lapidary::answer::moment::{Shown, shown, table_from_group};
use lapidary::answer::scene::{BodyId, Scene};
use lapidary::gap::{CannotAsk, Shape};
use lapidary::value::Vec3;
use nalgebra::Point3;

/// A half line, in the table frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ray {
    /// Where it begins.
    pub from: Point3<f64>,
    /// Where it goes; of any length but zero.
    pub towards: Vec3,
}

impl Ray {
    /// The share of `towards` at which it enters or leaves a triangle.
    ///
    /// # Source
    /// Moeller and Trumbore, "Fast, minimum storage ray/triangle intersection", 1997 (from
    /// memory).
    #[must_use]
    pub fn hits(&self, [a, b, c]: &Triangle) -> Option<f64> {
        let (ab, ac) = (b - a, c - a);
        let across = self.towards.cross(&ac);
        let turn = ab.dot(&across);
        if turn == 0.0 {
            return None;
        }
        let from_a = self.from - a;
        let u = from_a.dot(&across) / turn;
        let around = from_a.cross(&ab);
        let v = self.towards.dot(&around) / turn;
        let share = ac.dot(&around) / turn;
        (u >= 0.0 && v >= 0.0 && u + v <= 1.0 && share > 0.0).then_some(share)
    }
}

/// What a ray met.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Hit {
    /// The first body: its name, and its seat where it has one.
    pub body: Option<(String, Option<usize>)>,
    /// For a part, the face of the finished part under it.
    pub pointed: Option<Pointed>,
}

/// The first body hit, and its seat where it has one; bodies of hidden groups are passed through.
///
/// # Errors
/// As [`Scene::new`].
pub fn first_hit(scene: &Scene<'_>, asked: &PickTask) -> Result<Hit, CannotAsk> {
    let mut nearest_share = f64::INFINITY;
    let mut first = None;
    let plane = asked
        .open
        .map(|(turned_deg, place)| Plane::through_tool(scene, &asked.moment, turned_deg, place));
    let drawn = |share: f64| {
        let point = asked.ray.from + asked.ray.towards * share;
        plane
            .as_ref()
            .is_none_or(|plane| plane.above_mm(&point) <= 0.0)
    };
    for body in shown(scene, &asked.moment)? {
        if asked.hidden.contains(&body.group) {
            continue;
        }
        let table_from_body =
            table_from_group(scene, body.group, &asked.moment) * body.group_from_body;
        let body_from_table = table_from_body.inverse();
        let ray = Ray {
            from: body_from_table * asked.ray.from,
            towards: body_from_table * asked.ray.towards,
        };
        if let Some((share, _)) = nearest(&body.shape, &ray, &drawn)
            && share < nearest_share
        {
            nearest_share = share;
            let is_part = matches!(body.id, Some(BodyId::Part { .. }));
            first = Some((body.name.clone(), seat_of(&body), is_part));
        }
    }
    let Some((name, seat, is_part)) = first else {
        return Ok(Hit::default());
    };
    let at_part = seat.filter(|_| is_part);
    let pointed = at_part.map(|seat| face_under(scene, asked, seat, &drawn));
    Ok(Hit {
        body: Some((name, seat)),
        pointed: pointed.transpose()?.flatten(),
    })
}

/// Where a ray first meets a shape where it is drawn: the share of the ray, and which triangle.
#[must_use]
pub fn nearest(shape: &Shape, ray: &Ray, drawn: &dyn Fn(f64) -> bool) -> Option<(f64, usize)> {
    let triangles = triangles_of(shape).into_iter().enumerate();
    triangles
        .filter_map(|(number, triangle)| Some((ray.hits(&triangle)?, number)))
        .filter(|(share, _)| drawn(*share))
        .min_by(|a, b| a.0.total_cmp(&b.0))
}

fn seat_of(body: &Shown) -> Option<usize> {
    match body.id {
        Some(BodyId::Part { seat, .. } | BodyId::Clamp { seat, .. }) => Some(seat),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ray_hits_what_lies_ahead_only() {
        let triangle = [
            Point3::new(0.0, 0.0, 5.0),
            Point3::new(10.0, 0.0, 5.0),
            Point3::new(0.0, 10.0, 5.0),
        ];
        let at = |x: f64, y: f64, z: f64| Ray {
            from: Point3::new(x, y, 0.0),
            towards: Vec3::new(0.0, 0.0, z),
        };
        assert_eq!(at(1.0, 1.0, 1.0).hits(&triangle), Some(5.0));
        assert_eq!(at(1.0, 1.0, 2.0).hits(&triangle), Some(2.5));
        assert_eq!(at(1.0, 1.0, -1.0).hits(&triangle), None);
        assert_eq!(at(9.0, 9.0, 1.0).hits(&triangle), None);
    }
}
