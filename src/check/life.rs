//! Costs over the years: the terms of the study, and the later costs of each version.

use super::typed::*;
use crate::diagnostics::{Diagnostic, Span};
use crate::program::{
    AS_DECIDED, Grain, LifeAmountDef, LifeCostDef, MOST_YEARS, Rate, Ty, Version,
};
use crate::syntax::tree::{LifeAmount, LifeLine, LifeRate, LifeWhen, StatementKind, Text};
use crate::units::{Base, Dim};

impl<'a> Checker<'a> {
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "statements of one kind are looked for; all others are read elsewhere"
    )]
    fn life_blocks(&self) -> Vec<(Option<&'a Text>, &'a [LifeLine])> {
        let loaded: &'a super::Loaded = self.loaded;
        let statements = loaded.sheets.iter().flat_map(|s| s.tree.statements.iter());
        statements
            .filter_map(|st| match &st.kind {
                StatementKind::Life { of, lines } => Some((of.as_ref(), lines.as_slice())),
                _ => None,
            })
            .collect()
    }

    /// Reads the terms of the study, once for the job.
    pub(super) fn life_terms(&mut self) {
        let mut first: [Option<Span>; 4] = [None; 4];
        for (of, lines) in self.life_blocks() {
            if let Some(name) = of
                && name.text != AS_DECIDED
                && !self
                    .declared
                    .alternates
                    .iter()
                    .any(|a| a.name.text == name.text)
            {
                let mut known: Vec<String> = self
                    .declared
                    .alternates
                    .iter()
                    .map(|a| format!("\"{}\"", a.name.text))
                    .collect();
                known.push(format!("\"{AS_DECIDED}\""));
                let d =
                    Diagnostic::error("OV-633", format!("there is no alternate \"{}\"", name.text))
                        .at(name.span, "")
                        .expected(known.join(", "));
                self.problems.push(d);
            }
            for line in lines {
                let (what, span) = match line {
                    LifeLine::Study { span, .. } => (0, *span),
                    LifeLine::Rate { what, span, .. } => {
                        let place = match what {
                            LifeRate::Discount => 1,
                            LifeRate::Escalation => 2,
                            LifeRate::Inflation => 3,
                        };
                        (place, *span)
                    }
                    LifeLine::Cost { .. } => continue,
                };
                if of.is_some() {
                    self.problems.push(
                        Diagnostic::error(
                            "OV-632",
                            "the plans are compared over the same years at the same rates",
                        )
                        .at(span, "")
                        .mend("move the line to the `life` block without an alternate"),
                    );
                    continue;
                }
                if let Some(earlier) = first.get_mut(what).and_then(|f| f.replace(span)) {
                    self.problems.push(
                        Diagnostic::error("OV-632", "this is given twice")
                            .at(span, "the second")
                            .at(earlier, "the first")
                            .mend("keep one of them"),
                    );
                }
                self.life_term(line);
            }
        }
        // The length of the study is no rate.
        self.rates_agree(first.into_iter().skip(1).flatten().collect());
    }

    fn life_term(&mut self, line: &LifeLine) {
        match line {
            LifeLine::Study { years, span } => {
                if self.years_fit(*years, *span) {
                    self.program.terms.life.years = Some(*years);
                }
            }
            LifeLine::Rate {
                what: LifeRate::Inflation,
                rate,
                kind,
                span,
            } => {
                if kind.is_some() {
                    self.problems.push(
                        Diagnostic::error("OV-630", "inflation is neither real nor nominal: it is what lies between the two")
                            .at(*span, "")
                            .mend("leave the word out"),
                    );
                }
                self.program.terms.life.inflation = Some(rate.clone());
            }
            LifeLine::Rate {
                what,
                rate,
                kind,
                span,
            } => {
                let Some(kind) = kind else {
                    self.problems.push(
                        Diagnostic::error("OV-630", "this rate does not say whether inflation is in it")
                            .at(*span, "")
                            .expected("`real` (inflation left out) or `nominal` (inflation in it) after the percent"),
                    );
                    return;
                };
                let rate = Some(Rate {
                    share: rate.clone(),
                    kind: *kind,
                });
                match what {
                    LifeRate::Discount => self.program.terms.life.discount = rate,
                    LifeRate::Escalation | LifeRate::Inflation => {
                        self.program.terms.life.escalation = rate
                    }
                }
            }
            LifeLine::Cost { .. } => {}
        }
    }

    fn years_fit(&mut self, years: u32, span: Span) -> bool {
        let fits = (1..=MOST_YEARS).contains(&years);
        if !fits {
            self.problems.push(
                Diagnostic::error("OV-632", "no study runs so long")
                    .at(span, "")
                    .expected(format!("1 to {MOST_YEARS} years")),
            );
        }
        fits
    }

    fn rates_agree(&mut self, at: Vec<Span>) {
        let life = &self.program.terms.life;
        let Some(discount) = &life.discount else {
            return;
        };
        if life
            .in_kind(discount.kind, life.escalation.as_ref())
            .is_err()
        {
            let mut d = mixed_rates();
            for span in at {
                d = d.at(span, "");
            }
            self.problems.push(d);
        }
    }

    /// The later costs of a version.
    pub(super) fn life_of(&mut self, version: &mut Version) {
        let own = version
            .name
            .clone()
            .unwrap_or_else(|| AS_DECIDED.to_owned());
        for (of, lines) in self.life_blocks() {
            if of.is_some_and(|name| name.text != own) {
                continue;
            }
            for line in lines {
                if let LifeLine::Cost {
                    kind,
                    name,
                    amount,
                    when,
                    rising,
                    remarks,
                    span,
                } = line
                {
                    let Ok(amount) = self.life_amount(amount) else {
                        continue;
                    };
                    let years = match when {
                        LifeWhen::Every(n) | LifeWhen::After(n) => *n,
                        LifeWhen::EachYear | LifeWhen::End => 1,
                    };
                    if !self.years_fit(years, *span) {
                        continue;
                    }
                    if *when == LifeWhen::Every(1) {
                        self.problems.push(
                            Diagnostic::error(
                                "OV-632",
                                "every 1 year could end with the last year or before it",
                            )
                            .at(*span, "")
                            .mend("write `each year`, which counts the last year too"),
                        );
                    }
                    let rising = rising.as_ref().map(|(share, kind)| Rate {
                        share: share.clone(),
                        kind: *kind,
                    });
                    let life = &self.program.terms.life;
                    if let (Some(discount), Some(rate)) = (&life.discount, &rising)
                        && life.in_kind(discount.kind, Some(rate)).is_err()
                    {
                        self.problems.push(mixed_rates().at(*span, ""));
                    }
                    version.life.push(LifeCostDef {
                        name: name.text.clone(),
                        kind: *kind,
                        amount,
                        when: *when,
                        rising,
                        source: remarks.source.clone(),
                        note: remarks.note.clone(),
                        span: *span,
                    });
                }
            }
        }
    }

    fn life_amount(&mut self, amount: &'a LifeAmount) -> Checks<LifeAmountDef> {
        let e = match amount {
            LifeAmount::Share(share) => return Ok(LifeAmountDef::Share(share.clone())),
            LifeAmount::Sum(e) => e,
        };
        let t = self.settled(e, &Context::at(Grain::Job), None)?;
        match self.ty(&t).clone() {
            Ty::Number(n) if n.dim == Dim::base(Base::Money) => Ok(LifeAmountDef::Node(t.node)),
            other @ (Ty::Number(_) | Ty::Truth | Ty::Choice(_) | Ty::Text | Ty::Point(_)) => {
                let found = self.words(&other);
                self.fail(
                    Diagnostic::error("OV-631", "a cost over the years is an amount of money")
                        .at(e.span, found.clone())
                        .found(found)
                        .expected(
                            "money in today's prices, or a share such as `20 % of first cost`",
                        ),
                )
            }
        }
    }
}

/// Real and nominal rates side by side.
fn mixed_rates() -> Diagnostic {
    Diagnostic::error("OV-630", "real and nominal rates are mixed")
        .expected("a discount and rises of prices that are all real, or all nominal")
        .mend(
            "state them in one kind, or add `inflation P %`, by which one is turned into the other",
        )
        .note("a nominal discount needs a nominal escalation: prices of today do not stay the same")
}
