//! The nearest known name to one that is not known.

/// How alike two names must be before one is offered for the other: 0.5 offers `depht` -> `depth`
/// and `finish` -> `finished`, but not `depth` -> `width`.
const ALIKE: f64 = 0.5;

/// The known name most like `wanted`, if one is alike enough.
pub(super) fn nearest<'a>(wanted: &str, known: &[&'a str]) -> Option<&'a str> {
    let wanted = wanted.to_lowercase();
    let likeness =
        |name: &str| strsim::normalized_damerau_levenshtein(&wanted, &name.to_lowercase());
    known
        .iter()
        .map(|name| (likeness(name), *name))
        .filter(|(alike, _)| *alike > ALIKE)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map(|(_, name)| name)
}

/// A remedy: the nearest name, or all there are.
pub(super) fn suggest(wanted: &str, known: &[&str]) -> String {
    match nearest(wanted, known) {
        Some(name) => format!("is \"{name}\" meant?"),
        None if known.is_empty() => "there is none".to_owned(),
        None => format!("there is {}", list(known)),
    }
}

/// Names in quotes, the first of them where there are very many.
pub(super) fn list(names: &[&str]) -> String {
    const SHOWN: usize = 12;
    let quoted: Vec<String> = names
        .iter()
        .take(SHOWN)
        .map(|name| format!("\"{name}\""))
        .collect();
    let more = names.len().saturating_sub(SHOWN);
    let rest = if more > 0 {
        format!(" and {more} more")
    } else {
        String::new()
    };
    format!("{}{rest}", quoted.join(", "))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn offers_what_is_alike() {
        assert_eq!(nearest("depht", &["width", "depth"]), Some("depth"));
        assert_eq!(nearest("finish", &["blank", "finished"]), Some("finished"));
        assert_eq!(nearest("depth", &["width"]), None);
        assert_eq!(
            suggest("x", &["blank", "done"]),
            "there is \"blank\", \"done\""
        );
    }
}
