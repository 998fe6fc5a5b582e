//! Tools made ready for reach: their elements in all sizes.

use super::ladder::{Ladder, Rule};
use super::lids::Lids;
use super::model::Reason;
use crate::answer::check::erode::eroded;
use crate::answer::check::judge::wanted_of;
use crate::answer::check::model::Element;
use crate::answer::check::own_part::{FOLLOWING, corridor_mm};
use crate::answer::scene::{Scene, ToolElement, revolved};
use crate::gap::{CannotAsk, Placed, Shape, StackElement};
use crate::setup::model::{Form, Profile, Setup, Tool};
use nalgebra::Point3;
use std::sync::Arc;

/// A tool against the own part: its flutes, and its other elements.
#[derive(Debug)]
pub struct OwnLadders {
    /// Flutes less the gouge tolerance; free only of what is not behind the face that they touch.
    pub flutes: Ladder,
    /// Other turned elements.
    pub others: Ladder,
    /// Elements that are meshes: how they stand about the axis differs from seat to seat.
    pub meshes: Ladder,
}

/// A tool with its elements.
#[derive(Debug)]
pub struct ReadyTool<'s> {
    /// The tool.
    pub tool: &'s Tool,
    /// Elements in the tool frame.
    pub elements: Vec<ToolElement>,
    /// How far each reaches from the tip, in any direction.
    pub reach_mm: Vec<f64>,
    /// Their profiles; `None` for meshes.
    pub profiles: Vec<Option<Profile>>,
    /// How many of the elements are no lids; those come last.
    pub without_lids: usize,
}

impl<'s> ReadyTool<'s> {
    /// Prepares a tool.
    ///
    /// # Errors
    /// As [`Scene::tool_elements`].
    pub fn new(scene: &Scene<'s>, lids: &Lids, index: usize) -> Result<Self, CannotAsk> {
        let tool = &scene.setup.tools[index];
        let own = [&tool.flutes, &tool.neck, &tool.shank, &tool.holder].map(Some);
        let machine = &scene.setup.machine;
        let bodies = machine.nose.iter().chain(&machine.head);
        let of_bodies = bodies.map(|body| match &body.form {
            Form::Revolved(profile) => Some(&**profile),
            Form::Mesh(_) => None,
        });
        // In the order of the elements, of which an empty profile makes none.
        let profiles = own.into_iter().chain(of_bodies);
        let filled = |profile: &Option<&Profile>| profile.is_none_or(|p| !p.pieces.is_empty());
        let mut elements = scene.tool_elements(tool)?;
        let without_lids = elements.len();
        let lid = |element: &ToolElement| {
            let shape = lids.over(&element.shape)?;
            Some(ToolElement {
                shape,
                ..element.clone()
            })
        };
        let of_elements: Vec<ToolElement> = elements.iter().filter_map(lid).collect();
        elements.extend(of_elements);
        let mut profiles: Vec<Option<Profile>> =
            profiles.filter(filled).map(Option::<&_>::cloned).collect();
        profiles.resize(elements.len(), None);
        Ok(Self {
            tool,
            reach_mm: elements.iter().map(reach_mm).collect(),
            profiles,
            without_lids,
            elements,
        })
    }

    /// Whether an element may follow wherever the flutes went: a neck or shank slimmer than these by more than
    /// the gouge tolerance; else it rubs.
    #[must_use]
    pub fn follows(&self, element: Element, gouge_mm: f64) -> bool {
        corridor_mm(self.tool, element).is_some_and(|slimmer_mm| slimmer_mm > gouge_mm)
    }

    /// Index of the flutes.
    #[must_use]
    pub fn flutes_element(&self) -> usize {
        let flutes = |element: &ToolElement| element.element == Element::Flutes;
        self.elements.iter().position(flutes).unwrap_or_default()
    }

    /// Wanted gap of an element at rest, its chord allowance included.
    #[must_use]
    pub fn wanted_mm(&self, setup: &Setup, element: usize) -> f64 {
        let element = &self.elements[element];
        wanted_of(&setup.wanted, element.element).rest_mm + element.chord_allowance_mm
    }

    /// An element with the tip at the origin, z to the spindle, and a wanted gap.
    #[must_use]
    pub fn stack_element(&self, element: usize, wanted_gap_mm: f64) -> StackElement {
        let element = &self.elements[element];
        StackElement {
            shape: element.shape.clone(),
            tool_from_body: element.tool_from_body,
            wanted_gap_mm,
        }
    }

