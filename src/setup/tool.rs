//! Tool files to checked tools: lengths that must agree, shank and holder.

use super::file::{Reference, ToolFile, ToolKind};
use super::holder::{Holder, holder};
use super::meshes::Store;
use super::model::{Profile, Tool};
use super::profile::{frustum, pieces};
use super::spot::Spot;
use super::tool_form::{Cutting, cutting, thread_depth_mm};

/// Gauge length, stick-out and holder height must agree within this.
const LENGTHS_AGREE_MM: f64 = 0.01;
/// Lengths that are meant to be the same, in two units.
const SAME_MM: f64 = 1.0e-9;
/// Shortest grip in shank diameters where none is stated; common practice, no source.
const GRIP_DIAMETERS: f64 = 2.5;

/// Lengths of a tool from the tip up.
struct Lengths {
    usable_mm: f64,
    stick_out_mm: f64,
    gauge_mm: f64,
    grip_mm: f64,
    bore_mm: Option<f64>,
    overall_mm: Option<f64>,
}

/// Checks and makes a tool.
pub(super) fn tool(spot: &Spot<'_>, file: &ToolFile, store: &Store) -> Option<Tool> {
    spot.key("name").name(&file.name);
    let cutting = cutting(spot, file);
    let shank_mm = file.DMM.map_or(file.DC * spot.unit().mm(), |shank| {
        spot.key("DMM").positive(shank)
    });
    let neck_mm = file.BD.map(|neck| spot.key("BD").positive(neck));
    let holder = holder(spot, file, store);
    let cutting = cutting?;
    let reference_mm = reference_height(spot, file, &cutting);
    let lengths = lengths(
        spot,
        file,
        &cutting,
        reference_mm,
        shank_mm,
        holder.as_ref(),
    );
    let (holder, lengths) = (holder?, lengths?);
    let stick_out_mm = lengths.stick_out_mm;
    let neck_mm = neck_mm.unwrap_or(shank_mm.min(2.0 * cutting.radius_mm));
    let plunges = !matches!(file.kind, ToolKind::FaceMill | ToolKind::GrooveMill);
    let mut tool = Tool {
        number: file.number,
        name: file.name.clone(),
        kind: file.kind,
        diameter_mm: 2.0 * cutting.radius_mm,
        edge_length_mm: 0.0,
        usable_length_mm: lengths.usable_mm,
        shank_diameter_mm: shank_mm,
        neck_diameter_mm: neck_mm,
        overall_length_mm: lengths.overall_mm,
        point_length_mm: cutting.point_mm,
        corner_radius_mm: cutting.corner_mm,
        reference_height_mm: reference_mm,
        plunges: file.plunges.unwrap_or(plunges),
        stick_out_mm,
        gauge_length_mm: lengths.gauge_mm,
        grip_mm: lengths.grip_mm,
        bore_depth_mm: lengths.bore_mm,
        thread_depth_mm: thread_depth_mm(spot, file),
        flutes: Profile::default(),
        neck: Profile::default(),
        shank: Profile::default(),
        holder: holder.cut_at(lengths.gauge_mm - stick_out_mm),
        cutting,
    };
    stand_out(&mut tool, stick_out_mm);
    Some(tool)
}

/// Flutes, neck and shank as far as they stand out of the holder: neck from the edges to LU, shank from there to
/// the holder face.
pub fn stand_out(tool: &mut Tool, stick_out_mm: f64) {
    let edge_mm = tool.cutting.edge_mm.min(stick_out_mm);
    tool.edge_length_mm = edge_mm;
    tool.flutes = profile(tool.cutting.pieces(stick_out_mm));
    let (neck_mm, shank_mm) = (tool.neck_diameter_mm / 2.0, tool.shank_diameter_mm / 2.0);
    [tool.neck, tool.shank] = if tool.neck_diameter_mm == tool.shank_diameter_mm {
        let whole = pieces(&[(neck_mm, edge_mm), (shank_mm, stick_out_mm)]);
        [Vec::new(), whole].map(profile)
    } else {
        let usable_mm = tool
            .usable_length_mm
            .clamp(edge_mm, stick_out_mm.max(edge_mm));
        let neck = frustum((neck_mm, edge_mm), (neck_mm, usable_mm));
        let above = frustum((shank_mm, usable_mm), (shank_mm, stick_out_mm));
        [neck, above].map(|piece| profile(piece.into_iter().collect()))
    };
}

