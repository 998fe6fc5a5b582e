//! Dials of where tools reach, from bands of angle to the SVG of the page.

use super::bands::{CORE_MM, EDGE_UP_MM, PAD_MM, between_columns, columns};
use lapidary::answer::check::model::{CheckAnswer, Verdict};
use lapidary::answer::check::{CheckOptions, Silent, check};
use lapidary::answer::drawing::model::{Dial, ReachedDials};
use lapidary::answer::drawing::{drawings, reached_dials};
use lapidary::answer::reach::model::{Bands, ReachAnswer};
use lapidary::answer::reach::{ReachOptions, reach};
use lapidary::report::{CheckReport, Date, PageOptions, Reached, check_json, check_page};
use lapidary::setup::model::Setup;
use lapidary::setup::{Loaded, load};
use lapidary::value::Unit;
use std::path::Path;
use std::sync::atomic::AtomicBool;

/// An answer of `reach` with all that a page needs beside it.
struct Shown {
    setup: Setup,
    check: CheckAnswer,
    answer: ReachAnswer,
    options: ReachOptions,
    dials: ReachedDials,
}

impl Shown {
    fn new(setup: Setup, check_options: &CheckOptions, options: ReachOptions) -> Self {
        let go_on = AtomicBool::new(false);
        let check = check(&setup, check_options, &Silent, &go_on).unwrap();
        let answer = reach(&setup, &options, &Silent, &go_on).unwrap();
        Self {
            dials: reached_dials(&setup, &answer, &check),
            setup,
            check,
            answer,
            options,
        }
    }

    fn frame(&self) -> Dial {
        drawings(&self.setup, &self.check).unwrap().dial.unwrap()
    }

    fn page(&self) -> String {
        let report = CheckReport {
            answer: &self.check,
            options: &CheckOptions::default(),
            accept_close: false,
            warnings: &[],
            sources: &[],
            reached: Some(self.reached()),
        };
        let look = PageOptions {
            unit: Unit::Mm,
            date: Date {
                year: 2026,
                month: 3,
                day: 31,
            },
            pictures: Vec::new(),
            reached: Some(self.dials.clone()),
        };
        check_page(&report, &drawings(&self.setup, &self.check).unwrap(), &look)
    }

    fn reached(&self) -> Reached<'_> {
        Reached {
            answer: &self.answer,
            options: &self.options,
        }
    }

    fn json(&self) -> serde_json::Value {
        let report = CheckReport {
            answer: &self.check,
            options: &CheckOptions::default(),
            accept_close: false,
            warnings: &[],
            sources: &[],
            reached: Some(self.reached()),
        };
        serde_json::from_str(&check_json(&report).unwrap()).unwrap()
    }

    fn bands(&self, tool: usize, seat: usize) -> &Bands {
        let told = &self.answer.parts[0].faces[0].tools[tool].seats[seat];
        told.bands.as_ref().unwrap()
    }
}

/// The demo job: a tool and a seat or two, coarse, so that it is soon there.
fn demo(seats: &[&str]) -> Shown {
    let job = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-models/horizontal.toml");
    let loaded: Loaded = load(&job, &|path: &Path| std::fs::read(path)).unwrap();
    let seats: Vec<String> = seats.iter().map(|seat| (*seat).to_owned()).collect();
    let check = CheckOptions {
        tools: vec![3],
        seats: seats.clone(),
        lengths: false,
        remedies: false,
        ..CheckOptions::default()
    };
    let options = ReachOptions {
        tools: vec![3, 6],
        seats,
        faces: vec!["flat-2".to_owned(), "flat-188".to_owned()],
        grain_mm: 8.0,
        bands_from_share: Some(0.5),
        bands_to_deg: 5.0,
        at_indexes: false,
        ..ReachOptions::default()
    };
    Shown::new(loaded.setup, &check, options)
}

/// Raw numbers with the place that they name.
fn tagged(page: &str) -> Vec<(String, f64)> {
    let part = |tag: &str, name: &str| {
        let (_, rest) = tag.split_once(&format!(" {name}=\""))?;
        Some(rest.split('"').next()?.to_owned())
    };
    let tags = page.split("<data").skip(1);
    tags.filter_map(|tag| {
        let tag = tag.split('>').next()?;
        let value = part(tag, "value")?;
        Some((part(tag, "data-at")?, value.parse().unwrap()))
    })
    .collect()
}

