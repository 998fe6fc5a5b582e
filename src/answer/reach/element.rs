//! One element of a tool over an interval of angle: does it keep its gap at every tip of a piece, at none,
//! and if neither, what would tell more?

use super::bands::BandQuestion;
use super::ladder::{ROOM_MM, narrower};
use super::open::Hints;
use super::patch::Edge;
use super::place::{Held, Kind, Place};
use crate::answer::check::erode::eroded;
use crate::answer::check::measure::CONTACT_GRAIN_MM;
use crate::answer::check::model::Element;
use crate::answer::scene::revolved;
use crate::gap::{Ask, CannotAsk, HalfSpace, Motion, Placed, Shape, Witness, group_gap, parts_gap};
use crate::setup::model::Profile;
use crate::value::{Vec3, translation};
use std::sync::Arc;

/// Work that one question may take.
const BUDGET: u64 = 200_000;

/// A piece is cut no nearer to its own end than this many times what the angle moves.
pub const ROOM_OF_MOVED: f64 = 0.5;

/// Parts no farther apart than this tell no direction.
const APART_MM: f64 = 1e-9;

/// Pieces are cut this far within what is expected to be decided.
const WITHIN_MM: f64 = 1e-7;

/// What an element does at the tips of a cell, at every angle of an interval.
pub enum ElementOver {
    /// It keeps its gap at every tip.
    Free,
    /// It does not at any.
    Stopped,
    /// Smaller pieces would tell more: some would be stopped, or free.
    Smaller {
        /// Whether some would be stopped.
        stops: bool,
        /// How far the angle moves the element and the bodies against one another.
        moved_mm: f64,
        /// Where to cut.
        edge: Option<Edge>,
    },
    /// Only narrower intervals would tell more.
    Narrower,
    /// As narrow as intervals get, the middle of this one would stay open.
    Nothing,
}

/// An element, a cell, bodies of a kind.
pub struct ElementQuestion<'e> {
    pub asked: &'e BandQuestion<'e>,
    pub element: usize,
    pub bodies: &'e [Placed],
    pub kind: Kind,
    pub held: &'e Held,
    pub place: &'e Place,
    pub hints: &'e mut Hints,
}

/// The body that keeps clear, and how far.
struct Growing {
    shape: Shape,
    wanted_mm: f64,
    /// Nothing on this side of the plane is asked about.
    beyond: Option<HalfSpace>,
    /// Of flutes in the own part: less the gouge tolerance.
    profile: Option<Profile>,
}

/// What stops an element at a tip.
struct Stopping {
    tool: Placed,
    near_mm: f64,
    /// Where the parts that are too near are known.
    parts: Option<Witness>,
}

/// How the distance of two convex parts grows with the tip, seen from one: never by less.
struct Growth {
    tip: Vec3,
    gap_mm: f64,
    normal: Vec3,
    point_from_tip: Vec3,
}

/// Where a piece is cut.
enum Cut {
    At(Edge),
    /// Nowhere: one side would be too thin for the angle.
    Thin,
    /// Perhaps anywhere.
    Unknown,
}

impl Growth {
    /// Over all tips.
    fn range_mm(&self, held: &Held) -> [f64; 2] {
        let at = held
            .tips
            .iter()
            .map(|tip| self.gap_mm + self.normal.dot(&(tip - self.tip)));
        at.fold([f64::INFINITY, f64::NEG_INFINITY], |[low, high], at| {
            [low.min(at), high.max(at)]
        })
    }

    /// Where the distance would come to this, if that leaves enough on either side.
    fn cut(&self, at_mm: f64, has_room: bool) -> Cut {
        let point = self.tip + self.point_from_tip;
        let edge = Edge {
            normal: self.normal,
            offset_mm: self.normal.dot(&point) + at_mm - self.gap_mm,
        };
        if has_room { Cut::At(edge) } else { Cut::Thin }
    }
}

