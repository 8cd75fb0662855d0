//! Lists the shipped sheets and their tables, so that the program holds their texts.

use std::fmt::Write as _;
use std::path::Path;
use std::{env, fs};

fn main() {
    let root = env::var("CARGO_MANIFEST_DIR").expect("cargo says where the package is");
    let sheets = Path::new(&root).join("sheets");
    let mut names: Vec<String> = Vec::new();
    for (folder, kind) in [("", "ovo"), ("reference", "csv")] {
        let at = sheets.join(folder);
        println!("cargo::rerun-if-changed={}", at.display());
        let list = fs::read_dir(&at).expect("the folder of the sheets");
        names.extend(list.flatten().filter_map(|entry| {
            let name = entry.file_name().into_string().ok()?;
            let shipped = Path::new(&name).extension().is_some_and(|e| e == kind);
            shipped.then(|| {
                if folder.is_empty() {
                    name.clone()
                } else {
                    format!("{folder}/{name}")
                }
            })
        }));
    }
    names.sort();
    let mut out = String::from("&[\n");
    for name in names {
        let path = sheets.join(&name);
        println!("cargo::rerun-if-changed={}", path.display());
        let _ = writeln!(
            out,
            "    ({name:?}, include_str!({:?})),",
            path.display().to_string()
        );
    }
    out.push_str("]\n");
    let target = env::var("OUT_DIR").expect("cargo says where to write");
    fs::write(Path::new(&target).join("library.rs"), out).expect("the list of the sheets");
}
