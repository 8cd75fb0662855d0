//! The sheets of a new job.

use super::{WHOLE, library_line, wording};
use crate::check::Loaded;
use crate::diagnostics::CellPlace;
use crate::number::Exact;
use crate::prices::{PriceBook, PriceEntry};
use crate::program::{Program, ResourceClass};
use crate::study::Ranked;
use crate::syntax::tree::{Asked, ColumnType, Given, GivenValue, Remarks, StatementKind};
use crate::table::{ColumnKind, OnMissing};

/// Paces that are offered.
const MOST_PACES: usize = 16;
/// Longest line of a comment, in signs.
const WIDE: usize = 110;

/// What a new job is made from.
pub(super) struct New<'a> {
    pub(super) title: &'a str,
    pub(super) issued: Option<&'a str>,
    pub(super) loaded: &'a Loaded,
    pub(super) program: &'a Program,
}

impl New<'_> {
    /// The job sheet.
    pub(super) fn job(&self) -> String {
        let mut out = format!(
            "# Answer site.ovo, fill in survey.xlsx and prices.csv, then: ovolo survey job.ovo; ovolo estimate job.ovo\n\n\
             sheet \"{}\" layer job\nuse \"shop.ovo\"\nuse \"site.ovo\"\n\njob {{\n",
            self.title.replace('"', "'")
        );
        for id in self.program.tables.ids() {
            let name = &self.program.tables[id].schema.name;
            let tab = wording::tab(self.program, id);
            out += &format!("  survey {name} from \"survey.xlsx\" tab \"{tab}\"\n");
        }
        out += "  prices from \"prices.csv\"\n";
        out += &match self.issued {
            Some(day) => format!("  issued {day}\n"),
            None => "  # issued 2026-03-21\n".to_owned(),
        };
        out += "  money USD\n  ties half up\n";
        if let Some(wing) = self.wing() {
            out += &format!("  split by {wing}\n");
        }
        out += &format!("  {}\n}}\n\n", library_line());
        out + "# Charges on the cost are yours to state, such as:\n\
             # charge overhead    12 % of labor, materials\n\
             # charge profit      10 % mark-up on all so far\n"
    }

    /// The first text column that every opening has: what reports are split by.
    fn wing(&self) -> Option<&str> {
        let table = self.program.main_table()?;
        let columns = &self.program.tables[table].schema.columns;
        let wing = columns
            .iter()
            .find(|c| !c.is_key && c.kind == ColumnKind::Text && c.blank == OnMissing::Refuse);
        wing.map(|c| c.name.as_str())
    }

    fn givens(&self) -> impl Iterator<Item = &Given> {
        let statements = self.loaded.sheets.iter().flat_map(|s| &s.tree.statements);
        statements.filter_map(|s| {
            let StatementKind::Given(given) = &s.kind else {
                return None;
            };
            Some(given)
        })
    }

    /// The sheet of facts: a line for each that is asked.
    pub(super) fn site(&self) -> String {
        let mut out = format!(
            "# Facts that the sheets ask for. Take the # off a line, and write the answer, who gave it and when.\n\
             # An estimate says on its face what nobody has answered.\n\n\
             sheet \"Facts of the building, the owner and the bid\" layer job\nuse \"{WHOLE}\"\n"
        );
        for given in self.givens() {
            let GivenValue::Asked(asked) = &given.value else {
                continue;
            };
            let name = &given.name.text;
            let kind = self.kind(given, asked);
            out += "\n";
            let about = [Some(format!("{name}: {kind}")), about(&given.remarks)];
            out += &comment(&about.into_iter().flatten().collect::<Vec<_>>().join("; "));
            out += &comment(&match &asked.unanswered {
                Some((_, because)) => format!("until it is answered: {}", because.text),
                None => "until it is answered, nothing runs".to_owned(),
            });
            out += &format!("# change {name} to ... because \"...\" by \"...\" on 2026-03-21\n");
        }
        out
    }

    /// What an answer may be.
    fn kind(&self, given: &Given, asked: &Asked) -> String {
        let slice = |span| self.loaded.sources.slice(span);
        let labels = |labels: &[String]| format!("one of {}", labels.join(", "));
        let kind = match &asked.kind {
            ColumnType::Text => "a text in quotes".to_owned(),
            ColumnType::Percent => "a percent, such as 5 %".to_owned(),
            ColumnType::Date => "a day, such as 2026-03-21".to_owned(),
            ColumnType::Moment => "a day and an hour, such as 2026-03-21T14:30".to_owned(),
            ColumnType::Temperature => "a temperature".to_owned(),
            ColumnType::Lites => "lites of a sash, such as 6/1".to_owned(),
            ColumnType::YesNo => "yes or no".to_owned(),
            ColumnType::Number(None) => "a number".to_owned(),
            ColumnType::Number(Some(unit)) | ColumnType::Measure(_, unit) => {
                format!("a number with its unit, such as 1 {}", unit.text)
            }
            ColumnType::Count(noun) => format!("a number of them, such as 1 {}", noun.text),
            ColumnType::OneOf(list) => {
                labels(&list.iter().map(|l| l.name.text.clone()).collect::<Vec<_>>())
            }
            ColumnType::Of(name) => {
                let mut choices = self.program.choices.iter();
                let choice = choices.find(|c| c.name == name.text);
                labels(choice.map_or(&[][..], |c| &c.labels))
            }
        };
        match &given.range {
            Some((low, high)) => {
                format!("{kind}, from {} to {}", slice(low.span), slice(high.span))
            }
            None => kind,
        }
    }

    /// The shop's sheet: the paces that move the hours most.
    pub(super) fn shop(&self, ranked: &[Ranked]) -> String {
        let mut out = format!(
            "# What this shop knows better than the library. These figures move the hours of the form's example most,\n\
             # the first one most of all. Take the # off a line and write what your own log says.\n\n\
             sheet \"Own log of the shop\" layer shop\nuse \"{WHOLE}\"\n"
        );
        let unsure = ranked.iter().filter_map(|r| {
            let given = self.givens().find(|g| g.name.text == r.subject.name)?;
            let moves = r.effect.is_some_and(|e| e > 0);
            moves.then_some((r, given))
        });
        for (r, given) in unsure.take(MOST_PACES) {
            let GivenValue::Quantity(value) = &given.value else {
                continue;
            };
            let name = &given.name.text;
            let was = self.loaded.sources.slice(value.span);
            let [low, high] = [&r.ends.0, &r.ends.1].map(|v| r.subject.text(self.program, v));
            out += "\n";
            out += &comment(&format!(
                "{name}: from {low} to {high}; {}",
                about(&given.remarks).unwrap_or_default()
            ));
            out += &format!("# change {name} to {was} because \"own log\" was {was}\n");
        }
        out
    }
}

