//! Cuts: which tool, which part, from which state to which, at which index.

use super::feature::feature;
use super::file::{CutFile, JobFile};
use super::found::Found;
use super::machine::check_index;
use super::model::{Cut, Part, Rotary, Tool};
use super::seats::find;
use super::spot::Spot;

/// What cuts refer to.
pub(super) struct Known<'a> {
    pub(super) job: &'a JobFile,
    /// Numbers of all tools that are written, sound or not; `None` where a file is missing.
    pub(super) tool_numbers: Option<&'a [u32]>,
    /// The sound ones.
    pub(super) tools: &'a [Tool],
    pub(super) rotary: Option<&'a Rotary>,
    /// The parts with their meshes; `None` where one could not be read.
    pub(super) parts: &'a [Option<Part>],
    /// Features of their meshes.
    pub(super) found: Found,
}

/// Checks and makes the cuts.
pub(super) fn cuts(list: &Spot<'_>, known: &Known<'_>) -> Vec<Cut> {
    let files = &known.job.cuts;
    let names: Vec<&str> = files.iter().map(|file| file.name.as_str()).collect();
    list.unique(&names, "name");
    // States of each part that are there: what is loaded, and what earlier cuts have left.
    let mut there: Vec<Vec<usize>> = known.job.parts.iter().map(|_| vec![0]).collect();
    let mut cuts = Vec::new();
    for (index, file) in files.iter().enumerate() {
        let spot = list.item(index);
        let Some(cut) = cut(&spot, file, known, &mut there) else {
            continue;
        };
        cuts.push(cut);
    }
    cuts
}

fn cut(
    spot: &Spot<'_>,
    file: &CutFile,
    known: &Known<'_>,
    there: &mut [Vec<usize>],
) -> Option<Cut> {
    let tool = known.tools.iter().position(|tool| tool.number == file.tool);
    if let Some(numbers) = known.tool_numbers
        && !numbers.contains(&file.tool)
    {
        let remedy = nearest_numbers(file.tool, numbers);
        spot.key("tool")
            .error(format!("there is no tool {}; {remedy}", file.tool));
    }
    let states = states(spot, file, known.job);
    if let Some((part, before, after)) = states {
        note_gap_in_states(spot, file, &mut there[part], before, after);
        if known
            .job
            .seats
            .iter()
            .all(|seat| seat.part.as_deref() != Some(&file.part))
        {
            spot.key("part").warn(format!(
                "no seat holds the part \"{}\", so this cut is done nowhere",
                file.part
            ));
        }
    }
    check_indexes(spot, file, known.rotary);
    let feed_plane_mm = file
        .feed_plane
        .map(|plane| spot.key("feed_plane").not_negative(plane));
    let travel_plane_mm = file
        .travel_plane
        .map(|plane| spot.key("travel_plane").not_negative(plane));
    if let (Some(feed), Some(travel)) = (file.feed_plane, file.travel_plane)
        && travel < feed
    {
        spot.key("travel_plane").error(format!(
            "the travel plane {travel} is below the feed plane {feed}; give at least {feed}"
        ));
    }
    let pass_depth_mm = file
        .pass_depth
        .map(|depth| spot.key("pass_depth").positive(depth));
    let feature_spot = spot.key("feature");
    let part_model = states.and_then(|(part, ..)| known.parts[part].as_ref());
    let typed = known.found.typed(&feature_spot, file, part_model);
    let tool_model = tool.map(|index| &known.tools[index]);
    let feature = typed.and_then(|file| feature(&feature_spot, &file, tool_model));
    let (part, before, after) = states?;
    Some(Cut {
        name: file.name.clone(),
        tool: tool?,
        part,
        before,
        after,
        index_deg: file.index_deg.clone(),
        feature: feature?,
        feed_plane_mm,
        travel_plane_mm,
        pass_depth_mm,
    })
}

fn nearest_numbers(wanted: u32, known: &[u32]) -> String {
    let mut by_distance: Vec<u32> = known.to_vec();
    by_distance.sort_unstable_by_key(|number| (number.abs_diff(wanted), *number));
    by_distance.truncate(3);
    by_distance.sort_unstable();
    if by_distance.is_empty() {
        return "there are no tools; name a file in `tool_files` or write `tools`".to_owned();
    }
    let numbers: Vec<String> = by_distance.iter().map(ToString::to_string).collect();
    format!("the nearest are {}", numbers.join(", "))
}

/// Indices of the part and of its two states.
fn states(spot: &Spot<'_>, file: &CutFile, job: &JobFile) -> Option<(usize, usize, usize)> {
    let parts: Vec<&str> = job.parts.iter().map(|part| part.name.as_str()).collect();
    let part = find(&spot.key("part"), "part", &file.part, &parts)?;
    let names: Vec<&str> = job.parts[part]
        .states
        .iter()
        .map(|state| state.name.as_str())
        .collect();
    let what = format!("state of the part \"{}\" named", file.part);
    let before = find(&spot.key("before"), &what, &file.before, &names);
    let after = find(&spot.key("after"), &what, &file.after, &names);
    Some((part, before?, after?))
}

fn note_gap_in_states(
    spot: &Spot<'_>,
    file: &CutFile,
    there: &mut Vec<usize>,
    before: usize,
    after: usize,
) {
    if before > after {
        spot.key("before").error(format!(
            "the state \"{}\" comes after \"{}\" in the order of the part; a cut goes forward, \
             exchange them",
            file.before, file.after
        ));
    } else if before == after {
        spot.key("after").warn(format!(
            "the cut leaves \"{}\" as it is, so its flutes may touch nothing but air; name the \
             state that it leaves",
            file.after
        ));
    }
    if !there.contains(&before) {
        spot.key("before").warn(format!(
            "the part is not loaded as \"{}\" and no earlier cut leaves it so; check the order of \
             the cuts",
            file.before
        ));
    }
    there.push(after);
}

fn check_indexes(spot: &Spot<'_>, file: &CutFile, rotary: Option<&Rotary>) {
    let spot = spot.key("index_deg");
    let Some(angles) = &file.index_deg else {
        return;
    };
    if angles.is_empty() {
        spot.error("the list is empty; give an angle, or leave `index_deg` out to have it found");
    }
    for (index, angle_deg) in angles.iter().enumerate() {
        if let Some(rotary) = rotary {
            check_index(&spot.item(index), rotary, *angle_deg);
        }
    }
}
