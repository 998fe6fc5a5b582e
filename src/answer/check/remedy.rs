//! Remedies: the smallest change of one number that mends a trouble, tried before it is told.

use super::CheckError;
use super::change::{pitch_of, recut, retooled, rounded, slimmer, with_pitch, with_table_at};
use super::measure::Hint;
use super::model::{Change, Element, Phase, Remedy, TroubleKind};
use super::plan::index_position;
use super::run::halt;
use super::search::least_steps;
use super::sweep::{Misfit, motion_of};
use super::trial::Trial;
use super::violation::{Other, Site, Violation};
use crate::answer::retool::{
    stick_out_limits, widest_mm, with_gauge_length, with_holder_diameter, with_stick_out,
};
use crate::setup::model::{Cut, IndexAt, Setup};
use crate::value::{Vec3, translation};
use rayon::prelude::*;

/// Remedies are told, and tried, in steps of this.
const STEP_MM: f64 = 0.01;

/// No change of more than this is looked for.
const FARTHEST_MM: f64 = 300.0;

/// How many remedies are told for one trouble.
const TOLD: usize = 4;

/// A change of one number: from a start value, up or down in steps.
struct Knob<'k> {
    start_mm: f64,
    upward: bool,
    limit_mm: f64,
    /// The changed setup at a value; `None` where the change makes no sense.
    turn: Box<dyn Fn(f64) -> Option<Setup> + Send + Sync + 'k>,
    /// What to tell.
    tell: Box<dyn Fn(f64) -> Change + Send + Sync + 'k>,
    /// Where else it must do no harm.
    scope: Vec<Site>,
}

impl Knob<'_> {
    /// The value after some steps, on the grid and on the safe side of the start.
    fn value_mm(&self, steps: u64) -> f64 {
        let grid = self.start_mm / STEP_MM;
        if self.upward {
            ((grid - 1e-6).ceil() + steps as f64) * STEP_MM
        } else {
            ((grid + 1e-6).floor() - steps as f64) * STEP_MM
        }
    }

    fn limit_steps(&self) -> u64 {
        let room_mm = (self.limit_mm - self.start_mm).abs().min(FARTHEST_MM);
        (room_mm / STEP_MM) as u64
    }
}

