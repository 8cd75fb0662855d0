//! Unpacks one part of a zip archive (RFC 1951), or only counts how long it gets.
//!
//! The workbook reader unpacks by itself and believes the sizes that an archive states. Counting first is cheap, since nothing is copied, and
//! shows an archive that lies. Must not know what a part holds.

/// Where unpacked bytes go.
trait Output {
    fn length(&self) -> u64;
    fn literal(&mut self, byte: u8);
    /// Repeats `length` bytes from `back` bytes ago; `back` lies within what was put out.
    fn repeat(&mut self, back: usize, length: usize);
}

struct Counter(u64);

impl Output for Counter {
    fn length(&self) -> u64 {
        self.0
    }

    fn literal(&mut self, _: u8) {
        self.0 += 1;
    }

    fn repeat(&mut self, _: usize, length: usize) {
        self.0 += length as u64;
    }
}

impl Output for Vec<u8> {
    fn length(&self) -> u64 {
        self.len() as u64
    }

    fn literal(&mut self, byte: u8) {
        self.push(byte);
    }

    fn repeat(&mut self, back: usize, length: usize) {
        let start = self.len() - back;
        if back >= length {
            self.extend_from_within(start..start + length);
        } else {
            for i in start..start + length {
                self.push(self[i]);
            }
        }
    }
}

/// Bytes a packed part unpacks to. `None` where it is broken or longer than `most`.
pub(crate) fn count(packed: &[u8], most: u64) -> Option<u64> {
    let mut counter = Counter(0);
    run(packed, most, &mut counter)?;
    Some(counter.0)
}

/// A part unpacked. `None` where it is broken or longer than `most`.
pub(crate) fn unpack(packed: &[u8], most: u64) -> Option<Vec<u8>> {
    let mut bytes = Vec::new();
    run(packed, most, &mut bytes)?;
    Some(bytes)
}

/// Unpacks a part piece by piece, so that a part of any size takes the memory of one piece. `None` where it is broken or longer than `most`;
/// the pieces before that were handed on.
pub(crate) fn unpack_in_pieces(
    packed: &[u8],
    most: u64,
    each: &mut dyn FnMut(&[u8]),
) -> Option<()> {
    let mut pieces = Pieces {
        window: Vec::with_capacity(PIECE + WINDOW),
        new: 0,
        before: 0,
        each,
    };
    run(packed, most, &mut pieces)?;
    (pieces.each)(pieces.window.get(pieces.new..)?);
    Some(())
}

const PIECE: usize = 256 << 10;
/// How far back a repetition may reach.
const WINDOW: usize = 32 << 10;

struct Pieces<'p> {
    window: Vec<u8>,
    /// Where in the window the bytes begin that were not handed on.
    new: usize,
    /// Bytes that left the window.
    before: u64,
    each: &'p mut dyn FnMut(&[u8]),
}

impl Pieces<'_> {
    fn hand_on(&mut self) {
        if self.window.len() >= PIECE {
            (self.each)(self.window.get(self.new..).unwrap_or(&[]));
            let gone = self.window.len() - WINDOW;
            self.window.drain(..gone);
            self.before += gone as u64;
            self.new = WINDOW;
        }
    }
}

impl Output for Pieces<'_> {
    fn length(&self) -> u64 {
        self.before + self.window.len() as u64
    }

    fn literal(&mut self, byte: u8) {
        self.window.push(byte);
        self.hand_on();
    }

    fn repeat(&mut self, back: usize, length: usize) {
        Output::repeat(&mut self.window, back, length);
        self.hand_on();
    }
}

struct Bits<'b> {
    bytes: &'b [u8],
    at: usize,
    held: u64,
    count: u32,
}

impl Bits<'_> {
    /// Holds at least 32 bits; zeros follow the end.
    fn fill(&mut self) {
        while self.count <= 56 {
            self.held |= u64::from(self.bytes.get(self.at).copied().unwrap_or(0)) << self.count;
            self.at += 1;
            self.count += 8;
        }
    }

    fn drop(&mut self, count: u32) {
        self.held >>= count;
        self.count -= count;
    }

    /// Up to 16 bits, which [`Bits::fill`] has made sure of.
    fn take(&mut self, count: u32) -> u32 {
        let value = (self.held & ((1 << count) - 1)) as u32;
        self.drop(count);
        value
    }

    /// Whether more was taken than there is.
    fn overran(&self) -> bool {
        self.at.saturating_sub(self.count as usize / 8) > self.bytes.len()
    }
}

const MAX_LENGTH: usize = 15;

/// A look-up by as many next bits as the longest code has: symbol times 16 plus length of its code; 0 where there is none.
struct Codes {
    table: Vec<u16>,
    mask: u64,
}

