//! Cells settled by the tip stop, asked again one by one of the swept engine, which is another code.

use super::*;
use crate::answer::check::measure::CONTACT_GRAIN_MM;
use crate::answer::check::model::Element;
use crate::answer::reach::indexes::seats_of;
use crate::answer::reach::lids::Lids;
use crate::answer::scene::{ShapeStore, placed};
use crate::gap::{Ask, Motion, Placed, group_gap};
use crate::mesh::faces::faces;
use crate::setup::load;
use nalgebra::Point3;
use std::path::Path;

/// What two ways of asking may differ by.
const SAME_MM: f64 = 1e-4;

/// Cells asked of each kind.
const SAMPLE: usize = 60;

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

    fn share(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// A tip somewhere over a cell.
    fn tip(&mut self, cell: &Cell) -> Vec3 {
        let (mut a, mut b) = (self.share(), self.share());
        if a + b > 1.0 {
            (a, b) = (1.0 - a, 1.0 - b);
        }
        let tips: Vec<Vec3> = cell.tips().collect();
        tips[0] + (tips[1] - tips[0]) * a + (tips[2] - tips[0]) * b
    }
}

/// Everything at one seat and index, for the swept engine.
struct Oracle<'o> {
    asked: &'o PartQuestion<'o>,
    ready: &'o ReadyTool<'o>,
    approach_from_part: Pose,
    own: Vec<Placed>,
    others: Vec<Placed>,
    gouge_mm: f64,
}

impl Oracle<'_> {
    fn gap(&self, tool: &Placed, bodies: &[Placed], tip: &Vec3, enough_mm: f64) -> [f64; 2] {
        let ask = Ask {
            enough_mm: Some(enough_mm),
            less_mm: Some(enough_mm),
            ..Ask::default()
        };
        let way = Motion::line(Vec3::new(tip.x, tip.y, 600.0), *tip);
        let gap = group_gap(std::slice::from_ref(tool), bodies, &way, &ask).unwrap();
        [gap.lo_mm, gap.hi_mm]
    }

    /// Whether an element is nearer than it may be, there or on the way down, or an axis out of its
    /// travel; `None` within what two ways of asking may differ by.
    fn violated(&self, tip_in_part: &Vec3) -> Option<bool> {
        let tip = (self.approach_from_part * Point3::from(*tip_in_part)).coords;
        let setup = self.asked.scene.setup;
        let travel = self.travel(&tip);
        if travel == Some(true) {
            return travel;
        }
        let mut sure = travel;
        for (element, what) in self.ready.elements.iter().enumerate() {
            let tool = Placed {
                shape: what.shape.clone(),
                common_from_body: what.tool_from_body,
            };
            let wanted_mm = self.ready.wanted_mm(setup, element);
            let own_wanted_mm = match what.element {
                Element::Flutes => None,
                element if self.ready.follows(element, self.gouge_mm) => None,
                _ => Some(wanted_mm),
            };
            let chord_mm = self.asked.bodies.chord_mm[1];
            let pairs = [
                Some((&self.others, wanted_mm, chord_mm)),
                own_wanted_mm.map(|wanted_mm| (&self.own, wanted_mm, 0.0)),
            ];
            for (bodies, wanted_mm, chord_mm) in pairs.into_iter().flatten() {
                let [_, hi_mm] = self.gap(&tool, bodies, &tip, wanted_mm + chord_mm + SAME_MM);
                if hi_mm < wanted_mm - SAME_MM {
                    return Some(true);
                }
                let [lo_mm, _] = self.gap(&tool, bodies, &tip, wanted_mm - SAME_MM);
                if lo_mm < wanted_mm - SAME_MM {
                    sure = None;
                }
            }
        }
        for (depth_mm, is_violated) in [(self.gouge_mm + SAME_MM, true), (self.gouge_mm, false)] {
            let core = self.ready.core(depth_mm).unwrap();
            let core = ReadyTool::placed_core(&core).unwrap();
            let [lo_mm, hi_mm] = self.gap(&core, &self.own, &tip, CONTACT_GRAIN_MM);
            if is_violated && hi_mm <= 0.0 {
                return Some(true);
            }
            if !is_violated && lo_mm < CONTACT_GRAIN_MM {
                sure = None;
            }
        }
        sure
    }

    /// Whether an axis is out of its travel; `None` where it is at its end.
    fn travel(&self, tip: &Vec3) -> Option<bool> {
        let tip = self.asked.bodies.table_from_approach() * Point3::from(*tip);
        let kinematics = &self.asked.scene.kinematics;
        let positions = kinematics.positions_mm(tip, self.ready.tool.gauge_length_mm);
        let axes = kinematics.axes().iter().zip(positions);
        let beyond = axes.map(|(axis, at)| (axis.low_mm - at).max(at - axis.high_mm));
        let worst = beyond.fold(f64::NEG_INFINITY, f64::max);
        (worst.abs() > SAME_MM).then_some(worst > 0.0)
    }

    /// Asserts that sampled cells are what they were settled as; counts those that are sure.
    fn hold(
        &self,
        settled: [Vec<(Cell, Option<Stop>)>; 2],
        random: &mut Random,
        seen: &mut [usize; 2],
    ) {
        for (kind, cells) in settled.into_iter().enumerate() {
            for _ in 0..SAMPLE.min(cells.len()) {
                let (cell, stop) = &cells[(random.next() % cells.len() as u64) as usize];
                let tip = random.tip(cell);
                let sure = self.violated(&tip);
                let wrong = sure == Some(kind == 0);
                let name = &self.ready.tool.name;
                assert!(!wrong, "{name}, {stop:?}: {cell:?}, tip {tip:?}");
                seen[kind] += usize::from(sure.is_some());
            }
        }
    }
}

