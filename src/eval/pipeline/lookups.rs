//! Lookup tables made ready for a run.

use super::*;

impl Run<'_> {
    pub(super) fn prepare_lookup(
        &self,
        node: NodeId,
        table: LookupId,
        column: u16,
        keys: &[NodeId],
        interpolated: bool,
    ) -> Option<Prepared> {
        let table = self.program.lookups.get(table)?;
        let column = table.values.get(usize::from(column))?;
        let finders: Vec<_> = keys
            .iter()
            .map(|key| move |text: &str| self.classes.number_of(*key, text))
            .collect();
        let texts: Vec<KeyTexts<'_>> = keys
            .iter()
            .zip(&finders)
            .map(|(key, find)| match &self.program.node(*key).ty {
                Ty::Number(_) | Ty::Point(_) => KeyTexts::Numbers,
                Ty::Truth => KeyTexts::Truths,
                Ty::Choice(choice) => {
                    KeyTexts::Labels(self.program.choices.get(*choice).map_or(&[], |c| &c.labels))
                }
                Ty::Text => KeyTexts::Texts(self.classes.len(*key), find),
            })
            .collect();
        let named = |texts: &[String]| -> Vec<u16> {
            let labels = match &self.program.node(node).ty {
                Ty::Choice(choice) => self.program.choices.get(*choice).map(|c| &c.labels),
                Ty::Number(_) | Ty::Truth | Ty::Text | Ty::Point(_) => None,
            };
            let index = |text: &String| {
                labels.and_then(|labels| labels.iter().position(|label| label == text))
            };
            texts
                .iter()
                // The checker knows every label; one unknown would be none, and not the first.
                .map(|text| index(text).map_or(u16::MAX, crate::ids::place))
                .collect()
        };
        let values = match &self.program.node(node).ty {
            Ty::Number(_) | Ty::Point(_) => LookedUp::Numbers(column.numbers.clone()),
            Ty::Choice(_) => LookedUp::Labels(named(&column.texts)),
            Ty::Truth => LookedUp::Truths(column.texts.iter().map(|text| text == "yes").collect()),
            Ty::Text => {
                let number = |text: &String| self.classes.number_of(node, text).unwrap_or(0);
                LookedUp::Texts(column.texts.iter().map(number).collect())
            }
        };
        Some(Prepared::new(table, &texts, values, interpolated))
    }
}
