//! A small good job in memory, and helpers that break it.

use crate::mesh::solids::cuboid;
use crate::mesh::write_stl_binary;
use crate::setup::{FileFault, Loaded, SetupFaults, Severity, load};
use nalgebra::Point3;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

pub(super) const JOB: &str = r#"format = "lapidary/job"
version = 1
units = "mm"
title = "Two housings"
machine_file = "shop/machine.toml"
tool_files = ["shop/tools.toml"]

[wanted]
rest = 2.0
elements.holder = { rest = 3.0, index = 6.0 }

[carrier]
name = "column"
kind = "column"
sides = 4
across_flats = 160
length = 440
bore = 80
base_height = 30
base_diameter = 150
pads = { width = 80, thickness = 10 }

[[parts]]
name = "housing"

[[parts.states]]
name = "blank"
stock = { z = [0, 3] }

[[parts.states]]
name = "finished"
file = 'meshes\part.stl'

[[clamps]]
name = "strap"
[[clamps.states]]
name = "closed"
file = "meshes/clamp.stl"

[[seats]]
name = "seats"
part = "housing"
sides = [1, 3]
grid = { first = [0, 130], pitch = [0, 130], count = [1, 2] }
clamps = ["strap"]

[[cuts]]
name = "top"
tool = 2
part = "housing"
before = "blank"
after = "finished"
feature = { kind = "planar-face", at = [0, 0, 46], access = [0, 0, 1], along = [0, 1, 0], length = 90, width = 70 }

[[cuts]]
name = "hole"
tool = 6
part = "housing"
before = "finished"
after = "finished"
index_deg = [0, 180]
feature = { kind = "round-hole", at = [[10, 0, 46], [-10, 0, 46]], access = [0, 0, 1], depth = 18 }
"#;

pub(super) const MACHINE: &str = r#"format = "lapidary/machine"
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
shape = { kind = "cylinder", from = [0, 0, 0], to = [0, 0, 120], diameter = 150 }

[[bodies]]
name = "head"
group = "head"
shape = { kind = "box", from = [-175, -175, 120], to = [175, 175, 300] }

[[bodies]]
name = "pallet"
group = "bed"
shape = { kind = "profile", points = [[200, -50], [200, 0]], axis = [0, 1, 0] }

[[bodies]]
name = "wall"
group = "base"
shape = { kind = "box", from = [-800, -100, -500], to = [-700, 900, 500] }

[[contacts]]
name = "foot on pallet"
work = "carrier"
bed = "pallet"
radius = 80
along = [-1, 1]
"#;

pub(super) const TOOLS: &str = r#"format = "lapidary/tools"
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
holder = [{ diameter = 44, height = 70 }]

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

/// Files in memory.
#[derive(Debug, Clone)]
pub(super) struct Files(pub(super) BTreeMap<PathBuf, Vec<u8>>);

impl Files {
    /// The good job.
    pub(super) fn good() -> Self {
        let mut files = Self(BTreeMap::new());
        files.text("job.toml", JOB);
        files.text("shop/machine.toml", MACHINE);
        files.text("shop/tools.toml", TOOLS);
        files.block("meshes/part.stl", [-35.0, -45.0, 0.0], [35.0, 45.0, 46.0]);
        files.block("meshes/clamp.stl", [-12.0, 33.0, 0.0], [13.0, 79.0, 38.0]);
        files
    }

    pub(super) fn text(&mut self, path: &str, text: &str) {
        self.0.insert(PathBuf::from(path), text.as_bytes().to_vec());
    }

    pub(super) fn block(&mut self, path: &str, low: [f64; 3], high: [f64; 3]) {
        let mesh = cuboid(Point3::from(low), Point3::from(high)).unwrap();
        self.0.insert(PathBuf::from(path), write_stl_binary(&mesh));
    }

    /// The good job with a piece of one file exchanged.
    pub(super) fn with(path: &str, old: &str, new: &str) -> Self {
        Self::good().change(path, old, new)
    }

    pub(super) fn change(mut self, path: &str, old: &str, new: &str) -> Self {
        let text = String::from_utf8(self.0[Path::new(path)].clone()).unwrap();
        assert!(text.contains(old), "{path} has no {old:?}");
        self.text(path, &text.replacen(old, new, 1));
        self
    }

    pub(super) fn load(&self) -> Result<Loaded, SetupFaults> {
        let source = |path: &Path| {
            let path: PathBuf = path.components().collect();
            self.0
                .get(&path)
                .cloned()
                .ok_or_else(|| std::io::ErrorKind::NotFound.into())
        };
        load(Path::new("job.toml"), &source)
    }

    pub(super) fn good_setup(&self) -> Loaded {
        match self.load() {
            Ok(loaded) => loaded,
            Err(faults) => panic!("{}", shown(&faults.0)),
        }
    }

    /// All faults, of jobs that load and of jobs that do not.
    pub(super) fn faults(&self) -> Vec<FileFault> {
        match self.load() {
            Ok(loaded) => loaded.warnings,
            Err(faults) => faults.0,
        }
    }

    /// Asserts that the job has exactly one error: in this file, at the line that holds `at`, with
    /// all of these words.
    #[track_caller]
    pub(super) fn one_error(&self, path: &str, at: &str, words: &[&str]) {
        let faults = self.faults();
        let errors: Vec<&FileFault> = faults
            .iter()
            .filter(|fault| fault.severity == Severity::Error)
            .collect();
        let [error] = errors.as_slice() else {
            panic!("not one error:\n{}", shown(&faults))
        };
        self.same(error, path, at, words);
    }

    /// Asserts that the job loads, with a warning like this.
    #[track_caller]
    pub(super) fn warning(&self, path: &str, at: &str, words: &[&str]) {
        let warnings = self.good_setup().warnings;
        let found = warnings.iter().find(|fault| {
            fault.file == Path::new(path) && words.iter().all(|word| fault.message.contains(word))
        });
        let Some(found) = found else {
            panic!("no such warning:\n{}", shown(&warnings))
        };
        self.same(found, path, at, words);
    }

    /// Asserts that one of the faults is like this.
    #[track_caller]
    pub(super) fn among(&self, path: &str, at: &str, words: &[&str]) {
        let faults = self.faults();
        let found = faults
            .iter()
            .find(|fault| words.iter().all(|word| fault.message.contains(word)));
        let Some(found) = found else {
            panic!("no such fault:\n{}", shown(&faults))
        };
        self.same(found, path, at, words);
    }

    #[track_caller]
    fn same(&self, fault: &FileFault, path: &str, at: &str, words: &[&str]) {
        let text = String::from_utf8_lossy(&self.0[Path::new(path)]).into_owned();
        // `text#2` is the second line with the text.
        let (at, nth) = match at.rsplit_once('#') {
            Some((at, nth)) => (at, nth.parse::<usize>().unwrap() - 1),
            None => (at, 0),
        };
        let mut lines = text
            .lines()
            .enumerate()
            .filter(|(_, line)| line.contains(at));
        let line = lines.nth(nth).map(|(index, _)| index + 1);
        assert!(line.is_some(), "{path} has no line with {at:?}");
        assert_eq!(fault.file, Path::new(path), "{fault}");
        assert_eq!(fault.line, line, "{fault}");
        for word in words {
            assert!(fault.message.contains(word), "no {word:?} in: {fault}");
        }
    }
}

/// Faults, one to a line.
pub(super) fn shown(faults: &[FileFault]) -> String {
    faults
        .iter()
        .map(ToString::to_string)
        .collect::<Vec<_>>()
        .join("\n")
}
