//! Compressed files and archives.

use std::borrow::Cow;
use std::io::{Cursor, Read};

use super::{MAX_UNPACKED, Part, damaged, too_large, workbook};
use crate::error::Trouble;

/// Most members that an archive may have.
const MAX_MEMBERS: usize = 20_000;

type Zip<'b> = zip::ZipArchive<Cursor<&'b [u8]>>;

/// The bytes of a gzip file, all of its members one after another.
pub(crate) fn gunzip(bytes: &[u8]) -> Result<Vec<u8>, Trouble> {
    bounded(flate2::read::MultiGzDecoder::new(bytes), MAX_UNPACKED)
        .map_err(|e| e.unwrap_or_else(|e| damaged("compressed file", e)))
}

/// Reads to the end, or to the bound; `Err(Ok(…))` says that the bound was passed.
fn bounded(reader: impl Read, left: u64) -> Result<Vec<u8>, Result<Trouble, std::io::Error>> {
    let mut bytes = Vec::new();
    reader.take(left + 1).read_to_end(&mut bytes).map_err(Err)?;
    if bytes.len() as u64 > left { Err(Ok(too_large())) } else { Ok(bytes) }
}

/// A workbook or an archive of exports, told by what is inside.
pub(super) fn open(bytes: &[u8]) -> Result<Vec<Part<'_>>, Trouble> {
    let mut zip: Zip<'_> = zip::ZipArchive::new(Cursor::new(bytes)).map_err(|e| damaged("archive", e))?;
    if zip.len() > MAX_MEMBERS {
        return Err(Trouble::new(
            format!("the archive has {} members", zip.len()),
            "unpack it, and keep the exports only",
        ));
    }
    let names: Vec<String> =
        zip.file_names().filter_map(|n| n.ok().map(std::borrow::Cow::into_owned)).collect();
    let holds = |name: &str| names.iter().any(|n| n == name);
    if holds("xl/workbook.xml") || holds("xl/workbook.bin") {
        measure(&mut zip)?;
        return workbook::sheets(bytes);
    }
    if holds("content.xml") && holds("mimetype") {
        let content = member(&mut zip, "content.xml")?;
        measure(&mut zip)?;
        return workbook::open_document(bytes, &content);
    }
    members(&mut zip, &names)
}

/// Unpacks every member into nothing, to know that none is a bomb: what it claims of its size proves nothing.
fn measure(zip: &mut Zip<'_>) -> Result<(), Trouble> {
    let mut left = MAX_UNPACKED;
    for i in 0..zip.len() {
        let file = zip.by_index(i).map_err(|e| damaged("archive", e))?;
        let size = std::io::copy(&mut file.take(left + 1), &mut std::io::sink())
            .map_err(|e| damaged("archive", e))?;
        left = left.checked_sub(size).ok_or_else(too_large)?;
    }
    Ok(())
}

fn member(zip: &mut Zip<'_>, name: &str) -> Result<Vec<u8>, Trouble> {
    let file = zip.by_name(name).map_err(|e| damaged("archive", e))?;
    bounded(file, MAX_UNPACKED).map_err(|e| e.unwrap_or_else(|e| damaged("archive", e)))
}

/// The members that are exports: no folders, no hidden files.
fn members(zip: &mut Zip<'_>, names: &[String]) -> Result<Vec<Part<'static>>, Trouble> {
    let hidden = |name: &str| {
        name.ends_with('/') || name.split('/').any(|part| part.starts_with('.') || part == "__MACOSX")
    };
    let mut names: Vec<&String> = names.iter().filter(|n| !hidden(n)).collect();
    names.sort();
    let (mut parts, mut left) = (Vec::new(), MAX_UNPACKED);
    for name in names {
        let file = zip.by_name(name).map_err(|e| damaged("archive", e))?;
        let bytes = bounded(file, left).map_err(|e| e.unwrap_or_else(|e| damaged("archive", e)))?;
        left -= bytes.len() as u64;
        parts.push(Part { name: Some(name.clone()), bytes: Cow::Owned(bytes) });
    }
    if parts.is_empty() {
        return Err(Trouble::new(
            "the archive holds no files",
            "put the exports into it, or name them in the roster",
        ));
    }
    Ok(parts)
}
