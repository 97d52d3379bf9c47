//! Paths as they are typed at a prompt.

use std::path::Path;

/// A path so that a printed command can be pasted: in quotes where it has blanks, or letters that mean something there.
///
/// # Example
/// ```
/// # use std::path::Path;
/// # use evenrooms::console::as_typed;
/// assert_eq!(as_typed(Path::new("winter/site.toml")), "winter/site.toml");
/// # #[cfg(not(windows))]
/// assert_eq!(as_typed(Path::new("Alder Row/site.toml")), "'Alder Row/site.toml'");
/// ```
pub fn as_typed(path: &Path) -> String {
    let text = path.display().to_string();
    let own = if cfg!(windows) { "\\:" } else { "" };
    let plain = |c: char| c.is_alphanumeric() || "/._-+,@%=".contains(c) || own.contains(c);
    if !text.is_empty() && text.chars().all(plain) {
        text
    } else if cfg!(windows) {
        format!("\"{text}\"")
    } else {
        format!("'{}'", text.replace('\'', r"'\''"))
    }
}