impl Trial<'_> {
    /// Remedies of a trouble, the smallest change first.
    pub(super) fn remedies(&self, group: &[&Violation]) -> Result<Vec<Remedy>, CheckError> {
        let tried = self.knobs(group).into_par_iter();
        let tried = tried.map(|knob| self.remedy(&knob, group));
        let tried = tried.collect::<Result<Vec<_>, CheckError>>()?;
        let mut found: Vec<(f64, Remedy)> = tried.into_iter().flatten().collect();
        found.sort_by(|a, b| a.0.total_cmp(&b.0));
        let found = found.into_iter().map(|(_, remedy)| remedy);
        Ok(found.take(TOLD).collect())
    }

    /// The smallest change by one knob, with its size.
    fn remedy(
        &self,
        knob: &Knob<'_>,
        group: &[&Violation],
    ) -> Result<Option<(f64, Remedy)>, CheckError> {
        let setup_at = |steps| (knob.turn)(rounded(knob.value_mm(steps)));
        let (mut steps, mut place) = (0, 0);
        for round in 0.. {
            let hint = Hint::default();
            let more = least_steps(knob.limit_steps().saturating_sub(steps), |more| {
                halt(self.judge.stop)?;
                setup_at(steps + more).map_or(Ok(false), |setup| {
                    self.mends_at(&setup, group, place, &hint)
                })
            })?;
            let (Some(more), true) = (more, round <= group.len()) else {
                return Ok(None);
            };
            steps += more;
            let Some(setup) = setup_at(steps) else {
                return Ok(None);
            };
            // One place at a time is quickly searched; the next is one that is still not mended.
            match self.not_mended(&setup, group)? {
                Some(next) => place = next,
                None => break,
            }
        }
        let value_mm = rounded(knob.value_mm(steps));
        let Some(setup) = (knob.turn)(value_mm) else {
            return Ok(None);
        };
        // Halving may have ended at a place that does harm elsewhere.
        if !self.harmless(&setup, group, &knob.scope)? {
            return Ok(None);
        }
        let remedy = Remedy {
            change: (knob.tell)(value_mm),
            gap_after: self.gap_after(&setup, group)?,
        };
        Ok(Some(((value_mm - knob.start_mm).abs(), remedy)))
    }

    fn knobs(&self, group: &[&Violation]) -> Vec<Knob<'_>> {
        let violation = group[0];
        match violation.site {
            Site::Cut(job) => {
                let cut = &self.judge.scene.setup.cuts[job.cut];
                match violation.kind {
                    TroubleKind::ShortOfTravel => self.travel_knobs(group, cut),
                    TroubleKind::CutterDoesNotFit => self.fit_knobs(group, job.cut),
                    TroubleKind::Gouge => vec![self.depth_knob(job.cut)],
                    TroubleKind::Clash | TroubleKind::Close | TroubleKind::RapidInStock => {
                        self.gap_knobs(group, job.cut)
                    }
                    _ => Vec::new(),
                }
            }
            Site::Move(step) => self.move_knobs(group, step.tool),
            _ => Vec::new(),
        }
    }

    /// For a gap in a cut: stick-out, holder diameter, pitch, planes.
    fn gap_knobs(&self, group: &[&Violation], cut: usize) -> Vec<Knob<'_>> {
        let violation = group[0];
        let tool = self.judge.scene.setup.cuts[cut].tool;
        let mut knobs = Vec::new();
        if matches!(
            violation.element,
            Some(Element::Shank | Element::Holder | Element::Nose | Element::Head)
        ) {
            knobs.extend(self.stick_out_knob(tool));
        }
        if violation.element == Some(Element::Holder) {
            knobs.push(self.holder_knob(tool));
        }
        if matches!(violation.other, Some(Other::Part | Other::Clamp(_))) {
            knobs.extend(self.pitch_knob(group));
        }
        if violation.phase == Some(Phase::Approach) && violation.other == Some(Other::OwnPart) {
            knobs.push(self.feed_plane_knob(cut, group));
        }
        knobs
    }

    fn stick_out_knob(&self, tool: usize) -> Option<Knob<'_>> {
        let setup = self.judge.scene.setup;
        let current = &setup.tools[tool];
        let longest_mm = stick_out_limits(current).most_mm.unwrap_or(f64::INFINITY);
        (longest_mm > current.stick_out_mm).then(|| Knob {
            start_mm: current.stick_out_mm,
            upward: true,
            limit_mm: longest_mm,
            turn: Box::new(move |value_mm| {
                Some(retooled(setup, tool, with_stick_out(current, value_mm)))
            }),
            tell: Box::new(move |value_mm| Change::StickOutAtLeast {
                tool: current.number,
                stick_out_mm: value_mm,
                gauge_length_mm: rounded(current.gauge_length_mm + value_mm - current.stick_out_mm),
            }),
            scope: self.sites_of_tool(tool),
        })
    }

    fn holder_knob(&self, tool: usize) -> Knob<'_> {
        let setup = self.judge.scene.setup;
        let current = &setup.tools[tool];
        Knob {
            start_mm: widest_mm(&current.holder),
            upward: false,
            limit_mm: current.shank_diameter_mm,
            turn: Box::new(move |value_mm| {
                Some(retooled(
                    setup,
                    tool,
                    with_holder_diameter(current, value_mm),
                ))
            }),
            tell: Box::new(move |value_mm| Change::HolderDiameterAtMost {
                tool: current.number,
                diameter_mm: value_mm,
            }),
            scope: self.sites_of_tool(tool),
        }
    }

    fn pitch_knob(&self, group: &[&Violation]) -> Option<Knob<'_>> {
        let setup = self.judge.scene.setup;
        let Site::Cut(job) = group[0].site else {
            return None;
        };
        let seat_group = setup.seats[job.seat].group.clone();
        let pitch_mm = pitch_of(setup, &seat_group)?;
        let name = seat_group.clone();
        Some(Knob {
            start_mm: pitch_mm,
            upward: true,
            limit_mm: pitch_mm + FARTHEST_MM,
            turn: Box::new(move |value_mm| with_pitch(setup, &seat_group, value_mm - pitch_mm)),
            tell: Box::new(move |value_mm| Change::PitchAtLeast {
                group: name.clone(),
                pitch_mm: value_mm,
            }),
            scope: self.all_sites(),
        })
    }

    fn feed_plane_knob(&self, cut: usize, group: &[&Violation]) -> Knob<'_> {
        let setup = self.judge.scene.setup;
        let planes = match group[0].site {
            Site::Cut(job) => self.judged.planes_of(&job),
            _ => None,
        };
        let start_mm = planes.map_or(0.0, |planes| planes.feed_mm);
        Knob {
            start_mm,
            upward: true,
            limit_mm: start_mm + FARTHEST_MM,
            turn: Box::new(move |value_mm| {
                Some(recut(setup, cut, |cut| cut.feed_plane_mm = Some(value_mm)))
            }),
            tell: Box::new(move |value_mm| Change::FeedPlaneAtLeast {
                cut: setup.cuts[cut].name.clone(),
                height_mm: value_mm,
            }),
            scope: self.sites_of_cut(cut),
        }
    }

    fn depth_knob(&self, cut: usize) -> Knob<'_> {
        let setup = self.judge.scene.setup;
        Knob {
            start_mm: 0.0,
            upward: true,
            limit_mm: FARTHEST_MM,
            turn: Box::new(move |value_mm| {
                Some(recut(setup, cut, |cut| {
                    cut.feature.part_from_feature *= translation(Vec3::z() * value_mm);
                }))
            }),
            tell: Box::new(move |value_mm| Change::DepthAtMost {
                cut: setup.cuts[cut].name.clone(),
                less_mm: value_mm,
            }),
            scope: self.sites_of_cut(cut),
        }
    }

    /// For missing travel: another gauge length, or the table elsewhere.
    fn travel_knobs(&self, group: &[&Violation], cut: &Cut) -> Vec<Knob<'_>> {
        let setup = self.judge.scene.setup;
        let tool = cut.tool;
        let current = &setup.tools[tool];
        let along = self
            .judge
            .scene
            .kinematics
            .positions_per_shift(self.judge.scene.kinematics.spindle());
        let Some(axis) = group[0].axis else {
            return Vec::new();
        };
        let mut knobs = Vec::new();
        if along[axis].abs() > 0.5 {
            let low_end = self.short_at_low_end(group, axis);
            let longer = low_end == (along[axis] > 0.0);
            let limits = stick_out_limits(current);
            let room_mm = if longer {
                FARTHEST_MM
            } else {
                limits.least_mm - current.stick_out_mm
            };
            let number = current.number;
            let reset = move |value_mm: f64| {
                Some(retooled(setup, tool, with_gauge_length(current, value_mm)))
            };
            let cutter_mm = limits.most_mm.map(|most_mm| most_mm - current.stick_out_mm);
            let by_cutter_mm = cutter_mm.map_or(f64::INFINITY, |mm| current.gauge_length_mm + mm);
            knobs.push(Knob {
                start_mm: current.gauge_length_mm,
                upward: longer,
                limit_mm: current.gauge_length_mm + room_mm,
                turn: Box::new(reset),
                tell: Box::new(move |gauge_length_mm| {
                    if longer {
                        Change::GaugeLengthAtLeast {
                            tool: number,
                            gauge_length_mm,
                            longer_holder: gauge_length_mm > by_cutter_mm,
                        }
                    } else {
                        Change::GaugeLengthAtMost {
                            tool: number,
                            gauge_length_mm,
                        }
                    }
                }),
                scope: self.sites_of_tool(tool),
            });
        }
        knobs.push(self.shift_knob(group, axis));
        knobs
    }

    fn short_at_low_end(&self, group: &[&Violation], axis: usize) -> bool {
        let name = &self.judge.scene.setup.machine.axes[axis].name;
        let Site::Cut(job) = group[0].site else {
            return true;
        };
        let position = self.judged.plan.jobs.iter().position(|other| *other == job);
        let travel = position.map(|position| &self.judged.cuts[position].travel);
        let used = travel.and_then(|travel| travel.iter().find(|used| used.axis == *name));
        used.is_none_or(|used| used.low_mm < used.limit_low_mm)
    }

    /// The whole table with all that stands on it, shifted along an axis.
    fn shift_knob(&self, group: &[&Violation], axis: usize) -> Knob<'_> {
        let setup = self.judge.scene.setup;
        let name = setup.machine.axes[axis].name.clone();
        let sign = if self.short_at_low_end(group, axis) {
            1.0
        } else {
            -1.0
        };
        let direction = setup.machine.axes[axis].direction;
        Knob {
            start_mm: 0.0,
            upward: true,
            limit_mm: FARTHEST_MM,
            turn: Box::new(move |value_mm| {
                Some(with_table_at(setup, direction * (sign * value_mm)))
            }),
            tell: Box::new(move |value_mm| Change::ShiftWork {
                axis: name.clone(),
                shift_mm: sign * value_mm,
            }),
            scope: self.all_sites(),
        }
    }

    fn fit_knobs(&self, group: &[&Violation], cut_index: usize) -> Vec<Knob<'_>> {
        let setup = self.judge.scene.setup;
        let cut = &setup.cuts[cut_index];
        let tool = &setup.tools[cut.tool];
        let Site::Cut(job) = group[0].site else {
            return Vec::new();
        };
        let Some(planes) = self.judged.planes_of(&job) else {
            return Vec::new();
        };
        let clearance_mm = setup.wanted.flutes.rest_mm;
        let largest = motion_of(cut, tool, planes, clearance_mm)
            .misfits
            .into_iter()
            .find_map(|misfit| match misfit {
                Misfit::CutterTooLarge { diameter_mm, .. } => Some(diameter_mm),
                _ => None,
            });
        let Some(largest_mm) = largest else {
            return Vec::new();
        };
        let number = tool.number;
        vec![Knob {
            start_mm: largest_mm + STEP_MM,
            upward: false,
            limit_mm: 0.0,
            turn: Box::new(move |value_mm| {
                let slimmer = slimmer(tool, value_mm)?;
                Some(retooled(setup, cut.tool, slimmer))
            }),
            tell: Box::new(move |diameter_mm| Change::CutterDiameterAtMost {
                tool: number,
                diameter_mm,
            }),
            scope: self.sites_of_tool(cut.tool),
        }]
    }

    /// For an index move: axes elsewhere, or a shorter tool.
    fn move_knobs(&self, group: &[&Violation], tool_index: usize) -> Vec<Knob<'_>> {
        let setup = self.judge.scene.setup;
        let mut knobs = Vec::new();
        for axis in 0..3 {
            for upward in [true, false] {
                knobs.push(self.axis_knob(group, axis, upward));
            }
        }
        let tool = &setup.tools[tool_index];
        let number = tool.number;
        let shortest_mm = stick_out_limits(tool).least_mm;
        knobs.push(Knob {
            start_mm: tool.gauge_length_mm,
            upward: false,
            limit_mm: tool.gauge_length_mm - (tool.stick_out_mm - shortest_mm).max(0.0),
            turn: Box::new(move |value_mm| {
                let stick_out_mm = tool.stick_out_mm + value_mm - tool.gauge_length_mm;
                Some(retooled(
                    setup,
                    tool_index,
                    with_stick_out(tool, stick_out_mm),
                ))
            }),
            tell: Box::new(move |gauge_length_mm| Change::GaugeLengthAtMost {
                tool: number,
                gauge_length_mm,
            }),
            scope: self.sites_of_tool(tool_index),
        });
        knobs
    }

    fn axis_knob(&self, group: &[&Violation], axis: usize, upward: bool) -> Knob<'_> {
        let setup = self.judge.scene.setup;
        let limits = &setup.machine.axes[axis];
        let ranges = group.iter().filter_map(|violation| match violation.site {
            Site::Move(step) => Some(self.judged.ranges_of(self.judge, &step)[axis]),
            _ => None,
        });
        let start_mm = match index_position(setup, axis) {
            Some(position_mm) => position_mm,
            None if upward => ranges
                .map(|range| range[1])
                .fold(f64::NEG_INFINITY, f64::max),
            None => ranges.map(|range| range[0]).fold(f64::INFINITY, f64::min),
        };
        let name = limits.name.clone();
        Knob {
            start_mm,
            upward,
            limit_mm: if upward {
                limits.high_mm
            } else {
                limits.low_mm
            },
            turn: Box::new(move |value_mm| {
                let mut changed = setup.clone();
                changed.machine.axes[axis].index = IndexAt::At(value_mm);
                Some(changed)
            }),
            tell: Box::new(move |position_mm| Change::IndexPose {
                axis: name.clone(),
                position_mm,
                at_least: upward,
            }),
            scope: self.move_sites(),
        }
    }
}