impl<'e> ElementQuestion<'e> {
    /// Asks.
    pub fn answer(mut self) -> Result<ElementOver, CannotAsk> {
        let what = &self.asked.ready.elements[self.element];
        let gouge_mm = self.asked.scene.setup.gouge_mm + self.asked.own.gouge_chord_mm;
        let follows = self.asked.ready.follows(what.element, gouge_mm);
        if self.bodies.is_empty() || (self.kind == Kind::Own && follows) {
            return Ok(ElementOver::Free);
        }
        let Some(growing) = self.growing()? else {
            return Ok(ElementOver::Nothing);
        };
        let moved_mm = self.moved_mm(&growing);
        let Err(parts) = self.keeps(&growing, moved_mm, &self.held.tips)? else {
            return Ok(ElementOver::Free);
        };
        // The middle alone, as if the piece were that small; then all of it, too.
        let middle = self.held.middle_tip();
        if let Some(stop) = self.stop(&growing, moved_mm, &middle)? {
            if self.is_stopped_at_corners(&stop)?
                || self
                    .stop(&growing, moved_mm + self.held.spread_mm, &middle)?
                    .is_some()
            {
                return Ok(ElementOver::Stopped);
            }
            return self.stopped_in_part(&stop, moved_mm);
        }
        let ([near, far], cut) = self.free_in_part(&growing, moved_mm, parts)?;
        let edge = match cut {
            Cut::At(edge) => Some(edge),
            Cut::Thin | Cut::Unknown => None,
        };
        let is_unknown = matches!(cut, Cut::Unknown);
        if edge.is_some() || is_unknown && self.keeps(&growing, moved_mm, &[middle])?.is_ok() {
            return Ok(ElementOver::Smaller {
                stops: false,
                moved_mm,
                edge,
            });
        }
        if let Some(stop) = self.stop(&growing, moved_mm, &near)? {
            return self.stopped_in_part(&stop, moved_mm);
        }
        let least_mm = ROOM_MM + (moved_mm - ROOM_MM) * self.place.finest_share;
        for tip in [near, middle, far] {
            if self.stop(&growing, least_mm, &tip)?.is_some()
                || self.keeps(&growing, least_mm, &[tip])?.is_ok()
            {
                return Ok(ElementOver::Narrower);
            }
        }
        Ok(ElementOver::Nothing)
    }

    /// What stops some tips stops those on one side of an edge.
    fn stopped_in_part(&self, stop: &Stopping, moved_mm: f64) -> Result<ElementOver, CannotAsk> {
        let mut cut = Cut::Unknown;
        if let Some(parts) = &stop.parts {
            let bodies = self.sound_bodies();
            let (_, growth) = self.nearest_and_farthest(&stop.tool, bodies, parts)?;
            if let Some(growth) = growth {
                let room_mm = ROOM_OF_MOVED * moved_mm;
                let [low_mm, high_mm] = growth.range_mm(self.held);
                let at_mm = (stop.near_mm - WITHIN_MM).min(high_mm - room_mm);
                cut = growth.cut(at_mm, at_mm > low_mm + room_mm);
            }
        }
        let edge = match cut {
            Cut::At(edge) => Some(edge),
            Cut::Thin => return Ok(ElementOver::Narrower),
            Cut::Unknown => None,
        };
        Ok(ElementOver::Smaller {
            stops: true,
            moved_mm,
            edge,
        })
    }

    /// The tips over corners that come nearest to what is too near for all tips together, and least near, and the
    /// edge of those that do not come too near to it.
    fn free_in_part(
        &self,
        growing: &Growing,
        moved_mm: f64,
        parts: Option<Witness>,
    ) -> Result<([Vec3; 2], Cut), CannotAsk> {
        let middle = self.held.middle_tip();
        let Some(parts) = parts else {
            return Ok(([middle; 2], Cut::Unknown));
        };
        let tool = self.placed(growing.shape.clone());
        let (near, growth) = self.nearest_and_farthest(&tool, self.bodies, &parts)?;
        let near = near.unwrap_or(middle);
        let Some(growth) = growth else {
            return Ok(([near, middle], Cut::Unknown));
        };
        let ends = [near, growth.tip];
        let room_mm = ROOM_OF_MOVED * moved_mm;
        let [low_mm, high_mm] = growth.range_mm(self.held);
        let enough_mm = growing.wanted_mm + moved_mm + WITHIN_MM;
        if low_mm > enough_mm {
            return Ok((ends, Cut::Unknown));
        }
        let at_mm = enough_mm.max(low_mm + room_mm);
        Ok((ends, growth.cut(at_mm, at_mm < high_mm - room_mm)))
    }

    /// Of the tips over corners the one at which two parts are nearest, and how their distance grows from where
    /// they are farthest apart.
    fn nearest_and_farthest(
        &self,
        tool: &Placed,
        bodies: &[Placed],
        parts: &Witness,
    ) -> Result<(Option<Vec3>, Option<Growth>), CannotAsk> {
        let tool = std::slice::from_ref(tool);
        let (mut near, mut far) = (None, None);
        let (mut least_mm, mut most_mm) = (f64::INFINITY, APART_MM);
        for tip in &self.held.tips {
            let (gap_mm, witness) = parts_gap(tool, bodies, &self.way_to(tip), parts)?;
            if gap_mm < least_mm {
                (near, least_mm) = (Some(*tip), gap_mm);
            }
            if let Some(witness) = witness.filter(|_| gap_mm > most_mm) {
                most_mm = gap_mm;
                far = Some(Growth {
                    tip: *tip,
                    gap_mm,
                    normal: (witness.point_a - witness.point_b) / gap_mm,
                    point_from_tip: self.held.middle - self.held.middle_tip(),
                });
            }
        }
        Ok((near, far))
    }

