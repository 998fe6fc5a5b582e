//! The carrier: its sides and its bodies.

use super::file::{CarrierFile, CarrierKind, PadFile, SideOrder};
use super::meshes::{MeshRef, Orders, Store, file_fault, placement};
use super::model::{Carrier, CarrierBody, Form, Machine, Profile};
use super::paths::resolve;
use super::profile::pieces;
use super::spot::{Log, Spot};
use crate::mesh::solids::{Column, SolidError, cuboid};
use crate::mesh::{Mesh, unit_suspicion};
use crate::value::{Pose, Vec3, cos_sin_deg, frame_from_z_and_hint, translation};
use nalgebra::{Matrix3, Point3, Rotation3, Translation3};
use std::sync::Arc;

/// Most sides that a column may have; rounder ones are a slip of the pen.
const MOST_SIDES: u32 = 360;

/// The sizes of a carrier that seats stand on.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sides {
    pub(super) count: u32,
    /// From the rotary axis to a flat.
    pub(super) flat_distance_mm: f64,
    /// Width of a side.
    pub(super) width_mm: f64,
    /// Thickness of the pads.
    pub(super) pad_mm: f64,
    /// From the foot to the end of the column.
    pub(super) top_mm: f64,
    /// Length of the column.
    pub(super) length_mm: f64,
    order: SideOrder,
}

impl Sides {
    /// Turn from a side's frame (z out of the side, y along the rotary axis) to the carrier's.
    pub(super) fn carrier_from_side(&self, side: u32) -> Rotation3<f64> {
        let turned_deg = f64::from(side.saturating_sub(1)) * 360.0 / f64::from(self.count);
        let (cos, sin) = cos_sin_deg(match self.order {
            SideOrder::RightHanded => turned_deg,
            SideOrder::LeftHanded => -turned_deg,
        });
        let z = Vec3::new(cos, sin, 0.0);
        let y = Vec3::z();
        let x = y.cross(&z);
        Rotation3::from_matrix_unchecked(Matrix3::from_columns(&[x, y, z]))
    }
}

/// Orders the carrier's mesh.
pub(super) fn order(spot: &Spot<'_>, file: &CarrierFile, orders: &mut Orders) {
    if let Some(mesh) = &file.mesh {
        orders.add(&spot.key("mesh"), mesh.into());
    }
}

/// Checks the sizes of a carrier; `None` where there are no sides to speak of.
pub(super) fn sides(spot: &Spot<'_>, file: &CarrierFile) -> Option<Sides> {
    spot.key("name").name(&file.name);
    let flat_distance_mm = spot.key("across_flats").positive(file.across_flats) / 2.0;
    let length_mm = spot.key("length").positive(file.length);
    let base_mm = file
        .base_height
        .map_or(0.0, |height| spot.key("base_height").positive(height));
    let pad_mm = file.pads.as_ref().map_or(0.0, |pads| {
        spot.key("pads").key("thickness").positive(pads.thickness)
    });
    if file.base_height.is_some() != file.base_diameter.is_some() {
        spot.error("give `base_height` and `base_diameter` together, or neither");
    }
    let (count, width_mm) = match file.kind {
        CarrierKind::Column => column_sides(spot, file, flat_distance_mm),
        CarrierKind::Plate => plate_sides(spot, file),
    }?;
    // What follows from a bad size is not worth a fault of its own.
    if [flat_distance_mm, length_mm, width_mm]
        .iter()
        .any(|size_mm| *size_mm <= 0.0)
    {
        return None;
    }
    let order = file.side_order;
    let top_mm = base_mm + length_mm;
    Some(Sides {
        count,
        flat_distance_mm,
        width_mm,
        pad_mm,
        top_mm,
        length_mm,
        order,
    })
}

