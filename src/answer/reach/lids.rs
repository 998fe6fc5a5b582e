//! Lids: what may close a body whose mesh is open.
//!
//! A tool that comes through what is missing meets no triangle. A lid stands there instead: it may deny
//! that a place is reached, but it never shows that one is not.

use super::around::turned;
use super::model::{MeshDoubt, PartReach};
use super::obstacle::Obstacle;
use super::tools::OwnLadders;
use crate::answer::scene::{Body, Scene};
use crate::gap::{CannotAsk, Landscape, MeshShape, Placed, Shape};
use crate::mesh::{Chord, Crossings, Mesh, Soundness, soundness};
use crate::setup::model::{Form, MachineBody, Setup};
use crate::value::Pose;
use std::collections::HashMap;
use std::sync::Arc;

/// Lids of all bodies that need one.
#[derive(Debug, Default)]
pub struct Lids(HashMap<usize, Shape>);

fn address(shape: &Shape) -> Option<usize> {
    match shape {
        Shape::Mesh(shape) => Some(Arc::as_ptr(shape) as usize),
        Shape::Revolved(_) => None,
    }
}

impl Lids {
    /// Whether no body needs one.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Finds them.
    ///
    /// # Errors
    /// As [`Scene::new`].
    pub fn new(scene: &Scene<'_>) -> Result<Self, CannotAsk> {
        let setup = scene.setup;
        let mut shapes: Vec<Shape> = Vec::new();
        for body in scene.iron()?.iter().chain(&scene.bed) {
            shapes.push(body.shape.clone());
        }
        for body in setup.machine.nose.iter().chain(&setup.machine.head) {
            shapes.push(scene.store.form(&body.form)?.0);
        }
        for (seat, part) in setup.seats.iter().map(|seat| seat.part).enumerate() {
            let states = part.map_or(0, |part| setup.parts[part].states.len());
            for state in 0..states {
                shapes.extend(scene.part(seat, state)?.map(|body| body.shape));
            }
        }
        let mut seen: HashMap<usize, Option<Shape>> = HashMap::new();
        for shape in &shapes {
            if let (Shape::Mesh(mesh), Some(address)) = (shape, address(shape)) {
                let lid = || lid_over(mesh.mesh());
                seen.entry(address).or_insert_with(lid);
            }
        }
        let lids = seen.into_iter();
        Ok(Self(
            lids.filter_map(|(address, lid)| Some((address, lid?)))
                .collect(),
        ))
    }

    /// The lid over a shape, in its frame.
    #[must_use]
    pub fn over(&self, shape: &Shape) -> Option<Shape> {
        self.0.get(&address(shape)?).cloned()
    }

    /// The lid of a body, in its place.
    #[must_use]
    pub fn of(&self, body: &Body) -> Option<Body> {
        let shape = self.over(&body.shape)?;
        Some(Body {
            shape,
            ..body.clone()
        })
    }

    /// The lids of bodies, in their places.
    #[must_use]
    pub fn of_all(&self, bodies: &[Body]) -> Vec<Body> {
        bodies.iter().filter_map(|body| self.of(body)).collect()
    }
}

/// Lids as a body; `None` where there is none.
fn lid_over(mesh: &Mesh) -> Option<Shape> {
    let lids = soundness(mesh).lids;
    // What has no area has nothing to touch.
    let (mesh, _) = Mesh::from_triangles(&lids, Chord::Stated(mesh.chord_allowance_mm)).ok()?;
    let shape = MeshShape::new(Arc::new(mesh)).ok()?;
    Some(Shape::Mesh(Arc::new(shape)))
}

/// Among the obstacles of the own part, that for all elements but the flutes.
pub const OTHERS: u16 = 1;

/// The part whose faces are asked about, from one direction.
pub struct OwnPart {
    landscape: Arc<Landscape>,
    lid: Option<Arc<Landscape>>,
    /// The part and its lid in the approach frame.
    pub bodies: Vec<Placed>,
    /// Height from which tools come down.
    pub top_mm: f64,
    /// `approach_from_part`.
    pub approach_from_part: Pose,
}

