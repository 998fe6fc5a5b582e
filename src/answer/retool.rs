//! A tool set otherwise: another stick-out, a slimmer holder.

use crate::setup::model::{Profile, ProfilePiece, ProfileRing, Tool};
use crate::setup::stand_out;

/// The tool with another stick-out; its gauge length changes by as much, its holder not at all.
#[must_use]
pub fn with_stick_out(tool: &Tool, stick_out_mm: f64) -> Tool {
    let mut changed = tool.clone();
    changed.gauge_length_mm = tool.gauge_length_mm + (stick_out_mm - tool.stick_out_mm);
    changed.stick_out_mm = stick_out_mm;
    stand_out(&mut changed, stick_out_mm);
    changed
}

/// The tool at another gauge length: the cutter as far out as it goes, what is then lacking on the holder.
#[must_use]
pub fn with_gauge_length(tool: &Tool, gauge_length_mm: f64) -> Tool {
    let wanted_mm = tool.stick_out_mm + gauge_length_mm - tool.gauge_length_mm;
    let most_mm = stick_out_limits(tool).most_mm.unwrap_or(f64::INFINITY);
    let stick_out_mm = wanted_mm.min(most_mm.max(tool.stick_out_mm));
    with_longer_holder(
        &with_stick_out(tool, stick_out_mm),
        wanted_mm - stick_out_mm,
    )
}

/// The tool with a holder that goes on at its upper end by so much, as wide as it is there.
fn with_longer_holder(tool: &Tool, by_mm: f64) -> Tool {
    let mut changed = tool.clone();
    let rings = tool.holder.pieces.iter().flat_map(|piece| &piece.rings);
    let higher = |a: &&ProfileRing, b: &&ProfileRing| {
        let by_height = a.height_mm.total_cmp(&b.height_mm);
        by_height.then(a.radius_mm.total_cmp(&b.radius_mm))
    };
    if by_mm > 0.0
        && let Some(top) = rings.max_by(higher)
    {
        let end = ProfileRing {
            height_mm: top.height_mm + by_mm,
            ..*top
        };
        let rings = vec![*top, end];
        changed.holder.pieces.push(ProfilePiece { rings });
        changed.gauge_length_mm += by_mm;
    }
    changed
}

/// The tool with its holder turned down to a diameter.
#[must_use]
pub fn with_holder_diameter(tool: &Tool, diameter_mm: f64) -> Tool {
    let mut changed = tool.clone();
    for piece in &mut changed.holder.pieces {
        piece.rings = turned_down(&piece.rings, diameter_mm / 2.0);
    }
    changed
}

/// Rings no wider than `radius_mm`, with a ring more where a cone passes through that radius.
fn turned_down(rings: &[ProfileRing], radius_mm: f64) -> Vec<ProfileRing> {
    let mut kept = Vec::new();
    for (index, ring) in rings.iter().enumerate() {
        kept.push(ProfileRing {
            radius_mm: ring.radius_mm.min(radius_mm),
            ..*ring
        });
        if let Some(next) = rings.get(index + 1) {
            let rise_mm = next.radius_mm - ring.radius_mm;
            let share = (radius_mm - ring.radius_mm) / rise_mm;
            if share > 0.0 && share < 1.0 {
                let height_mm = ring.height_mm + share * (next.height_mm - ring.height_mm);
                kept.push(ProfileRing {
                    radius_mm,
                    height_mm,
                    ..*ring
                });
            }
        }
    }
    kept
}

/// Greatest diameter of a profile.
#[must_use]
pub fn widest_mm(profile: &Profile) -> f64 {
    let rings = profile.pieces.iter().flat_map(|piece| &piece.rings);
    2.0 * rings
        .map(|ring| ring.radius_mm + ring.ball_mm)
        .fold(0.0, f64::max)
}

/// How far a cutter may be set into its holder and out of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StickOutLimits {
    /// Shortest stick-out.
    pub least_mm: f64,
    /// What sets it.
    pub least_by: StickOutEnd,
    /// Longest stick-out; `None` where the cutter's overall length is not known.
    pub most_mm: Option<f64>,
    /// What sets it.
    pub most_by: StickOutEnd,
}

/// What ends the range of a stick-out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StickOutEnd {
    /// Cutting edges stay out of the holder.
    Edges,
    /// A neck that stands out as set is not drawn into the holder.
    Usable,
    /// The shank stands on the ground of the holder's bore.
    Bore,
    /// The holder keeps its grip of the shank.
    Grip,
    /// No shank is gripped: the cutter is screwed on, and its length cannot be set.
    ScrewedOn,
}

impl StickOutEnd {
    /// As an answer names it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Edges => "length of the cutting edges",
            Self::Usable => "usable length (LU)",
            Self::Bore => "depth of the holder's bore or collet (LSCX)",
            Self::Grip => "shank grip",
            Self::ScrewedOn => "screwed on, not gripped: its length is fixed",
        }
    }
}

/// The limits of a tool's stick-out.
///
/// # Guarantees
/// The least is no more than the most, where the tool as set keeps both.
#[must_use]
pub fn stick_out_limits(tool: &Tool) -> StickOutLimits {
    if tool.grip_mm == 0.0 {
        return StickOutLimits {
            least_mm: tool.stick_out_mm,
            least_by: StickOutEnd::ScrewedOn,
            most_mm: Some(tool.stick_out_mm),
            most_by: StickOutEnd::ScrewedOn,
        };
    }
    let mut least = (tool.edge_length_mm, StickOutEnd::Edges);
    if tool.usable_length_mm > least.0 && tool.stick_out_mm >= tool.usable_length_mm {
        least = (tool.usable_length_mm, StickOutEnd::Usable);
    }
    let by_bore_mm = tool.overall_length_mm.zip(tool.bore_depth_mm);
    if let Some((overall_mm, bore_mm)) = by_bore_mm
        && overall_mm - bore_mm > least.0
    {
        least = (overall_mm - bore_mm, StickOutEnd::Bore);
    }
    StickOutLimits {
        least_mm: least.0,
        least_by: least.1,
        most_mm: tool
            .overall_length_mm
            .map(|length_mm| length_mm - tool.grip_mm),
        most_by: StickOutEnd::Grip,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cone_turned_down_keeps_its_lower_end() {
        let cone = [(10.0, 0.0), (30.0, 40.0)].map(|(radius_mm, height_mm)| ProfileRing {
            radius_mm,
            height_mm,
            ball_mm: 0.0,
        });
        let rings = turned_down(&cone, 20.0);
        let pairs: Vec<_> = rings
            .iter()
            .map(|ring| (ring.radius_mm, ring.height_mm))
            .collect();
        assert_eq!(pairs, vec![(10.0, 0.0), (20.0, 20.0), (20.0, 40.0)]);
    }
}
