//! Triangles to draw: one mesh for each group, so that a frame has few objects.
//!
//! An object costs some 12 ms a frame on a software driver, so bodies that look alike and move
//! together are merged.

use crate::clip::{Plane, clip, lining};
use crate::worker::ShapesTask;
use lapidary::answer::moment::{Group, Moment, Shown, shown, table_from_group};
use lapidary::answer::scene::{BodyId, Scene};
use lapidary::gap::{CannotAsk, Revolved, Shape};
use lapidary::value::{Pose, Vec3};
use nalgebra::Point3;

/// Sides of a body of revolution as it is drawn.
const SIDES: usize = 72;

/// Directions about a ring's ball as it is drawn, over half a turn.
const BALL_STEPS: usize = 36;

/// By how much the far sides of a body that is cut open stand within it, so that they hide what
/// touches it: above the steps of the depth buffer, below a pixel.
const LINING_MM: f64 = 0.25;

/// Corners of a triangle.
pub type Triangle = [Point3<f64>; 3];

/// How a mesh is coloured.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Role {
    /// In its group's grey.
    Plain,
    /// The part that is cut.
    Own,
    /// One of the two that come nearest.
    Marked,
    /// Solid behind the plane that opens the scene.
    Inside,
    /// The same, of one of the two.
    InsideMarked,
}

/// A mesh to draw.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawn {
    /// How it is coloured.
    pub role: Role,
    /// Whose pose and look it has.
    pub group: Group,
    /// Corners, three to a triangle, in the group's frame.
    pub corners: Vec<[f32; 3]>,
    /// A normal for each corner.
    pub normals: Vec<[f32; 3]>,
}

/// Everything to draw.
#[derive(Debug, Clone, Default)]
pub struct Shapes {
    /// Meshes.
    pub drawn: Vec<Drawn>,
    /// Edges of the cut, in the table frame: begin and end.
    pub edges: Vec<[[f32; 3]; 2]>,
    /// How many triangles there are.
    pub triangles: usize,
    /// Middle and radius of all but the machine, in the table frame at the moment asked.
    pub work: Option<([f32; 3], f32)>,
}

/// Makes the meshes of a moment.
///
/// # Errors
/// As [`Scene::new`].
pub fn shapes(scene: &Scene<'_>, asked: &ShapesTask) -> Result<Shapes, CannotAsk> {
    let moment = moment_of(scene, asked);
    let bodies = shown(scene, &moment)?;
    let plane = asked
        .open
        .as_ref()
        .map(|(turned_deg, _)| Plane::through_tool(scene, &moment, *turned_deg, asked.place));
    let mut made = Shapes {
        work: around(scene, &bodies, &moment),
        ..Shapes::default()
    };
    for body in &bodies {
        let table_from_group = table_from_group(scene, body.group, &moment);
        let in_group: Vec<Triangle> = triangles_of(&body.shape)
            .into_iter()
            .map(|corners| corners.map(|corner| body.group_from_body * corner))
            .collect();
        let role = role_of(body, asked);
        match &plane {
            None => add(&mut made, role, body.group, &in_group, None),
            Some(plane) => {
                let in_table: Vec<Triangle> = in_group
                    .iter()
                    .map(|corners| corners.map(|corner| table_from_group * corner))
                    .collect();
                open_body(
                    &mut made,
                    role,
                    body.group,
                    &in_table,
                    plane,
                    &table_from_group,
                );
            }
        }
    }
    made.triangles = made.drawn.iter().map(|drawn| drawn.corners.len() / 3).sum();
    Ok(made)
}

/// The moment for the shapes; where nothing is cut open only states and tool count.
fn moment_of(scene: &Scene<'_>, asked: &ShapesTask) -> Moment {
    match &asked.open {
        Some((_, moment)) => moment.clone(),
        None => Moment {
            index_deg: scene.setup.start_index_deg,
            states: asked.states.clone(),
            tool: asked.tool,
            tip: Point3::origin(),
            own: None,
            turning: false,
        },
    }
}

