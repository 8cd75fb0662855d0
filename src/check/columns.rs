//! Columns of surveys: their types, what a blank in them means, and their headings.

use super::declare::Pen;
use super::typed::*;
use super::unknown::Known;
use crate::diagnostics::{Diagnostic, Span};
use crate::number::Exact;
use crate::program::{ChoiceId, Grain, Scale, TableId, Ty};
use crate::syntax::tree::{self, ColumnType, ColumnValue, Layer, StatementKind};
use crate::table::{ColumnKind, ColumnSpec, LabelSpec, Limits, OnMissing, SchemaValue};
use crate::units::{Dim, Style, UnitExpr, format_quantity, parse_unit};
use foldhash::{HashMap, HashMapExt};

impl<'a> Checker<'a> {
    pub(super) fn survey(&mut self, pen: &Pen, id: TableId, def: &'a tree::SurveyDef) {
        let mut columns = Vec::new();
        let mut key = None;
        for column in &def.columns {
            let at = columns.len();
            if columns
                .iter()
                .any(|c: &ColumnSpec| c.name == column.name.text)
            {
                self.twice("column", &column.name);
                continue;
            }
            let Ok((kind, choice)) = self.column_kind(pen, column) else {
                self.reported.broken.insert(&column.name.text);
                continue;
            };
            if column.key {
                let first = key.replace(at).and_then(|first| columns.get(first));
                self.refuse_key(column, &kind, first);
            }
            let blank = self.on_missing(column, &kind, column.if_blank.as_ref(), column.optional);
            let na = self.on_missing(column, &kind, column.if_na.as_ref(), column.may_be_na);
            for (value, said) in [(&blank, &column.if_blank), (&na, &column.if_na)] {
                let column_kind = (column.name.text.as_str(), &kind);
                self.refuse_beyond(column_kind, value, said.as_ref(), column.between.as_ref());
            }
            columns.push(ColumnSpec {
                name: column.name.text.clone(),
                kind,
                headings: column.headed.iter().map(|t| t.text.clone()).collect(),
                blank,
                not_applicable: na,
                is_key: column.key,
                span: column.span,
            });
            let index = u16::try_from(at).unwrap_or(u16::MAX);
            self.declared.write(pen).defs.push(Def {
                name: &column.name,
                kind: DefKind::Column {
                    table: id,
                    index,
                    column,
                },
                grain: Grain::Table(id),
                layer: Layer::Base,
                choice,
            });
        }
        let (parent, parent_column) = self.table_above(id, def, &columns);
        if def.parent.is_none() && key.is_none() && !def.broken {
            self.problems.push(
                Diagnostic::error(
                    "OV-218",
                    format!("the survey `{}` has no key column", def.name.text),
                )
                .at(def.name.span, "")
                .expected("one text column marked `key`, by which rows are named: mark text key"),
            );
        }
        self.refuse_shared_headings(def);
        let info = &mut self.program.tables[id];
        info.parent = parent;
        info.schema.columns = columns;
        info.schema.key = key;
        info.schema.parent = parent_column;
    }

    fn refuse_key(&mut self, column: &tree::Column, kind: &ColumnKind, first: Option<&ColumnSpec>) {
        if !matches!(kind, ColumnKind::Text) {
            self.problems.push(
                Diagnostic::error("OV-218", "a key column is text")
                    .at(column.span, "")
                    .mend(format!("{} text key", column.name.text)),
            );
        }
        if let Some(first) = first {
            self.problems.push(
                Diagnostic::error("OV-218", "a survey has one key column")
                    .at(column.span, "a second one")
                    .at(first.span, "the first"),
            );
        }
    }

    /// The table above a survey, and its name with the column that says the row above.
    fn table_above(
        &mut self,
        id: TableId,
        def: &'a tree::SurveyDef,
        columns: &[ColumnSpec],
    ) -> (Option<TableId>, Option<(String, usize)>) {
        let Some((above, by)) = &def.parent else {
            return (None, None);
        };
        let parent = self.declared.tables.get(above.text.as_str()).copied();
        let Some(parent) = parent.filter(|t| *t != id) else {
            self.unknown("OV-209", "survey", above, Known::Surveys);
            return (None, None);
        };
        let column = columns.iter().position(|c| c.name == by.text);
        if column.is_none() {
            self.unknown(
                "OV-214",
                "column",
                by,
                Known::these(def.columns.iter().map(|c| c.name.text.as_str())),
            );
        }
        (Some(parent), column.map(|i| (above.text.clone(), i)))
    }

