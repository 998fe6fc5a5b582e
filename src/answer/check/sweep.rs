//! A cut as the set of poses that it takes: convex sets of tip positions, swept exactly.
//!
//! Coordinates are the feature's: origin at the opening, z along the access direction. A set is
//! the convex hull of some tip positions, each with a disc about it across the tool axis, so a
//! whole pocket or a straight line is one exact question to the gap engine.

use super::model::Phase;
use super::region::{ARC_CHORD_MM, Region, offset_segments, on_line, rounded_region, segments};
use crate::setup::file::{DepthTo, PathSide, Reference, ToolKind};
use crate::setup::model::{Cut, FeatureForm, Tool};
use crate::value::Vec3;

/// Tip positions that a tool takes in one phase of a cut.
#[derive(Debug, Clone, PartialEq)]
pub struct Sweep {
    /// Phase: [`Phase::Approach`], [`Phase::Cut`] or [`Phase::Link`].
    pub phase: Phase,
    /// Tip positions whose convex hull is covered.
    pub tips_mm: Vec<Vec3>,
    /// Radius of the disc about each.
    pub disc_mm: f64,
    /// By how much the true path may stand outside.
    pub allowance_mm: f64,
}

/// Something about the cutter and the feature that does not fit.
#[derive(Debug, Clone, PartialEq)]
pub enum Misfit {
    /// The cutter is too large by this much in diameter.
    CutterTooLarge {
        /// Excess of the diameter.
        excess_mm: f64,
        /// Largest diameter that fits.
        diameter_mm: f64,
    },
    /// The cutter cannot plunge and the feature has no open side.
    NoWayIn,
    /// A pass is deeper than the edges.
    EdgesTooShort {
        /// Depth of the pass.
        pass_mm: f64,
        /// Length of the edges.
        edges_mm: f64,
    },
    /// The offset curve is empty: the contour is too tight for the tool.
    NoPath,
}

/// The planes of a cut, above the feature's opening.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Planes {
    /// Where rapid becomes feed.
    pub feed_mm: f64,
    /// Over which rapids go from place to place.
    pub travel_mm: f64,
}

/// What a cut does, in feature coordinates.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CutMotion {
    /// Sets of tip positions.
    pub sweeps: Vec<Sweep>,
    /// What does not fit.
    pub misfits: Vec<Misfit>,
    /// Depth of the deepest tip below the opening.
    pub depth_mm: f64,
    /// Depth of one pass, where more than one is needed.
    pub pass_mm: Option<f64>,
}

/// The poses of a cut with a tool.
///
/// `clearance_mm` is the gap at rest that a cutter keeps when it comes in from outside.
///
/// # Guarantees
/// Every position of the tool that the feature asks for lies in one of the sets, up to each
/// set's `allowance_mm`. Sets may hold more than the program will use: approaches may come down
/// anywhere over the feature.
#[must_use]
pub fn motion_of(cut: &Cut, tool: &Tool, planes: Planes, clearance_mm: f64) -> CutMotion {
    let shaper = Shaper {
        tool,
        planes,
        clearance_mm,
    };
    let mut motion = match &cut.feature.form {
        FeatureForm::RoundHole {
            centres_mm,
            depth_mm,
            depth_to,
            break_through_mm,
        } => shaper.holes(centres_mm, *depth_mm, *depth_to, *break_through_mm),
        FeatureForm::PlanarFace {
            length_mm,
            width_mm,
            overhang_mm,
            run_out_mm,
        } => shaper.face(*length_mm, *width_mm, *overhang_mm, *run_out_mm),
        FeatureForm::Pocket {
            length_mm,
            width_mm,
            corner_radius_mm,
            depth_mm,
            open,
            stock_left_mm,
        } => shaper.pocket(
            [*length_mm, *width_mm],
            *corner_radius_mm,
            *depth_mm - *stock_left_mm,
            *open,
            *stock_left_mm,
        ),
        FeatureForm::RoundPocket {
            diameter_mm,
            depth_mm,
            stock_left_mm,
        } => shaper.round_pocket(*diameter_mm, *depth_mm - *stock_left_mm, *stock_left_mm),
        FeatureForm::Slot {
            points_mm,
            closed,
            width_mm,
            depth_mm,
        } => shaper.slot(points_mm, *closed, *width_mm, *depth_mm),
        FeatureForm::Profile {
            points_mm,
            closed,
            side,
            offset_mm,
            depth_mm,
        } => {
            let offset_mm = offset_mm.unwrap_or(tool.diameter_mm / 2.0);
            shaper.profile(points_mm, *closed, *side, offset_mm, *depth_mm)
        }
        FeatureForm::Path {
            moves_mm,
            reference,
        } => shaper.path(moves_mm, *reference),
    };
    shaper.passes(cut, &mut motion);
    motion
}

struct Shaper<'a> {
    tool: &'a Tool,
    planes: Planes,
    clearance_mm: f64,
}

