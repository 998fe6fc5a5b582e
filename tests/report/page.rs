//! The page: numbers equal the JSON's, names are escaped, the same input gives the same bytes.

use crate::answers::{clear, close, three_troubles, unknown_sense};
use crate::report;
use lapidary::answer::check::model::{CheckAnswer, Outcome, Verdict};
use lapidary::answer::check::{CheckOptions, Silent, check};
use lapidary::answer::drawing::drawings;
use lapidary::answer::drawing::model::{Arc, Drawings, GapDrawing};
use lapidary::report::{CheckReport, Date, PageOptions, Picture, check_json, check_page};
use lapidary::setup::{Loaded, load};
use lapidary::value::Unit;
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;

pub fn look(unit: Unit) -> PageOptions {
    PageOptions {
        unit,
        date: Date {
            year: 2026,
            month: 3,
            day: 31,
        },
        pictures: Vec::new(),
        reached: None,
        names: Vec::new(),
    }
}

pub fn undrawn() -> Drawings {
    Drawings {
        troubles: Vec::new(),
        tools: Vec::new(),
        dial: None,
    }
}

fn plain(answer: &CheckAnswer) -> String {
    let options = CheckOptions::default();
    check_page(&report(answer, &options), &undrawn(), &look(Unit::Mm))
}

/// The demo job, some tools of it, with neither lengths nor remedies: quick, and three troubles.
pub struct Demo {
    pub loaded: Loaded,
    pub options: CheckOptions,
    pub answer: CheckAnswer,
    pub drawings: Drawings,
}

impl Demo {
    pub fn new(job: &str, tools: &[u32]) -> Self {
        let job = Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("demo-models")
            .join(job);
        let loaded = load(&job, &|path: &Path| std::fs::read(path)).expect("a demo job");
        let options = CheckOptions {
            tools: tools.to_vec(),
            seats: vec!["1.1".to_owned(), "1.2".to_owned(), "2.1".to_owned()],
            lengths: false,
            remedies: false,
            ..CheckOptions::default()
        };
        let go_on = AtomicBool::new(false);
        let answer = check(&loaded.setup, &options, &Silent, &go_on).expect("an answer");
        let drawings = drawings(&loaded.setup, &answer).expect("drawings");
        Self {
            loaded,
            options,
            answer,
            drawings,
        }
    }

    fn report(&self) -> CheckReport<'_> {
        CheckReport {
            sources: &self.loaded.sources,
            ..report(&self.answer, &self.options)
        }
    }

    pub fn page(&self, unit: Unit) -> String {
        check_page(&self.report(), &self.drawings, &look(unit))
    }
}

/// Every raw value with its place in the JSON.
fn tagged(page: &str) -> Vec<(String, f64)> {
    let part = |tag: &str, name: &str| {
        let (_, rest) = tag.split_once(&format!(" {name}=\""))?;
        Some(rest.split('"').next()?.to_owned())
    };
    page.split('<')
        .filter_map(|tag| {
            let tag = tag.split('>').next()?;
            let at = part(tag, "data-at")?;
            let value = part(tag, "value").or_else(|| part(tag, "data-value"))?;
            Some((at, value.parse().expect("a number")))
        })
        .collect()
}

fn numbers(value: &serde_json::Value, found: &mut Vec<f64>) {
    match value {
        serde_json::Value::Number(number) => found.extend(number.as_f64()),
        serde_json::Value::Array(items) => items.iter().for_each(|item| numbers(item, found)),
        serde_json::Value::Object(table) => table.values().for_each(|item| numbers(item, found)),
        _ => {}
    }
}

/// What a person reads: no tags, no style sheet.
fn visible(page: &str) -> String {
    let (_, body) = page.split_once("<body>").expect("a body");
    let texts = body.split('<').filter_map(|part| part.split_once('>'));
    texts.map(|(_, text)| format!("{text}\u{1}")).collect()
}

/// Numbers with two decimals, as lengths are shown.
fn decimals(text: &str) -> Vec<String> {
    let mut found = Vec::new();
    let letters: Vec<char> = text.chars().collect();
    let digit = |at: usize| letters.get(at).is_some_and(char::is_ascii_digit);
    for dot in (1..letters.len()).filter(|&at| letters[at] == '.') {
        if digit(dot - 1) && digit(dot + 1) && digit(dot + 2) && !digit(dot + 3) {
            let mut from = dot - 1;
            while from > 0 && digit(from - 1) {
                from -= 1;
            }
            if from > 0 && letters[from - 1] == '-' {
                from -= 1;
            }
            found.push(letters[from..dot + 3].iter().collect());
        }
    }
    found
}

#[test]
fn a_page_without_drawings() {
    // Without the style sheet, a tag a line.
    let page = plain(&close());
    let (_, body) = page.split_once("<body>").expect("a body");
    let lines = body.replace("><", ">\n<");
    insta::assert_snapshot!(lines.replace(env!("CARGO_PKG_VERSION"), "[version]"));
}