const fn profile(pieces: Vec<super::model::ProfilePiece>) -> Profile {
    Profile {
        pieces,
        chord_allowance_mm: 0.0,
    }
}

fn reference_height(spot: &Spot<'_>, file: &ToolFile, cutting: &Cutting) -> f64 {
    match file.reference {
        Reference::Tip => 0.0,
        Reference::Centre if cutting.corner_mm > 0.0 => cutting.corner_mm,
        Reference::Centre => {
            let message = "this tool has no ball or corner radius with a centre";
            spot.key("reference")
                .error(format!("{message}; write reference = \"tip\""));
            0.0
        }
    }
}

fn lengths(
    spot: &Spot<'_>,
    file: &ToolFile,
    cutting: &Cutting,
    reference_mm: f64,
    shank_mm: f64,
    holder: Option<&Holder>,
) -> Option<Lengths> {
    let usable_mm = file
        .LU
        .map_or(cutting.edge_mm, |length| spot.key("LU").positive(length));
    let overall_mm = file.OAL.map(|length| spot.key("OAL").positive(length));
    let grip_mm = file.grip.map_or(GRIP_DIAMETERS * shank_mm, |grip| {
        spot.key("grip").not_negative(grip)
    });
    let bore_mm = file.LSCX.map(|depth| spot.key("LSCX").positive(depth));
    let stated_mm = file
        .stick_out
        .map(|length| spot.key("stick_out").positive(length));
    // LF counts to the reference point, which may be above the tip.
    let gauge_mm = file
        .LF
        .map(|length| spot.key("LF").positive(length) + reference_mm);
    if cutting.edge_mm > usable_mm + SAME_MM {
        spot.key("LU").error(format!(
            "APMX {} mm is more than LU {usable_mm} mm; the edges end below the usable length",
            cutting.edge_mm
        ));
    }
    if let Some(overall_mm) = overall_mm
        && usable_mm > overall_mm + SAME_MM
    {
        spot.key("OAL").error(format!(
            "LU {usable_mm} mm is more than OAL {overall_mm} mm; give the length of the \
             whole cutter"
        ));
    }
    let (stick_out_mm, gauge_mm) = settle(spot, stated_mm, gauge_mm, holder)?;
    let lengths = Lengths {
        usable_mm,
        stick_out_mm,
        gauge_mm,
        grip_mm,
        bore_mm,
        overall_mm,
    };
    check_bore(spot, &lengths);
    check_stick_out(spot, file, &lengths, cutting);
    Some(lengths)
}

