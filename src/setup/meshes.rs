//! The mesh files that a job names: each read once, all at the same time, shared by their users.

use super::fault::{FileFault, Severity};
use super::file::{CarrierMeshFile, HolderMeshFile, PlacementFile, StateFile};
use super::load::{Source, SourceFile};
use super::paths::resolve;
use super::spot::{FARTHEST_MM, Log, Spot};
use crate::mesh::{self, Mesh, MeshFault, Place, ReadOptions, read_stl};
use crate::value::{Pose, Unit, frame_from_z_and_hint, translation};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// A mesh as a file names it.
#[derive(Debug, Clone, Copy)]
pub(super) struct MeshRef<'a> {
    pub(super) file: &'a Path,
    pub(super) mesh_units: Option<Unit>,
    pub(super) chord_allowance: Option<f64>,
}

impl<'a> From<&'a CarrierMeshFile> for MeshRef<'a> {
    fn from(file: &'a CarrierMeshFile) -> Self {
        let CarrierMeshFile {
            file,
            mesh_units,
            chord_allowance,
            ..
        } = file;
        Self {
            file,
            mesh_units: *mesh_units,
            chord_allowance: *chord_allowance,
        }
    }
}

impl<'a> From<&'a HolderMeshFile> for MeshRef<'a> {
    fn from(file: &'a HolderMeshFile) -> Self {
        let HolderMeshFile {
            file,
            mesh_units,
            chord_allowance,
            ..
        } = file;
        Self {
            file,
            mesh_units: *mesh_units,
            chord_allowance: *chord_allowance,
        }
    }
}

impl<'a> MeshRef<'a> {
    /// The mesh of a state; `None` for a block of stock.
    pub(super) fn of_state(state: &'a StateFile) -> Option<Self> {
        let file = state.file.as_deref()?;
        let StateFile {
            mesh_units,
            chord_allowance,
            ..
        } = state;
        Some(Self {
            file,
            mesh_units: *mesh_units,
            chord_allowance: *chord_allowance,
        })
    }

    /// Key of the mesh among all that are read.
    fn key(&self, spot: &Spot<'_>) -> MeshKey {
        let chord_mm = self.chord_allowance.map(|chord| chord * spot.unit().mm());
        MeshKey {
            path: resolve(spot.file(), self.file),
            mm_per_unit_bits: self.mesh_units.unwrap_or(spot.unit()).mm().to_bits(),
            chord_mm_bits: chord_mm.map(f64::to_bits),
        }
    }
}

#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct MeshKey {
    path: PathBuf,
    mm_per_unit_bits: u64,
    chord_mm_bits: Option<u64>,
}

/// What is to be read.
#[derive(Debug, Default)]
pub(super) struct Orders(BTreeMap<MeshKey, Order>);

/// Who named a mesh first: for the fault where it cannot be read.
#[derive(Debug)]
struct Order {
    cite: String,
    named_in: PathBuf,
    named_at_line: Option<usize>,
    toml_path: String,
}

/// The meshes that could be read.
#[derive(Debug, Default)]
pub(super) struct Store {
    read: BTreeMap<MeshKey, Arc<Mesh>>,
    placed: std::cell::RefCell<Vec<(MeshKey, Pose, Arc<Mesh>)>>,
}

impl Orders {
    /// Adds a mesh; `spot` is the table that names it.
    pub(super) fn add(&mut self, spot: &Spot<'_>, mesh: MeshRef<'_>) {
        if let Some(chord) = mesh.chord_allowance {
            let spot = spot.key("chord_allowance");
            let chord_mm = spot.not_negative(chord);
            if !(0.0..=FARTHEST_MM).contains(&chord_mm) {
                return;
            }
        }
        let place = spot.key("file");
        self.0.entry(mesh.key(spot)).or_insert_with(|| Order {
            cite: place.cite(),
            named_in: place.file().to_owned(),
            named_at_line: Some(place.line()),
            toml_path: place.path(),
        });
    }

    /// Reads all of them, notes their faults, and lists the files.
    pub(super) fn read(
        self,
        source: &dyn Source,
        log: &Log,
        sources: &mut Vec<SourceFile>,
    ) -> Store {
        let mut of_file: BTreeMap<PathBuf, Vec<(MeshKey, Order)>> = BTreeMap::new();
        for (key, order) in self.0 {
            of_file
                .entry(key.path.clone())
                .or_default()
                .push((key, order));
        }
        let files: Vec<_> = of_file.into_iter().collect();
        let results: Vec<_> = files
            .par_iter()
            .map(|(path, orders)| read_file(path, orders, source))
            .collect();
        let mut store = Store::default();
        for (read, meshes, faults) in results {
            log.extend(faults);
            store.read.extend(meshes);
            sources.extend(read);
        }
        store
    }
}

type FileResult = (
    Option<SourceFile>,
    Vec<(MeshKey, Arc<Mesh>)>,
    Vec<FileFault>,
);

