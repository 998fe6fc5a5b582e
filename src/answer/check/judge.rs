//! Judges one cut at one seat and index: travel, fit, and every gap in every phase.

use super::known::{Before, KnownCut, Was};
use super::meant::{MeantContact, meant_contacts};
use super::measure::{Asked, Hint, Measurement, Mover, Standing, measure};
use super::model::{AxisUse, Element, Measured, Phase, TroubleKind, Verdict};
use super::moment::Moment;
use super::moves::AxisRanges;
use super::plan::CutJob;
use super::sweep::{CutMotion, Misfit, Planes, Sweep, motion_of};
use super::swing::{WorkReach, work_reach};
use super::violation::{Other, Site, Violation};
use crate::answer::scene::{Body, BodyId, Scene, ToolElement};
use crate::gap::{CannotAsk, Motion, Placed, Spread};
use crate::setup::model::{Cut, Wanted, WantedGap};
use crate::value::Pose;
use nalgebra::Point3;
use std::sync::atomic::AtomicBool;

/// How far up a default feed plane stands over the wanted gap, so that it is kept with room.
const FEED_PLANE_ROOM_MM: f64 = 1.0;

/// Judges cuts, index moves and tool changes of one setup.
#[derive(Debug)]
pub struct Judge<'s> {
    /// The setup as bodies.
    pub scene: &'s Scene<'s>,
    /// Carrier and clamps, in the carrier's frame.
    pub iron: Vec<Body>,
    /// Elements of each tool.
    pub elements: Vec<Vec<ToolElement>>,
    /// Top of each cut's part before the cut, above the feature's opening.
    pub part_top_mm: Vec<f64>,
    /// How far the work reaches about the rotary axis.
    pub reach: WorkReach,
    /// Contacts that are meant, with what lies outside their regions.
    pub contacts: Vec<MeantContact>,
    /// Width of the bracket of a turn.
    pub tolerance_mm: f64,
    /// Only whether wanted gaps are kept, not how large gaps are.
    pub decide_only: bool,
    /// Only these elements (empty: all).
    pub only: Vec<Element>,
    /// Only this pair in this phase.
    pub focus: Option<Focus>,
    /// The setup before a change: what was clear and has not come nearer is not judged again.
    pub before: Option<Before<'s>>,
    /// Where a question alike found its least gap.
    pub hint: Option<&'s Hint>,
    /// Work after which a question is left undecided.
    pub budget: Option<u64>,
    /// Set from outside to stop.
    pub stop: &'s AtomicBool,
}

/// A pair of bodies in a phase; nothing in it where only travel and fit are looked at.
#[derive(Debug, Clone, Copy)]
pub struct Focus {
    /// Phase.
    pub phase: Option<Phase>,
    /// The other body, as seen from the seat.
    pub other: Option<Other>,
    /// Of several such bodies only this one (the part that is cut counts in all its states).
    pub body: Option<BodyId>,
}

/// What was found about a cut at a seat.
#[derive(Debug, Clone, Default)]
pub struct CutJudgement {
    /// The least gap against what was wanted.
    pub least: Option<Measured>,
    /// Travel of every axis.
    pub travel: Vec<AxisUse>,
    /// Everything that is wrong.
    pub violations: Vec<Violation>,
    /// Where the axes may stand when the cut is done and the tool is back at the travel plane.
    pub left: Option<AxisRanges>,
    /// Planes above the opening.
    pub planes: Option<Planes>,
    /// Depth of one pass, where the depth of the cut needs more than one.
    pub pass_mm: Option<f64>,
    /// Difference of radii by which the shank follows its flutes, where it does.
    pub corridor_mm: Option<f64>,
    /// Depth of the thread that a tap cuts into the wall of its hole, where the model shows the
    /// hole before tapping.
    pub thread_mm: Option<f64>,
}

/// Wanted gap of an element.
#[must_use]
pub fn wanted_of(wanted: &Wanted, element: Element) -> WantedGap {
    match element {
        Element::Flutes => wanted.flutes,
        Element::Neck | Element::Shank => wanted.shank,
        Element::Holder => wanted.holder,
        Element::Nose => wanted.nose,
        Element::Head => wanted.head,
        Element::Work | Element::Bed => wanted.work,
    }
}

