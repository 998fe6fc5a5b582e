//! Sentences of the panels. Numbers are written as the text report writes them.

use crate::reached::Reached;
use crate::state::State;
use lapidary::answer::check::model::{
    Change, CheckAnswer, Element, GapValue, Measured, Phase, Trouble, TroubleKind, Verdict,
};
use lapidary::answer::moment::Group;
use lapidary::answer::moment::walk::Walked;

/// Longest name that a panel shows.
const NAME_CHARS: usize = 40;

/// A name as it is shown: on one line, no control signs, not endless.
#[must_use]
pub fn name(text: &str) -> String {
    let clean: String = lapidary::report::shown(text)
        .chars()
        .map(|sign| if sign.is_control() { ' ' } else { sign })
        .collect();
    if clean.chars().count() <= NAME_CHARS {
        return clean;
    }
    let kept: String = clean.chars().take(NAME_CHARS - 1).collect();
    format!("{kept}\u{2026}")
}

/// What the dial's outer ring shows: which face, and how far the tool at hand reaches it.
#[must_use]
pub fn reached(state: &State) -> [String; 2] {
    let Some(at) = &state.pointed else {
        return [
            "click a part: at which angles the tool".to_owned(),
            "at hand reaches its face".to_owned(),
        ];
    };
    let seat = state.setup.seats.get(at.seat);
    let seat = seat.map_or("", |seat| seat.name.as_str());
    let face = format!("{}, seat {seat}, finished", name(&at.face));
    let Some((asked, told)) = &state.reached else {
        return [face, "no tool at hand".to_owned()];
    };
    let tool = state.setup.tools.get(asked.tool);
    let tool = tool.map_or(0, |tool| tool.number);
    let told = match told {
        Reached::Asking => "asking".to_owned(),
        Reached::Refused => "no answer: see the notice".to_owned(),
        Reached::NoArcs => "no arcs for this kind of tool".to_owned(),
        Reached::Arcs(arcs) if arcs.is_empty() => "at no angle".to_owned(),
        Reached::Arcs(arcs) => {
            let degrees = |verdict: Verdict| {
                let of = arcs.iter().filter(|arc| arc.verdict == verdict);
                of.map(|arc| arc.to_deg - arc.from_deg).sum::<f64>()
            };
            let (reached, unknown) = (degrees(Verdict::Clear), degrees(Verdict::Unknown));
            // What is proved is rounded down, what is not up.
            let tenths = [(reached * 10.0).floor(), (unknown * 10.0).ceil()];
            // No minus sign before a zero.
            let [reached, unknown] = tenths.map(|tenths| tenths / 10.0 + 0.0);
            if reached == 0.0 {
                format!("unknown, over {unknown:.1} deg")
            } else {
                format!("{reached:.1} deg, unknown {unknown:.1}")
            }
        }
    };
    [face, format!("T{tool} reaches it: {told}")]
}

/// A length in millimetres, rounded down so that no gap looks larger than it is.
#[must_use]
pub fn down_mm(length_mm: f64) -> String {
    let hundredths = (length_mm * 100.0 + 1e-6).floor() / 100.0;
    // No minus sign before a zero.
    format!("{:.2}", hundredths + 0.0)
}

/// A gap.
#[must_use]
pub fn gap(gap: &GapValue) -> String {
    match gap.hi_mm {
        Some(hi_mm) if hi_mm <= 0.0 => "contact".to_owned(),
        None => format!("at least {} mm", down_mm(gap.lo_mm)),
        Some(hi_mm) if hi_mm - gap.lo_mm < 0.01 => format!("{} mm", down_mm(gap.lo_mm.max(0.0))),
        Some(hi_mm) => format!("{} to {} mm", down_mm(gap.lo_mm.max(0.0)), down_mm(hi_mm)),
    }
}

/// An overlap, rounded up.
#[must_use]
pub fn overlap(overlap_mm: f64) -> String {
    let up = (overlap_mm * 100.0 - 1e-6).ceil() / 100.0;
    format!("overlap {up:.2} mm")
}

/// A number with no more digits than it needs.
fn plain(number: f64) -> String {
    let thousandths = (number * 1000.0).round() / 1000.0;
    format!("{}", thousandths + 0.0)
}

/// A number that was asked for and cannot be set, and the one that was taken.
#[must_use]
pub fn taken(what: &str, asked: f64, taken: f64) -> String {
    let end = match (taken > asked, what.contains("length")) {
        (true, true) => "shortest",
        (false, true) => "longest",
        (true, false) => "least",
        (false, false) => "most",
    };
    let (asked, taken) = (plain(asked), plain(taken));
    format!("{what}: {asked} cannot be set; the {end} is {taken}, which is taken")
}

