//! The checked setup: what the rest of the program works on. Millimetres and degrees throughout.
//!
//! Frames: machine; carrier (z along the rotary direction, origin on the axis at the foot); seat
//! (z out of the side, y along the rotary direction); part; tool (origin at the tip, +z toward
//! the spindle); spindle (origin at the gauge point, +z away from the tip).

use super::file::{DepthTo, IndexRule, Mover, PathSide, Reference, Sense, ToolKind, Way};
use super::tool_form::Cutting;
use crate::mesh::Mesh;
use crate::value::{Pose, Vec3};
use nalgebra::Point3;
use std::sync::Arc;

/// A job that can be asked: every reference resolved, every number checked.
#[derive(Debug, Clone)]
pub struct Setup {
    /// Title of the job.
    pub title: String,
    /// The machine.
    pub machine: Machine,
    /// Tools in the order of their numbers.
    pub tools: Vec<Tool>,
    /// The carrier.
    pub carrier: Carrier,
    /// Parts.
    pub parts: Vec<Part>,
    /// Clamps.
    pub clamps: Vec<Clamp>,
    /// Seats, ordered by side, then along the rotary axis, then across.
    pub seats: Vec<Seat>,
    /// Cuts in the order in which they run.
    pub cuts: Vec<Cut>,
    /// Gaps asked for.
    pub wanted: Wanted,
    /// How deep flutes may stand in the finished part, beside the chord allowance.
    pub gouge_mm: f64,
    /// Angle of the rotary before the first cut.
    pub start_index_deg: f64,
}

impl Setup {
    /// All names that people gave, in no order that matters; some more than once.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        let machine = &self.machine;
        let bodies = [&machine.nose, &machine.head, &machine.bed, &machine.base];
        let bodies = bodies.into_iter().flatten().map(|body| &body.name);
        let axes = machine.axes.iter().map(|axis| &axis.name);
        let contacts = machine.contacts.iter().map(|contact| &contact.name);
        let carrier = self.carrier.bodies.iter().map(|body| &body.name);
        let states = self.parts.iter().flat_map(|part| &part.states);
        let states = states.chain(self.clamps.iter().flat_map(|clamp| &clamp.states));
        let seats = self.seats.iter().flat_map(|seat| [&seat.name, &seat.group]);
        [&self.title, &machine.name, &machine.rotary.name]
            .into_iter()
            .chain([&self.carrier.name])
            .chain(bodies)
            .chain(axes)
            .chain(contacts)
            .chain(carrier)
            .chain(self.tools.iter().map(|tool| &tool.name))
            .chain(self.parts.iter().map(|part| &part.name))
            .chain(self.clamps.iter().map(|clamp| &clamp.name))
            .chain(states.map(|state| &state.name))
            .chain(seats)
            .chain(self.cuts.iter().map(|cut| &cut.name))
            .map(String::as_str)
    }
}

/// A body's form in its own frame.
#[derive(Debug, Clone)]
pub enum Form {
    /// Triangles.
    Mesh(Arc<Mesh>),
    /// A solid of revolution about +z.
    Revolved(Arc<Profile>),
}

/// A solid of revolution about +z, as convex pieces.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Profile {
    /// Convex pieces; together they are the solid. None where there is nothing, such as a shank
    /// whose flutes reach the holder face.
    pub pieces: Vec<ProfilePiece>,
    /// By how much the true body may stand outside (a holder mesh's chord allowance).
    pub chord_allowance_mm: f64,
}

/// The convex hull of its rings.
#[derive(Debug, Clone, PartialEq)]
pub struct ProfilePiece {
    /// Rings; one to three are usual.
    pub rings: Vec<ProfileRing>,
}

/// A disc across the axis, thickened by a ball.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ProfileRing {
    /// Radius of the disc.
    pub radius_mm: f64,
    /// Height of the disc along the axis.
    pub height_mm: f64,
    /// Radius of the ball that thickens it.
    pub ball_mm: f64,
}

/// A machine body in its place.
#[derive(Debug, Clone)]
pub struct MachineBody {
    /// Name shown in answers.
    pub name: String,
    /// Form.
    pub form: Form,
    /// Bed and base: `machine_from_body`. Nose and head: `spindle_from_body`.
    pub pose: Pose,
}

/// A machining centre.
#[derive(Debug, Clone)]
pub struct Machine {
    /// Name.
    pub name: String,
    /// Three axes whose directions are independent.
    pub axes: [LinearAxis; 3],
    /// The rotary.
    pub rotary: Rotary,
    /// `machine_from_spindle` with every linear axis at zero: origin at the gauge point, z from
    /// the tip to the spindle.
    pub machine_from_spindle_at_zero: Pose,
    /// Spindle nose bodies.
    pub nose: Vec<MachineBody>,
    /// Head bodies.
    pub head: Vec<MachineBody>,
    /// Bed bodies, as they stand with every linear axis at zero.
    pub bed: Vec<MachineBody>,
    /// Base bodies.
    pub base: Vec<MachineBody>,
    /// Contacts that are meant.
    pub contacts: Vec<Contact>,
}

