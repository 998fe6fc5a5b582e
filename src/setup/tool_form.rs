//! The cutting part of each kind of tool: its profile, and what its codes must be.

use super::file::{ToolFile, ToolKind};
use super::model::{ProfilePiece, ProfileRing};
use super::profile::{pieces, ring};
use super::spot::Spot;

/// Point angle of a drill that states none; common practice, no source.
const DRILL_POINT_DEG: f64 = 118.0;
/// Lead of a tap that states none, in pitches; common practice, no source.
const TAP_LEAD_PITCHES: f64 = 3.0;

/// The cutting part of a tool, before its length is cut to the stick-out.
#[derive(Debug, Clone)]
pub struct Cutting {
    pub(super) radius_mm: f64,
    /// From the tip to the end of the edges.
    pub(super) edge_mm: f64,
    /// Height of the point below the full diameter.
    pub(super) point_mm: f64,
    /// Corner radius; the radius of a ball.
    pub(super) corner_mm: f64,
    /// Radius at the tip.
    tip_radius_mm: f64,
}

impl Cutting {
    /// Convex pieces from the tip up to the end of the edges, or to `limit_mm` where that is less.
    pub(super) fn pieces(&self, limit_mm: f64) -> Vec<ProfilePiece> {
        let (radius_mm, top_mm) = (self.radius_mm, self.edge_mm.min(limit_mm));
        if self.corner_mm > 0.0 {
            let corner = ProfileRing {
                radius_mm: radius_mm - self.corner_mm,
                height_mm: self.corner_mm,
                ball_mm: self.corner_mm,
            };
            let mut rings = vec![corner];
            if top_mm > self.corner_mm {
                rings.push(ring(radius_mm, top_mm));
            }
            return vec![ProfilePiece { rings }];
        }
        let point = (self.tip_radius_mm, 0.0);
        pieces(&[point, (radius_mm, self.point_mm), (radius_mm, top_mm)])
    }
}

/// Reads the codes of the cutting part; `None` where one that is needed is missing.
pub(super) fn cutting(spot: &Spot<'_>, file: &ToolFile) -> Option<Cutting> {
    let radius_mm = spot.key("DC").positive(file.DC) / 2.0;
    refuse_foreign_codes(spot, file);
    let plain = |edge_mm: f64| Cutting {
        radius_mm,
        edge_mm,
        point_mm: 0.0,
        corner_mm: 0.0,
        tip_radius_mm: radius_mm,
    };
    let cutting = match file.kind {
        ToolKind::Drill => drill(spot, file, radius_mm),
        ToolKind::Tap => {
            let lead_mm = tap_lead(spot, file);
            let edge_mm = needed(spot, "LU", file.LU, "a tap");
            Some(Cutting {
                point_mm: lead_mm?,
                ..plain(edge_mm?)
            })
        }
        ToolKind::EndMill => needed(spot, "APMX", file.APMX, "an end mill").map(plain),
        ToolKind::FaceMill => {
            let corner_mm = file
                .RE
                .map_or(0.0, |corner| spot.key("RE").not_negative(corner));
            let edge_mm = needed(spot, "APMX", file.APMX, "a face mill")?;
            Some(Cutting {
                corner_mm,
                point_mm: corner_mm,
                ..plain(edge_mm)
            })
        }
        ToolKind::BallMill => {
            let edge_mm = needed(spot, "APMX", file.APMX, "a ball mill")?;
            Some(Cutting {
                corner_mm: radius_mm,
                point_mm: radius_mm,
                ..plain(edge_mm)
            })
        }
        ToolKind::CornerRadiusMill => {
            let corner_mm = needed(spot, "RE", file.RE, "a corner radius mill");
            let edge_mm = needed(spot, "APMX", file.APMX, "a corner radius mill");
            let corner_mm = corner_mm?;
            Some(Cutting {
                corner_mm,
                point_mm: corner_mm,
                ..plain(edge_mm?)
            })
        }
        ToolKind::ChamferMill => chamfer_mill(spot, file, radius_mm),
        ToolKind::GrooveMill => groove_mill(spot, file).map(plain),
    }?;
    // No other length can be held against a diameter that is none.
    if radius_mm > 0.0 {
        check_corner(spot, file, &cutting);
    }
    Some(cutting)
}

fn needed(spot: &Spot<'_>, code: &str, value: Option<f64>, kind: &str) -> Option<f64> {
    if value.is_none() {
        spot.error(format!("the code `{code}` is missing; {kind} needs it"));
    }
    value.map(|value| spot.key(code).positive(value))
}

/// Height of a cone from one radius to another, by the angle between its two sides.
fn cone_mm(spot: &Spot<'_>, angle_deg: f64, rise_mm: f64) -> Option<f64> {
    if angle_deg > 0.0 && angle_deg <= 180.0 {
        let half_deg = angle_deg / 2.0;
        // The tangent of a right angle is not infinite in f64.
        Some(if half_deg == 90.0 {
            0.0
        } else {
            rise_mm / half_deg.to_radians().tan()
        })
    } else {
        let message = format!("the point angle {angle_deg} is outside 0 to 180 degrees; ");
        spot.key("SIG")
            .error(message + "give the angle between the two sides of the point");
        None
    }
}

fn drill(spot: &Spot<'_>, file: &ToolFile, radius_mm: f64) -> Option<Cutting> {
    let point_mm = cone_mm(spot, file.SIG.unwrap_or(DRILL_POINT_DEG), radius_mm);
    let edge_mm = needed(spot, "LU", file.LU, "a drill")?;
    let point_mm = point_mm?;
    Some(Cutting {
        radius_mm,
        edge_mm,
        point_mm,
        corner_mm: 0.0,
        tip_radius_mm: 0.0,
    })
}

