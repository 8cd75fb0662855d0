//! What every output says on its face: rows that are in no figure, and facts assumed because nobody has answered them.

use serde_json::{Value, json};

use super::words::some_marks;
use crate::pricing::{AssumedFact, Estimate};
use crate::takeoff::SetAside;

/// Marks named before the rest is counted.
const MOST_MARKS: usize = 6;

/// Resources without a price named before the rest is counted.
const MOST_NAMES: usize = 12;

/// The face of an output.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Face {
    /// Rows of the survey that were set aside.
    pub aside: Vec<SetAside>,
    /// Facts that the job does not answer.
    pub assumed: Vec<AssumedFact>,
    /// For amounts without money, what has no price.
    pub unpriced: Option<Vec<String>>,
}

impl Face {
    /// The face of an estimate.
    pub fn of(estimate: &Estimate) -> Face {
        Face {
            aside: estimate.facts.survey.set_aside.clone(),
            assumed: estimate.assumptions.unanswered.clone(),
            unpriced: estimate.unpriced.clone(),
        }
    }

    /// One sentence for each matter, where there is any: `1 row was set aside and is in no figure below: N5.`
    pub fn lines(&self) -> Vec<String> {
        let mut lines = Vec::new();
        let marks: Vec<String> = self.aside.iter().map(|s| s.mark.clone()).collect();
        let list = some_marks(&marks, marks.len(), MOST_MARKS);
        match marks.len() {
            0 => {}
            1 => lines.push(format!(
                "1 row was set aside and is in no figure below: {list}."
            )),
            n => lines.push(format!(
                "{n} rows were set aside and are in no figure below: {list}."
            )),
        }
        let facts: Vec<String> = self.assumed.iter().map(AssumedFact::text).collect();
        match facts.len() {
            0 => {}
            1 => lines.push(format!(
                "1 fact is not answered, and these figures assume: {}.",
                facts.join("")
            )),
            n => lines.push(format!(
                "{n} facts are not answered, and these figures assume: {}.",
                facts.join("; ")
            )),
        }
        match self.unpriced.as_deref() {
            None => {}
            Some([]) => lines.push("Quantities only: no money is calculated.".to_owned()),
            Some(names) => lines.push(format!(
                "Quantities only: no money is calculated. Resources that need a price: {}.",
                some_marks(names, names.len(), MOST_NAMES)
            )),
        }
        lines
    }

    /// The same as lines above a report; nothing where there is nothing to say.
    pub fn head(&self) -> String {
        self.lines().iter().map(|l| format!("{l}\n")).collect()
    }

    /// Columns that a table without a head carries on every record: heading and value.
    pub(super) fn columns(&self) -> Vec<(&'static str, String)> {
        let mut columns = Vec::new();
        if !self.aside.is_empty() {
            columns.push(("rows set aside", self.aside.len().to_string()));
        }
        if !self.assumed.is_empty() {
            let facts: Vec<String> = self.assumed.iter().map(AssumedFact::value_text).collect();
            columns.push(("facts assumed", facts.join("; ")));
        }
        if let Some(names) = self.unpriced.as_ref().filter(|names| !names.is_empty()) {
            columns.push(("without a price", names.join("; ")));
        }
        columns
    }

    /// Puts the fields `set_aside` and `facts_assumed` into a JSON object.
    pub fn add_to(&self, value: &mut Value) {
        value["set_aside"] = set_aside(&self.aside);
        value["facts_assumed"] = facts(&self.assumed);
    }
}

/// Rows of the survey that are in no figure, as JSON.
pub(super) fn set_aside(rows: &[SetAside]) -> Value {
    rows.iter()
        .map(|s| json!({"mark": s.mark, "cause": s.cause}))
        .collect()
}

/// Facts that are assumed, as JSON.
pub(super) fn facts(assumed: &[AssumedFact]) -> Value {
    assumed
        .iter()
        .map(|f| json!({"name": f.name, "value": f.value, "because": f.because}))
        .collect()
}
