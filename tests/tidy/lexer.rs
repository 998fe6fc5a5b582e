//! Rust text without its comments and literals, so that rules look at code alone.

/// The text with comments, strings and characters blanked; lines stay where they are.
pub fn code(text: &str) -> String {
    let mut rest = text;
    let mut out = String::with_capacity(text.len());
    let mut before = ' ';
    while let Some(first) = rest.chars().next() {
        let (length, keep) = match blank_len(rest, before) {
            Some(length) => (length, false),
            None => (first.len_utf8(), true),
        };
        for character in rest[..length].chars() {
            out.push(if keep || character == '\n' {
                character
            } else {
                ' '
            });
            before = character;
        }
        rest = &rest[length..];
    }
    out
}

/// How many bytes the comment or literal at the start takes; `None` where there is none.
fn blank_len(rest: &str, before: char) -> Option<usize> {
    let in_word = before.is_alphanumeric() || before == '_';
    if rest.starts_with("//") {
        Some(rest.find('\n').unwrap_or(rest.len()))
    } else if rest.starts_with("/*") {
        Some(block_comment_len(rest))
    } else if rest.starts_with('"') {
        Some(string_len(rest))
    } else if rest.starts_with("r\"") || rest.starts_with("r#") {
        (!in_word).then(|| raw_string_len(rest)).flatten()
    } else if rest.starts_with('\'') {
        char_len(rest)
    } else {
        None
    }
}

fn block_comment_len(rest: &str) -> usize {
    let (mut depth, mut at) = (0, 0);
    while at < rest.len() {
        let here = &rest.as_bytes()[at..];
        if here.starts_with(b"/*") {
            (depth, at) = (depth + 1, at + 2);
        } else if here.starts_with(b"*/") {
            (depth, at) = (depth - 1, at + 2);
            if depth == 0 {
                return at;
            }
        } else {
            at += 1;
        }
    }
    rest.len()
}

fn string_len(rest: &str) -> usize {
    let mut escaped = false;
    for (at, character) in rest.char_indices().skip(1) {
        match character {
            _ if escaped => escaped = false,
            '\\' => escaped = true,
            '"' => return at + 1,
            _ => {}
        }
    }
    rest.len()
}

/// A raw string with any number of marks; `None` for a raw identifier such as `r#type`.
fn raw_string_len(rest: &str) -> Option<usize> {
    let marks = rest[1..].chars().take_while(|c| *c == '#').count();
    let body = rest[1 + marks..].strip_prefix('"')?;
    let end = format!("\"{}", "#".repeat(marks));
    let length = body.find(&end).map_or(body.len(), |at| at + end.len());
    Some(2 + marks + length)
}

/// A character; `None` for a lifetime.
fn char_len(rest: &str) -> Option<usize> {
    let mut characters = rest.char_indices().skip(1);
    let (_, first) = characters.next()?;
    if first == '\\' {
        // What follows the mark may be a quote itself.
        let after = rest.char_indices().nth(3)?.0;
        return rest[after..].find('\'').map(|at| after + at + 1);
    }
    let (at, second) = characters.next()?;
    (second == '\'').then_some(at + 1)
}

/// The words of some code, each with the text that follows it.
pub fn words(code: &str) -> impl Iterator<Item = (&str, &str)> {
    let is_word = |c: char| c.is_alphanumeric() || c == '_';
    let mut rest = code;
    std::iter::from_fn(move || {
        let start = rest.find(is_word)?;
        let word = &rest[start..];
        let end = word.find(|c| !is_word(c)).unwrap_or(word.len());
        rest = &word[end..];
        Some((&word[..end], rest))
    })
}

/// Code without its test modules.
pub fn outside_tests(code: &str) -> String {
    let mut pieces = code.split("#[cfg(test)]\nmod tests {");
    let first = pieces.next().unwrap_or_default().to_owned();
    // A module ends at the first closing brace without indent.
    let after = |piece: &str| {
        piece
            .split_once("\n}")
            .map_or("", |(_, rest)| rest)
            .to_owned()
    };
    first + &pieces.map(after).collect::<String>()
}
