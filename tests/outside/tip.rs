//! Tip stops: against straight shape casts of parry3d-f64 0.31 here; written for `tips.py`, which
//! asks coal at the heights found.

use crate::bodies::Bodies;
use lapidary::gap::{
    Freedom, Landscape, Piece, Placed, Revolved, Ring, Shape, Stack, StackElement, TipStop,
    tip_is_free, tip_stop,
};
use lapidary::value::{Pose, Vec3, about_axis};
use nalgebra::Point3;
use parry3d_f64::math::{Pose as ParryPose, Rotation, Vector};
use parry3d_f64::query::{ShapeCastOptions, cast_shapes};
use parry3d_f64::shape::{Ball, Cone, Cylinder, Shape as ParryShape, TriMesh};
use std::sync::Arc;

const BODIES: [&str; 5] = [
    "demo:housing-finished",
    "real:sh1",
    "real:as1-plate",
    "real:as1-bracket",
    "small:pocket",
];
const TOOLS: [&str; 8] = [
    "tool:flat-16",
    "tool:ball-10",
    "tool:bull-12",
    "tool:drill-6",
    "tool:chamfer-12",
    "tool:face-50",
    "tool:lollipop-8",
    "tool:pin-4",
];
const DIRECTIONS: usize = 12;
const PLACES: usize = 50;
/// Casts of parry end within this of the true height; the largest seen is printed.
const CAST_MM: f64 = 1e-3;

/// SplitMix64 (Steele, Lea, Flood, OOPSLA 2014, from memory).
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    fn within(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// A turn in one of three: none, quarter turns, any.
    fn turn(&mut self) -> Pose {
        let angle = |random: &mut Self, kind: u64| match kind {
            0 => 90.0 * random.within(0.0, 3.999).floor(),
            _ => random.within(-180.0, 180.0),
        };
        let kind = self.next() % 3;
        let about =
            |direction: Vec3, angle_deg| about_axis(&direction, &Point3::origin(), angle_deg);
        about(Vec3::z(), angle(self, kind))
            * about(Vec3::y(), angle(self, kind))
            * about(Vec3::x(), angle(self, kind))
    }
}

/// A body seen along a direction, with its box in plan and its top there.
struct View {
    landscape: Landscape,
    approach_from_body: Pose,
    low: Vec3,
    high: Vec3,
}

impl View {
    fn new(body: &Placed, turn: &Pose) -> Self {
        let landscape = Landscape::new(std::slice::from_ref(body), turn).unwrap();
        let approach_from_body = *landscape.approach_from_common();
        let Shape::Mesh(shape) = &body.shape else {
            panic!("a mesh is needed");
        };
        let (mut low, mut high) = (Vec3::repeat(f64::INFINITY), Vec3::repeat(-f64::INFINITY));
        for vertex in &shape.mesh().vertices {
            let at = (approach_from_body * vertex).coords;
            (low, high) = (low.inf(&at), high.sup(&at));
        }
        Self {
            landscape,
            approach_from_body,
            low,
            high,
        }
    }

    fn place(&self, random: &mut Random) -> [f64; 2] {
        let within = |axis: usize, random: &mut Random| {
            random.within(self.low[axis] - 3.0, self.high[axis] + 3.0)
        };
        [within(0, random), within(1, random)]
    }
}

fn stack_of(shape: Shape, wanted_gap_mm: f64) -> Stack {
    Stack::new(&[StackElement {
        shape,
        tool_from_body: Pose::identity(),
        wanted_gap_mm,
    }])
    .unwrap()
}

fn gap_mm(random: &mut Random) -> f64 {
    [0.0, 0.0, 0.5, 2.0][(random.next() % 4) as usize]
}

/// What must hold of every answer by itself.
fn assert_sound(stack: &Stack, view: &View, at: [f64; 2], stop: &TipStop, case: &str) {
    if stop.hi_mm == f64::NEG_INFINITY {
        return;
    }
    assert!(stop.lo_mm <= stop.hi_mm, "{case}: {stop:?}");
    assert!(stop.hi_mm - stop.lo_mm < 1e-7, "{case}: {stop:?}");
    let free = |z: f64| tip_is_free(stack, &view.landscape, &Vec3::new(at[0], at[1], z));
    assert_eq!(free(stop.hi_mm), Freedom::Free, "{case}");
    assert!(
        matches!(free(stop.lo_mm - 1e-7), Freedom::Stopped(_)),
        "{case}"
    );
}

/// Whole tools on the demo part and real meshes; the heights go to `tips.py`.
#[test]
fn tip_stops_for_coal() {
    let bodies = Bodies::load();
    let mut random = Random(20_261_125);
    let mut rows = Vec::new();
    for name in BODIES {
        let Some(body) = bodies.at_origin(name) else {
            continue;
        };
        for _ in 0..DIRECTIONS {
            let turn = random.turn();
            let view = View::new(&body, &turn);
            let matrix = view.approach_from_body.rotation.matrix().transpose();
            for _ in 0..PLACES {
                let tool = TOOLS[(random.next() % TOOLS.len() as u64) as usize];
                let gap_mm = gap_mm(&mut random);
                let at = view.place(&mut random);
                let shape = bodies.at_origin(tool).unwrap().shape;
                let stack = stack_of(shape, gap_mm);
                let stop = tip_stop(&stack, &view.landscape, at, 0.0);
                let case = format!("{name} {tool} {gap_mm} {at:?}");
                assert_sound(&stack, &view, at, &stop, &case);
                if stop.hi_mm > f64::NEG_INFINITY {
                    rows.push(serde_json::json!([
                        name,
                        tool,
                        gap_mm,
                        matrix.as_slice(),
                        at,
                        stop.lo_mm,
                        stop.hi_mm
                    ]));
                }
            }
        }
    }
    println!("tip stops for coal: {}", rows.len());
    assert!(rows.len() > 500, "{}", rows.len());
    let lines: Vec<String> = rows.iter().map(ToString::to_string).collect();
    let folder = crate::root().join("target/outside");
    std::fs::create_dir_all(&folder).unwrap();
    let text = format!("[\n{}\n]\n", lines.join(",\n"));
    std::fs::write(folder.join("answers-tip.json"), text).unwrap();
}