    /// How far the angle moves the element and the bodies against one another, and room for rounding.
    fn moved_mm(&self, growing: &Growing) -> f64 {
        let (held, place, ready) = (self.held, self.place, self.asked.ready);
        if self.kind == Kind::Bed {
            return held.shift_mm + held.swing_mm(place) + ROOM_MM;
        }
        let tool_mm = ready.reach_mm[self.element] + held.tip_from_point_mm + held.raised_mm(place);
        // They meet where both are: what the nearer of the two can move is enough.
        let far_mm = match self.kind {
            Kind::Own => tool_mm.min(held.far_mm(place)),
            _ => tool_mm,
        };
        let moved_mm = |far_mm: f64| held.shift_mm + far_mm * held.half_rad + ROOM_MM;
        let near_mm = self.column_mm(growing.wanted_mm + moved_mm(far_mm));
        moved_mm(far_mm.min(near_mm))
    }

    /// Distance from the point touched to the farthest point of the bodies that is no farther than
    /// `gap_mm` from the element on its way down: such points stand in a column round it.
    fn column_mm(&self, gap_mm: f64) -> f64 {
        let (held, place) = (self.held, self.place);
        let what = &self.asked.ready.elements[self.element];
        let Shape::Revolved(solid) = &what.shape else {
            return f64::INFINITY;
        };
        let upright = (what.tool_from_body.rotation * Vec3::z() - Vec3::z()).amax() < 1e-9;
        if !upright || place.has_lids(self.kind) {
            return f64::INFINITY;
        }
        let shift = what.tool_from_body.translation.vector;
        let off_mm = shift.xy().norm();
        let lowest = solid.pieces().iter().map(|piece| piece.heights_mm().0);
        let lowest_mm = lowest.fold(0.0, f64::min) + shift.z.min(0.0);
        let radii = solid.pieces().iter().map(|piece| piece.radius_mm());
        let across_mm =
            radii.fold(0.0, f64::max) + off_mm + held.tip_from_point_mm + held.spread_mm + gap_mm;
        let up_mm = place.highest_mm(self.kind) - held.middle.z;
        let down_mm = held.tip_from_point_mm + gap_mm - lowest_mm;
        across_mm.hypot(up_mm.max(down_mm) + held.spread_mm)
    }

    /// `None` where the gouge tolerance takes the whole cutter.
    fn growing(&self) -> Result<Option<Growing>, CannotAsk> {
        let (asked, held) = (self.asked, self.held);
        let what = &asked.ready.elements[self.element];
        let setup = asked.scene.setup;
        if self.kind != Kind::Own || what.element != Element::Flutes {
            return Ok(Some(Growing {
                shape: what.shape.clone(),
                wanted_mm: asked.ready.wanted_mm(setup, self.element)
                    + self.place.chord_mm(self.kind),
                beyond: None,
                profile: None,
            }));
        }
        let gouge_mm = setup.gouge_mm + asked.own.gouge_chord_mm;
        let Some(core) = eroded(&asked.ready.tool.flutes, gouge_mm) else {
            return Ok(None);
        };
        // The core keeps as far from the plane touched as the gouge tolerance, at every angle.
        let beyond = HalfSpace {
            normal: held.normal,
            offset_mm: held.normal.dot(&held.middle) + gouge_mm * 0.5,
        };
        Ok(Some(Growing {
            shape: turned_shape(&core)?,
            wanted_mm: 0.0,
            beyond: Some(beyond),
            profile: Some(core),
        }))
    }