/// What was typed and is no number.
#[must_use]
pub fn no_number(what: &str, text: &str) -> String {
    format!(
        "{what}: \"{}\" is no number; nothing is changed",
        name(text)
    )
}

/// What the chips and arcs of the dial are.
#[must_use]
pub fn legend(state: &State) -> [String; 2] {
    let tool = state.tool().and_then(|tool| state.setup.tools.get(tool));
    let Some(tool) = tool else {
        return ["chips: cuts at an index".to_owned(), String::new()];
    };
    [
        format!("chips: cuts at an index; inner ones: T{}", tool.number),
        format!("arcs inside the chips: index moves of T{}", tool.number),
    ]
}

/// What of a walk was walked.
#[must_use]
pub fn walked(walked: &Walked) -> String {
    if walked.from == 0.0 {
        return "walk so far".to_owned();
    }
    format!("walk from {:.0} % on", 100.0 * walked.from)
}

/// An angle.
#[must_use]
pub fn angle(angle_deg: f64) -> String {
    let rounded = (angle_deg * 1000.0).round() / 1000.0;
    format!("{}\u{b0}", rounded + 0.0)
}

/// A kind of trouble.
#[must_use]
pub const fn kind(kind: TroubleKind) -> &'static str {
    match kind {
        TroubleKind::Clash => "clash",
        TroubleKind::Gouge => "gouge",
        TroubleKind::RapidInStock => "rapid through stock",
        TroubleKind::ShortOfTravel => "short of travel",
        TroubleKind::FacingAway => "facing away",
        TroubleKind::SwingTooLarge => "swing too large",
        TroubleKind::CutterDoesNotFit => "cutter does not fit",
        TroubleKind::NoWayIn => "no way in",
        TroubleKind::EdgesTooShort => "edges too short",
        TroubleKind::Close => "close",
        TroubleKind::Rubs => "shank rubs",
        TroubleKind::Undecided => "not decided",
        TroubleKind::NoRotarySense => "no rotary sense",
        TroubleKind::NoStock => "no stock given",
    }
}

/// When something happens.
#[must_use]
pub const fn phase(phase: Phase) -> &'static str {
    match phase {
        Phase::Approach => "approach",
        Phase::Cut => "cut",
        Phase::Link => "link",
        Phase::IndexMove => "index move",
        Phase::ToolChange => "tool change",
    }
}

/// A group.
#[must_use]
pub const fn group(group: Group) -> &'static str {
    match group {
        Group::Bed => "bed",
        Group::Base => "base",
        Group::Carrier => "carrier",
        Group::Clamps => "clamps",
        Group::Parts => "parts",
        Group::Tool => "tool",
        Group::Spindle => "spindle",
    }
}

/// A trouble in one line.
#[must_use]
pub fn trouble(trouble: &Trouble) -> String {
    let mut words = vec![kind(trouble.kind).to_owned()];
    if let Some(axis) = &trouble.axis {
        words.push(format!("of {axis}"));
    }
    if let Some(tool) = trouble.tool {
        words.push(format!("T{tool}"));
    }
    if trouble.phase == Some(Phase::IndexMove) {
        words.push("index move".to_owned());
    } else if let Some(cut) = &trouble.cut {
        words.push(name(cut));
    }
    words.join(", ").replacen(", of", " of", 1)
}

/// By how much, in words that go with its kind.
#[must_use]
pub fn amount(trouble: &Trouble) -> Option<String> {
    let amount_mm = trouble.amount_mm?;
    let what = match trouble.kind {
        TroubleKind::Clash | TroubleKind::RapidInStock => return Some(overlap(amount_mm)),
        TroubleKind::ShortOfTravel => "short by",
        TroubleKind::Close => "missing",
        _ => "by",
    };
    // Needed lengths are rounded up.
    let up = (amount_mm * 100.0 - 1e-6).ceil() / 100.0;
    Some(format!("{what} {up:.2} mm"))
}

/// What the two bodies of a gap are.
#[must_use]
pub fn pair(measured: &Measured) -> String {
    format!(
        "{} \u{2013} {}",
        name(&measured.element_body),
        name(&measured.body)
    )
}

/// What else a longer gauge length takes.
const fn holder(longer: bool) -> &'static str {
    if longer { ", with a longer holder" } else { "" }
}