impl<'s> Judge<'s> {
    /// Prepares to judge a scene.
    ///
    /// # Errors
    /// As [`Scene::new`].
    pub fn new(
        scene: &'s Scene<'s>,
        tolerance_mm: f64,
        stop: &'s AtomicBool,
    ) -> Result<Self, CannotAsk> {
        let iron = scene.iron()?;
        let reach = work_reach(scene, &iron)?;
        let part_top_mm = scene
            .setup
            .cuts
            .iter()
            .map(|cut| part_top_mm(scene, cut))
            .collect();
        let tools = scene.setup.tools.iter();
        Ok(Self {
            scene,
            iron,
            elements: tools
                .map(|tool| scene.tool_elements(tool))
                .collect::<Result<_, _>>()?,
            part_top_mm,
            reach,
            contacts: meant_contacts(scene)?,
            tolerance_mm,
            decide_only: false,
            only: Vec::new(),
            focus: None,
            before: None,
            hint: None,
            budget: None,
            stop,
        })
    }

    /// Prepares to try a changed setup whose work group has the same form: only yes or no.
    ///
    /// # Errors
    /// As [`Scene::new`].
    pub fn trial<'t>(&self, scene: &'t Scene<'t>) -> Result<Judge<'t>, CannotAsk>
    where
        's: 't,
    {
        let tools = scene.setup.tools.iter();
        Ok(Judge {
            scene,
            iron: scene.iron()?,
            elements: tools
                .map(|tool| scene.tool_elements(tool))
                .collect::<Result<_, _>>()?,
            part_top_mm: self.part_top_mm.clone(),
            reach: self.reach.clone(),
            contacts: self.contacts.clone(),
            tolerance_mm: self.tolerance_mm,
            decide_only: true,
            only: Vec::new(),
            focus: None,
            before: None,
            hint: None,
            budget: None,
            stop: self.stop,
        })
    }
}