fn column_sides(spot: &Spot<'_>, file: &CarrierFile, flat_mm: f64) -> Option<(u32, f64)> {
    if file.width.is_some() {
        spot.key("width")
            .error("only a plate has a width; give `across_flats` and `sides`");
    }
    match file.sides {
        None => {
            spot.error("the key `sides` is missing; a column needs the number of its sides");
            None
        }
        Some(sides) if !(3..=MOST_SIDES).contains(&sides) => {
            let range = format!("give 3 to {MOST_SIDES}");
            spot.key("sides")
                .error(format!("a column cannot have {sides} sides; {range}"));
            None
        }
        Some(4) => Some((4, 2.0 * flat_mm)),
        Some(sides) => {
            let half_turn = std::f64::consts::PI / f64::from(sides);
            Some((sides, 2.0 * flat_mm * half_turn.tan()))
        }
    }
}

fn plate_sides(spot: &Spot<'_>, file: &CarrierFile) -> Option<(u32, f64)> {
    for (given, key) in [
        (file.bore.is_some(), "bore"),
        (file.edge_chamfer.is_some(), "edge_chamfer"),
    ] {
        if given {
            spot.key(key)
                .error("a plate is a plain block; leave this out or give a `mesh`");
        }
    }
    if let Some(sides) = file.sides
        && sides != 2
    {
        spot.key("sides").error(format!(
            "a plate has 2 sides, not {sides}; leave `sides` out"
        ));
    }
    let Some(width) = file.width else {
        spot.error("the key `width` is missing; a plate needs its width across the rotary axis");
        return None;
    };
    Some((2, spot.key("width").positive(width)))
}

/// Checks and makes the carrier.
pub(super) fn carrier(
    spot: &Spot<'_>,
    file: &CarrierFile,
    sides: &Sides,
    machine: &Machine,
    store: &Store,
    log: &Log,
) -> Option<Carrier> {
    let bodies = match &file.mesh {
        Some(_) => mesh_body(spot, file, sides, store, log)
            .into_iter()
            .collect(),
        None => made_bodies(spot, file, sides),
    };
    let machine_from_carrier_at_zero = stand(spot, file, machine)?;
    Some(Carrier {
        name: file.name.clone(),
        bodies,
        machine_from_carrier_at_zero,
        sides: sides.count,
        density_g_cm3: file
            .density
            .map(|density| spot.key("density").positive_number(density)),
    })
}

/// Where the carrier stands: z along the rotary direction, x where side 1 faces.
fn stand(spot: &Spot<'_>, file: &CarrierFile, machine: &Machine) -> Option<Pose> {
    let rotary = &machine.rotary;
    let foot_mm = spot.key("foot").length(file.foot);
    let faces = match file.side_1_faces {
        Some(direction) => spot.key("side_1_faces").direction(direction)?,
        None => machine.machine_from_spindle_at_zero.rotation * Vec3::z(),
    };
    let Some(rotation) = frame_from_z_and_hint(&rotary.direction, &faces) else {
        spot.key("side_1_faces").error(
            "side 1 cannot face along the rotary axis; give the machine direction that it faces \
             at index 0, square to that axis",
        );
        return None;
    };
    let origin = rotary.centre + rotary.direction * foot_mm;
    Some(Pose::from_parts(
        Translation3::from(origin.coords),
        rotation,
    ))
}

fn mesh_body(
    spot: &Spot<'_>,
    file: &CarrierFile,
    sides: &Sides,
    store: &Store,
    log: &Log,
) -> Option<CarrierBody> {
    let mesh_file = file.mesh.as_ref()?;
    let spot = spot.key("mesh");
    let pose = placement(&spot, &mesh_file.place);
    let mesh = store.get(&spot, MeshRef::from(mesh_file))?;
    let size_mm = sides.top_mm.max(2.0 * sides.flat_distance_mm);
    warn_of_unit(&spot, &mesh_file.file, &mesh, size_mm, log);
    Some(CarrierBody {
        name: "carrier".to_owned(),
        form: Form::Mesh(mesh),
        carrier_from_body: pose?,
    })
}

