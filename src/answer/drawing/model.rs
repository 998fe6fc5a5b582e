//! Drawings as values. Millimetres and degrees; nothing is rounded.

use crate::answer::check::model::{Element, Measured, Outcome, Verdict};
use crate::gap::Outline;

/// Every drawing of an answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Drawings {
    /// One for each trouble, in the same order; `None` where a trouble has no two points.
    pub troubles: Vec<Option<GapDrawing>>,
    /// The tightest place of each tool for which anything was measured.
    pub tools: Vec<ToolPlace>,
    /// The index dial; `None` where the machine file does not say which way the rotary turns, or
    /// where the spindle stands along the rotary axis.
    pub dial: Option<Dial>,
}

/// Where in an answer something was measured.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Site {
    /// Position in the list of cuts.
    Cut(usize),
    /// Position in the list of index moves.
    IndexMove(usize),
    /// Position in the list of tool changes.
    ToolChange(usize),
}

/// The tightest place of a tool.
#[derive(Debug, Clone, PartialEq)]
pub struct ToolPlace {
    /// Number of the tool.
    pub tool: u32,
    /// Where in the answer.
    pub site: Site,
    /// What was measured there.
    pub measured: Measured,
    /// The cut at this place (its position), where it is not reached: the verdict of the gap is not its.
    pub not_reached: Option<usize>,
    /// The trouble (its position) that shows this very place.
    pub trouble: Option<usize>,
    /// The drawing; `None` where the trouble has it, or nothing nearer than the cap was found.
    pub drawing: Option<GapDrawing>,
}

/// A plane with its own x (right) and y (up), seen against its normal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct View {
    /// Origin, machine coordinates with the table at zero.
    pub origin_mm: [f64; 3],
    /// Machine direction to the right.
    pub right: [f64; 3],
    /// Machine direction up.
    pub up: [f64; 3],
}

/// A machine axis in a view.
#[derive(Debug, Clone, PartialEq)]
pub struct ViewAxis {
    /// Letter.
    pub name: String,
    /// Its positive direction in the view; shorter than 1 where it leaves the plane.
    pub along: [f64; 2],
    /// Its part toward the eye.
    pub toward_eye: f64,
}

/// A box in a view.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Extent {
    /// Lower left corner.
    pub low_mm: [f64; 2],
    /// Upper right corner.
    pub high_mm: [f64; 2],
}

/// What kind of body is cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum BodyKind {
    /// Carrier.
    Carrier,
    /// Part in one of its states.
    Part,
    /// Clamp.
    Clamp,
    /// Bed body.
    Bed,
    /// Base body.
    Base,
}

/// A body cut by the plane.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawnBody {
    /// Name as in the answer.
    pub name: String,
    /// Kind.
    pub kind: BodyKind,
    /// Lines of the section; the material is their union by winding.
    pub outlines: Vec<Outline>,
    /// Whether it is one of the two that the gap is between.
    pub nearest: bool,
}

/// An element of the tool group, cut by the plane.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawnElement {
    /// Which.
    pub element: Element,
    /// Name as in the answer.
    pub name: String,
    /// Lines of the section, one for each convex piece of a round body.
    pub outlines: Vec<Outline>,
    /// Whether it is one of the two that the gap is between.
    pub nearest: bool,
}

/// The section through two nearest points, or through the two ends of an overlap.
///
/// # Guarantees
/// Both points lie in the plane, so that their distance is seen at its true length: the gap's, or the
/// overlap's, but for the chord allowance.
#[derive(Debug, Clone, PartialEq)]
pub struct GapDrawing {
    /// The plane.
    pub view: View,
    /// Distance of the tool axis from the plane; `None` where no tool takes part.
    pub off_axis_mm: Option<f64>,
    /// What was measured, as in the answer.
    pub measured: Measured,
    /// By how much the two overlap at this moment, where that is known.
    pub overlap_mm: Option<f64>,
    /// Rotary angle at that moment.
    pub angle_deg: f64,
    /// Tool group.
    pub elements: Vec<DrawnElement>,
    /// Bodies near the gap.
    pub bodies: Vec<DrawnBody>,
    /// Nearest point on the tool's side, then on the body.
    pub points_mm: [[f64; 2]; 2],
    /// Machine axes.
    pub axes: [ViewAxis; 3],
    /// What a view of the whole tool must show.
    pub whole: Extent,
    /// What a view close to the gap must show.
    pub close: Extent,
}

/// The carrier seen against its rotary axis, with rings of angles.
///
/// Angles of the picture count counter-clockwise from the right. The scale of angles is fixed to
/// the carrier: the mark of a rotary angle stands where the spindle will be, on the carrier, when
/// the rotary is there.
#[derive(Debug, Clone, PartialEq)]
pub struct Dial {
    /// Letter of the rotary.
    pub rotary: String,
    /// The plane across the rotary axis, its origin on the axis; the eye is on the side to which
    /// the rotary direction points.
    pub view: View,
    /// Machine axes.
    pub axes: [ViewAxis; 3],
    /// Height of the section above the carrier's foot.
    pub height_mm: f64,
    /// Carrier, parts and clamps as they stand at angle zero.
    pub bodies: Vec<DrawnBody>,
    /// Radius that holds all bodies.
    pub radius_mm: f64,
    /// Side numbers with the picture angle that each side faces at angle zero.
    pub sides: Vec<(u32, f64)>,
    /// Picture angle of the direction from the tip to the spindle.
    pub spindle_deg: f64,
    /// By how many degrees of the picture the work turns for a degree of the rotary: 1 or -1.
    pub work_turn_per_deg: f64,
    /// Rings, the innermost first.
    pub rings: Vec<Ring>,
}

