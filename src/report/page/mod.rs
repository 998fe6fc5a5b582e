//! The answer of `check` as one HTML file with drawings: to read, to print, to pin up.
//!
//! The file asks nothing of a network and holds no program. Names are escaped by `maud`, which
//! escapes whatever it is given; nothing here goes round it but the style sheet. Every number of a table
//! or a drawing stands in a `data` element with its raw value and its place in the JSON.
//!
//! - `answer`, `troubles`, `tables`, `notes`: the sections; `number`: numbers with their raw value
//! - `gap`, `dial`, `reached`, `reached_table`, `travel`: the pictures; `ink`: lines, clipping, scales; `style.css`

mod answer;
mod dial;
mod gap;
mod ink;
mod notes;
mod number;
mod reached;
mod reached_table;
mod tables;
mod travel;
mod troubles;

use super::CheckReport;
use super::direction::isolated;
use super::mark::colour;
use super::text::Show;
use super::text::number::Lengths;
use crate::answer::check::model::Verdict;
use crate::answer::drawing::model::{Drawings, ReachedDials};
use crate::value::Unit;
use maud::{DOCTYPE, Markup, PreEscaped, Render, html};
use std::fmt;

/// A day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Date {
    /// Year.
    pub year: u16,
    /// Month, from 1.
    pub month: u8,
    /// Day, from 1.
    pub day: u8,
}

impl Date {
    /// Whether there is such a day in the Gregorian calendar.
    #[must_use]
    pub fn is_real(&self) -> bool {
        let whole = |years| self.year.is_multiple_of(years);
        let leap = whole(4) && (!whole(100) || whole(400));
        let days = match self.month {
            2 if leap => 29,
            2 => 28,
            4 | 6 | 9 | 11 => 30,
            1..=12 => 31,
            _ => 0,
        };
        self.day >= 1 && self.day <= days
    }
}

impl fmt::Display for Date {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(out, "{:04}-{:02}-{:02}", self.year, self.month, self.day)
    }
}

/// A picture of the setup at an index.
#[derive(Debug, Clone, PartialEq)]
pub struct Picture {
    /// Rotary angle.
    pub index_deg: f64,
    /// A PNG file's bytes.
    pub png: Vec<u8>,
}

/// How a page is to look.
#[derive(Debug, Clone)]
pub struct PageOptions {
    /// Unit of the lengths shown.
    pub unit: Unit,
    /// Date that stands on the page.
    pub date: Date,
    /// Pictures of the setup, where there are any.
    pub pictures: Vec<Picture>,
    /// Dials of where tools reach, where that was asked for.
    pub reached: Option<ReachedDials>,
    /// Names that people gave: one that is written from right to left is kept together.
    pub names: Vec<String>,
}

/// The page.
///
/// # Units
/// Lengths as [`PageOptions::unit`] says. Drawings are at true scale when printed at full size.
///
/// # Guarantees
/// The same values and options give the same bytes. Names and texts are escaped, and never change the
/// order of what stands beside them. Gaps and spare amounts are rounded down, needed lengths up, as
/// in the text report.
#[must_use]
pub fn check_page(report: &CheckReport, drawings: &Drawings, options: &PageOptions) -> String {
    let lengths = Lengths { unit: options.unit };
    let show = Show {
        report,
        lengths,
        every_index: true,
    };
    let shown = PageShow {
        show,
        drawings,
        options,
    };
    let sections = sections(&shown);
    let footer = notes::fingerprints(&shown);
    let title = format!(
        "{}: {}",
        super::mark::word(report.answer.verdict),
        report.answer.title
    );
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                meta name="generator" content=(concat!("lapidary ", env!("CARGO_PKG_VERSION")));
                title { (title) }
                style { (PreEscaped(style())) }
            }
            body {
                a.skip href="#answer" { "To the answer" }
                (ink::hatches())
                (answer::header(&shown))
                main { @for (number, section) in sections.iter().enumerate() {
                    (section)
                    // The answer comes first, then what else there is.
                    @if number == 0 { (contents(sections[1..].iter().chain(&footer))) }
                } }
                footer { @if let Some(section) = &footer { (section) } }
            }
        }
    };
    // In one place and last, so that no text can be forgotten.
    let names = options
        .names
        .iter()
        .map(|name| html! { (name) }.into_string());
    isolated(&page.into_string(), names) + "\n"
}

/// What every section needs.
struct PageShow<'a> {
    show: Show<'a>,
    drawings: &'a Drawings,
    options: &'a PageOptions,
}

/// The sections that this answer has, in their order.
fn sections(page: &PageShow) -> Vec<Section> {
    let all = [
        answer::answer(page),
        answer::cuts(page),
        troubles::troubles(page),
        troubles::tightest(page),
        dial::dial(page),
        reached::reached(page),
        tables::setting_list(page),
        travel::travel(page),
        tables::moves(page),
        notes::turning(page),
        notes::pictures(page),
        notes::relies(page),
        notes::cautions(),
    ];
    all.into_iter().flatten().collect()
}

/// A part of the page with a heading.
struct Section {
    id: &'static str,
    heading: &'static str,
    content: Markup,
}

const fn section(id: &'static str, heading: &'static str, content: Markup) -> Option<Section> {
    Some(Section {
        id,
        heading,
        content,
    })
}

impl Render for Section {
    fn render(&self) -> Markup {
        let heading = format!("{}-h", self.id);
        html! {
            section id=(self.id) aria-labelledby=(heading) {
                h2 id=(heading) { (self.heading) }
                (self.content)
            }
        }
    }
}

/// Links to sections.
fn contents<'s>(sections: impl Iterator<Item = &'s Section>) -> Markup {
    html! {
        nav aria-label="On this page" {
            ul { @for section in sections {
                li { a href=(format!("#{}", section.id)) { (section.heading) } }
            } }
        }
    }
}

/// A table that may be wider than a phone: its frame scrolls, by key too. Its label differs from the
/// section's, so that a screen reader tells the two apart.
fn wide(label: &str, table: Markup) -> Markup {
    html! {
        div.wide role="region" aria-label=(format!("{label}: the table")) tabindex="0" { (table) }
    }
}

/// A verdict as mark, colour and word.
fn chip(verdict: Verdict) -> Markup {
    html! { (mark_chip(verdict)) " " (super::mark::word(verdict)) }
}

/// The mark in its colour; the word must stand beside it.
fn mark_chip(verdict: Verdict) -> Markup {
    html! {
        span class=(format!("chip {}", super::mark::word(verdict))) aria-hidden="true" {
            (super::mark::mark(verdict))
        }
    }
}

/// The style sheet, with the colours from their one home.
fn style() -> String {
    let hex = |verdict| {
        let anstyle::RgbColor(red, green, blue) = colour(verdict);
        format!("#{red:02x}{green:02x}{blue:02x}")
    };
    include_str!("style.css")
        .replace("CLEAR_COLOUR", &hex(Verdict::Clear))
        .replace("CLOSE_COLOUR", &hex(Verdict::Close))
        .replace("CLASH_COLOUR", &hex(Verdict::Clash))
        .replace("UNKNOWN_COLOUR", &hex(Verdict::Unknown))
}
