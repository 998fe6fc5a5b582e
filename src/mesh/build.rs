//! From welded triangles to a [`Mesh`], and the ways to make one without a file.

use super::chord::{self, Chord, LARGE_ALLOWANCE_MM};
use super::crossings::{Crossings, at_edges};
use super::edges::{EdgeTable, EdgeUse};
use super::fault::{FaultKind, FaultLog, MeshFault, MeshFaults, Place};
use super::read::{MOST_TRIANGLES, check_allowance, finish};
use super::shells::{find_shells, note_inside_out};
use super::weld::{Soup, Welder, index_u32};
use super::{Mesh, Shell};
use nalgebra::Point3;

impl Mesh {
    /// A mesh from triangles in millimetres, welded and checked as a file is; with its warnings.
    ///
    /// # Errors
    /// No triangles, bad coordinates, or a bad stated allowance.
    pub fn from_triangles(
        triangles_mm: &[[Point3<f64>; 3]],
        chord: Chord,
    ) -> Result<(Self, Vec<MeshFault>), MeshFaults> {
        let mut log = FaultLog::default();
        if let Chord::Stated(allowance_mm) = chord {
            check_allowance(allowance_mm, &mut log);
        }
        if triangles_mm.len() as u64 > MOST_TRIANGLES {
            log.add(FaultKind::TooLarge, Place::File, || {
                format!(
                    "{} triangles, more than {MOST_TRIANGLES}",
                    triangles_mm.len()
                )
            });
        }
        if log.has_error() {
            return Err(log.into_error());
        }
        let mut welder = Welder::with_capacity(triangles_mm.len());
        for (index, corners) in triangles_mm.iter().enumerate() {
            let corners_mm = corners.map(|p| [p.x, p.y, p.z]);
            welder.add(corners_mm, &mut log, || Place::Triangle(index as u64 + 1));
        }
        match finish(welder, chord, &mut log) {
            Some((mesh, _)) => Ok((mesh, log.into_faults())),
            None => Err(log.into_error()),
        }
    }

    /// A mesh from vertices in millimetres and corner indices; otherwise as
    /// [`Mesh::from_triangles`].
    ///
    /// # Errors
    /// Also when an index is out of range.
    pub fn from_indexed(
        vertices_mm: &[Point3<f64>],
        triangles: &[[u32; 3]],
        chord: Chord,
    ) -> Result<(Self, Vec<MeshFault>), MeshFaults> {
        let mut log = FaultLog::default();
        let mut corners_mm = Vec::with_capacity(triangles.len());
        for (index, corners) in triangles.iter().enumerate() {
            let [a, b, c] = corners.map(|corner| vertices_mm.get(corner as usize));
            if let (Some(&a), Some(&b), Some(&c)) = (a, b, c) {
                corners_mm.push([a, b, c]);
            } else {
                log.add(
                    FaultKind::BadIndex,
                    Place::Triangle(index as u64 + 1),
                    || {
                        format!(
                            "corners {corners:?}, but there are {} vertices",
                            vertices_mm.len()
                        )
                    },
                );
            }
        }
        if log.has_error() {
            return Err(log.into_error());
        }
        Self::from_triangles(&corners_mm, chord)
    }
}

/// Shells, chord allowance and warnings; the soup holds only good coordinates. With edges at which bodies
/// overlap.
pub(super) fn assemble(
    mut soup: Soup,
    chord: Chord,
    log: &mut FaultLog,
) -> Option<(Mesh, Crossings)> {
    let mut edges = EdgeTable::new(&soup.triangles, soup.vertices.len());
    let crossings = at_edges(&soup, &edges);
    let twins = find_twins(&soup, &edges, log);
    if !twins.is_empty() {
        soup.remove_triangles(&twins);
        edges = EdgeTable::new(&soup.triangles, soup.vertices.len());
    }
    let shells = find_shells(&soup, &edges, log);
    let (chord_allowance_mm, hollow_chord_mm) = match chord {
        Chord::Stated(allowance_mm) => (allowance_mm, allowance_mm),
        Chord::Estimated => estimate_chord(&soup, &edges, log),
    };
    drop(edges);
    let tidy = soup.flat.is_empty() && !soup.left_some_out();
    let mut mesh = Mesh {
        vertices: soup.vertices,
        triangles: soup.triangles,
        shells: shells.shells,
        shell_of_triangle: shells.shell_of_triangle,
        chord_allowance_mm,
        hollow_chord_mm,
        crossings: None,
    };
    if !tidy {
        mesh.drop_triangles(&soup.flat);
    }
    if mesh.triangles.is_empty() {
        log.add(FaultKind::ZeroTriangles, Place::File, || {
            "no triangle has an area".into()
        });
        return None;
    }
    note_inside_out(&mesh, log);
    Some((mesh, crossings))
}

fn estimate_chord(soup: &Soup, edges: &EdgeTable, log: &mut FaultLog) -> (f64, f64) {
    let rises = chord::estimate(soup, edges);
    let allowance_mm = rises.convex_mm;
    if allowance_mm > LARGE_ALLOWANCE_MM {
        log.add(
            FaultKind::LargeChordAllowance,
            Place::Triangle(soup.file_number(rises.triangle)),
            || format!("the chord allowance is estimated as {allowance_mm:.3} mm"),
        );
    }
    (allowance_mm, rises.hollow_mm)
}

