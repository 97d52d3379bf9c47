//! Files that claim or unpack to more than any logger writes, made in little time and memory.

use std::sync::Arc;

use arrow::array::{ArrayRef, Float64Array, StringArray};
use arrow::record_batch::RecordBatch;
use flate2::{Compress, Compression, Crc, FlushCompress};
use parquet::arrow::ArrowWriter;
use parquet::file::metadata::{ParquetMetaData, ParquetMetaDataReader, ParquetMetaDataWriter};

/// Rows every 10 min for a day.
pub(crate) fn day() -> String {
    let row =
        |i: usize| format!("2026-01-05 {:02}:{:02},{:.1}\n", i / 6, i % 6 * 10, 20.5 + (i % 6) as f64 / 10.0);
    format!("time,temperature (°C)\n{}", (0..144).map(row).collect::<String>())
}

fn deflated(bytes: &[u8], flush: FlushCompress) -> Vec<u8> {
    let mut packer = Compress::new(Compression::best(), false);
    let mut out = Vec::with_capacity(bytes.len() + 1000);
    packer.compress_vec(bytes, &mut out, flush).unwrap();
    out
}

/// A deflate stream of so many MB of one byte: one block that starts afresh, again and again.
fn deflate_bomb(byte: u8, megabytes: usize) -> Vec<u8> {
    let block = deflated(&vec![byte; 1 << 20], FlushCompress::Full);
    let mut out = block.repeat(megabytes);
    out.extend(deflated(b"", FlushCompress::Finish));
    out
}

/// A gzip file that unpacks to so many MB of zeros.
pub(crate) fn gzip_bomb(megabytes: usize) -> Vec<u8> {
    let mut out = b"\x1f\x8b\x08\0\0\0\0\0\0\xff".to_vec();
    out.extend(deflate_bomb(0, megabytes));
    out.extend([0; 4]);
    out.extend(((megabytes as u32) << 20).to_le_bytes());
    out
}

/// A member of an archive, with what it claims to be.
pub(crate) struct Member {
    name: &'static str,
    data: Vec<u8>,
    packed: bool,
    claims: u32,
    crc: u32,
}

impl Member {
    pub(crate) fn stored(name: &'static str, data: impl Into<Vec<u8>>) -> Self {
        let (data, mut crc) = (data.into(), Crc::new());
        crc.update(&data);
        Self { name, claims: data.len() as u32, data, packed: false, crc: crc.sum() }
    }

    /// A packed text that says it has `claims` bytes.
    pub(crate) fn lying(name: &'static str, text: &str, claims: u32) -> Self {
        let mut crc = Crc::new();
        crc.update(text.as_bytes());
        Self {
            name,
            data: deflated(text.as_bytes(), FlushCompress::Finish),
            packed: true,
            claims,
            crc: crc.sum(),
        }
    }

    /// So many MB of blanks that say they are as many bytes as `claims`.
    pub(crate) fn bomb(name: &'static str, megabytes: usize, claims: u32) -> Self {
        Self { name, data: deflate_bomb(b' ', megabytes), packed: true, claims, crc: 0 }
    }

    /// What local header and directory share.
    fn about(&self) -> Vec<u8> {
        let mut out = vec![20, 0, 0, 0, if self.packed { 8 } else { 0 }, 0, 0, 0, 0x21, 0x5c];
        out.extend(self.crc.to_le_bytes());
        out.extend((self.data.len() as u32).to_le_bytes());
        out.extend(self.claims.to_le_bytes());
        out.extend((self.name.len() as u16).to_le_bytes());
        out.extend([0, 0]);
        out
    }
}

/// An archive, byte by byte, so that it may lie.
pub(crate) fn archive(members: &[Member]) -> Vec<u8> {
    let (mut out, mut directory) = (Vec::new(), Vec::new());
    for member in members {
        let at = out.len() as u32;
        out.extend(b"PK\x03\x04");
        out.extend(member.about());
        out.extend(member.name.as_bytes());
        out.extend(&member.data);
        directory.extend(b"PK\x01\x02\x14\0");
        directory.extend(member.about());
        directory.extend([0; 10]);
        directory.extend(at.to_le_bytes());
        directory.extend(member.name.as_bytes());
    }
    let at = out.len() as u32;
    out.extend(&directory);
    out.extend(b"PK\x05\x06\0\0\0\0");
    out.extend([members.len() as u8, 0, members.len() as u8, 0]);
    out.extend((directory.len() as u32).to_le_bytes());
    out.extend(at.to_le_bytes());
    out.extend([0, 0]);
    out
}

