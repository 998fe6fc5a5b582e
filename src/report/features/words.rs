//! One face or feature in words.

use crate::mesh::faces::{Face, FaceForm, FaceGround};
use crate::mesh::features::{Feature, FeatureForm, HoleBottom, HoleStep, RoundHole};
use crate::report::text::number::Lengths;
use crate::value::Vec3;
use nalgebra::Point3;

/// Shows lengths in one unit.
pub(super) struct Words {
    pub(super) lengths: Lengths,
}

/// A direction: `+x` where it lies along an axis, else three numbers.
pub(super) fn direction(v: &Vec3) -> String {
    for (k, letter) in ["x", "y", "z"].into_iter().enumerate() {
        if v[k].abs() > 1.0 - 5e-8 {
            return format!("{}{letter}", if v[k] > 0.0 { '+' } else { '-' });
        }
    }
    let near = |x: f64| (x * 1e4).round() / 1e4 + 0.0;
    format!("({:.4}, {:.4}, {:.4})", near(v.x), near(v.y), near(v.z))
}

fn directions(list: &[Vec3]) -> String {
    list.iter().map(direction).collect::<Vec<_>>().join(", ")
}

const fn side(hollow: bool) -> &'static str {
    if hollow { "hollow" } else { "outer" }
}

fn degrees(angle_deg: f64) -> String {
    let text = format!("{angle_deg:.2}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// What an unsound mesh means for the answer.
pub(super) fn ground(ground: &FaceGround) -> String {
    let edges = |count: u64| {
        if count == 1 {
            "1 edge".to_owned()
        } else {
            format!("{count} edges")
        }
    };
    match *ground {
        FaceGround::OpenEdges(count) => format!(
            "the surface is open at {}: faces end there, and through, blind and access hold only as \
             far as the triangles go",
            edges(count)
        ),
        FaceGround::CrowdedEdges(count) => format!(
            "more than two triangles meet at {}: faces end there",
            edges(count)
        ),
        FaceGround::MixedEdges(count) => format!(
            "neighbours are turned against each other at {}: faces end there, and bore and boss may \
             be exchanged",
            edges(count)
        ),
        FaceGround::InsideOut(count) => format!(
            "{} inside out; it was taken as if turned right",
            if count == 1 {
                "1 body is".to_owned()
            } else {
                format!("{count} bodies are")
            }
        ),
        FaceGround::Crossings(0) => {
            "whether triangles cross is not known, as too many lie over each other".to_owned()
        }
        FaceGround::Crossings(count) => format!(
            "{} each other: faces and features are told as if no other surface went through them, \
             also where they lie within the body",
            if count == 1 {
                "1 pair of triangles crosses".to_owned()
            } else {
                format!("{count} pairs of triangles cross")
            }
        ),
    }
}

impl Words {
    fn mm(&self, length_mm: f64) -> String {
        self.lengths.near(length_mm)
    }

    fn point(&self, p: &Point3<f64>) -> String {
        format!("({}, {}, {})", self.mm(p.x), self.mm(p.y), self.mm(p.z))
    }

    fn flat(&self, point: &Point3<f64>, normal: &Vec3) -> String {
        format!("at {}, faces {}", self.point(point), direction(normal))
    }

    /// Form and sizes of a face.
    pub(super) fn face(&self, face: &Face) -> String {
        match face.form {
            FaceForm::Flat { point, normal } => self.flat(&point, &normal),
            FaceForm::Cylinder {
                point,
                direction: d,
                radius_mm,
                length_mm,
                turn_deg,
                hollow,
            } => {
                format!(
                    "{}, diameter {}, length {}, turn {} deg, axis from {} along {}",
                    side(hollow),
                    self.mm(2.0 * radius_mm),
                    self.mm(length_mm),
                    degrees(turn_deg),
                    self.point(&point),
                    direction(&d)
                )
            }
            FaceForm::Cone {
                apex,
                direction: d,
                half_angle_deg,
                from_mm,
                to_mm,
                turn_deg,
                hollow,
            } => {
                let slope = half_angle_deg.to_radians().tan();
                format!(
                    "{}, angle {} deg, diameter {} to {}, turn {} deg, apex {}, opens along {}",
                    side(hollow),
                    degrees(2.0 * half_angle_deg),
                    self.mm(2.0 * slope * from_mm),
                    self.mm(2.0 * slope * to_mm),
                    degrees(turn_deg),
                    self.point(&apex),
                    direction(&d)
                )
            }
            FaceForm::Torus {
                centre,
                direction: d,
                major_radius_mm,
                minor_radius_mm,
                turn_deg,
                hollow,
            } => format!(
                "{}, radius {} on a circle of diameter {}, turn {} deg, centre {}, axis {}",
                if hollow { "fillet" } else { "rounding" },
                self.mm(minor_radius_mm),
                self.mm(2.0 * major_radius_mm),
                degrees(turn_deg),
                self.point(&centre),
                direction(&d)
            ),
            FaceForm::Sphere {
                centre,
                radius_mm: radius,
                hollow,
            } => {
                let (radius, centre) = (self.mm(radius), self.point(&centre));
                format!("{}, radius {radius}, centre {centre}", side(hollow))
            }
            FaceForm::Other => format!("no known form, round {}", self.point(&face.centre)),
        }
    }

    /// Form and sizes of a feature.
    pub(super) fn feature(&self, feature: &Feature) -> String {
        let access = match feature.access.as_slice() {
            [] => "no straight access".to_owned(),
            list => format!("access {}", directions(list)),
        };
        format!("{}; {access}", self.form(&feature.form))
    }

    fn form(&self, form: &FeatureForm) -> String {
        match form {
            FeatureForm::RoundHole(hole) => self.hole(hole),
            FeatureForm::Boss(boss) => format!(
                "round boss, diameter {}, height {}, top at {}",
                self.mm(boss.diameter_mm),
                self.mm(boss.height_mm),
                self.point(&boss.top)
            ),
            FeatureForm::Pocket(pocket) => {
                let kind = match (pocket.floor, pocket.open_sides.as_slice()) {
                    (None, _) => "pocket that goes through",
                    (_, []) => "closed pocket",
                    _ => "open pocket",
                };
                let corner = pocket.corner_radius_mm.map_or_else(String::new, |radius| {
                    format!(", least corner radius {}", self.mm(radius))
                });
                let floor = if pocket.floor_radius_mm > 0.0 {
                    format!(", floor radius {}", self.mm(pocket.floor_radius_mm))
                } else {
                    String::new()
                };
                format!(
                    "{kind}, {} x {}, depth {}{corner}{floor}, at {}{}",
                    self.mm(pocket.length_mm),
                    self.mm(pocket.width_mm),
                    self.mm(pocket.depth_mm),
                    self.point(&pocket.opening),
                    open(&pocket.open_sides)
                )
            }
            FeatureForm::Slot(slot) => {
                let way = match (slot.closed, slot.points.as_slice()) {
                    (false, [from, to]) => {
                        format!("from {} to {}", self.point(from), self.point(to))
                    }
                    (_, points) => format!("a ring of {} points", points.len()),
                };
                format!(
                    "slot, width {}, depth {}, {way}{}",
                    self.mm(slot.width_mm),
                    self.mm(slot.depth_mm),
                    open(&slot.open_sides)
                )
            }
            FeatureForm::Step(step) => format!(
                "step, {} x {}, depth {}, at {}{}",
                self.mm(step.length_mm),
                self.mm(step.width_mm),
                self.mm(step.depth_mm),
                self.point(&step.at),
                open(&step.open_sides)
            ),
            FeatureForm::PlanarFace(face) => format!(
                "planar face, {} x {}, at {}",
                self.mm(face.length_mm),
                self.mm(face.width_mm),
                self.point(&face.at)
            ),
        }
    }

    fn hole(&self, hole: &RoundHole) -> String {
        let bottom = match hole.bottom {
            HoleBottom::Through => "through".to_owned(),
            HoleBottom::Flat => "blind, flat bottom".to_owned(),
            HoleBottom::Conical(angle) => format!("blind, bottom {} deg", degrees(angle)),
            HoleBottom::Rounded => "blind, rounded bottom".to_owned(),
            HoleBottom::Blind => "blind".to_owned(),
        };
        let steps: Vec<String> = hole.steps.iter().map(|step| self.step(step)).collect();
        format!(
            "round hole, {bottom}, {}, at {}",
            steps.join(", then "),
            self.point(&hole.opening)
        )
    }

    fn step(&self, step: &HoleStep) -> String {
        let (from, to) = (self.mm(step.from_mm), self.mm(step.to_mm));
        let (outer, inner) = (self.mm(step.diameter_mm), self.mm(step.inner_diameter_mm));
        let across = if outer == inner {
            outer
        } else {
            format!("{outer} to {inner}")
        };
        if from == self.mm(0.0) {
            format!("diameter {across}, depth {to}")
        } else {
            format!("diameter {across}, depth {from} to {to}")
        }
    }
}

fn open(sides: &[Vec3]) -> String {
    if sides.is_empty() {
        String::new()
    } else {
        format!(", open toward {}", directions(sides))
    }
}
