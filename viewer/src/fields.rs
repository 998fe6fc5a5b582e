//! Fields for numbers: what is typed is taken when it is done, and what cannot be taken is told.

use crate::act::Act;
use kiss3d::egui::{Align, Context, DragValue, Event, Id, Layout, Pos2, Rect, Ui};
use std::cell::RefCell;

/// Frames until a field that was clicked has the keys: one to see the click, one to turn into a
/// field and choose its text, and as many again for a press and a release in two frames.
const FRAMES: u8 = 4;

/// A field for a number.
#[derive(Debug, Clone, Copy)]
pub struct Field<'a> {
    /// Its words.
    pub word: &'a str,
    /// The number that is there.
    pub value: f64,
    /// Change for each point that the pointer is dragged.
    pub step: f64,
    /// What stands before the number.
    pub prefix: &'a str,
    /// What stands behind it.
    pub suffix: &'a str,
}

/// A number as a person types it; a comma is a point.
#[must_use]
pub fn number(text: &str) -> Option<f64> {
    let text = text.trim().replace(',', ".").replace('\u{2212}', "-");
    text.parse().ok().filter(|number: &f64| number.is_finite())
}

impl Field<'_> {
    /// Shows the field alone; the number that was typed or dragged, or what was typed and is none.
    pub fn show(&self, ui: &mut Ui, acts: &mut Vec<Act>) -> Option<f64> {
        let mut changed = self.value;
        let refused = RefCell::new(None);
        let drag = DragValue::new(&mut changed)
            .speed(self.step)
            .max_decimals(3)
            .prefix(self.prefix)
            .suffix(self.suffix)
            // Half a number is none: 1 is not meant where 145 is being typed.
            .update_while_editing(false)
            .custom_parser(|text| {
                let typed = text.trim().trim_start_matches(self.prefix.trim());
                let typed = typed.trim_end_matches(self.suffix.trim());
                let found = number(typed);
                if found.is_none() {
                    *refused.borrow_mut() = Some(text.to_owned());
                }
                found
            });
        let response = ui.add(drag);
        let place = response.rect;
        ui.ctx().data_mut(|data| {
            let fields: &mut Vec<Rect> = data.get_temp_mut_or_default(Id::new("fields"));
            fields.push(place);
        });
        crate::sheets::remember(ui.ctx(), self.word, place);
        if let Some(text) = refused.into_inner() {
            acts.push(Act::NoNumber(self.word.to_owned(), text));
        }
        (changed != self.value).then_some(changed)
    }

    /// Shows its words, and the field at the right edge.
    pub fn row(&self, ui: &mut Ui, acts: &mut Vec<Act>) -> Option<f64> {
        ui.horizontal(|ui| {
            ui.label(self.word);
            let right = Layout::right_to_left(Align::Center);
            ui.with_layout(right, |ui| self.show(ui, acts)).inner
        })
        .inner
    }
}

/// Begins a frame: no field stands anywhere yet.
pub fn begin(context: &Context) {
    context.data_mut(|data| data.insert_temp(Id::new("fields"), Vec::<Rect>::new()));
}

/// Whether there was a field at a point in the last frame.
#[must_use]
pub fn at(context: &Context, point: Pos2) -> bool {
    let fields = context.data(|data| data.get_temp::<Vec<Rect>>(Id::new("fields")));
    fields.is_some_and(|fields| fields.iter().any(|field| field.contains(point)))
}

/// What is typed after a click on a field, kept until the field can take it: without a GPU a frame
/// can be long, and keys that come with the click are neither lost nor keys of the window.
#[derive(Debug, Default)]
pub struct Typed {
    frames: u8,
    with_focus: u8,
    held: Vec<Event>,
}

impl Typed {
    /// A field was pressed, or let go.
    pub const fn clicked(&mut self) {
        self.frames = FRAMES;
    }

    /// Whether keys are meant for a field that does not have them yet.
    #[must_use]
    pub const fn waits(&self) -> bool {
        self.frames > 0
    }

    /// Goes over the events of a frame before it is drawn: takes keys out while the field is not
    /// ready, and puts them back when it is. `focus` says whether a field had the keys at the end of
    /// the frame before.
    pub fn pass(&mut self, events: &mut Vec<Event>, focus: bool) {
        if self.frames == 0 {
            return;
        }
        self.frames -= 1;
        self.with_focus = if focus { self.with_focus + 1 } else { 0 };
        let of_keys = |event: &Event| matches!(event, Event::Text(_) | Event::Key { .. });
        let (keys, rest) = std::mem::take(events).into_iter().partition(of_keys);
        *events = rest;
        self.held.extend::<Vec<Event>>(keys);
        // In its first frame a field chooses all of its text, after what was typed.
        if self.with_focus >= 2 {
            events.append(&mut self.held);
            self.frames = 0;
        }
        if self.frames == 0 {
            self.held.clear();
            self.with_focus = 0;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn text(sign: &str) -> Event {
        Event::Text(sign.to_owned())
    }

    #[test]
    fn numbers_are_read_as_they_are_typed() {
        assert_eq!(number(" 145,5 "), Some(145.5));
        assert_eq!(number("\u{2212}3"), Some(-3.0));
        for none in ["", "12a", "inf", "NaN", "1 2"] {
            assert_eq!(number(none), None, "{none}");
        }
    }

    #[test]
    fn what_is_typed_with_the_click_reaches_the_field_whole_and_in_order() {
        let mut typed = Typed::default();
        typed.clicked();
        let mut reached = Vec::new();
        let frames = [
            (vec![text("1")], false),
            (vec![text("4")], true),
            (vec![text("5")], true),
        ];
        for (mut events, focus) in frames {
            assert!(typed.waits());
            typed.pass(&mut events, focus);
            reached.push(events);
        }
        assert_eq!(
            reached,
            [vec![], vec![], vec![text("1"), text("4"), text("5")]]
        );
        assert!(!typed.waits());
    }

    #[test]
    fn a_field_that_never_takes_the_keys_does_not_keep_them() {
        let mut typed = Typed::default();
        typed.clicked();
        for _ in 0..FRAMES {
            assert!(typed.waits());
            let mut events = vec![text("7"), Event::Copy];
            typed.pass(&mut events, false);
            assert_eq!(events, [Event::Copy]);
        }
        assert!(!typed.waits() && typed.held.is_empty());
        let mut events = vec![text("8")];
        typed.pass(&mut events, false);
        assert_eq!(events, [text("8")]);
    }
}