fn vector(at: &Vec3) -> Vector {
    Vector::new(at.x, at.y, at.z)
}

fn parry_pose(pose: &Pose) -> ParryPose {
    let turn = nalgebra::UnitQuaternion::from_rotation_matrix(&pose.rotation);
    let rotation = Rotation::from_xyzw(turn.i, turn.j, turn.k, turn.w);
    ParryPose::from_parts(vector(&pose.translation.vector), rotation)
}

/// A convex tool both ways: ours, and parry's with its pose in the tool frame.
fn simple_tool(random: &mut Random) -> (Shape, Box<dyn ParryShape>, Pose) {
    let radius_mm = random.within(0.5, 9.0);
    let long_mm = random.within(1.0, 20.0);
    let upright = about_axis(&Vec3::x(), &Point3::origin(), 90.0);
    let up = |height: f64| lapidary::value::translation(Vec3::z() * height);
    let half = long_mm / 2.0;
    let (rings, shape, pose): (Vec<Ring>, Box<dyn ParryShape>, Pose) = match random.next() % 3 {
        0 => (
            vec![Ring::disc(radius_mm, 0.0), Ring::disc(radius_mm, long_mm)],
            Box::new(Cylinder::new(half, radius_mm)),
            up(half) * upright,
        ),
        1 => (
            vec![Ring {
                radius_mm: 0.0,
                height_mm: radius_mm,
                ball_mm: radius_mm,
            }],
            Box::new(Ball::new(radius_mm)),
            up(radius_mm),
        ),
        // A cone of parry has its point at +Y: it is turned to look down.
        _ => (
            vec![Ring::disc(0.0, 0.0), Ring::disc(radius_mm, long_mm)],
            Box::new(Cone::new(half, radius_mm)),
            up(half) * about_axis(&Vec3::x(), &Point3::origin(), -90.0),
        ),
    };
    let body = Revolved::new(vec![Piece::new(rings).unwrap()]).unwrap();
    (Shape::Revolved(Arc::new(body)), shape, pose)
}

#[test]
fn tip_stops_agree_with_straight_casts() {
    let bodies = Bodies::load();
    let mut random = Random(77_041);
    let (mut hits, mut misses, mut largest) = (0, 0, 0.0_f64);
    for name in BODIES {
        let Some(body) = bodies.at_origin(name) else {
            continue;
        };
        let Shape::Mesh(shape) = &body.shape else {
            panic!("a mesh is needed");
        };
        let vertices = shape.mesh().vertices.iter().map(|v| vector(&v.coords));
        let mesh = TriMesh::new(vertices.collect(), shape.mesh().triangles.clone()).unwrap();
        for _ in 0..DIRECTIONS {
            let view = View::new(&body, &random.turn());
            let body_from_approach = view.approach_from_body.inverse();
            for _ in 0..PLACES {
                let (own, theirs, tool_from_shape) = simple_tool(&mut random);
                let gap_mm = gap_mm(&mut random);
                let at = view.place(&mut random);
                let stack = stack_of(own, gap_mm);
                let stop = tip_stop(&stack, &view.landscape, at, 0.0);
                let case = format!("{name} {gap_mm} {at:?} {:?}", theirs.shape_type());
                assert_sound(&stack, &view, at, &stop, &case);
                let start_mm = view.high.z + 30.0;
                let start = lapidary::value::translation(Vec3::new(at[0], at[1], start_mm));
                let options = ShapeCastOptions {
                    target_distance: gap_mm,
                    ..ShapeCastOptions::with_max_time_of_impact(1e4)
                };
                let hit = cast_shapes(
                    &parry_pose(&(body_from_approach * start * tool_from_shape)),
                    vector(&(body_from_approach.rotation * -Vec3::z())),
                    theirs.as_ref(),
                    &ParryPose::IDENTITY,
                    Vector::ZERO,
                    &mesh,
                    options,
                )
                .unwrap();
                let Some(hit) = hit else {
                    // A graze that the cast misses by its own tolerance is no contradiction.
                    misses += usize::from(stop.lo_mm > f64::NEG_INFINITY);
                    continue;
                };
                hits += 1;
                let theirs_mm = start_mm - hit.time_of_impact;
                let apart_mm = (theirs_mm - stop.hi_mm).abs();
                assert!(
                    apart_mm < CAST_MM,
                    "{case}: {stop:?}, cast {theirs_mm} {hit:?}"
                );
                largest = largest.max(apart_mm);
            }
        }
    }
    println!("casts that hit: {hits}, grazes missed: {misses}, largest difference {largest:e} mm");
    assert!(hits > 400, "{hits}");
    assert!(misses * 200 <= hits, "{misses} of {hits} missed");
}
