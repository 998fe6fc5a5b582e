//! The setup as bodies that the gap engine knows: work group, bed, base and tool group.

use super::kinematics::Kinematics;
use crate::answer::check::model::Element;
use crate::gap::{CannotAsk, MeshShape, Piece, Placed, Revolved, Ring, Shape};
use crate::mesh::Mesh;
use crate::setup::model::{Form, MachineBody, Profile, Setup, Tool};
use crate::value::{Pose, Vec3, translation};
use rayon::prelude::*;
use std::collections::HashMap;
use std::sync::Arc;

/// Which body of the setup.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum BodyId {
    /// A body of the carrier.
    Carrier(usize),
    /// The part at a seat, in one of its states.
    Part {
        /// Seat.
        seat: usize,
        /// State.
        state: usize,
    },
    /// A clamp at a seat: which of the seat's clamps.
    Clamp {
        /// Seat.
        seat: usize,
        /// Position in the seat's list.
        which: usize,
    },
    /// A bed body.
    Bed(usize),
    /// A base body.
    Base(usize),
}

/// A body with its name, shape, chord allowance and pose in its group's frame.
#[derive(Debug, Clone)]
pub struct Body {
    /// Which.
    pub id: BodyId,
    /// Name shown in answers.
    pub name: String,
    /// Shape.
    pub shape: Shape,
    /// Work: `carrier_from_body`. Bed and base: `machine_from_body`.
    pub pose: Pose,
    /// By how much the true body may stand outside its shape.
    pub chord_allowance_mm: f64,
    /// By how much the shape may stand outside the true body, or inside: what a cutter may seem
    /// to gouge of a surface that it truly touches.
    pub gouge_chord_mm: f64,
}

/// One element of the tool group, in the tool frame.
#[derive(Debug, Clone)]
pub struct ToolElement {
    /// Which.
    pub element: Element,
    /// Name shown in answers.
    pub name: String,
    /// Shape.
    pub shape: Shape,
    /// `tool_from_body`.
    pub tool_from_body: Pose,
    /// By how much the true body may stand outside its shape.
    pub chord_allowance_mm: f64,
}

/// Trees of the meshes of a setup, shared by every scene made from it.
#[derive(Debug, Clone, Default)]
pub struct ShapeStore(Arc<HashMap<usize, Arc<MeshShape>>>);

impl ShapeStore {
    /// Builds a tree for every distinct mesh of the setup, in parallel.
    ///
    /// # Errors
    /// [`CannotAsk::BadMesh`] where a mesh is not fit to be asked; a checked setup has none.
    pub fn build(setup: &Setup) -> Result<Self, CannotAsk> {
        let mut meshes: Vec<Arc<Mesh>> = all_meshes(setup);
        meshes.sort_by_key(key);
        meshes.dedup_by_key(|mesh| key(mesh));
        let shapes: Result<HashMap<_, _>, _> = meshes
            .into_par_iter()
            .map(|mesh| Ok((key(&mesh), Arc::new(MeshShape::new(mesh)?))))
            .collect();
        shapes.map(|shapes| Self(Arc::new(shapes)))
    }

    fn mesh(&self, mesh: &Arc<Mesh>) -> Result<Shape, CannotAsk> {
        let shape = self.0.get(&key(mesh)).ok_or(CannotAsk::BadMesh)?;
        Ok(Shape::Mesh(Arc::clone(shape)))
    }

    /// The shape of a form, and its chord allowance.
    ///
    /// # Errors
    /// As [`Scene::new`].
    pub fn form(&self, form: &Form) -> Result<(Shape, f64), CannotAsk> {
        match form {
            Form::Mesh(mesh) => Ok((self.mesh(mesh)?, mesh.chord_allowance_mm)),
            Form::Revolved(profile) => {
                let shape = Shape::Revolved(Arc::new(revolved(profile)?));
                Ok((shape, profile.chord_allowance_mm))
            }
        }
    }
}

/// Meshes are told apart by their address: the setup shares each distinct mesh.
fn key(mesh: &Arc<Mesh>) -> usize {
    Arc::as_ptr(mesh) as usize
}

