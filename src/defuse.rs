//! The one way out for texts: a function for each kind of target, after which a text from a survey, a sheet, a path or an argument
//! can't steer a terminal, show itself backward, run as a formula or act as markup.
//!
//! Must not know what a text says.
//!
//! ```
//! assert!(ovolo::defuse::starts_formula("=1+1"));
//! assert_eq!(ovolo::defuse::html("<b>"), "&lt;b&gt;");
//! ```

use serde::Serialize;
use serde_json::ser::{Formatter, PrettyFormatter, Serializer};
use std::borrow::Cow;
use std::io::{self, Write};

/// Longest text of a cell of a workbook, in characters.
const MOST_CELL: usize = 32_767;

/// Characters that are not text: control characters other than line ends and tabs, overrides and isolates of the direction of reading,
/// and the separators of lines and paragraphs.
pub fn is_hidden(c: char) -> bool {
    c.is_control() && !matches!(c, '\t' | '\n' | '\r')
        || matches!(c, '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}' | '\u{2028}' | '\u{2029}')
}

/// For a terminal. Line feeds and tabs stay; what is hidden shows as U+FFFD.
pub fn terminal(text: &str) -> Cow<'_, str> {
    let hidden = |c: char| is_hidden(c) || c == '\r';
    if !text.contains(hidden) {
        return Cow::Borrowed(text);
    }
    let text = text.replace("\r\n", "\n");
    Cow::Owned(text.replace(hidden, "\u{fffd}"))
}

/// For one line of a terminal, such as a cell of a table: line ends and tabs become blanks.
pub fn line(text: &str) -> String {
    text.chars()
        .map(|c| match c {
            '\t' | '\n' | '\r' => ' ',
            c if is_hidden(c) => char::REPLACEMENT_CHARACTER,
            c => c,
        })
        .collect()
}

/// Whether a workbook that reads this text as a cell would take it for a formula.
pub fn starts_formula(text: &str) -> bool {
    text.starts_with(['=', '+', '-', '@', '\t', '\r', '\n', '＝', '＋', '－', '＠'])
}

/// For a cell of a CSV report: what would start a formula gets an apostrophe before it, as workbooks themselves write it.
pub fn csv_cell(text: &str) -> String {
    let text = terminal(text);
    if starts_formula(&text) {
        format!("'{text}")
    } else {
        text.into_owned()
    }
}

/// A cell of a CSV report that was filled in and comes back, without what [`csv_cell`] put before it.
pub fn from_csv_cell(text: &str) -> &str {
    let own = text.strip_prefix('\'').filter(|own| starts_formula(own));
    own.unwrap_or(text)
}

/// For a cell of a workbook, which holds it as text whatever it starts with; cut to what a cell can hold.
pub fn workbook_text(text: &str) -> String {
    terminal(text).chars().take(MOST_CELL).collect()
}

/// For a page: no character means anything to a browser.
pub fn html(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in line(text).chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\'' => out.push_str("&#39;"),
            c => out.push(c),
        }
    }
    out
}

/// For a text in quotes in a style of a page: all but plain letters, digits and blanks by their numbers.
pub fn css(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in line(text).chars() {
        match c {
            c if c.is_ascii_alphanumeric() || c == ' ' => out.push(c),
            c => out.push_str(&format!("\\{:x} ", u32::from(c))),
        }
    }
    out
}

/// JSON with two blanks a level, ended by a line feed. Nothing is altered: what is hidden is escaped. Errors: those of the target.
pub fn json(out: impl Write, value: &impl Serialize) -> io::Result<()> {
    let mut serializer = Serializer::with_formatter(out, Escaping(PrettyFormatter::new()));
    value.serialize(&mut serializer)?;
    serializer.into_inner().write_all(b"\n")
}

/// As [`json`], as a text.
pub fn json_text(value: &impl Serialize) -> String {
    let mut out = Vec::new();
    // A vector takes whatever is written to it.
    let _ = json(&mut out, value);
    String::from_utf8(out).unwrap_or_default()
}

/// The usual form, with escapes for what the format itself allows as it is.
struct Escaping(PrettyFormatter<'static>);

impl Formatter for Escaping {
    fn write_string_fragment<W: ?Sized + Write>(
        &mut self,
        out: &mut W,
        text: &str,
    ) -> io::Result<()> {
        let mut rest = text;
        while let Some((at, c)) = rest.char_indices().find(|(_, c)| is_hidden(*c)) {
            let (plain, from) = rest.split_at(at);
            out.write_all(plain.as_bytes())?;
            write!(out, "\\u{:04x}", u32::from(c))?;
            rest = from.split_at(c.len_utf8()).1;
        }
        out.write_all(rest.as_bytes())
    }

    fn begin_array<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.0.begin_array(out)
    }

    fn end_array<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.0.end_array(out)
    }

    fn begin_array_value<W: ?Sized + Write>(&mut self, out: &mut W, first: bool) -> io::Result<()> {
        self.0.begin_array_value(out, first)
    }

    fn end_array_value<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.0.end_array_value(out)
    }

    fn begin_object<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.0.begin_object(out)
    }

    fn end_object<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.0.end_object(out)
    }

    fn begin_object_key<W: ?Sized + Write>(&mut self, out: &mut W, first: bool) -> io::Result<()> {
        self.0.begin_object_key(out, first)
    }

    fn begin_object_value<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.0.begin_object_value(out)
    }

    fn end_object_value<W: ?Sized + Write>(&mut self, out: &mut W) -> io::Result<()> {
        self.0.end_object_value(out)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Each kind of text that could do harm somewhere.
    const HARM: &str = "\u{1b}[2J\u{7}\u{9b}31m\u{202e}txt\u{2067}\u{2028}\u{0}\u{7f}\r";

    #[test]
    fn nothing_that_is_hidden_reaches_any_target() {
        for text in [
            terminal(HARM).into_owned(),
            line(HARM),
            csv_cell(HARM),
            workbook_text(HARM),
            html(HARM),
            json_text(&HARM),
        ] {
            assert!(!text.contains(|c| is_hidden(c) || c == '\r'), "{text:?}");
        }
        assert_eq!(terminal("a\tb\r\nc"), "a\tb\nc");
        assert_eq!(
            html("<b onload='x'>&\"\n"),
            "&lt;b onload=&#39;x&#39;&gt;&amp;&quot; "
        );
        for text in ["=1", "+1", "-1", "@a", "＝1", "\t=1"] {
            assert!(csv_cell(text).starts_with('\''), "{text}");
            assert_eq!(from_csv_cell(&csv_cell(text)), text);
        }
    }

    #[test]
    fn json_comes_back_as_it_was() {
        let text = json_text(&[HARM, "=1", "<b>"]);
        let back: Vec<String> = serde_json::from_str(&text).expect("JSON");
        assert_eq!(back, [HARM, "=1", "<b>"]);
    }
}