/// Triangles listed twice, ascending; back-to-back pairs are only noted.
fn find_twins(soup: &Soup, edges: &EdgeTable, log: &mut FaultLog) -> Vec<u32> {
    let mut doubled: Vec<(u32, u32)> = Vec::new();
    let mut opposed: Vec<(u32, u32)> = Vec::new();
    let mut facing: Vec<(u32, bool, u32)> = Vec::new();
    edges.for_each(|_, higher, uses| {
        if uses.len() < 2 {
            return;
        }
        let third = |one: &EdgeUse| soup.triangles[one.triangle as usize][one.opposite];
        facing.clear();
        facing.extend(
            uses.iter()
                .map(|one| (third(one), one.forward, one.triangle)),
        );
        // Each triangle is looked at once: at the edge of its two lowest corners.
        facing.retain(|(third, ..)| *third > higher);
        facing.sort_unstable();
        for group in facing.chunk_by(|a, b| a.0 == b.0) {
            let mut firsts = group.chunk_by(|a, b| a.1 == b.1).map(|same| {
                doubled.extend(same[1..].iter().map(|later| (later.2, same[0].2)));
                same[0].2
            });
            if let (Some(one), Some(other)) = (firsts.next(), firsts.next()) {
                opposed.push((one.max(other), one.min(other)));
            }
        }
    });
    doubled.sort_unstable();
    opposed.sort_unstable();
    for (list, kind, what) in [
        (&doubled, FaultKind::DuplicateTriangle, "is the same as"),
        (&opposed, FaultKind::BackToBack, "lies back to back on"),
    ] {
        for &(later, earlier) in list {
            log.add(kind, Place::Triangle(soup.file_number(later)), || {
                format!("it {what} triangle {}", soup.file_number(earlier))
            });
        }
    }
    let mut twins: Vec<u32> = doubled.into_iter().map(|(later, _)| later).collect();
    twins.dedup();
    twins
}

impl Soup {
    /// Removes triangles (ascending); the list of flat ones follows.
    fn remove_triangles(&mut self, removed: &[u32]) {
        let is_removed = |triangle: u32| removed.binary_search(&triangle).is_ok();
        let shift = |triangle: u32| removed.partition_point(|&r| r < triangle) as u32;
        self.flat.retain(|&triangle| !is_removed(triangle));
        let flat = self
            .flat
            .iter()
            .map(|&triangle| triangle - shift(triangle))
            .collect();
        let skipped = removed
            .iter()
            .map(|&triangle| (self.file_number(triangle) - 1) as u32);
        let skipped: Vec<u32> = skipped.collect();
        self.flat = flat;
        let mut index = 0;
        self.triangles.retain(|_| {
            index += 1;
            !is_removed(index - 1)
        });
        self.leave_out(&skipped);
    }
}

impl Mesh {
    /// Drops triangles without area (ascending) after the shells were found with them, and all
    /// vertices that no triangle uses.
    ///
    /// They close seams between a long edge and two short ones, so closedness counts them.
    fn drop_triangles(&mut self, dropped: &[u32]) {
        let old = std::mem::take(self);
        let mut keep = vec![true; old.triangles.len()];
        dropped
            .iter()
            .for_each(|&triangle| keep[triangle as usize] = false);
        let mut new_vertex = vec![u32::MAX; old.vertices.len()];
        self.chord_allowance_mm = old.chord_allowance_mm;
        self.hollow_chord_mm = old.hollow_chord_mm;
        // Shells keep their order, so that numbers in faults stay right; empty ones vanish.
        let mut kept_of_shell = vec![0_usize; old.shells.len()];
        for (shell, _) in old
            .shell_of_triangle
            .iter()
            .zip(&keep)
            .filter(|(_, keep)| **keep)
        {
            kept_of_shell[*shell as usize] += 1;
        }
        let mut new_shell = vec![u32::MAX; old.shells.len()];
        for (index, shell) in old
            .shells
            .iter()
            .enumerate()
            .filter(|(s, _)| kept_of_shell[*s] > 0)
        {
            new_shell[index] = index_u32(self.shells.len());
            self.shells.push(Shell {
                triangle_count: 0,
                ..shell.clone()
            });
        }
        for (triangle, corners) in old.triangles.iter().enumerate().filter(|(t, _)| keep[*t]) {
            let old_shell = old.shell_of_triangle[triangle] as usize;
            let shell = &mut self.shells[new_shell[old_shell] as usize];
            if shell.triangle_count == 0 {
                shell.first_triangle = index_u32(self.triangles.len());
            }
            shell.triangle_count += 1;
            self.shell_of_triangle.push(new_shell[old_shell]);
            self.triangles.push(corners.map(|corner| {
                let renamed = &mut new_vertex[corner as usize];
                if *renamed == u32::MAX {
                    *renamed = index_u32(self.vertices.len());
                    self.vertices.push(old.vertices[corner as usize]);
                }
                *renamed
            }));
        }
    }
}
