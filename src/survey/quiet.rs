//! Keeps a panic inside a foreign reader off the terminal while it is being caught and turned into a message.

use std::cell::Cell;
use std::panic;
use std::sync::Once;

thread_local! {
    static SILENT: Cell<bool> = const { Cell::new(false) };
}

/// Runs `call`; a panic in it on this thread prints nothing. It still unwinds to the caller.
pub(crate) fn silently<T>(call: impl FnOnce() -> T) -> T {
    static HOOK: Once = Once::new();
    HOOK.call_once(|| {
        let before = panic::take_hook();
        panic::set_hook(Box::new(move |info| {
            if !SILENT.with(Cell::get) {
                before(info);
            }
        }));
    });
    let before = SILENT.with(|s| s.replace(true));
    let done = call();
    SILENT.with(|s| s.set(before));
    done
}
