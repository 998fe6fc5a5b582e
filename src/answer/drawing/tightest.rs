//! The tightest place of a tool.

use super::model::Site;
use crate::answer::check::model::{CheckAnswer, Measured};

/// The place where least is left over the wanted gap, in cuts, index moves and tool changes; the
/// first of equals. A place with two points goes before one that is only known to be far.
pub(super) fn of(answer: &CheckAnswer, tool: u32) -> Option<(Site, &Measured)> {
    let cuts = answer.cuts.iter().enumerate();
    let cuts = cuts.filter(|(_, cut)| cut.tool == tool);
    let cuts = cuts.filter_map(|(at, cut)| Some((Site::Cut(at), cut.least.as_ref()?)));
    let moves = answer.index_moves.iter().enumerate();
    let moves = moves.filter(|(_, step)| step.tool == tool);
    let moves = moves.filter_map(|(at, step)| Some((Site::IndexMove(at), step.least.as_ref()?)));
    let changes = answer.tool_changes.iter().enumerate();
    let changes = changes.filter(|(_, change)| change.tool == tool);
    let changes =
        changes.filter_map(|(at, change)| Some((Site::ToolChange(at), change.least.as_ref()?)));
    cuts.chain(moves).chain(changes).min_by(|(_, a), (_, b)| {
        let far = |measured: &Measured| measured.place.is_none();
        let spare_mm = |measured: &Measured| measured.gap.lo_mm - measured.wanted_mm;
        far(a)
            .cmp(&far(b))
            .then(spare_mm(a).total_cmp(&spare_mm(b)))
    })
}
