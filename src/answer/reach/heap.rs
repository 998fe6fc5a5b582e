//! Tips of many cells at once.

use super::cells::{Cell, flat_hull};
use super::ladder::Tips;
use crate::value::{Pose, Vec3};
use nalgebra::Point3;

/// Tips of a heap of cells, in the frame of an approach.
#[derive(Debug, Clone)]
pub struct Heap {
    /// Points whose convex hull holds all tips; of one plane, where the cells are.
    pub corners: Vec<Vec3>,
    /// Normal of the cells; `None` where they are not of one plane.
    pub normal: Option<Vec3>,
    /// Least coordinates.
    pub low: Vec3,
    /// Greatest coordinates.
    pub high: Vec3,
    around_mm: f64,
    /// As `around_mm`, with the tips of smooth faces.
    all_around_mm: f64,
    /// As `low` and `high`, with the tips of smooth faces.
    all: [Vec3; 2],
}

impl Heap {
    /// Tips over cells with the shift that each has, or their points for a shift of zero.
    #[must_use]
    pub fn new(cells: &[Cell], approach_from_part: &Pose) -> Self {
        let tips = cells.iter().flat_map(Cell::tips);
        let mut corners: Vec<Vec3> = tips
            .map(|tip| (approach_from_part * Point3::from(tip)).coords)
            .collect();
        let normal = cells
            .iter()
            .all(|cell| cell.plane == cells[0].plane)
            .then(|| cells[0].normal())
            .flatten()
            .map(|normal| approach_from_part.rotation * normal);
        if let (Some(normal), true) = (&normal, cells.len() > 1) {
            corners = flat_hull(&corners, normal);
        }
        let (mut low, mut high) = (corners[0], corners[0]);
        for tip in &corners {
            low = low.inf(tip);
            high = high.sup(tip);
        }
        let centre = (low + high) * 0.5;
        let away = |tip: &Vec3| (tip - centre).xy().norm();
        let around_mm = corners.iter().map(away).fold(0.0, f64::max);
        let (mut all_around_mm, mut all) = (around_mm, [low, high]);
        for tip in cells.iter().filter_map(Cell::smooth_tips).flatten() {
            let tip = (approach_from_part * Point3::from(tip)).coords;
            all_around_mm = all_around_mm.max(away(&tip));
            all = [all[0].inf(&tip), all[1].sup(&tip)];
        }
        Self {
            around_mm,
            all_around_mm,
            all,
            corners,
            normal,
            low,
            high,
        }
    }

    /// All tips shifted.
    #[must_use]
    pub fn shifted(&self, by: &Vec3) -> Self {
        Self {
            corners: self.corners.iter().map(|corner| corner + by).collect(),
            normal: self.normal,
            low: self.low + by,
            high: self.high + by,
            around_mm: self.around_mm,
            all_around_mm: self.all_around_mm,
            all: self.all.map(|corner| corner + by),
        }
    }

    /// Least and greatest coordinates, those of smooth faces included, with so much room across and
    /// along the approach.
    #[must_use]
    pub fn all_within(&self, [around_mm, along_mm]: [f64; 2]) -> [Vec3; 2] {
        let room = Vec3::new(around_mm, around_mm, along_mm);
        [self.all[0] - room, self.all[1] + room]
    }

    /// Where they are, those of smooth faces included.
    #[must_use]
    pub fn all_tips(&self) -> Tips {
        Tips {
            around_mm: self.all_around_mm,
            high_mm: self.all[1].z,
            ..self.tips()
        }
    }

    /// Where they are.
    #[must_use]
    pub fn tips(&self) -> Tips {
        let centre = (self.low + self.high) * 0.5;
        Tips {
            centre: [centre.x, centre.y],
            around_mm: self.around_mm,
            low_mm: self.low.z,
            high_mm: self.high.z,
        }
    }
}