fn read_file(path: &Path, orders: &[(MeshKey, Order)], source: &dyn Source) -> FileResult {
    let bytes = match source.read(path) {
        Ok(bytes) => bytes,
        Err(error) => {
            let unreadable = |(_, order): &(MeshKey, Order)| FileFault {
                file: order.named_in.clone(),
                line: order.named_at_line,
                severity: Severity::Error,
                message: format!(
                    "`{}`: cannot read {}: {error}; paths count from the file that names them",
                    order.toml_path,
                    path.display()
                ),
            };
            return (None, Vec::new(), orders.iter().map(unreadable).collect());
        }
    };
    let (mut meshes, mut faults) = (Vec::new(), Vec::new());
    for (key, order) in orders {
        let options = ReadOptions {
            chord_allowance_mm: key.chord_mm_bits.map(f64::from_bits),
            ..ReadOptions::new(f64::from_bits(key.mm_per_unit_bits))
        };
        let found = match read_stl(&bytes, &options) {
            Ok(read) => {
                meshes.push((key.clone(), Arc::new(read.mesh)));
                read.faults
            }
            Err(error) => error.faults,
        };
        faults.extend(
            found
                .iter()
                .map(|fault| file_fault(path, fault, &order.cite)),
        );
    }
    let read = SourceFile::new(path.to_owned(), &bytes);
    (Some(read), meshes, faults)
}

/// A fault of a mesh as one of a file.
pub(super) fn file_fault(path: &Path, fault: &MeshFault, cite: &str) -> FileFault {
    let severity = match fault.severity {
        mesh::Severity::Error => Severity::Error,
        mesh::Severity::Warning => Severity::Warning,
    };
    let line = match fault.place {
        Place::Line(line) => usize::try_from(line).ok(),
        _ => None,
    };
    let place = match fault.place {
        Place::File | Place::Line(_) => String::new(),
        place => format!("{place}: "),
    };
    let more = match fault.further {
        0 => String::new(),
        further => format!(" (and {further} more of this kind)"),
    };
    let MeshFault {
        message,
        means,
        remedy,
        ..
    } = fault;
    FileFault {
        file: path.to_owned(),
        line,
        severity,
        message: format!("{place}{message}{more}; {means}; {remedy} (named at {cite})"),
    }
}

impl Store {
    /// The mesh as modelled; `None` where it could not be read, which is in the log already.
    pub(super) fn get(&self, spot: &Spot<'_>, mesh: MeshRef<'_>) -> Option<Arc<Mesh>> {
        self.read.get(&mesh.key(spot)).cloned()
    }

    /// The mesh in its place; users of one mesh in one place share it.
    pub(super) fn get_placed(
        &self,
        spot: &Spot<'_>,
        mesh: MeshRef<'_>,
        pose: &Pose,
    ) -> Option<Arc<Mesh>> {
        let as_modelled = self.get(spot, mesh)?;
        if *pose == Pose::identity() {
            return Some(as_modelled);
        }
        let key = mesh.key(spot);
        let mut placed = self.placed.borrow_mut();
        if let Some((_, _, mesh)) = placed.iter().find(|(k, p, _)| *k == key && p == pose) {
            return Some(Arc::clone(mesh));
        }
        let moved = Arc::new(moved(&as_modelled, pose));
        placed.push((key, *pose, Arc::clone(&moved)));
        Some(moved)
    }
}

/// A mesh under a rigid pose: the same triangles, shells and volumes.
fn moved(mesh: &Mesh, pose: &Pose) -> Mesh {
    let mut moved = mesh.clone();
    moved
        .vertices
        .iter_mut()
        .for_each(|vertex| *vertex = pose * *vertex);
    if let Some(at) = moved.crossings.as_mut().and_then(|c| c.place.as_mut()) {
        *at = pose * *at;
    }
    for shell in &mut moved.shells {
        shell.low = [f64::INFINITY; 3].into();
        shell.high = [f64::NEG_INFINITY; 3].into();
    }
    for (triangle, shell) in mesh.triangles.iter().zip(&mesh.shell_of_triangle) {
        let shell = &mut moved.shells[*shell as usize];
        for corner in triangle {
            let vertex = &moved.vertices[*corner as usize];
            shell.low = shell.low.inf(vertex);
            shell.high = shell.high.sup(vertex);
        }
    }
    moved
}

/// Pose of a mesh from its placement; a fault where its axes make no frame.
pub(super) fn placement(spot: &Spot<'_>, place: &PlacementFile) -> Option<Pose> {
    let place_spot = spot.key("place");
    let at = place_spot.key("at").point(place.at);
    let x = place_spot.key("x").direction(place.x);
    let z = place_spot.key("z").direction(place.z);
    let (x, z) = (x?, z?);
    if x.dot(&z).abs() > 1.0e-6 {
        place_spot
            .error("`x` and `z` are not square to each other; give the directions of two axes");
        return None;
    }
    let rotation = frame_from_z_and_hint(&z, &x)?;
    Some(translation(at.coords) * Pose::from_parts(nalgebra::Translation3::identity(), rotation))
}
