//! Messages of pricing that several of its parts need.

use crate::diagnostics::Diagnostic;
use crate::number::NumError;

/// An amount that grew past what can be written as cents. `what` begins in lower case.
pub(crate) fn too_long(what: &str, error: NumError) -> Diagnostic {
    Diagnostic::error("OV-824", format!("{what} cannot be worked out"))
        .found(error.to_string())
        .expected("an amount of at most 28 digits")
        .note("A price or a quantity with a slipped decimal point is the usual cause.")
}

/// Two sums that should be equal are not.
pub(super) fn does_not_foot(what: &str, sum: i128, total: i128) -> Diagnostic {
    use crate::number::cents_text;
    Diagnostic::error(
        "OV-890",
        format!("{what} does not add up to its total; this is a fault of the program"),
    )
    .found(cents_text(sum))
    .expected(cents_text(total))
}
