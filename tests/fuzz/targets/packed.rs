//! Bytes of compressed files, archives, workbooks and columnar files → readings.
//!
//! Bytes that are changed anywhere mostly break a checksum, and nothing behind it is reached. Half of the changes are
//! therefore made inside: a member is unpacked, changed, and packed again.
#![no_main]
#![allow(clippy::disallowed_methods, reason = "the macro of the library writes a file where it is asked to")]

use std::io::{Cursor, Read, Write};
use std::sync::LazyLock;

use evenrooms::exports::Purpose;
use evenrooms::site::Site;
use evenrooms_fuzz::{ROSTER_OF_ONE, read_export, site};
use flate2::Compression;
use flate2::read::GzDecoder;
use flate2::write::GzEncoder;
use libfuzzer_sys::{fuzz_mutator, fuzz_target, fuzzer_mutate};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

/// What a member may grow to while it is changed.
const MOST: usize = 1 << 16;

static SITES: LazyLock<[Site; 1]> = LazyLock::new(|| [site(ROSTER_OF_ONE)]);

fuzz_target!(|bytes: &[u8]| read_export(&*SITES, Purpose::Audit, bytes));

fuzz_mutator!(|data: &mut [u8], size: usize, max_size: usize, seed: u32| {
    let inside = if seed.is_multiple_of(2) { changed_inside(&data[..size], seed / 2) } else { None };
    match inside {
        Some(packed) if packed.len() <= max_size => {
            data[..packed.len()].copy_from_slice(&packed);
            packed.len()
        }
        _ => fuzzer_mutate(data, size, max_size),
    }
});

/// The same packed again with a change in one member; `None` where it cannot be unpacked.
fn changed_inside(bytes: &[u8], seed: u32) -> Option<Vec<u8>> {
    match bytes {
        [0x1f, 0x8b, ..] => {
            let mut packed = GzEncoder::new(Vec::new(), Compression::fast());
            packed.write_all(&changed(read_some(GzDecoder::new(bytes))?)).ok()?;
            packed.finish().ok()
        }
        [b'P', b'K', 3, 4, ..] => archive(bytes, seed),
        _ => None,
    }
}

fn archive(bytes: &[u8], seed: u32) -> Option<Vec<u8>> {
    let mut zip = ZipArchive::new(Cursor::new(bytes)).ok()?;
    let which = seed as usize % zip.len().clamp(1, 64);
    let mut packed = ZipWriter::new(Cursor::new(Vec::new()));
    for at in 0..zip.len().min(64) {
        let file = zip.by_index(at).ok()?;
        let name = file.name().ok()?.into_owned();
        let mut content = read_some(file)?;
        if at == which {
            content = changed(content);
        }
        let method =
            if content.len() > 512 { CompressionMethod::Deflated } else { CompressionMethod::Stored };
        packed.start_file(name, SimpleFileOptions::default().compression_method(method)).ok()?;
        packed.write_all(&content).ok()?;
    }
    Some(packed.finish().ok()?.into_inner())
}

fn read_some(from: impl Read) -> Option<Vec<u8>> {
    let mut bytes = Vec::new();
    from.take(MOST as u64).read_to_end(&mut bytes).ok()?;
    Some(bytes)
}

fn changed(mut content: Vec<u8>) -> Vec<u8> {
    let size = content.len();
    content.resize(MOST + 64, 0);
    let size = fuzzer_mutate(&mut content, size, MOST + 64);
    content.truncate(size);
    content
}
