//! The cell formats of a workbook, with colored ones added. Must not know tabs.

use std::collections::HashMap;

use super::tags::{appended, children, prefix_of, with_attributes};
use super::{Failed, Parts};

/// Cell formats, to which marked ones are added.
pub(super) struct Styles {
    part: String,
    text: String,
    /// The cell formats there are, as written.
    formats: Vec<String>,
    added: Vec<String>,
    /// The added format for each that there was.
    marked: HashMap<usize, usize>,
    fills: usize,
    fonts: usize,
}

impl Styles {
    pub(super) fn read(parts: &mut Parts<'_>, part: &str) -> Result<Styles, Failed> {
        let text = parts.text(part).ok_or("the workbook has no cell formats")?;
        let formats = children(&text, "cellXfs")?;
        let fills = children(&text, "fills")?.len();
        let fonts = children(&text, "fonts")?.len();
        Ok(Styles {
            part: part.to_string(),
            text,
            formats,
            added: Vec::new(),
            marked: HashMap::new(),
            fills,
            fonts,
        })
    }

    /// The format like this one and colored.
    pub(super) fn colored(&mut self, format: usize) -> usize {
        if let Some(known) = self.marked.get(&format) {
            return *known;
        }
        let plain = "<xf/>".to_string();
        let own = self
            .formats
            .get(format)
            .or(self.formats.first())
            .unwrap_or(&plain);
        let fill = self.fills.to_string();
        let colored = with_attributes(own, &[("fillId", &fill), ("applyFill", "1")]);
        let number = self.formats.len() + self.added.len();
        self.added.push(colored);
        self.marked.insert(format, number);
        number
    }

    /// A new format whose text wraps, bold for headings.
    pub(super) fn wrapped(&mut self, bold: bool) -> usize {
        let font = if bold { self.fonts } else { 0 };
        let prefix = prefix_of(&self.text, "cellXfs");
        self.added.push(format!(
            "<{prefix}xf numFmtId=\"0\" fontId=\"{font}\" fillId=\"0\" borderId=\"0\" applyFont=\"1\" applyAlignment=\"1\"><{prefix}alignment vertical=\"top\" wrapText=\"1\"/></{prefix}xf>"
        ));
        self.formats.len() + self.added.len() - 1
    }

    pub(super) fn write(self, parts: &mut Parts<'_>) -> Result<(), Failed> {
        let prefix = prefix_of(&self.text, "fills");
        let fill = format!(
            "<{prefix}fill><{prefix}patternFill patternType=\"solid\"><{prefix}fgColor rgb=\"FFFFC7CE\"/><{prefix}bgColor indexed=\"64\"/></{prefix}patternFill></{prefix}fill>"
        );
        let text = appended(&self.text, "fills", &fill, self.fills + 1)?;
        let prefix = prefix_of(&self.text, "fonts");
        let bold = format!("<{prefix}font><{prefix}b/><{prefix}sz val=\"11\"/></{prefix}font>");
        let text = appended(&text, "fonts", &bold, self.fonts + 1)?;
        let count = self.formats.len() + self.added.len();
        let text = appended(&text, "cellXfs", &self.added.concat(), count)?;
        parts.put(&self.part, text);
        Ok(())
    }
}
