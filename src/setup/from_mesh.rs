//! Features found in a mesh as features of a job file.

use super::file::{DepthTo, Direction, FeatureFile, OpenSide};
use crate::mesh::features::{Feature, FeatureForm, HoleBottom, HoleStep, Pocket, RoundHole, Step};
use crate::value::{Unit, Vec3};
use nalgebra::Point3;

/// Sizes of a feature are told in steps of this: far below any tolerance, far above the rounding
/// of single precision, so that a bore of 5 mm does not come out as 4.999 999.
const GRAIN_MM: f64 = 0.001;

/// Cosine of the angle within which a direction is the one that is meant: 1 degree.
const SAME_DIRECTION_COS: f64 = 0.999_8;

/// What a found feature is in a job file.
#[derive(Debug, Clone)]
pub struct WrittenFeature {
    /// Which step of a stepped hole this is, from 1 at the opening; `None` for all else.
    pub step: Option<usize>,
    /// The feature, lengths in the unit asked for.
    pub file: FeatureFile,
}

/// Writes a found feature as job files have it: one entry for each step of a hole.
///
/// `access` picks one of the directions from which a hole that goes through can be cut; by default
/// the first.
///
/// # Errors
/// A sentence that says why no feature of the job file has this form.
pub fn written_feature(
    feature: &Feature,
    unit: Unit,
    access: Option<Vec3>,
) -> Result<Vec<WrittenFeature>, String> {
    let write = Writer { unit };
    let single = |file| Ok(vec![WrittenFeature { step: None, file }]);
    let seen_from = |own: &Vec3| match access {
        Some(asked) if asked.dot(own) < SAME_DIRECTION_COS => {
            Err(format!("it can be cut along {} only", words(own)))
        }
        _ => Ok(()),
    };
    match &feature.form {
        FeatureForm::RoundHole(hole) => {
            let from = access.or_else(|| feature.access.first().copied());
            let steps = write.hole(hole, from)?;
            let only = steps.len() == 1;
            let numbered = steps
                .into_iter()
                .enumerate()
                .map(|(index, file)| WrittenFeature {
                    step: (!only).then_some(index + 1),
                    file,
                });
            Ok(numbered.collect())
        }
        FeatureForm::Boss(_) => {
            Err("a boss is what is left standing; write the contour round it as a profile".into())
        }
        FeatureForm::Pocket(pocket) => {
            seen_from(&pocket.direction)?;
            single(write.pocket(pocket)?)
        }
        FeatureForm::Slot(slot) => {
            seen_from(&slot.direction)?;
            single(FeatureFile::Slot {
                points: slot.points.iter().map(|point| write.point(point)).collect(),
                closed: slot.closed,
                access: direction(&slot.direction),
                width: Some(write.length(slot.width_mm)),
                depth: write.length(slot.depth_mm),
            })
        }
        FeatureForm::Step(step) => {
            seen_from(&step.direction)?;
            single(write.step(step)?)
        }
        FeatureForm::PlanarFace(face) => {
            seen_from(&face.direction)?;
            single(FeatureFile::PlanarFace {
                at: write.point(&face.at),
                access: direction(&face.direction),
                along: direction(&face.along),
                length: write.length(face.length_mm),
                width: write.length(face.width_mm),
                overhang: 0.0,
                run_out: None,
            })
        }
    }
}

/// Writes lengths in one unit.
struct Writer {
    unit: Unit,
}

impl Writer {
    fn length(&self, length_mm: f64) -> f64 {
        let rounded_mm = (length_mm / GRAIN_MM).round() * GRAIN_MM;
        // Six decimals take the noise of decimal fractions off, in millimetres and in inches.
        (rounded_mm / self.unit.mm() * 1e6).round() / 1e6 + 0.0
    }

    fn point(&self, point: &Point3<f64>) -> [f64; 3] {
        [point.x, point.y, point.z].map(|x| self.length(x))
    }

