//! Features into their own frames, with the checks of their sizes.

use super::bodies::square_hint;
use super::file::{Direction, FeatureFile, MoveFile, OpenSide};
use super::model::{Feature, FeatureForm, Tool};
use super::spot::Spot;
use crate::value::{Pose, Vec3, frame_from_z_and_hint};
use nalgebra::{Point3, Rotation3, Translation3};

/// Points of a slot or contour count as one plane within this.
const ONE_PLANE_MM: f64 = 0.001;
/// Points nearer than this to each other are one point.
const ONE_POINT_MM: f64 = 1.0e-6;
/// How much wider than its slot a cutter may be by rounding.
const SAME_MM: f64 = 1.0e-9;

/// Checks and makes a feature for the tool that cuts it.
///
/// A feature of the part's mesh has been looked up before and stands here as what it is.
pub(super) fn feature(spot: &Spot<'_>, file: &FeatureFile, tool: Option<&Tool>) -> Option<Feature> {
    match file {
        FeatureFile::FromMesh { .. } => None,
        FeatureFile::RoundHole { .. } => round_hole(spot, file, tool),
        FeatureFile::PlanarFace { .. } => planar_face(spot, file),
        FeatureFile::Pocket { .. } => pocket(spot, file, tool),
        FeatureFile::RoundPocket { .. } => round_pocket(spot, file, tool),
        FeatureFile::Slot { .. } => slot(spot, file, tool),
        FeatureFile::Step { .. } => step(spot, file),
        FeatureFile::Profile { .. } => profile(spot, file),
        FeatureFile::Path { access, moves } => path(spot, *access, moves, tool),
    }
}

fn planar_face(spot: &Spot<'_>, file: &FeatureFile) -> Option<Feature> {
    let FeatureFile::PlanarFace {
        at,
        access,
        along,
        length,
        width,
        overhang,
        run_out,
    } = file
    else {
        return None;
    };
    let frame = frame_along(spot, *at, *access, *along);
    let form = FeatureForm::PlanarFace {
        length_mm: spot.key("length").positive(*length),
        width_mm: spot.key("width").positive(*width),
        overhang_mm: spot.key("overhang").not_negative(*overhang),
        run_out_mm: run_out.map(|run_out| spot.key("run_out").not_negative(run_out)),
    };
    Some(Feature {
        part_from_feature: frame?,
        form,
    })
}

fn round_pocket(spot: &Spot<'_>, file: &FeatureFile, tool: Option<&Tool>) -> Option<Feature> {
    let FeatureFile::RoundPocket {
        at,
        access,
        diameter,
        depth,
        stock_left,
    } = file
    else {
        return None;
    };
    let rotation = rotation_across(spot, *access);
    let origin = spot.key("at").point(*at);
    let diameter_mm = spot.key("diameter").positive(*diameter);
    let depth_mm = spot.key("depth").positive(*depth);
    let stock_left_mm = spot.key("stock_left").not_negative(*stock_left);
    let room_mm = diameter_mm - 2.0 * stock_left_mm;
    fits(&spot.key("diameter"), room_mm, tool);
    let form = FeatureForm::RoundPocket {
        diameter_mm,
        depth_mm,
        stock_left_mm,
    };
    Some(Feature {
        part_from_feature: pose(origin, rotation?),
        form,
    })
}

fn slot(spot: &Spot<'_>, file: &FeatureFile, tool: Option<&Tool>) -> Option<Feature> {
    let FeatureFile::Slot {
        points,
        closed,
        access,
        width,
        depth,
    } = file
    else {
        return None;
    };
    let contour = contour(spot, points, *closed, *access);
    let width_mm = width.map(|width| spot.key("width").positive(width));
    if let Some(width_mm) = width_mm {
        fits(&spot.key("width"), width_mm, tool);
    }
    let depth_mm = spot.key("depth").positive(*depth);
    let (part_from_feature, points_mm) = contour?;
    let form = FeatureForm::Slot {
        points_mm,
        closed: *closed,
        width_mm,
        depth_mm,
    };
    Some(Feature {
        part_from_feature,
        form,
    })
}

fn profile(spot: &Spot<'_>, file: &FeatureFile) -> Option<Feature> {
    let FeatureFile::Profile {
        points,
        closed,
        access,
        side,
        offset,
        depth,
    } = file
    else {
        return None;
    };
    let contour = contour(spot, points, *closed, *access);
    let offset_mm = offset.map(|offset| spot.key("offset").not_negative(offset));
    let depth_mm = spot.key("depth").not_negative(*depth);
    let (part_from_feature, points_mm) = contour?;
    let (closed, side) = (*closed, *side);
    let form = FeatureForm::Profile {
        points_mm,
        closed,
        side,
        offset_mm,
        depth_mm,
    };
    Some(Feature {
        part_from_feature,
        form,
    })
}

