//! Dials of where tools reach, from bands of angle to the SVG of the page.

use super::bands::{CORE_MM, EDGE_UP_MM, PAD_MM, columns};
use lapidary::answer::check::model::{CheckAnswer, Verdict};
use lapidary::answer::check::{CheckOptions, Silent, check};
use lapidary::answer::drawing::model::{Dial, ReachedBy, ReachedDial, ReachedDials};
use lapidary::answer::drawing::{drawings, reached_dials};
use lapidary::answer::reach::model::{Bands, ReachAnswer, SeatReach, Share};
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
    by: ReachedBy,
    dials: ReachedDials,
}

impl Shown {
    /// Every face has rings on dials of tools.
    fn new(setup: Setup, check_options: &CheckOptions, options: ReachOptions) -> Self {
        let go_on = AtomicBool::new(false);
        let check = check(&setup, check_options, &Silent, &go_on).unwrap();
        let answer = reach(&setup, &options, &Silent, &go_on).unwrap();
        let by = if options.bands {
            ReachedBy::Bands
        } else {
            ReachedBy::Steps {
                from_share: options.from_share,
            }
        };
        Self {
            by,
            dials: reached_dials(&setup, &answer, by, usize::MAX, &check),
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
            names: Vec::new(),
        };
        check_page(&report, &drawings(&self.setup, &self.check).unwrap(), &look)
    }

