//! Runs of equal cells in ODS files, measured before the reader writes them out. Must not know what the cells hold.

use crate::diagnostics::{Diagnostic, Place};
use crate::survey::archive;

use super::MAX_COLUMNS;

/// Cells that the used part of an ODS tab may come to, runs written out.
const MAX_GRID: u64 = 32 << 20;

/// An ODS file says once what stands in a run of equal cells or rows; a few bytes may so stand for billions of cells, and the reader writes all of
/// them out. What is blank to the end of a row or tab does not count.
pub(super) fn ods_repeats(
    name: &str,
    bytes: &[u8],
    contents: &archive::Contents,
) -> Option<Diagnostic> {
    let text = contents
        .part("content.xml")?
        .content(bytes, archive::MAX_UNPACKED)?;
    let text = String::from_utf8_lossy(&text);
    let (mut widest, mut rows, mut rows_used) = (0u64, 0u64, 0u64);
    let (mut columns, mut columns_used, mut times) = (0u64, 0u64, 1u64);
    for tag in text.split('<') {
        let repeated = |attribute: &str| {
            let value = tag.split_once(attribute)?.1.split('"').nth(1)?;
            value.parse::<u64>().ok()
        };
        if tag.starts_with("table:table-row") {
            (columns, columns_used) = (0, 0);
            times = repeated("number-rows-repeated").unwrap_or(1).min(1 << 20);
        } else if tag.starts_with("table:table-cell") {
            columns += repeated("number-columns-repeated")
                .unwrap_or(1)
                .min(MAX_COLUMNS as u64);
            if tag.contains("value") || !tag.trim_end().ends_with("/>") {
                columns_used = columns;
            }
        } else if tag.starts_with("/table:table-row") {
            rows = rows.saturating_add(times);
            if columns_used > 0 {
                (rows_used, widest) = (rows, widest.max(columns_used));
            }
        } else if tag.starts_with("/table:table>") {
            (widest, rows, rows_used) = (0, 0, 0);
        }
        if widest.saturating_mul(rows_used) > MAX_GRID {
            return Some(
                Diagnostic::error(
                    "OV-015",
                    "the workbook comes to far more cells than a survey needs",
                )
                .at(Place::File(name.to_string()), "")
                .found(format!("{rows_used} rows of {widest} cells"))
                .expected(format!("at most {} million cells in a tab", MAX_GRID >> 20)),
            );
        }
    }
    None
}