impl OwnPart {
    /// Sees a part along a direction.
    ///
    /// # Errors
    /// As [`Landscape::new`].
    pub fn new(
        own: &Body,
        lid: Option<&Body>,
        approach_from_part: Pose,
    ) -> Result<Self, CannotAsk> {
        let Shape::Mesh(shape) = &own.shape else {
            return Err(CannotAsk::BadMesh);
        };
        let heights = shape.mesh().vertices.iter();
        let top_mm = heights
            .map(|vertex| (approach_from_part * vertex).z)
            .fold(f64::NEG_INFINITY, f64::max);
        let seen = |body: &Body| turned(&body.shape, &approach_from_part.rotation).map(Arc::new);
        let placed = |body: &Body| Placed {
            shape: body.shape.clone(),
            common_from_body: approach_from_part,
        };
        Ok(Self {
            landscape: seen(own)?,
            lid: lid.map(seen).transpose()?,
            bodies: std::iter::once(own).chain(lid).map(placed).collect(),
            top_mm: top_mm + own.chord_allowance_mm + 1.0,
            approach_from_part,
        })
    }

    /// As obstacles: the flutes' first, then ([`OTHERS`]) that of the other elements, then the lid.
    #[must_use]
    pub fn obstacles<'g>(&self, ladders: &'g OwnLadders) -> Vec<Obstacle<'g>> {
        let obstacle = |landscape: &Arc<Landscape>, ladder, is_lid: bool| Obstacle {
            landscape: Arc::clone(landscape),
            shift: self.approach_from_part.translation.vector,
            ladder,
            names: Arc::new(Vec::new()),
            is_own: true,
            is_lid,
        };
        let lid = self.lid.iter();
        [&ladders.flutes, &ladders.others]
            .map(|ladder| obstacle(&self.landscape, ladder, false))
            .into_iter()
            .chain(lid.map(|lid| obstacle(lid, &ladders.others, true)))
            .collect()
    }
}

/// Every mesh of a setup that leaves something open, by name.
#[must_use]
pub fn doubts(setup: &Setup, parts: &[PartReach]) -> Vec<MeshDoubt> {
    let mut found = Vec::new();
    let mut add = |body: String, mesh: &Mesh, asked: bool| {
        let sound = soundness(mesh);
        let crossings = mesh.crossings.unwrap_or_default();
        if !sound.is_sound() || !crossings.is_none() {
            found.push(doubt(body, &sound, &crossings, asked));
        }
    };
    for part in &setup.parts {
        for (number, state) in part.states.iter().enumerate() {
            let is_last = number + 1 == part.states.len();
            let asked = is_last && parts.iter().any(|asked| asked.part == part.name);
            if asked || number == 0 || is_last {
                add(
                    format!("{} ({})", part.name, state.name),
                    &state.mesh,
                    asked,
                );
            }
        }
    }
    for clamp in &setup.clamps {
        for state in &clamp.states {
            add(
                format!("{} ({})", clamp.name, state.name),
                &state.mesh,
                false,
            );
        }
    }
    let of_form = |form: &Form| match form {
        Form::Mesh(mesh) => Some(Arc::clone(mesh)),
        Form::Revolved(_) => None,
    };
    for body in &setup.carrier.bodies {
        if let Some(mesh) = of_form(&body.form) {
            add(body.name.clone(), &mesh, false);
        }
    }
    let machine = &setup.machine;
    let lists: [&Vec<MachineBody>; 3] = [&machine.bed, &machine.nose, &machine.head];
    for body in lists.into_iter().flatten() {
        if let Some(mesh) = of_form(&body.form) {
            add(body.name.clone(), &mesh, false);
        }
    }
    found
}

fn doubt(body: String, sound: &Soundness, crossings: &Crossings, asked: bool) -> MeshDoubt {
    let count = |list: &[bool]| list.iter().filter(|is| **is).count();
    MeshDoubt {
        body,
        open_edges: sound.open_edges,
        inside_out: count(&sound.turned),
        mixed: count(&sound.mixed),
        crossings: (crossings.pairs > 0 || !crossings.given_up).then_some(crossings.pairs),
        asked,
    }
}
