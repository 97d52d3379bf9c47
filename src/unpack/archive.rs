//! Compressed files and archives.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::io::{Cursor, Read};

use super::{MAX_UNPACKED, Part, careful, damaged, too_large, workbook};
use crate::error::Trouble;
use crate::texts::name;

/// Most members that an archive may have.
const MAX_MEMBERS: usize = 20_000;

type Zip<'b> = zip::ZipArchive<Cursor<&'b [u8]>>;

/// The bytes of a gzip file, all of its members one after another.
pub(crate) fn gunzip(bytes: &[u8]) -> Result<Vec<u8>, Trouble> {
    careful("compressed file", || {
        bounded(flate2::read::MultiGzDecoder::new(bytes), MAX_UNPACKED)
            .map_err(|e| e.unwrap_or_else(|e| damaged("compressed file", e)))
    })
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
    let twice = twice(bytes.get(zip.central_directory_start() as usize..).unwrap_or_default());
    members(&mut zip, &names, &twice)
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

/// The start of an entry of an archive's directory, and where what is known of a member stands in it.
///
/// # Source
/// PKWARE APPNOTE 6.3, 4.3.12 (central directory structure).
const ENTRY: &[u8] = b"PK\x01\x02";
const ENTRY_LENGTH: usize = 46;

/// Names that stand in the directory for members of different content: a reader of archives knows only one of them.
fn twice(mut directory: &[u8]) -> Vec<Vec<u8>> {
    let mut known: BTreeMap<&[u8], Vec<&[u8]>> = BTreeMap::new();
    while directory.starts_with(ENTRY) && directory.len() >= ENTRY_LENGTH {
        let two = |at: usize| usize::from(u16::from_le_bytes([directory[at], directory[at + 1]]));
        let (name, behind) = (two(28), two(30) + two(32));
        let Some(name) = directory.get(ENTRY_LENGTH..ENTRY_LENGTH + name) else { break };
        // Checksum, and the size before packing.
        let content = [&directory[16..20], &directory[24..28]];
        known.entry(name).or_default().extend(content);
        directory = directory.get(ENTRY_LENGTH + name.len() + behind..).unwrap_or_default();
    }
    let differ = |content: &Vec<&[u8]>| content.chunks(2).any(|c| c != &content[..2]);
    known.into_iter().filter(|(_, content)| differ(content)).map(|(name, _)| name.to_vec()).collect()
}

/// The members that are exports: no folders, no hidden files. One that cannot be taken out is lost, and no reason to lose
/// the others.
fn members(zip: &mut Zip<'_>, names: &[String], twice: &[Vec<u8>]) -> Result<Vec<Part<'static>>, Trouble> {
    let hidden = |name: &str| {
        name.ends_with('/') || name.split('/').any(|part| part.starts_with('.') || part == "__MACOSX")
    };
    let mut names: Vec<&String> = names.iter().filter(|n| !hidden(n)).collect();
    names.sort();
    let (mut parts, mut left) = (Vec::new(), MAX_UNPACKED);
    for member_name in names {
        let bytes = match taken_out(zip, member_name, left, twice) {
            Ok(bytes) => Ok(bytes),
            Err(Ok(too_large)) => return Err(too_large),
            Err(Err(lost)) => Err(lost),
        };
        left -= bytes.as_ref().map_or(0, |bytes| bytes.len() as u64);
        parts.push(Part { name: Some(member_name.clone()), bytes: bytes.map(Cow::Owned) });
    }
    if parts.is_empty() {
        return Err(Trouble::new(
            "the archive holds no files",
            "put the exports into it, or name them in the roster",
        ));
    }
    Ok(parts)
}

/// The bytes of a member; `Err(Ok(…))` says that the archive grows too large, `Err(Err(…))` why the member is lost.
fn taken_out(
    zip: &mut Zip<'_>,
    member: &str,
    left: u64,
    twice: &[Vec<u8>],
) -> Result<Vec<u8>, Result<Trouble, Trouble>> {
    let shown = name(member);
    let file =
        zip.by_name(member).map_err(|e| Err(damaged(&format!("member \"{shown}\" of the archive"), e)))?;
    if twice.iter().any(|name| name == file.name_raw()) {
        return Err(Err(Trouble::new(
            format!(
                "the archive has several members \"{shown}\" that differ, expected one of that name, so none of them was read"
            ),
            "unpack the archive, give each file a name of its own, and name them in the roster",
        )));
    }
    let lost = |e| Err(damaged(&format!("member \"{shown}\" of the archive"), e));
    bounded(file, left).map_err(|e| e.map_or_else(lost, Ok))
}
