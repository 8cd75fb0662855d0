//! What a formula that does not fit was probably meant to say: mends for usual slips. Must not decide what fits.

use super::typed::*;
use crate::diagnostics::Span;
use crate::program::{ChoiceId, Ty};
use crate::syntax::tree::{BinaryOp, Expr, ExprKind};
use crate::units::{Dim, default_unit};

impl<'a> Checker<'a> {
    /// `kind is pair or hung`: a label where a second condition belongs. Adds to what was told of it.
    pub(super) fn mend_labels(&mut self, left: &Expr, right: &Expr) {
        let ExprKind::Name(label) = &right.kind else {
            return;
        };
        let Some((subject, mut labels)) = asked(left) else {
            return;
        };
        labels.push(label);
        let text = format!(
            "{} is one of {}",
            self.short(subject.span),
            labels.join(", ")
        );
        if let Some(d) = self.problems.last_mut()
            && d.code == "OV-305"
            && d.mend.is_none()
            && d.labels
                .first()
                .is_some_and(|l| l.place == right.span.into())
        {
            d.mend = Some(format!("write `{text}`"));
        }
    }

    /// `kind is "pair"`: a label in quotes.
    pub(super) fn mend_quoted_label(&self, choice: ChoiceId, right: &Expr) -> Option<String> {
        let ExprKind::Text(text) = &right.kind else {
            return None;
        };
        let labels = &self.program.choices[choice].labels;
        let word = text.text.trim().to_lowercase();
        let near = labels.iter().find(|l| **l == word).map(String::as_str);
        let near = near.map(str::to_string).or_else(|| {
            let known = labels.iter().map(String::as_str);
            self.near(&word, labels.len(), known)
        })?;
        Some(format!("write a label without quotes: `{near}`"))
    }

    /// `wide + 4`: a plain number beside a quantity lacks its unit.
    pub(super) fn mend_unit(&self, number: &Typed, span: Span, other: &Dim) -> Option<String> {
        let text = self.loaded.sources.slice(span);
        let plain = number.literal
            && text
                .chars()
                .all(|c| c.is_ascii_digit() || "./ ".contains(c));
        if !plain || other.is_none() {
            return None;
        }
        let unit = default_unit(other, &self.program.nouns, self.program.currency.as_deref())
            .text(&self.program.nouns);
        Some(
            if self
                .program
                .constant(number.node)
                .is_some_and(crate::number::Exact::is_zero)
            {
                format!("write the unit with the zero: 0 {unit}")
            } else {
                format!("write the number with its unit, such as {text} {unit}")
            },
        )
    }

    /// An amount per row, taken once a row: `* 1 opening`.
    pub(super) fn mend_row_count(
        &self,
        grain: crate::program::Grain,
        noun: crate::units::Noun,
        amount: Span,
    ) -> Option<String> {
        let own = match grain {
            crate::program::Grain::Table(t) => self.program.tables.get(t)?.noun,
            crate::program::Grain::Group(g) => self.program.groups.get(g)?.noun,
            crate::program::Grain::Job | crate::program::Grain::Const => return None,
        };
        let name = self.program.nouns.name(noun);
        (own == noun).then(|| {
            format!(
                "each row here is one {name}: write `{} * 1 {name}`",
                self.short(amount)
            )
        })
    }

    /// What a value is called in a message about a choice.
    pub(super) fn choice_of(&self, t: &Typed) -> Option<ChoiceId> {
        if let Ty::Choice(c) = self.ty(t) {
            Some(*c)
        } else {
            None
        }
    }
}

/// What `a is x`, or several of them joined by `or`, ask about, and the labels named so far.
#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "these forms alone are meant; any other is a formula like all others"
)]
fn asked(e: &Expr) -> Option<(&Expr, Vec<&str>)> {
    match &e.kind {
        ExprKind::Binary {
            op: BinaryOp::Is,
            left,
            right,
            ..
        } => match &right.kind {
            ExprKind::Name(label) => Some((left, vec![label.as_str()])),
            _ => None,
        },
        ExprKind::IsOneOf {
            value,
            labels,
            negated: false,
        } => Some((value, labels.iter().map(|l| l.text.as_str()).collect())),
        ExprKind::Binary {
            op: BinaryOp::Or,
            left,
            right,
            ..
        } => {
            let (subject, mut labels) = asked(left)?;
            let ExprKind::Name(label) = &right.kind else {
                return None;
            };
            labels.push(label);
            Some((subject, labels))
        }
        _ => None,
    }
}