#[test]
fn every_number_is_the_one_of_the_json() {
    let demo = Demo::new("horizontal.toml", &[3, 7, 10]);
    let page = demo.page(Unit::Mm);
    let text = check_json(&demo.report()).expect("finite numbers");
    let json: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    let all = tagged(&page);
    assert!(all.len() > 60, "{}", all.len());
    for (at, raw) in all {
        let value = json.pointer(&at).and_then(serde_json::Value::as_f64);
        assert_eq!(value, Some(raw), "{at}");
    }
    // Numbers in sentences too: each is a rounding of a number of the JSON.
    let mut values = Vec::new();
    numbers(&json, &mut values);
    let shown: Vec<String> = values
        .iter()
        .flat_map(|value| {
            let cents = value * 100.0;
            [(cents + 1e-7).floor(), (cents - 1e-7).ceil(), cents.round()]
        })
        .flat_map(|cents| [cents, -cents])
        .map(|cents| format!("{:.2}", cents / 100.0 + 0.0))
        .collect();
    let read = decimals(&visible(&page));
    assert!(read.len() > 60, "{}", read.len());
    for number in read {
        assert!(shown.contains(&number), "{number} is not in the JSON");
    }
}

#[test]
fn inches_keep_the_raw_values() {
    let demo = Demo::new("vertical.toml", &[2]);
    let (mm, inch) = (demo.page(Unit::Mm), demo.page(Unit::Inch));
    assert_eq!(tagged(&mm), tagged(&inch));
    assert!(inch.contains("lengths in inches") && inch.contains(" in</text>"));
}

#[test]
fn threads_and_repeats_leave_the_bytes_alone() {
    let pages = [1, 2, 2].map(|threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build();
        let pool = pool.expect("threads");
        pool.install(|| Demo::new("horizontal.toml", &[3]).page(Unit::Mm))
    });
    assert!(pages[0] == pages[1] && pages[1] == pages[2]);
}

#[test]
fn names_are_escaped_everywhere() {
    let nasty = "<script>alert(\"1\")</script> & 'x' \\ / Gehäuse 外壳 \u{202e}";
    let mut answer = three_troubles();
    answer.title = nasty.to_owned();
    answer.machine = nasty.to_owned();
    answer.swing.body = nasty.to_owned();
    for cut in &mut answer.cuts {
        cut.cut = nasty.to_owned();
        if let Some(least) = &mut cut.least {
            least.body = nasty.to_owned();
            least.element_body = nasty.to_owned();
        }
    }
    for trouble in &mut answer.troubles {
        trouble.cut = Some(nasty.to_owned());
        trouble.note = Some(nasty.to_owned());
        trouble.axis = Some(nasty.to_owned());
    }
    for tool in &mut answer.lengths {
        tool.name = nasty.to_owned();
    }
    let page = plain(&answer);
    assert!(!page.contains("<script") && !page.contains("alert(\""));
    assert!(page.contains("&lt;script&gt;alert(&quot;1&quot;)&lt;/script&gt; &amp; 'x'"));
    assert!(page.contains("Gehäuse 外壳"));
    // Every tag is one that the page itself has.
    let own = plain(&three_troubles());
    let names = |page: &str| {
        let tags = page.split('<').skip(1);
        let name = |tag: &str| tag.split([' ', '>', '\n']).next().map(str::to_owned);
        let mut names: Vec<String> = tags.filter_map(name).collect();
        names.sort();
        names.dedup();
        names
    };
    assert_eq!(names(&page), names(&own));
}

#[test]
fn a_page_asks_nothing_of_a_network() {
    let mut options = look(Unit::Mm);
    options.pictures.push(Picture {
        index_deg: 90.0,
        png: vec![0x89, b'P', b'N', b'G'],
    });
    let answer = unknown_sense();
    let asked = CheckOptions::default();
    let page = check_page(&report(&answer, &asked), &undrawn(), &options);
    assert!(page.contains("src=\"data:image/png;base64,iVBORw==\""));
    for word in ["http:", "https:", "src=\"/", "@import", "<link", "<script"] {
        assert!(!page.contains(word), "{word}");
    }
    assert!(page.contains("there is no dial"));
}

#[test]
fn two_thousand_cuts_make_two_thousand_rows() {
    let mut answer = clear();
    let cut = answer.cuts[0].clone();
    answer.cuts = (0..2_000)
        .map(|number| {
            let mut cut = cut.clone();
            cut.cut = format!("cut {number}");
            cut
        })
        .collect();
    let page = plain(&answer);
    assert_eq!(
        page.matches("<th class=\"words\" scope=\"row\">cut ")
            .count(),
        2_000
    );
    answer.cuts.clear();
    assert!(!plain(&answer).contains("Cuts by index"));
}

fn all_drawings(drawings: &Drawings) -> Vec<&GapDrawing> {
    let troubles = drawings.troubles.iter().flatten();
    let tools = drawings
        .tools
        .iter()
        .filter_map(|tool| tool.drawing.as_ref());
    troubles.chain(tools).collect()
}