impl Codes {
    fn new(lengths: &[u8]) -> Option<Codes> {
        let mut counts = [0u32; MAX_LENGTH + 1];
        for length in lengths {
            *counts.get_mut(usize::from(*length))? += 1;
        }
        counts[0] = 0;
        let longest = counts.iter().rposition(|c| *c > 0).unwrap_or(1);
        let mut table = vec![0u16; 1 << longest];
        let mut next = [0u32; MAX_LENGTH + 2];
        for length in 1..=MAX_LENGTH {
            next[length + 1] = (next[length] + counts[length]) << 1;
            if next[length] + counts[length] > 1 << length {
                return None;
            }
        }
        for (symbol, length) in lengths.iter().enumerate().filter(|(_, l)| **l > 0) {
            let bits = u32::from(*length);
            let code = next[usize::from(*length)];
            next[usize::from(*length)] += 1;
            // Codes stand in the stream with their first bit lowest.
            let start = (code.reverse_bits() >> (32 - bits)) as usize;
            let entry = u16::try_from(symbol << 4 | usize::from(*length)).ok()?;
            for slot in (start..table.len()).step_by(1 << bits) {
                table[slot] = entry;
            }
        }
        Some(Codes {
            table,
            mask: (1 << longest) - 1,
        })
    }

    fn read(&self, bits: &mut Bits<'_>) -> Option<usize> {
        // The mask is one less than the table is long.
        let entry = self.table[(bits.held & self.mask) as usize];
        if entry == 0 {
            return None;
        }
        bits.drop(u32::from(entry & 15));
        Some(usize::from(entry >> 4))
    }
}

/// RFC 1951 section 3.2.5: base and extra bits of lengths and distances.
const LENGTHS: [(u16, u8); 29] = [
    (3, 0),
    (4, 0),
    (5, 0),
    (6, 0),
    (7, 0),
    (8, 0),
    (9, 0),
    (10, 0),
    (11, 1),
    (13, 1),
    (15, 1),
    (17, 1),
    (19, 2),
    (23, 2),
    (27, 2),
    (31, 2),
    (35, 3),
    (43, 3),
    (51, 3),
    (59, 3),
    (67, 4),
    (83, 4),
    (99, 4),
    (115, 4),
    (131, 5),
    (163, 5),
    (195, 5),
    (227, 5),
    (258, 0),
];
const DISTANCES: [(u16, u8); 30] = [
    (1, 0),
    (2, 0),
    (3, 0),
    (4, 0),
    (5, 1),
    (7, 1),
    (9, 2),
    (13, 2),
    (17, 3),
    (25, 3),
    (33, 4),
    (49, 4),
    (65, 5),
    (97, 5),
    (129, 6),
    (193, 6),
    (257, 7),
    (385, 7),
    (513, 8),
    (769, 8),
    (1025, 9),
    (1537, 9),
    (2049, 10),
    (3073, 10),
    (4097, 11),
    (6145, 11),
    (8193, 12),
    (12289, 12),
    (16385, 13),
    (24577, 13),
];

fn run(packed: &[u8], most: u64, out: &mut impl Output) -> Option<()> {
    let mut bits = Bits {
        bytes: packed,
        at: 0,
        held: 0,
        count: 0,
    };
    loop {
        bits.fill();
        let last = bits.take(1) == 1;
        match bits.take(2) {
            0 => stored(&mut bits, most, out)?,
            1 => {
                let lengths: Vec<u8> = (0..288)
                    .map(|s| {
                        if s < 144 {
                            8
                        } else if s < 256 {
                            9
                        } else if s < 280 {
                            7
                        } else {
                            8
                        }
                    })
                    .collect();
                block(
                    &mut bits,
                    &Codes::new(&lengths)?,
                    &Codes::new(&[5; 30])?,
                    most,
                    out,
                )?;
            }
            2 => {
                let (literals, distances) = codes(&mut bits)?;
                block(&mut bits, &literals, &distances, most, out)?;
            }
            _ => return None,
        }
        if bits.overran() {
            return None;
        }
        if last {
            return Some(());
        }
    }
}

fn stored(bits: &mut Bits<'_>, most: u64, out: &mut impl Output) -> Option<()> {
    bits.drop(bits.count % 8);
    bits.fill();
    let (length, check) = (bits.take(16), bits.take(16));
    if length != !check & 0xffff {
        return None;
    }
    for _ in 0..length {
        bits.fill();
        out.literal(u8::try_from(bits.take(8)).ok()?);
    }
    (out.length() <= most && !bits.overran()).then_some(())
}

