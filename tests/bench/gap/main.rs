//! Measures the gap engine beside the library coal, on one scene and the same poses.
//!
//! `cargo bench --bench gap -- --python PATH` with a Python that has `coal` (3.0.3) and `numpy`.
//! Without `--python` only our own times are printed.

mod scene;

use lapidary::gap::{Ask, Decision, Gap, Motion, Placed, Turn, at_least, group_gap};
use lapidary::value::{Pose, Vec3, about_axis, translation};
use nalgebra::Point3;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};
use std::time::Instant;

/// How far over the tip the head stands: less than the tool is long, so that it comes near too.
const GAUGE_MM: f64 = 40.0;

struct Scene {
    work: Vec<Placed>,
    head: Vec<Placed>,
    tool: Vec<Placed>,
}

/// The tip of the tool and the angle of the work.
struct Case {
    tip: Vec3,
    angle_deg: f64,
}

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let option = |name: &str| {
        arguments
            .iter()
            .position(|argument| argument == name)
            .map(|at| arguments[at + 1].clone())
    };
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("gap-bench");
    fs::create_dir_all(&folder).expect("the target folder can be written");
    let models = scene::work_models();
    let start = Instant::now();
    let work: Vec<Placed> = models.iter().flat_map(scene::place).collect();
    let total: usize = models
        .iter()
        .map(|model| model.soup.len() * model.poses.len())
        .sum();
    println!(
        "scene: {} bodies, {total} triangles, made in {:.2?}",
        work.len(),
        start.elapsed()
    );
    let head = scene::place(&scene::head_model());
    println!("head: {} triangles", scene::head_model().soup.len());
    let tool = vec![Placed::revolved(&scene::tool(), Pose::identity())];
    let scene = Scene { work, head, tool };
    let count = option("--cases")
        .and_then(|count| count.parse().ok())
        .unwrap_or(200);
    let cases = cases(&scene, count);
    let mut report = String::new();
    let only = option("--only").unwrap_or_default();
    if only != "turn" {
        tree_time(&models);
        rests(&scene, &cases, &mut report);
    }
    turns(&scene, &cases, &mut report);
    if let Some(python) = option("--python") {
        write_scene(&folder, &models, &cases);
        fs::write(folder.join("ours.txt"), &report).expect("the target folder can be written");
        let script = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/bench/gap/coal_side.py");
        let status = std::process::Command::new(python)
            .arg(script)
            .arg(&folder)
            .status();
        println!("python: {status:?}");
    }
}

fn turned(bodies: &[Placed], angle_deg: f64) -> Vec<Placed> {
    let turn = about_axis(&Vec3::x(), &Point3::origin(), angle_deg);
    moved(bodies, &turn)
}

fn moved(bodies: &[Placed], by: &Pose) -> Vec<Placed> {
    let shifted = |body: &Placed| Placed {
        shape: body.shape.clone(),
        common_from_body: by * body.common_from_body,
    };
    bodies.iter().map(shifted).collect()
}

/// Poses near the work where neither tool nor head touches it.
fn cases(scene: &Scene, count: usize) -> Vec<Case> {
    let mut random = scene::Random(7);
    let mut cases = Vec::new();
    while cases.len() < count {
        let tip = Vec3::new(
            random.within(-340.0, 340.0),
            random.within(-160.0, 160.0),
            random.within(90.0, 260.0),
        );
        let angle_deg = random.within(0.0, 360.0);
        let ask = Ask {
            less_mm: Some(0.5),
            enough_mm: Some(0.5),
            ..Ask::default()
        };
        let work = turned(&scene.work, angle_deg);
        let free = |bodies: &[Placed], height: f64| {
            let at = moved(bodies, &translation(tip + Vec3::z() * height));
            group_gap(&at, &work, &Motion::rest(), &ask)
                .expect("a sound question")
                .lo_mm
                >= 0.5
        };
        if free(&scene.tool, 0.0) && free(&scene.head, GAUGE_MM) {
            cases.push(Case { tip, angle_deg });
        }
    }
    cases
}

fn tree_time(models: &[scene::Model]) {
    let mut soup = scene::Soup::new();
    for model in models {
        for pose in &model.poses {
            soup.extend(
                model
                    .soup
                    .iter()
                    .map(|t| t.map(|c| (pose * Point3::from(c)).coords)),
            );
        }
    }
    let mesh = std::sync::Arc::new(scene::weld(&soup));
    let mut best = f64::INFINITY;
    for _ in 0..3 {
        let start = Instant::now();
        let shape = lapidary::gap::MeshShape::new(mesh.clone());
        best = best.min(start.elapsed().as_secs_f64());
        drop(shape);
    }
    println!(
        "tree of {} triangles: {:.0} ms",
        mesh.triangles.len(),
        best * 1e3
    );
}

