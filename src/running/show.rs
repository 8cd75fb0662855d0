//! Values of a run in words.

use crate::eval::{Cell, Results};
use crate::program::{NodeId, Piece, Program, Template, Ty};
use crate::table::Absence;
use crate::units::{Style, UnitExpr, default_unit, format_quantity, parse_unit};

/// A value as people say it: in `unit`, or in the usual unit of its kind. Missing values say why.
pub fn cell_text(program: &Program, node: NodeId, cell: &Cell, unit: Option<&UnitExpr>) -> String {
    match cell {
        Cell::Number(n) => {
            let usual;
            let unit = match unit {
                Some(u) => u,
                None => {
                    usual = usual_unit(program, node);
                    &usual
                }
            };
            format_quantity(n, unit, &program.nouns, Style::default())
        }
        Cell::Truth(true) => "yes".into(),
        Cell::Truth(false) => "no".into(),
        Cell::Label(l) => label_text(program, node, *l),
        Cell::Text(t) => t.clone(),
        Cell::Date(days) => date_text(*days),
        Cell::Absent(Absence::NotApplicable) => "n/a".into(),
        Cell::Absent(Absence::Unreadable) => "unreadable".into(),
        Cell::Absent(_) => "blank".into(),
        Cell::Fault(_) => "refused".into(),
    }
}

fn label_text(program: &Program, node: NodeId, label: u16) -> String {
    match &program.node(node).ty {
        Ty::Choice(c) => program.choices[usize::from(c.0)].labels.get(usize::from(label)).cloned().unwrap_or_default(),
        _ => label.to_string(),
    }
}

fn usual_unit(program: &Program, node: NodeId) -> UnitExpr {
    match &program.node(node).ty {
        Ty::Number(n) if n.percent => parse_unit("%", &program.nouns, None).unwrap_or_else(|_| UnitExpr::none()),
        Ty::Number(n) => default_unit(&n.dim, &program.nouns, program.currency.as_deref()),
        _ => UnitExpr::none(),
    }
}

/// `2026-05-14` of days since 1970-01-01 (proleptic Gregorian calendar).
fn date_text(days: i32) -> String {
    // Civil-from-days by eras of 400 years, with years that begin in March.
    let z = i64::from(days) + 719_468;
    let era = z.div_euclid(146_097);
    let day_of_era = z.rem_euclid(146_097);
    let year_of_era = (day_of_era - day_of_era / 1_460 + day_of_era / 36_524 - day_of_era / 146_096) / 365;
    let day_of_year = day_of_era - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let month_from_march = (5 * day_of_year + 2) / 153;
    let day = day_of_year - (153 * month_from_march + 2) / 5 + 1;
    let month = if month_from_march < 10 { month_from_march + 3 } else { month_from_march - 9 };
    let year = year_of_era + era * 400 + i64::from(month <= 2);
    format!("{year:04}-{month:02}-{day:02}")
}

/// A text with the values of a row put in.
pub fn template_text(program: &Program, template: &Template, results: &Results, row: usize) -> String {
    template
        .pieces
        .iter()
        .map(|p| match p {
            Piece::Text(t) => t.clone(),
            Piece::Value { node, unit } => cell_text(program, *node, &results.value(*node, row), unit.as_ref()),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::date_text;

    #[test]
    fn days_become_dates() {
        // ISO 8601 calendar; day 0 of the Unix epoch is 1970-01-01 (POSIX.1-2017, 4.16).
        assert_eq!(date_text(0), "1970-01-01");
        assert_eq!(date_text(59), "1970-03-01");
        assert_eq!(date_text(11_016), "2000-02-29");
        assert_eq!(date_text(-1), "1969-12-31");
    }
}
