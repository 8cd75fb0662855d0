//! Changes to the text of a part at the places of its tags; everything else stays as it is. Must not know what the tags mean.

use std::fmt::Write as _;

use quick_xml::Reader;
use quick_xml::events::Event;

use super::super::xml::attribute_in;
use super::Failed;

/// Calls `each` with every event and where it begins and ends.
pub(super) fn events(
    text: &str,
    mut each: impl FnMut(&Event<'_>, usize, usize),
) -> Result<(), Failed> {
    let mut reader = Reader::from_str(text);
    let place = |p: u64| usize::try_from(p).unwrap_or(usize::MAX);
    loop {
        let from = place(reader.buffer_position());
        let event = reader.read_event().map_err(|e| e.to_string())?;
        let to = place(reader.buffer_position());
        if matches!(event, Event::Eof) {
            return Ok(());
        }
        each(&event, from, to);
    }
}

/// The elements within the first element of a local name, as written.
pub(super) fn children(text: &str, parent: &str) -> Result<Vec<String>, Failed> {
    let mut found = Vec::new();
    let (mut depth, mut start, mut done) = (None::<usize>, 0, false);
    events(text, |event, from, to| match (event, depth) {
        (Event::Start(e), None) if !done && e.local_name().as_ref() == parent => depth = Some(0),
        (Event::Start(_), Some(d)) => {
            if d == 0 {
                start = from;
            }
            depth = Some(d + 1);
        }
        (Event::Empty(_), Some(0)) => found.push(text.get(from..to).unwrap_or("").to_string()),
        (Event::End(_), Some(0)) => {
            depth = None;
            done = true;
        }
        (Event::End(_), Some(d)) => {
            if d == 1 {
                found.push(text.get(start..to).unwrap_or("").to_string());
            }
            depth = Some(d - 1);
        }
        _ => {}
    })?;
    Ok(found)
}

/// The prefix with its colon that an element of a local name bears.
pub(super) fn prefix_of(text: &str, name: &str) -> String {
    let mut prefix = None;
    let look = events(text, |event, _, _| {
        if let Event::Start(e) | Event::Empty(e) = event
            && prefix.is_none()
            && e.local_name().as_ref() == name
        {
            let whole = e.name();
            prefix = Some(whole.as_ref().strip_suffix(name).unwrap_or("").to_string());
        }
    });
    look.ok().and(prefix).unwrap_or_default()
}

/// The text with more at the end of the first element of a local name, and its count.
pub(super) fn appended(
    text: &str,
    parent: &str,
    more: &str,
    count: usize,
) -> Result<String, Failed> {
    let (mut head, mut end) = (None, None);
    events(text, |event, from, to| match event {
        Event::Start(e) if head.is_none() && e.local_name().as_ref() == parent => {
            head = Some((from, to))
        }
        Event::End(e) if end.is_none() && head.is_some() && e.local_name().as_ref() == parent => {
            end = Some(from)
        }
        Event::Start(_)
        | Event::End(_)
        | Event::Empty(_)
        | Event::Text(_)
        | Event::CData(_)
        | Event::Comment(_)
        | Event::Decl(_)
        | Event::PI(_)
        | Event::DocType(_)
        | Event::GeneralRef(_)
        | Event::Eof => {}
    })?;
    let (Some((from, to)), Some(end)) = (head, end) else {
        return Err(format!("there is no {parent}"));
    };
    let tag = text.get(from..to).unwrap_or("");
    let tag = match count {
        0 => tag.to_string(),
        count => with_attributes(tag, &[("count", &count.to_string())]),
    };
    let (before, inside) = (
        text.get(..from).unwrap_or(""),
        text.get(to..end).unwrap_or(""),
    );
    Ok(format!(
        "{before}{tag}{inside}{more}{}",
        text.get(end..).unwrap_or("")
    ))
}

/// An element, or its opening tag, with attributes set.
pub(super) fn with_attributes(element: &str, set: &[(&str, &str)]) -> String {
    let end = element.find('>').unwrap_or(element.len());
    let (mut tag, rest) = element.split_at(end);
    let closed = tag.ends_with('/');
    tag = tag.strip_suffix('/').unwrap_or(tag);
    let mut tag = tag.trim_end().to_string();
    for (name, value) in set {
        match attribute_in(&tag, name) {
            Some(old) => tag.replace_range(old, value),
            None => {
                let _ = write!(tag, " {name}=\"{value}\"");
            }
        }
    }
    format!("{tag}{}{rest}", if closed { "/" } else { "" })
}
