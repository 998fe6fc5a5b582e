//! Contacts that the machine file means, with what of the bodies lies outside their regions.

use crate::answer::contact::{Outside, Region};
use crate::answer::scene::{Body, BodyId, Scene};
use crate::gap::CannotAsk;
use crate::setup::model::Contact;
use crate::value::Pose;

/// A contact that is meant, and what of its two bodies lies outside the region.
#[derive(Debug, Clone)]
pub struct MeantContact {
    /// Its name in the machine file.
    pub name: String,
    /// The bed body.
    pub bed_id: BodyId,
    /// Its name.
    pub bed_name: String,
    /// What is left of the bed body; `None` where nothing is.
    pub bed: Option<Body>,
    /// What is left of the carrier's bodies, in the carrier's frame.
    pub carrier: Vec<Body>,
}

/// Takes each contact's region off the carrier and off the bed body, where it holds an end of them.
pub(super) fn meant_contacts(scene: &Scene<'_>) -> Result<Vec<MeantContact>, CannotAsk> {
    let machine = &scene.setup.machine;
    let at_zero = scene.setup.carrier.machine_from_carrier_at_zero;
    let carrier: Vec<Body> = scene.carrier()?;
    let contact = |contact: &Contact| {
        let region = Region {
            centre: machine.rotary.centre,
            direction: machine.rotary.direction,
            radius_mm: contact.radius_mm,
            along_mm: contact.along_mm,
        };
        let whole = &scene.bed[contact.bed];
        let left = |body: &Body, pose: &Pose| match region.outside(body, pose) {
            Outside::Nothing => None,
            Outside::Cut(body) => Some(body),
            Outside::Whole => Some(body.clone()),
        };
        MeantContact {
            name: contact.name.clone(),
            bed_id: whole.id,
            bed_name: whole.name.clone(),
            bed: left(whole, &Pose::identity()),
            carrier: carrier
                .iter()
                .filter_map(|body| left(body, &at_zero))
                .collect(),
        }
    };
    Ok(machine.contacts.iter().map(contact).collect())
}
