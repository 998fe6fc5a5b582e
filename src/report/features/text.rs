//! Faces and features as text.

use super::words::{Words, ground};
use super::{FeaturesReport, KINDS};
use crate::report::text::number::Lengths;
use crate::report::text::page::Page;
use crate::value::Unit;

/// Column at which the description of a face or feature begins.
const HANG: usize = 18;

/// Faces and features as text: the totals first, then the features, then the faces.
///
/// # Units
/// Lengths in `unit`, areas in its square.
///
/// # Guarantees
/// No line is longer than 80 letters.
#[must_use]
pub fn features_text(report: &FeaturesReport<'_>, unit: Unit) -> String {
    let lengths = Lengths { unit };
    let words = Words { lengths };
    let area = |area_mm2: f64| match unit {
        Unit::Mm => format!("{area_mm2:.1}"),
        Unit::Inch => format!("{:.4}", area_mm2 / (unit.mm() * unit.mm())),
    };
    let mut page = Page::new(false);
    let (low, high) = report.mesh.bounds();
    let size = high - low;
    let size: Vec<String> = size.iter().map(|x| lengths.near(*x)).collect();
    page.text(
        0,
        2,
        &format!(
            "{}: {} triangles, {} {}",
            report.file,
            report.mesh.triangles.len(),
            size.join(" x "),
            lengths.name()
        ),
    );
    let (totals, whole_mm2) = report.totals();
    let parts: Vec<String> = KINDS
        .iter()
        .zip(totals)
        .filter(|(_, (count, _))| *count > 0)
        .map(|(kind, (count, area_mm2))| {
            format!("{count} {kind} ({:.1} %)", 100.0 * area_mm2 / whole_mm2)
        })
        .collect();
    let faces = &report.faces.faces;
    page.text(
        0,
        2,
        &format!("{} faces by area: {}", faces.len(), parts.join(", ")),
    );
    for found in &report.faces.grounds {
        page.text(0, 2, &format!("note: {}", ground(found)));
    }
    page.heading(&format!("Features: {}", report.features.len()));
    for feature in report.features {
        page.text(
            2,
            HANG,
            &format!("{:<14}  {}", feature.name, words.feature(feature)),
        );
    }
    page.heading(&format!(
        "Faces: {}, fitted through their vertices",
        faces.len()
    ));
    for face in faces {
        let fit_um = face.fit_error_mm * 1e3;
        let line = format!(
            "{:<14}  area {}, fit {fit_um:.2} um, {}",
            face.name,
            area(face.area_mm2),
            words.face(face)
        );
        page.text(2, HANG, &line);
    }
    page.finish()
}