    /// A heading says which column it is of: two columns can't share one.
    fn refuse_shared_headings(&mut self, def: &'a tree::SurveyDef) {
        let mut seen: HashMap<String, &'a tree::Column> = HashMap::new();
        for column in &def.columns {
            let own = std::iter::once((column.name.text.as_str(), column.name.span));
            for (heading, span) in
                own.chain(column.headed.iter().map(|t| (t.text.as_str(), t.span)))
            {
                // As headings of a survey are compared: without blanks, capitals and signs at the end.
                let bare: String = heading
                    .chars()
                    .filter(|c| !c.is_whitespace() && *c != '_')
                    .flat_map(char::to_lowercase)
                    .collect();
                let Some(first) = seen
                    .insert(bare.trim_end_matches(['.', ':', '*']).to_string(), column)
                    .filter(|first| first.span != column.span)
                else {
                    continue;
                };
                if first.name.text == column.name.text {
                    continue;
                }
                self.problems.push(
                    Diagnostic::error(
                        "OV-201",
                        format!("the heading \"{heading}\" belongs to two columns"),
                    )
                    .at(span, format!("of `{}`", column.name.text))
                    .at(first.span, format!("of `{}` as well", first.name.text))
                    .mend("keep it with one of them"),
                );
            }
        }
    }

