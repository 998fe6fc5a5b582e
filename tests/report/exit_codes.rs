//! Exit codes of answers.

use crate::answers::{clear, close, three_troubles, trouble, unknown_sense};
use lapidary::answer::check::model::*;
use lapidary::cli::exit::Exit;

#[test]
fn each_verdict_has_its_code() {
    assert_eq!(Exit::of(&clear(), false), Exit::Clear);
    assert_eq!(Exit::of(&three_troubles(), false), Exit::Trouble);
    assert_eq!(Exit::of(&close(), false), Exit::Trouble);
    assert_eq!(Exit::of(&unknown_sense(), false), Exit::Unknown);
    let numbers = [
        Exit::Clear,
        Exit::Trouble,
        Exit::BadInput,
        Exit::Unknown,
        Exit::Stopped,
    ];
    assert_eq!(numbers.map(Exit::number), [0, 1, 2, 3, 130]);
}

#[test]
fn close_may_be_accepted_but_nothing_worse() {
    assert_eq!(Exit::of(&close(), true), Exit::Clear);
    assert_eq!(Exit::of(&three_troubles(), true), Exit::Trouble);
    assert_eq!(Exit::of(&unknown_sense(), true), Exit::Unknown);
}

#[test]
fn an_accepted_close_hides_no_unknown() {
    let in_a_cut = |answer: &mut CheckAnswer| answer.cuts[0].verdict = Verdict::Unknown;
    let in_an_outcome = |answer: &mut CheckAnswer| answer.cuts[0].outcome = Outcome::Unknown;
    let in_a_move = |answer: &mut CheckAnswer| answer.index_moves[0].verdict = Verdict::Unknown;
    let in_a_change = |answer: &mut CheckAnswer| answer.tool_changes[0].verdict = Verdict::Unknown;
    let in_a_trouble = |answer: &mut CheckAnswer| {
        answer
            .troubles
            .push(trouble(TroubleKind::NoStock, Verdict::Unknown));
    };
    let places: [&dyn Fn(&mut CheckAnswer); 5] = [
        &in_a_cut,
        &in_an_outcome,
        &in_a_move,
        &in_a_change,
        &in_a_trouble,
    ];
    for place in places {
        let mut answer = close();
        place(&mut answer);
        assert_eq!(Exit::of(&answer, true), Exit::Unknown);
        assert_eq!(Exit::of(&answer, false), Exit::Trouble);
    }
}

#[test]
fn a_place_that_is_not_reached_is_trouble_whatever_else_is_said() {
    for outcome in [
        Outcome::ShortOfTravel,
        Outcome::Blocked,
        Outcome::FacingAway,
    ] {
        let mut answer = clear();
        answer.cuts[5].outcome = outcome;
        assert_eq!(Exit::of(&answer, true), Exit::Trouble);
    }
}