/// A workbook with this one sheet.
pub(crate) fn workbook(sheet: &str) -> Vec<u8> {
    const MAIN: &str = "http://schemas.openxmlformats.org/spreadsheetml/2006/main";
    const REL: &str = "http://schemas.openxmlformats.org/officeDocument/2006/relationships";
    const PACKAGE: &str = "http://schemas.openxmlformats.org/package/2006";
    let types = format!(r#"<Types xmlns="{PACKAGE}/content-types"/>"#);
    let rels = format!(
        r#"<Relationships xmlns="{PACKAGE}/relationships"><Relationship Id="r1" Type="{REL}/worksheet" Target="worksheets/sheet1.xml"/></Relationships>"#
    );
    let book = format!(
        r#"<workbook xmlns="{MAIN}" xmlns:r="{REL}"><sheets><sheet name="Data" sheetId="1" r:id="r1"/></sheets></workbook>"#
    );
    let top = format!(
        r#"<Relationships xmlns="{PACKAGE}/relationships"><Relationship Id="r0" Type="{REL}/officeDocument" Target="xl/workbook.xml"/></Relationships>"#
    );
    archive(&[
        Member::stored("[Content_Types].xml", types),
        Member::stored("_rels/.rels", top),
        Member::stored("xl/workbook.xml", book),
        Member::stored("xl/_rels/workbook.xml.rels", rels),
        Member::stored(
            "xl/worksheets/sheet1.xml",
            format!(r#"<worksheet xmlns="{MAIN}">{sheet}</worksheet>"#),
        ),
    ])
}

/// The rows of [`day`] as cells of a workbook.
pub(crate) fn day_of_cells() -> String {
    let cell = |text: &str| format!(r#"<c t="inlineStr"><is><t>{text}</t></is></c>"#);
    let row = |line: &str| format!("<row>{}</row>", line.split(',').map(cell).collect::<String>());
    day().lines().map(row).collect()
}

/// A spreadsheet of the open kind with these rows in its one table.
pub(crate) fn open_document(rows: &str) -> Vec<u8> {
    let name = |n: &str| format!(r#"xmlns:{n}="urn:oasis:names:tc:opendocument:xmlns:{n}:1.0""#);
    let names: Vec<String> = ["office", "table", "text"].into_iter().map(name).collect();
    let content = format!(
        r#"<office:document-content {}><office:body><office:spreadsheet><table:table table:name="Data">{rows}</table:table></office:spreadsheet></office:body></office:document-content>"#,
        names.join(" ")
    );
    let kind = "application/vnd.oasis.opendocument.spreadsheet";
    archive(&[Member::stored("mimetype", kind), Member::stored("content.xml", content)])
}

/// A columnar file of [`day`] whose footer was edited.
pub(crate) fn parquet(edit: impl Fn(ParquetMetaData) -> ParquetMetaData) -> Vec<u8> {
    let text = day();
    let cells: Vec<(&str, &str)> = text.lines().skip(1).filter_map(|l| l.split_once(',')).collect();
    let times: ArrayRef = Arc::new(StringArray::from_iter_values(cells.iter().map(|c| c.0)));
    let values: ArrayRef =
        Arc::new(Float64Array::from_iter_values(cells.iter().map(|c| c.1.parse::<f64>().unwrap())));
    let batch = RecordBatch::try_from_iter([("time", times), ("temperature (°C)", values)]).unwrap();
    let mut bytes = Vec::new();
    let mut writer = ArrowWriter::try_new(&mut bytes, batch.schema(), None).unwrap();
    writer.write(&batch).unwrap();
    writer.close().unwrap();
    let whole = bytes::Bytes::from(bytes.clone());
    let metadata = ParquetMetaDataReader::new().parse_and_finish(&whole).unwrap();
    let footer = u32::from_le_bytes(bytes[bytes.len() - 8..bytes.len() - 4].try_into().unwrap()) as usize;
    bytes.truncate(bytes.len() - 8 - footer);
    let mut new_footer = Vec::new();
    ParquetMetaDataWriter::new(&mut new_footer, &edit(metadata)).finish().unwrap();
    // The magic bytes that the writer puts first stand at the start of the file already.
    bytes.extend(new_footer.strip_prefix(b"PAR1").unwrap_or(&new_footer));
    bytes
}
