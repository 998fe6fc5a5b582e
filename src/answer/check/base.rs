//! Bodies fixed to the machine, against tool group, work group and bed as the axes move them.

use super::judge::{Judge, Moment};
use super::measure::{Measurement, Mover, Standing, measure};
use super::model::{Element, Phase};
use super::sweep::{CutMotion, Sweep};
use crate::gap::{CannotAsk, Motion, Placed, Spread};
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
    ) -> Result<(), CannotAsk> {
        if self.scene.base.is_empty() {
            return Ok(());
        }
        for sweep in &motion.sweeps {
            let tips = self.tips_round(moment, sweep);
            let tool = moment.cut.tool;
            measurement.absorb(self.tool_to_base(tool, &tips, sweep.phase, sweep.allowance_mm)?);
            measurement.absorb(self.table_to_base(moment, &tips, sweep.phase)?);
        }
        Ok(())
    }

    /// The tool group against base, over the hull of some tip positions of the table frame.
    pub(super) fn tool_to_base(
        &self,
        tool: usize,
        tips: &[Point3<f64>],
        phase: Phase,
        path_allowance_mm: f64,
    ) -> Result<Measurement, CannotAsk> {
        let mut measurement = Measurement::default();
        if self.scene.base.is_empty() {
            return Ok(measurement);
        }
        let kinematics = &self.scene.kinematics;
        let length_mm = self.scene.setup.tools[tool].gauge_length_mm;
        let at_zero = kinematics.tip([0.0; 3], length_mm);
        let in_machine = |tip: &Point3<f64>| {
            let shift_mm = kinematics.shift_mm(*tip, length_mm);
            (at_zero + kinematics.machine_shift_of_tool(shift_mm)).coords
        };
        let shifts: Vec<Vec3> = tips.iter().map(in_machine).collect();
        let machine_from_tool = kinematics.table_from_tool(Point3::origin());
        let swept = Motion {
            spread: spread_of(&shifts),
            turn: None,
        };
        let bases = self.base_standing();
        for element in self.elements[tool].iter().filter(|e| self.asks(e.element)) {
            let mover = Mover {
                element: element.element,
                name: &element.name,
                placed: Placed {
                    shape: element.shape.clone(),
                    common_from_body: machine_from_tool * element.tool_from_body,
                },
                allowance_mm: element.chord_allowance_mm + path_allowance_mm,
                tip: Some(Point3::origin()),
            };
            let asked = self.asked(element.element, phase);
            measurement.absorb(measure(&mover, &bases, &swept, &asked)?);
        }
        Ok(measurement)
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
        tips: &[Point3<f64>],
        phase: Phase,
    ) -> Result<Measurement, CannotAsk> {
        let mut measurement = Measurement::default();
        let length_mm = moment.tool.gauge_length_mm;
        let kinematics = &self.scene.kinematics;
        let shifts: Vec<Vec3> = tips
            .iter()
            .map(|tip| kinematics.machine_shift_of_table(kinematics.shift_mm(*tip, length_mm)))
            .collect();
        if !self.asks(Element::Work) {
            return Ok(measurement);
        }
        let swept = Motion {
            spread: spread_of(&shifts),
            turn: None,
        };
        let bases = self.base_standing();
        let own = std::iter::once(&moment.own_before);
        for standing in moment.around.iter().chain(own) {
            let is_bed = matches!(standing.body.id, crate::answer::scene::BodyId::Bed(_));
            let element = if is_bed { Element::Bed } else { Element::Work };
            let mover = Mover {
                element,
                name: &standing.body.name,
                placed: standing.placed.clone(),
                allowance_mm: standing.body.chord_allowance_mm,
                tip: None,
            };
            let asked = self.asked(element, phase);
            measurement.absorb(measure(&mover, &bases, &swept, &asked)?);
        }
        Ok(measurement)
    }

    /// Tips of a sweep in the table frame, its disc replaced by a polygon about it.
    fn tips_round(&self, moment: &Moment<'_>, sweep: &Sweep) -> Vec<Point3<f64>> {
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

/// Positions whose hull is covered.
pub(super) fn spread_of(shifts: &[Vec3]) -> Spread {
    Spread {
        offsets_mm: shifts.to_vec(),
        ..Spread::default()
    }
}
