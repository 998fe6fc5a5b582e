//! The fewest indexes that reach all faces, and with these the fewest tools at an index.
//!
//! A face at a seat is reached by a tool at an index where its certain share is large enough. That
//! is a set cover, solved as integer programs: first the number of indexes is made least, then with
//! that number held the number of (tool, index) pairs. The number of indexes that it would take if all
//! that is undecided were reached, too, tells how far from the truth the choice can be.

use super::model::ReachAnswer;
use good_lp::{
    Expression, ProblemVariables, Solution, SolverModel, Variable, constraint, microlp, variable,
};
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// Why no choice was made.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ChoiceError {
    /// The solver gave up.
    #[error("the solver found no choice: {0}")]
    Solver(String),
    /// The solver's choice leaves something out: a fault of the solver, found by counting.
    #[error("the solver's choice leaves {0} places unreached")]
    NotACover(usize),
}

/// A face at a seat.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
pub struct Place {
    /// Part.
    pub part: String,
    /// Face.
    pub face: String,
    /// Seat.
    pub seat: String,
}

/// A tool at an index.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct ToolAtIndex {
    /// Tool number.
    pub tool: u32,
    /// Rotary angle.
    pub index_deg: f64,
}

/// The fewest indexes.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct IndexChoice {
    /// A place counts as reached from this certain share on.
    pub from_share: f64,
    /// Places that are to be reached, and can be.
    pub reached: usize,
    /// Places that no tool reaches at any index asked about.
    pub not_reached: Vec<Place>,
    /// The indexes, ascending.
    pub indexes_deg: Vec<f64>,
    /// The tools at them.
    pub tools: Vec<ToolAtIndex>,
    /// No choice has fewer indexes by what is certain: proved by the solver's search, which ran to its
    /// end.
    pub fewest_indexes_proved: usize,
    /// No choice for the same places has fewer indexes even if all that is undecided were reached:
    /// proved alike.
    pub indexes_at_least: usize,
    /// No choice of as few indexes has fewer pairs: proved alike.
    pub fewest_pairs_proved: usize,
}

/// Pairs by number, and for each kind of place the pairs that reach it.
#[derive(Default)]
struct Cover {
    pairs: Vec<ToolAtIndex>,
    index_of_pair: Vec<usize>,
    /// Pairs that surely reach a place.
    needs: BTreeSet<BTreeSet<usize>>,
    /// Indexes that may reach it.
    maybe: BTreeSet<BTreeSet<usize>>,
}

/// Chooses the fewest indexes.
///
/// # Guarantees
/// Every place counted as reached is reached by one tool at one index of the choice, by counting
/// after the solver; no smaller choice exists among the indexes asked about, by the solver's proof.
///
/// # Errors
/// A [`ChoiceError`] where the solver fails.
pub fn choose(answer: &ReachAnswer, from_share: f64) -> Result<IndexChoice, ChoiceError> {
    let (cover, reached, not_reached) = cover_of(answer, from_share);
    let mut choice = IndexChoice {
        from_share,
        reached,
        not_reached,
        indexes_deg: Vec::new(),
        tools: Vec::new(),
        fewest_indexes_proved: 0,
        indexes_at_least: 0,
        fewest_pairs_proved: 0,
    };
    if cover.needs.is_empty() {
        return Ok(choice);
    }
    let needs = cover.needs.iter().map(|need| cover.indexes_of(need));
    let few = fewest(&needs.collect())?;
    let pairs = fewest_pairs(&cover, few.len())?;
    let left = cover.needs.iter().filter(|need| need.is_disjoint(&pairs));
    let left = left.count();
    if left > 0 {
        return Err(ChoiceError::NotACover(left));
    }
    let chosen = cover.indexes_of(&pairs);
    choice.indexes_deg = chosen.iter().map(|&i| answer.indexes_deg[i]).collect();
    choice.tools = pairs.iter().map(|&pair| cover.pairs[pair]).collect();
    choice.tools.sort_by(|a, b| {
        a.index_deg
            .total_cmp(&b.index_deg)
            .then(a.tool.cmp(&b.tool))
    });
    choice.fewest_indexes_proved = chosen.len();
    choice.indexes_at_least = fewest(&cover.maybe)?.len();
    choice.fewest_pairs_proved = pairs.len();
    Ok(choice)
}

impl Cover {
    fn indexes_of(&self, pairs: &BTreeSet<usize>) -> BTreeSet<usize> {
        pairs.iter().map(|&pair| self.index_of_pair[pair]).collect()
    }
}