fn round_hole(spot: &Spot<'_>, file: &FeatureFile, tool: Option<&Tool>) -> Option<Feature> {
    let FeatureFile::RoundHole {
        at,
        access,
        depth,
        depth_to,
        break_through,
    } = file
    else {
        return None;
    };
    let rotation = rotation_across(spot, *access);
    let depth_mm = spot.key("depth").positive(*depth);
    let break_through_mm = spot.key("break_through").not_negative(*break_through);
    let list = spot.key("at");
    let openings: Vec<Point3<f64>> = at
        .iter()
        .enumerate()
        .map(|(index, point)| list.item(index).point(*point))
        .collect();
    let Some(first) = openings.first() else {
        list.error("there is no hole; give the centre of at least one opening");
        return None;
    };
    let frame = pose(*first, rotation?);
    let in_feature = frame.inverse();
    let centres_mm = openings
        .iter()
        .map(|point| (in_feature * *point).into())
        .collect();
    warn_of_depth(spot, tool, depth_mm, break_through_mm, *depth_to);
    let form = FeatureForm::RoundHole {
        centres_mm,
        depth_mm,
        depth_to: *depth_to,
        break_through_mm,
    };
    Some(Feature {
        part_from_feature: frame,
        form,
    })
}

/// A hole deeper than the usable length of its drill or tap takes the shank into the hole.
fn warn_of_depth(
    spot: &Spot<'_>,
    tool: Option<&Tool>,
    depth_mm: f64,
    break_through_mm: f64,
    depth_to: super::file::DepthTo,
) {
    use super::file::{DepthTo, ToolKind};
    let Some(tool) = tool else { return };
    let point_mm = match depth_to {
        DepthTo::FullDiameter => tool.point_length_mm,
        DepthTo::Tip => 0.0,
    };
    let tip_mm = depth_mm + break_through_mm + point_mm;
    let usable_mm = tool.usable_length_mm;
    if matches!(tool.kind, ToolKind::Drill | ToolKind::Tap) && tip_mm > usable_mm + SAME_MM {
        spot.key("depth").warn(format!(
            "the tip of T{} goes {tip_mm:.3} mm deep, more than its LU of {usable_mm} mm: the \
             shank follows into the hole; take a longer tool or give the right LU",
            tool.number
        ));
    }
}

fn pocket(spot: &Spot<'_>, file: &FeatureFile, tool: Option<&Tool>) -> Option<Feature> {
    let FeatureFile::Pocket {
        at,
        access,
        along,
        length,
        width,
        corner_radius,
        depth,
        open,
        stock_left,
    } = file
    else {
        return None;
    };
    let frame = frame_along(spot, *at, *access, *along);
    let length_mm = spot.key("length").positive(*length);
    let width_mm = spot.key("width").positive(*width);
    let corner_radius_mm = spot.key("corner_radius").not_negative(*corner_radius);
    let stock_left_mm = spot.key("stock_left").not_negative(*stock_left);
    let is_open = |side: OpenSide| open.contains(&side);
    let open = [
        is_open(OpenSide::PlusAlong),
        is_open(OpenSide::MinusAlong),
        is_open(OpenSide::PlusAcross),
        is_open(OpenSide::MinusAcross),
    ];
    let narrow_mm = length_mm.min(width_mm);
    if corner_radius_mm > narrow_mm / 2.0 + SAME_MM {
        spot.key("corner_radius").error(format!(
            "the corners of {corner_radius_mm} mm do not fit a pocket {narrow_mm} mm wide; give at \
             most half of that"
        ));
    }
    for (key, extent_mm, walls) in [
        ("length", length_mm, [open[0], open[1]]),
        ("width", width_mm, [open[2], open[3]]),
    ] {
        if walls == [false, false] {
            fits(&spot.key(key), extent_mm - 2.0 * stock_left_mm, tool);
        }
    }
    let form = FeatureForm::Pocket {
        length_mm,
        width_mm,
        corner_radius_mm,
        depth_mm: spot.key("depth").positive(*depth),
        open,
        stock_left_mm,
    };
    Some(Feature {
        part_from_feature: frame?,
        form,
    })
}

