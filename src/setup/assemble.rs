//! From files of sound structure to the checked setup.

use super::carrier::Sides;
use super::cuts::{Known, cuts};
use super::document::Document;
use super::file::{JobFile, MachineFile, SeatFile, ToolFile, ToolsFile};
use super::found::Found;
use super::load::{Source, SourceFile};
use super::machine::{check_index, machine};
use super::meshes::{Orders, Store};
use super::model::{Machine, Setup, Tool};
use super::parts::{Surroundings, clamps, parts};
use super::spot::{Log, Spot};
use super::tool::tool;
use super::wanted::{index_pose, wanted};
use super::{bodies, carrier, holder, seats};
use crate::value::Unit;

/// How deep flutes may stand in the finished part where nothing is stated.
const GOUGE_MM: f64 = 0.01;

/// The files of a job whose structure is sound.
pub(super) struct Files {
    pub(super) job: Option<(Document, JobFile)>,
    pub(super) machine: Option<(Document, MachineFile)>,
    pub(super) tools: Vec<(Document, ToolsFile)>,
    /// Whether every tool file that is named is among them.
    pub(super) all_tools_read: bool,
}

/// A list of tools and where it stands.
struct ToolList<'a> {
    list: Spot<'a>,
    files: &'a [ToolFile],
    inline: bool,
}

/// Checks everything and makes the setup; `None` where something is missing for it.
pub(super) fn assemble(
    files: &Files,
    source: &dyn Source,
    log: &Log,
    sources: &mut Vec<SourceFile>,
) -> Option<Setup> {
    let job = files
        .job
        .as_ref()
        .map(|(doc, file)| (Spot::top(doc, log, file.units), file));
    let machine_file = machine_file(files, job.as_ref(), log);
    let tool_lists = tool_lists(files, job.as_ref(), log);
    let mut orders = Orders::default();
    if let Some((spot, file)) = &machine_file {
        bodies::order(spot, file, &mut orders);
    }
    for tools in &tool_lists {
        holder::order(&tools.list, tools.files, &mut orders);
    }
    if let Some((spot, file)) = &job {
        carrier::order(&spot.key("carrier"), &file.carrier, &mut orders);
        super::parts::order(spot, &file.parts, &file.clamps, &mut orders);
    }
    let store = orders.read(source, log, sources);
    let machine = machine_file.and_then(|(spot, file)| machine(&spot, file, &store));
    let tools = tools(&tool_lists, &store);
    let (spot, file) = job?;
    let numbers: Vec<u32> = tool_lists
        .iter()
        .flat_map(|list| list.files.iter().map(|tool| tool.number))
        .collect();
    let numbers = files.all_tools_read.then_some(numbers.as_slice());
    finish(&spot, file, machine, tools, numbers, &store, log)
}

/// The machine, from its own file or from the job.
fn machine_file<'a>(
    files: &'a Files,
    job: Option<&(Spot<'a>, &'a JobFile)>,
    log: &'a Log,
) -> Option<(Spot<'a>, &'a MachineFile)> {
    if let Some((spot, file)) = job {
        match (&file.machine_file, &file.machine) {
            (Some(_), Some(_)) => spot
                .key("machine")
                .error("`machine_file` and `machine` are both given; give one of them"),
            (None, None) => spot.error("there is no machine; give `machine_file` or `machine`"),
            (None, Some(machine)) => {
                let machine_spot = spot.key("machine");
                check_inline_machine(&machine_spot, machine, spot.unit());
                return Some((machine_spot, machine));
            }
            (Some(_), None) => {}
        }
    }
    let (doc, file) = files.machine.as_ref()?;
    Some((Spot::top(doc, log, file.units.unwrap_or(Unit::Mm)), file))
}

fn check_inline_machine(spot: &Spot<'_>, machine: &MachineFile, unit: Unit) {
    if machine.units.is_some_and(|own| own != unit) {
        spot.key("units")
            .error("a machine inside a job has the job's unit; leave `units` out");
    }
    let wanted = super::SchemaKind::Machine.format();
    if machine
        .format
        .as_ref()
        .is_some_and(|format| format != wanted)
    {
        spot.key("format")
            .error(format!("must be \"{wanted}\"; leave it out inside a job"));
    }
    if machine
        .version
        .is_some_and(|version| version != super::FORMAT_VERSION)
    {
        let wanted = super::FORMAT_VERSION;
        spot.key("version")
            .error(format!("must be {wanted}; leave it out inside a job"));
    }
}

fn tool_lists<'a>(
    files: &'a Files,
    job: Option<&(Spot<'a>, &'a JobFile)>,
    log: &'a Log,
) -> Vec<ToolList<'a>> {
    let of_file = |(doc, file): &'a (Document, ToolsFile)| ToolList {
        list: Spot::top(doc, log, file.units).key("tools"),
        files: &file.tools,
        inline: false,
    };
    let inline = job.map(|(spot, file)| ToolList {
        list: spot.key("tools"),
        files: &file.tools,
        inline: true,
    });
    files.tools.iter().map(of_file).chain(inline).collect()
}

