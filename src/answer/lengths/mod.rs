//! `lengths`: how short and how long each tool of a job may be set, and what to set.

mod reached;

pub use reached::{Lost, ReachedLengths};

use super::check::model::{LengthLimit, ToolLengths};
use super::check::{CheckError, CheckOptions, Progress, judge_lengths};
use super::reach::ReachOptions;
use super::retool::stick_out_limits;
use crate::setup::model::{Setup, Tool};
use reached::Reached;
use schemars::JsonSchema;
use serde::Serialize;
use std::collections::BTreeMap;
use std::sync::atomic::AtomicBool;

/// A length this little outside an end of the range lies on it: both are decimal fractions.
const GRAIN_MM: f64 = 1e-9;

/// Shortest and longest gauge lengths of a job's tools, with a setting list.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct LengthsAnswer {
    /// Title of the job.
    pub title: String,
    /// Name of the machine.
    pub machine: String,
    /// Whether the rotary sense is declared. Without it nothing is known of any tool.
    pub sense_declared: bool,
    /// Proposed lengths are multiples of this.
    pub step_mm: f64,
    /// Every tool that cuts, or every tool asked about where its reach counts too, in the order of
    /// the tool list.
    pub tools: Vec<ToolSetting>,
}

/// How a tool may be set.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct ToolSetting {
    /// The range over all cuts, index moves and tool changes, with what sets each end.
    #[serde(flatten)]
    pub range: ToolLengths,
    /// Stick-out as set.
    pub stick_out_mm: f64,
    /// Shortest gauge length to which the cutter can be set in its holder.
    pub least_mm: f64,
    /// What sets it: cutting edges or usable length out of the holder, ground of its bore.
    pub least_by: String,
    /// Longest gauge length that leaves the shank its grip in the holder; left out where the
    /// cutter's overall length is not known.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub grip_mm: Option<f64>,
    /// Whether the job has cuts with it.
    pub cuts: bool,
    /// What it reaches as set, and how short it still does; left out where that was not asked.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub reached: Option<ReachedLengths>,
    /// What to set.
    pub proposal: Proposal,
}

/// What to set, or why there is nothing to set.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
#[serde(tag = "is", rename_all = "kebab-case")]
pub enum Proposal {
    /// The shortest multiple of the step in the range, judged at every place.
    Set {
        /// Gauge length.
        gauge_length_mm: f64,
        /// Stick-out.
        stick_out_mm: f64,
        /// How many times as stiff as the present setting (see [`deflection_mm`]).
        stiffer_times: f64,
    },
    /// The shortest is longer than the longest, or an end was not found.
    NoLengthWorks,
    /// The range holds no multiple of the step.
    NoStepInRange,
    /// The tool has no cuts, and reaches no face as set.
    ReachesNothing,
    /// The cuts need this length, but at it a face is lost that is reached as set.
    LosesReach {
        /// The length, with the face.
        lost: Box<Lost>,
    },
    /// A length in the range was judged, and something is wrong at it: gaps do not grow steadily
    /// with the length.
    NotProved {
        /// That length.
        gauge_length_mm: f64,
    },
}

/// How to ask.
#[derive(Debug, Clone)]
pub struct LengthsAsk {
    /// Proposed lengths are multiples of this; above zero.
    pub step_mm: f64,
    /// How the cuts are judged. Its tools are those asked about.
    pub check: CheckOptions,
    /// Whether tools are to keep the faces that they reach as set: which faces, seats and indexes, and
    /// how finely.
    pub reached: Option<ReachOptions>,
}

