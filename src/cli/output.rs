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
/// # Guarantees
/// Nothing is changed. A device or a pipe is not opened: a reader of the pipe would take that for
/// its end.
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
    match renamed_over(path) {
        Some(file) => beside(&file).map(drop),
        None => Ok(()),
    }
    .map_err(|reason| fault(path, reason))
}

/// Writes a file beside its final name, then renames it; what is no file (a device, a pipe) is
/// written to as it stands.
///
/// # Guarantees
/// At every moment a file's name holds the old content or the whole new content. A link stays,
/// and the file that it leads to is written. A device or a pipe is never replaced by a file.
///
/// # Errors
/// [`OutputError::File`]; a file's old content, if any, is then still there.
pub fn to_file(path: &Path, text: &str) -> Result<(), OutputError> {
    match renamed_over(path) {
        Some(file) => replace(&file, text),
        None => File::options()
            .write(true)
            .create(true)
            .truncate(true)
            .open(path)
            .and_then(|mut open| open.write_all(text.as_bytes())),
    }
    .map_err(|reason| fault(path, reason))
}

/// The file behind the links of a name, or the name where nothing is there yet. None where a new
/// file must not take the name's place: a device, a pipe, a link that leads nowhere, or a name
/// such as Windows' NUL that the system can tell nothing of.
fn renamed_over(path: &Path) -> Option<PathBuf> {
    match path.metadata() {
        Ok(known) if known.is_file() => path.canonicalize().ok(),
        Err(reason) if reason.kind() == io::ErrorKind::NotFound && !path.is_symlink() => {
            Some(path.to_owned())
        }
        _ => None,
    }
}

fn replace(path: &Path, text: &str) -> io::Result<()> {
    let mut file = beside(path)?;
    file.write_all(text.as_bytes())?;
    file.as_file().sync_all()?;
    file.persist(path)?;
    Ok(())
}

/// A temporary file in the same folder, with the usual permissions of a new file; it goes away
/// when it is dropped.
fn beside(path: &Path) -> io::Result<NamedTempFile<File>> {
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    tempfile::Builder::new()
        .prefix(".lapidary-")
        .suffix(".part")
        .make_in(folder, |name| File::create_new(name))
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

    #[test]
    #[cfg(unix)]
    fn a_link_stays_and_what_it_leads_to_is_written() {
        let folder = tempfile::tempdir().unwrap();
        let (real, new) = (
            folder.path().join("real.txt"),
            folder.path().join("new.txt"),
        );
        std::fs::write(&real, "old").unwrap();
        for file in [&real, &new] {
            let link = file.with_extension("link");
            std::os::unix::fs::symlink(file, &link).unwrap();
            can_write(&link, &[]).unwrap();
            to_file(&link, "text").unwrap();
            assert!(link.is_symlink());
            assert_eq!(std::fs::read_to_string(file).unwrap(), "text");
        }
    }

    // By links, so that a fault here would replace a link, not a device.
    #[test]
    #[cfg(target_os = "linux")]
    fn a_device_takes_the_text_and_stays_a_device() {
        use std::os::unix::fs::FileTypeExt;
        let folder = tempfile::tempdir().unwrap();
        let device = |name: &str| {
            let link = folder.path().join(name);
            std::os::unix::fs::symlink(Path::new("/dev").join(name), &link).unwrap();
            link
        };
        let (null, full) = (device("null"), device("full"));
        can_write(&null, &[]).unwrap();
        to_file(&null, "text").unwrap();
        // The kernel's manual, full(4): a write fails with ENOSPC.
        let refused = to_file(&full, "text").unwrap_err();
        assert!(matches!(
            refused,
            OutputError::File { reason, .. } if reason.kind() == io::ErrorKind::StorageFull
        ));
        for link in [null, full] {
            assert!(link.is_symlink());
            assert!(link.metadata().unwrap().file_type().is_char_device());
        }
    }
}
