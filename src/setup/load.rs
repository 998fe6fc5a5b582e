//! From the bytes of a job and all files that it names to a checked setup.

use super::assemble::{Files, assemble};
use super::document::Document;
use super::fault::{FileFault, SetupFaults, Severity};
use super::file::{JobFile, MachineFile, ToolsFile};
use super::model::Setup;
use super::paths::resolve;
use super::schema::SchemaKind;
use super::spot::Log;
use super::structure;
use serde_json::Value;
use sha2::{Digest, Sha256};
use std::path::{Path, PathBuf};

/// Where bytes come from: the file system, or memory in a test.
///
/// It is asked from several threads at once.
pub trait Source: Sync {
    /// The bytes of a file.
    ///
    /// # Errors
    /// When there is no such file or it cannot be read.
    fn read(&self, path: &Path) -> std::io::Result<Vec<u8>>;
}

impl<F: Fn(&Path) -> std::io::Result<Vec<u8>> + Sync> Source for F {
    fn read(&self, path: &Path) -> std::io::Result<Vec<u8>> {
        self(path)
    }
}

/// A checked setup, and what is worth knowing about how it came about.
#[derive(Debug, Clone)]
pub struct Loaded {
    /// The setup.
    pub setup: Setup,
    /// Warnings, by file and line.
    pub warnings: Vec<FileFault>,
    /// The files that were read: the job, the machine, tools, meshes.
    pub sources: Vec<SourceFile>,
}

/// A file that was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SourceFile {
    /// Its path, as it was opened.
    pub path: PathBuf,
    /// Its size.
    pub bytes_len: u64,
    /// SHA-256 of its bytes, in small hexadecimal digits.
    pub sha256: String,
}

impl SourceFile {
    /// A file and its bytes.
    ///
    /// # Source
    /// SHA-256: FIPS 180-4, by the crate `sha2`.
    #[must_use]
    pub fn new(path: PathBuf, bytes: &[u8]) -> Self {
        let digest = Sha256::digest(bytes);
        Self {
            path,
            bytes_len: bytes.len() as u64,
            sha256: digest.iter().map(|byte| format!("{byte:02x}")).collect(),
        }
    }
}

/// Reads a job with all files that it names.
///
/// Relative paths count from the file that names them. Each file is read once; users of one mesh
/// in one place share it.
///
/// # Guarantees
/// Never panics on any bytes. A setup comes only from files without an error; every reference in
/// it is resolved and every number checked.
///
/// # Errors
/// All faults of all files at once, warnings included, by file and line. While the structure of a
/// file is not sound (an unknown key, a wrong type), what it says is not checked further; the
/// other files are.
pub fn load(job: &Path, source: &dyn Source) -> Result<Loaded, SetupFaults> {
    let log = Log::default();
    let mut sources = Vec::new();
    let setup = read_all(job, source, &log, &mut sources);
    let failed = log.has_errors();
    let faults = log.into_sorted();
    match setup {
        Some(setup) if !failed => Ok(Loaded {
            setup,
            warnings: faults,
            sources,
        }),
        _ if failed => Err(SetupFaults(faults)),
        _ => Err(SetupFaults(vec![unexplained(job)])),
    }
}

/// A setup that failed without a word is a mistake of this program, and said to be one.
fn unexplained(job: &Path) -> FileFault {
    FileFault {
        file: job.to_owned(),
        line: None,
        severity: Severity::Error,
        message: "the job could not be used, for a reason that this program does not know; please \
                  report it with the files"
            .to_owned(),
    }
}

fn read_all(
    job: &Path,
    source: &dyn Source,
    log: &Log,
    sources: &mut Vec<SourceFile>,
) -> Option<Setup> {
    let bytes = match source.read(job) {
        Ok(bytes) => bytes,
        Err(error) => {
            log.error_of_file(job, format!("cannot read the job: {error}"));
            return None;
        }
    };
    sources.push(SourceFile::new(job.to_owned(), &bytes));
    let job_doc = parsed(job, &bytes, log)?;
    let job_file: Option<JobFile> = structure::read(&job_doc, SchemaKind::Job, log);
    // The named files are taken from the plain values, so that they are checked even where the
    // structure of the job is not sound.
    let named = job_doc.value.get("machine_file").and_then(Value::as_str);
    let machine = named.and_then(|named| {
        let doc = named_document(&job_doc, "/machine_file", named, source, log, sources)?;
        let file: MachineFile = structure::read(&doc, SchemaKind::Machine, log)?;
        Some((doc, file))
    });
    let mut tools = Vec::new();
    let mut all_tools_read = true;
    let list = job_doc.value.get("tool_files").and_then(Value::as_array);
    for (index, named) in list.into_iter().flatten().enumerate() {
        let Some(named) = named.as_str() else {
            continue;
        };
        let pointer = format!("/tool_files/{index}");
        let doc = named_document(&job_doc, &pointer, named, source, log, sources);
        let read = doc.and_then(|doc| {
            let file: ToolsFile = structure::read(&doc, SchemaKind::Tools, log)?;
            Some((doc, file))
        });
        all_tools_read &= read.is_some();
        tools.extend(read);
    }
    let job = job_file.map(|file| (job_doc, file));
    assemble(
        &Files {
            job,
            machine,
            tools,
            all_tools_read,
        },
        source,
        log,
        sources,
    )
}

fn parsed(path: &Path, bytes: &[u8], log: &Log) -> Option<Document> {
    match Document::parse(path, bytes) {
        Ok(document) => Some(document),
        Err(faults) => {
            log.extend(faults);
            None
        }
    }
}

/// Reads and parses a file named in the job.
fn named_document(
    job: &Document,
    pointer: &str,
    named: &str,
    source: &dyn Source,
    log: &Log,
    sources: &mut Vec<SourceFile>,
) -> Option<Document> {
    let path = resolve(&job.file, Path::new(named));
    if sources.iter().any(|file| file.path == path) {
        log.push(FileFault {
            message: format!(
                "`{}`: {named} is named twice",
                super::document::toml_path(pointer)
            ),
            file: job.file.clone(),
            line: Some(job.line(pointer)),
            severity: Severity::Error,
        });
        return None;
    }
    match source.read(&path) {
        Ok(bytes) => {
            sources.push(SourceFile::new(path.clone(), &bytes));
            parsed(&path, &bytes, log)
        }
        Err(error) => {
            log.push(FileFault {
                file: job.file.clone(),
                line: Some(job.line(pointer)),
                severity: Severity::Error,
                message: format!(
                    "`{}`: cannot read {}: {error}; paths count from the file that names them",
                    super::document::toml_path(pointer),
                    path.display()
                ),
            });
            None
        }
    }
}
