//! The controls: what if, walks, what is shown and from where; notice and keys.

use crate::act::{Act, Course, KEYS};
use crate::fields::Field;
use crate::panels::GAP;
use crate::sheets::{BAR, FADED, INK, MARGIN, heading, sheet};
use crate::state::{Look, State};
use crate::views::View;
use crate::words;
use kiss3d::egui::{
    Align, Button, Context, Grid, Layout, Rect, RichText, ScrollArea, Slider, TextStyle, Ui, vec2,
};
use lapidary::answer::moment::Group;

/// Height of a button with the room over it.
const BUTTON: f32 = 28.0;

fn field(word: &str, value: f64, step: f64) -> Field<'_> {
    Field {
        word,
        value,
        step,
        prefix: "",
        suffix: "",
    }
}

/// Length, index and wanted gaps set otherwise.
pub fn what_if(ui: &mut Ui, state: &State, acts: &mut Vec<Act>) {
    ui.horizontal(|ui| {
        heading(ui, "What if");
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            let changed = !state.otherwise.is_nothing();
            let back = Button::new("as in the job").small();
            if ui.add_enabled(changed, back).clicked() {
                acts.push(Act::AsInJob);
            }
        });
    });
    if let Some(tool) = state.tool().and_then(|tool| state.setup.tools.get(tool)) {
        let word = format!("T{} gauge length, mm", tool.number);
        let length = field(&word, tool.gauge_length_mm, 0.5).row(ui, acts);
        acts.extend(length.map(Act::Length));
    }
    if state.stood.cut.is_some() && state.stood.seat.is_some() {
        let index_deg = state.stood.moment.index_deg;
        let index = field("index of this cut, deg", index_deg, 1.0).row(ui, acts);
        acts.extend(index.map(Act::Index));
    }
    let wanted = state.setup.wanted.holder;
    let rest = field("wanted gap at rest, mm", wanted.rest_mm, 0.1).row(ui, acts);
    acts.extend(rest.map(Act::WantedRest));
    let moves = field("wanted gap in moves, mm", wanted.index_mm, 0.1).row(ui, acts);
    acts.extend(moves.map(Act::WantedIndex));
}

/// Walks, their speed, and the way back.
pub fn walk(ui: &mut Ui, state: &State, acts: &mut Vec<Act>) {
    heading(ui, "Walk");
    for (course, word) in [
        (Course::Approach, "approach"),
        (Course::IndexMove, "index move"),
    ] {
        let on = state
            .walk
            .as_ref()
            .is_some_and(|walk| walk.course == course);
        let goes = on && state.walk.as_ref().is_some_and(|walk| walk.goes);
        let text = if goes {
            format!("rest ({word})")
        } else {
            word.to_owned()
        };
        if ui.selectable_label(on, text).clicked() {
            acts.push(Act::Walk(course));
        }
    }
    let mut share = state.walk.as_ref().map_or(0.0, |walk| walk.share);
    let slider = Slider::new(&mut share, 0.0..=1.0).show_value(false);
    if ui.add_enabled(state.walk.is_some(), slider).changed() {
        acts.push(Act::Share(share));
    }
    heading(ui, "speed");
    let speed = Field {
        word: "speed",
        value: state.speed,
        step: 0.05,
        prefix: "x ",
        suffix: "",
    };
    let speed = speed.show(ui, acts);
    acts.extend(speed.map(Act::Speed));
    heading(ui, "go to");
    if ui.button("worst place").clicked() {
        acts.push(Act::Worst);
    }
}

/// Groups, views, the open scene, picture and keys; in rows, or as they fit.
pub fn look(ui: &mut Ui, state: &State, acts: &mut Vec<Act>, wraps: bool) {
    let mut row = |ui: &mut Ui, content: fn(&mut Ui, &State, &mut Vec<Act>)| {
        if wraps {
            ui.horizontal_wrapped(|ui| content(ui, state, acts));
        } else {
            ui.horizontal(|ui| content(ui, state, acts));
        }
    };
    row(ui, groups);
    row(ui, views);
}

fn groups(ui: &mut Ui, state: &State, acts: &mut Vec<Act>) {
    heading(ui, "Show");
    for (group, look) in Group::ALL.iter().zip(state.looks) {
        let word = words::group(*group);
        let text = match look {
            Look::Whole => RichText::new(word),
            Look::Faint => RichText::new(format!("{word} (faint)")).color(FADED),
            Look::Hidden => RichText::new(word).strikethrough().color(FADED),
        };
        if ui.selectable_label(look == Look::Whole, text).clicked() {
            acts.push(Act::Look(*group));
        }
    }
}

