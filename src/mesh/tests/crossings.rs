//! Meshes that cross themselves, and meshes that only touch or only look so.

use super::*;
use crate::mesh::solids::{Roundness, cuboid, revolved};
use nalgebra::{Isometry3, Vector3};
use std::iter;

/// A box as triangles.
fn block(low: [f64; 3], high: [f64; 3]) -> Vec<Triangle> {
    single(&cuboid(Point3::from(low), Point3::from(high)).unwrap())
}

fn found(triangles: &[Triangle]) -> (Crossings, Vec<MeshFault>) {
    let read = read(binary(b"", triangles)).unwrap();
    (read.mesh.crossings.unwrap(), read.faults)
}

#[track_caller]
fn assert_silent(triangles: &[Triangle], what: &str) {
    let (crossings, faults) = found(triangles);
    assert!(crossings.is_none(), "{what}: {crossings:?}");
    let told = |fault: &&MeshFault| fault.kind == FaultKind::Crossings;
    assert_eq!(faults.iter().find(told), None, "{what}");
}

/// How many pairs cross, which must be told.
#[track_caller]
fn pairs(triangles: &[Triangle], what: &str) -> u64 {
    let (crossings, faults) = found(triangles);
    assert!(crossings.pairs > 0 && !crossings.given_up, "{what}");
    let told: Vec<&MeshFault> = faults
        .iter()
        .filter(|fault| fault.kind == FaultKind::Crossings)
        .collect();
    assert_eq!(told.len(), 1, "{what}: {faults:?}");
    let count = format!("{} pair", crossings.pairs);
    assert!(told[0].message.starts_with(&count), "{}", told[0].message);
    crossings.pairs
}

/// A corner of one box in the other: three faces of each, whose edges go through three of the other.
#[test]
fn two_boxes_that_overlap() {
    let one = block([0.0; 3], [10.0; 3]);
    let other = block([5.0, 6.0, 7.0], [15.0, 16.0, 17.0]);
    let both = [one.clone(), other.clone()].concat();
    let count = pairs(&both, "two boxes");
    let (crossings, faults) = found(&both);
    // By hand: the line of crossing has six edges, each in a face of either box, which has two
    // triangles; so at least six pairs, and at most four for each edge.
    assert!((6..=24).contains(&count), "{crossings:?}");
    let at = crossings.place.unwrap();
    let on = |at: f64, ends: [f64; 2]| ends.iter().any(|end| (at - end).abs() < 1e-9);
    let first = on(at.x, [0.0, 10.0]) || on(at.y, [0.0, 10.0]) || on(at.z, [0.0, 10.0]);
    let second = on(at.x, [5.0, 15.0]) || on(at.y, [6.0, 16.0]) || on(at.z, [7.0, 17.0]);
    assert!(first && second, "{at}");
    let told = faults.iter().find(|f| f.kind == FaultKind::Crossings);
    let told = told.unwrap().to_string();
    let place = format!("near ({:.3}, {:.3}, {:.3})", at.x, at.y, at.z);
    assert!(told.contains(&place), "{told}");
    // Any order tells as many.
    let turned: Vec<Triangle> = both.iter().rev().copied().collect();
    assert_eq!(pairs(&turned, "turned round"), count);
}

/// Their faces lie in the same planes all round: no triangle goes through another.
#[test]
fn two_boxes_that_overlap_with_flush_faces() {
    let one = block([0.0; 3], [10.0; 3]);
    pairs(
        &[one.clone(), block([5.0, 0.0, 0.0], [15.0, 10.0, 10.0])].concat(),
        "flush on four sides",
    );
    pairs(
        &[one, block([2.0, 2.0, 4.0], [8.0, 8.0, 10.0])].concat(),
        "within, one face flush",
    );
}

#[test]
fn boxes_that_touch_do_not_cross() {
    let one = block([0.0; 3], [10.0; 3]);
    let step = 10.0_f32.next_down();
    for (low, what) in [
        ([10.0, 0.0, 0.0], "the same face"),
        ([10.0, 3.0, 4.0], "a part of a face"),
        ([10.0, 10.0, 3.0], "along an edge"),
        ([10.0, 10.0, 10.0], "at a corner"),
        ([f64::from(step), 2.0, 3.0], "a step of rounding within"),
        ([2.0, 3.0, 4.0], "wholly within"),
    ] {
        let size = if what == "wholly within" { 5.0 } else { 10.0 };
        let other = block(low, low.map(|c| c + size));
        assert_silent(&[one.clone(), other].concat(), what);
    }
    // Crosswise, edge on edge.
    let bar = block([3.0, -5.0, 10.0], [7.0, 15.0, 14.0]);
    assert_silent(&[one, bar].concat(), "a bar across");
}