fn role_of(body: &Shown, asked: &ShapesTask) -> Role {
    let named = |names: &[String; 2]| names.contains(&body.name);
    if asked.marked.as_ref().is_some_and(named) {
        return Role::Marked;
    }
    match body.id {
        Some(BodyId::Part { seat, .. }) if Some(seat) == asked.own => Role::Own,
        _ => Role::Plain,
    }
}

/// What lies behind the plane; the far sides seen through it stand for the solid between.
fn open_body(
    made: &mut Shapes,
    role: Role,
    group: Group,
    in_table: &[Triangle],
    plane: &Plane,
    table_from_group: &Pose,
) {
    let (kept, edges) = clip(in_table, plane);
    let group_from_table = table_from_group.inverse();
    let back: Vec<Triangle> = kept
        .iter()
        .map(|corners| corners.map(|corner| group_from_table * corner))
        .collect();
    add(made, role, group, &back, None);
    if edges.is_empty() {
        return;
    }
    let inside = match role {
        Role::Marked => Role::InsideMarked,
        _ => Role::Inside,
    };
    let turned = lining(&back, LINING_MM);
    let normal = group_from_table.rotation * plane.normal;
    add(made, inside, group, &turned, Some(normal));
    let point = |point: Point3<f64>| [point.x as f32, point.y as f32, point.z as f32];
    made.edges.extend(edges.iter().map(|edge| edge.map(point)));
}

fn add(made: &mut Shapes, role: Role, group: Group, triangles: &[Triangle], normal: Option<Vec3>) {
    let slot = made
        .drawn
        .iter()
        .position(|drawn| drawn.role == role && drawn.group == group);
    let slot = slot.unwrap_or_else(|| {
        made.drawn.push(Drawn {
            role,
            group,
            corners: Vec::new(),
            normals: Vec::new(),
        });
        made.drawn.len() - 1
    });
    let drawn = &mut made.drawn[slot];
    for corners in triangles {
        let [a, b, c] = corners;
        let flat = (b - a).cross(&(c - a));
        let normal = normal.or_else(|| flat.try_normalize(0.0));
        let normal = normal.unwrap_or_else(Vec3::z);
        for corner in corners {
            drawn
                .corners
                .push([corner.x as f32, corner.y as f32, corner.z as f32]);
            drawn
                .normals
                .push([normal.x as f32, normal.y as f32, normal.z as f32]);
        }
    }
}

/// Middle and radius of work and tool.
fn around(scene: &Scene<'_>, bodies: &[Shown], moment: &Moment) -> Option<([f32; 3], f32)> {
    let mut low = Point3::from([f64::INFINITY; 3]);
    let mut high = Point3::from([f64::NEG_INFINITY; 3]);
    for body in bodies {
        let of_work = matches!(body.group, Group::Carrier | Group::Clamps | Group::Parts);
        let Shape::Mesh(mesh) = &body.shape else {
            continue;
        };
        if !of_work {
            continue;
        }
        let table_from_body = table_from_group(scene, body.group, moment) * body.group_from_body;
        let (box_low, box_high) = mesh.mesh().bounds();
        for corner in 0..8 {
            let pick = |bit: usize, axis: usize| {
                if corner >> bit & 1 == 0 {
                    box_low[axis]
                } else {
                    box_high[axis]
                }
            };
            let point = table_from_body * Point3::new(pick(0, 0), pick(1, 1), pick(2, 2));
            low = low.inf(&point);
            high = high.sup(&point);
        }
    }
    let size = high - low;
    size.iter().all(|side| side.is_finite()).then(|| {
        let middle = low + size / 2.0;
        let middle = [middle.x as f32, middle.y as f32, middle.z as f32];
        (middle, (size.norm() / 2.0) as f32)
    })
}

