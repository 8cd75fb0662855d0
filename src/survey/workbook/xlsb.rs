//! The records of an XLSB workbook, walked before the workbook reader makes room for them.
//!
//! Layout after [MS-XLSB] 2.1.4: a type of one or two bytes, a length of one to four, then the record. Must not know what records mean.

use super::archive::Package;
use super::xml::Fault;

/// Sheets, texts and formats of a workbook.
const MOST: [(u16, &str, u64); 3] = [
    (0x009c, "sheets", 1_024),
    (0x0013, "texts", 4 << 20),
    (0x002f, "cell formats", 131_072),
];

/// Errors: a record that goes beyond its part, or more of something than is taken.
pub(super) fn check(package: &Package) -> Result<(), Fault> {
    let mut counts = [0u64; MOST.len()];
    for part in &package.parts {
        if !part.name.to_ascii_lowercase().ends_with(".bin") {
            continue;
        }
        let mut rest = package.content(part);
        while !rest.is_empty() {
            let Some((kind, after)) = record(rest) else {
                return Err(Fault::new(format!(
                    "its part {} breaks off within a record",
                    part.name
                )));
            };
            rest = after;
            for (count, (wanted, what, most)) in counts.iter_mut().zip(MOST) {
                *count += u64::from(kind == wanted);
                if *count > most {
                    return Err(Fault::size(format!("more than {most} {what}")));
                }
            }
        }
    }
    Ok(())
}

/// The type of the first record, and what follows it.
fn record(bytes: &[u8]) -> Option<(u16, &[u8])> {
    let (first, mut rest) = bytes.split_first()?;
    let mut kind = u16::from(first & 0x7f);
    if first & 0x80 != 0 {
        let (second, after) = rest.split_first()?;
        kind += u16::from(second & 0x7f) << 7;
        rest = after;
    }
    let mut length = 0usize;
    for shift in [0, 7, 14, 21] {
        let (byte, after) = rest.split_first()?;
        length += usize::from(byte & 0x7f) << shift;
        rest = after;
        if byte & 0x80 == 0 {
            break;
        }
    }
    Some((kind, rest.get(length..)?))
}

#[cfg(test)]
mod tests {
    use super::record;

    #[test]
    fn records_are_walked_and_one_cut_short_is_none() {
        // BrtBundleSh, three bytes long; then a record of no bytes.
        let bytes = [0x9c, 0x01, 3, 1, 2, 3, 5, 0];
        let (kind, rest) = record(&bytes).expect("a record");
        assert_eq!((kind, rest), (0x9c, &[5u8, 0][..]));
        assert_eq!(record(rest), Some((5, &[][..])));
        assert_eq!(record(&bytes[..5]), None);
        assert_eq!(record(&[5, 0xff, 0xff, 0xff, 0x7f]), None);
    }
}