/// Note and source in one line.
fn about(remarks: &Remarks) -> Option<String> {
    let said: Vec<&str> = [&remarks.note, &remarks.source]
        .into_iter()
        .flatten()
        .map(String::as_str)
        .collect();
    (!said.is_empty()).then(|| said.join("; "))
}

/// Lines of a comment.
fn comment(text: &str) -> String {
    let mut lines = vec![String::from("#")];
    for word in text.split_whitespace() {
        let long = lines.last().map_or(0, |l| l.chars().count()) + word.chars().count() + 1;
        if long > WIDE {
            lines.push(String::from("#  "));
        }
        if let Some(line) = lines.last_mut() {
            line.push(' ');
            line.push_str(word);
        }
    }
    lines.join("\n") + "\n"
}

/// Prices by which the total of a job is its hours: an hour of labor, 60 base units, costs 1, and everything else nothing.
pub(super) fn an_hour_costs_one(program: &Program) -> PriceBook {
    let mut book = PriceBook::default();
    let Some(version) = program.versions.first() else {
        return book;
    };
    for id in version.resources.ids() {
        let labor = version.resources[id].class == ResourceClass::Labor;
        let per_base = if labor {
            Exact::ratio(1, 60).unwrap_or_default()
        } else {
            Exact::ZERO
        };
        book.entries.push(PriceEntry {
            resource: id,
            price: Default::default(), // as written: nobody wrote one
            unit: String::new(),
            per_base,
            pack: None,
            supplier: None,
            source: None,
            date: None,
            day: None,
            note: None,
            spec: None,
            varies: None,
            place: CellPlace {
                file: String::new(),
                tab: None,
                row: 0,
                column: None,
                heading: None,
            },
        });
    }
    book
}
