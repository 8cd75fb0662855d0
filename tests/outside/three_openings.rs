//! Three openings worked out a second time without ovolo, line by line; the trial of `sheets/worked-window.ovo` holds the same figures.

use std::path::Path;
use std::process::Command;

#[test]
fn three_openings_come_to_the_same_without_the_engine() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let done = Command::new("python3")
        .arg(root.join("tests/outside/three_openings.py"))
        .output()
        .expect("python3 is there");
    let told = String::from_utf8_lossy(&done.stdout);
    assert!(done.status.success(), "{told}");
    assert!(
        told.contains("100 lines of 32 resources; 0 differ"),
        "{told}"
    );
}
