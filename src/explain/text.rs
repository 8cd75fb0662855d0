//! A tree as text: each value on a line, what is known of it beside a bar below, what it is calculated from indented under it.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! use ovolo::explain::{Explainer, Options};
//! let session = worked(); // a small job in memory
//! let run = session.run().expect("it is worked");
//! let mut explainer = Explainer::new(run.job.subject(0, &run.survey, &run.book, &run.worked));
//! let area = explainer.find("area", Some("A1")).expect("a rule");
//! let tree = explainer.explain(area, Options::default()).expect("it is worked");
//! let text = ovolo::explain::text::draw(&tree, &run.job.loaded.sources, 80);
//! assert!(text.starts_with("area at A1 = 12.5 sq ft"));
//! ```

use super::tree::{Tree, What};
use crate::diagnostics::Sources;
use crate::diagnostics::render::place_text;
use unicode_width::UnicodeWidthStr;

/// Blanks a level is set in.
const STEP: usize = 3;
/// Deepest indentation, so that there is always room for words.
const MOST_INDENT: usize = 36;

/// Draws a tree for a window of `width` columns. Ends in a newline.
pub fn draw(tree: &Tree, sources: &Sources, width: usize) -> String {
    let mut out = Page {
        text: String::new(),
        width: width.max(MOST_INDENT + 30),
        sources,
    };
    out.node(tree, 0, "");
    out.text
}

struct Page<'a> {
    text: String,
    width: usize,
    sources: &'a Sources,
}

impl Page<'_> {
    fn node(&mut self, tree: &Tree, level: usize, sign: &str) {
        let indent = (level * STEP).min(MOST_INDENT);
        let mut head = String::from(sign);
        head.push_str(&tree.name);
        match &tree.at {
            Some(at) if tree.name.is_empty() => head.push_str(at),
            Some(at) => head.push_str(&format!(" at {at}")),
            None => {}
        }
        if !tree.text.is_empty() {
            head.push_str(&format!(" = {}", tree.text));
        }
        if tree.elsewhere {
            head.push_str("  (shown in full elsewhere)");
        }
        if tree.deeper {
            head.push_str("  (more below)");
        }
        self.lines(indent, "", &head, 2);
        let mut told = tree.facts.clone();
        if let Some(place) = &tree.place {
            told.push((
                if tree.what == What::Column {
                    "cell"
                } else {
                    "place"
                },
                place_text(place, self.sources),
            ));
        }
        if let Some(rule) = &tree.rule {
            told.insert(0, ("rule", rule.clone()));
        }
        // Parts of sums and branches are many; their place is that of the rule they are in.
        let brief = matches!(
            tree.what,
            What::Rounding | What::Branch | What::Part | What::Gathered | What::Share
        );
        for (word, text) in told {
            if !(brief && word == "place") {
                self.lines(indent + 2, "| ", &format!("{word}: {text}"), 4);
            }
        }
        for part in &tree.addends {
            self.node(part, level + 1, "+ ");
        }
        for part in &tree.from {
            self.node(part, level + 1, "");
        }
    }

    /// A text broken between words, further lines set in by `hang`.
    fn lines(&mut self, indent: usize, bar: &str, text: &str, hang: usize) {
        let mut line = String::new();
        let mut first = true;
        for word in text.split(' ') {
            let room = self.width - indent - bar.width() - if first { 0 } else { hang };
            if !line.is_empty() && line.width() + 1 + word.width() > room {
                self.line(indent, bar, &line, if first { 0 } else { hang });
                line.clear();
                first = false;
            }
            if !line.is_empty() {
                line.push(' ');
            }
            line.push_str(word);
        }
        self.line(indent, bar, &line, if first { 0 } else { hang });
    }

    fn line(&mut self, indent: usize, bar: &str, text: &str, hang: usize) {
        let line = format!("{}{bar}{}{text}", " ".repeat(indent), " ".repeat(hang));
        self.text.push_str(line.trim_end());
        self.text.push('\n');
    }
}
