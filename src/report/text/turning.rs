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

fn declared(turning: &Turning, right_handed: bool) -> String {
    let rotary = &turning.rotary;
    let axis = direction(turning.direction);
    let hand = if right_handed { "right" } else { "left" };
    let mut text = format!("at {rotary}+90 the work has turned {hand}-handed about {axis}");
    if let Some(after) = turning.side_1_after_plus_90 {
        let before = direction(quarter_back(after, turning.direction, right_handed));
        let after = direction(after);
        text.push_str(&format!(": side 1, which faced {before}, faces {after}"));
    }
    text.push_str(&format!(
        ". ({hand} thumb along {axis}: the work turns as the fingers point)"
    ));
    text
}

/// What faced where a quarter turn earlier: the turn undone, by Rodrigues' formula at 90 degrees.
fn quarter_back(after: [f64; 3], axis: [f64; 3], right_handed: bool) -> [f64; 3] {
    let sign = if right_handed { -1.0 } else { 1.0 };
    let along: f64 = axis.iter().zip(&after).map(|(a, b)| a * b).sum();
    let cross = [
        axis[1] * after[2] - axis[2] * after[1],
        axis[2] * after[0] - axis[0] * after[2],
        axis[0] * after[1] - axis[1] * after[0],
    ];
    [0, 1, 2].map(|part| axis[part] * along + sign * cross[part])
}

fn undeclared(turning: &Turning) -> String {
    let rotary = &turning.rotary;
    let axis = direction(turning.direction);
    format!(
        "not declared, so every index answer is unknown. Jog to {rotary}+90 with nothing in the \
         way and watch the work. If it turns left-handed about {axis} (left thumb along {axis}: \
         it turns as the fingers point), write sense = \"iso-841\" for the rotary in the machine \
         file; if right-handed, write sense = \"reversed\"."
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Check value of RS274/NGC and ISO 841 (own recomputation): a positive turn about Y takes
    /// what faced +Z to -X where the table turns left-handed.
    #[test]
    fn a_quarter_back_is_where_it_was() {
        let y = [0.0, 1.0, 0.0];
        assert_eq!(direction(quarter_back([-1.0, 0.0, 0.0], y, false)), "+Z");
        assert_eq!(direction(quarter_back([1.0, 0.0, 0.0], y, true)), "+Z");
        let x = [1.0, 0.0, 0.0];
        assert_eq!(direction(quarter_back([0.0, 1.0, 0.0], x, false)), "+Z");
    }
}
