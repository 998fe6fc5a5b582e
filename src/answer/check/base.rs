//! Bodies fixed to the machine, against tool group, work group and bed as the axes move them.

use super::judge::Judge;
use super::known::{KnownCut, KnownMove, Was};
use super::measure::{Measurement, Mover, Standing, measure};
use super::model::{Element, Phase};
use super::moment::Moment;
use super::moves::Group;
use super::sweep::{CutMotion, Sweep};
use crate::answer::scene::{BodyId, ToolElement};
use crate::gap::{Ask, CannotAsk, Decision, Motion, Placed, Spread, at_least};
use crate::value::{Pose, Vec3};
use nalgebra::Point3;

/// Sides of the polygon that stands for a disc of tip positions where an axis moves the work.
const DISC_SIDES: usize = 16;

impl Judge<'_> {
    /// Every pair with a base body over the sweeps of a cut.
    pub(super) fn base_gaps(
        &self,
        moment: &Moment<'_>,
        motion: &CutMotion,
        measurement: &mut Measurement,
        known: Option<&KnownCut<'_>>,
    ) -> Result<(), CannotAsk> {
        if self.scene.base.is_empty() {
            return Ok(());
        }
        for (index, sweep) in motion.sweeps.iter().enumerate() {
            if !self.looks_at(sweep.phase) {
                continue;
            }
            let tips = self.tips_round(moment, sweep);
            let group = Group {
                tool: moment.cut.tool,
                tips: &tips,
                phase: sweep.phase,
            };
            let was = known.and_then(|known| known.base(index, sweep));
            let allowance_mm = sweep.allowance_mm;
            measurement.absorb(self.tool_to_base(&group, allowance_mm, was.as_ref())?);
            measurement.absorb(self.table_to_base(moment, &group, was.as_ref())?);
        }
        Ok(())
    }

    /// The tool group against base, over the hull of some tip positions of the table frame.
    pub(super) fn tool_to_base(
        &self,
        group: &Group<'_>,
        path_allowance_mm: f64,
        known: Option<&KnownMove<'_>>,
    ) -> Result<Measurement, CannotAsk> {
        let mut measurement = Measurement::default();
        if self.scene.base.is_empty() || !self.looks_at(group.phase) {
            return Ok(measurement);
        }
        let mut bases = self.base_standing();
        bases.retain(|standing| self.regards(standing, None));
        for (index, element) in self.elements[group.tool].iter().enumerate() {
            if !self.asks(element.element) {
                continue;
            }
            let (mut mover, swept) = self.element_in_machine(element, group.tool, group.tips);
            mover.allowance_mm += path_allowance_mm;
            let was = known.and_then(|known| {
                let mut was = known.was_in_machine(group.tool, index, element)?;
                was.mover.allowance_mm += path_allowance_mm;
                Some(was)
            });
            let doubtful = Was::in_doubt(was.as_ref(), &mover, &swept, &bases);
            let asked = self.asked(element.element, group.phase);
            measurement.absorb(measure(&mover, &doubtful, &swept, &asked)?);
        }
        Ok(measurement)
    }

    /// An element in machine coordinates, spread over the hull of some tips.
    pub(super) fn element_in_machine<'e>(
        &self,
        element: &'e ToolElement,
        tool: usize,
        tips: &[Point3<f64>],
    ) -> (Mover<'e>, Motion) {
        let kinematics = &self.scene.kinematics;
        let length_mm = self.scene.setup.tools[tool].gauge_length_mm;
        let at_zero = kinematics.tip([0.0; 3], length_mm);
        let in_machine = |tip: &Point3<f64>| {
            let shift_mm = kinematics.shift_mm(*tip, length_mm);
            (at_zero + kinematics.machine_shift_of_tool(shift_mm)).coords
        };
        let shifts: Vec<Vec3> = tips.iter().map(in_machine).collect();
        let machine_from_tool = kinematics.table_from_tool(Point3::origin());
        let mover = Mover {
            element: element.element,
            name: &element.name,
            placed: Placed {
                shape: element.shape.clone(),
                common_from_body: machine_from_tool * element.tool_from_body,
            },
            allowance_mm: element.chord_allowance_mm,
            tip: Some(Point3::origin()),
        };
        let motion = Motion {
            spread: spread_of(&shifts),
            turn: None,
        };
        (mover, motion)
    }

    /// Base bodies as they stand.
    pub(super) fn base_standing(&self) -> Vec<Standing<'_>> {
        self.scene
            .base
            .iter()
            .map(|body| Standing::new(body, &Pose::identity()))
            .collect()
    }

    /// Work and bed, moved by the axes that carry the table, against base.
    fn table_to_base(
        &self,
        moment: &Moment<'_>,
        group: &Group<'_>,
        known: Option<&KnownMove<'_>>,
    ) -> Result<Measurement, CannotAsk> {
        let mut measurement = Measurement::default();
        if !self.asks(Element::Work) && !self.asks(Element::Bed) {
            return Ok(measurement);
        }
        let swept = self.table_in_machine(group.tool, group.tips);
        let old_swept = known.map(|known| known.judge().table_in_machine(group.tool, &known.tips));
        let mut bases = self.base_standing();
        bases.retain(|standing| self.regards(standing, None));
        let own = std::iter::once(&moment.own_before);
        let on_table: Vec<Mover<'_>> = moment.around.iter().chain(own).map(on_table).collect();
        if self.decide_only && self.all_apart(&on_table, &bases, &swept, group.phase)? {
            return Ok(measurement);
        }
        for (index, mover) in on_table.iter().enumerate() {
            if !self.asks(mover.element) {
                continue;
            }
            let was = known
                .zip(old_swept.as_ref())
                .and_then(|(known, old_swept)| known.was_on_table(index, old_swept));
            let doubtful = Was::in_doubt(was.as_ref(), mover, &swept, &bases);
            let asked = self.asked(mover.element, group.phase);
            measurement.absorb(measure(mover, &doubtful, &swept, &asked)?);
        }
        Ok(measurement)
    }

    /// Whether one question proves that all movers keep their wanted gaps, the largest of them and of
    /// the chord allowances taken for all.
    fn all_apart(
        &self,
        movers: &[Mover<'_>],
        bodies: &[Standing<'_>],
        motion: &Motion,
        phase: Phase,
    ) -> Result<bool, CannotAsk> {
        let wanted = movers
            .iter()
            .map(|mover| self.asked(mover.element, phase).wanted_mm);
        let own = movers.iter().map(|mover| mover.allowance_mm);
        let others = bodies
            .iter()
            .map(|standing| standing.body.chord_allowance_mm);
        let greatest = |list: &mut dyn Iterator<Item = f64>| list.fold(0.0, f64::max);
        let enough_mm = greatest(&mut wanted.into_iter())
            + greatest(&mut own.into_iter())
            + greatest(&mut others.into_iter());
        let placed = |mover: &Mover<'_>| mover.placed.clone();
        let movers: Vec<Placed> = movers.iter().map(placed).collect();
        let bodies: Vec<Placed> = bodies
            .iter()
            .map(|standing| standing.placed.clone())
            .collect();
        let ask = Ask {
            stop: Some(self.stop),
            ..Ask::default()
        };
        let decision = at_least(&movers, &bodies, motion, enough_mm, &ask)?;
        Ok(decision == Decision::Yes)
    }

    /// How the table goes in the machine when the tip goes over the hull of some tips.
    fn table_in_machine(&self, tool: usize, tips: &[Point3<f64>]) -> Motion {
        let length_mm = self.scene.setup.tools[tool].gauge_length_mm;
        let kinematics = &self.scene.kinematics;
        let shift_of = |tip: &Point3<f64>| {
            kinematics.machine_shift_of_table(kinematics.shift_mm(*tip, length_mm))
        };
        let shifts: Vec<Vec3> = tips.iter().map(shift_of).collect();
        Motion {
            spread: spread_of(&shifts),
            turn: None,
        }
    }

    /// Tips of a sweep in the table frame, its disc replaced by a polygon about it.
    pub(super) fn tips_round(&self, moment: &Moment<'_>, sweep: &Sweep) -> Vec<Point3<f64>> {
        let in_table = |tip: &Vec3| moment.table_from_feature * Point3::from(*tip);
        if sweep.disc_mm <= 0.0 {
            return sweep.tips_mm.iter().map(in_table).collect();
        }
        let outer_mm = sweep.disc_mm / (std::f64::consts::PI / DISC_SIDES as f64).cos();
        let frame = self.scene.kinematics.table_from_tool(Point3::origin());
        let around = (0..DISC_SIDES).map(|side| {
            let (sin, cos) = (std::f64::consts::TAU * side as f64 / DISC_SIDES as f64).sin_cos();
            frame * Vec3::new(outer_mm * cos, outer_mm * sin, 0.0)
        });
        let around: Vec<Vec3> = around.collect();
        let spread = |tip: Point3<f64>| around.iter().map(move |step| tip + step);
        sweep
            .tips_mm
            .iter()
            .map(in_table)
            .flat_map(spread)
            .collect()
    }
}

/// A body of work or bed, as what moves against base.
pub(super) fn on_table<'b>(standing: &Standing<'b>) -> Mover<'b> {
    let is_bed = matches!(standing.body.id, BodyId::Bed(_));
    Mover {
        element: if is_bed { Element::Bed } else { Element::Work },
        name: &standing.body.name,
        placed: standing.placed.clone(),
        allowance_mm: standing.body.chord_allowance_mm,
        tip: None,
    }
}

/// Positions whose hull is covered.
pub(super) fn spread_of(shifts: &[Vec3]) -> Spread {
    Spread {
        offsets_mm: shifts.to_vec(),
        ..Spread::default()
    }
}
