//! The section through the tool axis and two nearest points.

use super::model::{DrawnBody, DrawnElement, Extent, GapDrawing, View, ViewAxis};
use super::moment::{self, Stood};
use crate::answer::check::model::{
    CutAnswer, Element, IndexMoveAnswer, Measured, Place, ToolChangeAnswer, Trouble,
};
use crate::answer::scene::Scene;
use crate::gap::{CannotAsk, Outline, Placed, section};
use crate::setup::model::{Cut, LinearAxis, Setup, Tool};
use crate::value::{Pose, Vec3};
use nalgebra::{Matrix3, Point3, Rotation3, Translation3};

/// Round bodies are drawn by chords no farther off than this: below what a screen shows.
pub(super) const CHORD_MM: f64 = 0.002;

/// The tool axis counts as in the plane where it is no farther from it than this. Nearest points
/// of a round element lie in a plane with the axis but for the search's tolerance.
const OFF_AXIS_MM: f64 = 0.02;

/// Two points nearer than this give no direction.
const APART_MM: f64 = 1e-4;

/// What is known about a place beside what was measured there.
#[derive(Debug, Clone, Copy)]
pub(super) struct About<'s> {
    /// The cut that the parts' states follow from.
    pub cut: Option<usize>,
    /// The seat whose part is cut.
    pub seat: Option<usize>,
    /// The tool in the spindle.
    pub tool: Option<&'s Tool>,
}

impl<'s> About<'s> {
    fn new(setup: &'s Setup, cut: Option<&str>, seat: Option<&str>, tool: Option<u32>) -> Self {
        Self {
            cut: cut.and_then(|name| setup.cuts.iter().position(|cut| cut.name == name)),
            seat: seat.and_then(|name| setup.seats.iter().position(|seat| seat.name == name)),
            tool: tool.and_then(|number| setup.tools.iter().find(|tool| tool.number == number)),
        }
    }

    /// The worst place of a trouble.
    pub(super) fn trouble(setup: &'s Setup, trouble: &Trouble) -> Self {
        let (cut, seat) = (trouble.cut.as_deref(), trouble.seat.as_deref());
        Self::new(setup, cut, seat, trouble.tool)
    }

    /// A cut.
    pub(super) fn cut(setup: &'s Setup, cut: &CutAnswer) -> Self {
        Self::new(setup, Some(&cut.cut), Some(&cut.seat), Some(cut.tool))
    }

    /// An index move: parts stand as they do before the cut that comes next.
    pub(super) fn index_move(setup: &'s Setup, step: &IndexMoveAnswer) -> Self {
        Self::new(setup, Some(&step.before), None, Some(step.tool))
    }

    /// A tool change: parts stand as they do before the first cut of the tool.
    pub(super) fn tool_change(setup: &'s Setup, change: &ToolChangeAnswer) -> Self {
        let about = Self::new(setup, None, None, Some(change.tool));
        let mine = |cut: &Cut| setup.tools[cut.tool].number == change.tool;
        Self {
            cut: setup.cuts.iter().position(mine),
            ..about
        }
    }
}

/// Draws a place; `None` where no two points were found.
pub(super) fn draw(
    scene: &Scene<'_>,
    measured: &Measured,
    about: &About<'_>,
) -> Result<Option<GapDrawing>, CannotAsk> {
    let Some(place) = &measured.place else {
        return Ok(None);
    };
    let common_from_plane = plane(scene, measured, place);
    let plane_from_common = common_from_plane.inverse();
    let flat = |point_mm: [f64; 3]| {
        let point = plane_from_common * Point3::from(point_mm);
        [point.x, point.y]
    };
    let points_mm = [flat(place.tool_mm), flat(place.machine_mm)];
    let elements = elements(scene, measured, place, about, &plane_from_common)?;
    let close = close_to(points_mm);
    let whole = whole(&elements, points_mm, &close);
    let near = grown(&whole, 1.0);
    let stood = moment::bodies(scene, measured, place, about)?;
    let bodies = stood
        .iter()
        .filter_map(|body| drawn(body, &plane_from_common, &near, measured))
        .collect();
    let off_axis = place.tip_mm.map(|tip_mm| {
        let off_mm = (plane_from_common * Point3::from(tip_mm)).z;
        if off_mm.abs() < OFF_AXIS_MM {
            0.0
        } else {
            off_mm.abs()
        }
    });
    Ok(Some(GapDrawing {
        view: view(&common_from_plane),
        off_axis_mm: off_axis,
        measured: measured.clone(),
        overlap_mm: place.overlap_mm,
        angle_deg: place.angle_deg,
        elements,
        bodies,
        points_mm,
        axes: view_axes(&scene.setup.machine.axes, &common_from_plane),
        whole,
        close,
    }))
}