    /// Whether the element keeps its gap, and `more_mm`, at tips and on the ways down to them; else what is
    /// too near, where that is known.
    fn keeps(
        &mut self,
        growing: &Growing,
        more_mm: f64,
        tips: &[Vec3],
    ) -> Result<Result<(), Option<Witness>>, CannotAsk> {
        let enough_mm = growing.wanted_mm + more_mm;
        let plane = self.held.plane;
        let of_plane = |hint: &Option<(u32, Witness)>| {
            let alike = hint.filter(|(other, _)| *other == plane || growing.profile.is_none());
            alike.map(|(_, witness)| witness)
        };
        let ask = self.ask(enough_mm, growing.beyond, of_plane(&self.hints[0]));
        let raised = tips
            .iter()
            .map(|tip| Vec3::new(tip.x, tip.y, self.place.top_mm.max(tip.z)));
        let ways = Motion::spread(raised.chain(tips.iter().copied()).collect());
        let tool = self.placed(growing.shape.clone());
        let gap = group_gap(std::slice::from_ref(&tool), self.bodies, &ways, &ask)?;
        if gap.lo_mm >= enough_mm {
            return Ok(Ok(()));
        }
        let hint = gap.witness.map(|witness| (plane, witness));
        self.hints[0] = hint.or(self.hints[0]);
        Ok(Err(gap.witness))
    }

    /// What shows that the element does not keep its gap less `less_mm` at a tip, or on the way down
    /// to it.
    fn stop(
        &mut self,
        growing: &Growing,
        less_mm: f64,
        tip: &Vec3,
    ) -> Result<Option<Stopping>, CannotAsk> {
        let ready = self.asked.ready;
        if self.element >= ready.without_lids {
            return Ok(None);
        }
        let less_mm = less_mm + self.held.smooth_mm;
        // Made smaller by this much; larger where it is below 0.
        let core_mm = less_mm - growing.wanted_mm;
        let what = &ready.elements[self.element];
        let (tool, near_mm) = if core_mm <= -CONTACT_GRAIN_MM {
            (self.placed(what.shape.clone()), -core_mm)
        } else {
            // A ball of this radius about any point of what is left lies in the element or on its way
            // down: it was made narrower by as much, and went up by as much.
            let by_mm = core_mm.max(0.0) + CONTACT_GRAIN_MM;
            let of_core = growing.profile.as_ref();
            let profile = of_core.or(ready.profiles[self.element].as_ref());
            let Some(left) = profile.and_then(|profile| narrower(profile, by_mm)) else {
                return Ok(None);
            };
            let mut tool = self.placed(turned_shape(&left)?);
            tool.common_from_body = translation(Vec3::z() * by_mm) * tool.common_from_body;
            (tool, CONTACT_GRAIN_MM)
        };
        let ask = self.ask(near_mm, None, self.hints[1].map(|(_, witness)| witness));
        let way = self.way_to(tip);
        let gap = group_gap(std::slice::from_ref(&tool), self.sound_bodies(), &way, &ask)?;
        let witness = gap.witness.map(|witness| (self.held.plane, witness));
        self.hints[1] = witness.or(self.hints[1]);
        let parts = gap.witness.filter(|_| gap.hi_mm < near_mm);
        Ok(
            (parts.is_some() || gap.contained.is_some()).then_some(Stopping {
                tool,
                near_mm,
                parts,
            }),
        )
    }

    /// Whether what stops the middle tip stops those over the corners. Both parts are convex: then it
    /// stops every tip of the cell.
    fn is_stopped_at_corners(&self, stopping: &Stopping) -> Result<bool, CannotAsk> {
        let Some(parts) = &stopping.parts else {
            return Ok(false);
        };
        for tip in &self.held.tips {
            let tool = std::slice::from_ref(&stopping.tool);
            let way = self.way_to(tip);
            let (gap_mm, _) = parts_gap(tool, self.sound_bodies(), &way, parts)?;
            if gap_mm >= stopping.near_mm {
                return Ok(false);
            }
        }
        Ok(true)
    }

    fn way_to(&self, tip: &Vec3) -> Motion {
        let raised = Vec3::new(tip.x, tip.y, self.place.top_mm.max(tip.z));
        Motion::line(raised, *tip)
    }

    /// All but lids, which stop nothing.
    fn sound_bodies(&self) -> &'e [Placed] {
        &self.bodies[..self.place.without_lids(self.kind)]
    }

    fn placed(&self, shape: Shape) -> Placed {
        Placed {
            shape,
            common_from_body: self.asked.ready.elements[self.element].tool_from_body,
        }
    }

    fn ask(&self, enough_mm: f64, beyond: Option<HalfSpace>, hint: Option<Witness>) -> Ask<'e> {
        Ask {
            enough_mm: Some(enough_mm),
            less_mm: Some(enough_mm),
            budget: BUDGET,
            stop: Some(self.asked.stop),
            beyond,
            hint,
            ..Ask::default()
        }
    }
}

fn turned_shape(profile: &Profile) -> Result<Shape, CannotAsk> {
    Ok(Shape::Revolved(Arc::new(revolved(profile)?)))
}
