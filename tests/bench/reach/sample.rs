//! Points of the map for another library: where a tool touches a face, at a seat and an index.

use lapidary::answer::reach::ReachOptions;
use lapidary::answer::reach::model::{ReachAnswer, Share};
use lapidary::answer::scene::{Body, BodyId, Scene, ShapeStore};
use lapidary::gap::Shape;
use lapidary::mesh::Mesh;
use lapidary::mesh::faces::faces;
use lapidary::setup::file::ToolKind;
use lapidary::setup::model::{Form, Profile, Setup, Tool};
use lapidary::value::{Pose, Vec3, translation};
use nalgebra::Point3;
use std::fmt::Write as _;
use std::fs;
use std::path::Path;

/// A face of this area is asked about at the grain itself, as `reach` does it.
const SIZE_OF_GRAIN_MM: f64 = 24.0;

/// Segments of a turned body's hull.
const SIDES: usize = 64;

/// A triangle of the part's surface that is asked about.
struct Spot {
    corners: [Vec3; 3],
    normal: Vec3,
    face: usize,
    /// How many points of the map stand for it.
    points: f64,
}

/// Splitmix64.
struct Random(u64);

impl Random {
    fn share(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut x = self.0;
        x = (x ^ (x >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        x = (x ^ (x >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((x ^ (x >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn below(&mut self, count: usize) -> usize {
        ((self.share() * count as f64) as usize).min(count - 1)
    }
}

/// Writes scene and sample; gives the number of points of the whole map: every seat, index and tool
/// that mills, every point of a face that does not look away.
pub fn write(
    folder: &Path,
    setup: &Setup,
    answer: &ReachAnswer,
    options: &ReachOptions,
    count: usize,
) -> f64 {
    let store = ShapeStore::build(setup).expect("sound meshes");
    let scene = Scene::new(setup, store).expect("a sound scene");
    let mills = |tool: &&Tool| !matches!(tool.kind, ToolKind::Drill | ToolKind::Tap);
    let tools: Vec<&Tool> = setup.tools.iter().filter(mills).collect();
    let mut writer = Writer {
        folder,
        models: Vec::new(),
        text: String::new(),
    };
    writer.bodies(&scene);
    for tool in &tools {
        writer.tool(&scene, tool);
    }
    // The demo has one part.
    let mesh = &setup.parts[0].states.last().expect("a state").mesh;
    let map = Map {
        spots: spots(mesh, answer, options),
        scene,
        answer,
        tools,
    };
    let path = folder.join("sample.txt");
    fs::write(path, map.sample(count)).expect("the target folder can be written");
    fs::write(folder.join("scene.txt"), &writer.text).expect("the target folder can be written");
    map.points()
}

/// The map that the points are of.
struct Map<'m> {
    spots: Vec<Spot>,
    scene: Scene<'m>,
    answer: &'m ReachAnswer,
    tools: Vec<&'m Tool>,
}

impl Map<'_> {
    fn table_from_carrier(&self, index_deg: f64) -> Pose {
        let carrier = &self.scene.setup.carrier;
        let pose = self.scene.kinematics.table_from_carrier(carrier, index_deg);
        pose.expect("a rotary sense")
    }

    fn approach_from_part(&self, seat: usize, index_deg: f64) -> Pose {
        let setup = self.scene.setup;
        let seat = &setup.seats[seat];
        let turn = setup.machine.machine_from_spindle_at_zero.rotation;
        let turn = Pose::from_parts(nalgebra::Translation3::identity(), turn);
        let table_from_part =
            self.table_from_carrier(index_deg) * seat.carrier_from_seat * seat.seat_from_part;
        turn.inverse() * table_from_part
    }

    /// Points of all seats, indexes and tools.
    fn points(&self) -> f64 {
        let mut points = 0.0;
        for seat in 0..self.scene.setup.seats.len() {
            for &index_deg in &self.answer.indexes_deg {
                let pose = self.approach_from_part(seat, index_deg);
                let here = self.spots.iter().filter(|spot| spot.faces(&pose));
                points += here.map(|spot| spot.points).sum::<f64>();
            }
        }
        points * self.tools.len() as f64
    }

    /// Points drawn evenly, a line each.
    fn sample(&self, count: usize) -> String {
        let setup = self.scene.setup;
        let mut random = Random(11);
        let (mut lines, mut found) = (String::new(), 0);
        let points = self.spots.iter().map(|spot| spot.points);
        let heaviest = points.fold(0.0, f64::max);
        while found < count {
            let seat = random.below(setup.seats.len());
            let index_deg = self.answer.indexes_deg[random.below(self.answer.indexes_deg.len())];
            let tool = random.below(self.tools.len());
            let spot = &self.spots[random.below(self.spots.len())];
            let pose = self.approach_from_part(seat, index_deg);
            if random.share() * heaviest > spot.points || !spot.faces(&pose) {
                continue;
            }
            let point = (pose * Point3::from(spot.point(&mut random))).coords;
            let normal = pose.rotation * spot.normal;
            let Some(tip) = tip_from_point(self.tools[tool], &normal) else {
                continue;
            };
            let name = &setup.seats[seat].name;
            let share = share(
                self.answer,
                spot.face,
                self.tools[tool].number,
                name,
                index_deg,
            );
            let tip = setup.machine.machine_from_spindle_at_zero.rotation * (point + tip);
            writeln!(
                lines,
                "{tool} {seat} {} {} {} {}",
                share.certain,
                share.most(),
                numbers(&self.table_from_carrier(index_deg)),
                numbers(&self.scene.kinematics.table_from_tool(Point3::from(tip))),
            )
            .expect("memory");
            found += 1;
        }
        lines
    }
}

impl Spot {
    /// Whether it does not look away from the spindle.
    fn faces(&self, approach_from_part: &Pose) -> bool {
        (approach_from_part.rotation * self.normal).z >= -1e-9
    }

    /// A point drawn evenly from its area.
    fn point(&self, random: &mut Random) -> Vec3 {
        let corner = random.share().sqrt();
        let along = random.share();
        let [a, b, c] = self.corners;
        a * (1.0 - corner) + b * (corner * (1.0 - along)) + c * (corner * along)
    }
}

fn share(answer: &ReachAnswer, face: usize, tool: u32, seat: &str, index_deg: f64) -> Share {
    let face = &answer.parts[0].faces[face];
    let tool = face.tools.iter().find(|found| found.tool == tool);
    let seat = tool.and_then(|tool| tool.seats.iter().find(|found| found.seat == seat));
    seat.and_then(|seat| {
        seat.indexes
            .iter()
            .find(|found| found.index_deg == index_deg)
    })
    .map_or(Share::NONE, |found| found.share)
}

fn spots(mesh: &Mesh, answer: &ReachAnswer, options: &ReachOptions) -> Vec<Spot> {
    let found = faces(mesh);
    let mut spots = Vec::new();
    for (number, face) in answer.parts[0].faces.iter().enumerate() {
        let of_mesh = found.faces.iter().find(|other| other.name == face.face);
        let of_mesh = of_mesh.expect("the same faces");
        let grain_mm = options.grain_mm * (of_mesh.area_mm2.sqrt() / SIZE_OF_GRAIN_MM).max(0.1);
        for &triangle in &of_mesh.triangles {
            let corners =
                mesh.triangles[triangle as usize].map(|v| mesh.vertices[v as usize].coords);
            let [a, b, c] = corners;
            let across = (b - a).cross(&(c - a));
            spots.push(Spot {
                corners,
                normal: across.normalize(),
                face: number,
                points: across.norm() * 0.5 / (grain_mm * grain_mm),
            });
        }
    }
    spots
}

/// The tip, from a point that the flutes touch with this normal; a wall at half of the edges.
fn tip_from_point(tool: &Tool, normal: &Vec3) -> Option<Vec3> {
    let across = normal.xy().norm();
    let reach = |radius: f64, height: f64, ball: f64| -normal.z * height + across * radius + ball;
    let rings = tool.flutes.pieces.iter().flat_map(|piece| &piece.rings);
    let ring = rings.max_by(|a, b| {
        let [a, b] = [a, b].map(|ring| reach(ring.radius_mm, ring.height_mm, ring.ball_mm));
        a.total_cmp(&b)
    })?;
    let out = if across > 1e-9 {
        Vec3::new(normal.x, normal.y, 0.0) / across * ring.radius_mm
    } else {
        Vec3::zeros()
    };
    let height_mm = if normal.z.abs() < 1e-9 {
        tool.edge_length_mm * 0.5
    } else {
        ring.height_mm
    };
    Some(out + normal * ring.ball_mm - Vec3::z() * height_mm)
}

fn numbers(pose: &Pose) -> String {
    let matrix = pose.to_homogeneous().transpose();
    let numbers: Vec<String> = matrix.iter().map(f64::to_string).collect();
    numbers.join(" ")
}

/// Writes models once, and a line for each body.
struct Writer<'w> {
    folder: &'w Path,
    models: Vec<*const Mesh>,
    text: String,
}

impl Writer<'_> {
    fn bodies(&mut self, scene: &Scene<'_>) {
        for body in &scene.bed {
            self.body("bed", -1, body);
        }
        for body in scene.iron().expect("sound bodies") {
            let seat = match body.id {
                BodyId::Clamp { seat, .. } => seat as i64,
                _ => -1,
            };
            self.body("iron", seat, &body);
        }
        for (number, seat) in scene.setup.seats.iter().enumerate() {
            let Some(part) = seat.part else { continue };
            let last = scene.setup.parts[part].states.len() - 1;
            for (word, state) in [("first", 0), ("last", last)] {
                if let Some(body) = scene.part(number, state).expect("a sound part") {
                    self.body(word, number as i64, &body);
                }
            }
        }
    }

    fn body(&mut self, word: &str, seat: i64, body: &Body) {
        let Shape::Mesh(mesh) = &body.shape else {
            println!("left out, no mesh: {}", body.name);
            return;
        };
        let model = self.model(mesh.mesh());
        let pose = numbers(&body.pose);
        let chord_mm = body.chord_allowance_mm;
        writeln!(self.text, "{word} {seat} {model} {chord_mm} {pose}").expect("memory");
    }

    fn model(&mut self, mesh: &Mesh) -> usize {
        let address: *const Mesh = mesh;
        if let Some(known) = self.models.iter().position(|known| *known == address) {
            return known;
        }
        self.models.push(address);
        let number = self.models.len() - 1;
        let soup: Vec<[Vec3; 3]> = mesh
            .triangles
            .iter()
            .map(|corners| corners.map(|corner| mesh.vertices[corner as usize].coords))
            .collect();
        self.soup(number, &soup);
        number
    }

    fn soup(&self, number: usize, soup: &[[Vec3; 3]]) {
        let bytes: Vec<u8> = soup
            .iter()
            .flatten()
            .flat_map(|corner| [corner.x, corner.y, corner.z])
            .flat_map(f64::to_le_bytes)
            .collect();
        let path = self.folder.join(format!("{number}.f64"));
        fs::write(path, bytes).expect("the target folder can be written");
    }

    /// Elements: flutes less the gouge tolerance for the own part, too.
    fn tool(&mut self, scene: &Scene<'_>, tool: &Tool) {
        let setup = scene.setup;
        let wanted = &setup.wanted;
        let at_face = translation(Vec3::z() * tool.stick_out_mm);
        let at_gauge = translation(Vec3::z() * tool.gauge_length_mm);
        writeln!(self.text, "tool").expect("memory");
        let none = Pose::identity();
        self.profile("flutes", wanted.flutes.rest_mm, &tool.flutes, &none);
        self.profile("shank", wanted.shank.rest_mm, &tool.shank, &none);
        self.profile("holder", wanted.holder.rest_mm, &tool.holder, &at_face);
        let machine = &setup.machine;
        for (list, gap) in [(&machine.nose, wanted.nose), (&machine.head, wanted.head)] {
            for body in list {
                let pose = at_gauge * body.pose;
                match &body.form {
                    Form::Revolved(profile) => self.profile("nose", gap.rest_mm, profile, &pose),
                    Form::Mesh(mesh) => {
                        let model = self.model(mesh);
                        let pose = numbers(&pose);
                        writeln!(self.text, "mesh {} {model} {pose}", gap.rest_mm).expect("memory");
                    }
                }
            }
        }
    }

    fn profile(&mut self, word: &str, wanted_mm: f64, profile: &Profile, pose: &Pose) {
        for piece in &profile.pieces {
            let mut line = format!("{word} {wanted_mm} {SIDES} {}", numbers(pose));
            for ring in &piece.rings {
                // A ball is a stack of thinner rings.
                let slices = if ring.ball_mm > 0.0 { 12 } else { 0 };
                for slice in 0..=slices {
                    let (sin, cos) = match slices {
                        0 => (0.0, 0.0),
                        _ => (f64::from(slice) / 12.0 * std::f64::consts::PI).sin_cos(),
                    };
                    let radius_mm = ring.radius_mm + ring.ball_mm * sin;
                    let height_mm = ring.height_mm - ring.ball_mm * cos;
                    write!(line, " {radius_mm} {height_mm}").expect("memory");
                }
            }
            writeln!(self.text, "{line}").expect("memory");
        }
    }
}
