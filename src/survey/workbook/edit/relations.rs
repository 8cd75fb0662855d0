//! What a part is related to, by numbers of its own. Must not know what the parts hold.

use super::super::xml::attribute_in;
use super::tags::{appended, children, prefix_of};
use super::{Parts, RELATIONS};

/// The part that tells what another part is related to.
pub(super) fn relations_of(part: &str) -> String {
    let (folder, file) = part.rsplit_once('/').unwrap_or(("", part));
    format!("{folder}/_rels/{file}.rels")
}

/// Relations of a part.
pub(super) struct Relations {
    pub(super) text: String,
    /// Id, type, target.
    pub(super) list: Vec<(String, String, String)>,
}

impl Relations {
    pub(super) fn read(parts: &mut Parts<'_>, name: &str) -> Relations {
        let none = "<?xml version=\"1.0\" encoding=\"UTF-8\" standalone=\"yes\"?>\n<Relationships xmlns=\"http://schemas.openxmlformats.org/package/2006/relationships\"></Relationships>";
        let text = parts.text(name).unwrap_or_else(|| none.to_string());
        let text = if children(&text, "Relationships").is_ok_and(|c| c.is_empty()) {
            none.to_string()
        } else {
            text
        };
        let elements = children(&text, "Relationships").unwrap_or_default();
        let list = elements.iter().map(|e| {
            let of = |name| {
                attribute_in(e, name)
                    .and_then(|r| e.get(r))
                    .unwrap_or("")
                    .to_string()
            };
            (of("Id"), of("Type"), of("Target"))
        });
        Relations {
            list: list.collect(),
            text,
        }
    }

    pub(super) fn target(&self, id: &str, folder: &str) -> Option<String> {
        let found = self.list.iter().find(|r| r.0 == id)?;
        Some(joined(folder, &found.2))
    }

    pub(super) fn of_kind(&self, kind: &str, folder: &str) -> Option<String> {
        let found = self
            .list
            .iter()
            .find(|r| r.1.ends_with(&format!("/{kind}")))?;
        Some(joined(folder, &found.2))
    }

    pub(super) fn add(&mut self, kind: &str, target: &str) -> String {
        let mut number = 1;
        while self.list.iter().any(|r| r.0 == format!("ovolo{number}")) {
            number += 1;
        }
        let id = format!("ovolo{number}");
        let prefix = prefix_of(&self.text, "Relationships");
        let one = format!(
            "<{prefix}Relationship Id=\"{id}\" Type=\"{RELATIONS}/{kind}\" Target=\"{target}\"/>"
        );
        if let Ok(text) = appended(&self.text, "Relationships", &one, 0) {
            self.text = text;
        }
        self.list.push((
            id.clone(),
            format!("{RELATIONS}/{kind}"),
            target.to_string(),
        ));
        id
    }
}

/// A target seen from a folder.
pub(super) fn joined(folder: &str, target: &str) -> String {
    if let Some(whole) = target.strip_prefix('/') {
        return whole.to_string();
    }
    let mut steps: Vec<&str> = folder.split('/').filter(|s| !s.is_empty()).collect();
    for step in target.split('/') {
        match step {
            ".." => {
                steps.pop();
            }
            "." => {}
            step => steps.push(step),
        }
    }
    steps.join("/")
}
