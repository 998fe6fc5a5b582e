//! Letters that the window's own fonts lack, from the fonts of the system.
//!
//! Nothing is looked for while the job's names can be written as it is; where no font has them,
//! boxes stay.

use fontdb::{Database, FaceInfo, ID, Style};
use kiss3d::egui::epaint::text::{FontInsert, FontPriority, InsertFontFamily};
use kiss3d::egui::{Context, FontData, FontFamily, FontId};
use lapidary::setup::model::Setup;
use std::cmp::Reverse;
use std::collections::BTreeSet;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, channel};

/// Fonts that are taken on at most: names of a job are in few scripts.
const MOST_FONTS: usize = 4;

/// A font's name and its bytes.
type Found = (String, FontData);

/// Keeps the fonts of a window up to the names of the job.
#[derive(Debug, Default)]
pub struct Letters {
    /// The setup whose names were looked at last.
    seen: Option<Arc<Setup>>,
    /// Letters that were looked for, whether a font was found or not.
    asked: BTreeSet<char>,
    /// A search that goes on.
    search: Option<Receiver<Vec<Found>>>,
}

impl Letters {
    /// Looks for letters where the setup is another, beside the window; takes on what was found.
    /// Only after a first frame: before, there are no fonts to ask.
    ///
    /// Tells whether fonts were taken on.
    pub fn follow(&mut self, context: &Context, setup: &Arc<Setup>) -> bool {
        if let Some(missing) = self.new_ones(context, setup) {
            let (tell, told) = channel();
            self.search = Some(told);
            std::thread::spawn(move || {
                // A window that was closed meanwhile needs no font.
                let _ = tell.send(find(&missing));
            });
        }
        let found = self
            .search
            .as_ref()
            .and_then(|search| search.try_recv().ok());
        found.is_some_and(|found| take_on(context, found))
    }

    /// The same, waited for.
    pub fn fill(&mut self, context: &Context, setup: &Arc<Setup>) -> bool {
        self.new_ones(context, setup)
            .is_some_and(|missing| take_on(context, find(&missing)))
    }

    fn new_ones(&mut self, context: &Context, setup: &Arc<Setup>) -> Option<BTreeSet<char>> {
        if self
            .seen
            .as_ref()
            .is_some_and(|seen| Arc::ptr_eq(seen, setup))
        {
            return None;
        }
        self.seen = Some(Arc::clone(setup));
        let letters: BTreeSet<char> = names(setup).flat_map(str::chars).collect();
        let shown = FontId::proportional(13.0);
        let missing: BTreeSet<char> = context.fonts_mut(|fonts| {
            let lacks = |letter: &char| !letter.is_control() && !fonts.has_glyph(&shown, *letter);
            letters.into_iter().filter(lacks).collect()
        });
        let new: BTreeSet<char> = missing.difference(&self.asked).copied().collect();
        self.asked.extend(&new);
        (!new.is_empty()).then_some(new)
    }
}

/// Every name of a job that a panel or a picture can show.
fn names(setup: &Setup) -> impl Iterator<Item = &str> {
    let machine = &setup.machine;
    let axes = machine.axes.iter().map(|axis| &axis.name);
    let bodies = [&machine.nose, &machine.head, &machine.bed, &machine.base];
    let bodies = bodies.into_iter().flatten().map(|body| &body.name);
    let parts = setup.parts.iter().flat_map(|part| {
        let states = part.states.iter().map(|state| &state.name);
        std::iter::once(&part.name).chain(states)
    });
    [
        &setup.title,
        &machine.name,
        &machine.rotary.name,
        &setup.carrier.name,
    ]
    .into_iter()
    .chain(axes)
    .chain(bodies)
    .chain(parts)
    .chain(setup.seats.iter().map(|seat| &seat.name))
    .chain(setup.clamps.iter().map(|clamp| &clamp.name))
    .chain(setup.tools.iter().map(|tool| &tool.name))
    .chain(setup.cuts.iter().map(|cut| &cut.name))
    .map(String::as_str)
}

