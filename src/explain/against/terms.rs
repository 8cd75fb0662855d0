//! Charges, allowances, pay, the rounding of the final figure and values decided for one row in two readings of the sheets: which differ, and one put in the place of
//! the other. Must not know what they come to.

use super::{ChangeKind, Changed, change};
use crate::check::Loaded;
use crate::diagnostics::Span;
use crate::explain::sheets::squeezed;
use crate::syntax::tree::{Statement, StatementKind};

/// A statement that goes in, or one that comes out.
pub(super) struct Edit {
    /// As it is reported.
    pub(super) told: Changed,
    /// Where it stood and where it is.
    pub(super) then: Option<Span>,
    pub(super) now: Option<Span>,
    key: Key,
    /// What it is now, and what is before it.
    put: Option<(Statement, Option<Key>)>,
}

type Key = (ChangeKind, String);

#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "the statements that are terms of the job are these"
)]
fn key(statement: &Statement) -> Option<Key> {
    Some(match &statement.kind {
        StatementKind::Charge(charge) => (ChangeKind::Charge, charge.name.text.clone()),
        StatementKind::Allowance { name, .. } => (ChangeKind::Allowance, name.text.clone()),
        StatementKind::Pay { name, .. } => (ChangeKind::Pay, name.text.clone()),
        StatementKind::Change(change) => {
            let mark = change.at.as_ref()?;
            let name = format!("{} at {}", change.name.text, mark.text);
            (ChangeKind::Exception, name)
        }
        StatementKind::Final { .. } => (ChangeKind::Final, "the final figure".to_owned()),
        _ => return None,
    })
}

fn terms(loaded: &Loaded) -> Vec<(Key, &Statement)> {
    loaded
        .sheets
        .iter()
        .flat_map(|s| &s.tree.statements)
        .filter_map(|s| Some((key(s)?, s)))
        .collect()
}

/// What was written otherwise or is new, in the order it stands now; then what is gone.
pub(super) fn edits(old: &Loaded, new: &Loaded) -> Vec<Edit> {
    let (then, now) = (terms(old), terms(new));
    let text = |loaded: &Loaded, s: &Statement| squeezed(&loaded.sources, s.span);
    let mut out = Vec::new();
    for (at, (key, statement)) in now.iter().enumerate() {
        let other = then.iter().find(|(k, _)| k == key).map(|(_, s)| *s);
        let (was, is) = (
            other.map(|s| text(old, s)).unwrap_or_default(),
            text(new, statement),
        );
        if was != is {
            let before = at
                .checked_sub(1)
                .and_then(|b| now.get(b))
                .map(|(k, _)| k.clone());
            out.push(Edit {
                told: change(key.0, key.1.clone(), was, is),
                then: other.map(|s| s.span),
                now: Some(statement.span),
                key: key.clone(),
                put: Some(((*statement).clone(), before)),
            });
        }
    }
    for (key, statement) in then
        .iter()
        .filter(|(k, _)| !now.iter().any(|(n, _)| n == k))
    {
        out.push(Edit {
            told: change(key.0, key.1.clone(), text(old, statement), ""),
            then: Some(statement.span),
            now: None,
            key: key.clone(),
            put: None,
        });
    }
    out
}

impl Edit {
    /// Makes the change in the sheets of the record.
    pub(super) fn make(&self, old: &mut Loaded) {
        let is = |statement: &Statement, wanted: &Key| key(statement).as_ref() == Some(wanted);
        let Some((statement, before)) = &self.put else {
            old.sheets
                .iter_mut()
                .for_each(|s| s.tree.statements.retain(|s| !is(s, &self.key)));
            return;
        };
        let all = old.sheets.iter_mut().flat_map(|s| &mut s.tree.statements);
        if let Some(there) = all.into_iter().find(|s| is(s, &self.key)) {
            there.kind = statement.kind.clone();
            return;
        }
        for sheet in &mut old.sheets {
            let list = &mut sheet.tree.statements;
            if let Some(at) = before
                .as_ref()
                .and_then(|before| list.iter().position(|s| is(s, before)))
            {
                list.insert(at + 1, statement.clone());
                return;
            }
        }
        // The job sheet is last; what is first among its like goes before the others.
        if let Some(sheet) = old.sheets.last_mut() {
            let list = &mut sheet.tree.statements;
            let at = list
                .iter()
                .position(|s| key(s).is_some())
                .unwrap_or(list.len());
            list.insert(at, statement.clone());
        }
    }
}
