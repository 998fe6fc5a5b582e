//! Faces of which it is not decided whether they count as reached, where it matters: asked again, with
//! ever finer grain.
//!
//! It matters for every face, tool and seat at the index that is the best so far, for a face at a seat
//! that no tool surely reaches also at the next best ones, and at the indexes of a choice that would be
//! the smallest if all that is undecided were reached.

use super::choice::fewest;
use super::gather::{FaceRow, Row, poorer_first};
use super::model::{IndexReach, Share};
use super::part::{Armed, Direction, PartQuestion, ToolAsk};
use crate::answer::check::{CheckError, Progress};
use crate::answer::scene::Body;
use std::collections::{BTreeMap, BTreeSet};

/// How often it is asked what matters, at most.
const ROUNDS: u32 = 2;

/// A face is given up where two halvings of the grain leave more than this of what was undecided.
const SLOWEST: f64 = 0.7;

/// Where less than this of the share asked for is certain, a finer grain hardly ever decides: with it all
/// faces of the demo are decided that are without it, for half of the work.
const WORTH: f64 = 0.3;

/// Faces to ask of a tool at a seat and index, all by their places, with the share that is undecided.
type Wanted = BTreeMap<(usize, usize, usize), BTreeMap<usize, f64>>;

impl PartQuestion<'_> {
    /// Takes in finer answers.
    ///
    /// # Guarantees
    /// An answer is only taken where less is undecided than before, and no less certain.
    ///
    /// # Errors
    /// As [`PartQuestion::answer`].
    pub(super) fn decide(
        &self,
        own: &Body,
        armed: &[Armed<'_>],
        rows: &mut [Row],
        progress: &dyn Progress,
    ) -> Result<(), CheckError> {
        rows.sort_by_key(Row::place);
        if self.options.halvings == 0 {
            return Ok(());
        }
        let mut asked = Wanted::new();
        for round in 0..ROUNDS {
            // First for every tool; then where no tool surely reaches a face.
            let done = if round == 0 {
                BTreeSet::new()
            } else {
                self.reached(rows)
            };
            let mut wanted = self.open_at_best(rows, &asked, &done);
            if round > 0 {
                self.add_open_at_choice(rows, &asked, &mut wanted);
            }
            if wanted.is_empty() {
                break;
            }
            self.ask_finer(own, armed, &wanted, rows, progress)?;
            for (place, faces) in wanted {
                asked.entry(place).or_default().extend(faces);
            }
        }
        Ok(())
    }

    fn ask_finer(
        &self,
        own: &Body,
        armed: &[Armed<'_>],
        wanted: &Wanted,
        rows: &mut [Row],
        progress: &dyn Progress,
    ) -> Result<(), CheckError> {
        let mut families = self.families();
        for (indexes, directions) in &mut families {
            directions.retain_mut(|direction| {
                let is_wanted = |(seat, index): &(usize, usize)| {
                    let mut tools = 0..armed.len();
                    tools.any(|tool| wanted.contains_key(&(tool, *seat, *index)))
                };
                direction.members.retain(is_wanted);
                !direction.members.is_empty()
            });
            let members = || directions.iter().flat_map(|d: &Direction| &d.members);
            indexes.retain(|index| members().any(|(_, other)| other == index));
        }
        let count = families
            .iter()
            .map(|(_, directions)| directions.len())
            .sum();
        progress.stage("reach, finer", count);
        let finer = |ask: &ToolAsk<'_, '_>| self.finer_rows(wanted, ask);
        for (indexes, directions) in &families {
            if directions.is_empty() {
                continue;
            }
            for found in self.family(own, armed, indexes, directions, &finer, progress)? {
                let place = rows.binary_search_by_key(&found.place(), Row::place);
                if let Ok(place) = place {
                    rows[place].take(found);
                }
            }
        }
        Ok(())
    }

    /// For each tool, seat and face that the tool does not surely reach at any index, the open index
    /// with the greatest share, but for those asked before, and for faces at seats that are done. Rows
    /// are sorted.
    fn open_at_best(
        &self,
        rows: &[Row],
        asked: &Wanted,
        done: &BTreeSet<(usize, usize)>,
    ) -> Wanted {
        let mut wanted = Wanted::new();
        for of_seat in rows.chunk_by(|a, b| (a.tool, a.seat) == (b.tool, b.seat)) {
            for face in 0..of_seat[0].faces.len() {
                let found = || {
                    let rows = of_seat.iter();
                    rows.filter_map(|row| Some((row, row.found(face)?)))
                };
                let is_reached = found().any(|(_, at)| self.is_reached(&at.share));
                if is_reached || done.contains(&(of_seat[0].seat, face)) {
                    continue;
                }
                let open = found().filter(|(row, at)| {
                    self.is_worth_more(&at.share) && !row.is_among(asked, face)
                });
                if let Some((row, at)) = open.max_by(|a, b| poorer_first(a.1, b.1)) {
                    let faces = wanted.entry(row.place()).or_default();
                    faces.insert(face, at.share.undecided);
                }
            }
        }
        wanted
    }

    /// Adds what is open at the indexes that would be the fewest, if all that is open were reached, for
    /// all faces at seats that surely are.
    fn add_open_at_choice(&self, rows: &[Row], asked: &Wanted, wanted: &mut Wanted) {
        // For each face at a seat the indexes that surely reach it, and those that may.
        let mut places: BTreeMap<(usize, usize), [BTreeSet<usize>; 2]> = BTreeMap::new();
        for row in rows {
            for face in 0..row.faces.len() {
                let share = row.found(face).map_or(Share::NONE, |found| found.share);
                let [surely, maybe] = places.entry((row.seat, face)).or_default();
                if self.is_reached(&share) {
                    surely.insert(row.index);
                }
                if self.is_reached(&share) || self.is_open(&share) {
                    maybe.insert(row.index);
                }
            }
        }
        places.retain(|_, [surely, _]| !surely.is_empty());
        let needs = places.values().map(|[_, maybe]| maybe.clone()).collect();
        // Where the solver fails, the choice itself will say so.
        let chosen = fewest(&needs).unwrap_or_default();
        for row in rows.iter().filter(|row| chosen.contains(&row.index)) {
            for face in 0..row.faces.len() {
                let surely = places.get(&(row.seat, face)).map(|[surely, _]| surely);
                if surely.is_some_and(|surely| surely.is_disjoint(&chosen))
                    && let Some(at) = row.found(face)
                    && self.is_worth_more(&at.share)
                    && !row.is_among(asked, face)
                {
                    let faces = wanted.entry(row.place()).or_default();
                    faces.insert(face, at.share.undecided);
                }
            }
        }
    }

    /// Seats and faces that some tool surely reaches.
    fn reached(&self, rows: &[Row]) -> BTreeSet<(usize, usize)> {
        let of_row = |row: &Row| {
            let faces = (0..row.faces.len())
                .filter(|&face| row.found(face).is_some_and(|at| self.is_reached(&at.share)));
            faces.map(|face| (row.seat, face)).collect::<Vec<_>>()
        };
        rows.iter().flat_map(of_row).collect()
    }

    fn is_reached(&self, share: &Share) -> bool {
        share.certain >= self.options.from_share
    }

    /// Whether a face with this share is worth a finer grain.
    fn is_worth_more(&self, share: &Share) -> bool {
        self.is_open(share) && share.certain >= WORTH * self.options.from_share
    }

    /// Whether it is not decided if a face with this share counts as reached.
    fn is_open(&self, share: &Share) -> bool {
        !self.is_reached(share) && share.most() >= self.options.from_share
    }

    /// The rows of one tool from one direction with what is wanted of it, each face as finely as it
    /// takes to decide it at every seat and index, or as the halvings allow.
    fn finer_rows(&self, wanted: &Wanted, ask: &ToolAsk<'_, '_>) -> Result<Vec<Row>, CheckError> {
        let asked = self.surface.asked.iter().enumerate();
        let asked: Vec<usize> = asked
            .filter(|(_, asked)| **asked)
            .map(|(face, _)| face)
            .collect();
        // What was undecided of a face before the last two halvings, and before the last.
        let mut open: BTreeMap<usize, [f64; 2]> = BTreeMap::new();
        for (seat, index) in ask.members() {
            let faces = wanted.get(&(ask.number, seat, index));
            for (face, undecided) in faces.into_iter().flatten() {
                let [_, last] = open.entry(*face).or_insert([f64::INFINITY, 0.0]);
                *last = last.max(*undecided);
            }
        }
        let mut rows: Vec<Row> = Vec::new();
        for halvings in 1..=self.options.halvings {
            if open.is_empty() {
                break;
            }
            let mut faces = vec![false; self.surface.asked.len()];
            open.keys().for_each(|&face| faces[asked[face]] = true);
            let pose = &ask.own.approach_from_part;
            let seen = self.surface.seen_of(&faces, halvings, ask.tool(), pose);
            let found = self.tool_rows(ask, seen)?;
            open.retain(|&face, [before, last]| {
                let rows = found.iter().filter(|row| row.is_among(wanted, face));
                let shares = rows.filter_map(|row| Some(row.found(face)?.share));
                let open = shares.filter(|share| self.is_open(share));
                let undecided = open.map(|share| share.undecided).fold(0.0, f64::max);
                let goes_on = undecided > 0.0 && undecided < *before * SLOWEST;
                [*before, *last] = [*last, undecided];
                goes_on
            });
            if rows.is_empty() {
                rows = found;
            } else {
                rows.iter_mut()
                    .zip(found)
                    .for_each(|(row, found)| row.take(found));
            }
        }
        Ok(rows)
    }
}

impl Row {
    /// Places of tool, seat and index.
    fn place(&self) -> (usize, usize, usize) {
        (self.tool, self.seat, self.index)
    }

    fn is_among(&self, wanted: &Wanted, face: usize) -> bool {
        let faces = wanted.get(&self.place());
        faces.is_some_and(|faces| faces.contains_key(&face))
    }

    /// What is or may be reached of a face, by its place among those asked about.
    fn found(&self, face: usize) -> Option<&IndexReach> {
        match &self.faces[face] {
            FaceRow::Some(found) => Some(found),
            FaceRow::Nothing { .. } => None,
        }
    }

    /// Takes those faces of another row of which less is undecided.
    fn take(&mut self, other: Self) {
        for (mine, other) in self.faces.iter_mut().zip(other.faces) {
            let narrower = match (&*mine, &other) {
                (FaceRow::Some(known), FaceRow::Some(found)) => {
                    found.share.undecided < known.share.undecided
                        && found.share.certain >= known.share.certain
                }
                // A face that was not asked about has no reason.
                (FaceRow::Some(_), FaceRow::Nothing { reason, .. }) => reason.is_some(),
                (FaceRow::Nothing { .. }, _) => false,
            };
            if narrower {
                *mine = other;
            }
        }
    }
}