/// A remedy.
#[must_use]
pub fn change(change: &Change) -> String {
    let up = |length_mm: f64| format!("{:.2}", (length_mm * 100.0 - 1e-6).ceil() / 100.0);
    match change {
        Change::StickOutAtLeast {
            tool,
            stick_out_mm,
            gauge_length_mm,
        } => format!(
            "T{tool} stick-out at least {} mm (gauge length {})",
            up(*stick_out_mm),
            up(*gauge_length_mm)
        ),
        Change::GaugeLengthAtLeast {
            tool,
            gauge_length_mm,
            longer_holder,
        } => {
            let length = up(*gauge_length_mm);
            format!(
                "T{tool} gauge length at least {length} mm{}",
                holder(*longer_holder)
            )
        }
        Change::GaugeLengthAtMost {
            tool,
            gauge_length_mm,
        } => format!(
            "T{tool} gauge length at most {} mm",
            down_mm(*gauge_length_mm)
        ),
        Change::HolderDiameterAtMost { tool, diameter_mm } => {
            format!("T{tool} holder at most {} mm wide", down_mm(*diameter_mm))
        }
        Change::PitchAtLeast { group, pitch_mm } => {
            format!("seats {} at least {} mm apart", name(group), up(*pitch_mm))
        }
        Change::IndexPose {
            axis,
            position_mm,
            at_least,
        } => {
            let (word, length) = if *at_least {
                ("least", up(*position_mm))
            } else {
                ("most", down_mm(*position_mm))
            };
            format!("{axis} at {word} {length} in index moves")
        }
        Change::FeedPlaneAtLeast { cut, height_mm } => {
            format!("feed plane of {} at least {} mm", name(cut), up(*height_mm))
        }
        Change::TravelPlaneAtLeast { cut, height_mm } => {
            format!(
                "travel plane of {} at least {} mm",
                name(cut),
                up(*height_mm)
            )
        }
        Change::DepthAtMost { cut, less_mm } => {
            format!("{} less deep by {} mm", name(cut), up(*less_mm))
        }
        Change::CutterDiameterAtMost { tool, diameter_mm } => {
            format!("T{tool} at most {} mm wide", down_mm(*diameter_mm))
        }
        Change::ShiftWork { axis, shift_mm } => {
            format!("work shifted by {shift_mm:.2} mm along {axis}")
        }
        Change::Say { text } => name(text),
    }
}

/// How many of what, in one line.
#[must_use]
pub fn counts(answer: &CheckAnswer) -> String {
    let many = |count: usize, word: &str| {
        let plural = if count == 1 { "" } else { "s" };
        format!("{count} {word}{plural}")
    };
    format!(
        "{}, {}, {}",
        many(answer.troubles.len(), "trouble"),
        many(answer.cuts.len(), "cut"),
        many(answer.index_moves.len(), "index move")
    )
}

/// What is told when files have changed and cannot be read.
#[must_use]
pub fn cannot_reload(faults: &[String]) -> String {
    let first = faults.first().map_or("no reason is known", String::as_str);
    let more = match faults.len() {
        0 | 1 => String::new(),
        count => format!(" (and {} more)", count - 1),
    };
    format!(
        "a file has changed, and the job cannot be read: {first}{more}. What is shown is the job before."
    )
}

/// Whether an element belongs to the tool group.
#[must_use]
pub const fn of_tool(element: Element) -> bool {
    !matches!(element, Element::Work | Element::Bed)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gaps_are_rounded_down_and_never_look_larger() {
        let value = |lo_mm: f64, hi_mm: Option<f64>| gap(&GapValue { lo_mm, hi_mm });
        assert_eq!(value(1.999, Some(1.9991)), "1.99 mm");
        assert_eq!(value(2.0, Some(2.0001)), "2.00 mm");
        assert_eq!(value(10.0, None), "at least 10.00 mm");
        assert_eq!(value(-0.3, Some(-0.2)), "contact");
        assert_eq!(value(1.0, Some(1.5)), "1.00 to 1.50 mm");
    }

    #[test]
    fn odd_names_stay_on_one_short_line() {
        assert_eq!(
            name("<b>\"a/b\"</b>\n\u{202e}x"),
            "<b>\"a/b\"</b> \u{fffd}x"
        );
        assert_eq!(name(&"\u{6f22}".repeat(90)).chars().count(), 40);
        assert_eq!(angle(-0.0), "0\u{b0}");
    }
}