fn all_meshes(setup: &Setup) -> Vec<Arc<Mesh>> {
    let machine = &setup.machine;
    let machine_bodies = [&machine.nose, &machine.head, &machine.bed, &machine.base]
        .into_iter()
        .flatten();
    let forms = machine_bodies
        .map(|body| &body.form)
        .chain(setup.carrier.bodies.iter().map(|body| &body.form));
    let from_forms = forms.filter_map(|form| match form {
        Form::Mesh(mesh) => Some(Arc::clone(mesh)),
        Form::Revolved(_) => None,
    });
    let part_states = setup.parts.iter().flat_map(|part| &part.states);
    let clamp_states = setup.clamps.iter().flat_map(|clamp| &clamp.states);
    from_forms
        .chain(
            part_states
                .chain(clamp_states)
                .map(|state| Arc::clone(&state.mesh)),
        )
        .collect()
}

/// A profile as a shape of the gap engine.
///
/// # Errors
/// As [`Piece::new`] and [`Revolved::new`].
pub fn revolved(profile: &Profile) -> Result<Revolved, CannotAsk> {
    let pieces: Result<Vec<Piece>, CannotAsk> = profile
        .pieces
        .iter()
        .map(|piece| {
            let ring = |ring: &crate::setup::model::ProfileRing| Ring {
                radius_mm: ring.radius_mm,
                height_mm: ring.height_mm,
                ball_mm: ring.ball_mm,
            };
            Piece::new(piece.rings.iter().map(ring).collect())
        })
        .collect();
    Revolved::new(pieces?)
}

/// What a cutter may seem to gouge of a surface that it truly touches.
fn gouge_chord_mm(mesh: &Mesh) -> f64 {
    mesh.chord_allowance_mm.max(mesh.hollow_chord_mm)
}

/// The bodies of a setup, and how its machine moves.
#[derive(Debug, Clone)]
pub struct Scene<'a> {
    /// The setup.
    pub setup: &'a Setup,
    /// Its machine's motions.
    pub kinematics: Kinematics<'a>,
    /// Trees.
    pub store: ShapeStore,
    /// Bed bodies, in the table frame.
    pub bed: Vec<Body>,
    /// Base bodies, in machine coordinates.
    pub base: Vec<Body>,
}

impl<'a> Scene<'a> {
    /// Prepares a setup whose trees are in `store`.
    ///
    /// # Errors
    /// A [`CannotAsk`] where a shape is not fit to be asked; a checked setup has none.
    pub fn new(setup: &'a Setup, store: ShapeStore) -> Result<Self, CannotAsk> {
        let kinematics = Kinematics::new(&setup.machine).ok_or(CannotAsk::BadPose)?;
        let bodies = |list: &[MachineBody], id: fn(usize) -> BodyId| {
            list.iter()
                .enumerate()
                .map(|(index, body)| {
                    let (shape, chord_allowance_mm) = store.form(&body.form)?;
                    Ok(Body {
                        id: id(index),
                        name: body.name.clone(),
                        shape,
                        pose: body.pose,
                        chord_allowance_mm,
                        gouge_chord_mm: chord_allowance_mm,
                    })
                })
                .collect::<Result<Vec<_>, CannotAsk>>()
        };
        let bed = bodies(&setup.machine.bed, BodyId::Bed)?;
        let base = bodies(&setup.machine.base, BodyId::Base)?;
        Ok(Self {
            setup,
            kinematics,
            store,
            bed,
            base,
        })
    }

    /// The carrier's bodies, in its frame.
    ///
    /// # Errors
    /// As [`Scene::new`].
    pub fn carrier(&self) -> Result<Vec<Body>, CannotAsk> {
        let mut bodies = Vec::new();
        for (index, body) in self.setup.carrier.bodies.iter().enumerate() {
            let (shape, chord_allowance_mm) = self.store.form(&body.form)?;
            bodies.push(Body {
                id: BodyId::Carrier(index),
                name: body.name.clone(),
                shape,
                pose: body.carrier_from_body,
                chord_allowance_mm,
                gouge_chord_mm: chord_allowance_mm,
            });
        }
        Ok(bodies)
    }