    /// The kind of value that a type says, and its choice. A choice written in place gets the name given here.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "statements of one kind are looked for; all others are read elsewhere"
    )]
    pub(super) fn kind_of_type(
        &mut self,
        pen: &Pen,
        name: &str,
        written: &'a ColumnType,
        whole: bool,
        quarters: bool,
    ) -> Checks<(ColumnKind, Option<ChoiceId>)> {
        Ok(match written {
            ColumnType::OneOf(labels) => {
                let id = self.new_choice(pen, name, labels)?;
                (ColumnKind::Choice(label_specs(labels)), Some(id))
            }
            ColumnType::Of(name) => {
                let Some(id) = self.declared.choices.get(name.text.as_str()).copied() else {
                    self.unknown("OV-210", "choice", name, Known::Choices);
                    return Err(Poisoned);
                };
                let labels = self.statements().find_map(|(_, s)| match &s.kind {
                    StatementKind::Choice { name: n, labels } if n.text == name.text => {
                        Some(labels)
                    }
                    _ => None,
                });
                (
                    ColumnKind::Choice(labels.map(|l| label_specs(l)).unwrap_or_default()),
                    Some(id),
                )
            }
            ColumnType::Text
            | ColumnType::Date
            | ColumnType::Lites
            | ColumnType::Moment
            | ColumnType::Temperature
            | ColumnType::YesNo
            | ColumnType::Percent
            | ColumnType::Number(_)
            | ColumnType::Measure(..)
            | ColumnType::Count(_) => (self.plain_kind(written, whole, quarters)?, None),
        })
    }

    /// The kind of values of a type that is no choice.
    pub(super) fn plain_kind(
        &mut self,
        written: &'a ColumnType,
        whole: bool,
        quarters: bool,
    ) -> Checks<ColumnKind> {
        let numeric = |dim: &Dim, unit: UnitExpr, whole, percent| ColumnKind::Number {
            dim: dim.clone(),
            unit,
            whole,
            percent,
            quarters,
            limits: None,
        };
        Ok(match written {
            ColumnType::Text => ColumnKind::Text,
            ColumnType::Date => ColumnKind::Date,
            ColumnType::Lites => ColumnKind::Lites,
            ColumnType::Moment => ColumnKind::Moment,
            ColumnType::Temperature => ColumnKind::Temperature,
            ColumnType::YesNo => ColumnKind::YesNo,
            ColumnType::Percent => {
                let unit = parse_unit("%", &self.program.nouns, None).map_err(|_| Poisoned)?;
                numeric(&Dim::NONE, unit, whole, true)
            }
            ColumnType::Number(None) => numeric(&Dim::NONE, UnitExpr::none(), whole, false),
            ColumnType::Number(Some(text)) => {
                let unit = self.unit(text)?;
                numeric(&unit.dim().clone(), unit, whole, false)
            }
            ColumnType::Measure(word, text) => {
                use crate::units::Base;
                let wanted = match word.text.as_str() {
                    "length" => Dim::length(1),
                    "area" => Dim::length(2),
                    "volume" => Dim::length(3),
                    "mass" => Dim::base(Base::Mass),
                    "labor" => Dim::base(Base::Labor),
                    "time" => Dim::base(Base::Time),
                    _ => Dim::base(Base::Money),
                };
                let unit = self.unit(text)?;
                if *unit.dim() != wanted {
                    let found = crate::units::describe(unit.dim(), &self.program.nouns);
                    return self.fail(
                        Diagnostic::error(
                            "OV-316",
                            format!("`{}` is not a unit of {}", text.text, word.text),
                        )
                        .at(text.span, "")
                        .found(found)
                        .expected(crate::units::describe(&wanted, &self.program.nouns)),
                    );
                }
                numeric(&wanted, unit, whole, false)
            }
            ColumnType::Count(noun) => match self.program.nouns.find(&noun.text) {
                Some(n) => numeric(&Dim::noun(n), UnitExpr::noun(n), true, false),
                None => {
                    self.unknown("OV-310", "counted noun", noun, Known::Nouns);
                    return Err(Poisoned);
                }
            },
            ColumnType::OneOf(_) | ColumnType::Of(_) => return Err(Poisoned),
        })
    }

    fn column_kind(
        &mut self,
        pen: &Pen,
        column: &'a tree::Column,
    ) -> Checks<(ColumnKind, Option<ChoiceId>)> {
        let (mut kind, choice) = self.kind_of_type(
            pen,
            &column.name.text,
            &column.kind,
            column.whole,
            column.quarters,
        )?;
        if let Some((low, high)) = &column.between {
            match &mut kind {
                ColumnKind::Number {
                    dim,
                    limits,
                    percent,
                    ..
                } => {
                    let dim = dim.clone();
                    let percent = *percent;
                    let low = self.signed_of(low, &dim, percent, "OV-316")?;
                    let high = self.signed_of(high, &dim, percent, "OV-316")?;
                    if low > high {
                        return self.fail(
                            Diagnostic::error("OV-316", "the lower limit is above the upper one")
                                .at(column.span, "")
                                .mend("change their order"),
                        );
                    }
                    *limits = Some(Limits { low, high });
                }
                ColumnKind::Text
                | ColumnKind::Lites
                | ColumnKind::YesNo
                | ColumnKind::Choice(_)
                | ColumnKind::Date
                | ColumnKind::Moment
                | ColumnKind::Temperature => {
                    return self.fail(
                        Diagnostic::error("OV-316", "only a number can have limits")
                            .at(column.span, ""),
                    );
                }
            }
        }
        if (column.whole || column.quarters || column.adds_up)
            && !matches!(kind, ColumnKind::Number { .. })
        {
            return self.fail(
                Diagnostic::error(
                    "OV-316",
                    "`whole`, `quarters` and `adds up` belong to numbers",
                )
                .at(column.span, ""),
            );
        }
        Ok((kind, choice))
    }

    /// What stands for a missing cell keeps to the limits that cells keep to.
    fn refuse_beyond(
        &mut self,
        (name, kind): (&str, &ColumnKind),
        value: &OnMissing,
        said: Option<&ColumnValue>,
        between: Option<&(tree::Signed, tree::Signed)>,
    ) {
        let (
            ColumnKind::Number { limits, unit, .. },
            OnMissing::Value(SchemaValue::Number(n)),
            Some(ColumnValue::Quantity(said)),
        ) = (kind, value, said)
        else {
            return;
        };
        let text = |v: &Exact| format_quantity(v, unit, &self.program.nouns, Style::default());
        let Some(limits) = limits else {
            if kind.is_below_zero(n) {
                let d = below_zero(name, said.span, text(n));
                self.problems.push(d);
            }
            return;
        };
        if limits.hold(n) {
            return;
        }
        let d = Diagnostic::error(
            "OV-316",
            "the value for a missing cell lies outside the column's own limits",
        )
        .at(said.span, "")
        .at(
            between.map_or(said.span, |(low, high)| low.span.to(high.span)),
            "the limits",
        )
        .found(text(n))
        .expected(format!(
            "between {} and {}",
            text(&limits.low),
            text(&limits.high)
        ));
        self.problems.push(d);
    }

    fn on_missing(
        &mut self,
        column: &'a tree::Column,
        kind: &ColumnKind,
        value: Option<&'a ColumnValue>,
        keeps: bool,
    ) -> OnMissing {
        let Some(value) = value else {
            return if keeps && !column.key {
                OnMissing::Keep
            } else {
                OnMissing::Refuse
            };
        };
        if keeps {
            self.problems.push(
                Diagnostic::error(
                    "OV-219",
                    "a cell that is missing has either a value or stays missing",
                )
                .at(column.span, "")
                .mend("keep `if ...` or keep `optional` / `may be n/a`"),
            );
        }
        let span = match value {
            ColumnValue::Quantity(s) => s.span,
            ColumnValue::Truth(_, s) => *s,
            ColumnValue::Text(t) => t.span,
            ColumnValue::Label(n) => n.span,
        };
        let found = match (kind, value) {
            (ColumnKind::Number { dim, percent, .. }, ColumnValue::Quantity(s)) => {
                return self
                    .signed_of(s, dim, *percent, "OV-316")
                    .map_or(OnMissing::Refuse, |v| {
                        OnMissing::Value(SchemaValue::Number(v))
                    });
            }
            (
                ColumnKind::Date | ColumnKind::Moment | ColumnKind::Temperature,
                ColumnValue::Quantity(s),
            ) => {
                let ty = Ty::Point(kind.scale().unwrap_or(Scale::Day));
                return self
                    .signed_like(s, &ty, "OV-316")
                    .map_or(OnMissing::Refuse, |v| {
                        OnMissing::Value(SchemaValue::Number(v))
                    });
            }
            (ColumnKind::YesNo, ColumnValue::Truth(b, _)) => {
                return OnMissing::Value(SchemaValue::YesNo(*b));
            }
            (ColumnKind::Text, ColumnValue::Text(t)) => {
                return OnMissing::Value(SchemaValue::Text(t.text.clone()));
            }
            (ColumnKind::Choice(labels), ColumnValue::Label(n)) => {
                match labels.iter().position(|l| l.label == n.text) {
                    Some(i) => {
                        return OnMissing::Value(SchemaValue::Choice(crate::ids::place(i)));
                    }
                    None => {
                        self.unknown(
                            "OV-211",
                            "label",
                            n,
                            Known::these(labels.iter().map(|l| l.label.as_str())),
                        );
                        return OnMissing::Refuse;
                    }
                }
            }
            (_, ColumnValue::Quantity(_)) => "a number",
            (_, ColumnValue::Truth(..)) => "yes or no",
            (_, ColumnValue::Text(_)) => "a text",
            (_, ColumnValue::Label(_)) => "a label",
        };
        self.problems.push(
            Diagnostic::error("OV-316", "this value does not fit its column")
                .at(span, "")
                .found(found)
                .expected(kind_words(kind, self)),
        );
        OnMissing::Refuse
    }
}

