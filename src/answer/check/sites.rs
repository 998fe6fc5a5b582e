//! Where a change may do harm.

use super::trial::Trial;
use super::violation::Site;

impl Trial<'_> {
    /// Every cut and every index move.
    pub(super) fn all_sites(&self) -> Vec<Site> {
        let cuts = self.judged.plan.jobs.iter().map(|job| Site::Cut(*job));
        cuts.chain(self.move_sites()).collect()
    }

    /// Every index move, of the tool group and of the work.
    pub(super) fn move_sites(&self) -> Vec<Site> {
        let moves = self
            .judged
            .moves
            .iter()
            .map(|(step, _, _)| Site::Move(*step));
        let work = self
            .judged
            .work_moves
            .iter()
            .map(|(step, _)| Site::WorkMove(*step));
        moves.chain(work).collect()
    }

    /// A cut at all its seats.
    pub(super) fn sites_of_cut(&self, cut: usize) -> Vec<Site> {
        let jobs = self.judged.plan.jobs.iter().filter(|job| job.cut == cut);
        jobs.map(|job| Site::Cut(*job)).collect()
    }

    /// Everything that a tool does.
    pub(super) fn sites_of_tool(&self, tool: usize) -> Vec<Site> {
        let cuts = &self.judge.scene.setup.cuts;
        let jobs = self
            .judged
            .plan
            .jobs
            .iter()
            .filter(|job| cuts[job.cut].tool == tool);
        let moves = self
            .judged
            .moves
            .iter()
            .filter(|(step, _, _)| step.tool == tool);
        let changes = self
            .judged
            .changes
            .iter()
            .filter(|(change, _)| change.tool == tool);
        jobs.map(|job| Site::Cut(*job))
            .chain(moves.map(|(step, _, _)| Site::Move(*step)))
            .chain(changes.map(|(change, _)| Site::Change(*change)))
            .collect()
    }
}