impl Judge<'_> {
    /// Judges a cut at a seat and index.
    ///
    /// # Errors
    /// A [`CannotAsk`] where the engine refuses a question; a checked setup has none.
    pub fn cut(&self, job: &CutJob) -> Result<CutJudgement, CannotAsk> {
        let setup = self.scene.setup;
        let mut judgement = CutJudgement::default();
        if setup.machine.rotary.sense.is_none() {
            let kind = TroubleKind::NoRotarySense;
            judgement
                .violations
                .push(Violation::plain(kind, Verdict::Unknown, Site::Cut(*job)));
            return Ok(judgement);
        }
        let Some(index_deg) = job.index_deg else {
            let kind = TroubleKind::FacingAway;
            judgement
                .violations
                .push(Violation::plain(kind, Verdict::Clash, Site::Cut(*job)));
            return Ok(judgement);
        };
        let Some(table_from_carrier) = self.table_from_carrier(index_deg) else {
            return Ok(judgement);
        };
        let others = self.other_parts(job)?;
        let own = self.own_parts(job)?;
        let moment = self.moment(job, table_from_carrier, &others, &own);
        let motion = self.motion(&moment, &mut judgement);
        self.fit(job, &motion, &mut judgement);
        self.travel(&moment, &motion, &mut judgement);
        let Some(stood) = self.stood_before(Site::Cut(*job)) else {
            self.gaps(&moment, &motion, &mut judgement, None)?;
            return Ok(judgement);
        };
        let judge = stood.before.judge;
        let (others, own) = (judge.other_parts(job)?, judge.own_parts(job)?);
        let known = judge.table_from_carrier(index_deg).map(|from_carrier| {
            let moment = judge.moment(job, from_carrier, &others, &own);
            let motion = judge.motion(&moment, &mut CutJudgement::default());
            KnownCut::new(moment, motion, &stood)
        });
        let known = known.filter(|known| known.is_like(&moment));
        self.gaps(&moment, &motion, &mut judgement, known.as_ref())?;
        Ok(judgement)
    }

    /// Where a cut leaves the axes, without a look at gaps.
    ///
    /// # Errors
    /// As [`Self::cut`].
    pub fn left_by(&self, job: &CutJob) -> Result<Option<AxisRanges>, CannotAsk> {
        let mut judgement = CutJudgement::default();
        let from_carrier = job.index_deg.and_then(|deg| self.table_from_carrier(deg));
        if let Some(table_from_carrier) = from_carrier {
            let own = self.own_parts(job)?;
            let moment = self.moment(job, table_from_carrier, &[], &own);
            let motion = self.motion(&moment, &mut judgement);
            self.travel(&moment, &motion, &mut judgement);
        }
        Ok(judgement.left)
    }

    fn table_from_carrier(&self, index_deg: f64) -> Option<Pose> {
        let carrier = &self.scene.setup.carrier;
        self.scene.kinematics.table_from_carrier(carrier, index_deg)
    }

    /// The poses of a cut between its planes, and passes.
    pub(super) fn motion(&self, moment: &Moment<'_>, judgement: &mut CutJudgement) -> CutMotion {
        let planes = self.planes(moment);
        let wanted_mm = self.scene.setup.wanted.flutes.rest_mm;
        let motion = motion_of(moment.cut, moment.tool, planes, wanted_mm);
        judgement.planes = Some(planes);
        let top_mm = self.part_top_mm[moment.job.cut];
        judgement.pass_mm = motion
            .pass_mm
            .filter(|pass_mm| motion.depth_mm + top_mm > *pass_mm + 1e-9);
        motion
    }

    /// The planes as given, or by default: feed over the part, travel over all that turns.
    pub(super) fn planes(&self, moment: &Moment<'_>) -> Planes {
        let wanted = &self.scene.setup.wanted;
        let top_mm = self.part_top_mm[moment.job.cut].max(0.0);
        let chord_mm = moment.own_before.body.chord_allowance_mm;
        let feed_mm = moment
            .cut
            .feed_plane_mm
            .unwrap_or(top_mm + chord_mm + wanted.flutes.rest_mm + FEED_PLANE_ROOM_MM);
        let rotary = &self.scene.setup.machine.rotary;
        let spindle = self.scene.kinematics.spindle();
        let opening = Point3::from(moment.table_from_feature.translation.vector);
        let opening_mm = (opening - rotary.centre).dot(&spindle);
        let over_all_mm = self.reach.along_spindle_mm - opening_mm + wanted.flutes.index_mm;
        let travel_mm = moment
            .cut
            .travel_plane_mm
            .unwrap_or(over_all_mm)
            .max(feed_mm);
        Planes { feed_mm, travel_mm }
    }

    fn fit(&self, job: &CutJob, motion: &CutMotion, judgement: &mut CutJudgement) {
        for misfit in &motion.misfits {
            let (kind, amount_mm) = match misfit {
                Misfit::CutterTooLarge { excess_mm, .. } => {
                    (TroubleKind::CutterDoesNotFit, Some(*excess_mm))
                }
                Misfit::NoPath => (TroubleKind::CutterDoesNotFit, None),
                Misfit::NoWayIn => (TroubleKind::NoWayIn, None),
                Misfit::EdgesTooShort { pass_mm, edges_mm } => {
                    (TroubleKind::EdgesTooShort, Some(pass_mm - edges_mm))
                }
            };
            let mut violation = Violation::plain(kind, Verdict::Clash, Site::Cut(*job));
            violation.amount_mm = amount_mm;
            judgement.violations.push(violation);
        }
    }

    fn gaps(
        &self,
        moment: &Moment<'_>,
        motion: &CutMotion,
        judgement: &mut CutJudgement,
        known: Option<&KnownCut<'_>>,
    ) -> Result<(), CannotAsk> {
        let mut measurement = Measurement::default();
        let seat = Some(moment.job.seat);
        let own = &moment.own_before;
        let around = moment.around.iter().filter(|s| self.regards(s, seat));
        let mut with_own: Vec<Standing<'_>> = around.cloned().collect();
        let around_count = with_own.len();
        with_own.extend(self.regards(own, seat).then(|| own.clone()));
        for (index, sweep) in motion.sweeps.iter().enumerate() {
            if !self.looks_at(sweep.phase) {
                continue;
            }
            for element in self.elements[moment.cut.tool]
                .iter()
                .filter(|e| self.asks(e.element))
            {
                let asked = Asked {
                    spare_mm: measurement.spare_mm(),
                    ..self.asked(element.element, sweep.phase)
                };
                let (mover, swept) = self.swept(moment, sweep, element);
                let was = known.and_then(|known| known.was(index, sweep, element));
                let free_of_own =
                    sweep.phase != Phase::Cut || !self.may_enter(moment, element.element);
                let bodies = if free_of_own {
                    &with_own
                } else {
                    &with_own[..around_count]
                };
                let doubtful = Was::in_doubt(was.as_ref(), &mover, &swept, bodies);
                measurement.absorb(measure(&mover, &doubtful, &swept, &asked)?);
                let own_is_known = || match (known, &was) {
                    (Some(known), Some(was)) => known.own_is_same(was, moment, &mover, &swept),
                    _ => false,
                };
                if !free_of_own && self.regards(own, seat) && !own_is_known() {
                    self.own_contact(moment, sweep, &mover, &swept, judgement)?;
                }
            }
        }
        self.base_gaps(moment, motion, &mut measurement, known)?;
        if !moment.own_has_stock && !self.decide_only {
            let site = Site::Cut(moment.job);
            judgement.violations.push(Violation::plain(
                TroubleKind::NoStock,
                Verdict::Unknown,
                site,
            ));
        }
        self.close_up(moment, measurement, judgement);
        Ok(())
    }

    /// Adds what was measured to the judgement, with part coordinates.
    fn close_up(
        &self,
        moment: &Moment<'_>,
        measurement: Measurement,
        judgement: &mut CutJudgement,
    ) {
        // What may enter its own part alone was told before, where only that is asked.
        let least = measurement
            .least
            .map(|found| moment.in_part(found.measured));
        judgement.least = least.or(judgement.least.take());
        for found in measurement.violations {
            let measured = moment.in_part(found.measured);
            judgement
                .violations
                .push(self.gap_violation(moment, measured, found.body));
        }
    }

    pub(super) fn asks(&self, element: Element) -> bool {
        self.only.is_empty() || self.only.contains(&element)
    }

    /// Whether a body is one that is asked about, seen from a seat.
    pub(super) fn regards(&self, standing: &Standing<'_>, seat: Option<usize>) -> bool {
        self.focus.is_none_or(|focus| {
            let other = Other::of(standing.body.id, seat, self.scene.setup);
            let this =
                other == Other::OwnPart || focus.body.is_none_or(|id| id == standing.body.id);
            focus.other == Some(other) && this
        })
    }

    /// Whether a phase is one that is asked about.
    pub(super) fn looks_at(&self, phase: Phase) -> bool {
        self.focus.is_none_or(|focus| focus.phase == Some(phase))
    }

    /// The question for an element at rest or along lines.
    pub(super) fn asked(&self, element: Element, phase: Phase) -> Asked<'_> {
        let wanted = wanted_of(&self.scene.setup.wanted, element);
        let wanted_mm = match phase {
            Phase::IndexMove => wanted.index_mm,
            _ => wanted.rest_mm,
        };
        Asked {
            wanted_mm,
            phase,
            tolerance_mm: self.tolerance_mm,
            decide_only: self.decide_only,
            spare_mm: f64::INFINITY,
            hint: self.hint,
            budget: self.budget,
            stop: self.stop,
        }
    }

    /// An element at the first tip of a sweep, and the sweep from there.
    pub(super) fn swept<'e>(
        &self,
        moment: &Moment<'_>,
        sweep: &Sweep,
        element: &'e ToolElement,
    ) -> (Mover<'e>, Motion) {
        let (table_from_tool, motion) = self.table_motion(moment, sweep);
        let mover = Mover {
            element: element.element,
            name: &element.name,
            placed: Placed {
                shape: element.shape.clone(),
                common_from_body: table_from_tool * element.tool_from_body,
            },
            allowance_mm: element.chord_allowance_mm + sweep.allowance_mm,
            tip: Some(Point3::from(table_from_tool.translation.vector)),
        };
        (mover, motion)
    }

    fn table_motion(&self, moment: &Moment<'_>, sweep: &Sweep) -> (Pose, Motion) {
        let tips: Vec<Point3<f64>> = sweep
            .tips_mm
            .iter()
            .map(|tip| moment.table_from_feature * Point3::from(*tip))
            .collect();
        let first = tips.first().copied().unwrap_or_else(Point3::origin);
        let spread = Spread {
            offsets_mm: tips.iter().map(|tip| tip - first).collect(),
            disc_radius_mm: sweep.disc_mm,
            disc_normal: self.scene.kinematics.spindle(),
        };
        (
            self.scene.kinematics.table_from_tool(first),
            Motion { spread, turn: None },
        )
    }

    pub(super) fn gap_violation(
        &self,
        moment: &Moment<'_>,
        measured: Measured,
        body: BodyId,
    ) -> Violation {
        let setup = self.scene.setup;
        let other = Other::of(body, Some(moment.job.seat), setup);
        let flutes_in_stock = measured.element == Element::Flutes && other == Other::OwnPart;
        let kind = match measured.verdict {
            Verdict::Unknown => TroubleKind::Undecided,
            Verdict::Clash if flutes_in_stock => TroubleKind::RapidInStock,
            Verdict::Clash => TroubleKind::Clash,
            Verdict::Close | Verdict::Clear => TroubleKind::Close,
        };
        let mut violation = Violation::plain(kind, measured.verdict, Site::Cut(moment.job));
        violation.phase = Some(measured.phase);
        violation.element = Some(measured.element);
        violation.other = Some(other);
        violation.body = Some(body);
        violation.measured = Some(measured);
        violation
    }
}

/// Top of the part before the cut, above the feature's opening.
fn part_top_mm(scene: &Scene<'_>, cut: &Cut) -> f64 {
    let feature_from_part = cut.feature.part_from_feature.inverse();
    let mesh = &scene.setup.parts[cut.part].states[cut.before].mesh;
    let heights = mesh
        .vertices
        .iter()
        .map(|vertex| (feature_from_part * vertex).z);
    heights.fold(f64::NEG_INFINITY, f64::max)
}