fn cover_of(answer: &ReachAnswer, from_share: f64) -> (Cover, usize, Vec<Place>) {
    let mut number: BTreeMap<(u32, usize), usize> = BTreeMap::new();
    let mut cover = Cover::default();
    let (mut reached, mut not_reached) = (0, Vec::new());
    let index_of = |index_deg: f64| {
        let same = |other: &f64| *other == index_deg;
        answer.indexes_deg.iter().position(same).unwrap_or_default()
    };
    for part in &answer.parts {
        for face in &part.faces {
            let seats = face.tools.first().map_or(0, |tool| tool.seats.len());
            for seat in 0..seats {
                let (mut need, mut maybe) = (BTreeSet::new(), BTreeSet::new());
                for tool in &face.tools {
                    for found in &tool.seats[seat].indexes {
                        if found.share.most() < from_share {
                            continue;
                        }
                        let index = index_of(found.index_deg);
                        maybe.insert(index);
                        if found.share.certain < from_share {
                            continue;
                        }
                        let pair = *number.entry((tool.tool, index)).or_insert_with(|| {
                            cover.pairs.push(ToolAtIndex {
                                tool: tool.tool,
                                index_deg: found.index_deg,
                            });
                            cover.index_of_pair.push(index);
                            cover.pairs.len() - 1
                        });
                        need.insert(pair);
                    }
                }
                if need.is_empty() {
                    not_reached.push(Place {
                        part: part.part.clone(),
                        face: face.face.clone(),
                        seat: face.tools[0].seats[seat].seat.clone(),
                    });
                } else {
                    reached += 1;
                    cover.needs.insert(need);
                    cover.maybe.insert(maybe);
                }
            }
        }
    }
    cover.needs = least(&cover.needs);
    (cover, reached, not_reached)
}

/// Needs without those that hold another one: what a smaller need asks for, a larger one gets too.
fn least(needs: &BTreeSet<BTreeSet<usize>>) -> BTreeSet<BTreeSet<usize>> {
    let is_least = |need: &&BTreeSet<usize>| {
        let mut others = needs.iter();
        !others.any(|other| other != *need && other.is_subset(need))
    };
    needs.iter().filter(is_least).cloned().collect()
}

/// The fewest numbers of which every need holds one.
///
/// # Errors
/// [`ChoiceError::Solver`] where the solver fails.
pub(super) fn fewest(needs: &BTreeSet<BTreeSet<usize>>) -> Result<BTreeSet<usize>, ChoiceError> {
    let needs = least(needs);
    let mut variables = ProblemVariables::new();
    let used = binary(needs.iter().flatten().copied(), &mut variables);
    let mut model = variables.minimise(sum(&used)).using(microlp);
    for need in &needs {
        let reaching: Expression = need.iter().map(|number| used[number]).sum();
        model.add_constraint(constraint!(reaching >= 1));
    }
    chosen(model, &used)
}

/// The fewest pairs at so many indexes at most.
fn fewest_pairs(cover: &Cover, index_count: usize) -> Result<BTreeSet<usize>, ChoiceError> {
    let mut variables = ProblemVariables::new();
    let pairs: BTreeSet<usize> = cover.needs.iter().flatten().copied().collect();
    let index_used = binary(cover.indexes_of(&pairs).into_iter(), &mut variables);
    let pair_used = binary(pairs.into_iter(), &mut variables);
    let mut model = variables.minimise(sum(&pair_used)).using(microlp);
    for need in &cover.needs {
        let reaching: Expression = need.iter().map(|pair| pair_used[pair]).sum();
        model.add_constraint(constraint!(reaching >= 1));
    }
    for (&pair, &used) in &pair_used {
        let index = index_used[&cover.index_of_pair[pair]];
        model.add_constraint(constraint!(used <= index));
    }
    let most = index_count as f64;
    model.add_constraint(constraint!(sum(&index_used) <= most));
    chosen(model, &pair_used)
}

type Used = BTreeMap<usize, Variable>;

fn binary(numbers: impl Iterator<Item = usize>, variables: &mut ProblemVariables) -> Used {
    numbers
        .map(|number| (number, variables.add(variable().binary())))
        .collect()
}

fn sum(used: &Used) -> Expression {
    used.values().sum()
}

fn chosen(model: impl SolverModel, used: &Used) -> Result<BTreeSet<usize>, ChoiceError> {
    let solution = model
        .solve()
        .map_err(|fault| ChoiceError::Solver(fault.to_string()))?;
    let chosen = used.iter().filter(|(_, used)| solution.value(**used) > 0.5);
    Ok(chosen.map(|(&number, _)| number).collect())
}
