//! Which way the work turns, in words that can be watched on the machine.

use super::Show;
use super::page::Page;
use super::words::direction;
use crate::answer::check::model::{Turning, Verdict};

pub fn write(page: &mut Page, show: &Show) {
    let turning = &show.report.answer.turning;
    page.heading("Which way the work turns: watch it on the machine before you trust the rest");
    match turning.work_right_handed {
        Some(right_handed) => page.text(2, 2, &declared(turning, right_handed)),
        None => page.marked(Verdict::Unknown, 2, &undeclared(turning)),
    }
}

pub fn declared(turning: &Turning, right_handed: bool) -> String {
    let rotary = &turning.rotary;
    let axis = direction(turning.direction);
    let hand = if right_handed { "right" } else { "left" };
    let mut text = format!("at {rotary}+90 the work has turned {hand}-handed about {axis}");
    if let Some(after) = turning.side_1_after_plus_90 {
        let before = facing(turning.side_1_at_zero, turning);
        let after = facing(after, turning);
        text.push_str(&format!(": side 1, which faced {before}, faces {after}"));
    }
    text.push_str(&format!(
        ". ({hand} thumb along {axis}: the work turns as the fingers point)"
    ));
    text
}

/// A direction, and whether it is that of the spindle.
fn facing(toward: [f64; 3], turning: &Turning) -> String {
    let along: f64 = toward
        .iter()
        .zip(&turning.toward_spindle)
        .map(|(a, b)| a * b)
        .sum();
    let name = direction(toward);
    if along > 1.0 - 1e-9 {
        format!("{name} (the spindle)")
    } else {
        name
    }
}

pub fn undeclared(turning: &Turning) -> String {
    let rotary = &turning.rotary;
    let axis = direction(turning.direction);
    format!(
        "not declared, so every index answer is unknown. Jog to {rotary}+90 with nothing in the \
         way and watch the work. If it turns left-handed about {axis} (left thumb along {axis}: \
         it turns as the fingers point), write sense = \"iso-841\" for the rotary in the machine \
         file; if right-handed, write sense = \"reversed\"."
    )
}