/// A linear axis.
#[derive(Debug, Clone, PartialEq)]
pub struct LinearAxis {
    /// Letter.
    pub name: String,
    /// Unit direction of positive travel of the tool relative to the work.
    pub direction: Vec3,
    /// Lowest position.
    pub low_mm: f64,
    /// Highest position.
    pub high_mm: f64,
    /// What it moves.
    pub moves: Mover,
    /// Home position.
    pub home_mm: f64,
    /// Position for tool change.
    pub tool_change_mm: f64,
    /// Position during index moves.
    pub index: IndexAt,
}

/// Where an axis stands during index moves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum IndexAt {
    /// One position.
    At(f64),
    /// A rule.
    Rule(IndexRule),
}

/// The rotary axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Rotary {
    /// Letter.
    pub name: String,
    /// Unit direction.
    pub direction: Vec3,
    /// A point on the axis, in machine coordinates with every linear axis at zero.
    pub centre: Point3<f64>,
    /// Declared sense; `None` makes every index answer unknown.
    pub sense: Option<Sense>,
    /// Index step; `None` for a rotary that stops anywhere.
    pub step_deg: Option<f64>,
    /// Angle limits.
    pub limits_deg: Option<[f64; 2]>,
    /// Declared way round; `None` checks both.
    pub way: Option<Way>,
    /// Swing limit.
    pub swing_radius_mm: Option<f64>,
}

/// A contact that is meant, within a cylinder about the rotary axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Contact {
    /// Name.
    pub name: String,
    /// Index into [`Machine::bed`].
    pub bed: usize,
    /// Radius of the region.
    pub radius_mm: f64,
    /// Begin and end along the rotary direction, from the rotary centre.
    pub along_mm: [f64; 2],
}

/// A tool as it is set.
#[derive(Debug, Clone)]
pub struct Tool {
    /// Number.
    pub number: u32,
    /// Name.
    pub name: String,
    /// Kind.
    pub kind: ToolKind,
    /// Cutting diameter.
    pub diameter_mm: f64,
    /// Length of the cutting edges (APMX; drills and taps: LU), no longer than the stick-out.
    pub edge_length_mm: f64,
    /// The cutting part, also what of it stands in the holder.
    pub cutting: Cutting,
    /// Usable length (LU).
    pub usable_length_mm: f64,
    /// Shank diameter.
    pub shank_diameter_mm: f64,
    /// Diameter of the neck between the edges and LU.
    pub neck_diameter_mm: f64,
    /// Overall length of the cutter.
    pub overall_length_mm: Option<f64>,
    /// Height of the point below the full diameter (drill point, tap lead, corner).
    pub point_length_mm: f64,
    /// Depth of the thread that a tap cuts; 0 for other tools, and where no pitch is given.
    pub thread_depth_mm: f64,
    /// Corner radius (ball: the radius).
    pub corner_radius_mm: f64,
    /// Height of the reference point above the tip.
    pub reference_height_mm: f64,
    /// Whether it can plunge straight down.
    pub plunges: bool,
    /// Holder face to tip.
    pub stick_out_mm: f64,
    /// Gauge line to tip.
    pub gauge_length_mm: f64,
    /// Shortest grip of the shank; 0 for a cutter that is screwed on.
    pub grip_mm: f64,
    /// How deep the shank goes into the holder's bore, where that is known.
    pub bore_depth_mm: Option<f64>,
    /// Cutting part, in the tool frame.
    pub flutes: Profile,
    /// Neck from the edges to LU, in the tool frame; nothing where it is as wide as the shank.
    pub neck: Profile,
    /// Shank from there up to the holder face, in the tool frame.
    pub shank: Profile,
    /// Holder in the frame of the holder face (height 0 at the face).
    pub holder: Profile,
}

/// The carrier.
#[derive(Debug, Clone)]
pub struct Carrier {
    /// Name.
    pub name: String,
    /// Bodies in the carrier's frame: column, base, pads.
    pub bodies: Vec<CarrierBody>,
    /// `machine_from_carrier` at index 0 with every linear axis at zero.
    pub machine_from_carrier_at_zero: Pose,
    /// How many sides.
    pub sides: u32,
    /// Density in g/cm3.
    pub density_g_cm3: Option<f64>,
}

/// One body of the carrier.
#[derive(Debug, Clone)]
pub struct CarrierBody {
    /// Name shown in answers, such as `carrier column`.
    pub name: String,
    /// Form.
    pub form: Form,
    /// Where it stands.
    pub carrier_from_body: Pose,
}

/// A part with its states.
#[derive(Debug, Clone)]
pub struct Part {
    /// Name.
    pub name: String,
    /// States in order.
    pub states: Vec<State>,
    /// Density in g/cm3.
    pub density_g_cm3: Option<f64>,
}

/// One state of a part (in part coordinates) or clamp (in seat coordinates).
#[derive(Debug, Clone)]
pub struct State {
    /// Name.
    pub name: String,
    /// The mesh, already placed.
    pub mesh: Arc<Mesh>,
}

