//! The JSON of papers has the form that `grammar/papers.schema.json` states.

use super::leaks::{job, said};
use serde_json::Value;
use std::path::Path;

/// What of JSON Schema that file uses: type, const, enum, required, properties, items, references to `$defs`, nothing else allowed.
fn faults(schema: &Value, root: &Value, value: &Value, at: &str, out: &mut Vec<String>) {
    if let Some(name) = schema["$ref"].as_str() {
        let pointer = name.trim_start_matches('#');
        let own = root.pointer(pointer).expect("a definition");
        return faults(own, root, value, at, out);
    }
    let kind = match value {
        Value::Null => "null",
        Value::Bool(_) => "boolean",
        Value::Number(_) => "integer",
        Value::String(_) => "string",
        Value::Array(_) => "array",
        Value::Object(_) => "object",
    };
    let fits = match &schema["type"] {
        Value::Null => true,
        Value::Array(kinds) => kinds.iter().any(|k| k == kind),
        one => one == kind,
    };
    let listed = schema["enum"].as_array().is_none_or(|l| l.contains(value));
    let constant = schema.get("const").is_none_or(|c| c == value);
    if !fits || !listed || !constant {
        out.push(format!("{at}: {value}"));
    }
    if let (Some(fields), Some(known)) = (value.as_object(), schema["properties"].as_object()) {
        for name in schema["required"].as_array().into_iter().flatten() {
            let name = name.as_str().expect("a name");
            if !fields.contains_key(name) {
                out.push(format!("{at}: no {name}"));
            }
        }
        for (name, field) in fields {
            match known.get(name) {
                Some(schema) => faults(schema, root, field, &format!("{at}.{name}"), out),
                None => out.push(format!("{at}: {name} is not in the form")),
            }
        }
    }
    for (place, item) in value.as_array().into_iter().flatten().enumerate() {
        faults(&schema["items"], root, item, &format!("{at}[{place}]"), out);
    }
}

fn wrong(document: &Value) -> Vec<String> {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("grammar/papers.schema.json");
    let text = std::fs::read_to_string(file).expect("the form");
    let schema: Value = serde_json::from_str(&text).expect("JSON");
    let mut out = Vec::new();
    faults(&schema, &schema, document, "papers", &mut out);
    out
}

#[test]
fn papers_have_the_form_that_is_stated() {
    let folder = job();
    let read =
        |args: &str| -> Value { serde_json::from_str(&said(folder.path(), args)).expect("JSON") };
    let all = read("papers job.ovo --json");
    let shop = read("papers job.ovo shop --json");
    assert_eq!(wrong(&all), Vec::<String>::new());
    assert_eq!(wrong(&shop), Vec::<String>::new());
    // Totals by default, lines for the paper that is asked for.
    let rows = |document: &Value, kind: &str| {
        let papers = document["papers"].as_array().expect("papers").iter();
        let lists = papers.flat_map(|p| p["lists"].as_array().expect("lists"));
        let rows = lists.flat_map(|l| l["rows"].as_array().expect("rows"));
        rows.filter(|r| r["kind"] == kind).count()
    };
    assert_eq!(rows(&all, "line"), 0);
    assert!(rows(&all, "total") > 3);
    assert_eq!(rows(&shop, "line"), 4 + 3 + 4);
    // Sums that are counted without their lines are those that stand below the lines.
    for paper in all["papers"].as_array().expect("papers") {
        let name = paper["name"].as_str().expect("a name");
        let alone = read(&format!("papers job.ovo {name} --json"));
        let mut alone = alone["papers"][0]["lists"].clone();
        for list in alone.as_array_mut().expect("lists") {
            let rows = list["rows"].as_array_mut().expect("rows");
            rows.retain(|r| r["kind"] == "total");
        }
        assert_eq!(paper["lists"], alone, "{name}");
    }
    // The form is not one that anything has.
    let mut other = shop.clone();
    other["papers"][0]["secret"] = "x".into();
    other["papers"][0]["lists"][0]["rows"][0]["kind"] = "heading".into();
    other["papers"][0]["date"] = 3.into();
    assert_eq!(wrong(&other).len(), 3, "{:?}", wrong(&other));
}
