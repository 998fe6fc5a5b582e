//! A small job in memory: a column on B, blocks on its sides, two tools; pieces are exchanged.
//!
//! The work turns about Y; the spindle looks along Z. The middle of the first seat is at
//! (0, 130, 90) of the table at index 0; the part is 70 x 90 x 46, its top at Z 136.

use lapidary::answer::check::model::{CheckAnswer, CutAnswer, TroubleKind, Verdict};
use lapidary::answer::check::{CheckOptions, Silent, check};
use lapidary::mesh::{Chord, Mesh, write_stl_binary};
use lapidary::setup::{Loaded, SetupFaults, load};
use nalgebra::Point3;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;

const MACHINE: &str = r#"format = "lapidary/machine"
version = 1
units = "mm"
name = "bench"
spindle = [0, 0, 1]
gauge_point = [0, 0, 710]

[[axes]]
name = "X"
direction = [1, 0, 0]
limits = [-280, 280]
moves = "work"

[[axes]]
name = "Y"
direction = [0, 1, 0]
limits = [-80, 640]
moves = "tool"

[[axes]]
name = "Z"
direction = [0, 0, 1]
limits = [-560, 0]
moves = "tool"

[rotary]
name = "B"
direction = [0, 1, 0]
centre = [0, 0, 0]
sense = "iso-841"
step_deg = 1
way = "shortest"
swing_radius = 300

[[bodies]]
name = "nose"
group = "nose"
shape = { kind = "cylinder", from = [0, 0, 0], to = [0, 0, 120], diameter = 80 }
"#;

const TOOLS: &str = r#"format = "lapidary/tools"
version = 1
units = "mm"

[[tools]]
number = 2
name = "end mill 16"
kind = "end-mill"
DC = 16
APMX = 32
LU = 40
OAL = 92
DMM = 16
stick_out = 50
holder = [{ diameter = 44, height = 100 }]

[[tools]]
number = 6
name = "drill 5"
kind = "drill"
DC = 5
LU = 30
OAL = 70
SIG = 140
stick_out = 40
LF = 140
holder = [{ diameter = 28, height = 100 }]
"#;

const JOB: &str = r#"format = "lapidary/job"
version = 1
units = "mm"
title = "A trap"
machine_file = "machine.toml"
tool_files = ["tools.toml"]

[carrier]
name = "column"
kind = "column"
sides = 4
across_flats = 160
length = 440
pads = { width = 80, thickness = 10 }

[[parts]]
name = "block"

[[parts.states]]
name = "blank"
file = "blank.stl"
chord_allowance = 0

[[parts.states]]
name = "finished"
file = "finished.stl"
chord_allowance = 0

[[clamps]]
name = "post"
[[clamps.states]]
name = "set"
file = "post.stl"
chord_allowance = 0

[[seats]]
name = "seat"
part = "block"
sides = [1]
at = [[0, 130]]
clamps = []
"#;

type Triangles = Vec<[Point3<f64>; 3]>;

/// A job, its files in memory.
#[derive(Debug, Clone)]
pub struct Shop {
    files: BTreeMap<PathBuf, Vec<u8>>,
}

impl Shop {
    /// The job with these cuts.
    pub fn with_cuts(cuts: &str) -> Self {
        let mut shop = Self {
            files: BTreeMap::new(),
        };
        shop.text("job.toml", &format!("{JOB}\n{cuts}"));
        shop.text("machine.toml", MACHINE);
        shop.text("tools.toml", TOOLS);
        let block = cuboid([-35.0, -45.0, 0.0], [35.0, 45.0, 46.0]);
        // A hole for the drill in the middle of the top.
        let drilled = pocketed([2.6, 2.6], 20.0);
        let post = cuboid([-1.0, -1.0, 46.0], [1.0, 1.0, 60.0]);
        shop.mesh("blank.stl", &block)
            .mesh("finished.stl", &drilled)
            .mesh("post.stl", &post)
    }

    fn text(&mut self, path: &str, text: &str) {
        self.files.insert(path.into(), text.as_bytes().to_vec());
    }

    /// With a mesh in place of another.
    pub fn mesh(mut self, path: &str, triangles: &[[Point3<f64>; 3]]) -> Self {
        let (mesh, _) = Mesh::from_triangles(triangles, Chord::Stated(0.0)).unwrap();
        self.files.insert(path.into(), write_stl_binary(&mesh));
        self
    }

