//! Texts with values put in.

use super::typed::*;
use crate::diagnostics::{Diagnostic, Span};
use crate::program::{Piece, Template, Ty};
use crate::syntax::tree::Text;

impl<'a> Checker<'a> {
    pub(super) fn template(&mut self, text: &'a Text, cx: &Context<'a>) -> Checks<Template> {
        self.template_owned(text, cx)
    }

    /// Reads `{name}` in a text; everything else stays as written.
    pub(super) fn template_owned(&mut self, text: &Text, cx: &Context<'a>) -> Checks<Template> {
        let mut pieces = Vec::new();
        let mut rest = text.text.as_str();
        let mut at = text.span.start;
        let mut ok = true;
        while let Some(open) = rest.find('{') {
            if open > 0 {
                pieces.push(Piece::Text(rest[..open].to_string()));
            }
            let Some(close) = rest[open..].find('}') else {
                return self.fail(
                    Diagnostic::error("OV-217", "a { in a text is never closed")
                        .at(text.span, "")
                        .expected("{name} with the name of a value"),
                );
            };
            let name = rest[open + 1..open + close].trim();
            let start = at + crate::diagnostics::offset(open + 1);
            let span = Span {
                start,
                end: start + crate::diagnostics::offset(close - 1),
                ..text.span
            };
            match self.named(name, span, cx) {
                Ok(t) => pieces.push(Piece::Value {
                    name: name.to_owned(),
                    node: t.node,
                    unit: self.piece_unit(name, &t, cx),
                }),
                Err(Poisoned) => ok = false,
            }
            at += crate::diagnostics::offset(open + close + 1);
            rest = &rest[open + close + 1..];
        }
        if !rest.is_empty() {
            pieces.push(Piece::Text(rest.to_string()));
        }
        if ok {
            Ok(Template { pieces })
        } else {
            Err(Poisoned)
        }
    }

    pub(super) fn piece_unit(
        &mut self,
        name: &str,
        t: &Typed,
        cx: &Context<'a>,
    ) -> Option<crate::units::UnitExpr> {
        let Ty::Number(n) = self.ty(t).clone() else {
            return None;
        };
        if let Some(d) = self.def_for(name, cx.grain) {
            let shown = match &self.declared.defs[d].kind {
                DefKind::Rule(r) => r.shown.as_ref(),
                DefKind::Column { table, index, .. } => {
                    if let crate::table::ColumnKind::Number { unit, .. } =
                        &self.program.tables[*table].schema.columns[usize::from(*index)].kind
                    {
                        return Some(unit.clone());
                    }
                    None
                }
                DefKind::Given(_) | DefKind::Decide(_) => None,
            };
            if let Some(text) = shown
                && let Ok(u) = crate::units::parse_unit(
                    &text.text,
                    &self.program.nouns,
                    self.program.currency.as_deref(),
                )
                && *u.dim() == n.dim
            {
                return Some(u);
            }
        }
        Some(self.usual_unit(t.node, &n))
    }
}
