//! Pieces of the map for another library: which tips touch them, at a seat and an index.

use lapidary::answer::reach::ReachOptions;
use lapidary::answer::reach::pieces::{Found, Piece, View, pieces};
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

/// Views of one tool at one seat and index that pieces are drawn from.
const VIEWS: usize = 200;

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

/// How large the whole map is, as its views tell.
pub struct Size {
    /// Pieces that are told to be reached, not reached or undecided.
    pub pieces: f64,
    /// Squares of the grain.
    pub squares: f64,
}

/// Writes scene and sample; gives the size of the whole map: every seat, index and tool that mills, all
/// that does not look away.
pub fn write(
    folder: &Path,
    setup: &Setup,
    indexes_deg: &[f64],
    options: &ReachOptions,
    count: usize,
) -> Size {
    let store = ShapeStore::build(setup).expect("sound meshes");
    let scene = Scene::new(setup, store.clone()).expect("a sound scene");
    let mills = |tool: &usize| {
        let kind = setup.tools[*tool].kind;
        !matches!(kind, ToolKind::Drill | ToolKind::Tap)
    };
    let tools: Vec<usize> = (0..setup.tools.len()).filter(mills).collect();
    let mut writer = Writer {
        folder,
        models: Vec::new(),
        text: String::new(),
    };
    writer.bodies(&scene);
    for tool in &tools {
        writer.tool(&scene, &setup.tools[*tool]);
    }
    let mut random = Random(11);
    let views: Vec<View> = (0..VIEWS)
        .map(|_| View {
            tool: tools[random.below(tools.len())],
            seat: random.below(setup.seats.len()),
            index_deg: indexes_deg[random.below(indexes_deg.len())],
        })
        .collect();
    let found = pieces(setup, &store, options, &views).expect("an answer");
    let grains = grains_mm(setup, options);
    let squares = |piece: &Piece| area_mm2(piece) / grains[piece.face as usize].powi(2);
    let all: Vec<(&View, &Piece)> = views
        .iter()
        .zip(&found)
        .flat_map(|(view, pieces)| pieces.iter().map(move |piece| (view, piece)))
        .collect();
    let mut lines = String::new();
    for _ in 0..count {
        let (view, piece) = all[random.below(all.len())];
        let tool = tools.iter().position(|tool| *tool == view.tool);
        line(
            &mut lines,
            &scene,
            (tool.expect("a mill"), view),
            piece,
            squares(piece),
        );
    }
    fs::write(folder.join("sample.txt"), lines).expect("the target folder can be written");
    fs::write(folder.join("scene.txt"), &writer.text).expect("the target folder can be written");
    let each = (tools.len() * setup.seats.len() * indexes_deg.len()) as f64 / VIEWS as f64;
    Size {
        pieces: all.len() as f64 * each,
        squares: all.iter().map(|(_, piece)| squares(piece)).sum::<f64>() * each,
    }
}

/// Tool, seat, what was found, squares, the carrier's place, and the places of the tool at each tip.
fn line(
    lines: &mut String,
    scene: &Scene<'_>,
    (tool, view): (usize, &View),
    piece: &Piece,
    squares: f64,
) {
    let setup = scene.setup;
    let seat = &setup.seats[view.seat];
    let carrier = scene
        .kinematics
        .table_from_carrier(&setup.carrier, view.index_deg);
    let carrier = carrier.expect("a rotary sense");
    let table_from_part = carrier * seat.carrier_from_seat * seat.seat_from_part;
    let found = match piece.found {
        Found::NotReached => 0,
        Found::Reached => 1,
        Found::Undecided => 2,
    };
    write!(
        lines,
        "{tool} {} {found} {squares} {}",
        view.seat,
        numbers(&carrier)
    )
    .expect("memory");
    for tip in &piece.tips {
        let tip = table_from_part * Point3::from(*tip);
        // The other library knows of no travel.
        if !is_in_travel(scene, tip, view.tool) {
            continue;
        }
        write!(
            lines,
            " {}",
            numbers(&scene.kinematics.table_from_tool(tip))
        )
        .expect("memory");
    }
    writeln!(lines).expect("memory");
}

fn is_in_travel(scene: &Scene<'_>, table_tip: Point3<f64>, tool: usize) -> bool {
    let gauge_mm = scene.setup.tools[tool].gauge_length_mm;
    let positions = scene.kinematics.positions_mm(table_tip, gauge_mm);
    let axes = scene.kinematics.axes().iter().zip(positions);
    axes.into_iter()
        .all(|(axis, at)| (axis.low_mm..=axis.high_mm).contains(&at))
}

fn area_mm2(piece: &Piece) -> f64 {
    let [a, b, c] = piece.corners;
    (b - a).cross(&(c - a)).norm() * 0.5
}

/// The grain of each face; the demo has one part.
fn grains_mm(setup: &Setup, options: &ReachOptions) -> Vec<f64> {
    let mesh = &setup.parts[0].states.last().expect("a state").mesh;
    let grain = |area_mm2: f64| options.grain_mm * (area_mm2.sqrt() / SIZE_OF_GRAIN_MM).max(0.1);
    let found = faces(mesh);
    found
        .faces
        .iter()
        .map(|face| grain(face.area_mm2))
        .collect()
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
        let last = scene.setup.parts[0].states.len() - 1;
        if let Some(own) = scene.part(0, last).expect("a sound part") {
            let gouge_mm = scene.setup.gouge_mm + own.gouge_chord_mm;
            writeln!(self.text, "gouge {gouge_mm}").expect("memory");
        }
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
