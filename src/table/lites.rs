//! Lite patterns: how many lites each sash of an opening has, as the trade writes it.

use std::fmt;

/// The lites of one sash.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Lites {
    /// Lites of the field.
    pub field: u16,
    /// Narrow lites along the edge around it; zero in most sash.
    pub margin: u16,
}

impl Lites {
    /// All of them.
    pub fn all(self) -> u32 {
        u32::from(self.field) + u32::from(self.margin)
    }
}

impl fmt::Display for Lites {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.margin {
            0 => write!(f, "{}", self.field),
            margin => write!(f, "{}+{margin}", self.field),
        }
    }
}

/// The lites of each sash, the upper or the left first: `6`, `6/1`, `6 over 1`, and `1+8/1` for one lite with eight margin lites over one.
/// `None` for anything else.
pub fn read_lites(text: &str) -> Option<Vec<Lites>> {
    let lower = text.to_lowercase();
    lower
        .replace("over", "/")
        .split('/')
        .map(|sash| {
            let (field, margin) = match sash.split_once('+') {
                Some((field, margin)) => (count(field)?, count(margin)?),
                None => (count(sash)?, 0),
            };
            Some(Lites { field, margin })
        })
        .collect()
}

fn count(text: &str) -> Option<u16> {
    let text = text.trim();
    let plain = !text.is_empty() && text.bytes().all(|b| b.is_ascii_digit());
    text.parse().ok().filter(|n| plain && *n > 0)
}

/// The plain form: `6/1`.
pub fn lites_text(lites: &[Lites]) -> String {
    let parts: Vec<String> = lites.iter().map(Lites::to_string).collect();
    parts.join("/")
}

#[cfg(test)]
mod tests {
    use super::{Lites, lites_text, read_lites};

    #[test]
    fn patterns_are_read_as_the_trade_writes_them() {
        for (text, lites) in [
            ("6", vec![(6, 0)]),
            ("6/1", vec![(6, 0), (1, 0)]),
            (" 12 over 12 ", vec![(12, 0), (12, 0)]),
            ("2 / 2", vec![(2, 0), (2, 0)]),
            ("1+8/1", vec![(1, 8), (1, 0)]),
            ("4 + 12 over 4+12", vec![(4, 12), (4, 12)]),
        ] {
            let of = |(field, margin)| Lites { field, margin };
            let lites: Vec<Lites> = lites.into_iter().map(of).collect();
            assert_eq!(read_lites(text), Some(lites.clone()), "{text}");
            assert_eq!(read_lites(&lites_text(&lites)), Some(lites));
        }
        for text in [
            "", "/", "6/", "0/1", "six", "6-1", "1/2/", "+6", "6.5", "1+", "1+0", "1+2+3",
        ] {
            assert_eq!(read_lites(text), None, "{text}");
        }
    }
}
