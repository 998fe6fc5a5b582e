//! Bytes that no one meant: random, cut, and mutated.

use super::*;
use proptest::prelude::*;

/// Shell and triangle numbers that a reader of a mesh relies on.
fn assert_invariants(mesh: &Mesh) {
    assert!(!mesh.triangles.is_empty());
    assert_eq!(mesh.triangles.len(), mesh.shell_of_triangle.len());
    let mut counts = vec![0; mesh.shells.len()];
    let mut used = vec![false; mesh.vertices.len()];
    for (corners, shell) in mesh.triangles.iter().zip(&mesh.shell_of_triangle) {
        counts[*shell as usize] += 1;
        corners
            .iter()
            .for_each(|corner| used[*corner as usize] = true);
        let [a, b, c] = corners.map(|corner| mesh.vertices[corner as usize]);
        assert!((b - a).cross(&(c - a)).norm() > 0.0);
    }
    assert!(used.iter().all(|used| *used));
    assert!(mesh.vertices.iter().all(|v| v.coords.amax() <= FARTHEST_MM));
    for (shell, count) in mesh.shells.iter().zip(counts) {
        assert_eq!(shell.triangle_count, count);
        assert!(shell.volume_mm3.is_finite());
    }
    assert!(mesh.chord_allowance_mm >= 0.0);
}

#[test]
fn every_prefix_is_refused_or_whole() {
    let bytes = binary(b"solid brick", &brick());
    for end in 0..bytes.len() {
        let error = refused(&bytes[..end]);
        assert!(
            error
                .faults
                .iter()
                .all(|fault| fault.severity == Severity::Error),
            "{error}"
        );
    }
    let text = ascii("brick", &brick());
    let whole_from = text.find("endsolid").unwrap() + "endsolid".len();
    for end in 0..text.len() {
        match read(&text[..end]) {
            Ok(read) => assert!(
                end >= whole_from && read.mesh.triangles.len() == 12,
                "{end}"
            ),
            Err(error) => assert!(end < whole_from && !error.faults.is_empty(), "{end}"),
        }
    }
}

/// Files made to be slow in a reader that compares all with all: each takes minutes then.
#[test]
fn hostile_files_do_not_take_for_ever() {
    let start = std::time::Instant::now();
    let count = 60_000_u32;
    let fan: Vec<Triangle> = (0..count)
        .map(|k| [[0.0; 3], [0.0, 0.0, 1.0], [1.0, k as f32, 0.0]])
        .collect();
    assert_eq!(
        read(binary(b"", &fan)).unwrap().mesh.triangles.len(),
        fan.len()
    );
    let chain: Vec<u8> = fan.iter().flat_map(|t| binary(b"", &[*t])).collect();
    assert_eq!(read(chain).unwrap().solids.len(), fan.len());
    let inverted: Vec<Triangle> = (0..20_000)
        .flat_map(|k| {
            let [o, x, y, z] = [[0.0; 3], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]];
            let shell = [[o, x, y], [o, y, z], [o, z, x], [x, z, y]];
            let flip = |[a, b, c]: Triangle| if k % 2 == 0 { [a, c, b] } else { [a, b, c] };
            shell.map(|t| {
                flip(t).map(|[x, y, z]| [x + 2.0 * (k % 100) as f32, y, z + 2.0 * (k / 100) as f32])
            })
        })
        .collect();
    let faults = read(binary(b"", &inverted)).unwrap().faults;
    assert_eq!(faults.last().unwrap().further, 10_000 - LISTED_PER_KIND);
    assert!(start.elapsed().as_secs() < 60);
}

proptest! {
    #[test]
    fn random_bytes_never_panic(bytes in proptest::collection::vec(any::<u8>(), 0..2000)) {
        if let Ok(read) = read(&bytes) {
            assert_invariants(&read.mesh);
        }
    }

    #[test]
    fn random_text_never_panics(words in proptest::collection::vec(
        prop::sample::select(vec![
            "solid", "facet", "normal", "outer", "loop", "vertex", "endloop", "endfacet",
            "endsolid", "1", "2.5", "-3e2", "nan", "1,2", "\n", "\r\n", "\t",
        ]), 0..200)) {
        let text = format!("solid x\n{}", words.join(" "));
        if let Ok(read) = read(&text) {
            assert_invariants(&read.mesh);
        }
    }

    #[test]
    fn random_triangles_keep_the_invariants(
        corners in proptest::collection::vec(prop::array::uniform3(prop::array::uniform3(0..4_i8)), 1..60)
    ) {
        let triangles: Vec<Triangle> =
            corners.iter().map(|t| t.map(|p| p.map(f32::from))).collect();
        if let Ok(read) = read(binary(b"", &triangles)) {
            assert_invariants(&read.mesh);
        }
    }

    #[test]
    fn mutated_files_never_panic(
        as_text in any::<bool>(),
        hits in proptest::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..6),
        cut in any::<prop::sample::Index>(),
        insert in any::<bool>(),
    ) {
        let mut bytes =
            if as_text { ascii("b", &brick()).into_bytes() } else { binary(b"b", &brick()) };
        for (place, value) in hits {
            let place = place.index(bytes.len());
            bytes[place] = value;
        }
        let cut = cut.index(bytes.len());
        if insert { bytes.insert(cut, b'0') } else { bytes.remove(cut); }
        if let Ok(read) = read(&bytes) {
            assert_invariants(&read.mesh);
        }
    }

    #[test]
    fn order_of_triangles_does_not_matter(
        order in Just((0..12_usize).chain(100..112).collect::<Vec<_>>()).prop_shuffle()
    ) {
        let of = |index: usize| {
            let shift = if index >= 100 { 40.0 } else { 0.0 };
            brick()[index % 100].map(|[x, y, z]| [x + shift, y, z])
        };
        let triangles: Vec<Triangle> = order.iter().map(|index| of(*index)).collect();
        let (mesh, faults) = meshed(&triangles);
        prop_assert_eq!(faults, vec![]);
        prop_assert_eq!(mesh.shells.len(), 2);
        prop_assert!(mesh.shells.iter().all(|shell| shell.closed));
        prop_assert!((mesh.volume_mm3() - 12_000.0).abs() < 1e-8);
    }
}
