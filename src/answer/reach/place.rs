//! Everything at the middle of an interval of angle, and where a cell's tips are over all of it.

use super::bands::BandQuestion;
use crate::answer::scene::{Body, placed};
use crate::gap::{CannotAsk, Placed, Shape};
use crate::mesh::Mesh;
use crate::value::{Pose, Vec3};
use nalgebra::Point3;

/// Where an interval ends with a face level, its contact is asked this share of the interval further in.
const INNER: f64 = 0.05;

/// Ways down begin so far over everything that turns.
const TOP_MM: f64 = 20.0;

/// Where a cell's tips are over an interval, in the approach frame at its middle.
pub struct Held {
    /// Plane of the cell.
    pub plane: u32,
    /// Tips over the corners.
    pub tips: Vec<Vec3>,
    /// Point of the surface in the middle of the cell.
    pub middle: Vec3,
    pub normal: Vec3,
    /// Half of the interval.
    pub half_rad: f64,
    /// How far tips are from those at the middle of the interval.
    pub shift_mm: f64,
    /// Distance of the tip from the point touched.
    pub tip_from_point_mm: f64,
    /// How far a tip is from the middle one.
    pub spread_mm: f64,
    /// On a round face, how far tips by the face's own normals may be from those by the facet's:
    /// what stops the tool must stop it there, too.
    pub smooth_mm: f64,
}

impl Held {
    /// The tip over the middle of the cell.
    pub fn middle_tip(&self) -> Vec3 {
        self.tips.iter().sum::<Vec3>() / self.tips.len() as f64
    }

    /// How far up the way down begins.
    pub fn raised_mm(&self, place: &Place) -> f64 {
        let lowest = self
            .tips
            .iter()
            .map(|tip| tip.z)
            .fold(f64::INFINITY, f64::min);
        (place.top_mm - lowest).max(0.0)
    }

    /// Distance of the farthest point of the own part.
    pub fn far_mm(&self, place: &Place) -> f64 {
        let away = |corner: &Vec3| (corner - self.middle).norm();
        place.own_corners.iter().map(away).fold(0.0, f64::max) + self.spread_mm
    }

    /// How far the cell moves while the rotary turns from the middle to an end.
    pub fn swing_mm(&self, place: &Place) -> f64 {
        let from_axis = self.middle - place.centre;
        let across = from_axis - place.axis * place.axis.dot(&from_axis);
        (across.norm() + self.spread_mm) * self.half_rad
    }
}

/// Which bodies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    Own,
    Work,
    Bed,
}

/// Everything at the middle of an interval, in the approach frame.
pub struct Place {
    /// `approach_from_part` at the first end, the middle, the last end.
    pub part: [Pose; 3],
    /// The same a little way in from each end.
    pub inner: [Pose; 2],
    pub half_rad: f64,
    /// The finest interval is this share of this one.
    pub finest_share: f64,
    pub own: Vec<Placed>,
    /// Corners of a box round the own part.
    pub own_corners: [Vec3; 8],
    pub work: Vec<Placed>,
    pub bed: Vec<Placed>,
    /// How many of each are no lids; those come last.
    pub without_lids: [usize; 3],
    pub chord_mm: [f64; 3],
    pub top_mm: f64,
    /// The highest point of what turns with the rotary.
    pub turning_top_mm: f64,
    pub centre: Vec3,
    pub axis: Vec3,
}

