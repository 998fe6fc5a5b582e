//! Tools made ready for reach: what their elements ask, and what they fill on the way down.

use super::cutter::Fill;
use crate::answer::check::erode::eroded;
use crate::answer::check::judge::wanted_of;
use crate::answer::check::model::Element;
use crate::answer::scene::{Scene, ToolElement, revolved};
use crate::gap::{CannotAsk, Placed, Shape};
use crate::setup::model::{Form, Profile, Setup, Tool};
use std::sync::Arc;

/// What is filled must surely be too near: this much less than the wanted gap is counted.
const FILL_ROOM_MM: f64 = 1e-3;

/// A tool with its elements.
#[derive(Debug)]
pub struct ReadyTool<'s> {
    /// The tool.
    pub tool: &'s Tool,
    /// Elements in the tool frame.
    pub elements: Vec<ToolElement>,
    /// Whether the shank may follow wherever the flutes went.
    pub shank_follows: bool,
}

impl<'s> ReadyTool<'s> {
    /// Prepares a tool.
    ///
    /// # Errors
    /// As [`Scene::tool_elements`].
    pub fn new(scene: &Scene<'s>, index: usize) -> Result<Self, CannotAsk> {
        let tool = &scene.setup.tools[index];
        let widest = |profile: &Profile| {
            let rings = profile.pieces.iter().flat_map(|piece| &piece.rings);
            rings.map(|ring| ring.radius_mm + ring.ball_mm).fold(0.0, f64::max)
        };
        Ok(Self {
            tool,
            elements: scene.tool_elements(tool)?,
            shank_follows: widest(&tool.shank) < widest(&tool.flutes) - FILL_ROOM_MM,
        })
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

    /// An element with the tip at the origin and z to the spindle.
    #[must_use]
    pub fn placed(&self, element: usize) -> Placed {
        let element = &self.elements[element];
        Placed {
            shape: element.shape.clone(),
            common_from_body: element.tool_from_body,
        }
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

    /// Elements asked against the own part, besides the flutes.
    pub fn own_elements(&self) -> impl Iterator<Item = usize> {
        (0..self.elements.len()).filter(|&index| {
            let element = &self.elements[index];
            let is_mesh = matches!(element.shape, Shape::Mesh(_));
            match element.element {
                Element::Flutes => false,
                Element::Shank => !self.shank_follows,
                _ => !is_mesh,
            }
        })
    }

    /// What the elements fill, each grown by its wanted gap and `more_mm`.
    #[must_use]
    pub fn fill(&self, setup: &Setup, which: &[usize], more_mm: f64) -> Fill {
        let mut fill = Fill::default();
        for &index in which {
            self.add(setup, &mut fill, index, more_mm);
        }
        fill
    }

    fn add(&self, setup: &Setup, fill: &mut Fill, index: usize, more_mm: f64) {
        let grown_mm = (self.wanted_mm(setup, index) + more_mm - FILL_ROOM_MM).max(0.0);
        let machine = &setup.machine;
        match self.elements[index].element {
            Element::Flutes => fill.add(&self.tool.flutes, 0.0, grown_mm, index),
            Element::Shank => fill.add(&self.tool.shank, 0.0, grown_mm, index),
            Element::Holder => fill.add(&self.tool.holder, self.tool.stick_out_mm, grown_mm, index),
            Element::Nose | Element::Head => {
                let bodies = machine.nose.iter().chain(&machine.head);
                let named = bodies.filter(|body| body.name == self.elements[index].name);
                for body in named {
                    let axis = body.pose.translation.vector.xy().norm();
                    let upright = body.pose.rotation.matrix()[(2, 2)] == 1.0;
                    if let Form::Revolved(profile) = &body.form
                        && axis == 0.0
                        && upright
                    {
                        let up_mm = self.tool.gauge_length_mm + body.pose.translation.z;
                        fill.add(profile, up_mm, grown_mm, index);
                    }
                }
            }
            Element::Work | Element::Bed => {}
        }
    }
}