    /// With these bytes as a file.
    #[allow(
        dead_code,
        reason = "not every suite that shares the shop spoils meshes"
    )]
    pub fn bytes(mut self, path: &str, bytes: Vec<u8>) -> Self {
        self.files.insert(path.into(), bytes);
        self
    }

    /// Writes all files to a folder.
    #[allow(
        dead_code,
        reason = "not every suite that shares the shop runs the command"
    )]
    pub fn write_to(&self, folder: &Path) {
        for (path, bytes) in &self.files {
            std::fs::write(folder.join(path), bytes).unwrap();
        }
    }

    /// With a piece of a file exchanged.
    #[track_caller]
    pub fn change(mut self, path: &str, old: &str, new: &str) -> Self {
        let text = String::from_utf8(self.files[Path::new(path)].clone()).unwrap();
        assert!(text.contains(old), "{path} has no {old:?}");
        self.text(path, &text.replacen(old, new, 1));
        self
    }

    /// With a file rewritten.
    pub fn rewrite(mut self, path: &str, by: impl Fn(&str) -> String) -> Self {
        let text = String::from_utf8(self.files[Path::new(path)].clone()).unwrap();
        self.text(path, &by(&text));
        self
    }

    /// With more text at the end of a file.
    pub fn add(mut self, path: &str, more: &str) -> Self {
        let mut text = String::from_utf8(self.files[Path::new(path)].clone()).unwrap();
        text.push_str(more);
        self.text(path, &text);
        self
    }

    /// With a box standing on the table (`bed`) or fixed to the machine (`base`).
    pub fn stand(self, group: &str, low: [f64; 3], high: [f64; 3]) -> Self {
        self.add(
            "machine.toml",
            &format!(
                "\n[[bodies]]\nname = \"pillar\"\ngroup = \"{group}\"\nshape = {{ kind = \"box\", from = {low:?}, to = {high:?} }}\n"
            ),
        )
    }

    /// The answer.
    #[track_caller]
    pub fn answer(&self) -> CheckAnswer {
        self.answer_of(&[])
    }

    /// The answer for some of the cuts.
    #[track_caller]
    pub fn answer_of(&self, cuts: &[&str]) -> CheckAnswer {
        self.answer_with(CheckOptions {
            lengths: false,
            cuts: cuts.iter().map(|cut| (*cut).to_owned()).collect(),
            ..CheckOptions::default()
        })
    }

    /// The answer, asked as the options say but for remedies.
    #[track_caller]
    pub fn answer_with(&self, options: CheckOptions) -> CheckAnswer {
        let loaded = match self.load() {
            Ok(loaded) => loaded,
            Err(faults) => panic!("{:#?}", faults.0),
        };
        let options = CheckOptions {
            remedies: false,
            ..options
        };
        check(&loaded.setup, &options, &Silent, &AtomicBool::new(false)).unwrap()
    }

    pub fn load(&self) -> Result<Loaded, SetupFaults> {
        let source = |path: &Path| {
            let path: PathBuf = path.components().collect();
            let found = self.files.get(&path).cloned();
            found.ok_or_else(|| std::io::ErrorKind::NotFound.into())
        };
        load(Path::new("job.toml"), &source)
    }

    /// Asserts that the job is refused, with these words.
    #[track_caller]
    pub fn assert_refused(&self, words: &str) {
        let faults = self.load().map(|_| ()).unwrap_err();
        let found = faults.0.iter().any(|fault| fault.message.contains(words));
        assert!(found, "{:#?}", faults.0);
    }
}

/// A cut with a tool and a feature.
pub fn cut(name: &str, tool: u32, feature: &str) -> String {
    format!(
        "[[cuts]]\nname = \"{name}\"\ntool = {tool}\npart = \"block\"\nbefore = \"blank\"\nafter = \"finished\"\nfeature = {{ {feature} }}\n\n"
    )
}

/// A hole in the middle of the top.
pub const HOLE: &str = r#"kind = "round-hole", at = [[0, 0, 46]], access = [0, 0, 1], depth = 18"#;

/// The twelve triangles of a box.
pub fn cuboid(low: [f64; 3], high: [f64; 3]) -> Triangles {
    let [low, high] = [low, high].map(nalgebra::Vector3::from);
    let triangles = crate::models::box_triangles(low, high);
    triangles.iter().map(|t| t.map(Point3::from)).collect()
}

/// The block with a pocket of these half sizes in its top, down to a floor.
pub fn pocketed(half: [f64; 2], floor: f64) -> Triangles {
    hollowed([35.0, 45.0, 46.0], half, floor)
}

/// The block with a square hole in its side at +X, 26 deep, for the drill.
pub fn drilled_from_the_side() -> Triangles {
    let lying = hollowed([45.0, 23.0, 70.0], [2.6, 2.6], 44.0);
    let upright = |p: Point3<f64>| Point3::new(p.z - 35.0, p.x, p.y + 23.0);
    lying.iter().map(|t| t.map(upright)).collect()
}

/// A box on the plane z = 0, by its half sizes and its height, with a pocket in its top.
fn hollowed(size: [f64; 3], half: [f64; 2], floor: f64) -> Triangles {
    let ring = |x: f64, y: f64, z: f64| {
        [[-x, -y], [x, -y], [x, y], [-x, y]].map(|[x, y]| Point3::new(x, y, z))
    };
    let (foot, top) = (ring(size[0], size[1], 0.0), ring(size[0], size[1], size[2]));
    let (mouth, low) = (
        ring(half[0], half[1], size[2]),
        ring(half[0], half[1], floor),
    );
    let mut all = Vec::new();
    let mut quad = |a, b, c, d| all.extend([[a, b, c], [a, c, d]]);
    quad(foot[3], foot[2], foot[1], foot[0]);
    quad(low[0], low[1], low[2], low[3]);
    for i in 0..4 {
        let j = (i + 1) % 4;
        quad(foot[i], foot[j], top[j], top[i]);
        quad(top[i], top[j], mouth[j], mouth[i]);
        quad(mouth[i], mouth[j], low[j], low[i]);
    }
    all
}

/// Kinds of all troubles.
pub fn kinds(answer: &CheckAnswer) -> Vec<TroubleKind> {
    answer.troubles.iter().map(|trouble| trouble.kind).collect()
}

/// The first cut.
pub fn first(answer: &CheckAnswer) -> &CutAnswer {
    &answer.cuts[0]
}

/// Asserts that all is clear: the trap without its bait.
#[track_caller]
pub fn assert_clear(shop: &Shop) {
    let answer = shop.answer();
    assert_eq!(answer.verdict, Verdict::Clear, "{:#?}", answer.troubles);
}

/// Asserts a verdict and a kind of trouble.
#[track_caller]
pub fn assert_trouble(shop: &Shop, verdict: Verdict, kind: TroubleKind) {
    let answer = shop.answer();
    assert_eq!(answer.verdict, verdict, "{:#?}", answer.troubles);
    assert!(kinds(&answer).contains(&kind), "{:#?}", answer.troubles);
}
