//! The files of a job held in memory.

use super::files::{Files, Stamp};
use crate::check::Finder;
use std::collections::HashMap;
use std::io::{Cursor, Read};

/// Texts by their names, as the files of a job.
///
/// ```
/// use ovolo::check::Finder;
/// use ovolo::session::Texts;
///
/// let texts = Texts::from([("sheet.ovo", "given putty  3 lb\n")]);
/// assert!(texts.find("sheet.ovo", None).is_ok());
/// assert_eq!(texts.find("other.ovo", None), Err("there is no file other.ovo".to_string()));
/// ```
#[derive(Debug, Clone, Default)]
pub struct Texts {
    texts: HashMap<String, String>,
}

impl<N: Into<String>, T: Into<String>> FromIterator<(N, T)> for Texts {
    fn from_iter<I: IntoIterator<Item = (N, T)>>(texts: I) -> Texts {
        let texts = texts.into_iter();
        Texts {
            texts: texts
                .map(|(name, text)| (name.into(), text.into()))
                .collect(),
        }
    }
}

impl<N: Into<String>, T: Into<String>, const COUNT: usize> From<[(N, T); COUNT]> for Texts {
    fn from(texts: [(N, T); COUNT]) -> Texts {
        texts.into_iter().collect()
    }
}

impl Finder for Texts {
    fn find(&self, path: &str, _from: Option<&str>) -> Result<(String, String), String> {
        match self.texts.get(path) {
            Some(text) => Ok((path.to_owned(), text.clone())),
            None => Err(format!("there is no file {path}")),
        }
    }
}

impl Files for Texts {
    fn name(&self, path: &str, _from: &str) -> String {
        path.to_owned()
    }

    fn open(&self, name: &str) -> Result<Box<dyn Read + Send>, String> {
        let (_, text) = self.find(name, None)?;
        Ok(Box::new(Cursor::new(text.into_bytes())))
    }

    fn stamp(&self, _name: &str) -> Option<Stamp> {
        None
    }
}
