//! A zip archive of stored parts, for workbooks that no program would write.

/// CRC-32 of the zip format (polynomial 0xEDB88320), bit by bit.
fn check_sum(bytes: &[u8]) -> u32 {
    let step = |sum: u32, _| {
        if sum & 1 == 1 {
            sum >> 1 ^ 0xedb8_8320
        } else {
            sum >> 1
        }
    };
    !bytes
        .iter()
        .fold(u32::MAX, |sum, b| (0..8).fold(sum ^ u32::from(*b), step))
}

/// Names and contents to an archive.
pub(crate) fn archive(parts: &[(&str, &[u8])]) -> Vec<u8> {
    let (mut bytes, mut central) = (Vec::new(), Vec::new());
    for (name, content) in parts {
        let offset = bytes.len() as u32;
        let size = (content.len() as u32).to_le_bytes();
        // Version 2.0, no flags, stored, no date; then check sum, both sizes, length of the name, no extra field.
        let shared = [
            &[20, 0, 0, 0, 0, 0, 0, 0, 0, 0][..],
            &check_sum(content).to_le_bytes(),
            &size,
            &size,
            &(name.len() as u16).to_le_bytes(),
            &[0, 0],
        ]
        .concat();
        bytes.extend([b"PK\x03\x04", &shared[..], name.as_bytes(), content].concat());
        central.extend(
            [
                b"PK\x01\x02",
                &[20, 0][..],
                &shared,
                &[0; 10],
                &offset.to_le_bytes(),
                name.as_bytes(),
            ]
            .concat(),
        );
    }
    let (start, count) = (bytes.len() as u32, parts.len() as u16);
    bytes.extend(&central);
    bytes.extend(
        [
            b"PK\x05\x06",
            &[0; 4][..],
            &count.to_le_bytes(),
            &count.to_le_bytes(),
            &(central.len() as u32).to_le_bytes(),
            &start.to_le_bytes(),
            &[0, 0],
        ]
        .concat(),
    );
    bytes
}
