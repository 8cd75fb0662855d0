//! A tree as JSON, schema `ovolo-why/1`. Numbers are texts: a ratio in base units for quantities, in currency for money.
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
//! let value = ovolo::explain::json::tree(&tree, &run.job.loaded.sources);
//! assert_eq!(value["tree"]["name"], "area");
//! ```

use super::tree::Tree;
use crate::diagnostics::Sources;
use crate::diagnostics::render::place_text;
use serde_json::{Map, Value, json};

/// Name and version of the form.
pub const SCHEMA: &str = "ovolo-why/1";

/// A tree. The same tree gives the same bytes.
pub fn tree(tree: &Tree, sources: &Sources) -> Value {
    json!({"schema": SCHEMA, "tree": node(tree, sources)})
}

/// A node; fields that have nothing to say are left out.
fn node(tree: &Tree, sources: &Sources) -> Value {
    let mut out = Map::new();
    let mut put = |name: &str, value: Value| {
        out.insert(name.to_owned(), value);
    };
    put("what", json!(tree.what.word()));
    put("name", json!(tree.name));
    if let Some(at) = &tree.at {
        put("at", json!(at));
    }
    if !tree.text.is_empty() {
        put("value", json!(tree.text));
    }
    if let Some(number) = &tree.number {
        put("exact", json!(number.to_string()));
    }
    if let Some(rule) = &tree.rule {
        put("rule", json!(rule));
    }
    if let Some(place) = &tree.place {
        put("place", json!(place_text(place, sources)));
    }
    if !tree.facts.is_empty() {
        put(
            "facts",
            tree.facts
                .iter()
                .map(|(word, text)| json!({"word": word, "text": text}))
                .collect(),
        );
    }
    if !tree.addends.is_empty() {
        put(
            "adds_up_from",
            tree.addends.iter().map(|t| node(t, sources)).collect(),
        );
    }
    if !tree.from.is_empty() {
        put(
            "worked_from",
            tree.from.iter().map(|t| node(t, sources)).collect(),
        );
    }
    if tree.deeper {
        put("more_below", json!(true));
    }
    if tree.elsewhere {
        put("told_elsewhere", json!(true));
    }
    Value::Object(out)
}
