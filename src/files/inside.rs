//! What stands at a path, and which folder it lies in.

use std::path::{Component, Path, PathBuf};

/// Whether a path is a folder or lies in it, through links too; it need not be there yet.
pub fn is_inside(path: &Path, folder: &Path) -> bool {
    real(path).zip(real(folder)).is_some_and(|(path, folder)| path.starts_with(folder))
}

/// Whether two paths are one place.
pub fn is_same(a: &Path, b: &Path) -> bool {
    real(a).zip(real(b)).is_some_and(|(a, b)| a == b)
}

/// Whether a folder is there.
pub fn is_folder(path: &Path) -> bool {
    path.is_dir()
}

/// Whether a file is there.
pub fn is_file(path: &Path) -> bool {
    path.is_file()
}

/// What a folder that is there is called, wherever a way such as `.` leads.
pub fn folder_name(folder: &Path) -> Option<String> {
    folder.canonicalize().ok()?.file_name().map(|name| name.to_string_lossy().into_owned())
}

/// The way without links as far as it is there, and without `..` all the way.
fn real(path: &Path) -> Option<PathBuf> {
    let mut at = PathBuf::new();
    for part in std::path::absolute(path).ok()?.components() {
        match part {
            Component::ParentDir => {
                at.pop();
            }
            part => at.push(part),
        }
        at = at.canonicalize().unwrap_or(at);
    }
    Some(at)
}