/// A clamp with its states.
#[derive(Debug, Clone)]
pub struct Clamp {
    /// Name.
    pub name: String,
    /// States.
    pub states: Vec<State>,
}

/// One place on the carrier.
#[derive(Debug, Clone)]
pub struct Seat {
    /// Name shown in answers: `side.place`, such as `1.3`, unique in the job.
    pub name: String,
    /// Name of the seat group in the job file.
    pub group: String,
    /// Side number.
    pub side: u32,
    /// Index into [`Setup::parts`]; `None` for an empty seat.
    pub part: Option<usize>,
    /// Clamps: indices into [`Setup::clamps`] and the state.
    pub clamps: Vec<(usize, usize)>,
    /// Pose of the seat.
    pub carrier_from_seat: Pose,
    /// Pose of the part.
    pub seat_from_part: Pose,
}

/// A cut.
#[derive(Debug, Clone)]
pub struct Cut {
    /// Name.
    pub name: String,
    /// Index into [`Setup::tools`].
    pub tool: usize,
    /// Index into [`Setup::parts`].
    pub part: usize,
    /// Index of the state before.
    pub before: usize,
    /// Index of the state after.
    pub after: usize,
    /// Chosen rotary angles; `None` where they are to be found.
    pub index_deg: Option<Vec<f64>>,
    /// The feature.
    pub feature: Feature,
    /// Feed plane above the opening.
    pub feed_plane_mm: Option<f64>,
    /// Travel plane above the opening.
    pub travel_plane_mm: Option<f64>,
    /// Depth of one pass.
    pub pass_depth_mm: Option<f64>,
}

/// A feature in its own frame: origin at the opening, z along the access direction, x along.
#[derive(Debug, Clone)]
pub struct Feature {
    /// `part_from_feature`.
    pub part_from_feature: Pose,
    /// Its form, in the feature's frame.
    pub form: FeatureForm,
}

/// The form of a feature; coordinates are `[x, y]` on the opening, depths count down from it.
#[derive(Debug, Clone, PartialEq)]
pub enum FeatureForm {
    /// Round holes.
    RoundHole {
        /// Openings `[x, y, z]`.
        centres_mm: Vec<[f64; 3]>,
        /// Depth.
        depth_mm: f64,
        /// Meaning of the depth.
        depth_to: DepthTo,
        /// Full diameter past the depth.
        break_through_mm: f64,
    },
    /// Planar face, passes along x.
    PlanarFace {
        /// Extent along x.
        length_mm: f64,
        /// Extent along y.
        width_mm: f64,
        /// Cut past the face across the passes.
        overhang_mm: f64,
        /// Tool axis past the face along the passes.
        run_out_mm: Option<f64>,
    },
    /// Rectangular region: pocket or step.
    Pocket {
        /// Extent along x.
        length_mm: f64,
        /// Extent along y.
        width_mm: f64,
        /// Radius of the corners.
        corner_radius_mm: f64,
        /// Depth of the floor.
        depth_mm: f64,
        /// Open at +x, -x, +y, -y.
        open: [bool; 4],
        /// Material left.
        stock_left_mm: f64,
    },
    /// Round pocket about the origin.
    RoundPocket {
        /// Diameter of the wall.
        diameter_mm: f64,
        /// Depth of the floor.
        depth_mm: f64,
        /// Material left.
        stock_left_mm: f64,
    },
    /// Slot along points.
    Slot {
        /// Centre line.
        points_mm: Vec<[f64; 2]>,
        /// Whether the last point joins the first.
        closed: bool,
        /// Width; `None` is the cutting diameter.
        width_mm: Option<f64>,
        /// Depth of the floor.
        depth_mm: f64,
    },
    /// Contour.
    Profile {
        /// Contour.
        points_mm: Vec<[f64; 2]>,
        /// Whether the last point joins the first.
        closed: bool,
        /// Side of the tool.
        side: PathSide,
        /// Tool axis from the contour; `None` is half the cutting diameter.
        offset_mm: Option<f64>,
        /// Depth of the reference point.
        depth_mm: f64,
    },
    /// Explicit moves of the reference point, `[x, y, z]`, and whether each is at rapid.
    Path {
        /// Moves.
        moves_mm: Vec<([f64; 3], bool)>,
        /// What the reference point of this tool is.
        reference: Reference,
    },
}

/// Gaps asked for, per element of the tool group.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wanted {
    /// For flutes.
    pub flutes: WantedGap,
    /// For neck and shank.
    pub shank: WantedGap,
    /// For the holder.
    pub holder: WantedGap,
    /// For the nose.
    pub nose: WantedGap,
    /// For the head.
    pub head: WantedGap,
    /// For the work group against bed and base.
    pub work: WantedGap,
}

/// Gaps asked for at rest and in index moves.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WantedGap {
    /// At rest and along lines.
    pub rest_mm: f64,
    /// During index moves.
    pub index_mm: f64,
}