/// The plane: up toward the spindle, through both points; through the tool axis too wherever the
/// points let it.
fn plane(scene: &Scene<'_>, measured: &Measured, place: &Place) -> Pose {
    let of_tool = !matches!(measured.element, Element::Work | Element::Bed);
    let [on_tool, on_body] = [place.tool_mm, place.machine_mm].map(Point3::from);
    let spindle = scene.kinematics.spindle();
    let rotary = &scene.setup.machine.rotary;
    let (up, foot) = match place.tip_mm {
        Some(tip_mm) if of_tool => (spindle, Point3::from(tip_mm)),
        _ => (rotary.direction, rotary.centre),
    };
    let across = |v: Vec3| v - up * up.dot(&v);
    let to_body = across(on_body - foot);
    // Radially through the body's point, if the other point is then in the plane as well.
    let radial = to_body.try_normalize(APART_MM);
    let in_plane = |right: &Vec3| {
        let normal = right.cross(&up);
        normal.dot(&(on_tool - on_body)).abs() <= APART_MM.max(0.001 * (on_tool - on_body).norm())
    };
    let right = radial
        .filter(in_plane)
        .or_else(|| across(on_body - on_tool).try_normalize(APART_MM))
        .or(radial)
        .or_else(|| across(Vec3::x()).try_normalize(1e-6))
        .or_else(|| across(Vec3::y()).try_normalize(1e-6))
        .unwrap_or_else(Vec3::x);
    // Seen from the side that shows the machine axis that it follows most to the right.
    let right = if right[right.iamax()] < 0.0 {
        -right
    } else {
        right
    };
    let toward = right.cross(&up);
    let rotation = Rotation3::from_matrix_unchecked(Matrix3::from_columns(&[right, up, toward]));
    // The origin goes to the tool axis (or the rotary axis), as seen along the normal.
    let origin = foot + toward * toward.dot(&(on_body - foot));
    Pose::from_parts(Translation3::from(origin.coords), rotation)
}

pub(super) fn view(common_from_plane: &Pose) -> View {
    let rotation = common_from_plane.rotation;
    View {
        origin_mm: common_from_plane.translation.vector.into(),
        right: (rotation * Vec3::x()).into(),
        up: (rotation * Vec3::y()).into(),
    }
}

pub(super) fn view_axes(axes: &[LinearAxis; 3], common_from_plane: &Pose) -> [ViewAxis; 3] {
    let plane_from_common = common_from_plane.rotation.inverse();
    axes.each_ref().map(|axis| {
        let seen = plane_from_common * axis.direction;
        ViewAxis {
            name: axis.name.clone(),
            along: [seen.x, seen.y],
            toward_eye: seen.z,
        }
    })
}