/// A box like a bow tie: the upper end is mirrored, and narrower, so that two sides cross in a line. It
/// has one shell, closed, consistent and of positive volume: no other fault tells of it.
#[test]
fn a_bow_tie_crosses_itself() {
    let straight = block([0.0; 3], [10.0, 10.0, 30.0]);
    let twist = |[x, y, z]: [f32; 3]| {
        if z > 15.0 {
            [8.0 - 0.6 * x, y, z]
        } else {
            [x, y, z]
        }
    };
    let tied: Vec<Triangle> = straight.iter().map(|t| t.map(twist)).collect();
    assert_silent(&straight, "before");
    let count = pairs(&tied, "bow tie");
    let read = read(binary(b"", &tied)).unwrap();
    assert_eq!(read.faults.len(), 1, "{:?}", read.faults);
    assert!(read.mesh.shells.len() == 1 && read.mesh.shells[0].closed);
    assert!(read.mesh.volume_mm3() > 0.0 && count >= 2);
    // The sides x = 8 z / 30 and x = 10 - 8 z / 30 meet at half of the height.
    let at = read.mesh.crossings.unwrap().place.unwrap();
    approx::assert_relative_eq!(at.x, 5.0, epsilon = 1e-9);
    approx::assert_relative_eq!(at.z, 18.75, epsilon = 1e-9);
}

/// Two needles that share a corner and go through each other beyond it.
#[test]
fn triangles_with_a_corner_in_common() {
    let one = [[0.0, 0.0, 0.0], [10.0, -3.0, 0.0], [10.0, 3.0, 0.0]];
    let through = [[0.0, 0.0, 0.0], [8.0, 0.0, -3.0], [8.0, 0.0, 3.0]];
    let beside = [[0.0, 0.0, 0.0], [-8.0, 0.0, -3.0], [-8.0, 0.0, 3.0]];
    assert_eq!(pairs(&[one, through], "through"), 1);
    assert_silent(&[one, beside], "beside");
}

/// The upper half of a block goes through a sheet along edges of its own, which lie in the sheet.
#[test]
fn a_surface_that_crosses_along_its_own_edges() {
    let low = block([2.0, 2.0, -5.0], [8.0, 8.0, 0.0]);
    let high = block([2.0, 2.0, 0.0], [8.0, 8.0, 5.0]);
    // Without the face between them the two are one body with an edge all round at z = 0.
    let between = |t: &Triangle| t.iter().all(|corner| corner[2] == 0.0);
    let both = low.iter().chain(&high).filter(|t| !between(t));
    let body: Vec<Triangle> = both.copied().collect();
    assert_eq!(body.len(), 20);
    let sheet = [[-20.0, -20.0, 0.0], [40.0, -20.0, 0.0], [-20.0, 40.0, 0.0]];
    assert_silent(&body, "the body alone");
    let with = |triangles: &[Triangle]| [triangles, &[sheet]].concat();
    assert_eq!(pairs(&with(&body), "a sheet through it"), 4);
    assert_silent(&with(&high), "a block on a sheet");
}

/// A box whose faces are cut along a grid, all squares alike.
fn gridded(low: [i32; 3], high: [i32; 3], step: i32) -> Vec<Triangle> {
    let places = |k: usize| (low[k]..high[k]).step_by(usize::try_from(step).unwrap());
    let mut triangles = Vec::new();
    for k in 0..3 {
        let (u, v) = ((k + 1) % 3, (k + 2) % 3);
        for (plane, outward) in [(low[k], false), (high[k], true)] {
            let corner = |of_u: i32, of_v: i32| {
                let mut corner = [plane as f32; 3];
                (corner[u], corner[v]) = (of_u as f32, of_v as f32);
                corner
            };
            for (a, b) in places(u).flat_map(|a| places(v).map(move |b| (a, b))) {
                let (c, d) = (a + step, b + step);
                let quad = [corner(a, b), corner(c, b), corner(c, d), corner(a, d)];
                for [p, q, r] in [[0, 1, 2], [0, 2, 3]] {
                    let [q, r] = if outward { [q, r] } else { [r, q] };
                    triangles.push([quad[p], quad[q], quad[r]]);
                }
            }
        }
    }
    triangles
}

