//! What is wrong with the files of a job, all at once.

use std::fmt;
use std::path::PathBuf;

/// How serious a fault is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Severity {
    /// The job cannot be asked.
    Error,
    /// The job can be asked; the text says what it means for the answer.
    Warning,
}

/// One fault of one file.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct FileFault {
    /// The file as it was named.
    pub file: PathBuf,
    /// Line, from 1, where there is one.
    pub line: Option<usize>,
    /// Error or warning.
    pub severity: Severity,
    /// What is wrong, where in the file's structure, and what mends it.
    pub message: String,
}

impl fmt::Display for FileFault {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let word = match self.severity {
            Severity::Error => "error",
            Severity::Warning => "warning",
        };
        write!(out, "{}", self.file.display())?;
        if let Some(line) = self.line {
            write!(out, ":{line}")?;
        }
        write!(out, ": {word}: {}", self.message)
    }
}

/// Everything that is wrong with a job; at least one is an error.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{} fault(s) in the files of the job", .0.len())]
pub struct SetupFaults(pub Vec<FileFault>);
