//! What the tests of shares have in common: tools as text, a question, shares of chosen faces.

use super::shop::Shop;
use lapidary::answer::check::Silent;
use lapidary::answer::reach::model::{FaceReach, ReachAnswer, Share};
use lapidary::answer::reach::{ReachOptions, reach};
use nalgebra::Point3;
use std::sync::atomic::AtomicBool;

pub type Triangles = Vec<[Point3<f64>; 3]>;

/// The default wanted gap of an element at rest.
pub const GAP_MM: f64 = 2.0;

/// A mill as a job's tool file has it.
#[derive(Debug, Clone)]
pub struct Mill {
    pub number: u32,
    pub kind: &'static str,
    pub diameter_mm: f64,
    pub flutes_mm: f64,
    pub shank_mm: f64,
    pub stick_out_mm: f64,
    pub holder_mm: [f64; 2],
    /// Further codes, each on a line.
    pub more: &'static str,
}

impl Mill {
    /// A mill with a slim shank and a slim holder far up.
    pub fn slim(number: u32, kind: &'static str, diameter_mm: f64) -> Self {
        Self {
            number,
            kind,
            diameter_mm,
            flutes_mm: 40.0_f64.max(diameter_mm),
            shank_mm: 0.8 * diameter_mm,
            stick_out_mm: 90.0,
            holder_mm: [12.0, 60.0],
            more: "",
        }
    }

    pub fn text(&self) -> String {
        let Self {
            number,
            kind,
            diameter_mm,
            flutes_mm,
            shank_mm,
            stick_out_mm,
            holder_mm: [holder_mm, height_mm],
            more,
        } = self;
        let length_mm = stick_out_mm + 4.0 * shank_mm;
        format!(
            "\n[[tools]]\nnumber = {number}\nname = \"mill {number}\"\nkind = \"{kind}\"\n\
             DC = {diameter_mm:?}\nAPMX = {flutes_mm:?}\nLU = {flutes_mm:?}\nOAL = {length_mm:?}\n\
             DMM = {shank_mm:?}\nstick_out = {stick_out_mm:?}\n{more}\n\
             holder = [{{ diameter = {holder_mm:?}, height = {height_mm:?} }}]\n"
        )
    }
}

/// The job with these mills and this finished part.
pub fn shop(mills: &[Mill], finished: &Triangles) -> Shop {
    let tools: String = mills.iter().map(Mill::text).collect();
    Shop::with_cuts("")
        .add("tools.toml", &tools)
        .mesh("finished.stl", finished)
}

/// Asks for some tools at some angles.
pub fn asked(shop: &Shop, tools: &[u32], indexes_deg: &[f64], grain_mm: f64) -> ReachAnswer {
    let loaded = shop
        .load()
        .unwrap_or_else(|faults| panic!("{:#?}", faults.0));
    let options = ReachOptions {
        indexes_deg: indexes_deg.to_vec(),
        tools: tools.to_vec(),
        grain_mm,
        least_area_mm2: 0.0,
        halvings: 0,
        ..ReachOptions::default()
    };
    reach(&loaded.setup, &options, &Silent, &AtomicBool::new(false)).unwrap()
}

/// Share of a tool at an index, over all faces that are chosen by their area.
#[track_caller]
pub fn share_at(
    answer: &ReachAnswer,
    tool: u32,
    index_deg: f64,
    chosen: impl Fn(&FaceReach) -> bool,
) -> Share {
    let (mut total, mut certain, mut undecided) = (0.0, 0.0, 0.0);
    for face in answer.parts[0].faces.iter().filter(|face| chosen(face)) {
        let found = face.tools.iter().find(|found| found.tool == tool).unwrap();
        let at = |found: &&lapidary::answer::reach::model::IndexReach| {
            (found.index_deg - index_deg).abs() < 1e-9
        };
        let share = found.seats[0].indexes.iter().find(at);
        let share = share.map_or(Share::NONE, |found| found.share);
        total += face.area_mm2;
        certain += face.area_mm2 * share.certain;
        undecided += face.area_mm2 * share.undecided;
    }
    assert!(total > 0.0, "no face fits");
    Share {
        certain: certain / total,
        undecided: undecided / total,
    }
}

/// Faces whose area is this, to a thousandth of a square millimetre.
pub fn of_area(area_mm2: f64) -> impl Fn(&FaceReach) -> bool {
    move |face| (face.area_mm2 - area_mm2).abs() < 1e-3
}

/// Shares against their formulas; what does not fit is told at the end, all of it.
#[derive(Debug, Default)]
pub struct Shares(Vec<String>);

impl Shares {
    /// Notes a share that does not lie in its bracket, but for `slack`, or whose bracket is wider than
    /// `widest`.
    pub fn within(&mut self, found: Share, exact: f64, slack: f64, widest: f64, what: &str) {
        let Share { certain, undecided } = found;
        let bracket = format!("{what}: {exact:.5}, found {certain:.5} + {undecided:.5}");
        if certain > exact + slack || exact > found.most() + slack {
            self.0.push(format!("{bracket}: not in it"));
        } else if undecided > widest {
            self.0.push(format!("{bracket}: wide"));
        }
    }

    /// Fails where something was noted.
    #[track_caller]
    pub fn done(self) {
        assert!(self.0.is_empty(), "{:#?}", self.0);
    }
}
