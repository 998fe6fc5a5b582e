//! A place in a file, and the checks of single numbers there.

use super::document::{Document, child, toml_path};
use super::fault::{FileFault, Severity};
use crate::value::{Unit, Vec3};
use nalgebra::Point3;
use std::cell::RefCell;
use std::path::Path;

/// Longest length taken for one: a kilometre. Beyond it a unit or a decimal point is wrong.
pub(super) const FARTHEST_MM: f64 = 1.0e6;

/// All faults found so far.
#[derive(Debug, Default)]
pub(super) struct Log(RefCell<Vec<FileFault>>);

impl Log {
    pub(super) fn push(&self, fault: FileFault) {
        self.0.borrow_mut().push(fault);
    }

    pub(super) fn extend(&self, faults: Vec<FileFault>) {
        self.0.borrow_mut().extend(faults);
    }

    /// A fault of a whole file.
    pub(super) fn error_of_file(&self, file: &Path, message: String) {
        let file = file.to_owned();
        self.push(FileFault {
            file,
            line: None,
            severity: Severity::Error,
            message,
        });
    }

    pub(super) fn has_errors(&self) -> bool {
        self.0
            .borrow()
            .iter()
            .any(|fault| fault.severity == Severity::Error)
    }

    /// Everything found: by file and line, each once.
    pub(super) fn into_sorted(self) -> Vec<FileFault> {
        let mut faults = self.0.into_inner();
        faults.sort();
        faults.dedup();
        faults
    }
}

/// A place in a file; it knows the unit of the lengths there.
#[derive(Debug, Clone)]
pub(super) struct Spot<'a> {
    doc: &'a Document,
    log: &'a Log,
    unit: Unit,
    pointer: String,
}

impl<'a> Spot<'a> {
    /// The top of a file.
    pub(super) fn top(doc: &'a Document, log: &'a Log, unit: Unit) -> Self {
        Self {
            doc,
            log,
            unit,
            pointer: String::new(),
        }
    }

    /// A key below this place.
    pub(super) fn key(&self, key: &str) -> Self {
        Self {
            pointer: child(&self.pointer, key),
            ..self.clone()
        }
    }

    /// A place in the same file by its JSON pointer.
    pub(super) fn at_pointer(&self, pointer: &str) -> Self {
        Self {
            pointer: pointer.to_owned(),
            ..self.clone()
        }
    }

    /// An item of the list at this place.
    pub(super) fn item(&self, index: usize) -> Self {
        Self {
            pointer: format!("{}/{index}", self.pointer),
            ..self.clone()
        }
    }

    /// Unit of the lengths here.
    pub(super) const fn unit(&self) -> Unit {
        self.unit
    }

    /// The file that this place is in.
    pub(super) fn file(&self) -> &'a Path {
        &self.doc.file
    }

    /// The place as people write it.
    pub(super) fn path(&self) -> String {
        toml_path(&self.pointer)
    }

    /// Line of the place.
    pub(super) fn line(&self) -> usize {
        self.doc.line(&self.pointer)
    }

    /// The place as people write it, with file and line, for a fault of another file.
    pub(super) fn cite(&self) -> String {
        format!(
            "{}:{} `{}`",
            self.doc.file.display(),
            self.line(),
            self.path()
        )
    }

    pub(super) fn error(&self, message: impl AsRef<str>) {
        self.note(Severity::Error, message.as_ref());
    }

    pub(super) fn warn(&self, message: impl AsRef<str>) {
        self.note(Severity::Warning, message.as_ref());
    }

    fn note(&self, severity: Severity, message: &str) {
        let path = self.path();
        let message = if path.is_empty() {
            message.to_owned()
        } else {
            format!("`{path}`: {message}")
        };
        let line = Some(self.line());
        self.log.push(FileFault {
            file: self.doc.file.clone(),
            line,
            severity,
            message,
        });
    }

    /// A length of any sign, in millimetres.
    pub(super) fn length(&self, value: f64) -> f64 {
        let length_mm = value * self.unit.mm();
        if length_mm.is_nan() || length_mm.abs() > FARTHEST_MM {
            self.error(format!(
                "{value} is farther than a kilometre; check the decimal point and `units`"
            ));
        }
        length_mm
    }

    /// A length that must be above zero, in millimetres.
    pub(super) fn positive(&self, value: f64) -> f64 {
        let length_mm = self.length(value);
        if value <= 0.0 {
            self.error(format!(
                "must be more than 0, but is {value}; give a positive length"
            ));
        }
        length_mm
    }

    /// A length that must not be below zero, in millimetres.
    pub(super) fn not_negative(&self, value: f64) -> f64 {
        let length_mm = self.length(value);
        if value < 0.0 {
            self.error(format!(
                "must not be negative, but is {value}; give 0 or more"
            ));
        }
        length_mm
    }

    /// A number without unit that must be above zero.
    pub(super) fn positive_number(&self, value: f64) -> f64 {
        if value.is_nan() || value <= 0.0 {
            self.error(format!("must be more than 0, but is {value}"));
        }
        value
    }

    /// A point, in millimetres.
    pub(super) fn point(&self, value: [f64; 3]) -> Point3<f64> {
        Point3::from([0, 1, 2].map(|k| self.length(value[k])))
    }

    /// A unit vector; `None`, and a fault, where the direction has no length.
    pub(super) fn direction(&self, value: [f64; 3]) -> Option<Vec3> {
        // Scaled first, so that no square can overflow or vanish.
        let largest = value
            .iter()
            .fold(0.0_f64, |largest, entry| largest.max(entry.abs()));
        let direction =
            (largest > 0.0).then(|| Vec3::from(value.map(|entry| entry / largest)).normalize());
        if direction.is_none() {
            self.error("the direction has no length; give at least one number that is not 0");
        }
        direction
    }

    /// Two limits, lower first; a fault where they are the wrong way round.
    pub(super) fn ordered(&self, limits: [f64; 2], what: &str) {
        if limits[0] >= limits[1] {
            self.error(format!(
                "the lower {what} {} is not below the upper {}; write the lower one first",
                limits[0], limits[1]
            ));
        }
    }

    /// A name that must say something.
    pub(super) fn name(&self, name: &str) {
        if name.trim().is_empty() {
            self.error("the name is empty; give one, answers show it");
        }
    }

    /// Faults for every name that stands twice; `spot_of` gives the place of each.
    pub(super) fn unique(&self, names: &[&str], key: &str) {
        for (index, name) in names.iter().enumerate() {
            let spot = self.item(index).key(key);
            spot.name(name);
            if let Some(first) = names[..index].iter().position(|earlier| earlier == name) {
                let place = self.item(first).key(key).cite();
                spot.error(format!(
                    "\"{name}\" stands twice, first at {place}; rename one"
                ));
            }
        }
    }
}