/// Stick-out and gauge length: one from the other over the holder, or both checked.
fn settle(
    spot: &Spot<'_>,
    stick_out_mm: Option<f64>,
    gauge_mm: Option<f64>,
    holder: Option<&Holder>,
) -> Option<(f64, f64)> {
    if stick_out_mm.is_none() && gauge_mm.is_none() {
        spot.error("give `stick_out` or `LF`; without one of them the tool has no length");
        return None;
    }
    let holder = holder?;
    let holder_mm = holder.height_mm();
    let (stick_out_mm, gauge_mm) = match (stick_out_mm, gauge_mm) {
        (Some(stick_out_mm), Some(gauge_mm)) => {
            let sum_mm = stick_out_mm + holder_mm;
            let apart_mm = sum_mm - gauge_mm;
            let mesh_goes_on = holder.is_mesh && apart_mm > LENGTHS_AGREE_MM;
            if mesh_goes_on {
                spot.key("holder_mesh").warn(format!(
                    "the mesh goes on for {apart_mm:.3} mm above the gauge line; that part is \
                     taken to be inside the spindle and left out"
                ));
            } else if apart_mm.abs() > LENGTHS_AGREE_MM {
                spot.key("LF").error(format!(
                    "the gauge length is {gauge_mm} mm to the tip, but stick-out {stick_out_mm} \
                     and holder {holder_mm} make {sum_mm} mm; correct one, or leave one out"
                ));
            }
            (stick_out_mm, gauge_mm)
        }
        (Some(stick_out_mm), None) => (stick_out_mm, stick_out_mm + holder_mm),
        (None, Some(gauge_mm)) => (gauge_mm - holder_mm, gauge_mm),
        (None, None) => return None,
    };
    if stick_out_mm <= 0.0 {
        spot.key("LF").error(format!(
            "the holder is {holder_mm} mm high, more than the gauge length {gauge_mm} mm: nothing \
             would stick out; give a larger LF or the real holder"
        ));
        return None;
    }
    Some((stick_out_mm, gauge_mm))
}

fn check_stick_out(spot: &Spot<'_>, file: &ToolFile, lengths: &Lengths, cutting: &Cutting) {
    let Lengths {
        usable_mm,
        stick_out_mm,
        grip_mm,
        overall_mm,
        ..
    } = *lengths;
    let spot = match file.stick_out {
        Some(_) => spot.key("stick_out"),
        None => spot.key("LF"),
    };
    if cutting.point_mm > stick_out_mm {
        spot.error(format!(
            "the point or corner of {} mm is longer than the stick-out {stick_out_mm} mm; give a \
             longer stick-out",
            cutting.point_mm
        ));
    }
    if usable_mm > stick_out_mm + SAME_MM {
        spot.warn(format!(
            "LU {usable_mm} mm is more than the stick-out {stick_out_mm} mm: the rest stands in \
             the holder and is left out"
        ));
    }
    let Some(overall_mm) = overall_mm else { return };
    let held_mm = overall_mm - stick_out_mm;
    if held_mm < -SAME_MM {
        spot.error(format!(
            "the stick-out {stick_out_mm} mm is more than OAL {overall_mm} mm; give a shorter one \
             or the right OAL"
        ));
    } else if held_mm < grip_mm - SAME_MM {
        let down = |length_mm: f64| (length_mm * 1e3 + 1e-6).floor() / 1e3;
        let (held_mm, most_mm) = (down(held_mm), down(overall_mm - grip_mm));
        let remedy = if most_mm > 0.0 {
            format!("stick out at most {most_mm} mm")
        } else {
            "the cutter is too short for that grip".to_owned()
        };
        spot.warn(format!(
            "the holder grips {held_mm} mm of the shank, less than the {grip_mm} mm wanted: OAL \
             {overall_mm} less stick-out {stick_out_mm}; {remedy}"
        ));
    }
}

/// The bore must hold the grip, and the tool as set must not go through its ground.
fn check_bore(spot: &Spot<'_>, lengths: &Lengths) {
    let Some(bore_mm) = lengths.bore_mm else {
        return;
    };
    let spot = spot.key("LSCX");
    let grip_mm = lengths.grip_mm;
    if bore_mm < grip_mm - SAME_MM {
        spot.error(format!(
            "the bore takes {bore_mm} mm of the shank, less than the grip of {grip_mm} mm; correct \
             one of them"
        ));
    }
    let Some(overall_mm) = lengths.overall_mm else {
        spot.warn("without OAL this says nothing about the stick-out");
        return;
    };
    let held_mm = overall_mm - lengths.stick_out_mm;
    if held_mm > bore_mm + SAME_MM {
        spot.error(format!(
            "{held_mm} mm of the cutter (OAL {overall_mm} less stick-out {}) would stand in a bore of \
             {bore_mm} mm; stick out at least {} mm",
            lengths.stick_out_mm,
            overall_mm - bore_mm
        ));
    }
}