/// Warns where a mesh is so far off the size expected that its unit may be wrong.
pub(super) fn warn_of_unit(
    spot: &Spot<'_>,
    named: &std::path::Path,
    mesh: &Mesh,
    expected_mm: f64,
    log: &Log,
) {
    if let Some(suspicion) = unit_suspicion(mesh, expected_mm) {
        let path = resolve(spot.file(), named);
        log.push(file_fault(
            &path,
            &suspicion.fault,
            &spot.key("file").cite(),
        ));
    }
}

fn made_bodies(spot: &Spot<'_>, file: &CarrierFile, sides: &Sides) -> Vec<CarrierBody> {
    let mut bodies = Vec::new();
    let base_mm = sides.top_mm - sides.length_mm;
    let main = match file.kind {
        CarrierKind::Column => column(spot, file, sides),
        CarrierKind::Plate => {
            let (x, y) = (sides.flat_distance_mm, sides.width_mm / 2.0);
            cuboid(Point3::new(-x, -y, 0.0), Point3::new(x, y, sides.length_mm))
        }
    };
    let name = match file.kind {
        CarrierKind::Column => "carrier column",
        CarrierKind::Plate => "carrier plate",
    };
    if let Some(form) = solid(spot, main) {
        let up = translation(Vec3::new(0.0, 0.0, base_mm));
        bodies.push(CarrierBody {
            name: name.to_owned(),
            form,
            carrier_from_body: up,
        });
    }
    if let (Some(_), Some(diameter)) = (file.base_height, file.base_diameter) {
        let radius_mm = spot.key("base_diameter").positive(diameter) / 2.0;
        let pieces = pieces(&[(radius_mm, 0.0), (radius_mm, base_mm)]);
        bodies.push(CarrierBody {
            name: "carrier base".to_owned(),
            form: Form::Revolved(Arc::new(Profile {
                pieces,
                chord_allowance_mm: 0.0,
            })),
            carrier_from_body: Pose::identity(),
        });
    }
    if let Some(pads) = &file.pads {
        bodies.extend(pad_bodies(&spot.key("pads"), pads, sides));
    }
    bodies
}

fn column(spot: &Spot<'_>, file: &CarrierFile, sides: &Sides) -> Result<Mesh, SolidError> {
    Column {
        sides: sides.count,
        flat_distance_mm: sides.flat_distance_mm,
        length_mm: sides.length_mm,
        edge_chamfer_mm: file.edge_chamfer.map_or(0.0, |chamfer| {
            spot.key("edge_chamfer").not_negative(chamfer)
        }),
        bore_diameter_mm: file.bore.map(|bore| spot.key("bore").positive(bore)),
    }
    .mesh()
}

fn pad_bodies(spot: &Spot<'_>, pads: &PadFile, sides: &Sides) -> Vec<CarrierBody> {
    let half_mm = spot.key("width").positive(pads.width) / 2.0;
    if half_mm > sides.width_mm / 2.0 + 1.0e-9 {
        spot.key("width").error(format!(
            "the pads are {} mm wide, but a side only {} mm; give less",
            2.0 * half_mm,
            sides.width_mm
        ));
    }
    let flat_mm = sides.flat_distance_mm;
    let low = Point3::new(-half_mm, sides.top_mm - sides.length_mm, flat_mm);
    let high = Point3::new(half_mm, sides.top_mm, flat_mm + sides.pad_mm);
    let Some(form) = solid(spot, cuboid(low, high)) else {
        return Vec::new();
    };
    let pad = |side: u32| CarrierBody {
        name: format!("carrier pad {side}"),
        form: form.clone(),
        carrier_from_body: Pose::from_parts(
            Translation3::identity(),
            sides.carrier_from_side(side),
        ),
    };
    (1..=sides.count).map(pad).collect()
}

fn solid(spot: &Spot<'_>, made: Result<Mesh, SolidError>) -> Option<Form> {
    match made {
        Ok(mesh) => Some(Form::Mesh(Arc::new(mesh))),
        // Sizes below zero are in the log by themselves.
        Err(SolidError::BadSize | SolidError::EmptyBox) => None,
        Err(error) => {
            spot.error(format!("{error}; change the sizes or give a `mesh`"));
            None
        }
    }
}