impl Dial {
    /// Machine direction toward the eye.
    #[must_use]
    pub fn view_normal(&self) -> [f64; 3] {
        let [right, up] = [self.view.right, self.view.up].map(crate::value::Vec3::from);
        right.cross(&up).into()
    }

    /// Picture angle at which the scale has a rotary angle.
    #[must_use]
    pub fn picture_deg(&self, index_deg: f64) -> f64 {
        self.spindle_deg - self.work_turn_per_deg * index_deg
    }
}

/// A ring of a dial: a tool or a face.
#[derive(Debug, Clone, PartialEq)]
pub struct Ring {
    /// Its name, such as `T3`.
    pub name: String,
    /// Ranges of angle.
    pub arcs: Vec<Arc>,
    /// Single angles: where a cut is made.
    pub rests: Vec<Rest>,
}

/// A range of rotary angles with what holds there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Arc {
    /// Begin.
    pub from_deg: f64,
    /// End, no less than the begin.
    pub to_deg: f64,
    /// Outcome.
    pub outcome: Outcome,
    /// Verdict.
    pub verdict: Verdict,
}

/// A rest angle with what holds there.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rest {
    /// Rotary angle.
    pub index_deg: f64,
    /// Worst outcome.
    pub outcome: Outcome,
    /// Worst verdict.
    pub verdict: Verdict,
}

/// What dials of where tools reach are made of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ReachedBy {
    /// Bands: intervals of angle, proved whole.
    Bands,
    /// Shares at single angles.
    Steps {
        /// A face counts as reached from this share of its area on.
        from_share: f64,
    },
}

/// Over which angles tools reach faces, as dials: one for each tool with a ring for each large face, and
/// one for each face with a ring for each tool.
#[derive(Debug, Clone, PartialEq)]
pub struct ReachedDials {
    /// Each tool, with the largest faces; a drill with every face that it reaches, as it makes small ones.
    pub tools: Vec<ReachedDial>,
    /// Each of the largest faces.
    pub faces: Vec<ReachedDial>,
    /// Each of the other faces.
    pub other_faces: Vec<ReachedDial>,
}

/// A tool or a face, or faces of one part that have the same rings, at the seats of one side that hold the part.
///
/// # Guarantees
/// An arc that is reached is proved at every seat; one that is unknown may be reached at every seat, or
/// not; everywhere else at least one seat is surely not reached. The same holds for a mark, at its own angle
/// alone: of angles that were not asked about nothing is told.
#[derive(Debug, Clone, PartialEq)]
pub struct ReachedDial {
    /// What it is about.
    pub of: DialOf,
    /// `T3`, or the name of the face.
    pub name: String,
    /// More faces for which every ring is the same, and which seat is the worst.
    pub also: Vec<String>,
    /// Part.
    pub part: String,
    /// Side of the carrier whose seats are meant.
    pub side: u32,
    /// These seats: an arc or a mark holds at all of them.
    pub seats: Vec<String>,
    /// Other sides for which the same holds once the rotary has gone on by so many degrees; cuts aside.
    pub alike: Vec<(u32, f64)>,
    /// Rings that have an arc or a mark, the innermost first; for a tool also one of its cuts.
    pub rings: Vec<ReachedRing>,
    /// Names of tools, or of the largest faces, that are reached at no angle asked about.
    pub never: Vec<String>,
    /// Names of the largest faces that are not what the tool makes, or of tools that do not make the face.
    pub not_made: Vec<String>,
    /// Whether it was asked about at all: a drill has no bands.
    pub is_asked: bool,
}

/// What a dial is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DialOf {
    /// A tool, with a ring for each face.
    Tool,
    /// A face, with a ring for each tool.
    Face,
}

/// A ring with where its arcs and marks come from.
#[derive(Debug, Clone, PartialEq)]
pub struct ReachedRing {
    /// The ring.
    pub ring: Ring,
    /// For each arc, the ends of bands that its own ends are.
    pub ends: Vec<[BandEnd; 2]>,
    /// For each rest that is a mark, where its angle is; none for cuts.
    pub marks: Vec<MarkPlace>,
    /// Where the seats are: part, face, tool, in the order of the answer; `None` for cuts.
    pub place: Option<[usize; 3]>,
    /// The seat whose bands are narrowest together, or that is reached at the fewest angles.
    pub worst_seat: Option<String>,
}

/// Where in the lists of the answer the angle of a mark is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MarkPlace {
    /// Position in the list of seats.
    pub seat: usize,
    /// Position in the list of indexes.
    pub index: usize,
}

/// An end of a band.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BandEnd {
    /// Position in the list of seats.
    pub seat: usize,
    /// Whether of a band that is reached; of an undecided one otherwise.
    pub is_reached: bool,
    /// Position in the list of bands.
    pub band: usize,
    /// Whether its upper end.
    pub is_upper: bool,
    /// Rotary angle, as it stands there: bands beyond a whole turn go on above 360.
    pub deg: f64,
}