fn codes(bits: &mut Bits<'_>) -> Option<(Codes, Codes)> {
    const ORDER: [usize; 19] = [
        16, 17, 18, 0, 8, 7, 9, 6, 10, 5, 11, 4, 12, 3, 13, 2, 14, 1, 15,
    ];
    bits.fill();
    let (literals, distances, meta) = (
        bits.take(5) as usize + 257,
        bits.take(5) as usize + 1,
        bits.take(4) as usize + 4,
    );
    let mut lengths = [0u8; 19];
    for place in ORDER.iter().take(meta) {
        bits.fill();
        lengths[*place] = u8::try_from(bits.take(3)).ok()?;
    }
    let meta = Codes::new(&lengths)?;
    let mut all: Vec<u8> = Vec::with_capacity(literals + distances);
    while all.len() < literals + distances {
        bits.fill();
        let (value, times) = match meta.read(bits)? {
            16 => (*all.last()?, 3 + bits.take(2)),
            17 => (0, 3 + bits.take(3)),
            18 => (0, 11 + bits.take(7)),
            length => (u8::try_from(length).ok()?, 1),
        };
        all.extend(std::iter::repeat_n(value, times as usize));
    }
    if all.len() != literals + distances {
        return None;
    }
    Some((
        Codes::new(all.get(..literals)?)?,
        Codes::new(all.get(literals..)?)?,
    ))
}

fn block(
    bits: &mut Bits<'_>,
    literals: &Codes,
    distances: &Codes,
    most: u64,
    out: &mut impl Output,
) -> Option<()> {
    loop {
        bits.fill();
        match literals.read(bits)? {
            256 => return Some(()),
            byte @ 0..256 => out.literal(u8::try_from(byte).ok()?),
            symbol => {
                let (base, extra) = LENGTHS.get(symbol - 257)?;
                let length = usize::from(*base) + bits.take(u32::from(*extra)) as usize;
                bits.fill();
                let (base, extra) = DISTANCES.get(distances.read(bits)?)?;
                let back = usize::from(*base) + bits.take(u32::from(*extra)) as usize;
                if back as u64 > out.length() {
                    return None;
                }
                out.repeat(back, length);
            }
        }
        if out.length() > most || bits.overran() {
            return None;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::{count, unpack, unpack_in_pieces};

    /// A stored block, a block of fixed codes and one of dynamic codes, the last two written by zlib 1.3 at its highest level.
    #[test]
    fn all_three_kinds_of_block_unpack() {
        let stored = [1, 3, 0, 252, 255, b'a', b'b', b'c'];
        assert_eq!(unpack(&stored, 10), Some(b"abc".to_vec()));
        let fixed = [0x4b, 0x4c, 0x4a, 0x4e, 0x84, 0x21, 0x00];
        assert_eq!(unpack(&fixed, 100), Some(b"abcabcabcabc".to_vec()));
        assert_eq!((count(&fixed, 100), count(&fixed, 11)), (Some(12), None));
        let mut pieces = Vec::new();
        assert!(unpack_in_pieces(&fixed, 100, &mut |p| pieces.extend_from_slice(p)).is_some());
        assert_eq!(pieces, b"abcabcabcabc");
    }

    /// Stored blocks far longer than the window, so that pieces are handed on and repetitions still find their bytes.
    #[test]
    fn pieces_put_together_are_the_whole() {
        let mut packed = Vec::new();
        for i in 0..20u8 {
            let data: Vec<u8> = (0..60_000u32).map(|j| (j / 7) as u8 ^ i).collect();
            packed.extend([0, 0x60, 0xea, 0x9f, 0x15]);
            packed.extend(data);
        }
        // The last block, of fixed codes: the letters and repetitions of the test above.
        packed.extend([0x4b, 0x4c, 0x4a, 0x4e, 0x84, 0x21, 0x00]);
        let mut pieces = Vec::new();
        assert!(
            unpack_in_pieces(&packed, 2_000_000, &mut |p| pieces.extend_from_slice(p)).is_some()
        );
        assert_eq!(Some(&pieces), unpack(&packed, 2_000_000).as_ref());
        assert_eq!(
            (pieces.len(), &pieces[1_200_000..]),
            (1_200_012, &b"abcabcabcabc"[..])
        );
    }

    #[test]
    fn broken_streams_end_at_once() {
        for bytes in [
            &[][..],
            &[0x07],
            &[0x05, 0xff, 0xff],
            &[1, 3, 0, 0, 0, 1, 2, 3],
            &[0x63, 0x00, 0x02],
        ] {
            assert_eq!(unpack(bytes, 1000), None, "{bytes:?}");
        }
        for seed in 0..2000u32 {
            let bytes: Vec<u8> = (0..64u32)
                .map(|i| (seed.wrapping_mul(2_654_435_761) >> (i % 24)) as u8 ^ i as u8)
                .collect();
            let found = unpack(&bytes, 10_000);
            assert_eq!(found.map(|f| f.len() as u64), count(&bytes, 10_000));
        }
    }
}
