//! What a user means by a name: a named value first, then a resource, then a line of the estimate.

use super::builder::Builder;
use super::{Target, refused};
use crate::diagnostics::{Diagnostic, suggest};
use crate::pricing::CutKind;
use crate::program::{Grain, ResourceClass};

/// Rows named in a message.
const MOST_MARKS: usize = 6;

impl Builder<'_> {
    pub(super) fn target(&mut self, name: &str, mark: Option<&str>) -> Result<Target, Diagnostic> {
        let values: Vec<(usize, Grain)> = self
            .version()
            .values
            .iter()
            .enumerate()
            .filter(|(_, v)| v.name == name)
            .map(|(at, v)| (at, v.grain))
            .collect();
        if !values.is_empty() {
            return self.value_named(name, &values, mark);
        }
        let plain = plain(name);
        let resource = self.version().resources.id_of(|r| {
            self::plain(&r.name) == plain
                || r.called.as_deref().is_some_and(|c| self::plain(c) == plain)
        });
        if let Some(id) = resource {
            return match (mark, self.program().main_table()) {
                (Some(mark), Some(table)) => {
                    let row = self.row_named(Grain::Table(table), mark);
                    row.map(|row| Target::ResourceAt(id, row))
                        .ok_or_else(|| self.no_such_row(name, Grain::Table(table), Some(mark)))
                }
                _ => Ok(Target::Resource(id)),
            };
        }
        let estimate = self.estimate();
        let charge = estimate
            .charges
            .iter()
            .position(|c| self::plain(&c.name) == plain);
        let phases = estimate.cut(CutKind::Phase).map_or(&[][..], |c| &c.rows);
        let phase = phases.iter().position(|r| self::plain(&r.key) == plain);
        let class = ResourceClass::named(&plain);
        let found = match (plain.as_str(), class) {
            ("total", _) => Some(Target::Total),
            ("cost", _) => Some(Target::Cost),
            ("materials", _) => Some(Target::Materials),
            ("final rounding" | "final", _) if estimate.final_rounding.is_some() => {
                Some(Target::FinalRounding)
            }
            (_, Some(class)) => Some(Target::Class(class)),
            _ => charge.map(Target::Charge).or(phase.map(Target::Phase)),
        };
        match (found, mark) {
            (Some(found), None) => Ok(found),
            (Some(_), Some(mark)) => Err(refused(
                "OV-921",
                format!("`{name}` is one for the whole job"),
            )
            .found(format!("the mark {mark}"))
            .mend(format!(
                "ask for `{name}` without a mark, or for a resource at {mark}"
            ))),
            (None, _) => Err(self.no_such_name(name)),
        }
    }

    fn value_named(
        &mut self,
        name: &str,
        values: &[(usize, Grain)],
        mark: Option<&str>,
    ) -> Result<Target, Diagnostic> {
        let whole = values
            .iter()
            .find(|(_, grain)| matches!(grain, Grain::Const | Grain::Job));
        let Some(mark) = mark else {
            return match (whole, values) {
                (Some((value, _)), _) => Ok(Target::Value {
                    value: *value,
                    row: 0,
                }),
                // A job of one row needs no mark.
                (None, [(value, grain)]) if self.rows(*grain) == 1 => Ok(Target::Value {
                    value: *value,
                    row: 0,
                }),
                (None, [(_, grain), ..]) => Err(self.no_such_row(name, *grain, None)),
                (None, []) => Err(self.no_such_name(name)),
            };
        };
        for (value, grain) in values {
            if let Some(row) = self.row_named(*grain, mark) {
                return Ok(Target::Value { value: *value, row });
            }
        }
        match (whole, values.first()) {
            (Some((value, _)), _) if values.len() == 1 => {
                // The same on every row: the mark changes nothing.
                let main = self.program().main_table().map(Grain::Table);
                let known = main.and_then(|grain| self.row_named(grain, mark)).is_some();
                if known {
                    Ok(Target::Value {
                        value: *value,
                        row: 0,
                    })
                } else {
                    Err(self.no_such_row(name, main.unwrap_or(Grain::Job), Some(mark)))
                }
            }
            (_, Some((_, grain))) => Err(self.no_such_row(name, *grain, Some(mark))),
            (_, None) => Err(self.no_such_name(name)),
        }
    }

    fn no_such_row(&mut self, name: &str, grain: Grain, mark: Option<&str>) -> Diagnostic {
        let of = match grain {
            Grain::Table(t) => self
                .program()
                .tables
                .get(t)
                .map_or("row", |t| t.schema.name.as_str()),
            Grain::Group(g) => self
                .program()
                .groups
                .get(g)
                .map_or("group", |g| g.name.as_str()),
            Grain::Job | Grain::Const => "job",
        };
        let of = of.to_owned();
        let rows = self.rows(grain);
        let mut marks = Vec::new();
        for row in 0..rows {
            marks.extend(self.mark(grain, row).filter(|m| !m.is_empty()));
        }
        let d = match mark {
            None => refused(
                "OV-921",
                format!("`{name}` has a value for each {of}; say which one"),
            ),
            Some(mark) => refused("OV-921", format!("there is no {of} {mark}")),
        };
        let near = mark.and_then(|m| suggest::nearest(m, marks.iter().map(String::as_str)));
        let shown: Vec<&str> = marks.iter().take(MOST_MARKS).map(String::as_str).collect();
        let more = marks.len().saturating_sub(MOST_MARKS);
        let list = match (shown.is_empty(), more) {
            (true, _) => format!("nothing: this job has no {of} with a name"),
            (false, 0) => shown.join(", "),
            (false, more) => format!("{} and {more} more", shown.join(", ")),
        };
        let d = d.expected(list);
        match near {
            Some(near) => {
                let mend = format!("did you mean {near}?");
                d.mend(mend)
            }
            None => d,
        }
    }

    fn no_such_name(&self, name: &str) -> Diagnostic {
        let version = self.version();
        let estimate = self.estimate();
        let mut names: Vec<String> = version
            .values
            .iter()
            .map(|v| v.name.clone())
            .chain(version.resources.iter().map(|r| r.name.clone()))
            .collect();
        names.extend(["total", "cost", "materials"].map(String::from));
        names.extend(estimate.charges.iter().map(|c| c.name.clone()));
        names.extend(
            estimate
                .cut(CutKind::Phase)
                .into_iter()
                .flat_map(|c| &c.rows)
                .map(|r| r.key.clone()),
        );
        names.extend(
            ResourceClass::ALL
                .into_iter()
                .filter(|class| *class != ResourceClass::Other)
                .map(|class| class.word().to_owned()),
        );
        let d = refused("OV-920", format!("there is no result named `{name}`"))
            .expected("a column, given, rule, decision or resource; a phase, a charge, a class such as labor; cost or total");
        match suggest::nearest(name, names.iter().map(String::as_str)) {
            Some(near) => {
                let mend = format!("did you mean `{near}`?");
                d.mend(mend)
            }
            None => d,
        }
    }
}

/// A name as people may write it: without case, with blanks for `_`.
fn plain(name: &str) -> String {
    name.trim().replace('_', " ").to_lowercase()
}
