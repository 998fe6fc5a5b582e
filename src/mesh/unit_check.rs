//! Probable wrong length unit: a mesh that is far too large or too small for its place.

use super::Mesh;
use super::fault::{FaultKind, MeshFault, Place};

/// A mesh whose size suggests another unit.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitSuspicion {
    /// Largest extent of the mesh divided by the size expected.
    pub ratio: f64,
    /// By what the mesh would have to be multiplied, if one known unit explains it: 25.4, 1/25.4,
    /// 1000, 1/1000.
    pub factor: Option<f64>,
    /// The warning, with its remedy.
    pub fault: MeshFault,
}

/// Pairs of units that are mixed up: what the factor means.
const MIX_UPS: [(f64, &str); 4] = [
    (25.4, "it looks like inches read as millimetres"),
    (1.0 / 25.4, "it looks like millimetres read as inches"),
    (1000.0, "it looks like metres read as millimetres"),
    (
        1.0 / 1000.0,
        "it looks like micrometres read as millimetres",
    ),
];

/// How far from its expected size a sound body may be for a mix-up to explain it: half to double.
///
/// A part seldom fills its seat exactly. Doubling on either side of 25.4 leaves everything from
/// 1/12.7 to 12.7 times the expected size without a warning: small parts on large seats and bars
/// longer than their vice are common, a part twelve times its seat is not.
const SPREAD: f64 = 2.0;

/// Says when a mesh is about 25.4 (or 1000) times too large or too small for its place.
///
/// `expected_size_mm` is the largest extent expected, such as that of the seat or carrier; without
/// a positive one nothing can be said. Sizes more than 50.8 times off that no unit explains are
/// pointed out without a factor.
#[must_use]
pub fn unit_suspicion(mesh: &Mesh, expected_size_mm: f64) -> Option<UnitSuspicion> {
    if !(expected_size_mm.is_finite() && expected_size_mm > 0.0) {
        return None;
    }
    let (low, high) = mesh.bounds();
    let size_mm = (high - low).max();
    let ratio = size_mm / expected_size_mm;
    let explains = |factor: f64| (1.0 / SPREAD..=SPREAD).contains(&(ratio * factor));
    let mix_up = MIX_UPS.iter().find(|(factor, _)| explains(*factor));
    let beyond = 25.4 * SPREAD;
    if mix_up.is_none() && (1.0 / beyond..=beyond).contains(&ratio) {
        return None;
    }
    let why = mix_up.map_or("no common unit explains it", |(_, why)| why);
    let message = format!(
        "the mesh is {size_mm:.4} mm long where about {expected_size_mm:.1} mm is expected \
         ({ratio:.4} times): {why}"
    );
    let fault = MeshFault::new(FaultKind::ProbableUnit, Place::File, message);
    Some(UnitSuspicion {
        ratio,
        factor: mix_up.map(|(factor, _)| *factor),
        fault,
    })
}
