//! A sheet of the workbook: heads, cells, widths that fit, filters, and what is printed on each page.
//!
//! Settled here, and why:
//! - **No cell starts a formula**: texts are written as texts, with the quote prefix, so that one that begins with `=` stays a
//!   text even when somebody edits it.
//! - **A sheet that is too wide for one page** is printed on two beside each other, with its first columns on both: all on one
//!   page would be too small to read.

use rust_xlsxwriter::{Color, Format, FormatAlign, FormatBorder, Worksheet, XlsxError};

use crate::cases::Standing;

/// Height of a line of text, in points.
const LINE_HEIGHT: f64 = 15.0;
/// Letters that a page carries across and can still be read.
const PAGE_LETTERS: f64 = 280.0;
/// Room beside the letters of a cell, in letters: a filter's button stands in the head.
const BESIDE: f64 = 3.0;

/// A column: its head with the unit, and how wide it may grow, in letters.
pub(super) struct Column {
    pub(super) head: String,
    pub(super) widest: f64,
}

/// A column of that head, up to so many letters wide.
pub(super) fn column(head: impl Into<String>, widest: f64) -> Column {
    Column { head: head.into(), widest }
}

/// What stands in a cell.
pub(super) enum Content {
    Nothing,
    Text(String),
    /// A number, shown with one decimal.
    Number(f64),
    /// A whole number.
    Count(u64),
    Standing(Standing),
    /// Left free, with a frame, for a pen or a keyboard.
    ToFillIn,
}

impl Content {
    pub(super) fn text(text: impl Into<String>) -> Self {
        let text = text.into();
        if text.is_empty() { Content::Nothing } else { Content::Text(text) }
    }

    pub(super) fn number(number: Option<f64>) -> Self {
        number.map_or(Content::Nothing, Content::Number)
    }

    fn letters(&self) -> usize {
        match self {
            Content::Nothing => 0,
            Content::Text(text) => text.chars().count(),
            Content::Number(x) => format!("{x:.1}").len(),
            Content::Count(n) => n.to_string().len(),
            Content::Standing(standing) => standing.word().chars().count(),
            Content::ToFillIn => 9,
        }
    }
}

/// The formats of all sheets.
pub(super) struct Formats {
    head: Format,
    text: Format,
    number: Format,
    count: Format,
    to_fill_in: Format,
}

impl Formats {
    pub(super) fn new() -> Self {
        let top = || Format::new().set_align(FormatAlign::Top);
        Self {
            head: top()
                .set_bold()
                .set_text_wrap()
                .set_background_color(Color::RGB(0xE8_EC_E6))
                .set_border_bottom(FormatBorder::Thin),
            text: top().set_text_wrap().set_quote_prefix(),
            number: top().set_num_format("0.0_)"),
            count: top().set_num_format("0_)"),
            to_fill_in: top().set_border(FormatBorder::Thin),
        }
    }

    /// A standing has its word; its fill says the same a second time.
    fn standing(&self, standing: Standing) -> Format {
        let fill = match standing {
            Standing::VisitToday => 0xF4_C7_C3,
            Standing::Visit => 0xF9_DC_BF,
            Standing::RecordAgain => 0xDF_D8_F0,
            Standing::KeepAnEye => 0xF1_EB_C2,
            Standing::Accept => 0xCF_E6_DA,
        };
        self.text.clone().set_bold().set_background_color(Color::RGB(fill))
    }
}

/// Lays out a sheet: frozen heads that stand on every printed page, a filter, widths that fit, wrapped lines; `named_by`: its
/// first columns, which say what a row is, stand still too.
///
/// # Errors
/// What the library of workbooks says.
pub(super) fn lay(
    sheet: &mut Worksheet,
    (name, named_by): (&str, u16),
    formats: &Formats,
    (columns, rows): (&[Column], &[Vec<Content>]),
) -> Result<(), XlsxError> {
    sheet.set_name(name)?;
    let widths: Vec<f64> = columns.iter().enumerate().map(|(at, column)| width(column, at, rows)).collect();
    for ((at, column), width) in (0..).zip(columns).zip(&widths) {
        sheet.write_string_with_format(0, at, &column.head, &formats.head)?;
        sheet.set_column_width(at, *width)?;
    }
    sheet.set_row_height(0, LINE_HEIGHT * lines(columns.iter().map(|c| c.head.chars().count()), &widths))?;
    for (row, cells) in (1..).zip(rows) {
        for (at, cell) in (0..).zip(cells) {
            match cell {
                Content::Nothing => continue,
                Content::Text(text) => sheet.write_string_with_format(row, at, text, &formats.text)?,
                Content::Number(x) => sheet.write_number_with_format(row, at, *x, &formats.number)?,
                Content::Count(n) => sheet.write_number_with_format(row, at, *n as f64, &formats.count)?,
                Content::Standing(s) => {
                    sheet.write_string_with_format(row, at, s.word(), &formats.standing(*s))?
                }
                Content::ToFillIn => sheet.write_blank(row, at, &formats.to_fill_in)?,
            };
        }
        // A program that does not measure wrapped text itself would lay the rows over each other.
        sheet.set_row_height(row, LINE_HEIGHT * lines(cells.iter().map(Content::letters), &widths))?;
    }
    sheet.set_freeze_panes(1, named_by)?;
    if !rows.is_empty() {
        sheet.autofilter(0, 0, rows.len() as u32, columns.len() as u16 - 1)?;
    }
    let pages = if widths.iter().sum::<f64>() > PAGE_LETTERS { 2 } else { 1 };
    sheet.set_repeat_rows(0, 0)?.set_landscape().set_print_fit_to_pages(pages, 0);
    if pages > 1 && named_by > 0 {
        sheet.set_repeat_columns(0, named_by - 1)?;
    }
    sheet.set_header("&L&A&R&P / &N");
    Ok(())
}

/// As wide as its longest cell or the longest word of its head, and not wider than it may grow.
fn width(column: &Column, at: usize, rows: &[Vec<Content>]) -> f64 {
    let cells = rows.iter().filter_map(|row| row.get(at)).map(Content::letters);
    let words = column.head.split_whitespace().map(|word| word.chars().count());
    let longest = cells.chain(words).max().unwrap_or(0) as f64;
    (longest + BESIDE).min(column.widest)
}

/// Lines of the tallest cell, where each holds as many letters as its column is wide.
fn lines(letters: impl Iterator<Item = usize>, widths: &[f64]) -> f64 {
    letters.zip(widths).map(|(letters, width)| (letters as f64 / (width - 1.0)).ceil()).fold(1.0, f64::max)
}
