//! One thing wrong at one place, before places are put together into troubles.

use super::model::{Element, Measured, Phase, TroubleKind, Verdict};
use super::plan::{CutJob, IndexMove, ToolChange};
use crate::answer::scene::BodyId;
use crate::setup::model::Setup;

/// Where in the program something is wrong.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Site {
    /// In a cut at a seat.
    Cut(CutJob),
    /// In an index move.
    Move(IndexMove),
    /// In an index move, between the work group and bed or base.
    WorkMove(IndexMove),
    /// At a tool change.
    Change(ToolChange),
    /// In the job as a whole.
    Job,
}

/// What a site is about: a cut, the moves of a tool, the moves of the work.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Subject {
    /// A cut.
    Cut(usize),
    /// Index moves with a tool.
    Move(usize),
    /// Index moves of the work group.
    Work,
    /// Tool changes with a tool.
    Change(usize),
    /// The job.
    Job,
}

impl Site {
    /// What it is about.
    #[must_use]
    pub fn subject(&self) -> Subject {
        match self {
            Self::Cut(job) => Subject::Cut(job.cut),
            Self::Move(step) => Subject::Move(step.tool),
            Self::WorkMove(_) => Subject::Work,
            Self::Change(change) => Subject::Change(change.tool),
            Self::Job => Subject::Job,
        }
    }
}

/// The other body, as seen from the seat of the cut: what makes two places the same trouble.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Other {
    /// A carrier body.
    Carrier(usize),
    /// The part that is cut.
    OwnPart,
    /// A part at another seat (in an index move: any part).
    Part,
    /// A clamp of the seat that is cut.
    OwnClamp(usize),
    /// A clamp of another seat (in an index move: of any seat).
    Clamp(usize),
    /// A bed body.
    Bed(usize),
    /// A base body.
    Base(usize),
}

impl Other {
    /// The other body as seen from `own_seat`.
    #[must_use]
    pub fn of(body: BodyId, own_seat: Option<usize>, setup: &Setup) -> Self {
        match body {
            BodyId::Carrier(index) => Self::Carrier(index),
            BodyId::Part { seat, .. } if Some(seat) == own_seat => Self::OwnPart,
            BodyId::Part { .. } => Self::Part,
            BodyId::Clamp { seat, which } => {
                let clamp = setup.seats[seat].clamps[which].0;
                if Some(seat) == own_seat {
                    Self::OwnClamp(clamp)
                } else {
                    Self::Clamp(clamp)
                }
            }
            BodyId::Bed(index) => Self::Bed(index),
            BodyId::Base(index) => Self::Base(index),
        }
    }
}

/// One thing wrong at one place.
#[derive(Debug, Clone, PartialEq)]
pub struct Violation {
    /// Kind.
    pub kind: TroubleKind,
    /// Verdict.
    pub verdict: Verdict,
    /// Where in the program.
    pub site: Site,
    /// Phase.
    pub phase: Option<Phase>,
    /// Element of the tool group.
    pub element: Option<Element>,
    /// The other body.
    pub other: Option<Other>,
    /// The other body itself.
    pub body: Option<BodyId>,
    /// The measured gap.
    pub measured: Option<Measured>,
    /// Linear axis that is short.
    pub axis: Option<usize>,
    /// By how much, where it is known without a search.
    pub amount_mm: Option<f64>,
    /// What else there is to say.
    pub note: Option<String>,
}

impl Violation {
    /// A violation that is not about a gap.
    #[must_use]
    pub fn plain(kind: TroubleKind, verdict: Verdict, site: Site) -> Self {
        Self {
            kind,
            verdict,
            site,
            phase: None,
            element: None,
            other: None,
            body: None,
            measured: None,
            axis: None,
            amount_mm: None,
            note: None,
        }
    }

    /// Whether two violations are one trouble at two places.
    #[must_use]
    pub fn same_trouble(&self, other: &Self) -> bool {
        self.kind == other.kind && self.verdict == other.verdict && self.same_pair(other)
    }

    /// Whether two violations are about the same two things in the same phase of the same cut (or
    /// of moves with the same tool), however bad.
    #[must_use]
    pub fn same_pair(&self, other: &Self) -> bool {
        self.site.subject() == other.site.subject()
            && self.phase == other.phase
            && self.element == other.element
            && self.other == other.other
            && self.axis == other.axis
            && (self.measured.is_some() || self.kind == other.kind)
    }

    /// How bad: larger is worse; compares violations of one trouble.
    #[must_use]
    pub fn badness(&self) -> f64 {
        let gap = self
            .measured
            .as_ref()
            .map(|measured| measured.wanted_mm - measured.gap.lo_mm);
        self.amount_mm.or(gap).unwrap_or(0.0)
    }
}