/// Both points lie in the plane: their distance in the drawing is their distance in space, which
/// is the gap and the chord allowance.
#[test]
fn a_drawing_shows_the_gap_at_its_true_length() {
    let demo = Demo::new("horizontal.toml", &[2, 3, 7, 10]);
    let all = all_drawings(&demo.drawings);
    assert!(all.len() >= 4, "{}", all.len());
    for drawing in all {
        let [a, b] = drawing.points_mm;
        let seen_mm = (a[0] - b[0]).hypot(a[1] - b[1]);
        let measured = &drawing.measured;
        let place = measured.place.expect("two points");
        let apart = (0..3).map(|i| (place.tool_mm[i] - place.machine_mm[i]).powi(2));
        let apart_mm = apart.sum::<f64>().sqrt();
        assert!((seen_mm - apart_mm).abs() < 1e-6, "{seen_mm} {apart_mm}");
        if measured.verdict != Verdict::Clash {
            let gap_mm = measured.gap.hi_mm.expect("found") + measured.chord_allowance_mm;
            assert!((seen_mm - gap_mm).abs() < 1e-6, "{seen_mm} {gap_mm}");
        }
        for extent in [drawing.whole, drawing.close] {
            let inside = |p: [f64; 2]| {
                (0..2).all(|i| (extent.low_mm[i]..=extent.high_mm[i]).contains(&p[i]))
            };
            assert!(inside(a) && inside(b));
        }
        assert!(drawing.bodies.iter().any(|body| body.nearest));
        assert!(drawing.elements.iter().any(|element| element.nearest));
        assert_eq!(drawing.off_axis_mm, Some(0.0));
    }
}

/// Source: DESIGN of the demo: B about Y with the standard's sense turns the work clockwise as
/// seen from above, so that at B+90 side 2 faces the spindle; X to the right puts the spindle (+Z)
/// below. A about X, seen from +X with Y to the right, has the spindle on top.
#[test]
fn dials_have_the_spindle_at_its_side() {
    let dial = Demo::new("horizontal.toml", &[2])
        .drawings
        .dial
        .expect("a dial");
    assert_eq!(dial.spindle_deg, -90.0);
    assert_eq!(dial.work_turn_per_deg, -1.0);
    assert_eq!(dial.picture_deg(90.0), 0.0);
    assert_eq!(dial.view_normal(), [0.0, 1.0, 0.0]);
    let side = |number: u32| {
        dial.sides
            .iter()
            .find(|side| side.0 == number)
            .map(|side| side.1)
    };
    let turned = |deg: f64| deg.rem_euclid(360.0);
    // What the check says of the seats: the first cut of side 2 is made at B+90.
    assert_eq!(side(1).map(turned), Some(turned(dial.picture_deg(0.0))));
    assert_eq!(side(2).map(turned), Some(turned(dial.picture_deg(90.0))));
    assert_eq!(dial.rings.len(), 1);
    assert!(
        dial.rings[0]
            .rests
            .iter()
            .all(|rest| rest.outcome == Outcome::Reached)
    );
    let upright = Demo::new("vertical.toml", &[2])
        .drawings
        .dial
        .expect("a dial");
    assert_eq!(upright.spindle_deg, 90.0);
}

#[test]
fn arcs_are_drawn_from_end_to_end() {
    let mut demo = Demo::new("horizontal.toml", &[2]);
    let dial = demo.drawings.dial.as_mut().expect("a dial");
    let arc = |from_deg: f64, to_deg: f64| Arc {
        from_deg,
        to_deg,
        outcome: Outcome::Reached,
        verdict: Verdict::Clear,
    };
    dial.rings[0].arcs = vec![arc(-10.0, 10.0), arc(90.0, 300.0), arc(0.0, 360.0)];
    let page = demo.page(Unit::Mm);
    let path = |index: usize| {
        let tag = page
            .split("<path class=\"arc clear\" d=\"")
            .nth(index + 1)?;
        tag.split('"').next().map(str::to_owned)
    };
    // The scale turns clockwise from below here: B-10 is at -100, B+10 at -80 degrees.
    assert_eq!(
        path(0).as_deref(),
        Some("M-4.78 27.08A27.50 27.50 0 0 0 4.78 27.08")
    );
    assert!(path(1).expect("an arc").contains(" 0 1 0 "));
    assert!(page.contains("<circle class=\"arc clear\" r=\"27.50\">"));
    assert!(page.contains("B-10 to +10"));
}

#[test]
fn fingerprints_are_those_of_the_files() {
    let demo = Demo::new("horizontal.toml", &[2]);
    let page = demo.page(Unit::Mm);
    assert!(demo.loaded.sources.len() > 10);
    for source in &demo.loaded.sources {
        assert_eq!(source.sha256.len(), 64);
        assert!(page.contains(&source.sha256));
    }
    // FIPS 180-2, appendix B.1: the digest of "abc".
    let abc = lapidary::setup::SourceFile::new(PathBuf::from("abc"), b"abc");
    let known = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad";
    assert_eq!(abc.sha256, known);
}
