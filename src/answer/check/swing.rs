//! How far the work sweeps about the rotary axis.

use super::model::{Swing, TroubleKind, Verdict};
use super::violation::{Site, Violation};
use crate::answer::scene::{Body, Scene};
use crate::gap::{CannotAsk, Shape};
use crate::value::Vec3;
use nalgebra::Point3;
use rayon::prelude::*;

/// Reach of the work about the rotary axis.
#[derive(Debug, Clone, PartialEq)]
pub struct WorkReach {
    /// Largest radius, with the body that has it.
    pub swing: Swing,
    /// How far anything reaches from the rotary centre along the spindle, at any angle.
    pub along_spindle_mm: f64,
}

impl WorkReach {
    /// What is wrong where the work sweeps more than the machine allows.
    #[must_use]
    pub fn too_large(&self) -> Option<Violation> {
        let excess_mm = self.swing.radius_mm - self.swing.limit_mm?;
        (excess_mm > 0.0).then(|| {
            let kind = TroubleKind::SwingTooLarge;
            let mut violation = Violation::plain(kind, Verdict::Clash, Site::Job);
            violation.amount_mm = Some(excess_mm);
            violation
        })
    }
}

/// The reach of carrier, clamps and parts in every state, chord allowances included.
///
/// # Errors
/// As [`Scene::new`].
pub fn work_reach(scene: &Scene<'_>, iron: &[Body]) -> Result<WorkReach, CannotAsk> {
    let mut parts = Vec::new();
    for (seat_index, seat) in scene.setup.seats.iter().enumerate() {
        let Some(part) = seat.part else { continue };
        for state in 0..scene.setup.parts[part].states.len() {
            parts.extend(scene.part(seat_index, state)?);
        }
    }
    let bodies: Vec<&Body> = iron.iter().chain(&parts).collect();
    let reaches: Vec<Reach> = bodies
        .par_iter()
        .map(|body| reach_of(scene, body))
        .collect();
    let mut swing = Swing {
        radius_mm: 0.0,
        body: String::new(),
        limit_mm: scene.setup.machine.rotary.swing_radius_mm,
    };
    let mut along_spindle_mm = 0.0_f64;
    for (body, reach) in bodies.iter().zip(reaches) {
        let radius_mm = reach.radius_mm + body.chord_allowance_mm;
        along_spindle_mm = along_spindle_mm.max(reach.along_spindle_mm + body.chord_allowance_mm);
        if radius_mm > swing.radius_mm {
            swing.radius_mm = radius_mm;
            swing.body.clone_from(&body.name);
        }
    }
    Ok(WorkReach {
        swing,
        along_spindle_mm,
    })
}

struct Reach {
    radius_mm: f64,
    along_spindle_mm: f64,
}

fn reach_of(scene: &Scene<'_>, body: &Body) -> Reach {
    let rotary = &scene.setup.machine.rotary;
    let spindle = scene.kinematics.spindle();
    let along = spindle.dot(&rotary.direction);
    let across = (1.0 - along * along).max(0.0).sqrt();
    let machine_from_body = scene.setup.carrier.machine_from_carrier_at_zero * body.pose;
    let mut reach = Reach {
        radius_mm: 0.0,
        along_spindle_mm: f64::NEG_INFINITY,
    };
    let mut take = |point: Point3<f64>, thickness_mm: f64| {
        let arm: Vec3 = point - rotary.centre;
        let axial_mm = rotary.direction.dot(&arm);
        let radius_mm = (arm - rotary.direction * axial_mm).norm() + thickness_mm;
        reach.radius_mm = reach.radius_mm.max(radius_mm);
        let far_mm = axial_mm * along + radius_mm * across + thickness_mm;
        reach.along_spindle_mm = reach.along_spindle_mm.max(far_mm);
    };
    match &body.shape {
        Shape::Mesh(mesh) => {
            for vertex in &mesh.mesh().vertices {
                take(machine_from_body * vertex, 0.0);
            }
        }
        Shape::Revolved(solid) => {
            for ring in solid.pieces().iter().flat_map(|piece| piece.rings()) {
                let centre = machine_from_body * Point3::new(0.0, 0.0, ring.height_mm);
                let normal = machine_from_body.rotation * Vec3::z();
                let aligned = normal.cross(&rotary.direction).norm() < 1e-12;
                let arm = centre - rotary.centre;
                let off_mm = (arm - rotary.direction * rotary.direction.dot(&arm)).norm();
                if aligned && off_mm < 1e-9 {
                    let rim = centre + any_across(&rotary.direction) * ring.radius_mm;
                    take(rim, ring.ball_mm);
                } else {
                    take(centre, ring.radius_mm + ring.ball_mm);
                }
            }
        }
    }
    reach
}

fn any_across(direction: &Vec3) -> Vec3 {
    let helper = if direction.x.abs() < 0.9 {
        Vec3::x()
    } else {
        Vec3::y()
    };
    direction.cross(&helper).normalize()
}
