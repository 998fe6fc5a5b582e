//! Paths in files: written with either separator, counted from the file that names them.

use std::path::{Component, Path, PathBuf};

/// The path of a file named in another.
///
/// `\` and `/` both separate on every system, so that a job moves between them unchanged.
pub(super) fn resolve(naming_file: &Path, named: &Path) -> PathBuf {
    let named = PathBuf::from(named.to_string_lossy().replace('\\', "/"));
    let folder = naming_file.parent().unwrap_or_else(|| Path::new(""));
    let joined = folder.join(named);
    joined
        .components()
        .filter(|part| *part != Component::CurDir)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_separators_count_from_the_naming_file() {
        let job = Path::new("jobs/one.toml");
        let wanted: PathBuf = ["jobs", "meshes", "part.stl"].iter().collect();
        assert_eq!(resolve(job, Path::new("meshes/part.stl")), wanted);
        assert_eq!(resolve(job, Path::new(r"meshes\part.stl")), wanted);
        assert_eq!(resolve(job, Path::new(r".\meshes/part.stl")), wanted);
        assert_eq!(
            resolve(Path::new("one.toml"), Path::new("m.toml")),
            Path::new("m.toml")
        );
    }
}