/// Bodies on one grid: their surfaces cross along edges of both, or are triangle for triangle the same.
#[test]
fn bodies_that_cross_along_edges_of_both() {
    let one = gridded([0; 3], [4; 3], 1);
    assert_silent(&one, "one alone");
    let moved = |by: [i32; 3]| gridded(by, by.map(|c| c + 4), 1);
    for by in [[1, 1, 1], [2, 0, 0], [0, 3, 1], [-1, 2, -3], [1, -1, 0]] {
        pairs(
            &[one.clone(), moved(by)].concat(),
            &format!("moved by {by:?}"),
        );
    }
    for by in [[4, 0, 0], [4, 1, 0], [0, -4, 4], [4, 4, 1], [4, 4, -4]] {
        assert_silent(
            &[one.clone(), moved(by)].concat(),
            &format!("moved by {by:?}"),
        );
    }
    // A hollow, and one that comes out at the side of its body.
    let hollow = |low: [i32; 3], high: [i32; 3]| -> Vec<Triangle> {
        let inward = gridded(low, high, 1);
        inward.into_iter().map(|[a, b, c]| [a, c, b]).collect()
    };
    assert_silent(&[one.clone(), hollow([1; 3], [3; 3])].concat(), "hollow");
    assert_silent(
        &[one.clone(), hollow([1, 1, 3], [3, 3, 4])].concat(),
        "up to a face",
    );
    pairs(
        &[one.clone(), hollow([1, 1, 3], [3, 3, 5])].concat(),
        "hollow beyond a face",
    );
    // One body twice is told as doubled triangles: one of each is left, and nothing crosses.
    let (crossings, faults) = found(&[one.clone(), one.clone()].concat());
    assert!(crossings.is_none(), "{crossings:?}");
    assert!(
        faults
            .iter()
            .any(|f| f.kind == FaultKind::DuplicateTriangle)
    );
    // A patch of it twice, as noise is.
    let (crossings, _) = found(&[&one[..], &one[5..17]].concat());
    assert!(crossings.is_none(), "{crossings:?}");
}

/// Every place of a smaller box on the grid of a larger one: their insides overlap, or do not, by hand.
#[test]
fn all_places_on_one_grid() {
    let large = gridded([0; 3], [3; 3], 1);
    let mut told = 0;
    for size in [[1, 1, 1], [2, 3, 1], [3, 3, 3], [5, 2, 2]] {
        for place in 0..7 * 7 * 7 {
            let low = [place % 7 - 3, place / 7 % 7 - 3, place / 49 - 3];
            let high = [0, 1, 2].map(|k| low[k] + size[k]);
            let all = |test: &dyn Fn(usize) -> bool| (0..3).all(test);
            let overlap = all(&|k| low[k] < 3 && high[k] > 0);
            let within = all(&|k| low[k] > 0 && high[k] < 3);
            let same = (low, high) == ([0; 3], [3; 3]);
            let both = [large.clone(), gridded(low, high, 1)].concat();
            let what = format!("from {low:?} to {high:?}");
            if overlap && !within && !same {
                pairs(&both, &what);
                told += 1;
            } else {
                assert_silent(&both, &what);
            }
        }
    }
    assert!(told > 300, "{told}");
}

/// The surface of unit cubes: two triangles for each face that has a cube on one side only.
fn cubes(within: [i32; 3], solid: impl Fn([i32; 3]) -> bool) -> Vec<Triangle> {
    let mut triangles = Vec::new();
    let count = within.iter().product();
    for n in 0..count {
        let at = [
            n % within[0],
            n / within[0] % within[1],
            n / within[0] / within[1],
        ];
        let cube = gridded(at, at.map(|c| c + 1), 1);
        for (side, quad) in cube.chunks(2).enumerate().filter(|_| solid(at)) {
            let mut beside = at;
            beside[side / 2] += if side % 2 == 0 { -1 } else { 1 };
            let inside = (0..3).all(|k| (0..within[k]).contains(&beside[k]));
            if !(inside && solid(beside)) {
                triangles.extend_from_slice(quad);
            }
        }
    }
    triangles
}