    /// Carrier and clamps, in the carrier's frame.
    ///
    /// # Errors
    /// As [`Scene::new`].
    pub fn iron(&self) -> Result<Vec<Body>, CannotAsk> {
        let mut bodies = self.carrier()?;
        for (seat_index, seat) in self.setup.seats.iter().enumerate() {
            for (which, &(clamp_index, state)) in seat.clamps.iter().enumerate() {
                let clamp = &self.setup.clamps[clamp_index];
                let mesh = &clamp.states[state].mesh;
                bodies.push(Body {
                    id: BodyId::Clamp {
                        seat: seat_index,
                        which,
                    },
                    name: format!("{} of seat {}", clamp.name, seat.name),
                    shape: self.store.mesh(mesh)?,
                    pose: seat.carrier_from_seat,
                    chord_allowance_mm: mesh.chord_allowance_mm,
                    gouge_chord_mm: gouge_chord_mm(mesh),
                });
            }
        }
        Ok(bodies)
    }

    /// The part at a seat in one state, in the carrier's frame; `None` for an empty seat.
    ///
    /// # Errors
    /// As [`Scene::new`].
    pub fn part(&self, seat_index: usize, state: usize) -> Result<Option<Body>, CannotAsk> {
        let seat = &self.setup.seats[seat_index];
        let Some(part_index) = seat.part else {
            return Ok(None);
        };
        let part = &self.setup.parts[part_index];
        let mesh = &part.states[state].mesh;
        Ok(Some(Body {
            id: BodyId::Part {
                seat: seat_index,
                state,
            },
            name: self.part_name(seat_index, state).unwrap_or_default(),
            shape: self.store.mesh(mesh)?,
            pose: seat.carrier_from_seat * seat.seat_from_part,
            chord_allowance_mm: mesh.chord_allowance_mm,
            gouge_chord_mm: gouge_chord_mm(mesh),
        }))
    }

    /// The name of the part at a seat in one state; `None` for an empty seat.
    #[must_use]
    pub fn part_name(&self, seat_index: usize, state: usize) -> Option<String> {
        let seat = &self.setup.seats[seat_index];
        let part = &self.setup.parts[seat.part?];
        let state = &part.states[state].name;
        Some(format!("{} ({state}) of seat {}", part.name, seat.name))
    }

    /// The elements of a tool group: flutes, neck, shank, holder, nose bodies, head bodies.
    ///
    /// # Errors
    /// As [`Scene::new`].
    pub fn tool_elements(&self, tool: &Tool) -> Result<Vec<ToolElement>, CannotAsk> {
        let at_face = translation(Vec3::z() * tool.stick_out_mm);
        let at_gauge = translation(Vec3::z() * tool.gauge_length_mm);
        let mut elements = Vec::new();
        let mut push = |element, word: &str, profile: &Profile, tool_from_body| {
            if profile.pieces.is_empty() {
                return Ok(());
            }
            elements.push(ToolElement {
                element,
                name: format!("T{} {word}", tool.number),
                shape: Shape::Revolved(Arc::new(revolved(profile)?)),
                tool_from_body,
                chord_allowance_mm: profile.chord_allowance_mm,
            });
            Ok::<(), CannotAsk>(())
        };
        push(Element::Flutes, "flutes", &tool.flutes, Pose::identity())?;
        push(Element::Neck, "neck", &tool.neck, Pose::identity())?;
        push(Element::Shank, "shank", &tool.shank, Pose::identity())?;
        push(Element::Holder, "holder", &tool.holder, at_face)?;
        let machine = &self.setup.machine;
        for (element, list) in [
            (Element::Nose, &machine.nose),
            (Element::Head, &machine.head),
        ] {
            for body in list {
                let (shape, chord_allowance_mm) = self.store.form(&body.form)?;
                elements.push(ToolElement {
                    element,
                    name: body.name.clone(),
                    shape,
                    tool_from_body: at_gauge * body.pose,
                    chord_allowance_mm,
                });
            }
        }
        Ok(elements)
    }
}

/// A body in its place in the common frame.
#[must_use]
pub fn placed(body: &Body, common_from_group: &Pose) -> Placed {
    Placed {
        shape: body.shape.clone(),
        common_from_body: common_from_group * body.pose,
    }
}
