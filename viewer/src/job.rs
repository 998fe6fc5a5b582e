//! Files to a setup, and whether they have changed since.

use lapidary::answer::scene::ShapeStore;
use lapidary::setup::model::Setup;
use lapidary::setup::{FileFault, load};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::SystemTime;

/// A job that was read.
#[derive(Debug, Clone)]
pub struct Job {
    /// Path of the job file.
    pub path: PathBuf,
    /// The setup.
    pub setup: Arc<Setup>,
    /// Trees of its meshes.
    pub store: ShapeStore,
    /// What the files were warned about.
    pub warnings: Vec<FileFault>,
    /// The files that were read, as they were.
    pub stamps: Vec<Stamp>,
}

/// A file at the time when it was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stamp {
    /// Its path.
    pub path: PathBuf,
    /// Size and time of its last change; `None` where it is not there.
    pub seen: Option<(u64, Option<SystemTime>)>,
}

impl Stamp {
    /// Looks at a file.
    #[must_use]
    pub fn of(path: &Path) -> Self {
        let seen = std::fs::metadata(path)
            .ok()
            .map(|data| (data.len(), data.modified().ok()));
        Self {
            path: path.to_owned(),
            seen,
        }
    }

    /// Whether the file is not any more what it was.
    #[must_use]
    pub fn has_changed(&self) -> bool {
        Self::of(&self.path) != *self
    }
}

/// Reads a job.
///
/// # Errors
/// Every fault of its files, a line each; also where the engine refuses a mesh.
pub fn read(path: &Path) -> Result<Job, Vec<String>> {
    // Stamps are taken as the bytes are read, so that no change between the two is lost.
    let stamps = std::sync::Mutex::new(Vec::new());
    let source = |path: &Path| {
        let stamp = Stamp::of(path);
        if let Ok(mut stamps) = stamps.lock() {
            stamps.push(stamp);
        }
        std::fs::read(path)
    };
    let loaded = load(path, &source)
        .map_err(|faults| faults.0.iter().map(ToString::to_string).collect::<Vec<_>>())?;
    let store = ShapeStore::build(&loaded.setup)
        .map_err(|fault| vec![format!("the setup cannot be shown: {fault}")])?;
    let mut stamps = stamps.into_inner().unwrap_or_default();
    stamps.sort_by(|a, b| a.path.cmp(&b.path));
    stamps.dedup();
    Ok(Job {
        path: path.to_owned(),
        setup: Arc::new(loaded.setup),
        store,
        warnings: loaded.warnings,
        stamps,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_that_changes_or_goes_is_seen() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("part.stl");
        std::fs::write(&path, b"one").unwrap();
        let stamp = Stamp::of(&path);
        assert!(!stamp.has_changed());
        std::fs::write(&path, b"other").unwrap();
        assert!(stamp.has_changed());
        let stamp = Stamp::of(&path);
        std::fs::remove_file(&path).unwrap();
        assert!(stamp.has_changed());
    }

    #[test]
    fn a_job_that_is_not_there_is_told_in_words() {
        let faults = read(Path::new("no-such-job.toml")).unwrap_err();
        assert!(faults[0].contains("cannot read the job"), "{faults:?}");
    }
}