/// The floor of a pocket meets a peg that fits it along edges of the pocket alone, inside faces of the peg; the
/// walls lie back to back on the peg's.
#[test]
fn a_peg_in_a_pocket_that_it_fits() {
    let with_pocket = cubes([4, 4, 4], |[x, y, z]| {
        z < 2 || !((1..3).contains(&x) && (1..3).contains(&y))
    });
    assert_silent(&with_pocket, "without a peg");
    for (deep, crosses) in [
        (0.0, true),
        (1.0, true),
        (1.5, true),
        (2.0, false),
        (3.0, false),
    ] {
        for top in [3.5, 4.0, 6.0] {
            let peg = block([1.0, 1.0, deep], [3.0, 3.0, top]);
            let both = [with_pocket.clone(), peg].concat();
            let what = format!("from {deep} to {top}");
            if crosses {
                pairs(&both, &what);
            } else {
                assert_silent(&both, &what);
            }
        }
    }
}

/// The same of a cavity, closed all round: its shell has no corner in common with the body's outer one. A box with a
/// face missing, far off, changes nothing.
#[test]
fn a_core_in_a_cavity_that_it_fits() {
    let hollow = cubes([6, 6, 6], |at| !at.iter().all(|c| (2..4).contains(c)));
    let far = block([50.0; 3], [60.0; 3]);
    let open = &far[2..];
    for (top, crosses) in [(3.0, false), (4.0, false), (4.5, true), (5.0_f64, true)] {
        let core = block([2.0, 2.0, 2.0], [4.0, 4.0, top]);
        let mut cores = vec![core];
        if top.fract() == 0.0 {
            // On the grid of the cavity, so that both are one shell.
            cores.push(gridded([2, 2, 2], [4, 4, top as i32], 1));
        }
        for core in cores {
            let both = [hollow.clone(), core].concat();
            let with_open = [&both, open].concat();
            let what = format!("up to {top}");
            if crosses {
                pairs(&both, &what);
            } else {
                assert_silent(&both, &what);
                assert_silent(&with_open, &what);
            }
        }
    }
    let pocket = cubes([4, 4, 4], |[x, y, z]| {
        z < 2 || !((1..3).contains(&x) && (1..3).contains(&y))
    });
    let peg = block([1.0, 1.0, 1.0], [3.0, 3.0, 6.0]);
    pairs(&[&pocket, &peg, open].concat(), "beside an open box");
}

/// A sliver no higher than the grain, on edge on a face, whichever way it leans.
#[test]
fn a_sliver_on_a_face_does_not_cross_it() {
    let face = [[-20.0, -20.0, 0.0], [40.0, -20.0, 0.0], [-20.0, 40.0, 0.0]];
    for lean in [-1e-3, -1e-4, 0.0, 1e-5, 1e-4, 1e-3] {
        let sliver = [[0.0, 0.0, 0.0], [5.0, lean, 1e-4], [2.0, 0.0, 0.0]];
        assert_silent(&[face, sliver], &format!("leans by {lean}"));
    }
}

/// Their edges lie on each other along the whole line, but are not the same edges.
#[test]
fn bodies_that_cross_along_pieces_of_edges() {
    let coarse = gridded([0; 3], [8; 3], 2);
    let across = gridded([2, 2, 4], [6, 6, 12], 1);
    pairs(&[coarse.clone(), across].concat(), "half in");
    let on_top = gridded([2, 2, 8], [6, 6, 12], 1);
    assert_silent(&[coarse.clone(), on_top].concat(), "on top");
    let flush = gridded([0, 2, 4], [6, 6, 12], 1);
    pairs(&[coarse.clone(), flush].concat(), "half in, flush");
    let beside = gridded([8, 0, 0], [12, 4, 8], 1);
    assert_silent(&[coarse, beside].concat(), "beside");
}

/// Turned bodies, fine, slanted and rounded to single precision: slivers, but nothing crosses.
#[test]
fn good_meshes_are_silent() {
    let profile = [
        (0.0, 3.0),
        (4.0, 30.0),
        (4.000_1, 30.0),
        (20.0, 29.9),
        (20.0, 12.0),
        (60.0, 12.0),
    ];
    for segments in [7, 90, 720] {
        let body = revolved(&profile, segments, Roundness::Inscribed).unwrap();
        for degrees in [0.0_f64, 10.0, 33.0] {
            let turn = Isometry3::new(
                Vector3::new(500.0, -300.0, 120.0),
                Vector3::new(0.3, 1.0, 0.2).normalize() * degrees.to_radians(),
            );
            let mut turned = body.clone();
            turned.vertices.iter_mut().for_each(|p| *p = turn * *p);
            assert_silent(&single(&turned), &format!("{segments} facets, {degrees}"));
        }
    }
}