fn elements(
    scene: &Scene<'_>,
    measured: &Measured,
    place: &Place,
    about: &About<'_>,
    plane_from_common: &Pose,
) -> Result<Vec<DrawnElement>, CannotAsk> {
    let (Some(tip_mm), Some(tool)) = (place.tip_mm, about.tool) else {
        return Ok(Vec::new());
    };
    let table_from_tool = scene.kinematics.table_from_tool(Point3::from(tip_mm));
    let mut drawn = Vec::new();
    for element in scene.tool_elements(tool)? {
        let body = Placed {
            shape: element.shape,
            common_from_body: table_from_tool * element.tool_from_body,
        };
        let outlines = section(&body, plane_from_common, CHORD_MM);
        if !outlines.is_empty() {
            drawn.push(DrawnElement {
                element: element.element,
                nearest: element.name == measured.element_body,
                name: element.name,
                outlines,
            });
        }
    }
    Ok(drawn)
}

fn drawn(
    body: &Stood,
    plane_from_common: &Pose,
    near: &Extent,
    measured: &Measured,
) -> Option<DrawnBody> {
    let mut outlines = section(&body.placed, plane_from_common, CHORD_MM);
    outlines.retain(|line| extent_of(&line.points_mm).is_some_and(|extent| meets(&extent, near)));
    // A hole whose rim reaches in while its body does not cannot be: the body surrounds it.
    (!outlines.is_empty()).then(|| DrawnBody {
        name: body.name.clone(),
        kind: body.kind,
        outlines,
        nearest: body.name == measured.body || body.name == measured.element_body,
    })
}

/// A square about the gap (or overlap) that leaves it a third of its width, but no finer than 8 mm.
fn close_to([a, b]: [[f64; 2]; 2]) -> Extent {
    let apart_mm = (b[0] - a[0]).hypot(b[1] - a[1]);
    let half_mm = (1.5 * apart_mm).max(4.0);
    let middle = [0, 1].map(|i: usize| (a[i] + b[i]) / 2.0);
    Extent {
        low_mm: middle.map(|part| part - half_mm),
        high_mm: middle.map(|part| part + half_mm),
    }
}

/// Cutter and holder with some room, and both points.
fn whole(elements: &[DrawnElement], points_mm: [[f64; 2]; 2], close: &Extent) -> Extent {
    let turning = |element: &&DrawnElement| {
        matches!(
            element.element,
            Element::Flutes | Element::Neck | Element::Shank | Element::Holder
        )
    };
    let lines = elements.iter().filter(turning).flat_map(|e| &e.outlines);
    let points = lines.flat_map(|line| line.points_mm.iter().copied());
    let corners = [close.low_mm, close.high_mm];
    let all: Vec<[f64; 2]> = points.chain(points_mm).chain(corners).collect();
    let extent = extent_of(&all).unwrap_or(*close);
    let room = if elements.is_empty() { 1.0 } else { 0.12 };
    grown(&extent, room)
}

fn extent_of(points_mm: &[[f64; 2]]) -> Option<Extent> {
    let first = *points_mm.first()?;
    let start = Extent {
        low_mm: first,
        high_mm: first,
    };
    let wider = |extent: Extent, point: &[f64; 2]| Extent {
        low_mm: [0, 1].map(|i: usize| extent.low_mm[i].min(point[i])),
        high_mm: [0, 1].map(|i: usize| extent.high_mm[i].max(point[i])),
    };
    Some(points_mm.iter().fold(start, wider))
}

/// Grown on every side by a share of its larger size.
fn grown(extent: &Extent, share: f64) -> Extent {
    let size = [0, 1].map(|i: usize| extent.high_mm[i] - extent.low_mm[i]);
    let room_mm = size[0].max(size[1]) * share;
    Extent {
        low_mm: extent.low_mm.map(|part| part - room_mm),
        high_mm: extent.high_mm.map(|part| part + room_mm),
    }
}

fn meets(a: &Extent, b: &Extent) -> bool {
    (0..2).all(|i| a.low_mm[i] <= b.high_mm[i] && b.low_mm[i] <= a.high_mm[i])
}

/// The radius about the origin that holds some lines.
pub(super) fn radius_mm(outlines: &[Outline]) -> f64 {
    let points = outlines.iter().flat_map(|line| &line.points_mm);
    points.map(|[x, y]| x.hypot(*y)).fold(0.0, f64::max)
}