fn views(ui: &mut Ui, state: &State, acts: &mut Vec<Act>) {
    heading(ui, "Look from");
    for (view, word) in [
        (View::Spindle, "spindle"),
        (View::RotaryAxis, "rotary axis"),
        (View::Operator, "operator's side"),
        (View::Corner, "corner"),
    ] {
        if ui.button(word).clicked() {
            acts.push(Act::From(view));
        }
    }
    ui.separator();
    if ui.selectable_label(state.open.is_some(), "open").clicked() {
        acts.push(Act::Open);
    }
    if let Some(turned_deg) = state.open {
        let turned = Field {
            word: "open",
            value: turned_deg,
            step: 1.0,
            prefix: "",
            suffix: "\u{b0}",
        };
        let turned = turned.show(ui, acts);
        acts.extend(turned.map(Act::OpenTurn));
    }
    ui.separator();
    if ui.button("picture").clicked() {
        acts.push(Act::Picture);
    }
    if ui.selectable_label(state.help, "keys").clicked() {
        acts.push(Act::Help);
    }
}

/// What is told over the scene: the notice, and what is wrong with something typed.
fn told(state: &State) -> Vec<&str> {
    let told = [&state.notice, &state.slip];
    told.into_iter().flatten().map(String::as_str).collect()
}

/// The notice and the keys, over the scene.
pub fn over_scene(context: &Context, state: &State, free: Rect, acts: &mut Vec<Act>) {
    let room = free.shrink(GAP);
    let told = told(state).join("\n");
    if !told.is_empty() {
        let inner = room.width() - 2.0 * MARGIN - BAR;
        let font = TextStyle::Body.resolve(&context.global_style());
        let text = context.fonts_mut(|fonts| fonts.layout(told.clone(), font, INK, inner));
        // As high as its words, and no higher than there is room: then it scrolls.
        let height = (text.size().y + BUTTON + 2.0 * MARGIN + 6.0).min(room.height());
        let at = Rect::from_min_size(room.min, vec2(room.width(), height));
        sheet(context, "notice", at, |ui| {
            let words = ui.available_height() - BUTTON;
            ScrollArea::vertical()
                .min_scrolled_height(0.0)
                .max_height(words)
                .auto_shrink([false, false])
                .show(ui, |ui| ui.label(&told));
            if ui.button("seen").clicked() {
                acts.push(Act::Seen);
            }
        });
    }
    if state.help {
        let size = vec2(390.0, KEYS.len() as f32 * 21.0 + 20.0).min(room.size());
        let at = Rect::from_center_size(free.center(), size);
        sheet(context, "keys", at, |ui| {
            ScrollArea::both().show(ui, keys);
        });
    }
}

/// Share of a column's height that what is told may take.
const TOLD_SHARE: f32 = 0.4;

/// The same at the head of a column.
pub fn free_words(ui: &mut Ui, state: &State, acts: &mut Vec<Act>) {
    let told = told(state);
    if told.is_empty() {
        return;
    }
    ScrollArea::vertical()
        .id_salt("told")
        .max_height(ui.available_height() * TOLD_SHARE)
        .show(ui, |ui| {
            for words in &told {
                ui.label(*words);
            }
        });
    if ui.button("seen").clicked() {
        acts.push(Act::Seen);
    }
    ui.separator();
}

/// The keys in a column.
pub fn keys_in_column(ui: &mut Ui, state: &State) {
    if state.help {
        keys(ui);
        ui.separator();
    }
}

fn keys(ui: &mut Ui) {
    Grid::new("keys").num_columns(2).show(ui, |ui| {
        for (keys, what) in KEYS {
            ui.label(RichText::new(keys).strong());
            ui.label(what);
            ui.end_row();
        }
    });
}

#[cfg(test)]
mod tests {
    /// What stands between `before` and the next quote, wherever it occurs.
    fn quoted<'s>(source: &'s str, before: &str) -> impl Iterator<Item = &'s str> {
        let parts = source.split(before).skip(1);
        parts.filter_map(|part| part.split('"').next())
    }

    /// The words of `(View::Spindle, "spindle")` and its like.
    fn chosen<'s>(source: &'s str, of: &str) -> Vec<&'s str> {
        let parts = source.split(of).skip(1);
        let words = parts.filter_map(|part| part.split_once(", \"")?.1.split('"').next());
        words.collect()
    }

    #[test]
    fn every_label_stands_in_the_map() {
        let map = include_str!("../../DEVELOPERS.md");
        let mut labels = Vec::new();
        for source in [include_str!("controls.rs"), include_str!("panels.rs")] {
            let source = source.split("#[cfg(test)]").next().unwrap_or(source);
            for before in [
                "heading(ui, \"",
                ".button(\"",
                "Button::new(\"",
                "open.is_some(), \"",
            ] {
                labels.extend(quoted(source, before));
            }
            for of in ["(View::", "(Course::", "(List::"] {
                labels.extend(chosen(source, of));
            }
        }
        assert!(labels.len() > 20, "{labels:?}");
        for label in labels {
            let label = label.split(':').next().unwrap_or(label);
            let ways = [
                format!("*{label}*"),
                format!("| {label} |"),
                format!("{label}, "),
                format!(", {label} |"),
            ];
            assert!(ways.iter().any(|way| map.contains(way.as_str())), "{label}");
        }
    }
}
