//! Cuts that name a feature of their part's mesh.

use super::file::{CutFile, FeatureFile};
use super::from_mesh::{WrittenFeature, written_feature};
use super::model::{Part, State};
use super::nearest::{list, nearest};
use super::seats::find;
use super::spot::Spot;
use crate::mesh::Mesh;
use crate::mesh::faces::FaceGround;
use crate::mesh::features::{Feature, features};
use std::cell::RefCell;
use std::sync::Arc;

/// Features of the meshes asked so far: each mesh is split once.
#[derive(Default)]
pub(super) struct Found(RefCell<Vec<(Arc<Mesh>, Arc<Recognised>)>>);

/// What is found in one mesh.
struct Recognised {
    features: Vec<Feature>,
    grounds: Vec<FaceGround>,
}

impl Found {
    fn of(&self, mesh: &Arc<Mesh>) -> Arc<Recognised> {
        let mut known = self.0.borrow_mut();
        if let Some((_, found)) = known.iter().find(|(other, _)| Arc::ptr_eq(other, mesh)) {
            return Arc::clone(found);
        }
        let (faces, features) = features(mesh);
        let found = Arc::new(Recognised {
            features,
            grounds: faces.grounds,
        });
        known.push((Arc::clone(mesh), Arc::clone(&found)));
        found
    }

    /// The feature of a cut as typed numbers: looked up where it is named, as it is elsewhere.
    ///
    /// `None`, and a fault, where there is no such feature.
    pub(super) fn typed(
        &self,
        spot: &Spot<'_>,
        cut: &CutFile,
        part: Option<&Part>,
    ) -> Option<FeatureFile> {
        let FeatureFile::FromMesh {
            name, state, step, ..
        } = &cut.feature
        else {
            return Some(cut.feature.clone());
        };
        let part = part?;
        let state = self.state(spot, part, state.as_deref().unwrap_or(&cut.after))?;
        let found = self.of(&state.mesh);
        let Some(feature) = found.features.iter().find(|feature| feature.name == *name) else {
            spot.key("name")
                .error(no_such(name, state, &found.features));
            return None;
        };
        if !found.grounds.is_empty() {
            spot.key("name").warn(format!(
                "the mesh of the state \"{}\" is not sound, and \"{name}\" rests on it; see the \
                 warnings of the mesh",
                state.name
            ));
        }
        let access = match &cut.feature {
            FeatureFile::FromMesh {
                access: Some(access),
                ..
            } => Some(spot.key("access").direction(*access)?),
            _ => None,
        };
        let written = match written_feature(feature, spot.unit(), access) {
            Ok(written) => written,
            Err(reason) => {
                spot.key("name")
                    .error(format!("\"{name}\" cannot be taken as it is: {reason}"));
                return None;
            }
        };
        let picked = pick(spot, name, written, *step)?;
        Some(with_own_keys(spot, picked, &cut.feature))
    }

    fn state<'a>(&self, spot: &Spot<'_>, part: &'a Part, name: &str) -> Option<&'a State> {
        let names: Vec<&str> = part
            .states
            .iter()
            .map(|state| state.name.as_str())
            .collect();
        let what = format!("state of the part \"{}\" named", part.name);
        Some(&part.states[find(&spot.key("state"), &what, name, &names)?])
    }
}

fn no_such(name: &str, state: &State, features: &[Feature]) -> String {
    let names: Vec<&str> = features
        .iter()
        .map(|feature| feature.name.as_str())
        .collect();
    let kind = name.rsplit_once('-').map_or(name, |(kind, _)| kind);
    let alike: Vec<&str> = names
        .iter()
        .filter(|n| n.starts_with(kind))
        .copied()
        .collect();
    let remedy = if !alike.is_empty() {
        format!("there is {}", list(&alike))
    } else if let Some(near) = nearest(name, &names) {
        format!("is \"{near}\" meant?")
    } else if names.is_empty() {
        "none was found in it; write the feature in numbers".to_owned()
    } else {
        format!("there is {}", list(&names))
    };
    format!(
        "the mesh of the state \"{}\" has no feature \"{name}\"; {remedy} (see `lapidary features`)",
        state.name
    )
}

/// The step that is asked for.
fn pick(
    spot: &Spot<'_>,
    name: &str,
    mut written: Vec<WrittenFeature>,
    step: Option<usize>,
) -> Option<FeatureFile> {
    let count = written.len();
    match step {
        None if count == 1 => written.pop().map(|only| only.file),
        None => {
            spot.error(format!(
                "\"{name}\" has {count} steps; say which with `step`, from 1 at the opening to {count}"
            ));
            None
        }
        Some(step) if (1..=count).contains(&step) => Some(written.swap_remove(step - 1).file),
        Some(step) => {
            spot.key("step").error(format!(
                "\"{name}\" has no step {step}; give 1 to {count}, counted from the opening"
            ));
            None
        }
    }
}

/// Puts in what the cut says beside the name.
fn with_own_keys(spot: &Spot<'_>, mut file: FeatureFile, asked: &FeatureFile) -> FeatureFile {
    let FeatureFile::FromMesh {
        break_through: past,
        stock_left: left,
        ..
    } = asked
    else {
        return file;
    };
    let (mut takes_past, mut takes_left) = (false, false);
    match &mut file {
        FeatureFile::RoundHole { break_through, .. } => {
            *break_through = *past;
            takes_past = true;
        }
        FeatureFile::Pocket { stock_left, .. } | FeatureFile::RoundPocket { stock_left, .. } => {
            *stock_left = *left;
            takes_left = true;
        }
        _ => {}
    }
    if *past != 0.0 && !takes_past {
        spot.key("break_through")
            .error("only a round hole breaks through; leave it out");
    }
    if *left != 0.0 && !takes_left {
        spot.key("stock_left")
            .error("only a pocket has stock left; leave it out");
    }
    file
}