    fn reached(&self) -> Reached<'_> {
        Reached {
            answer: &self.answer,
            options: &self.options,
            by: self.by,
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
    demo_by(seats, true)
}

/// The same; without bands at every 15 degrees.
fn demo_by(seats: &[&str], bands: bool) -> Shown {
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
        faces: vec!["flat-2".to_owned(), "flat-121".to_owned()],
        grain_mm: 8.0,
        from_share: 0.5,
        bands,
        bands_to_deg: 5.0,
        at_indexes: !bands,
        every_deg: 15.0,
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
        ("flat-2", &["flat-121".to_owned()][..])
    );
    assert!(!drill.is_asked && drill.rings.is_empty());
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

/// Rotary angles of the beads of a picture that stand on its ring of a radius, with their class.
fn beads_in(svg: &str, frame: &Dial, radius: f64) -> Vec<(String, f64)> {
    let beads = svg.split("<g class=\"bead ").skip(1);
    let bead = |bead: &str| {
        let number = |key: &str| -> f64 {
            let (_, rest) = bead.split_once(&format!(" {key}=\"")).unwrap();
            rest.split('"').next().unwrap().parse().unwrap()
        };
        let (x, y) = (number("cx"), number("cy"));
        let picture_deg = (-y).atan2(x).to_degrees();
        let index_deg = (frame.spindle_deg - picture_deg) / frame.work_turn_per_deg;
        let class = bead.split('"').next().unwrap().to_owned();
        ((x.hypot(y) - radius).abs() < 0.02).then_some((class, index_deg.rem_euclid(360.0)))
    };
    beads.filter_map(bead).collect()
}

/// Marks beside the shares of a face at all seats, counted anew at each angle asked about.
fn wanted_marks(shown: &Shown, face: usize) -> Vec<(f64, Verdict)> {
    let seats = &shown.answer.parts[0].faces[face].tools[0].seats;
    assert_eq!(seats.len(), 2);
    let least = |index_deg: f64, share: &dyn Fn(&Share) -> f64| {
        let of_seat = |seat: &SeatReach| {
            let at = seat.indexes.iter().find(|at| at.index_deg == index_deg);
            at.map_or(0.0, |at| share(&at.share))
        };
        seats.iter().map(of_seat).fold(1.0, f64::min)
    };
    let mark = |index_deg: &f64| {
        let certain = least(*index_deg, &|share| share.certain);
        let most = least(*index_deg, &|share| share.certain + share.undecided);
        match (certain >= 0.5, most >= 0.5) {
            (true, _) => Some((*index_deg, Verdict::Clear)),
            (false, true) => Some((*index_deg, Verdict::Unknown)),
            (false, false) => None,
        }
    };
    shown.answer.indexes_deg.iter().filter_map(mark).collect()
}

/// Marks are what the shares say: as values, in the picture, on the page and in the JSON.
#[test]
fn marks_are_where_the_shares_say() {
    let shown = demo_by(&["1.1", "1.2"], false);
    assert_eq!(shown.answer.indexes_deg.len(), 24);
    let [cuts, rings @ ..] = &shown.dials.tools[0].rings[..] else {
        panic!("{:?}", shown.dials.tools[0]);
    };
    assert!(cuts.place.is_none() && cuts.marks.is_empty());
    // A drill was asked about too, and makes no flat face.
    let drill = &shown.dials.tools[1];
    assert!(drill.is_asked && drill.rings.is_empty());
    assert!(drill.never.is_empty() && drill.not_made.len() == 2);
    assert!(
        shown
            .page()
            .contains("makes none of these faces: housing, side 1: T6.")
    );
    let (page, json) = (shown.page(), shown.json());
    let mut all = Vec::new();
    for (number, ring) in rings.iter().enumerate() {
        let [_, face, _] = ring.place.expect("a face's ring");
        let wanted = wanted_marks(&shown, face);
        let rests = ring.ring.rests.iter();
        let marks: Vec<(f64, Verdict)> = rests.map(|rest| (rest.index_deg, rest.verdict)).collect();
        assert_eq!(marks, wanted, "{}", ring.ring.name);
        assert!(ring.ring.arcs.is_empty());
        // The first ring, 27.5 mm, is that of the cuts; each next one is 3.7 mm further out. A hundredth of
        // a millimetre of paper is 0.02 degree there.
        let radius = 27.5 + 3.7 * (number as f64 + 1.0);
        let seen = beads_in(svg(&page, "by-tool-1-1"), &shown.frame(), radius);
        assert_eq!(seen.len(), wanted.len());
        for ((class, seen_deg), (index_deg, verdict)) in seen.iter().zip(&wanted) {
            assert_eq!(class == "clear", *verdict == Verdict::Clear);
            let off_deg = (seen_deg - index_deg + 180.0).rem_euclid(360.0) - 180.0;
            assert!(off_deg.abs() < 0.04, "{seen_deg} {index_deg}");
        }
        all.extend(wanted);
    }
    let of = |verdict| all.iter().filter(|(_, one)| *one == verdict).count();
    assert!(
        of(Verdict::Clear) > 2 && of(Verdict::Unknown) > 2,
        "{all:?}"
    );
    let tags = tagged(&page);
    let ours: Vec<_> = tags
        .iter()
        .filter(|(at, _)| at.starts_with("/reached/"))
        .collect();
    for (at, raw) in &ours {
        let told = json.pointer(at).and_then(serde_json::Value::as_f64);
        assert_eq!(told, Some(*raw), "{at}");
    }
    // Each mark, the faces left out with their area, the first and the last angle asked about.
    assert_eq!(ours.len(), all.len() + 4);
    assert!(page.contains("Between these angles nothing is told"));
    assert!(page.contains("--reached=steps --share 0.5 --tool 3 --tool 6 --seat 1.1 --seat 1.2"));
}

/// A smaller face has no ring on a tool's dial, and a dial of its own among those that are folded up.
#[test]
fn smaller_faces_have_dials_too() {
    let mut shown = demo_by(&["1.1"], false);
    let drawn = |shown: &Shown, most_faces: usize| {
        reached_dials(
            &shown.setup,
            &shown.answer,
            shown.by,
            most_faces,
            &shown.check,
        )
    };
    let all = drawn(&shown, 2);
    assert_eq!(all, shown.dials);
    assert!(all.other_faces.is_empty() && !shown.page().contains("<details"));
    // flat-121 is the larger one, which T3 does not reach.
    shown.dials = drawn(&shown, 1);
    let ReachedDials {
        tools,
        faces,
        other_faces,
    } = &shown.dials;
    assert!(tools[0].rings.iter().all(|ring| ring.place.is_none()));
    assert_eq!(tools[0].never, ["flat-121"]);
    let names = |dials: &[ReachedDial]| -> Vec<String> {
        dials.iter().map(|dial| dial.name.clone()).collect()
    };
    assert_eq!(
        [names(faces), names(other_faces)],
        [["flat-121"], ["flat-2"]]
    );
    let whole = all.faces.iter().find(|dial| dial.name == "flat-2");
    assert_eq!(whole, other_faces.first());
    let page = shown.page();
    let (_, folded) = page.split_once("<details").expect("folded up");
    let (folded, _) = folded.split_once("</details>").expect("an end");
    assert!(folded.contains("1 more dial, of 1 smaller face, "));
    assert!(svg(folded, "by-other-1-1").contains("bead clear"));
    assert!(page.contains("surely reached at no angle asked about: housing, side 1: flat-121."));
    assert!(page.contains("none of these faces at any angle asked about: housing, side 1: T3."));
    // Its angles stand in the table beside it, and only there.
    let marks: usize = other_faces[0].rings.iter().map(|r| r.marks.len()).sum();
    let of_marks = |text: &str| {
        let tags = tagged(text).into_iter();
        tags.filter(|(at, _)| at.starts_with("/reached/") && at.ends_with("/index_deg"))
            .count()
    };
    assert!(marks > 2);
    assert_eq!([of_marks(folded), of_marks(&page)], [marks; 2]);
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