    /// An element with another profile.
    ///
    /// # Errors
    /// As [`revolved`].
    pub fn reshaped(
        &self,
        element: usize,
        profile: &Profile,
        wanted_gap_mm: f64,
    ) -> Result<StackElement, CannotAsk> {
        Ok(StackElement {
            shape: Shape::Revolved(Arc::new(revolved(profile)?)),
            ..self.stack_element(element, wanted_gap_mm)
        })
    }

    /// Flutes less the gouge tolerance; `None` where nothing is left.
    #[must_use]
    pub fn core(&self, gouge_mm: f64) -> Option<Profile> {
        eroded(&self.tool.flutes, gouge_mm)
    }

    /// The core as a placed body.
    ///
    /// # Errors
    /// As [`revolved`].
    pub fn placed_core(core: &Profile) -> Result<Placed, CannotAsk> {
        let shape = Shape::Revolved(Arc::new(revolved(core)?));
        Ok(Placed {
            shape,
            common_from_body: nalgebra::IsometryMatrix3::identity(),
        })
    }

    /// The tool against a part whose faces it makes.
    ///
    /// # Errors
    /// As [`Ladder::new`].
    pub fn own_ladders(
        &self,
        setup: &Setup,
        chord_mm: f64,
        gouge_mm: f64,
    ) -> Result<OwnLadders, CannotAsk> {
        let (mut others, mut meshes) = (Vec::new(), Vec::new());
        for (index, element) in self.elements.iter().enumerate() {
            match (&element.shape, element.element) {
                (_, Element::Flutes) => {}
                (_, element) if self.follows(element, gouge_mm) => {}
                (Shape::Mesh(_), _) => meshes.push(index),
                _ => others.push(index),
            }
        }
        let ladder = |elements: &[usize], gouge_mm: Option<f64>| {
            let rule = Rule {
                elements,
                chord_least_mm: chord_mm,
                chord_most_mm: chord_mm,
                gouge_mm,
            };
            Ladder::new(self, setup, &rule)
        };
        Ok(OwnLadders {
            flutes: ladder(&[self.flutes_element()], Some(gouge_mm))?,
            others: ladder(&others, None)?,
            meshes: ladder(&meshes, None)?,
        })
    }

    /// The whole tool group against all else.
    ///
    /// # Errors
    /// As [`Ladder::new`].
    pub fn ladder(
        &self,
        setup: &Setup,
        [least_mm, most_mm]: [f64; 2],
    ) -> Result<Ladder, CannotAsk> {
        let rule = Rule {
            elements: &(0..self.elements.len()).collect::<Vec<usize>>(),
            chord_least_mm: least_mm,
            chord_most_mm: most_mm,
            gouge_mm: None,
        };
        Ladder::new(self, setup, &rule)
    }

    /// The reason told for an element stopped by a body; `None` for the part whose faces are asked
    /// about.
    #[must_use]
    pub fn stopped(&self, element: usize, body: Option<&str>, touches: bool) -> Reason {
        if body.is_none() && FOLLOWING.contains(&self.elements[element].element) {
            return Reason::FlutesTooShort;
        }
        let element = self.elements[element].name.clone();
        let body = body.unwrap_or("the part itself").to_owned();
        if touches {
            Reason::Stopped { element, body }
        } else {
            Reason::Close { element, body }
        }
    }
}

/// Distance of the farthest point of an element from the tip; never too small.
fn reach_mm(element: &ToolElement) -> f64 {
    let at = |point: Point3<f64>| (element.tool_from_body * point).coords.norm();
    match &element.shape {
        Shape::Mesh(shape) => shape
            .mesh()
            .vertices
            .iter()
            .map(|v| at(*v))
            .fold(0.0, f64::max),
        Shape::Revolved(solid) => {
            let farthest = |piece: &crate::gap::Piece| {
                let (low_mm, high_mm) = piece.heights_mm();
                let far = [low_mm, high_mm].map(|height_mm| at(Point3::new(0.0, 0.0, height_mm)));
                far[0].max(far[1]) + piece.radius_mm()
            };
            solid.pieces().iter().map(farthest).fold(0.0, f64::max)
        }
    }
}
