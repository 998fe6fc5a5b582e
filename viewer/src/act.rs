//! What a person can do, and the keys for it.

use crate::views::View;
use kiss3d::event::{Key, Modifiers};
use lapidary::answer::moment::Group;
use lapidary::answer::moment::find::Spot;

/// One thing that a person does.
#[derive(Debug, Clone, PartialEq)]
pub enum Act {
    /// To a spot of the answer.
    Go(Spot),
    /// To the next (1) or last (-1) trouble.
    StepTrouble(i32),
    /// To the next (1) or last (-1) cut.
    StepCut(i32),
    /// Back to the worst place.
    Worst,
    /// The carrier to an angle.
    Turn(f64),
    /// The carrier to the next (1) or last (-1) index that the job uses.
    StepIndex(i32),
    /// Walk, or rest.
    Walk(Course),
    /// Speed of walks: a factor.
    Speed(f64),
    /// To a share of the walk.
    Share(f64),
    /// A group to its next look.
    Look(Group),
    /// Opens the scene, or closes it.
    Open,
    /// Turns the plane that opens the scene about the tool axis.
    OpenTurn(f64),
    /// Looks from somewhere.
    From(View),
    /// Looks at the place of the gap.
    Focus,
    /// Another machine axis up.
    Up,
    /// Gauge length of the tool at hand.
    Length(f64),
    /// Index of the cut at hand.
    Index(f64),
    /// Wanted gap at rest.
    WantedRest(f64),
    /// Wanted gap in index moves.
    WantedIndex(f64),
    /// What was typed into a field, by its words, is no number.
    NoNumber(String, String),
    /// Everything as in the job.
    AsInJob,
    /// Another list.
    List(List),
    /// Saves a picture.
    Picture,
    /// Shows the keys, or hides them.
    Help,
    /// Takes the notice away.
    Seen,
}

/// What is walked.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Course {
    /// Straight down to the cut.
    Approach,
    /// The carrier turns.
    IndexMove,
}

/// The lists of an answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum List {
    /// Troubles.
    #[default]
    Troubles,
    /// Cuts.
    Cuts,
    /// Index moves.
    Moves,
}

/// Keys, what each does in words, in the order in which they are listed.
pub const KEYS: [(&str, &str); 14] = [
    ("N  B", "next trouble, trouble before"),
    ("Down  Up", "next cut, cut before"),
    ("Right  Left", "carrier to the next index, the last"),
    ("W", "back to the worst place"),
    ("A  I", "walk the approach, the index move"),
    ("S  R  O", "from spindle, rotary axis, operator's side"),
    ("F", "look at the place of the gap"),
    ("U", "another machine axis up"),
    ("C", "open or close the scene"),
    ("1 to 7", "a group: whole, faint, hidden"),
    ("P", "save a picture"),
    ("H", "this list"),
    ("drag", "left: turn the view, right: shift it"),
    ("wheel", "nearer, farther"),
];

/// What a key does; nothing with Ctrl, Alt or Super, which belong to the desktop.
#[must_use]
pub fn of_key(key: Key, modifiers: Modifiers) -> Option<Act> {
    if modifiers.intersects(Modifiers::Control | Modifiers::Alt | Modifiers::Super) {
        return None;
    }
    let groups = [
        Key::Key1,
        Key::Key2,
        Key::Key3,
        Key::Key4,
        Key::Key5,
        Key::Key6,
        Key::Key7,
    ];
    if let Some(which) = groups.iter().position(|group| *group == key) {
        return Some(Act::Look(Group::ALL[which]));
    }
    Some(match key {
        Key::N => Act::StepTrouble(1),
        Key::B => Act::StepTrouble(-1),
        Key::Down => Act::StepCut(1),
        Key::Up => Act::StepCut(-1),
        Key::Right => Act::StepIndex(1),
        Key::Left => Act::StepIndex(-1),
        Key::W => Act::Worst,
        Key::A => Act::Walk(Course::Approach),
        Key::I => Act::Walk(Course::IndexMove),
        Key::S => Act::From(View::Spindle),
        Key::R => Act::From(View::RotaryAxis),
        Key::O => Act::From(View::Operator),
        Key::F => Act::Focus,
        Key::U => Act::Up,
        Key::C => Act::Open,
        Key::P => Act::Picture,
        Key::H => Act::Help,
        _ => return None,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_list_of_keys_in_the_map_is_this_one() {
        let map = include_str!("../../DEVELOPERS.md");
        for (keys, what) in KEYS.iter().filter(|(keys, _)| keys.len() < 12) {
            let first = keys.split_whitespace().next().unwrap();
            let row = map.lines().any(|line| {
                let cells: Vec<&str> = line.split('|').collect();
                cells.len() > 2
                    && cells[1]
                        .split([' ', ','])
                        .any(|cell| cell.trim_matches('`') == first)
            });
            assert!(row || ["drag", "wheel"].contains(keys), "{keys}: {what}");
        }
    }

    #[test]
    fn group_keys_follow_the_order_of_the_groups() {
        let alone = |key| of_key(key, Modifiers::empty());
        assert_eq!(alone(Key::Key1), Some(Act::Look(Group::Bed)));
        assert_eq!(alone(Key::Key7), Some(Act::Look(Group::Spindle)));
        assert_eq!(alone(Key::Z), None);
    }

    #[test]
    fn keys_with_ctrl_alt_or_super_do_nothing() {
        for modifiers in [Modifiers::Control, Modifiers::Alt, Modifiers::Super] {
            for key in [Key::A, Key::P, Key::Key1, Key::Left] {
                assert!(of_key(key, Modifiers::empty()).is_some());
                assert!(of_key(key, Modifiers::Shift).is_some());
                assert_eq!(of_key(key, modifiers), None);
                assert_eq!(of_key(key, modifiers | Modifiers::Shift), None);
            }
        }
    }
}