impl Place {
    pub fn new(asked: &BandQuestion<'_>, [low_deg, high_deg]: [f64; 2]) -> Result<Self, CannotAsk> {
        let scene = asked.scene;
        let seat = &scene.setup.seats[asked.seat];
        let carrier = |angle_deg: f64| {
            let pose = asked.approach_from_carrier(angle_deg);
            pose.ok_or(CannotAsk::BadPose)
        };
        let part = |angle_deg: f64| {
            let approach_from_carrier = carrier(angle_deg)?;
            Ok(approach_from_carrier * seat.carrier_from_seat * seat.seat_from_part)
        };
        let middle_deg = (low_deg + high_deg) * 0.5;
        let approach_from_carrier = carrier(middle_deg)?;
        let approach_from_table = asked.table_from_approach().inverse();
        let all = |bodies: &[Body], lids: &[Body], pose: &Pose| -> Vec<Placed> {
            let bodies = bodies.iter().chain(lids);
            bodies.map(|body| placed(body, pose)).collect()
        };
        let [own_lids, work_lids, bed_lids] = asked.lids;
        let chord = |bodies: &[Body]| {
            let chords = bodies.iter().map(|body| body.chord_allowance_mm);
            chords.fold(0.0, f64::max)
        };
        let rotary = &scene.setup.machine.rotary;
        let centre = (approach_from_table * rotary.centre).coords;
        let bodies = asked.work.iter().chain([asked.own]);
        let turning = bodies.map(|body| highest_mm(body, &approach_from_carrier));
        let turning_top_mm = turning.fold(f64::NEG_INFINITY, f64::max);
        let resting = scene
            .bed
            .iter()
            .map(|body| highest_mm(body, &approach_from_table));
        let half_rad = ((high_deg - low_deg) * 0.5).to_radians();
        // Seen from the part, the way down leans: its upper end must be over everything even so.
        let wide_mm = asked.ready.reach_mm.iter().copied().fold(0.0, f64::max);
        let top_mm = resting.fold(turning_top_mm, f64::max) + TOP_MM + 1.5 * wide_mm * half_rad;
        Ok(Self {
            part: [part(low_deg)?, part(middle_deg)?, part(high_deg)?],
            inner: [
                part(low_deg + (high_deg - low_deg) * INNER)?,
                part(high_deg - (high_deg - low_deg) * INNER)?,
            ],
            half_rad,
            finest_share: (asked.finest_deg() / (high_deg - low_deg)).min(1.0),
            own: all(
                std::slice::from_ref(asked.own),
                own_lids,
                &approach_from_carrier,
            ),
            without_lids: [1, asked.work.len(), scene.bed.len()],
            own_corners: box_corners(asked.surface.mesh, &part(middle_deg)?),
            work: all(asked.work, work_lids, &approach_from_carrier),
            bed: all(&scene.bed, bed_lids, &approach_from_table),
            chord_mm: [
                asked.own.chord_allowance_mm,
                chord(asked.work),
                chord(&scene.bed),
            ],
            top_mm,
            turning_top_mm,
            centre,
            axis: approach_from_table.rotation * rotary.direction,
        })
    }

    pub fn bodies(&self) -> [(&[Placed], Kind); 3] {
        [
            (&self.own, Kind::Own),
            (&self.work, Kind::Work),
            (&self.bed, Kind::Bed),
        ]
    }

    /// Whether lids are among bodies of a kind.
    pub fn has_lids(&self, kind: Kind) -> bool {
        let (bodies, _) = self.bodies()[kind as usize];
        bodies.len() > self.without_lids(kind)
    }

    /// The highest point of bodies of a kind that have no lids, or higher.
    pub fn highest_mm(&self, kind: Kind) -> f64 {
        match kind {
            Kind::Own => {
                let heights = self.own_corners.iter().map(|corner| corner.z);
                heights.fold(f64::NEG_INFINITY, f64::max)
            }
            Kind::Work => self.turning_top_mm,
            Kind::Bed => self.top_mm,
        }
    }

    /// How many bodies are no lids.
    pub const fn without_lids(&self, kind: Kind) -> usize {
        self.without_lids[kind as usize]
    }

    pub const fn chord_mm(&self, kind: Kind) -> f64 {
        self.chord_mm[kind as usize]
    }
}

fn box_corners(mesh: &Mesh, pose: &Pose) -> [Vec3; 8] {
    let start = (Vec3::repeat(f64::INFINITY), Vec3::repeat(f64::NEG_INFINITY));
    let (low, high) = mesh.vertices.iter().fold(start, |(low, high), vertex| {
        (low.inf(&vertex.coords), high.sup(&vertex.coords))
    });
    std::array::from_fn(|k| {
        let pick = |axis: usize| {
            if k & (1 << axis) == 0 {
                low[axis]
            } else {
                high[axis]
            }
        };
        (pose * Point3::new(pick(0), pick(1), pick(2))).coords
    })
}

/// The highest point of a body.
fn highest_mm(body: &Body, approach_from_group: &Pose) -> f64 {
    let pose = approach_from_group * body.pose;
    match &body.shape {
        Shape::Mesh(shape) => {
            let heights = shape.mesh().vertices.iter().map(|v| (pose * v).z);
            heights.fold(f64::NEG_INFINITY, f64::max)
        }
        Shape::Revolved(solid) => {
            let sizes = solid.pieces().iter().map(|piece| {
                let (low, high) = piece.heights_mm();
                piece.radius_mm() + low.abs().max(high.abs())
            });
            pose.translation.z + sizes.fold(0.0, f64::max)
        }
    }
}