/// Cuts edges in two close to one of their ends, so that triangles become needles.
fn with_needles(triangles: &[Triangle], share: f32) -> Vec<Triangle> {
    let mut out = triangles.to_vec();
    let mut cut = vec![false; triangles.len()];
    let edge = |t: &Triangle, k: usize| (t[k], t[(k + 1) % 3]);
    for one in 0..triangles.len() {
        for k in 0..3 {
            let (from, to) = edge(&triangles[one], k);
            let over = |other: &usize| (0..3).find(|k| edge(&triangles[*other], *k) == (to, from));
            let other = (0..triangles.len()).find(|other| over(other).is_some());
            let Some(other) = other.filter(|other| !cut[one] && !cut[*other]) else {
                continue;
            };
            (cut[one], cut[other]) = (true, true);
            let middle = [0, 1, 2].map(|c| from[c] + (to[c] - from[c]) * share);
            for (t, corner) in [(one, k), (other, over(&other).unwrap())] {
                let (mut first, mut second) = (triangles[t], triangles[t]);
                first[(corner + 1) % 3] = middle;
                second[corner] = middle;
                out[t] = first;
                out.push(second);
            }
        }
    }
    out
}

/// The direction of a short edge is known badly: what rounding does to the far end of a needle is no
/// crossing.
#[test]
fn needles_are_silent() {
    // A sector of a plate, cut like a fan from its corner.
    let rim = |k: u32| {
        let angle = 0.01 * f64::from(k);
        [45.0 * angle.cos(), 45.0 * angle.sin()]
    };
    let at = |[x, y]: [f64; 2], z: f64| Point3::new(x, y, z);
    let outline: Vec<[f64; 2]> = iter::once([0.0, 0.0]).chain((0..40).map(rim)).collect();
    let mut sector = Vec::new();
    for k in 0..outline.len() {
        let (a, b) = (outline[k], outline[(k + 1) % outline.len()]);
        sector.push([at(a, 0.0), at(b, 0.0), at(b, 5.0)]);
        sector.push([at(a, 0.0), at(b, 5.0), at(a, 5.0)]);
        if k > 0 && k + 1 < outline.len() {
            sector.push([at(outline[0], 0.0), at(b, 0.0), at(a, 0.0)]);
            sector.push([at(outline[0], 5.0), at(a, 5.0), at(b, 5.0)]);
        }
    }
    for turn in 0..12 {
        let turn = Isometry3::new(
            Vector3::new(-90.0, -40.0, 12.0),
            Vector3::new(0.3, 1.0, 0.2 + f64::from(turn)),
        );
        let turned = sector.iter().map(|t| t.map(|p| turn * p));
        let turned: Vec<Triangle> = turned
            .map(|t| t.map(|p| [p.x, p.y, p.z].map(|c| c as f32)))
            .collect();
        for share in [1e-3, 1e-4] {
            let once = with_needles(&turned, share);
            let twice = with_needles(&once, 1.0 - share);
            assert_silent(&twice, &format!("{turn}, {share}"));
        }
    }
}

/// So many triangles in one place that not all pairs can be looked at: it is said, and the same is said
/// on one thread and on many.
#[test]
fn a_heap_of_triangles_is_given_up() {
    let heap: Vec<Triangle> = (0..20_000)
        .map(|k| {
            let [a, b] = [0.7, 1.3].map(|rate| (k as f32 * rate).sin() * 9.0);
            [[a, -10.0, b], [b, 10.0, -a], [-a, b, 10.0]]
        })
        .collect();
    let (crossings, faults) = found(&heap);
    assert!(crossings.given_up && crossings.pairs > 0, "{crossings:?}");
    let told = faults.iter().find(|f| f.kind == FaultKind::Crossings);
    assert!(told.unwrap().message.starts_with("at least "), "{told:?}");
    let alone = rayon::ThreadPoolBuilder::new()
        .num_threads(1)
        .build()
        .unwrap();
    let again = alone.install(|| found(&heap).0);
    assert_eq!(again, crossings);
}
