//! A large file that is read in places, and stays the same file whatever takes its name meanwhile.

use std::fs::File;
use std::io::{self, BufReader, Read, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use bytes::Bytes;
use parquet::errors::Result as ParquetResult;
use parquet::file::reader::{ChunkReader, Length};
use sha2::{Digest, Sha256};

use super::reading::Input;
use super::{CAN_BE_WRITTEN, disk, hex};
use crate::error::Result;

/// A file held open; several threads may read it.
#[derive(Clone, Debug)]
pub struct Held {
    path: PathBuf,
    file: Arc<File>,
    length: u64,
}

impl Held {
    /// Opens a file.
    ///
    /// # Errors
    /// [`crate::error::Error::Disk`].
    pub fn open(path: &Path) -> Result<Self> {
        let unread = || disk(path, "could not be read", "check the path and that you may read it");
        let file = File::open(path).map_err(unread())?;
        let about = file.metadata().map_err(unread())?;
        if !about.is_file() {
            let what = "this is a folder or a device, expected a file";
            return Err(unread()(io::Error::new(io::ErrorKind::InvalidInput, what)));
        }
        Ok(Self { path: path.to_owned(), file: Arc::new(file), length: about.len() })
    }

    /// Writes all of it to a place.
    ///
    /// # Errors
    /// [`crate::error::Error::Disk`]: of the file, or of the place.
    pub(super) fn copy_to(&self, out: &mut impl Write) -> Result<()> {
        let (mut buffer, mut reader) = (vec![0; 1 << 20], self.starting_at(0));
        loop {
            let read =
                reader.read(&mut buffer).map_err(disk(&self.path, "could not be read", "check the disk"))?;
            if read == 0 {
                return Ok(());
            }
            out.write_all(&buffer[..read]).map_err(disk(
                &self.path,
                "could not be copied",
                CAN_BE_WRITTEN,
            ))?;
        }
    }

    /// All bytes of it.
    ///
    /// # Errors
    /// [`crate::error::Error::Disk`].
    pub fn bytes(&self) -> Result<Vec<u8>> {
        let mut bytes = Vec::new();
        let read = self.starting_at(0).read_to_end(&mut bytes);
        read.map_err(disk(&self.path, "could not be read", "check the disk"))?;
        Ok(bytes)
    }

    /// Its fingerprint, under its own name.
    ///
    /// # Errors
    /// [`crate::error::Error::Disk`].
    pub fn fingerprint(&self) -> Result<Input> {
        let (mut digest, mut buffer, mut reader) = (Sha256::new(), vec![0; 1 << 20], self.starting_at(0));
        loop {
            let read =
                reader.read(&mut buffer).map_err(disk(&self.path, "could not be read", "check the disk"))?;
            if read == 0 {
                break;
            }
            digest.update(&buffer[..read]);
        }
        let name = self.path.file_name().map_or_else(String::new, |n| n.to_string_lossy().into_owned());
        Ok(Input { name, bytes: self.length, sha256: hex(digest) })
    }

    fn starting_at(&self, at: u64) -> From {
        From { held: self.clone(), at }
    }
}

/// What comes from a place of the file on.
#[derive(Debug)]
pub struct From {
    held: Held,
    at: u64,
}

impl Read for From {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let left = self.held.length.saturating_sub(self.at);
        let most = buffer.len().min(usize::try_from(left).unwrap_or(usize::MAX));
        let read = read_at(&self.held.file, &mut buffer[..most], self.at)?;
        self.at += read as u64;
        Ok(read)
    }
}

#[cfg(unix)]
fn read_at(file: &File, buffer: &mut [u8], at: u64) -> io::Result<usize> {
    std::os::unix::fs::FileExt::read_at(file, buffer, at)
}

#[cfg(windows)]
fn read_at(file: &File, buffer: &mut [u8], at: u64) -> io::Result<usize> {
    std::os::windows::fs::FileExt::seek_read(file, buffer, at)
}

impl Length for Held {
    fn len(&self) -> u64 {
        self.length
    }
}

impl ChunkReader for Held {
    type T = BufReader<From>;

    fn get_read(&self, start: u64) -> ParquetResult<Self::T> {
        Ok(BufReader::new(self.starting_at(start)))
    }

    fn get_bytes(&self, start: u64, length: usize) -> ParquetResult<Bytes> {
        let mut bytes = Vec::with_capacity(length.min(usize::try_from(self.length).unwrap_or(length)));
        self.starting_at(start).take(length as u64).read_to_end(&mut bytes)?;
        if bytes.len() < length {
            return Err(io::Error::from(io::ErrorKind::UnexpectedEof).into());
        }
        Ok(bytes.into())
    }
}