fn rests(scene: &Scene, cases: &[Case], report: &mut String) {
    let plain = Ask::default();
    let capped = Ask {
        cap_mm: 10.0,
        ..plain
    };
    let enough = Ask {
        enough_mm: Some(5.0),
        less_mm: Some(5.0),
        ..plain
    };
    for (name, bodies, height) in [("tool", &scene.tool, 0.0), ("head", &scene.head, GAUGE_MM)] {
        for (kind, ask) in [("rest", plain), ("cap10", capped), ("enough5", enough)] {
            let mut times = Vec::new();
            let mut values = String::new();
            let mut wide = 0;
            for case in cases {
                let work = turned(&scene.work, case.angle_deg);
                let at = moved(bodies, &translation(case.tip + Vec3::z() * height));
                let ask_once = || {
                    let start = Instant::now();
                    let gap = group_gap(&at, &work, &Motion::rest(), &ask).expect("sound");
                    (start.elapsed().as_secs_f64() * 1e3, gap)
                };
                let (first, gap) = ask_once();
                let best = first.min(ask_once().0).min(ask_once().0);
                times.push(best);
                wide += usize::from(!gap.decided);
                let _ = write!(values, " {} {} {best}", gap.lo_mm, gap.hi_mm);
            }
            summary(&format!("{name} {kind}"), &mut times, wide);
            let _ = writeln!(report, "{name} {kind}{values}");
        }
    }
}

fn turns(scene: &Scene, cases: &[Case], report: &mut String) {
    let count = cases.len().min(60);
    for (name, bodies, height) in [("tool", &scene.tool, 0.0), ("head", &scene.head, GAUGE_MM)] {
        for kind in ["turn", "turn5"] {
            let mut times = Vec::new();
            let mut wide = 0;
            let mut values = String::new();
            for case in &cases[..count] {
                let at = moved(bodies, &translation(case.tip + Vec3::z() * height));
                let motion = Motion::turn(Turn {
                    centre: Point3::origin(),
                    direction: Vec3::x(),
                    from_deg: case.angle_deg,
                    to_deg: case.angle_deg + 90.0,
                });
                let ask = Ask::default();
                let ask_once = || {
                    let start = Instant::now();
                    let answer = if kind == "turn" {
                        let gap = group_gap(&at, &scene.work, &motion, &ask).expect("sound");
                        (gap, gap.decided)
                    } else {
                        decided(at_least(&at, &scene.work, &motion, 5.0, &ask).expect("sound"))
                    };
                    (start.elapsed().as_secs_f64() * 1e3, answer)
                };
                let (first, (gap, decided)) = ask_once();
                let best = first.min(ask_once().0).min(ask_once().0);
                times.push(best);
                wide += usize::from(!decided);
                let _ = write!(values, " {} {} {best}", gap.lo_mm, gap.hi_mm);
            }
            summary(&format!("{name} {kind}"), &mut times, wide);
            let _ = writeln!(report, "{name} {kind}{values}");
        }
    }
}

fn decided(decision: Decision) -> (Gap, bool) {
    let yes = Gap {
        lo_mm: 5.0,
        hi_mm: f64::INFINITY,
        witness: None,
        contained: None,
        decided: true,
    };
    match decision {
        Decision::Yes => (yes, true),
        Decision::No(gap) => (gap, true),
        Decision::Unknown(gap) => (gap, false),
    }
}

fn summary(name: &str, times: &mut [f64], undecided: usize) {
    times.sort_by(f64::total_cmp);
    let mean = times.iter().sum::<f64>() / times.len() as f64;
    let at = |share: f64| times[((times.len() - 1) as f64 * share) as usize];
    println!(
        "{name:14} mean {mean:8.3} ms  median {:8.3}  p90 {:8.3}  max {:8.3}  undecided {undecided}",
        at(0.5),
        at(0.9),
        at(1.0)
    );
}

/// Meshes as raw little-endian f64, poses and cases as text, for the other side.
fn write_scene(folder: &Path, models: &[scene::Model], cases: &[Case]) {
    let write = |name: &str, bytes: &[u8]| {
        fs::write(folder.join(name), bytes).expect("the target folder can be written");
    };
    let head = scene::head_model();
    for model in models.iter().chain([&head]) {
        let mut bytes = Vec::new();
        for corner in model.soup.iter().flatten().flat_map(|corner| corner.iter()) {
            bytes.extend(corner.to_le_bytes());
        }
        write(&format!("{}.f64", model.name), &bytes);
        let mut poses = String::new();
        for pose in &model.poses {
            let matrix = pose.to_homogeneous();
            let row: Vec<String> = matrix.transpose().iter().map(f64::to_string).collect();
            poses.push_str(&row.join(" "));
            poses.push('\n');
        }
        write(&format!("{}.poses", model.name), poses.as_bytes());
    }
    let mut text = String::new();
    for case in cases {
        let _ = writeln!(
            text,
            "{} {} {} {}",
            case.tip.x, case.tip.y, case.tip.z, case.angle_deg
        );
    }
    write("cases.txt", text.as_bytes());
    let mut tool = String::new();
    for (below, above, from, to) in scene::TOOL {
        let _ = writeln!(tool, "{below} {above} {from} {to}");
    }
    write("tool.txt", tool.as_bytes());
}