/// Rotary angles at the ends of each arc of a picture, and its class.
fn arcs_in(svg: &str, frame: &Dial) -> Vec<(String, [f64; 2])> {
    let paths = svg.split("<path class=\"arc ").skip(1);
    let arc = |path: &str| {
        let class = path.split('"').next().unwrap().to_owned();
        let data = path.split(" d=\"").nth(1).unwrap().split('"').next();
        let data = data.unwrap().replace(['M', 'A'], " ");
        let numbers: Vec<f64> = data
            .split_whitespace()
            .map(|n| n.parse().unwrap())
            .collect();
        let [x, y, radius, _, _, large, sweep, to_x, to_y] = numbers[..] else {
            panic!("{data}");
        };
        let rotary = |x: f64, y: f64| {
            assert!((x.hypot(y) - radius).abs() < 0.02, "on its ring");
            let picture_deg = (-y).atan2(x).to_degrees();
            (frame.spindle_deg - picture_deg) / frame.work_turn_per_deg
        };
        let (from, to) = (rotary(x, y), rotary(to_x, to_y));
        let width = (to - from).rem_euclid(360.0);
        assert_eq!(
            large > 0.5,
            width > 180.0,
            "the long way round or the short one"
        );
        // Picture angles count against the clock, a sweep of 1 runs with it.
        let falls = frame.work_turn_per_deg > 0.0;
        assert_eq!(sweep > 0.5, falls, "the way round");
        let from = from.rem_euclid(360.0);
        (class, [from, from + width])
    };
    paths.map(arc).collect()
}

/// The picture with an identity.
fn svg<'p>(page: &'p str, id: &str) -> &'p str {
    let at = page.find(&format!("id=\"{id}-t\"")).unwrap();
    let from = page[..at].rfind("<svg").unwrap();
    let to = page[at..].find("</svg>").unwrap() + at;
    &page[from..to]
}

/// Source: as [`super::bands`]: cos and sin of the angle at which the ball's side comes to a column.
#[test]
fn a_closed_form_stands_in_the_picture() {
    let (setup, options) = columns(15.0, PAD_MM, 0.01);
    let options = ReachOptions {
        at_indexes: false,
        ..options
    };
    let shown = Shown::new(setup, &CheckOptions::default(), options);
    let far = 15.0_f64.hypot(EDGE_UP_MM);
    let limit_deg = ((CORE_MM / far).acos() - EDGE_UP_MM.atan2(15.0)).to_degrees();
    let frame = shown.frame();
    let page = shown.page();
    for id in ["by-tool-1-1", "by-face-1-1"] {
        let arcs = arcs_in(svg(&page, id), &frame);
        let clear: Vec<[f64; 2]> = arcs
            .iter()
            .filter(|(class, _)| class == "clear")
            .map(|(_, ends)| *ends)
            .collect();
        let [[from, to]] = clear[..] else {
            panic!("one arc is expected: {arcs:?}");
        };
        // A hundredth of a millimetre of paper at radius 27.5 is 0.021 degree; bands are known to 0.01.
        assert!(
            (from - (360.0 - limit_deg)).abs() < 0.04,
            "{from} {limit_deg}"
        );
        assert!((to - (360.0 + limit_deg)).abs() < 0.04, "{to} {limit_deg}");
    }
}

#[test]
fn arcs_are_the_bands_to_the_last_bit() {
    let shown = demo(&["1.1"]);
    let [tool, drill] = &shown.dials.tools[..] else {
        panic!("two tools: {:?}", shown.dials.tools);
    };
    // Two rings: the cuts, and the one face of two that is reached at some angle.
    let [cuts, face] = &tool.rings[..] else {
        panic!("{:?}", tool.rings);
    };
    assert!(!cuts.ring.rests.is_empty() && cuts.ring.arcs.is_empty());
    assert_eq!(
        (&*face.ring.name, &tool.never[..]),
        ("flat-2", &["flat-188".to_owned()][..])
    );
    assert!(!drill.has_bands && drill.rings.is_empty());
    let bands = shown.bands(0, 0);
    let of = |verdict: Verdict| -> Vec<[f64; 2]> {
        let arcs = face.ring.arcs.iter().filter(|arc| arc.verdict == verdict);
        arcs.map(|arc| [arc.from_deg, arc.to_deg]).collect()
    };
    assert_eq!(of(Verdict::Clear), bands.reached_deg);
    assert_eq!(of(Verdict::Unknown), bands.undecided_deg);
    assert!(!bands.reached_deg.is_empty() && !bands.undecided_deg.is_empty());
    // And in the picture, to a hundredth of a millimetre of paper.
    let page = shown.page();
    let seen = arcs_in(svg(&page, "by-tool-1-1"), &shown.frame());
    assert_eq!(seen.len(), face.ring.arcs.len());
    for ((class, ends), arc) in seen.iter().zip(&face.ring.arcs) {
        assert_eq!(class == "clear", arc.verdict == Verdict::Clear);
        assert!((ends[0] - arc.from_deg).abs() < 0.03, "{ends:?} {arc:?}");
        assert!((ends[1] - arc.to_deg).abs() < 0.03, "{ends:?} {arc:?}");
    }
}

