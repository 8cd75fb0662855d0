//! Texts broken into lines of a width.

use super::faces::Face;
use super::pages::Um;

/// A face at a size.
#[derive(Debug, Clone, Copy)]
pub(super) struct Type {
    /// The face.
    pub(super) face: Face,
    /// Height of its capital letters.
    pub(super) capital: Um,
}

impl Type {
    /// How wide a text is.
    pub(super) fn width(self, text: &str) -> Um {
        self.face.width(text, self.capital)
    }

    /// From one base line to the next: room for accents and tails, and a clear gap.
    pub(super) fn pitch(self) -> Um {
        self.capital * 16 / 10
    }

    /// From the upper edge of a line to its base line: room for an accent above a capital letter.
    pub(super) fn rise(self) -> Um {
        self.capital * 13 / 10
    }
}

/// Lines no wider than a width. Breaks at blanks; a word that is wider alone is broken between signs.
pub(super) fn lines(text: &str, of: Type, width: Um) -> Vec<String> {
    let mut out = Vec::new();
    for paragraph in text.split('\n') {
        wrap(paragraph, of, width, &mut out);
    }
    if out.iter().all(String::is_empty) {
        out.clear();
    }
    out
}

fn wrap(text: &str, of: Type, width: Um, out: &mut Vec<String>) {
    if of.width(text) <= width {
        out.push(text.trim_end_matches(' ').to_owned());
        return;
    }
    let mut line = String::new();
    for word in text.split(' ').filter(|w| !w.is_empty()) {
        let longer = match line.is_empty() {
            true => word.to_owned(),
            false => format!("{line} {word}"),
        };
        if of.width(&longer) <= width {
            line = longer;
            continue;
        }
        if !line.is_empty() {
            out.push(std::mem::take(&mut line));
        }
        line = broken(word, of, width, out);
    }
    if !line.is_empty() {
        out.push(line);
    }
}

/// Breaks a word that does not fit, behind a hyphen or a slash where there is one; the last stretch is left over.
fn broken(word: &str, of: Type, width: Um, out: &mut Vec<String>) -> String {
    let mut rest = word;
    while of.width(rest) > width {
        let mut used = 0;
        let mut fits = 0;
        let mut soft = 0;
        for (at, c) in rest.char_indices() {
            used += of.face.sign_width(c, of.capital) + 1;
            if used > width && fits > 0 {
                break;
            }
            fits = at + c.len_utf8();
            if matches!(c, '-' | '/' | ',' | ';' | '\u{2013}') && fits < rest.len() {
                soft = fits;
            }
        }
        let cut = if soft > 0 { soft } else { fits };
        let (line, next) = rest.split_at(cut);
        if next.is_empty() {
            break;
        }
        out.push(line.to_owned());
        rest = next;
    }
    rest.to_owned()
}

/// Width of the widest word, which is how narrow a column of the text can be without breaking one.
pub(super) fn widest_word(text: &str, of: Type) -> Um {
    text.split([' ', '\n'])
        .map(|w| of.width(w))
        .max()
        .unwrap_or(0)
}

/// Width of the widest line as written.
pub(super) fn widest_line(text: &str, of: Type) -> Um {
    text.split('\n').map(|l| of.width(l)).max().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use super::*;

    const BODY: Type = Type {
        face: Face::Regular,
        capital: 2500,
    };

    #[test]
    fn no_line_is_wider_than_asked_and_nothing_is_lost() {
        let long = "W".repeat(300);
        let texts = [
            "Stock is rough cut up, glass is cut down; left and right as seen from outside.",
            "two\nlines",
            "heart-pine/old-growth",
            "  leading  and   double blanks ",
            &long,
        ];
        for text in texts {
            for width in [4_000, 9_000, 30_000, 178_000] {
                let lines = lines(text, BODY, width);
                for line in &lines {
                    assert!(BODY.width(line) <= width, "{line} at {width}");
                }
                let plain = |t: &str| t.replace([' ', '\n'], "");
                assert_eq!(plain(&lines.concat()), plain(text));
            }
        }
        assert!(lines("", BODY, 10_000).is_empty());
        assert_eq!(
            lines("heart-pine", BODY, 12_000)
                .first()
                .map(String::as_str),
            Some("heart-")
        );
    }
}
