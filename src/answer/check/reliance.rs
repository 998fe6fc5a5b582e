//! What a `clear` relies on.

use super::judge::Judge;
use super::model::Reliance;
use super::run::Judged;
use crate::setup::file::Sense;

/// Everything that the answer takes for granted beyond its meshes and numbers.
#[must_use]
pub fn relies_on(judge: &Judge<'_>, judged: &Judged) -> Vec<Reliance> {
    let setup = judge.scene.setup;
    let mut list = Vec::new();
    if let Some(sense) = setup.machine.rotary.sense {
        let sense = match sense {
            Sense::Iso841 => "iso-841",
            Sense::Reversed => "reversed",
        };
        list.push(Reliance::RotarySense {
            sense: sense.to_owned(),
        });
    }
    if setup.machine.rotary.way.is_none() && !judged.moves.is_empty() {
        list.push(Reliance::BothWays);
    }
    for (cut_index, cut) in setup.cuts.iter().enumerate() {
        let jobs = judged.plan.jobs.iter().zip(&judged.cuts);
        let Some((_, found)) = jobs.clone().find(|(job, _)| job.cut == cut_index) else {
            continue;
        };
        let part = &setup.parts[cut.part];
        let earlier = setup.cuts[..cut_index]
            .iter()
            .rev()
            .find(|earlier| earlier.part == cut.part && earlier.after == cut.before);
        if let (Some(earlier), true) = (earlier, cut.before > 0) {
            list.push(Reliance::EarlierCut {
                cut: cut.name.clone(),
                earlier: earlier.name.clone(),
                state: part.states[cut.before].name.clone(),
            });
        }
        if let Some(pass_mm) = found.pass_mm {
            list.push(Reliance::Passes {
                cut: cut.name.clone(),
                pass_mm,
            });
        }
        let of_cut = jobs.clone().filter(|(job, _)| job.cut == cut_index);
        if let Some(depth_mm) = of_cut.filter_map(|(_, found)| found.thread_mm).next() {
            list.push(Reliance::Thread {
                cut: cut.name.clone(),
                depth_mm,
            });
        }
        let corridors = jobs.filter(|(job, _)| job.cut == cut_index);
        if let Some(difference_mm) = corridors
            .filter_map(|(_, found)| found.corridor_mm)
            .reduce(f64::min)
        {
            list.push(Reliance::Corridor {
                cut: cut.name.clone(),
                difference_mm,
            });
        }
        let planned = cut.feed_plane_mm.is_none() || cut.travel_plane_mm.is_none();
        if let (true, Some(planes)) = (planned, found.planes) {
            list.push(Reliance::Plane {
                cut: cut.name.clone(),
                feed_mm: planes.feed_mm,
                travel_mm: planes.travel_mm,
            });
        }
    }
    list
}
