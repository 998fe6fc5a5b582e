//! One element of a tool over an interval of angle: does it keep its gap at every tip of a cell, at none,
//! and if neither, what would tell more?

use super::bands::BandQuestion;
use super::ladder::{ROOM_MM, narrower};
use super::open::Hints;
use super::place::{Held, Kind, Place};
use crate::answer::check::erode::eroded;
use crate::answer::check::measure::CONTACT_GRAIN_MM;
use crate::answer::check::model::Element;
use crate::answer::scene::revolved;
use crate::gap::{
    Ask, CannotAsk, HalfSpace, Motion, Placed, Shape, Witness, group_gap, parts_gap_mm,
};
use crate::setup::model::Profile;
use crate::value::{Vec3, translation};
use std::sync::Arc;

/// Work that one question may take.
const BUDGET: u64 = 200_000;

/// A cell this many times as large as what the angle moves is split, however many cells that makes.
const MANY: f64 = 16.0;

/// A cell on the edge of what is reached is split where its middle is this many times as far from its
/// corners as the angle moves it.
const EDGE: f64 = 8.0;

/// What an element does at the tips of a cell, at every angle of an interval.
pub enum ElementOver {
    /// It keeps its gap at every tip.
    Free,
    /// It does not at any.
    Stopped,
    /// Smaller cells would tell more: the middle one would be stopped, or free.
    Smaller {
        /// Whether it would be stopped.
        stops: bool,
        /// How far the angle moves the element and the bodies against one another.
        moved_mm: f64,
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

impl<'e> ElementQuestion<'e> {
    /// Asks.
    pub fn answer(mut self) -> Result<ElementOver, CannotAsk> {
        let what = &self.asked.ready.elements[self.element];
        let follows = what.element == Element::Shank && self.asked.ready.shank_follows;
        if self.bodies.is_empty() || (self.kind == Kind::Own && follows) {
            return Ok(ElementOver::Free);
        }
        let Some(growing) = self.growing()? else {
            return Ok(ElementOver::Nothing);
        };
        let moved_mm = self.moved_mm(&growing);
        if self.keeps(&growing, moved_mm, &self.held.tips)? {
            return Ok(ElementOver::Free);
        }
        // The middle of the cell alone, as if the cell were that small; then the interval, too.
        let middle = [self.held.middle_tip()];
        let stop = self.stop(&growing, moved_mm, &middle[0])?;
        if let Some(stop) = &stop {
            let spread_mm = self.held.spread_mm;
            if self.is_stopped_at_corners(stop)?
                || self
                    .stop(&growing, moved_mm + spread_mm, &middle[0])?
                    .is_some()
            {
                return Ok(ElementOver::Stopped);
            }
            // Where many small cells would be needed, narrower intervals come first.
            if spread_mm > MANY * moved_mm
                || self
                    .stop(&growing, moved_mm + spread_mm / 4.0, &middle[0])?
                    .is_some()
            {
                let stops = true;
                return Ok(ElementOver::Smaller { stops, moved_mm });
            }
            return Ok(ElementOver::Narrower);
        }
        if self.keeps(&growing, moved_mm, &middle)? {
            let stops = false;
            return Ok(ElementOver::Smaller { stops, moved_mm });
        }
        // The edge of what is reached: cells much smaller than this would only be more.
        if self.held.spread_mm > EDGE * moved_mm && self.has_sure_corner(&growing, moved_mm)? {
            let stops = false;
            return Ok(ElementOver::Smaller { stops, moved_mm });
        }
        let least_mm = ROOM_MM + (moved_mm - ROOM_MM) * self.place.finest_share;
        let narrower = self.keeps(&growing, least_mm, &middle)?
            || self.stop(&growing, least_mm, &middle[0])?.is_some();
        Ok(if narrower {
            ElementOver::Narrower
        } else {
            ElementOver::Nothing
        })
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

    /// Whether the element keeps its gap, and `more_mm`, at tips and on the ways down to them.
    fn keeps(&mut self, growing: &Growing, more_mm: f64, tips: &[Vec3]) -> Result<bool, CannotAsk> {
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
            return Ok(true);
        }
        let witness = gap.witness.map(|witness| (plane, witness));
        self.hints[0] = witness.or(self.hints[0]);
        Ok(false)
    }

    /// Whether a tip over a corner is surely free, or surely stopped: then an edge of what is reached
    /// may go through the cell.
    fn has_sure_corner(&mut self, growing: &Growing, moved_mm: f64) -> Result<bool, CannotAsk> {
        for corner in 0..self.held.tips.len() {
            let tip = self.held.tips[corner];
            if self.keeps(growing, moved_mm, &[tip])?
                || self.stop(growing, moved_mm, &tip)?.is_some()
            {
                return Ok(true);
            }
        }
        Ok(false)
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
            if parts_gap_mm(tool, self.sound_bodies(), &way, parts)? >= stopping.near_mm {
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
