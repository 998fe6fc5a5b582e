//! Nodes and colours: parts in greys, the two nearest bodies in the colour of their verdict.

use crate::shapes::{Drawn, Role, Shapes};
use crate::state::{Look, State};
use kiss3d::color::Color;
use kiss3d::glamx::{Mat3, Pose3, Quat, Vec3};
use kiss3d::light::Light;
use kiss3d::resource::GpuMesh3d;
use kiss3d::scene::SceneNode3d;
use lapidary::answer::check::model::Verdict;
use lapidary::answer::moment::{Group, Moment, table_from_group};
use lapidary::answer::scene::Scene;
use lapidary::report::mark;
use lapidary::value::Pose;
use std::cell::RefCell;
use std::rc::Rc;

/// Behind everything: light, so that dark text stands on it.
pub const BACKGROUND: [u8; 3] = [0xE9, 0xEC, 0xEE];

/// Alpha of a faint group.
const FAINT: f32 = 0.22;

/// Light from beside the eye, and from behind it: flat faces that meet at an edge then differ.
const LIGHTS: [([f32; 3], f32); 2] = [([-0.45, 0.55, 0.7], 2.1), ([0.7, -0.2, 0.5], 0.75)];

/// Light from everywhere.
pub const AMBIENT: f32 = 0.30;

/// The nodes of a window or picture.
pub struct Stage {
    /// Everything.
    pub root: SceneNode3d,
    lights: Vec<SceneNode3d>,
    nodes: Vec<(Role, Group, SceneNode3d)>,
    /// Edges where the scene is cut open.
    pub edges: Vec<[Vec3; 2]>,
}

impl Default for Stage {
    fn default() -> Self {
        Self::new()
    }
}

impl Stage {
    /// An empty stage with its lights.
    #[must_use]
    pub fn new() -> Self {
        let mut root = SceneNode3d::empty();
        let lights = LIGHTS.iter().map(|(_, intensity)| {
            let light = Light::directional(-Vec3::Z)
                .with_intensity(*intensity)
                .with_casts_shadows(false);
            root.add_light(light)
        });
        let lights = lights.collect();
        Self {
            root,
            lights,
            nodes: Vec::new(),
            edges: Vec::new(),
        }
    }

    /// Whether there are no shapes yet.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.nodes.is_empty()
    }

    /// Takes other shapes in the place of those before.
    pub fn set_shapes(&mut self, shapes: &Shapes) {
        for (_, _, node) in &mut self.nodes {
            node.remove();
        }
        self.nodes.clear();
        for drawn in &shapes.drawn {
            let mut node = self.root.add_mesh(mesh(drawn), Vec3::ONE);
            // Far sides are drawn only where the scene is open, by meshes of their own.
            node.enable_backface_culling(true);
            node.set_casts_shadows(false);
            node.set_roughness(0.9);
            node.set_metallic(0.0);
            self.nodes.push((drawn.role, drawn.group, node));
        }
        let point = |[x, y, z]: [f32; 3]| Vec3::new(x, y, z);
        self.edges = shapes.edges.iter().map(|edge| edge.map(point)).collect();
    }

    /// Puts every group where it stands at a moment.
    pub fn place(&mut self, scene: &Scene<'_>, moment: &Moment) {
        for (_, group, node) in &mut self.nodes {
            node.set_pose(pose(&table_from_group(scene, *group, moment)));
        }
    }

    /// Colours everything by its group, role and look.
    pub fn dress(&mut self, state: &State) {
        let verdict = state
            .measured()
            .map_or(Verdict::Unknown, |told| told.verdict);
        for (role, group, node) in &mut self.nodes {
            let look = state.look(*group);
            let [red, green, blue] = colour_of(*role, *group, verdict);
            // The two nearest are seen whole, whatever their group is.
            let marked = matches!(role, Role::Marked | Role::InsideMarked);
            let faint = look == Look::Faint && !marked;
            let alpha = if faint { FAINT } else { 1.0 };
            node.set_visible(look != Look::Hidden);
            node.set_color(linear([red, green, blue], alpha));
        }
    }

    /// Turns the lights to where one looks from.
    pub fn light_from(&mut self, eye: Vec3, at: Vec3, up: Vec3) {
        let back = (eye - at).normalize_or(Vec3::Z);
        let right = up.cross(back).normalize_or(Vec3::X);
        let above = back.cross(right);
        for (node, ([x, y, z], intensity)) in self.lights.iter_mut().zip(LIGHTS) {
            let from = right * x + above * y + back * z;
            let light = Light::directional(-from.normalize())
                .with_intensity(intensity)
                .with_casts_shadows(false);
            node.set_light(Some(light));
        }
    }
}

fn mesh(drawn: &Drawn) -> Rc<RefCell<GpuMesh3d>> {
    let vectors = |list: &[[f32; 3]]| -> Vec<Vec3> {
        list.iter().map(|[x, y, z]| Vec3::new(*x, *y, *z)).collect()
    };
    let count = drawn.corners.len() as u32;
    let faces = (0..count / 3).map(|face| [3 * face, 3 * face + 1, 3 * face + 2]);
    Rc::new(RefCell::new(GpuMesh3d::new(
        vectors(&drawn.corners),
        faces.collect(),
        Some(vectors(&drawn.normals)),
        None,
        false,
    )))
}

/// The grey of a group, or the colour of the verdict.
fn colour_of(role: Role, group: Group, verdict: Verdict) -> [u8; 3] {
    let grey = |level: u8| [level; 3];
    match role {
        Role::Marked | Role::InsideMarked => {
            let colour = mark::colour(verdict);
            [colour.0, colour.1, colour.2]
        }
        Role::Own => grey(0xF2),
        // What is solid and cut is darker than any outside, so that it reads as cut.
        Role::Inside => grey(match group {
            Group::Tool | Group::Spindle => 0x4C,
            Group::Parts => 0x8E,
            _ => 0x6E,
        }),
        Role::Plain => grey(match group {
            Group::Bed => 0x9A,
            Group::Base => 0xAE,
            Group::Carrier => 0x86,
            Group::Clamps => 0x62,
            Group::Parts => 0xC6,
            Group::Tool => 0x50,
            Group::Spindle => 0xA4,
        }),
    }
}

/// A colour as the renderer wants it: linear light.
#[must_use]
pub fn linear(srgb: [u8; 3], alpha: f32) -> Color {
    let [red, green, blue] = srgb.map(|level| {
        let level = f32::from(level) / 255.0;
        if level <= 0.04045 {
            level / 12.92
        } else {
            ((level + 0.055) / 1.055).powf(2.4)
        }
    });
    Color::new(red, green, blue, alpha)
}

/// A pose as the renderer wants it.
#[must_use]
pub fn pose(from: &Pose) -> Pose3 {
    let matrix: Vec<f32> = from
        .rotation
        .matrix()
        .iter()
        .map(|entry| *entry as f32)
        .collect();
    let column = |at: usize| Vec3::new(matrix[3 * at], matrix[3 * at + 1], matrix[3 * at + 2]);
    let rotation = Mat3::from_cols(column(0), column(1), column(2));
    let shift = from.translation.vector;
    Pose3::from_parts(
        Vec3::new(shift.x as f32, shift.y as f32, shift.z as f32),
        Quat::from_mat3(&rotation),
    )
}