fn label_specs(labels: &[tree::LabelDef]) -> Vec<LabelSpec> {
    labels
        .iter()
        .map(|l| LabelSpec {
            label: l.name.text.clone(),
            spellings: l.spellings.clone(),
        })
        .collect()
}

fn kind_words(kind: &ColumnKind, checker: &Checker<'_>) -> String {
    match kind {
        ColumnKind::Text => "a text".into(),
        ColumnKind::Lites => "nothing: a lite pattern has no default".into(),
        ColumnKind::YesNo => "yes or no".into(),
        ColumnKind::Date => "a date, such as 2026-03-21".into(),
        ColumnKind::Moment => "a moment, such as 2026-03-21 16:00".into(),
        ColumnKind::Temperature => "a temperature, such as 70 °F".into(),
        ColumnKind::Choice(labels) => format!(
            "one of {}",
            labels
                .iter()
                .map(|l| l.label.as_str())
                .collect::<Vec<_>>()
                .join(", ")
        ),
        ColumnKind::Number { percent: true, .. } => "a percent".into(),
        ColumnKind::Number { dim, .. } => crate::units::describe(dim, &checker.program.nouns),
    }
}

impl Checker<'_> {
    /// What is wrong with a number for a cell: it lies outside the range of the column, or below zero where nothing allows that.
    pub(super) fn outside(
        &self,
        spec: &ColumnSpec,
        value: &Exact,
        said: Span,
    ) -> Option<Diagnostic> {
        let ColumnKind::Number { limits, unit, .. } = &spec.kind else {
            return None;
        };
        let text = |v| format_quantity(v, unit, &self.program.nouns, Style::default());
        let Some(limits) = limits else {
            return spec.kind.is_below_zero(value).then(|| {
                below_zero(&spec.name, said, text(value))
                    .at(spec.span, "no limits that reach below zero")
            });
        };
        if limits.hold(value) {
            return None;
        }
        let d = Diagnostic::error(
            "OV-317",
            format!("the value of `{}` does not lie in its own range", spec.name),
        )
        .at(said, "")
        .at(spec.span, "its range")
        .found(text(value))
        .expected(format!(
            "from {} to {}",
            text(&limits.low),
            text(&limits.high)
        ));
        Some(d)
    }
}

/// A number that nothing allows to be below zero: a cell, or an answer.
pub(super) fn below_zero(name: &str, said: Span, found: String) -> Diagnostic {
    Diagnostic::error("OV-737", format!("`{name}` is below zero"))
        .at(said, "")
        .found(found)
        .expected("zero or more")
        .mend("write it without its sign; if it can be below zero, give it limits that say so")
}