fn take_on(context: &Context, found: Vec<Found>) -> bool {
    let any = !found.is_empty();
    for (name, data) in found {
        let last = |family| InsertFontFamily {
            family,
            priority: FontPriority::Lowest,
        };
        let families = vec![last(FontFamily::Proportional), last(FontFamily::Monospace)];
        context.add_font(FontInsert::new(&name, data, families));
    }
    any
}

/// Fonts of the system for these letters.
fn find(missing: &BTreeSet<char>) -> Vec<Found> {
    let mut fonts = Database::new();
    fonts.load_system_fonts();
    find_among(&fonts, missing)
}

/// Upright fonts that have these letters between them, the one with most of them first; fewer where no
/// font has some.
fn find_among(fonts: &Database, missing: &BTreeSet<char>) -> Vec<Found> {
    let upright = fonts.faces().filter(|face| face.style == Style::Normal);
    let mut faces: Vec<(&FaceInfo, BTreeSet<char>)> = upright
        .map(|face| (face, letters_of(fonts, face.id, missing)))
        .filter(|(_, letters)| !letters.is_empty())
        .collect();
    // Of fonts alike the one of usual weight and width; the name last, so that it is always the same.
    faces.sort_by_cached_key(|(face, _)| {
        let weight = face.weight.0.abs_diff(fontdb::Weight::NORMAL.0);
        (
            weight,
            face.monospaced,
            face.post_script_name.clone(),
            face.index,
        )
    });
    let mut open = missing.clone();
    let mut found = Vec::new();
    while found.len() < MOST_FONTS {
        let covers = |letters: &BTreeSet<char>| letters.intersection(&open).count();
        let best = faces
            .iter()
            .enumerate()
            .max_by_key(|(place, (_, letters))| (covers(letters), Reverse(*place)));
        let Some((_, (face, letters))) = best.filter(|(_, (_, letters))| covers(letters) > 0)
        else {
            break;
        };
        let read = fonts.with_face_data(face.id, |bytes, index| FontData {
            index,
            ..FontData::from_owned(bytes.to_vec())
        });
        open.retain(|letter| !letters.contains(letter));
        found.extend(read.map(|data| (face.post_script_name.clone(), data)));
    }
    found
}

/// Which of these letters a font has.
fn letters_of(fonts: &Database, face: ID, letters: &BTreeSet<char>) -> BTreeSet<char> {
    let read = fonts.with_face_data(face, |bytes, index| {
        let face = ttf_parser::Face::parse(bytes, index).ok()?;
        let has = |letter: &&char| face.glyph_index(**letter).is_some();
        Some(letters.iter().filter(has).copied().collect())
    });
    read.flatten().unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use kiss3d::egui::FontDefinitions;

    /// The window library's own fonts stand in for those of a system: one of letters, one of signs.
    fn found(letters: &str) -> Vec<BTreeSet<char>> {
        let mut fonts = Database::new();
        for data in FontDefinitions::default().font_data.values() {
            fonts.load_font_data(data.font.to_vec());
        }
        let missing: BTreeSet<char> = letters.chars().collect();
        let found = find_among(&fonts, &missing);
        let has = |(_, data): &Found| {
            let face = ttf_parser::Face::parse(&data.font, data.index).expect("a font");
            let has = |letter: &&char| face.glyph_index(**letter).is_some();
            missing.iter().filter(has).copied().collect()
        };
        found.iter().map(has).collect()
    }

    #[test]
    fn fonts_have_all_letters_between_them_the_one_with_most_first() {
        let both = found("Жщёλ\u{1F40B}");
        assert_eq!(both.len(), 2, "{both:?}");
        assert!(both[0].contains(&'Ж') && both[0].contains(&'λ'), "{both:?}");
        assert!(both[1].contains(&'\u{1F40B}'), "{both:?}");
        assert_eq!(found("Ж").len(), 1);
    }

    #[test]
    fn letters_of_no_font_bring_none() {
        assert!(found("漢\u{E123}").is_empty());
    }
}
