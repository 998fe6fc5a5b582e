//! Which way the work turns, pictures, what a clear relies on, cautions, fingerprints.

use super::{PageShow, Section, chip, section, wide};
use crate::answer::check::model::Verdict;
use crate::report::text::notes::{CAUTIONS, meant, reliances};
use crate::report::text::turning::{declared, undeclared};
use crate::report::text::words::index;
use maud::html;
use std::fmt::Write;

pub(super) fn turning(page: &PageShow) -> Option<Section> {
    let turning = &page.show.report.answer.turning;
    let body = html! {
        p { strong { "Watch it on the machine before you trust the rest." } }
        @match turning.work_right_handed {
            Some(right_handed) => p { (upper(&declared(turning, right_handed))) },
            None => p { (chip(Verdict::Unknown)) ": " (undeclared(turning)) },
        }
    };
    section("turning", "Which way the work turns", body)
}

/// A sentence begins with a capital; a name stays as it is.
fn upper(text: &str) -> String {
    match text.strip_prefix("at ") {
        Some(rest) => format!("At {rest}"),
        None => text.to_owned(),
    }
}

pub(super) fn pictures(page: &PageShow) -> Option<Section> {
    let pictures = &page.options.pictures;
    if pictures.is_empty() {
        return None;
    }
    let rotary = &page.show.report.answer.turning.rotary;
    let body = html! {
        div.pictures {
            @for picture in pictures {
                @let name = index(rotary, picture.index_deg);
                figure {
                    img alt=(format!("The setup with the rotary at {name}"))
                        src=(format!("data:image/png;base64,{}", base64(&picture.png)));
                    figcaption { (name) }
                }
            }
        }
    };
    section("pictures", "The setup at each index", body)
}

pub(super) fn relies(page: &PageShow) -> Option<Section> {
    let answer = page.show.report.answer;
    let list = reliances(&page.show);
    let warnings = page.show.report.warnings;
    let body = html! {
        ul {
            @for text in &list { li { (text) } }
            @for contact in &answer.contacts { li { "contact that is meant: " (meant(contact, &page.show)) } }
            @for warning in warnings { li { "warning: " (warning) } }
        }
    };
    if list.is_empty() && answer.contacts.is_empty() && warnings.is_empty() {
        return None;
    }
    section("relies", "What a clear relies on", body)
}

pub(super) fn cautions() -> Option<Section> {
    section(
        "cautions",
        "Cautions",
        html! { ul { @for text in CAUTIONS { li { (text) } } } },
    )
}

pub(super) fn fingerprints(page: &PageShow) -> Option<Section> {
    let sources = page.show.report.sources;
    let table = html! {
        table {
            caption { "Files that this page was made from" }
            thead { tr { th scope="col" { "file" } th.num scope="col" { "bytes" } th scope="col" { "SHA-256" } } }
            tbody { @for source in sources { tr {
                th.words scope="row" { (source.path.display()) }
                td.num { (source.bytes_len) }
                td { code { (source.sha256) } }
            } } }
        }
    };
    let body = html! {
        p { "Made by lapidary " (env!("CARGO_PKG_VERSION")) " on " (page.options.date)
            ". A page belongs to its files only while their fingerprints are these." }
        @if !sources.is_empty() { (wide("Fingerprints", table)) }
    };
    section("fingerprints", "Fingerprints", body)
}

/// # Source
/// RFC 4648, section 4.
fn base64(bytes: &[u8]) -> String {
    const LETTERS: &[u8; 64] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789+/";
    let mut text = String::with_capacity(bytes.len().div_ceil(3) * 4);
    for group in bytes.chunks(3) {
        let three = [0, 1, 2].map(|at: usize| u32::from(group.get(at).copied().unwrap_or(0)));
        let bits = three[0] << 16 | three[1] << 8 | three[2];
        for at in 0..4 {
            let letter = char::from(LETTERS[(bits >> (18 - 6 * at) & 63) as usize]);
            // A string takes all that is written to it.
            let _ = write!(text, "{}", if at <= group.len() { letter } else { '=' });
        }
    }
    text
}

#[cfg(test)]
mod tests {
    /// RFC 4648, section 10: test vectors.
    #[test]
    fn base64_of_the_standard() {
        let vectors = [
            ("", ""),
            ("f", "Zg=="),
            ("fo", "Zm8="),
            ("foo", "Zm9v"),
            ("foob", "Zm9vYg=="),
            ("fooba", "Zm9vYmE="),
            ("foobar", "Zm9vYmFy"),
        ];
        for (plain, coded) in vectors {
            assert_eq!(super::base64(plain.as_bytes()), coded);
        }
    }
}
