//! Each trouble: what, by how much, between what, where, when, and what mends it.

use super::Show;
use super::page::Page;
use super::remedy;
use super::words::{count, index, pair, phase, point};
use crate::answer::check::model::{Measured, Phase, Trouble, TroubleKind, TroublePlace};

/// Column at which the lines of a trouble start and go on.
const INDENT: usize = 5;

/// Angles (or index moves) that are listed before the rest is only counted.
const ANGLES_LISTED: usize = 8;

pub fn write(page: &mut Page, show: &Show) {
    let troubles = &show.report.answer.troubles;
    if troubles.is_empty() {
        return;
    }
    page.heading("Troubles, the worst first");
    for (number, trouble) in troubles.iter().enumerate() {
        let title = format!("{}. {}", number + 1, title(trouble, show));
        page.marked(trouble.verdict, INDENT, &title);
        let mut lines = vec![when(trouble, show)];
        lines.extend(trouble.worst.iter().flat_map(|worst| place(worst, show)));
        lines.extend(elsewhere(&trouble.places, show));
        lines.extend(trouble.note.clone());
        for line in lines.iter().filter(|line| !line.is_empty()) {
            page.text(INDENT, INDENT, line);
        }
        remedy::write(page, show, trouble, INDENT);
    }
}

pub fn title(trouble: &Trouble, show: &Show) -> String {
    let amount = |lead: &str| {
        let amount_mm = trouble.amount_mm;
        amount_mm.map_or_else(String::new, |mm| format!("{lead}{}", show.lengths.up(mm)))
    };
    let bodies = |lead: &str, alone: &str| {
        let worst = trouble.worst.as_ref();
        worst.map_or_else(
            || alone.to_owned(),
            |worst| format!("{lead}{}", pair(worst)),
        )
    };
    match trouble.kind {
        TroubleKind::Clash => bodies("clash: ", "clash") + &amount(", overlap "),
        TroubleKind::Gouge => bodies("gouge: ", "gouge") + &amount(", too deep by "),
        TroubleKind::RapidInStock => {
            bodies("a rapid goes through stock: ", "a rapid goes through stock")
                + &amount(", overlap ")
        }
        TroubleKind::ShortOfTravel => {
            let axis = trouble.axis.as_deref().unwrap_or("an axis");
            format!("short of travel: {axis} ends too early{}", amount(", by "))
        }
        TroubleKind::FacingAway => "no index turns this face toward the spindle".to_owned(),
        TroubleKind::SwingTooLarge => {
            bodies("the work sweeps too far: ", "the work sweeps too far") + &amount(", by ")
        }
        TroubleKind::CutterDoesNotFit => {
            format!("the cutter does not fit the feature{}", amount(", by "))
        }
        TroubleKind::NoWayIn => {
            "no way in: the cutter cannot plunge, and no side is open".to_owned()
        }
        TroubleKind::EdgesTooShort => {
            format!("a pass is deeper than the cutting edges{}", amount(", by "))
        }
        TroubleKind::Close => bodies("close: ", "close") + &gap_and_wanted(trouble, show),
        TroubleKind::Rubs => bodies(
            "what follows the flutes rubs: ",
            "what follows the flutes rubs",
        ),
        TroubleKind::Undecided => {
            bodies("not decided: ", "not decided") + &gap_and_wanted(trouble, show)
        }
        TroubleKind::NoRotarySense => {
            "the machine file does not say which way the rotary turns the work".to_owned()
        }
        TroubleKind::NoStock => "nothing says what stock the part has".to_owned(),
    }
}

fn gap_and_wanted(trouble: &Trouble, show: &Show) -> String {
    trouble.worst.as_ref().map_or_else(String::new, |worst| {
        let gap = show.lengths.gap(&worst.gap);
        format!(", gap {gap}, wanted {}", show.lengths.near(worst.wanted_mm))
    })
}

/// Cut, tool, phase, seat and angle.
pub fn when(trouble: &Trouble, show: &Show) -> String {
    let rotary = &show.report.answer.turning.rotary;
    let mut parts = Vec::new();
    if let Some(cut) = &trouble.cut {
        parts.push(format!("cut \"{cut}\""));
    }
    if let Some(tool) = trouble.tool {
        parts.push(format!("T{tool}"));
    }
    if let Some(phase_of) = trouble.phase {
        parts.push(phase(phase_of).to_owned());
    }
    if let Some(seat) = &trouble.seat {
        parts.push(format!("seat {seat}"));
    }
    let angles: Vec<_> = trouble
        .angles_deg
        .iter()
        .map(|deg| index(rotary, *deg))
        .collect();
    match &angles[..] {
        [] => {}
        [from, to] if trouble.phase == Some(Phase::IndexMove) => {
            parts.push(format!("{from} to {to}"));
        }
        _ => parts.push(format!("at {}", angles.join(", "))),
    }
    parts.join(", ")
}

/// Where the two come nearest, or overlap deepest.
pub fn place(worst: &Measured, show: &Show) -> Vec<String> {
    let Some(place) = &worst.place else {
        return Vec::new();
    };
    let rotary = &show.report.answer.turning.rotary;
    let at = match worst.phase {
        Phase::IndexMove => format!(" at {}", index(rotary, place.angle_deg)),
        _ => String::new(),
    };
    let machine = point(place.machine_mm, show.lengths);
    let what = match place.overlap_mm {
        Some(_) => "deepest",
        None => "nearest",
    };
    let mut lines = vec![format!("{what}{at}: machine {machine} (table at zero)")];
    if let Some(part_mm) = place.part_mm {
        lines.push(format!("in the part: {}", point(part_mm, show.lengths)));
    }
    if worst.chord_allowance_mm > 0.0 {
        let allowance = show.lengths.up(worst.chord_allowance_mm);
        lines.push(format!(
            "{allowance} is already taken off because triangles are flat"
        ));
    }
    lines
}

/// All places, folded by angle: `at B0: 1.1, 1.2; at B+90: 2.1`.
pub fn elsewhere(places: &[TroublePlace], show: &Show) -> Option<String> {
    if places.len() < 2 {
        return None;
    }
    let mut by_angles: Vec<(&[f64], Vec<&str>)> = Vec::new();
    for place in places {
        let seat = place.seat.as_deref();
        match by_angles
            .iter_mut()
            .find(|(other, _)| *other == place.angles_deg)
        {
            Some((_, seats)) => seats.extend(seat),
            None => by_angles.push((&place.angles_deg, seat.into_iter().collect())),
        }
    }
    let rotary = &show.report.answer.turning.rotary;
    let listed = by_angles
        .iter()
        .take(ANGLES_LISTED)
        .map(|(angles_deg, seats)| {
            let angles: Vec<_> = angles_deg.iter().map(|deg| index(rotary, *deg)).collect();
            let at = format!("at {}", angles.join(" to "));
            if seats.is_empty() {
                at
            } else {
                format!("{at}: {}", seats.join(", "))
            }
        });
    let mut text = format!(
        "{} in all: {}",
        count(places.len(), "place", "places"),
        listed.collect::<Vec<_>>().join("; ")
    );
    let more = by_angles.len().saturating_sub(ANGLES_LISTED);
    if more > 0 {
        text.push_str(&format!(
            "; and at {}",
            count(more, "more angle", "more angles")
        ));
    }
    Some(text)
}
