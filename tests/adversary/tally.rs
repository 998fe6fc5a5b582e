//! The gate: brackets and decisions against a known answer, counted.

use lapidary::gap::{Ask, Decision, Gap, Motion, Placed, at_least, group_gap};

/// Rounding of the construction itself, for coordinates up to some 1e4 mm.
const BUILT_MM: f64 = 1e-9;

/// Work after which a question may be left undecided; four times what the hardest case takes.
const BUDGET: u64 = 20_000_000;

/// The width that a decided bracket may have, with some rounding.
const TOLERANCE_MM: f64 = 1.001e-3;

/// The least size of a planted gap that the engine must decide: below, the width that a bracket
/// may have (1e-7 at rest) hides the sign.
const DECIDED_FROM_MM: f64 = 1e-5;

/// A question with its true answer.
pub struct Case {
    pub a: Vec<Placed>,
    pub b: Vec<Placed>,
    pub motion: Motion,
    /// The true least gap: 0 or less where the bodies overlap.
    pub truth_mm: f64,
    pub name: String,
}

/// What a suite has seen.
#[derive(Debug, Default)]
pub struct Tally {
    suite: &'static str,
    seed: u64,
    cases: usize,
    questions: usize,
    unknown: usize,
    wrong: Vec<String>,
}

impl Tally {
    pub fn new(suite: &'static str, seed: u64) -> Self {
        Self {
            suite,
            seed,
            ..Self::default()
        }
    }

    /// Asks for the bracket and for decisions on either side of the truth.
    pub fn ask(&mut self, case: &Case) {
        self.cases += 1;
        let ask = Ask {
            budget: BUDGET,
            ..Ask::default()
        };
        let gap = group_gap(&case.a, &case.b, &case.motion, &ask).unwrap();
        self.bracket(case, &gap);
        let truth_mm = case.truth_mm.max(0.0);
        let must_decide = case.truth_mm.abs() >= DECIDED_FROM_MM;
        let mut wanted_mm = vec![1e-6, 2.0 * case.truth_mm.abs()];
        if truth_mm > 0.0 {
            wanted_mm.extend([0.5 * truth_mm, truth_mm + 1e-8, truth_mm + 1e-3]);
        }
        for wanted_mm in wanted_mm.into_iter().filter(|wanted| *wanted > BUILT_MM) {
            let decision = at_least(&case.a, &case.b, &case.motion, wanted_mm, &ask).unwrap();
            self.decision(case, wanted_mm, &decision, must_decide);
        }
    }

    fn bracket(&mut self, case: &Case, gap: &Gap) {
        self.questions += 1;
        let truth_mm = case.truth_mm.max(0.0);
        if gap.lo_mm > truth_mm + BUILT_MM || gap.hi_mm < truth_mm - BUILT_MM {
            self.wrong
                .push(format!("{}: truth {truth_mm:e}, {gap:?}", case.name));
        }
        // A motion's bracket may be as wide as the tolerance; an overlap reads as no more than that.
        if case.truth_mm < -DECIDED_FROM_MM && gap.decided && gap.hi_mm > TOLERANCE_MM {
            let (name, truth_mm) = (&case.name, case.truth_mm);
            self.wrong
                .push(format!("{name}: overlap {truth_mm:e} missed, {gap:?}"));
        }
        let must_decide = case.truth_mm.abs() >= DECIDED_FROM_MM;
        if must_decide && !(gap.decided && gap.hi_mm - gap.lo_mm <= TOLERANCE_MM) {
            self.unknown += 1;
        }
    }

    fn decision(&mut self, case: &Case, wanted_mm: f64, decision: &Decision, must_decide: bool) {
        self.questions += 1;
        let truth_mm = case.truth_mm.max(0.0);
        let wrong = match decision {
            Decision::Yes => wanted_mm > truth_mm + BUILT_MM,
            Decision::No(_) => wanted_mm < truth_mm - BUILT_MM,
            Decision::Unknown(_) => {
                let decidable = (wanted_mm - truth_mm).abs() >= 0.4 * DECIDED_FROM_MM;
                self.unknown += usize::from(must_decide && decidable);
                false
            }
        };
        if wrong {
            let name = &case.name;
            self.wrong.push(format!(
                "{name}: truth {:e}, wanted {wanted_mm:e}, {decision:?}",
                case.truth_mm
            ));
        }
    }

    /// A bracket that must not be clear, whatever else: the body is inside another.
    pub fn never_clear(
        &mut self,
        name: &str,
        a: &[Placed],
        b: &[Placed],
        motion: &Motion,
        sure: bool,
    ) {
        self.cases += 1;
        for (first, second) in [(a, b), (b, a)] {
            let ask = Ask::default();
            let gap = group_gap(first, second, motion, &ask).unwrap();
            self.questions += 2;
            if gap.lo_mm > 0.0 {
                self.wrong.push(format!("{name}: {gap:?}"));
            }
            match at_least(first, second, motion, 0.1, &ask).unwrap() {
                Decision::Yes => self.wrong.push(format!("{name}: clear")),
                Decision::Unknown(_) if sure => self.unknown += 1,
                _ => {}
            }
            self.unknown += usize::from(sure && gap.hi_mm > 0.0);
        }
    }

    /// Prints the counts and holds the gate: nothing wrong, at most 1 % unknown.
    pub fn close(self) {
        let Self {
            suite,
            seed,
            cases,
            questions,
            unknown,
            wrong,
        } = self;
        println!(
            "{suite}: seed {seed}, {cases} cases, {questions} questions, {} wrong, {unknown} unknown",
            wrong.len()
        );
        assert!(
            wrong.is_empty(),
            "{suite}, seed {seed}: {} wrong\n{}",
            wrong.len(),
            wrong[..wrong.len().min(12)].join("\n")
        );
        assert!(cases > 0, "{suite} asked nothing");
        assert!(
            unknown * 100 <= questions,
            "{suite}, seed {seed}: {unknown} of {questions} unknown"
        );
    }
}