/// The triangles of a shape, in its own frame.
#[must_use]
pub fn triangles_of(shape: &Shape) -> Vec<Triangle> {
    match shape {
        Shape::Mesh(mesh) => {
            let mesh = mesh.mesh();
            let corner = |index: u32| mesh.vertices[index as usize];
            mesh.triangles
                .iter()
                .map(|corners| corners.map(corner))
                .collect()
        }
        Shape::Revolved(solid) => turned(solid),
    }
}

/// A solid of revolution, each of its convex pieces by its outline.
fn turned(solid: &Revolved) -> Vec<Triangle> {
    let mut triangles = Vec::new();
    for piece in solid.pieces() {
        let mut outline: Vec<[f64; 2]> = Vec::new();
        for step in 0..=BALL_STEPS {
            let angle = std::f64::consts::PI * (step as f64 / BALL_STEPS as f64 - 0.5);
            let (sin, cos) = angle.sin_cos();
            let rings = piece.rings().iter();
            let farthest = rings.max_by(|a, b| {
                let out = |radius: f64, height: f64, ball: f64| radius * cos + height * sin + ball;
                out(a.radius_mm, a.height_mm, a.ball_mm).total_cmp(&out(
                    b.radius_mm,
                    b.height_mm,
                    b.ball_mm,
                ))
            });
            if let Some(ring) = farthest {
                let point = [
                    ring.radius_mm + ring.ball_mm * cos,
                    ring.height_mm + ring.ball_mm * sin,
                ];
                outline.push(point);
            }
        }
        outline.dedup();
        around_axis(&outline, &mut triangles);
    }
    triangles
}

/// An outline from low to high, turned about z and closed at both ends.
fn around_axis(outline: &[[f64; 2]], triangles: &mut Vec<Triangle>) {
    let (Some(first), Some(last)) = (outline.first(), outline.last()) else {
        return;
    };
    let at = |[radius, height]: [f64; 2], side: usize| {
        let angle = std::f64::consts::TAU * (side % SIDES) as f64 / SIDES as f64;
        Point3::new(radius * angle.cos(), radius * angle.sin(), height)
    };
    let mut push = |corners: Triangle| {
        let [a, b, c] = corners;
        if (b - a).cross(&(c - a)).norm() > 1e-12 {
            triangles.push(corners);
        }
    };
    for side in 0..SIDES {
        for pair in outline.windows(2) {
            let (low, high) = (pair[0], pair[1]);
            push([at(low, side), at(low, side + 1), at(high, side + 1)]);
            push([at(low, side), at(high, side + 1), at(high, side)]);
        }
        push([
            Point3::new(0.0, 0.0, first[1]),
            at(*first, side + 1),
            at(*first, side),
        ]);
        push([
            Point3::new(0.0, 0.0, last[1]),
            at(*last, side),
            at(*last, side + 1),
        ]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use lapidary::gap::{Piece, Ring};

    fn volume(triangles: &[Triangle]) -> f64 {
        let parts = triangles.iter();
        parts
            .map(|[a, b, c]| a.coords.dot(&b.coords.cross(&c.coords)) / 6.0)
            .sum()
    }

    #[test]
    fn a_cylinder_is_drawn_closed_and_outward() {
        let rings = vec![Ring::disc(10.0, 0.0), Ring::disc(10.0, 30.0)];
        let solid = Revolved::new(vec![Piece::new(rings).unwrap()]).unwrap();
        let sides = SIDES as f64;
        let area = sides / 2.0 * 100.0 * (std::f64::consts::TAU / sides).sin();
        assert!((volume(&turned(&solid)) - area * 30.0).abs() < 1e-6);
    }

    #[test]
    fn a_ball_end_is_drawn_round() {
        let ball = Ring {
            radius_mm: 0.0,
            height_mm: 5.0,
            ball_mm: 5.0,
        };
        let solid = Revolved::new(vec![Piece::new(vec![ball]).unwrap()]).unwrap();
        let full = 4.0 / 3.0 * std::f64::consts::PI * 125.0;
        let drawn = volume(&turned(&solid));
        assert!(drawn < full && drawn > 0.98 * full, "{drawn} of {full}");
    }
}