/// A step is a pocket with one wall, at -y.
fn step(spot: &Spot<'_>, file: &FeatureFile) -> Option<Feature> {
    let FeatureFile::Step {
        at,
        access,
        along,
        length,
        width,
        depth,
    } = file
    else {
        return None;
    };
    let part_from_wall = frame_along(spot, *at, *access, *along);
    let length_mm = spot.key("length").positive(*length);
    let width_mm = spot.key("width").positive(*width);
    let form = FeatureForm::Pocket {
        length_mm,
        width_mm,
        corner_radius_mm: 0.0,
        depth_mm: spot.key("depth").positive(*depth),
        open: [true, true, true, false],
        stock_left_mm: 0.0,
    };
    let wall_from_feature = crate::value::translation(Vec3::new(0.0, width_mm / 2.0, 0.0));
    Some(Feature {
        part_from_feature: part_from_wall? * wall_from_feature,
        form,
    })
}

/// A path; its opening is taken at the first position, so planes count from there.
fn path(
    spot: &Spot<'_>,
    access: Direction,
    moves: &[MoveFile],
    tool: Option<&Tool>,
) -> Option<Feature> {
    let rotation = rotation_across(spot, access);
    let list = spot.key("moves");
    let positions: Vec<Point3<f64>> = moves
        .iter()
        .enumerate()
        .map(|(index, step)| list.item(index).key("to").point(step.to))
        .collect();
    if positions.len() < 2 {
        list.error("a path needs two positions or more");
        return None;
    }
    let frame = pose(positions[0], rotation?);
    let in_feature = frame.inverse();
    let to_feature =
        |(position, step): (&Point3<f64>, &MoveFile)| ((in_feature * *position).into(), step.rapid);
    let moves_mm = positions.iter().zip(moves).map(to_feature).collect();
    let centre = tool.is_some_and(|tool| tool.reference_height_mm > 0.0);
    let reference = if centre {
        super::file::Reference::Centre
    } else {
        super::file::Reference::Tip
    };
    Some(Feature {
        part_from_feature: frame,
        form: FeatureForm::Path {
            moves_mm,
            reference,
        },
    })
}

fn fits(spot: &Spot<'_>, room_mm: f64, tool: Option<&Tool>) {
    if let Some(tool) = tool
        && tool.diameter_mm > room_mm + SAME_MM
    {
        spot.error(format!(
            "the cutter T{} is {} mm wide, but between the walls there are only {room_mm} mm; take \
             a smaller cutter",
            tool.number, tool.diameter_mm
        ));
    }
}

fn pose(origin: Point3<f64>, rotation: Rotation3<f64>) -> Pose {
    Pose::from_parts(Translation3::from(origin.coords), rotation)
}

/// z along the access direction; x is free and taken near a coordinate axis.
fn rotation_across(spot: &Spot<'_>, access: Direction) -> Option<Rotation3<f64>> {
    let z = spot.key("access").direction(access)?;
    frame_from_z_and_hint(&z, &square_hint(&z))
}

fn frame_along(spot: &Spot<'_>, at: [f64; 3], access: Direction, along: Direction) -> Option<Pose> {
    let origin = spot.key("at").point(at);
    let z = spot.key("access").direction(access);
    let x = spot.key("along").direction(along);
    let Some(rotation) = frame_from_z_and_hint(&z?, &x?) else {
        spot.key("along")
            .error("`along` is parallel to `access`; give a direction across the access direction");
        return None;
    };
    Some(pose(origin, rotation))
}

/// Points in the plane of the opening.
fn contour(
    spot: &Spot<'_>,
    points: &[[f64; 3]],
    closed: bool,
    access: Direction,
) -> Option<(Pose, Vec<[f64; 2]>)> {
    let rotation = rotation_across(spot, access);
    let list = spot.key("points");
    let points: Vec<Point3<f64>> = points
        .iter()
        .enumerate()
        .map(|(index, point)| list.item(index).point(*point))
        .collect();
    let fewest = if closed { 3 } else { 2 };
    if points.len() < fewest {
        let count = points.len();
        list.error(format!("there are {count} points; give {fewest} or more"));
        return None;
    }
    let frame = pose(points[0], rotation?);
    let in_feature = frame.inverse();
    let local: Vec<Point3<f64>> = points.iter().map(|point| in_feature * *point).collect();
    for (index, point) in local.iter().enumerate() {
        if point.z.abs() > ONE_PLANE_MM {
            list.item(index).error(format!(
                "this point is {:.4} mm off the plane through the first one across `access`; bring \
                 all points into one plane",
                point.z
            ));
        }
        let next = match local.get(index + 1) {
            Some(next) => next,
            None if closed => &local[0],
            None => continue,
        };
        if (next - point).norm() < ONE_POINT_MM {
            let remedy = if index + 1 == local.len() {
                "leave the last one out, `closed` joins it to the first"
            } else {
                "remove one"
            };
            list.item(index)
                .error(format!("this point and the next are one; {remedy}"));
        }
    }
    Some((
        frame,
        local.iter().map(|point| [point.x, point.y]).collect(),
    ))
}
