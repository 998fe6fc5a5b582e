//! The page says what is so, to eyes and ears: names of any script, places that are not reached,
//! overlaps, the list of contents.

use crate::answers::three_troubles;
use crate::page::{Demo, look, undrawn};
use crate::report;
use lapidary::answer::check::CheckOptions;
use lapidary::answer::check::model::{Outcome, Verdict};
use lapidary::report::{PageOptions, check_page};
use lapidary::value::Unit;

/// Source: Unicode Standard Annex #9: what stands in an isolate has no say in the order outside of it.
#[test]
fn names_written_from_right_to_left_stand_by_themselves() {
    let names = ["כיס, גס 3", "پنجره ١٢"];
    let steering = "seat \u{202e}2.1";
    let mut answer = three_troubles();
    answer.title = format!("{} 4.5", names[1]);
    for cut in &mut answer.cuts {
        cut.cut = names[0].to_owned();
        if let Some(least) = &mut cut.least {
            least.body = format!("{} ({}) of seat 2.1", names[1], names[0]);
            least.element_body = steering.to_owned();
        }
    }
    for trouble in &mut answer.troubles {
        trouble.cut = Some(names[0].to_owned());
        if let Some(worst) = &mut trouble.worst {
            worst.body = format!("{} of seat 1.2", names[1]);
            worst.element_body = steering.to_owned();
        }
    }
    let asked = CheckOptions::default();
    let options = PageOptions {
        names: names.map(str::to_owned).to_vec(),
        ..look(Unit::Mm)
    };
    let page = check_page(&report(&answer, &asked), &undrawn(), &options);
    for whole in [
        "<h1>\u{2068}پنجره ١٢\u{2069} 4.5</h1>",
        "<title>clash: \u{2068}پنجره ١٢\u{2069} 4.5</title>",
        ">\u{2068}כיס, גס 3\u{2069}</th>",
        "seat \u{fffd}2.1 to \u{2068}پنجره ١٢\u{2069} (\u{2068}כיס, גס 3\u{2069}) of seat 2.1",
        " to \u{2068}پنجره ١٢\u{2069} of seat 1.2",
    ] {
        assert!(page.contains(whole), "{whole:?}");
    }
    // Wherever else: no letter of these scripts outside an isolate, and no isolate left open.
    let mut is_open = false;
    for letter in page.chars() {
        match letter {
            '\u{2068}' | '\u{2069}' => {
                assert_eq!(is_open, letter == '\u{2069}');
                is_open = !is_open;
            }
            '<' | '>' => assert!(!is_open),
            '\u{590}'..='\u{6ff}' => assert!(is_open, "{letter}"),
            '\u{202a}'..='\u{202e}' | '\u{2066}' | '\u{2067}' => panic!("{letter:?}"),
            _ => {}
        }
    }
    assert!(!is_open);
    // The text report has no isolates, and nothing that steers either.
    let text = lapidary::report::check_text(&report(&answer, &asked), Default::default());
    assert!(text.contains("\u{fffd}2.1") && !text.contains('\u{202e}'));
}

/// T7 of the demo is short of travel wherever it cuts: the chip of its tightest gap is not the cut's.
#[test]
fn a_gap_at_a_place_that_is_not_reached_says_so() {
    let demo = Demo::new("horizontal.toml", &[7]);
    let place = &demo.drawings.tools[0];
    let at = place.not_reached.expect("a cut that is not reached");
    let cut = &demo.answer.cuts[at];
    assert_eq!(cut.outcome, Outcome::ShortOfTravel);
    assert_eq!(place.measured.verdict, Verdict::Clear);
    let page = demo.page(Unit::Mm);
    let said =
        "the cut itself is not reached there, whatever the gap: short of travel: Z short, spare ";
    let (axis, used) = cut.short_axis().expect("an axis that is short");
    let number = format!(
        "<data value=\"{}\" data-at=\"/answer/cuts/{at}/travel/{axis}/spare_mm\">",
        used.spare_mm
    );
    assert!(page.contains(&format!("{said}{number}")));
    // For those who do not see the drawing, in both views.
    let heard = format!(" clash: {said}-20.64.</desc>");
    assert_eq!(page.matches(&heard).count(), 2);
    // The table of cuts has the gap that the JSON has.
    assert!(page.contains("<td class=\"num\"><data value=\"2.98"));
    assert!(
        page.contains("housing (rimmed) of seat 2.1 (worse than this: see the troubles); Z short")
    );
    let reached = Demo::new("horizontal.toml", &[2]);
    assert_eq!(reached.drawings.tools[0].not_reached, None);
    assert!(!reached.page(Unit::Mm).contains("not reached there"));
}

/// The cross of an overlap is no line, and who hears its description is told the same number.
#[test]
fn an_overlap_is_drawn_and_told_as_one() {
    let mut demo = Demo::new("horizontal.toml", &[3]);
    let sentence = "The line is longer than the gap by the chord allowance";
    let figures = |page: &str| -> Vec<String> {
        let parts = page.split("<figure class=\"gap\">").skip(1);
        let whole = parts.filter_map(|part| part.split("</figure>").next());
        whole.map(str::to_owned).collect()
    };
    let drawing = demo.drawings.troubles.iter_mut().flatten().next();
    drawing.expect("a drawing").overlap_mm = Some(5.515);
    let all = figures(&demo.page(Unit::Mm));
    let with_cross = |figure: &&String| figure.contains("<path class=\"cross\"");
    assert!(all.iter().any(|figure| with_cross(&figure)));
    for figure in &all {
        assert_eq!(figure.contains(sentence), !with_cross(&figure));
    }
    assert!(all[0].contains(": overlap 5.52, wanted ") && !all[0].contains(": gap "));
}

/// The list of contents leads to every section but the first, in their order.
#[test]
fn contents_lead_to_every_section() {
    let page = Demo::new("horizontal.toml", &[3]).page(Unit::Mm);
    let all = |before: &str| -> Vec<String> {
        let parts = page.split(before).skip(1);
        let ids = parts.filter_map(|part| part.split('"').next());
        ids.map(str::to_owned).collect()
    };
    let sections = all("<section id=\"");
    assert_eq!(sections[0], "answer");
    assert_eq!(all("<li><a href=\"#"), sections[1..]);
}
