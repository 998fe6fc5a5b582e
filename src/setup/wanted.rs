//! Wanted gaps, and where axes stand during index moves of a job.

use super::file::{IndexPoseFile, WantedFile};
use super::model::{IndexAt, Machine, Wanted, WantedGap};
use super::nearest::suggest;
use super::spot::{FARTHEST_MM, Spot};

/// Default at rest and along lines.
const REST_MM: f64 = 2.0;
/// Default in index moves.
const INDEX_MM: f64 = 5.0;
/// Largest gap that can be wanted: more than the travel of a machine, and far less than the engine
/// takes.
const MOST_MM: f64 = 10_000.0;
/// Names of the elements.
const ELEMENTS: [&str; 6] = ["flutes", "shank", "holder", "nose", "head", "work"];

/// Checks and makes the wanted gaps; they must be above zero, or contact would count as clear.
pub(super) fn wanted(spot: &Spot<'_>, file: &WantedFile) -> Wanted {
    let gap =
        |spot: &Spot<'_>, rest: Option<f64>, index: Option<f64>, other: WantedGap| WantedGap {
            rest_mm: rest.map_or(other.rest_mm, |rest| gap_mm(&spot.key("rest"), rest)),
            index_mm: index.map_or(other.index_mm, |index| gap_mm(&spot.key("index"), index)),
        };
    let standard = WantedGap {
        rest_mm: REST_MM,
        index_mm: INDEX_MM,
    };
    let everywhere = gap(spot, file.rest, file.index, standard);
    let elements = spot.key("elements");
    for name in file.elements.keys() {
        if !ELEMENTS.contains(&name.as_str()) {
            let remedy = suggest(name, &ELEMENTS);
            elements
                .key(name)
                .error(format!("there is no element \"{name}\"; {remedy}"));
        }
    }
    let element = |name: &str| match file.elements.get(name) {
        Some(own) => gap(&elements.key(name), own.rest, own.index, everywhere),
        None => everywhere,
    };
    Wanted {
        flutes: element("flutes"),
        shank: element("shank"),
        holder: element("holder"),
        nose: element("nose"),
        head: element("head"),
        work: element("work"),
    }
}

fn gap_mm(spot: &Spot<'_>, gap: f64) -> f64 {
    let gap_mm = spot.positive(gap);
    // Beyond a kilometre it has been told.
    if gap_mm > MOST_MM && gap_mm <= FARTHEST_MM {
        spot.error(format!(
            "a wanted gap of {gap} is more than 10 metres; check the decimal point and `units`"
        ));
    }
    gap_mm
}

/// Puts the index pose of a job over the machine's.
pub(super) fn index_pose(spot: &Spot<'_>, files: &[IndexPoseFile], machine: &mut Machine) {
    let names: Vec<&str> = files.iter().map(|file| file.axis.as_str()).collect();
    spot.unique(&names, "axis");
    for (index, file) in files.iter().enumerate() {
        let spot = spot.item(index);
        let known: Vec<String> = machine.axes.iter().map(|axis| axis.name.clone()).collect();
        let Some(axis) = machine.axes.iter_mut().find(|axis| axis.name == file.axis) else {
            let known: Vec<&str> = known.iter().map(String::as_str).collect();
            let remedy = suggest(&file.axis, &known);
            spot.key("axis")
                .error(format!("there is no axis \"{}\"; {remedy}", file.axis));
            continue;
        };
        axis.index = match (file.at, file.rule) {
            (Some(at), None) => {
                let at_mm = spot.key("at").length(at);
                if axis.low_mm < axis.high_mm && !(axis.low_mm..=axis.high_mm).contains(&at_mm) {
                    spot.key("at").error(format!(
                        "{at_mm} mm is outside the limits {} to {} mm of axis {}; give a position \
                         within them",
                        axis.low_mm, axis.high_mm, axis.name
                    ));
                }
                IndexAt::At(at_mm)
            }
            (None, Some(rule)) => IndexAt::Rule(rule),
            _ => {
                spot.error("give either `at` or `rule`, one of the two");
                continue;
            }
        };
    }
}
