//! The tree behind a number, as plain data. Must not know how it was found or how it is drawn.

use crate::diagnostics::Place;
use crate::number::{Exact, NumError};

/// What a node of the tree stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum What {
    Column,
    Given,
    Rule,
    Decision,
    /// A rounding inside a rule.
    Rounding,
    /// The branch of an `if`, `choose` or `if blank` that was taken.
    Branch,
    /// A value looked up in a table.
    Lookup,
    /// A helper or a built-in function.
    Call,
    /// A value brought up from rows below.
    Gathered,
    /// A coarser amount shared out.
    Share,
    /// A row, group or line that is part of a sum.
    Part,
    /// All parts of a sum that are not shown one by one.
    Rest,
    Resource,
    Take,
    /// Amounts on the way from net to bought.
    Quantity,
    Price,
    CostLine,
    Phase,
    Charge,
    Total,
}

impl What {
    /// Its word, as in JSON.
    pub fn word(self) -> &'static str {
        match self {
            What::Column => "column",
            What::Given => "given",
            What::Rule => "rule",
            What::Decision => "decision",
            What::Rounding => "rounding",
            What::Branch => "branch",
            What::Lookup => "lookup",
            What::Call => "call",
            What::Gathered => "gathered",
            What::Share => "share",
            What::Part => "part",
            What::Rest => "rest",
            What::Resource => "resource",
            What::Take => "take",
            What::Quantity => "quantity",
            What::Price => "price",
            What::CostLine => "cost line",
            What::Phase => "phase",
            What::Charge => "charge",
            What::Total => "total",
        }
    }
}

/// A value with what it was made from.
#[derive(Debug, Clone)]
pub struct Tree {
    /// What it stands for.
    pub what: What,
    /// Its name, or what was done: `lite_w`, `rounded down to 1/16 in`.
    pub name: String,
    /// The mark of its row or the key of its group; none for what is one for the job.
    pub at: Option<String>,
    /// The value with its unit, as text; empty where there is none to show.
    pub text: String,
    /// The value: base units for a quantity, currency for money; none for what is no number, unknown or failed.
    pub number: Option<Exact>,
    /// The text of the rule, blanks squeezed and comments left out.
    pub rule: Option<String>,
    /// Where the rule or the cell is.
    pub place: Option<Place>,
    /// Further facts: a word and what it says.
    pub facts: Vec<(&'static str, String)>,
    /// Parts that add up to the value, the largest first; the rest of them last.
    pub addends: Vec<Tree>,
    /// What it is calculated from.
    pub from: Vec<Tree>,
    /// Whether more lies below than the depth asked for.
    pub deeper: bool,
    /// Whether it is in full elsewhere in the same tree.
    pub elsewhere: bool,
}

impl Tree {
    /// A node without a value.
    pub(super) fn new(what: What, name: impl Into<String>) -> Tree {
        Tree {
            what,
            name: name.into(),
            at: None,
            text: String::new(),
            number: None,
            rule: None,
            place: None,
            facts: Vec::new(),
            addends: Vec::new(),
            from: Vec::new(),
            deeper: false,
            elsewhere: false,
        }
    }

    pub(super) fn valued(mut self, text: impl Into<String>, number: Option<Exact>) -> Tree {
        self.text = text.into();
        self.number = number;
        self
    }

    pub(super) fn fact(&mut self, word: &'static str, text: impl Into<String>) {
        let text = text.into();
        if !text.is_empty() {
            self.facts.push((word, text));
        }
    }

    /// What the addends come to; none where there are none, or one of them is no number.
    /// Errors: [`NumError::TooManyDigits`].
    pub fn sum_of_addends(&self) -> Result<Option<Exact>, NumError> {
        if self.addends.is_empty() {
            return Ok(None);
        }
        let mut sum = Exact::ZERO;
        for part in &self.addends {
            let Some(number) = &part.number else {
                return Ok(None);
            };
            sum = sum.add(number)?;
        }
        Ok(Some(sum))
    }
}