/// Checks and makes all tools; one written in the job replaces the same number of a file.
fn tools(lists: &[ToolList<'_>], store: &Store) -> Vec<Tool> {
    let mut tools: Vec<(Tool, bool)> = Vec::new();
    let mut seen: Vec<(u32, bool, String)> = Vec::new();
    for list in lists {
        for (index, file) in list.files.iter().enumerate() {
            let spot = list.list.item(index);
            let same =
                |other: &&(u32, bool, String)| other.0 == file.number && other.1 == list.inline;
            if let Some((_, _, place)) = seen.iter().find(same) {
                spot.key("number").error(format!(
                    "tool {} stands twice, first at {place}; give another number or remove one",
                    file.number
                ));
                continue;
            }
            seen.push((file.number, list.inline, spot.key("number").cite()));
            if let Some(tool) = tool(&spot, file, store) {
                tools.push((tool, list.inline));
            }
        }
    }
    // The one of the job comes first, and the same number of a file after it goes.
    tools.sort_by_key(|(tool, inline)| (tool.number, !inline));
    tools.dedup_by_key(|(tool, _)| tool.number);
    tools.into_iter().map(|(tool, _)| tool).collect()
}

fn finish(
    spot: &Spot<'_>,
    file: &JobFile,
    mut machine: Option<Machine>,
    tools: Vec<Tool>,
    tool_numbers: Option<&[u32]>,
    store: &Store,
    log: &Log,
) -> Option<Setup> {
    spot.key("title").name(&file.title);
    let wanted = wanted(&spot.key("wanted"), &file.wanted);
    let gouge_mm = file
        .gouge
        .map_or(GOUGE_MM, |gouge| spot.key("gouge").not_negative(gouge));
    if let Some(machine) = &mut machine {
        index_pose(&spot.key("index_pose"), &file.index_pose, machine);
        check_index(
            &spot.key("start_index_deg"),
            &machine.rotary,
            file.start_index_deg,
        );
    }
    let carrier_spot = spot.key("carrier");
    let sides = carrier::sides(&carrier_spot, &file.carrier);
    let carrier = match (&sides, &machine) {
        (Some(sides), Some(machine)) => {
            carrier::carrier(&carrier_spot, &file.carrier, sides, machine, store, log)
        }
        _ => None,
    };
    let part_mm = |index| part_expected_mm(spot, file, sides.as_ref(), index);
    let clamp_mm = |index| clamp_expected_mm(spot, file, sides.as_ref(), index);
    let around = |expected_mm| Surroundings {
        store,
        log,
        expected_mm,
    };
    let parts = parts(&spot.key("parts"), &file.parts, &around(&part_mm));
    let clamps = clamps(&spot.key("clamps"), &file.clamps, &around(&clamp_mm));
    let seats = sides
        .as_ref()
        .map(|sides| seats::seats(&spot.key("seats"), file, sides));
    let rotary = machine.as_ref().map(|machine| &machine.rotary);
    let known = Known {
        job: file,
        tool_numbers,
        tools: &tools,
        rotary,
        parts: &parts,
        found: Found::default(),
    };
    let cuts = cuts(&spot.key("cuts"), &known);
    drop(known);
    Some(Setup {
        title: file.title.clone(),
        cuts,
        tools,
        machine: machine?,
        carrier: carrier?,
        parts: parts.into_iter().collect::<Option<_>>()?,
        clamps: clamps.into_iter().collect::<Option<_>>()?,
        seats: seats?,
        wanted,
        gouge_mm,
        start_index_deg: file.start_index_deg,
    })
}

/// Size expected of a part.
fn part_expected_mm(
    spot: &Spot<'_>,
    file: &JobFile,
    sides: Option<&Sides>,
    index: usize,
) -> Option<f64> {
    let name = &file.parts[index].name;
    expected_mm(spot, file, sides, &|seat| seat.part.as_ref() == Some(name))
}

/// Size expected of a clamp.
fn clamp_expected_mm(
    spot: &Spot<'_>,
    file: &JobFile,
    sides: Option<&Sides>,
    index: usize,
) -> Option<f64> {
    let name = &file.clamps[index].name;
    let holds = |named: &String| named == name || named.starts_with(&format!("{name}/"));
    expected_mm(spot, file, sides, &|seat| seat.clamps.iter().any(holds))
}

/// Size expected of what stands on the first seats that hold it.
fn expected_mm(
    spot: &Spot<'_>,
    file: &JobFile,
    sides: Option<&Sides>,
    holds: &dyn Fn(&SeatFile) -> bool,
) -> Option<f64> {
    let seat = file.seats.iter().find(|seat| holds(seat))?;
    Some(seats::expected_size_mm(spot, seat, sides?))
}