impl Shaper<'_> {
    fn radius_mm(&self) -> f64 {
        self.tool.diameter_mm / 2.0
    }

    /// Approach and cut over one region, tips between the planes and down to `tip_mm`.
    fn over(&self, region: &Region, tip_mm: f64) -> [Sweep; 2] {
        let feed_mm = self.planes.feed_mm.max(tip_mm);
        let travel_mm = self.planes.travel_mm.max(feed_mm);
        let prism = |low_mm: f64, high_mm: f64| {
            let at = |z: f64| {
                region
                    .corners_mm
                    .iter()
                    .map(move |&[x, y]| Vec3::new(x, y, z))
            };
            at(low_mm).chain(at(high_mm)).collect()
        };
        [
            (Phase::Approach, feed_mm, travel_mm),
            (Phase::Cut, tip_mm, feed_mm),
        ]
        .map(|(phase, low_mm, high_mm)| Sweep {
            phase,
            tips_mm: prism(low_mm, high_mm),
            disc_mm: region.disc_mm,
            allowance_mm: region.allowance_mm,
        })
    }

    fn area(&self, region: &Region, tip_mm: f64) -> CutMotion {
        CutMotion {
            sweeps: self.over(region, tip_mm).into(),
            depth_mm: -tip_mm,
            ..CutMotion::default()
        }
    }

    fn holes(
        &self,
        centres_mm: &[[f64; 3]],
        depth_mm: f64,
        depth_to: DepthTo,
        break_through_mm: f64,
    ) -> CutMotion {
        let point_mm = match depth_to {
            DepthTo::FullDiameter => self.tool.point_length_mm,
            DepthTo::Tip => 0.0,
        };
        let below_mm = depth_mm + break_through_mm + point_mm;
        let mut motion = CutMotion {
            depth_mm: below_mm,
            ..CutMotion::default()
        };
        for &[x, y, z] in centres_mm {
            let region = Region::exact(vec![[x, y]], 0.0);
            motion.sweeps.extend(self.over(&region, z - below_mm));
        }
        if below_mm > self.tool.usable_length_mm + 1e-9 {
            motion.misfits.push(Misfit::EdgesTooShort {
                pass_mm: below_mm,
                edges_mm: self.tool.usable_length_mm,
            });
        }
        motion
    }

    fn face(
        &self,
        length_mm: f64,
        width_mm: f64,
        overhang_mm: f64,
        run_out_mm: Option<f64>,
    ) -> CutMotion {
        let run_out_mm = run_out_mm.unwrap_or(self.radius_mm() + self.clearance_mm);
        let x = length_mm / 2.0 + run_out_mm;
        let y = (width_mm / 2.0 + overhang_mm - self.radius_mm()).max(0.0);
        let corners_mm = vec![[-x, -y], [x, -y], [x, y], [-x, y]];
        let mut motion = self.area(&Region::exact(corners_mm, 0.0), 0.0);
        if !self.tool.plunges && run_out_mm < self.radius_mm() {
            motion.misfits.push(Misfit::NoWayIn);
        }
        motion
    }

    fn pocket(
        &self,
        extent_mm: [f64; 2],
        corner_radius_mm: f64,
        depth_mm: f64,
        open: [bool; 4],
        stock_left_mm: f64,
    ) -> CutMotion {
        let inset_mm = self.radius_mm() + stock_left_mm;
        let outset_mm = if self.tool.plunges {
            0.0
        } else {
            self.radius_mm() + self.clearance_mm
        };
        let reach = |half_mm: f64, is_open: bool| {
            if is_open {
                half_mm + outset_mm
            } else {
                half_mm - inset_mm
            }
        };
        let [half_x, half_y] = extent_mm.map(|extent| extent / 2.0);
        let high = [reach(half_x, open[0]), reach(half_y, open[2])];
        let low = [-reach(half_x, open[1]), -reach(half_y, open[3])];
        let round_mm = (corner_radius_mm - stock_left_mm).max(0.0) - self.radius_mm();
        let too_wide_mm = [0, 1]
            .map(|axis| low[axis] - high[axis])
            .into_iter()
            .fold(0.0, f64::max);
        let too_round_mm = if open == [false; 4] && corner_radius_mm > 0.0 {
            -round_mm
        } else {
            0.0
        };
        let excess_mm = too_wide_mm.max(2.0 * too_round_mm);
        if excess_mm > 1e-9 {
            return too_large(self.tool.diameter_mm, excess_mm, depth_mm);
        }
        let region = rounded_region(low, high, open, round_mm.max(0.0));
        let mut motion = self.area(&region, -depth_mm);
        if !self.tool.plunges && !open.contains(&true) {
            motion.misfits.push(Misfit::NoWayIn);
        }
        motion
    }

    fn round_pocket(&self, diameter_mm: f64, depth_mm: f64, stock_left_mm: f64) -> CutMotion {
        let disc_mm = diameter_mm / 2.0 - stock_left_mm - self.radius_mm();
        if disc_mm < -1e-9 {
            return too_large(self.tool.diameter_mm, -2.0 * disc_mm, depth_mm);
        }
        let region = Region::exact(vec![[0.0, 0.0]], disc_mm.max(0.0));
        let mut motion = self.area(&region, -depth_mm);
        if !self.tool.plunges {
            motion.misfits.push(Misfit::NoWayIn);
        }
        motion
    }

    fn slot(
        &self,
        points_mm: &[[f64; 2]],
        closed: bool,
        width_mm: Option<f64>,
        depth_mm: f64,
    ) -> CutMotion {
        let disc_mm = width_mm.unwrap_or(self.tool.diameter_mm) / 2.0 - self.radius_mm();
        if disc_mm < -1e-9 {
            return too_large(self.tool.diameter_mm, -2.0 * disc_mm, depth_mm);
        }
        self.along(
            &segments(points_mm, closed),
            disc_mm.max(0.0),
            0.0,
            -depth_mm,
        )
    }

    fn profile(
        &self,
        points_mm: &[[f64; 2]],
        closed: bool,
        side: PathSide,
        offset_mm: f64,
        depth_mm: f64,
    ) -> CutMotion {
        let tip_mm = -depth_mm - self.tool.reference_height_mm;
        let signed_mm = match side {
            PathSide::Left => offset_mm,
            PathSide::Right => -offset_mm,
            PathSide::On => 0.0,
        };
        if signed_mm == 0.0 {
            return self.along(&segments(points_mm, closed), 0.0, 0.0, tip_mm);
        }
        let lines = offset_segments(points_mm, closed, signed_mm);
        let mut motion = self.along(&lines, 0.0, ARC_CHORD_MM, tip_mm);
        if lines.is_empty() {
            motion.misfits.push(Misfit::NoPath);
        }
        motion
    }

    fn along(
        &self,
        lines: &[[[f64; 2]; 2]],
        disc_mm: f64,
        allowance_mm: f64,
        tip_mm: f64,
    ) -> CutMotion {
        let mut motion = CutMotion {
            depth_mm: -tip_mm,
            ..CutMotion::default()
        };
        for line in lines {
            let region = Region {
                corners_mm: line.to_vec(),
                disc_mm,
                allowance_mm,
            };
            motion.sweeps.extend(self.over(&region, tip_mm));
        }
        motion
    }

    /// The moves themselves, and the way down to the first and up from the last.
    fn path(&self, moves_mm: &[([f64; 3], bool)], reference: Reference) -> CutMotion {
        let drop_mm = match reference {
            Reference::Tip => 0.0,
            Reference::Centre => self.tool.reference_height_mm,
        };
        let tips: Vec<(Vec3, bool)> = moves_mm
            .iter()
            .map(|&([x, y, z], rapid)| (Vec3::new(x, y, z - drop_mm), rapid))
            .collect();
        let mut motion = CutMotion::default();
        let mut fed: Vec<[Vec3; 2]> = Vec::new();
        for end in [tips.first(), tips.last()].into_iter().flatten() {
            let over = Region::exact(vec![[end.0.x, end.0.y]], 0.0);
            let [approach, mut plunge] = self.over(&over, end.0.z);
            if end.0.z < self.planes.feed_mm && tips.first() == Some(end) && end.1 {
                plunge.phase = Phase::Link;
            }
            motion.sweeps.extend([approach, plunge]);
        }
        for pair in tips.windows(2) {
            let (from, (to, rapid)) = (pair[0].0, pair[1]);
            let retraced = fed
                .iter()
                .any(|line| on_line(line, from) && on_line(line, to));
            let phase = if rapid && !retraced {
                Phase::Link
            } else {
                Phase::Cut
            };
            if !rapid {
                fed.push([from, to]);
            }
            let tips_mm = vec![from, to];
            motion.sweeps.push(Sweep {
                phase,
                tips_mm,
                disc_mm: 0.0,
                allowance_mm: 0.0,
            });
        }
        motion.depth_mm = tips.iter().map(|(tip, _)| -tip.z).fold(0.0, f64::max);
        motion
    }

    /// Depth per pass: what the job says, or the edges.
    fn passes(&self, cut: &Cut, motion: &mut CutMotion) {
        if matches!(
            cut.feature.form,
            FeatureForm::RoundHole { .. } | FeatureForm::Path { .. }
        ) || matches!(self.tool.kind, ToolKind::Drill | ToolKind::Tap)
        {
            return;
        }
        let edges_mm = self.tool.edge_length_mm;
        let pass_mm = cut.pass_depth_mm.unwrap_or(edges_mm);
        if pass_mm > edges_mm + 1e-9 {
            motion
                .misfits
                .push(Misfit::EdgesTooShort { pass_mm, edges_mm });
        }
        motion.pass_mm = Some(pass_mm);
    }
}

fn too_large(diameter_mm: f64, excess_mm: f64, depth_mm: f64) -> CutMotion {
    let misfit = Misfit::CutterTooLarge {
        excess_mm,
        diameter_mm: diameter_mm - excess_mm,
    };
    CutMotion {
        misfits: vec![misfit],
        depth_mm,
        ..CutMotion::default()
    }
}
