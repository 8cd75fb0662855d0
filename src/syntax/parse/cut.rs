//! Lines of a `cut` block.

use super::super::lines::Item;
use super::super::tree::*;
use super::{Reader, Rule};

/// First words of lines in a `cut` block.
const CUT_WORDS: &[&str] = &[
    "unit", "crosscut", "rip", "end", "edge", "least", "keep", "buy", "on", "stages", "rounds",
    "seed", "may", "spares", "plan",
];

impl Reader<'_> {
    pub(super) fn cut_line(&mut self, item: &Item) -> Option<CutLine> {
        let span = item.span();
        let first = self.first_word(span);
        let (Item::Line(_), true) = (item, CUT_WORDS.contains(&first)) else {
            self.unknown_start(span, CUT_WORDS, "in a `cut` block");
            return None;
        };
        let line = self.read(Rule::cut_line, span)?.into_inner().next()?;
        let (rule, base) = (line.as_rule(), span.start);
        let (mut signed, mut table, mut text) = (None, None, None);
        let (mut quantities, mut digits, mut share) = (Vec::new(), None, None);
        for p in line.into_inner() {
            match p.as_rule() {
                Rule::signed => signed = self.signed(p, base),
                Rule::quantity => quantities.push(self.quantity(p, base)),
                // A number too long reads as the greatest there is, which the checker refuses.
                Rule::digits => digits = Some(p.as_str().parse().unwrap_or(u32::MAX)),
                Rule::percent => {
                    share = p.into_inner().next().map(|n| self.percent(&n, base));
                }
                Rule::name => table = Some(self.name(&p, base)),
                Rule::text => text = Some(self.text(&p, base)),
                _ => {}
            }
        }
        Some(match rule {
            Rule::cut_size => {
                let what = match first {
                    "unit" => CutSize::Unit,
                    "crosscut" => CutSize::Crosscut,
                    "rip" => CutSize::Rip,
                    "end" => CutSize::EndTrim,
                    "edge" => CutSize::EdgeTrim,
                    _ => CutSize::LeastStrip,
                };
                CutLine::Size(what, signed?, span)
            }
            Rule::cut_keep => CutLine::Keep(quantities, span),
            Rule::cut_buy => CutLine::Buy(quantities, span),
            Rule::cut_on_hand => CutLine::OnHand {
                table: table?,
                worth: signed?,
                span,
            },
            Rule::cut_count => {
                let what = match first {
                    "stages" => CutCount::Stages,
                    "rounds" => CutCount::Rounds,
                    _ => CutCount::Seed,
                };
                CutLine::Count(what, digits?, span)
            }
            Rule::cut_turn => CutLine::MayTurn(span),
            Rule::cut_spares => CutLine::Spares(share?, span),
            Rule::cut_plan => CutLine::Plan(text?),
            _ => return None,
        })
    }
}