/// Height of the teeth of an internal thread in pitches: `5/8 H` with `H = sqrt(3)/2 P`. ISO 68-1
/// (basic profile) and ISO 724 (`D1 = D - 2 * 5/8 H`), both from memory.
const THREAD_DEPTH_PITCHES: f64 = 0.541_265_877_365_274;

/// Depth of the thread that a tap cuts; 0 for other tools and where no pitch is given.
pub(super) fn thread_depth_mm(spot: &Spot<'_>, file: &ToolFile) -> f64 {
    match (file.kind, file.TP) {
        (ToolKind::Tap, Some(pitch_mm)) if pitch_mm > 0.0 => {
            THREAD_DEPTH_PITCHES * pitch_mm * spot.unit().mm()
        }
        _ => 0.0,
    }
}

/// The lead of a tap. Its form is taken as full: a real lead is slimmer, so gaps are larger.
fn tap_lead(spot: &Spot<'_>, file: &ToolFile) -> Option<f64> {
    let pitch_mm = file.TP.map(|pitch| spot.key("TP").positive(pitch));
    match (file.tap_lead, pitch_mm) {
        (Some(lead), _) => Some(spot.key("tap_lead").not_negative(lead)),
        (None, Some(pitch_mm)) => Some(TAP_LEAD_PITCHES * pitch_mm),
        (None, None) => {
            spot.error("the code `TP` is missing; a tap needs its pitch (or `tap_lead`)");
            None
        }
    }
}

fn chamfer_mill(spot: &Spot<'_>, file: &ToolFile, radius_mm: f64) -> Option<Cutting> {
    let tip_radius_mm = file
        .tip_diameter
        .map_or(0.0, |tip| spot.key("tip_diameter").not_negative(tip))
        / 2.0;
    if tip_radius_mm >= radius_mm {
        let message = "the tip must be narrower than DC; give a smaller `tip_diameter`";
        spot.key("tip_diameter").error(message);
        return None;
    }
    let Some(angle_deg) = file.SIG else {
        spot.error("the code `SIG` is missing; a chamfer mill needs its included angle");
        return None;
    };
    let point_mm = cone_mm(spot, angle_deg, radius_mm - tip_radius_mm)?;
    let edge_mm = file
        .APMX
        .map_or(point_mm, |length| spot.key("APMX").positive(length));
    Some(Cutting {
        radius_mm,
        edge_mm,
        point_mm,
        corner_mm: 0.0,
        tip_radius_mm,
    })
}

fn groove_mill(spot: &Spot<'_>, file: &ToolFile) -> Option<f64> {
    let width_mm = file.CW.map(|width| spot.key("CW").positive(width));
    let edge_mm = file.APMX.map(|length| spot.key("APMX").positive(length));
    if width_mm.or(edge_mm).is_none() {
        spot.error("the code `CW` is missing; a groove mill needs its cutting width (or `APMX`)");
    }
    // The width decides: what is no edge must not pass for one.
    width_mm.or(edge_mm)
}

fn check_corner(spot: &Spot<'_>, file: &ToolFile, cutting: &Cutting) {
    const SAME_MM: f64 = 1.0e-9;
    let Cutting {
        radius_mm,
        edge_mm,
        point_mm,
        corner_mm,
        ..
    } = *cutting;
    if corner_mm > radius_mm + SAME_MM {
        spot.key("RE").error(format!(
            "the corner radius {corner_mm} mm is more than half of DC ({radius_mm} mm); give less"
        ));
    }
    if point_mm > edge_mm + SAME_MM {
        let length = match file.kind {
            ToolKind::Drill | ToolKind::Tap => "LU",
            _ => "APMX",
        };
        spot.key(length).error(format!(
            "the edges are {edge_mm} mm long, but the point, lead or corner alone is {point_mm} \
             mm; give a longer {length}"
        ));
    }
    let ball_differs = |corner: f64| (corner * spot.unit().mm() - radius_mm).abs() > SAME_MM;
    if file.kind == ToolKind::BallMill && file.RE.is_some_and(ball_differs) {
        spot.key("RE").error(format!(
            "the radius of a ball is half of DC, {radius_mm} mm; leave RE out"
        ));
    }
}

/// Codes that mean nothing for a kind are refused: they would be ignored in silence.
fn refuse_foreign_codes(spot: &Spot<'_>, file: &ToolFile) {
    use ToolKind::{BallMill, ChamferMill, CornerRadiusMill, Drill, FaceMill, GrooveMill, Tap};
    let checks: [(&str, bool, &[ToolKind], &str); 6] = [
        (
            "SIG",
            file.SIG.is_some(),
            &[Drill, ChamferMill],
            "drills and chamfer mills",
        ),
        (
            "RE",
            file.RE.is_some_and(|corner| corner != 0.0),
            &[BallMill, CornerRadiusMill, FaceMill],
            "corner radius mills (kind = \"corner-radius-mill\"), ball mills and face mills",
        ),
        ("CW", file.CW.is_some(), &[GrooveMill], "groove mills"),
        ("TP", file.TP.is_some(), &[Tap], "taps"),
        ("tap_lead", file.tap_lead.is_some(), &[Tap], "taps"),
        (
            "tip_diameter",
            file.tip_diameter.is_some(),
            &[ChamferMill],
            "chamfer mills",
        ),
    ];
    for (code, given, kinds, names) in checks {
        if given && !kinds.contains(&file.kind) {
            spot.key(code).error(format!(
                "only {names} have {code}; leave it out or change `kind`"
            ));
        }
    }
}
