//! Names written from right to left, and what steers the direction of writing.
//!
//! # Source
//! Unicode Standard Annex #9, *Unicode Bidirectional Algorithm*: explicit directional characters
//! (section 2), isolates (2.4), bidirectional character types (3.2). The types of characters come from the
//! crate `unicode-bidi`.

use std::collections::HashMap;
use unicode_bidi::{BidiClass, bidi_class};

/// What stands for a character that a name must not have where it is shown.
const REPLACED: char = '\u{fffd}';

/// Between these two, text has no say in the order of what stands outside.
const FIRST_STRONG_ISOLATE: char = '\u{2068}';
const POP_DIRECTIONAL_ISOLATE: char = '\u{2069}';

/// Whether a character does nothing but steer the direction of writing.
const fn steers(letter: char) -> bool {
    matches!(
        letter,
        '\u{061c}' | '\u{200e}' | '\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}'
    )
}

/// Whether a character is written from right to left, or makes neighbours go that way.
fn turns(letter: char) -> bool {
    matches!(
        bidi_class(letter),
        BidiClass::R | BidiClass::AL | BidiClass::AN
    )
}

/// A character to be shown: one that only steers the direction of writing is replaced, so that it is
/// seen and steers nothing.
pub(super) const fn tamed(letter: char) -> char {
    if steers(letter) { REPLACED } else { letter }
}

/// The same HTML with every name, and every other run of words, that is written from right to left
/// in an isolate of its own. `names` are escaped as in the HTML.
///
/// # Guarantees
/// Whatever a name holds, words and numbers outside of it are shown in the order in which they stand.
/// Without letters written from right to left, and without characters that steer them, nothing changes.
pub(super) fn isolated(html: &str, names: impl Iterator<Item = String>) -> String {
    if !html.chars().any(|letter| steers(letter) || turns(letter)) {
        return html.to_owned();
    }
    let known = known(names);
    let html: String = html.chars().map(tamed).collect();
    let mut out = String::with_capacity(html.len());
    let mut rest = html.as_str();
    while let Some(letter) = rest.chars().next() {
        let isolate = name(rest, letter, &known).or_else(|| turns(letter).then(|| run(rest)));
        let (one, more) = rest.split_at(isolate.unwrap_or(letter.len_utf8()));
        if isolate.is_some() {
            out.extend([FIRST_STRONG_ISOLATE]);
            out.push_str(one);
            out.extend([POP_DIRECTIONAL_ISOLATE]);
        } else {
            out.push_str(one);
        }
        rest = more;
    }
    out
}

/// Names that are written from right to left somewhere, by their first letter, the longest first.
fn known(names: impl Iterator<Item = String>) -> HashMap<char, Vec<String>> {
    let mut known: HashMap<char, Vec<String>> = HashMap::new();
    let tame = |name: String| name.chars().map(tamed).collect::<String>();
    for name in names.map(tame).filter(|name| name.chars().any(turns)) {
        let first = name.chars().next();
        known
            .entry(first.unwrap_or(REPLACED))
            .or_default()
            .push(name);
    }
    for list in known.values_mut() {
        list.sort_by(|a, b| b.len().cmp(&a.len()).then_with(|| a.cmp(b)));
        list.dedup();
    }
    known
}

/// Length of the longest name that begins here and does not end amid a word.
fn name(text: &str, letter: char, known: &HashMap<char, Vec<String>>) -> Option<usize> {
    let ends = |name: &&String| {
        let next = text.strip_prefix(name.as_str());
        next.is_some_and(|next| !next.chars().next().is_some_and(belongs))
    };
    known.get(&letter)?.iter().find(ends).map(String::len)
}

/// Whether a character goes on with a word written from right to left.
fn belongs(letter: char) -> bool {
    turns(letter) || bidi_class(letter) == BidiClass::NSM
}

/// Length of the words written from right to left at the beginning of a text that is no known name. Only
/// spaces join them: other marks may be the page's own.
fn run(text: &str) -> usize {
    let mut end = 0;
    for (at, letter) in text.char_indices() {
        if belongs(letter) {
            end = at + letter.len_utf8();
        } else if letter != ' ' {
            break;
        }
    }
    end
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shown(html: &str, names: &[&str]) -> String {
        let shown = isolated(html, names.iter().map(|name| (*name).to_owned()));
        shown
            .replace(FIRST_STRONG_ISOLATE, "[")
            .replace(POP_DIRECTIONAL_ISOLATE, "]")
    }

    #[test]
    fn names_stand_by_themselves() {
        let names = ["כיס, גס", "כיס", "T כיס 5", "א &lt;1&gt; ב"];
        let cases = [
            (
                "<td>כיס, גס</td><td>1.25</td>",
                "<td>[כיס, גס]</td><td>1.25</td>",
            ),
            (
                "כיס, 2.99, כיס (כיס, גס) of 2.1",
                "[כיס], 2.99, [כיס] ([כיס, גס]) of 2.1",
            ),
            ("at T כיס 5, כיס 6", "at [T כיס 5], [כיס] 6"),
            (
                "<i title=\"א &lt;1&gt; ב\">",
                "<i title=\"[א &lt;1&gt; ב]\">",
            ),
            // Not a name of its own within a longer word.
            ("כיסוי 7", "[כיסוי] 7"),
            // Not known: words and points, and no mark that may be the page's.
            ("פנים זרים, 3 (١٢)", "[פנים זרים], 3 ([١٢])"),
            ("שָׁלוֹם 4", "[שָׁלוֹם] 4"),
        ];
        for (html, expected) in cases {
            assert_eq!(shown(html, &names), expected);
        }
    }

    #[test]
    fn plain_text_keeps_its_bytes() {
        let plain = "<p>Gehäuse 外壳 &amp; 2.1 — ½ ü\u{0301}</p>";
        assert_eq!(shown(plain, &["Gehäuse 外壳"]), plain);
    }

    #[test]
    fn nothing_steers() {
        for steering in "\u{61c}\u{200e}\u{200f}\u{202a}\u{202b}\u{202c}\u{202d}\u{202e}\u{2066}\u{2067}\u{2068}\u{2069}".chars() {
            let name = format!("a{steering}b");
            assert_eq!(shown(&name, &[&name]), "a\u{fffd}b");
        }
        // A name that would leave its isolate stays in it.
        let name = "א\u{2069} 5";
        assert_eq!(shown(&format!("{name} 1.2"), &[name]), "[א\u{fffd} 5] 1.2");
    }
}