#[test]
fn numbers_of_the_page_are_those_of_the_json() {
    let shown = demo(&["1.1", "1.2"]);
    let (page, json) = (shown.page(), shown.json());
    let all = tagged(&page);
    let ours = all.iter().filter(|(at, _)| at.starts_with("/reached/"));
    let mut count = 0;
    for (at, raw) in ours {
        let told = json.pointer(at).and_then(serde_json::Value::as_f64);
        assert_eq!(told, Some(*raw), "{at}");
        count += 1;
    }
    let arcs: usize = shown
        .dials
        .tools
        .iter()
        .flat_map(|dial| &dial.rings)
        .map(|r| r.ends.len())
        .sum();
    assert_eq!(
        count,
        2 * arcs + 2,
        "both ends of each arc, and the faces left out"
    );
    assert!(page.contains("--bands-to 5 --share 0.5 --tool 3 --tool 6 --seat 1.1 --seat 1.2"));
    // Where both seats are reached is in neither wider than each.
    let dial = &shown.dials.tools[0];
    assert_eq!(dial.seats, ["1.1", "1.2"]);
    let widths = |list: &[[f64; 2]]| list.iter().map(|[low, high]| high - low).sum::<f64>();
    let arcs = dial.rings[1]
        .ring
        .arcs
        .iter()
        .filter(|arc| arc.verdict == Verdict::Clear);
    let both: f64 = arcs.map(|arc| arc.to_deg - arc.from_deg).sum();
    for seat in [0, 1] {
        assert!(both <= widths(&shown.bands(0, seat).reached_deg));
    }
}

/// Seat 2.1 sees what seat 1.1 sees a quarter turn before: asked together one answer serves both, and it is the
/// one that seat 2.1 has when asked alone.
#[test]
fn seats_that_see_alike_share_their_bands() {
    let (both, alone) = (demo(&["1.1", "2.1"]), demo(&["2.1"]));
    let (shared, own) = (both.bands(0, 1), alone.bands(0, 0));
    let lists = |bands: &Bands| [bands.reached_deg.clone(), bands.undecided_deg.clone()];
    for (shared, own) in lists(shared).iter().zip(lists(own)) {
        assert_eq!(shared.len(), own.len());
        for (shared, own) in shared.iter().flatten().zip(own.iter().flatten()) {
            assert!((shared - own).abs() < 1e-9, "{shared} {own}");
        }
    }
    let dial = &both.dials.tools[0];
    assert_eq!((dial.side, &dial.alike[..]), (1, &[(2, 90.0)][..]));
    assert_eq!(dial.seats, ["1.1"]);
}

/// Whatever is proved of an angle at one width holds at another.
#[test]
fn coarser_bands_do_not_contradict_finer_ones() {
    let widths_deg = [5.0, 1.0, 0.01];
    let all = widths_deg.map(|to_deg| between_columns(15.0, PAD_MM, to_deg));
    let on = |list: &[[f64; 2]], angle_deg: f64| {
        list.iter()
            .any(|[low, high]| (angle_deg - low).rem_euclid(360.0) <= high - low)
    };
    let width = |bands: &Bands| {
        bands
            .undecided_deg
            .iter()
            .map(|[low, high]| high - low)
            .sum::<f64>()
    };
    for (finer, coarser) in [(2, 1), (1, 0)] {
        assert!(width(&all[finer]) < width(&all[coarser]));
        for tenth in 0..3600 {
            let angle_deg = f64::from(tenth) * 0.1 + 0.0123;
            let [fine, coarse] = [finer, coarser].map(|at| {
                let bands: &Bands = &all[at];
                match (
                    on(&bands.reached_deg, angle_deg),
                    on(&bands.undecided_deg, angle_deg),
                ) {
                    (true, _) => Some(true),
                    (_, true) => None,
                    _ => Some(false),
                }
            });
            let contradict = fine
                .zip(coarse)
                .is_some_and(|(fine, coarse)| fine != coarse);
            assert!(!contradict, "{angle_deg}");
        }
    }
}
