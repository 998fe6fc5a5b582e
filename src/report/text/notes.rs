//! Meant contacts, what a `clear` relies on, and cautions.

use super::Show;
use super::page::Page;
use super::words::count;
use crate::answer::check::model::{ContactUse, Reliance};

/// What no program can know. Kept short, so that it is read.
pub const CAUTIONS: [&str; 5] = [
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

pub fn meant(contact: &ContactUse, show: &Show) -> String {
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
pub fn reliances(show: &Show) -> Vec<String> {
    let mut folded = Folded::default();
    for reliance in &show.report.answer.relies_on {
        folded.add(reliance, show);
    }
    let mut texts = folded.single;
    let chains = folded.chains.iter().map(|chain| chain.join(" then "));
    let lists = [
        ("earlier cuts done as planned", chains.collect()),
        ("passes no deeper than", listed(&folded.passes)),
        (
            "shanks follow their flutes, beside the walls by",
            listed(&folded.corridors),
        ),
        (
            "planes not given, taken as feed/travel above the opening",
            listed(&folded.planes),
        ),
    ];
    for (lead, list) in lists {
        let list: Vec<String> = list;
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

/// Cuts by what was said of them.
type BySaying = Vec<(String, Vec<String>)>;

fn listed(folded: &BySaying) -> Vec<String> {
    let text = |(saying, cuts): &(String, Vec<String>)| format!("{saying} {}", cuts.join(", "));
    folded.iter().map(text).collect()
}

fn fold(folded: &mut BySaying, saying: String, cut: &str) {
    let cut = format!("\"{cut}\"");
    match folded.iter_mut().find(|(other, _)| *other == saying) {
        Some((_, cuts)) => cuts.push(cut),
        None => folded.push((saying, vec![cut])),
    }
}

/// Reliances by kind.
#[derive(Default)]
struct Folded {
    single: Vec<String>,
    /// Cuts in quotes, each relying on the one before.
    chains: Vec<Vec<String>>,
    passes: BySaying,
    corridors: BySaying,
    planes: BySaying,
}

impl Folded {
    fn add(&mut self, reliance: &Reliance, show: &Show) {
        let (up, down) = (
            |mm: &f64| show.lengths.up(*mm),
            |mm: &f64| show.lengths.down(*mm),
        );
        match reliance {
            Reliance::EarlierCut { cut, earlier, .. } => self.chain(earlier, cut),
            Reliance::Passes { cut, pass_mm } => fold(&mut self.passes, down(pass_mm), cut),
            Reliance::Corridor { cut, difference_mm } => {
                fold(&mut self.corridors, down(difference_mm), cut);
            }
            Reliance::Thread { cut, depth_mm } => self.single.push(format!(
                "\"{cut}\": the model shows the hole before tapping; its thread goes {} into the wall",
                up(depth_mm)
            )),
            Reliance::Plane {
                cut,
                feed_mm,
                travel_mm,
            } => {
                let saying = format!("{}/{}", up(feed_mm), up(travel_mm));
                fold(&mut self.planes, saying, cut);
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
        }
    }

    /// Puts a cut at the end of the chain that its earlier cut ends, or begins a new one.
    fn chain(&mut self, earlier: &str, cut: &str) {
        let (earlier, cut) = (format!("\"{earlier}\""), format!("\"{cut}\""));
        match self
            .chains
            .iter_mut()
            .find(|chain| chain.last() == Some(&earlier))
        {
            Some(chain) => chain.push(cut),
            None => self.chains.push(vec![earlier, cut]),
        }
    }
}
