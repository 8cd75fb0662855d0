//! The two faces of a PDF: how wide a text is, and which signs they can print.
//!
//! Texts are set sign by sign, without joining or kerning, so what is measured is what is drawn.

use super::pages::Um;
use crate::ids;
use skrifa::instance::{LocationRef, Size};
use skrifa::{FontRef, MetadataProvider};
use std::borrow::Cow;
use std::collections::{BTreeMap, HashMap};
use std::sync::LazyLock;
use unicode_normalization::UnicodeNormalization;

/// A face.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Face {
    /// For texts and cells.
    Regular,
    /// For headings and sums.
    Bold,
}

/// Height of a capital letter in units of the face, where the em is [`EM`]: that of H in both.
const CAPITAL: i64 = 1493;
/// Units of an em.
const EM: i64 = 2048;

/// A sign of a face.
#[derive(Debug, Clone, Copy)]
pub(super) struct Glyph {
    /// Its number in the face.
    pub(super) id: u32,
    /// Units of the face to the next sign.
    pub(super) advance: i64,
}

struct Metrics {
    common: Vec<Option<Glyph>>,
    others: HashMap<char, Glyph>,
}

/// Signs looked up by their number and not by a search.
const COMMON: usize = 0x180;

static METRICS: LazyLock<[Metrics; 2]> =
    LazyLock::new(|| [Face::Regular, Face::Bold].map(|face| measure(face.data())));

fn measure(data: &'static [u8]) -> Metrics {
    let mut out = Metrics {
        common: vec![None; COMMON],
        others: HashMap::new(),
    };
    // The faces are files of this crate; one that cannot be read prints codes for every sign.
    let Ok(font) = FontRef::new(data) else {
        return out;
    };
    let widths = font.glyph_metrics(Size::unscaled(), LocationRef::default());
    for (code, id) in font.charmap().mappings() {
        let Some(c) = char::from_u32(code).filter(|c| is_plain(*c)) else {
            continue;
        };
        let advance = units(widths.advance_width(id).unwrap_or(0.0));
        let glyph = Glyph {
            id: id.to_u32(),
            advance,
        };
        match out.common.get_mut(ids::at(c.into())) {
            Some(slot) => *slot = Some(glyph),
            None => drop(out.others.insert(c, glyph)),
        }
    }
    out
}

/// A width of the face, which is a whole number of its units.
#[expect(
    clippy::as_conversions,
    reason = "a float that is no i64 gives the nearest one"
)]
fn units(width: f32) -> i64 {
    width as i64
}

/// Whether a sign stands by itself and is seen: no control, no soft hyphen.
fn is_plain(c: char) -> bool {
    !c.is_control() && c != '\u{ad}'
}

impl Face {
    /// The font file.
    pub(super) fn data(self) -> &'static [u8] {
        match self {
            Face::Regular => include_bytes!("fonts/DejaVuSansCondensed.ttf"),
            Face::Bold => include_bytes!("fonts/DejaVuSansCondensed-Bold.ttf"),
        }
    }

    /// A sign of the face, where it has it.
    pub(super) fn glyph(self, c: char) -> Option<Glyph> {
        let metrics = match self {
            Face::Regular => &METRICS[0],
            Face::Bold => &METRICS[1],
        };
        match metrics.common.get(ids::at(c.into())) {
            Some(glyph) => *glyph,
            None => metrics.others.get(&c).copied(),
        }
    }

    /// How wide a sign is, with capital letters of a height.
    pub(super) fn sign_width(self, c: char, capital: Um) -> Um {
        self.glyph(c).map_or(0, |g| g.advance * capital / CAPITAL)
    }

    /// How wide a text is, with capital letters of a height.
    pub(super) fn width(self, text: &str, capital: Um) -> Um {
        let units: i64 = text
            .chars()
            .filter_map(|c| self.glyph(c))
            .map(|g| g.advance)
            .sum();
        // Rounded up: what is measured to fit does fit.
        (units * capital + CAPITAL - 1) / CAPITAL
    }
}

/// The size of an em whose capital letters have a height.
pub(super) fn em(capital: Um) -> Um {
    capital * EM / CAPITAL
}

/// Units of an em, as a share of which advances are drawn.
pub(super) const UNITS: i64 = EM;

/// Signs that were printed as codes, and how often.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Lacking(pub BTreeMap<char, usize>);

impl Lacking {
    /// The text with every sign that the faces lack as its code in brackets. Line ends stay; tabs become blanks.
    pub(super) fn printable<'t>(&mut self, text: &'t str) -> Cow<'t, str> {
        if text.bytes().all(|b| (b' '..=b'~').contains(&b)) {
            return Cow::Borrowed(text);
        }
        let mut out = String::with_capacity(text.len());
        // Letters written as a base and an accent become the one sign that prints as such.
        for c in text.nfc() {
            match c {
                '\n' => out.push('\n'),
                '\t' => out.push(' '),
                '\r' => {}
                c if Face::Regular.glyph(c).is_some() && Face::Bold.glyph(c).is_some() => {
                    out.push(c);
                }
                c => {
                    *self.0.entry(c).or_default() += 1;
                    out.push_str(&code(c));
                }
            }
        }
        Cow::Owned(out)
    }

    /// Says which signs were printed as codes.
    pub(super) fn sentence(&self) -> Option<String> {
        let times = |(c, n): (&char, &usize)| match n {
            1 => code(*c),
            n => format!("{} ({n} times)", code(*c)),
        };
        let list: Vec<String> = self.0.iter().map(times).collect();
        (!list.is_empty()).then(|| {
            format!(
                "Signs that the type of this paper lacks are printed as their Unicode numbers in brackets: {}.",
                list.join(", ")
            )
        })
    }
}

fn code(c: char) -> String {
    format!("[U+{:04X}]", u32::from(c))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn both_faces_hold_what_a_paper_needs() {
        let needed = "ABCabc0123456789 áéüñçß½¼¾⅛⅜⅝⅞⅓⅔′″°×÷±→←↑↓□■≈≤≥−–—·•…“”‘’£€§¶Ø";
        for c in needed.chars() {
            for face in [Face::Regular, Face::Bold] {
                assert!(face.glyph(c).is_some_and(|g| g.id > 0), "{c} {face:?}");
            }
        }
        // The height of a capital is that of the letter in the file.
        for face in [Face::Regular, Face::Bold] {
            let font = FontRef::new(face.data()).expect("a font");
            let id = font.charmap().map('H').expect("a letter");
            let metrics = font.glyph_metrics(Size::unscaled(), LocationRef::default());
            let bounds = metrics.bounds(id).expect("bounds");
            assert_eq!(units(bounds.y_max), CAPITAL);
        }
    }

    #[test]
    fn signs_that_are_lacking_become_codes_and_are_counted() {
        let mut lacking = Lacking::default();
        let text = lacking.printable("e\u{301} \u{5d0}\u{5d0} \u{202e}x\u{7}\u{ad}\r\n\tq\u{300}");
        assert_eq!(
            text,
            "\u{e9} [U+05D0][U+05D0] [U+202E]x[U+0007][U+00AD]\n q[U+0300]"
        );
        assert_eq!(lacking.0[&'\u{5d0}'], 2);
        assert!(
            lacking
                .sentence()
                .is_some_and(|s| s.contains("[U+05D0] (2 times)"))
        );
        assert_eq!(Lacking::default().sentence(), None);
    }
}
