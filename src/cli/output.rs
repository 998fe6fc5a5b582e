//! Where a report goes: standard output, or a file that appears whole or not at all.

use std::fs::File;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// Why a report could not be written.
#[derive(Debug, thiserror::Error)]
pub enum OutputError {
    /// The file or its folder.
    #[error("{path}: cannot be written: {reason}", path = .path.display())]
    File {
        /// The file as it was named.
        path: PathBuf,
        /// Why.
        reason: io::Error,
    },
    /// The output is one of the files that the job is read from.
    #[error("{path}: is a file of the job; choose another name for the report", path = .0.display())]
    Input(PathBuf),
    /// Standard output.
    #[error("standard output cannot be written: {0}")]
    Stdout(io::Error),
}

/// Writes text to standard output.
///
/// # Guarantees
/// A reader that has closed its end of the pipe is no error: it has read what it wanted.
///
/// # Errors
/// [`OutputError::Stdout`] where the text could not be written for another reason.
pub fn to_stdout(text: &str) -> Result<(), OutputError> {
    // This stream turns colours into what an old console understands.
    let mut stdout = anstream::stdout().lock();
    match stdout
        .write_all(text.as_bytes())
        .and_then(|()| stdout.flush())
    {
        Err(fault) if fault.kind() != io::ErrorKind::BrokenPipe => Err(OutputError::Stdout(fault)),
        _ => Ok(()),
    }
}

/// Tests early, before a long answer is worked out, whether a report can be written there.
///
/// # Errors
/// [`OutputError::File`] where it cannot, [`OutputError::Input`] where it is one of `inputs`.
pub fn can_write(path: &Path, inputs: &[PathBuf]) -> Result<(), OutputError> {
    let same = |input: &PathBuf| match (input.canonicalize(), path.canonicalize()) {
        (Ok(input), Ok(output)) => input == output,
        _ => false,
    };
    if inputs.iter().any(same) {
        return Err(OutputError::Input(path.to_owned()));
    }
    if path.is_dir() {
        let reason = io::Error::other("it is a folder");
        return Err(fault(path, reason));
    }
    beside(path).map(drop)
}

/// Writes a file beside its final name, then renames it.
///
/// # Guarantees
/// At every moment the name holds the old content or the whole new content.
///
/// # Errors
/// [`OutputError::File`]; the old content, if any, is then still there.
pub fn to_file(path: &Path, text: &str) -> Result<(), OutputError> {
    let mut file = beside(path)?;
    file.write_all(text.as_bytes())
        .and_then(|()| file.as_file().sync_all())
        .map_err(|reason| fault(path, reason))?;
    file.persist(path)
        .map_err(|reason| fault(path, reason.error))?;
    Ok(())
}

/// A temporary file in the same folder, with the usual permissions of a new file; it goes away
/// when it is dropped.
fn beside(path: &Path) -> Result<NamedTempFile<File>, OutputError> {
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    tempfile::Builder::new()
        .prefix(".lapidary-")
        .suffix(".part")
        .make_in(folder, |name| File::create_new(name))
        .map_err(|reason| fault(path, reason))
}

fn fault(path: &Path, reason: io::Error) -> OutputError {
    OutputError::File {
        path: path.to_owned(),
        reason,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_replaced_whole_and_nothing_else_is_left() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("report.txt");
        std::fs::write(&path, "old").unwrap();
        can_write(&path, &[]).unwrap();
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "old");
        to_file(&path, "new").unwrap();
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "new");
        assert_eq!(folder.path().read_dir().unwrap().count(), 1);
    }

    #[test]
    fn folders_and_inputs_are_refused() {
        let folder = tempfile::tempdir().unwrap();
        assert!(can_write(folder.path(), &[]).is_err());
        assert!(can_write(&folder.path().join("no/such.txt"), &[]).is_err());
        let job = folder.path().join("job.toml");
        std::fs::write(&job, "job").unwrap();
        let again = folder.path().join(".").join("job.toml");
        assert!(matches!(
            can_write(&again, &[job]),
            Err(OutputError::Input(_))
        ));
    }
}
