//! Exit codes.

use crate::answer::check::model::{CheckAnswer, Outcome, Verdict};
use std::process::ExitCode;

/// What the program says to its caller.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Exit {
    /// 0: everything reached and clear (or, if the person takes that, close).
    Clear,
    /// 1: a clash, something close, or a place that is not reached.
    Trouble,
    /// 2: no answer: wrong arguments, faults in the files, or an output that cannot be written.
    BadInput,
    /// 3: none of these, but something unknown.
    Unknown,
    /// 130: stopped by the person; the usual code for Ctrl-C.
    Stopped,
}

impl Exit {
    /// The number.
    #[must_use]
    pub const fn number(self) -> u8 {
        match self {
            Self::Clear => 0,
            Self::Trouble => 1,
            Self::BadInput => 2,
            Self::Unknown => 3,
            Self::Stopped => 130,
        }
    }

    /// The number, for the process.
    #[must_use]
    pub fn code(self) -> ExitCode {
        ExitCode::from(self.number())
    }

    /// Exit of an answer.
    ///
    /// Looks at every verdict, not at the worst alone, so that an accepted `close` never hides
    /// an `unknown`.
    #[must_use]
    pub fn of(answer: &CheckAnswer, accept_close: bool) -> Self {
        let outcomes: Vec<Outcome> = answer.cuts.iter().map(|cut| cut.outcome).collect();
        let not_reached = |outcome: &Outcome| {
            matches!(
                outcome,
                Outcome::ShortOfTravel | Outcome::Blocked | Outcome::FacingAway
            )
        };
        let verdicts = verdicts(answer);
        let close = verdicts.contains(&Verdict::Close) && !accept_close;
        if close || verdicts.contains(&Verdict::Clash) || outcomes.iter().any(not_reached) {
            Self::Trouble
        } else if verdicts.contains(&Verdict::Unknown) || outcomes.contains(&Outcome::Unknown) {
            Self::Unknown
        } else {
            Self::Clear
        }
    }
}

fn verdicts(answer: &CheckAnswer) -> Vec<Verdict> {
    let mut verdicts = vec![answer.verdict];
    verdicts.extend(answer.cuts.iter().map(|cut| cut.verdict));
    verdicts.extend(answer.index_moves.iter().map(|step| step.verdict));
    verdicts.extend(answer.tool_changes.iter().map(|change| change.verdict));
    verdicts.extend(answer.troubles.iter().map(|trouble| trouble.verdict));
    verdicts
}
