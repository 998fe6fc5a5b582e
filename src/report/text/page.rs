//! A page of 80 columns: headings, marked lines, wrapped text.

use crate::answer::check::model::Verdict;
use crate::report::direction::tamed;
use crate::report::mark::{coloured_mark, mark};

/// Width of a page.
pub const COLUMNS: usize = 80;

/// Text that grows line by line.
#[derive(Debug, Clone)]
pub struct Page {
    out: String,
    colour: bool,
}

impl Page {
    /// An empty page; `colour` puts the marks in their colours.
    #[must_use]
    pub const fn new(colour: bool) -> Self {
        Self {
            out: String::new(),
            colour,
        }
    }

    /// The finished text.
    #[must_use]
    pub fn finish(self) -> String {
        self.out
    }

    /// An empty line and a heading.
    pub fn heading(&mut self, text: &str) {
        self.out.push('\n');
        self.text(0, 0, text);
    }

    /// Text that starts at column `indent` and goes on at column `hang`.
    pub fn text(&mut self, indent: usize, hang: usize, text: &str) {
        for line in wrap(&format!("{:indent$}{}", "", clean(text)), hang) {
            self.out.push_str(&line);
            self.out.push('\n');
        }
    }

    /// A mark at column 0, then text from column 2 on that goes on at column `hang`.
    pub fn marked(&mut self, verdict: Verdict, hang: usize, text: &str) {
        let plain = format!("{} {}", mark(verdict), clean(text));
        for (number, line) in wrap(&plain, hang).into_iter().enumerate() {
            if number == 0 && self.colour {
                self.out.push_str(&coloured_mark(verdict));
                self.out.push_str(&line[mark(verdict).len_utf8()..]);
            } else {
                self.out.push_str(&line);
            }
            self.out.push('\n');
        }
    }
}

/// The same text with control characters as spaces, and with those replaced that steer the direction of
/// writing: a name in a file never steers a terminal.
fn clean(text: &str) -> String {
    let clean = |letter: char| match letter.is_control() {
        true => ' ',
        false => tamed(letter),
    };
    text.chars().map(clean).collect()
}

/// Lines of at most [`COLUMNS`] letters; all but the first start at column `hang`.
fn wrap(text: &str, hang: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut rest: Vec<char> = text.trim_end().chars().collect();
    while rest.len() > COLUMNS {
        let indent = rest.iter().take_while(|letter| **letter == ' ').count();
        let space = (indent + 1..=COLUMNS).rev().find(|at| rest[*at] == ' ');
        // A word longer than the line is cut at its end.
        let end = space.unwrap_or(COLUMNS);
        lines.push(rest[..end].iter().collect::<String>().trim_end().to_owned());
        let next = rest[end..].iter().skip_while(|letter| **letter == ' ');
        rest = std::iter::repeat_n(&' ', hang)
            .chain(next)
            .copied()
            .collect();
    }
    lines.push(rest.into_iter().collect());
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wraps_at_words_and_cuts_long_ones() {
        let lines = wrap(&"ab ".repeat(40), 4);
        assert_eq!(lines.len(), 2);
        assert!(lines.iter().all(|line| line.chars().count() <= COLUMNS));
        assert!(lines[1].starts_with("    ab"));
        let cut = wrap(&"m".repeat(200), 2);
        assert_eq!(cut.len(), 3);
        assert!(cut.iter().all(|line| line.chars().count() <= COLUMNS));
    }

    #[test]
    fn a_word_that_just_fits_stays() {
        assert_eq!(wrap(&"m".repeat(COLUMNS), 2).len(), 1);
        let two = format!("{} tail", "m".repeat(COLUMNS));
        assert_eq!(wrap(&two, 2), ["m".repeat(COLUMNS), "  tail".to_owned()]);
    }

    #[test]
    fn names_never_steer_a_terminal() {
        let mut page = Page::new(false);
        page.text(0, 0, "seat \u{1b}[31m1\n2");
        page.text(0, 0, "seat \u{202e}2.1\u{2069}");
        assert_eq!(page.finish(), "seat  [31m1 2\nseat \u{fffd}2.1\u{fffd}\n");
    }
}