/// Asks about cells of the demo at one seat and index; counts what was sure on both sides.
fn compare(asked: &PartQuestion<'_>, index: usize, random: &mut Random) -> [usize; 2] {
    let own = asked.own_body().unwrap();
    let gouge_mm = asked.scene.setup.gouge_mm + own.gouge_chord_mm;
    let at = asked
        .bodies
        .at_indexes(asked.scene, asked.indexes_deg)
        .unwrap();
    let approach_from_part = asked.approach_from_part(0, &at[index].approach_from_carrier);
    let own_part = OwnPart::new(&own, None, approach_from_part).unwrap();
    let mut seen = [0; 2];
    for ready in asked.tools {
        let tool = asked.armed(ready, &own).unwrap();
        let ground = asked.own_ground(&tool, &own_part).unwrap().unwrap();
        let stage = Stage {
            surface: asked.surface,
            ready,
            own: &ground,
        };
        let cells = asked.surface.seen(ready.tool, &approach_from_part).cells;
        let of_own = stage.against_own(cells).unwrap();
        let around = asked.around(&tool, &at[index], 0);
        let found = stage.against_all(of_own.free.clone(), &around).unwrap();
        let [work, _] = asked.bodies.turning_without(asked.seats[0]);
        let bed = asked.bodies.table_from_approach().inverse();
        let turning = work
            .iter()
            .map(|body| placed(body, &at[index].approach_from_carrier));
        let resting = asked.scene.bed.iter().map(|body| placed(body, &bed));
        let oracle = Oracle {
            asked,
            ready,
            approach_from_part,
            own: own_part.bodies.clone(),
            others: turning.chain(resting).collect(),
            gouge_mm,
        };
        let stopped = of_own.stopped.iter().chain(&found.stopped);
        let stopped: Vec<(Cell, Option<Stop>)> =
            stopped.map(|(cell, stop)| (*cell, Some(*stop))).collect();
        let free = found.free.iter().map(|cell| (*cell, None)).collect();
        oracle.hold([free, stopped], random, &mut seen);
    }
    seen
}

#[test]
fn settled_cells_hold_before_the_swept_engine() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-models");
    let source = |path: &Path| std::fs::read(root.join(path));
    let loaded = load(Path::new("horizontal.toml"), &source).unwrap();
    let setup = &loaded.setup;
    let options = ReachOptions::default();
    let scene = Scene::new(setup, ShapeStore::build(setup).unwrap()).unwrap();
    let lids = Lids::new(&scene).unwrap();
    let tools: Vec<ReadyTool<'_>> = [1, 2, 3, 4, 5, 9]
        .map(|tool| ReadyTool::new(&scene, &lids, tool).unwrap())
        .into();
    let mesh = &setup.parts[0].states.last().unwrap().mesh;
    let surface = Surface::new(mesh, faces(mesh), &options);
    let bodies = Bodies::new(&scene, lids).unwrap();
    let stop = AtomicBool::new(false);
    let asked = PartQuestion {
        scene: &scene,
        tools: &tools,
        bodies: &bodies,
        indexes_deg: &[0.0, 35.0, 90.0],
        part: 0,
        surface: &surface,
        options: &options,
        seats: vec![seats_of(setup, &options, 0)[1]],
        stop: &stop,
    };
    let mut random = Random(29);
    let mut seen = [0; 2];
    for index in 0..3 {
        let more = compare(&asked, index, &mut random);
        seen = [seen[0] + more[0], seen[1] + more[1]];
    }
    println!(
        "seed 29: {} free and {} stopped tips were sure in both",
        seen[0], seen[1]
    );
    assert!(seen[0] > 300 && seen[1] > 300, "{seen:?}");
}
