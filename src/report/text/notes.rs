//! Meant contacts, what a `clear` relies on, and cautions.

use super::Show;
use super::page::Page;
use super::words::count;
use crate::answer::check::model::{ContactUse, Reliance};

/// What no program can know. Kept short, so that it is read.
const CAUTIONS: [&str; 5] = [
    "This answer is only as good as its meshes, offsets and lengths.",
    "Check rotary sense, offsets and tool lengths on the machine.",
    "Prove out in single block, at reduced rapid, with a hand on feed hold.",
    "A heavy carrier needs a hoist.",
    "The machine maker's manual, local rules and qualified people decide.",
];

pub fn write(page: &mut Page, show: &Show) {
    let answer = show.report.answer;
    if !answer.contacts.is_empty() {
        page.heading("Contacts that are meant");
        for contact in &answer.contacts {
            page.text(2, 4, &meant(contact, show));
        }
    }
    let reliances = reliances(show);
    if !reliances.is_empty() {
        page.heading("A clear relies on this");
        for text in reliances {
            page.text(2, 4, &text);
        }
    }
    page.heading("Cautions");
    for caution in CAUTIONS {
        page.text(2, 4, caution);
    }
}

fn meant(contact: &ContactUse, show: &Show) -> String {
    let outside = match &contact.outside_region {
        Some(gap) => format!("outside the region {} apart", show.lengths.gap(gap)),
        None => "all of it within the region".to_owned(),
    };
    format!(
        "{}: {} on {}; {outside}",
        contact.name, contact.work, contact.bed
    )
}

/// One text for each kind of reliance, the cuts folded into it.
fn reliances(show: &Show) -> Vec<String> {
    let mut folded = Folded::default();
    for reliance in &show.report.answer.relies_on {
        folded.add(reliance, show);
    }
    let mut texts = folded.single;
    let lists = [
        ("earlier cuts done as planned", folded.earlier),
        ("passes no deeper than", folded.passes),
        (
            "shanks follow their flutes, beside the walls by",
            folded.corridors,
        ),
        (
            "planes not given, taken as feed/travel above the opening",
            folded.planes,
        ),
    ];
    for (lead, list) in lists {
        if !list.is_empty() {
            texts.push(format!("{lead}: {}", list.join("; ")));
        }
    }
    let warnings = show.report.warnings.len();
    if warnings > 0 {
        let warnings = count(warnings, "warning", "warnings");
        texts.push(format!(
            "{warnings} about the files, printed apart: read before you trust this"
        ));
    }
    texts
}

/// Reliances by kind.
#[derive(Default)]
struct Folded {
    single: Vec<String>,
    earlier: Vec<String>,
    passes: Vec<String>,
    corridors: Vec<String>,
    planes: Vec<String>,
}

impl Folded {
    fn add(&mut self, reliance: &Reliance, show: &Show) {
        let up = |length_mm: f64| show.lengths.up(length_mm);
        match reliance {
            Reliance::EarlierCut {
                cut,
                earlier,
                state,
            } => {
                self.earlier
                    .push(format!("\"{cut}\" on \"{earlier}\" (leaves {state})"));
            }
            Reliance::Passes { cut, pass_mm } => {
                let pass = show.lengths.down(*pass_mm);
                self.passes.push(format!("\"{cut}\" {pass}"));
            }
            Reliance::Corridor { cut, difference_mm } => {
                let difference = show.lengths.down(*difference_mm);
                self.corridors.push(format!("\"{cut}\" {difference}"));
            }
            Reliance::RotarySense { sense } => {
                self.single
                    .push(format!("the rotary turns as declared: {sense}"));
            }
            Reliance::BothWays => self.single.push(
                "index moves checked both ways round, as the machine file does not say which \
                 is taken"
                    .to_owned(),
            ),
            Reliance::Plane {
                cut,
                feed_mm,
                travel_mm,
            } => {
                let (feed, travel) = (up(*feed_mm), up(*travel_mm));
                self.planes.push(format!("\"{cut}\" {feed}/{travel}"));
            }
        }
    }
}
