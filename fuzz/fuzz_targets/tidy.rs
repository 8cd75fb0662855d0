//! A text that can be read is tidied to one form, and that form to itself.

#![no_main]

use libfuzzer_sys::fuzz_target;
use ovolo::syntax::tidy;

fuzz_target!(|text: &str| {
    if let Ok(once) = tidy(text) {
        match tidy(&once) {
            Ok(twice) => assert_eq!(once, twice),
            Err(refused) => panic!("a tidy sheet is refused: {refused:?}\n{once}"),
        }
    }
});