    /// The steps of a hole from the opening inward, as the tool sees them.
    fn hole(&self, hole: &RoundHole, from: Option<Vec3>) -> Result<Vec<FeatureFile>, String> {
        let own = hole.direction;
        let end_mm = hole.steps.iter().map(|step| step.to_mm).fold(0.0, f64::max);
        let from = from.unwrap_or(own);
        let through = matches!(hole.bottom, HoleBottom::Through);
        let (opening, steps): (Point3<f64>, Vec<HoleStep>) = if from.dot(&own) > SAME_DIRECTION_COS
        {
            (hole.opening, hole.steps.clone())
        } else if through && from.dot(&own) < -SAME_DIRECTION_COS {
            let turned = hole.steps.iter().rev().map(|step| HoleStep {
                diameter_mm: step.inner_diameter_mm,
                inner_diameter_mm: step.diameter_mm,
                from_mm: end_mm - step.to_mm,
                to_mm: end_mm - step.from_mm,
            });
            (hole.opening - own * end_mm, turned.collect())
        } else {
            let both = if through {
                " or from the other end"
            } else {
                ""
            };
            return Err(format!("it can be cut along {}{both} only", words(&own)));
        };
        let last = steps.len().saturating_sub(1);
        let flat = matches!(hole.bottom, HoleBottom::Flat);
        let write = |(index, step): (usize, &HoleStep)| {
            let at = self.point(&(opening - from * step.from_mm));
            let deep_mm = step.to_mm - step.from_mm;
            let change_mm = step.diameter_mm - step.inner_diameter_mm;
            let shoulder = index < last && change_mm.abs() < GRAIN_MM;
            if shoulder || (flat && index == last) {
                return FeatureFile::RoundPocket {
                    at,
                    access: direction(&from),
                    diameter: self.length(step.diameter_mm),
                    depth: self.length(deep_mm),
                    stock_left: 0.0,
                };
            }
            // A countersink: as deep as a point of its angle goes.
            let (depth_mm, depth_to) = if change_mm > GRAIN_MM {
                (step.diameter_mm * deep_mm / change_mm, DepthTo::Tip)
            } else {
                (deep_mm, DepthTo::FullDiameter)
            };
            FeatureFile::RoundHole {
                at: vec![at],
                access: direction(&from),
                depth: self.length(depth_mm),
                depth_to,
                break_through: 0.0,
            }
        };
        Ok(steps.iter().enumerate().map(write).collect())
    }

    fn pocket(&self, pocket: &Pocket) -> Result<FeatureFile, String> {
        if !pocket.is_rectangle {
            return Err("its floor is no plain rectangle; write its walls as a profile".into());
        }
        let across = pocket.direction.cross(&pocket.along);
        Ok(FeatureFile::Pocket {
            at: self.point(&pocket.opening),
            access: direction(&pocket.direction),
            along: direction(&pocket.along),
            length: self.length(pocket.length_mm),
            width: self.length(pocket.width_mm),
            corner_radius: self.length(pocket.corner_radius_mm.unwrap_or(0.0)),
            depth: self.length(pocket.depth_mm),
            open: open_sides(&pocket.open_sides, &pocket.along, &across)?,
            stock_left: 0.0,
        })
    }

    /// A step with one wall; with two it is a pocket with two open sides.
    fn step(&self, step: &Step) -> Result<FeatureFile, String> {
        let inward = step.direction.cross(&step.along);
        let open = open_sides(&step.open_sides, &step.along, &inward)?;
        let wall = OpenSide::MinusAcross;
        if open.len() == 3 && !open.contains(&wall) {
            return Ok(FeatureFile::Step {
                at: self.point(&step.at),
                access: direction(&step.direction),
                along: direction(&step.along),
                length: self.length(step.length_mm),
                width: self.length(step.width_mm),
                depth: self.length(step.depth_mm),
            });
        }
        Ok(FeatureFile::Pocket {
            at: self.point(&(step.at + inward * (step.width_mm / 2.0))),
            access: direction(&step.direction),
            along: direction(&step.along),
            length: self.length(step.length_mm),
            width: self.length(step.width_mm),
            corner_radius: 0.0,
            depth: self.length(step.depth_mm),
            open,
            stock_left: 0.0,
        })
    }
}

/// Which sides of a rectangle are open.
fn open_sides(open: &[Vec3], along: &Vec3, across: &Vec3) -> Result<Vec<OpenSide>, String> {
    let sides = [
        (OpenSide::PlusAlong, *along),
        (OpenSide::MinusAlong, -along),
        (OpenSide::PlusAcross, *across),
        (OpenSide::MinusAcross, -across),
    ];
    let mut found = Vec::new();
    for outward in open {
        let side = sides
            .iter()
            .find(|(_, side)| side.dot(outward) > SAME_DIRECTION_COS);
        let Some((side, _)) = side else {
            return Err(format!(
                "it is open toward {}, askew to its walls; write its walls as a profile",
                words(outward)
            ));
        };
        found.push(*side);
    }
    Ok(found)
}

/// A direction without the noise of a fit: 0, 1 and -1 come out as such.
fn direction(direction: &Vec3) -> Direction {
    [direction.x, direction.y, direction.z].map(|x| (x * 1e6).round() / 1e6 + 0.0)
}

fn words(v: &Vec3) -> String {
    let [x, y, z] = direction(v);
    format!("[{x}, {y}, {z}]")
}