/// Finds the range and a setting for every tool that cuts; with [`LengthsAsk::reached`] for every tool
/// asked about.
///
/// # Guarantees
/// The range is the one that [`super::check::check`] tells, found by the same code. A proposed
/// length lies in it and was judged at every place of the tool; every face that is to stay reached was
/// asked about at that length, or lies between two lengths at which it was.
///
/// # Errors
/// As [`super::check::check`] and [`super::reach::reach`].
///
/// # Panics
/// When the step is not above zero.
pub fn lengths(
    setup: &Setup,
    ask: &LengthsAsk,
    progress: &dyn Progress,
    stop: &AtomicBool,
) -> Result<LengthsAnswer, CheckError> {
    assert!(ask.step_mm > 0.0, "the caller tests the step");
    let mut reached = BTreeMap::new();
    if let Some(faces) = &ask.reached {
        let tools = reached::as_set(setup, faces, progress, stop)?;
        progress.stage("lengths of the reach", tools.len());
        for (tool, asked) in tools {
            let found = asked.shortest(ask.step_mm)?;
            progress.step();
            reached.insert(tool, (asked, found));
        }
    }
    let narrowed = |tool: usize, range: &ToolLengths| {
        let found = reached.get(&tool).map(|(_, found)| found);
        shortest_step(&also_reached(range, found)?, ask.step_mm)
    };
    let mut settings = BTreeMap::new();
    if !setup.cuts.is_empty() {
        let of_number = |number: u32| setup.tools.iter().position(|tool| tool.number == number);
        let propose =
            |range: &ToolLengths| of_number(range.tool).and_then(|t| narrowed(t, range).ok());
        let judged = judge_lengths(setup, &ask.check, &propose, progress, stop)?;
        for (tool, range, proved) in judged {
            settings.insert(tool, (range, true, proved));
        }
    }
    for &tool in reached.keys() {
        let idle = || (range_of_holder(&setup.tools[tool]), false, true);
        settings.entry(tool).or_insert_with(idle);
    }
    let mut tools = Vec::new();
    for (index, (range, cuts, proved)) in settings {
        let found = reached.get(&index).map(|(_, found)| found.clone());
        let nothing = found.as_ref().is_some_and(|found| found.places == 0);
        let proposal = match narrowed(index, &range) {
            _ if nothing && !cuts => Proposal::ReachesNothing,
            Err(none) => none,
            Ok(gauge_length_mm) if !proved => Proposal::NotProved { gauge_length_mm },
            Ok(gauge_length_mm) => {
                let lost = lost_at(reached.get(&index), gauge_length_mm)?;
                lost.map_or_else(
                    || set(&setup.tools[index], gauge_length_mm),
                    |lost| Proposal::LosesReach {
                        lost: Box::new(lost),
                    },
                )
            }
        };
        let tool = &setup.tools[index];
        tools.push(setting(tool, (range, cuts), found, proposal));
    }
    Ok(LengthsAnswer {
        title: setup.title.clone(),
        machine: setup.machine.name.clone(),
        sense_declared: setup.machine.rotary.sense.is_some(),
        step_mm: ask.step_mm,
        tools,
    })
}

/// The range with the shortest that keeps the reach, too.
fn also_reached(
    range: &ToolLengths,
    reached: Option<&ReachedLengths>,
) -> Result<ToolLengths, Proposal> {
    let mut range = range.clone();
    if let Some(reached) = reached.filter(|reached| reached.places > 0) {
        let faces_mm = reached.shortest_mm.ok_or(Proposal::NoStepInRange)?;
        range.shortest_mm = range.shortest_mm.map(|cuts_mm| cuts_mm.max(faces_mm));
    }
    Ok(range)
}

/// What the holder allows a tool without cuts.
fn range_of_holder(tool: &Tool) -> ToolLengths {
    let limits = stick_out_limits(tool);
    let holder_mm = tool.gauge_length_mm - tool.stick_out_mm;
    let by = |name: &str| {
        Some(LengthLimit {
            cut: None,
            seat: None,
            phase: None,
            by: name.to_owned(),
        })
    };
    let (longest_mm, longest_by) = match limits.most_mm {
        Some(most_mm) => (most_mm, limits.most_by.name()),
        None => (
            tool.stick_out_mm,
            "as set: its overall length (OAL) is not known",
        ),
    };
    ToolLengths {
        tool: tool.number,
        name: tool.name.clone(),
        set_mm: tool.gauge_length_mm,
        shortest_mm: Some(holder_mm + limits.least_mm),
        shortest_by: by(limits.least_by.name()),
        longest_mm: Some(holder_mm + longest_mm),
        longest_by: by(longest_by),
    }
}

