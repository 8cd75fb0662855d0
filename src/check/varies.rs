//! What a given may turn out to be: read and checked against its kind and its limits. Nothing is drawn from it.

use super::typed::*;
use crate::diagnostics::Diagnostic;
use crate::number::Exact;
use crate::program::{Kind, Ty, Varies};
use crate::syntax::tree::Given;

impl Checker<'_> {
    /// What the sheet says a given may turn out to be, in base units. None where it says nothing, or nothing that fits.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "only a written number varies"
    )]
    pub(super) fn varies_of(
        &mut self,
        given: &Given,
        typed: &Typed,
        (limits, is_changed): (Option<&(Exact, Exact)>, bool),
    ) -> Option<Varies> {
        let written = given.varies.as_ref()?;
        let Ty::Number(n) = self.ty(typed).clone() else {
            self.problems.push(
                Diagnostic::error("OV-656", "only a number can vary")
                    .at(written.span, "")
                    .mend("take `varies` out"),
            );
            return None;
        };
        let low = self.signed_of(&written.low, &n.dim, n.percent, "OV-316");
        let high = self.signed_of(&written.high, &n.dim, n.percent, "OV-316");
        let likely = match &written.likely {
            Some(value) => Some(self.signed_of(value, &n.dim, n.percent, "OV-316").ok()?),
            None => None,
        };
        let (low, high) = (low.ok()?, high.ok()?);
        let name = &given.name.text;
        let inside = |v: &Exact| *v >= low && *v <= high;
        if low > high || likely.as_ref().is_some_and(|v| !inside(v)) {
            self.problems.push(
                Diagnostic::error("OV-656", format!("what `{name}` varies over is not in order"))
                    .at(written.span, "")
                    .expected("the low end first, the likeliest value between the ends: varies from LOW to HIGH as triangle likely VALUE"),
            );
            return None;
        }
        let beyond = limits.is_some_and(|(least, most)| low < *least || high > *most);
        // A later layer that sets other limits, or a value that the sheet did not believe in, knows better than the sheet.
        let value = match &self.program.node(typed.node).kind {
            Kind::Number(n) => Some(n),
            _ => None,
        };
        if is_changed && (beyond || value.is_none_or(|v| !inside(v))) {
            return None;
        }
        if let (true, Some((from, to))) = (beyond, &given.range) {
            self.problems.push(
                Diagnostic::error("OV-656", format!("`{name}` varies beyond its limits"))
                    .at(written.span, "")
                    .at(from.span.to(to.span), "its limits")
                    .mend("keep what it varies over within the limits, or widen the limits"),
            );
            return None;
        }
        Some(Varies {
            low,
            high,
            likely,
            group: written.group.clone(),
        })
    }
}
