//! What a requirement blames: columns of its rows, of the rows above them or of the rows below; or the line that says a given.

use super::changes::def_span;
use super::typed::*;
use crate::diagnostics::Diagnostic;
use crate::program::{Blamed, Grain, TableId};
use crate::syntax::tree::Name;

impl Checker<'_> {
    /// What is named after `blames`; a name that is neither a column nor a given is reported.
    pub(super) fn blamed(&mut self, names: &[Name], grain: Grain) -> Vec<Blamed> {
        let near = match grain {
            Grain::Table(table) => self.tables_near(table),
            Grain::Group(group) => vec![self.program.groups[group].of],
            Grain::Const | Grain::Job => Vec::new(),
        };
        let mut out = Vec::new();
        for name in names {
            let found = near.iter().find_map(|t| {
                let columns = &self.program.tables[*t].schema.columns;
                let at = columns.iter().position(|c| c.name == name.text)?;
                Some(Blamed::Cells(*t, u16::try_from(at).ok()?))
            });
            let found = found.or_else(|| self.line_of_a_given(name));
            match found {
                Some(column) => out.push(column),
                None => self.no_column_to_blame(name, &near),
            }
        }
        out
    }

    /// Where a given is said: by the last change of it, or where it is declared.
    fn line_of_a_given(&mut self, name: &Name) -> Option<Blamed> {
        let found = self
            .declared
            .by_name
            .get(name.text.as_str())
            .into_iter()
            .flatten();
        let is_given = |d: &usize| matches!(self.declared.defs[*d].kind, DefKind::Given(_));
        let def = found.copied().find(is_given)?;
        self.kept.reads.insert((self.reader(), def));
        let last = self
            .work
            .in_force
            .get(&def)
            .and_then(|changes| changes.last());
        Some(Blamed::Line(last.map_or_else(
            || def_span(&self.declared.defs[def]),
            |c| c.change.span,
        )))
    }

    /// A table, those above it and those right below it, in the order in which a name is looked for.
    fn tables_near(&self, table: TableId) -> Vec<TableId> {
        let tables = &self.program.tables;
        let mut near = vec![table];
        let mut above = tables[table].parent;
        while let Some(parent) = above.filter(|p| !near.contains(p)) {
            near.push(parent);
            above = tables[parent].parent;
        }
        near.extend(tables.ids().filter(|t| tables[*t].parent == Some(table)));
        near
    }

    fn no_column_to_blame(&mut self, name: &Name, near: &[TableId]) {
        if self.reported.broken.contains(name.text.as_str()) {
            return;
        }
        let tables = &self.program.tables;
        let columns: Vec<String> = near
            .iter()
            .flat_map(|t| &tables[*t].schema.columns)
            .map(|c| c.name.clone())
            .collect();
        let names = columns.iter().map(String::as_str);
        let meant = self.near(&name.text, columns.len(), names);
        let d = Diagnostic::error("OV-517", format!("`{}` is nothing that can be blamed", name.text))
            .at(name.span, "")
            .expected("a given, or a column of the rows of this block, of the rows above them or of those right below");
        self.problems.push(match meant {
            Some(meant) => d.mend(format!("perhaps `{meant}`")),
            None => d,
        });
    }
}