fn lost_at(
    reached: Option<&(Reached<'_>, ReachedLengths)>,
    gauge_length_mm: f64,
) -> Result<Option<Lost>, CheckError> {
    match reached {
        Some((_, found)) if found.shortest_mm == Some(gauge_length_mm) => Ok(None),
        Some((asked, _)) => asked.lost_at(gauge_length_mm),
        None => Ok(None),
    }
}

/// The shortest multiple of the step in the range.
fn shortest_step(range: &ToolLengths, step_mm: f64) -> Result<f64, Proposal> {
    let (Some(shortest_mm), Some(longest_mm)) = (range.shortest_mm, range.longest_mm) else {
        return Err(Proposal::NoLengthWorks);
    };
    if shortest_mm > longest_mm + GRAIN_MM {
        return Err(Proposal::NoLengthWorks);
    }
    let length_mm = ((shortest_mm - GRAIN_MM) / step_mm).ceil() * step_mm;
    if length_mm > longest_mm + GRAIN_MM {
        return Err(Proposal::NoStepInRange);
    }
    Ok(length_mm)
}

fn set(tool: &Tool, gauge_length_mm: f64) -> Proposal {
    let stick_out_mm = tool.stick_out_mm + gauge_length_mm - tool.gauge_length_mm;
    let deflection_mm = |free_mm| deflection_mm(1.0, free_mm, tool.shank_diameter_mm, 1.0);
    Proposal::Set {
        gauge_length_mm,
        stick_out_mm,
        stiffer_times: deflection_mm(tool.stick_out_mm) / deflection_mm(stick_out_mm),
    }
}

fn setting(
    tool: &Tool,
    (range, cuts): (ToolLengths, bool),
    reached: Option<ReachedLengths>,
    proposal: Proposal,
) -> ToolSetting {
    let holder_mm = tool.gauge_length_mm - tool.stick_out_mm;
    let limits = stick_out_limits(tool);
    ToolSetting {
        range,
        stick_out_mm: tool.stick_out_mm,
        least_mm: holder_mm + limits.least_mm,
        least_by: limits.least_by.name().to_owned(),
        grip_mm: limits.most_mm.map(|stick_out_mm| holder_mm + stick_out_mm),
        cuts,
        reached,
        proposal,
    }
}

/// Deflection of the tip under a force across the axis: the tool as a round bar of one diameter,
/// held rigidly at the holder face and free at the tip.
///
/// What it leaves out: the flutes' smaller section, a neck, and the give of shank in holder, holder
/// in spindle, and spindle. The ratio of two settings does not depend on diameter and modulus; it is
/// the cube of the ratio of the stick-outs.
///
/// # Units
/// Newtons, millimetres, gigapascals.
///
/// # Source
/// Cantilever with a load at its end, `F L^3 / (3 E I)` with `I = pi d^4 / 64` (handbook formulae,
/// from memory).
#[must_use]
pub fn deflection_mm(force_n: f64, free_mm: f64, diameter_mm: f64, modulus_gpa: f64) -> f64 {
    let inertia_mm4 = std::f64::consts::PI * diameter_mm.powi(4) / 64.0;
    let modulus_n_per_mm2 = modulus_gpa * 1e3;
    force_n * free_mm.powi(3) / (3.0 * modulus_n_per_mm2 * inertia_mm4)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn range(shortest_mm: Option<f64>, longest_mm: Option<f64>) -> ToolLengths {
        ToolLengths {
            tool: 1,
            name: String::new(),
            set_mm: 100.0,
            shortest_mm,
            shortest_by: None,
            longest_mm,
            longest_by: None,
        }
    }

    #[test]
    fn a_bar_bends_as_the_handbooks_say() {
        // 100 N, 60 mm free, 10 mm diameter, 600 GPa: 0.02445 mm.
        approx::assert_abs_diff_eq!(
            deflection_mm(100.0, 60.0, 10.0, 600.0),
            0.02445,
            epsilon = 5e-6
        );
        let ratio = deflection_mm(1.0, 60.0, 8.0, 210.0) / deflection_mm(1.0, 30.0, 8.0, 210.0);
        approx::assert_relative_eq!(ratio, 8.0, max_relative = 1e-12);
    }

    #[test]
    fn the_shortest_step_lies_in_the_range() {
        let step = |low, high, step_mm| shortest_step(&range(Some(low), Some(high)), step_mm);
        assert_eq!(step(126.01, 143.0, 1.0), Ok(127.0));
        assert_eq!(step(126.0, 126.0, 1.0), Ok(126.0));
        assert_eq!(step(126.01, 126.4, 0.5), Err(Proposal::NoStepInRange));
        assert_eq!(step(126.01, 126.5, 0.5), Ok(126.5));
        assert_eq!(step(130.64, 130.0, 1.0), Err(Proposal::NoLengthWorks));
        for (low, high) in [(None, Some(1.0)), (Some(1.0), None)] {
            let none = shortest_step(&range(low, high), 1.0);
            assert_eq!(none, Err(Proposal::NoLengthWorks));
        }
    }

    #[test]
    fn decimal_ends_are_not_missed_by_rounding() {
        for hundredths in 10_000..10_400_u32 {
            let end_mm = f64::from(hundredths) * 0.01;
            let length_mm = shortest_step(&range(Some(end_mm), Some(end_mm)), 0.01).unwrap();
            assert!((length_mm - end_mm).abs() < 1e-9, "{length_mm} {end_mm}");
        }
    }
}
