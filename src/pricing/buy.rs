//! From what goes into the work to what is bought: waste or yield, then whole packs, rounded up once for the job.

use super::model::{Allowance, Packs};
use super::usage::Use;
use crate::number::{Exact, NumError, Rounding};
use crate::prices::{Pack, PriceBook};
use crate::program::{Program, ResourceDef};
use crate::syntax::tree::AllowanceKind;

/// Amounts of a resource in base units.
pub(super) struct Bought {
    /// With waste or yield.
    pub(super) needed: Exact,
    /// Needed for one that goes into the work: 1.35 for 35 % waste.
    pub(super) per_net: Exact,
    /// Waste or yield as stated.
    pub(super) allowance: Option<Allowance>,
    /// Whole packs.
    pub(super) packs: Option<Packs>,
    /// Packs times what one holds; needed where there are no packs.
    pub(super) bought: Exact,
}

/// Works one resource out.
pub(super) fn buy(
    program: &Program,
    book: &PriceBook,
    def: &ResourceDef,
    used: &Use,
) -> Result<Bought, NumError> {
    let per_net = match &def.allowance {
        None => Exact::ONE,
        Some((AllowanceKind::Waste, share, _)) => Exact::ONE.add(share)?,
        Some((AllowanceKind::Yield, share, _)) => Exact::ONE.div(share)?,
    };
    let needed = used.total.mul(&per_net)?;
    let allowance = def
        .allowance
        .as_ref()
        .map(|(kind, share, given)| Allowance {
            kind: *kind,
            share: share.clone(),
            given: given.clone(),
        });
    let stated = book
        .entry(used.resource)
        .and_then(|entry| entry.pack.clone())
        .or_else(|| {
            def.pack.as_ref().map(|(word, holds)| Pack {
                word: word.clone(),
                holds: holds.clone(),
            })
        });
    let noun = def.unit.dim().as_count();
    let (pack, stated) = match (stated, noun) {
        (Some(pack), _) => (Some(pack), true),
        // Nobody sells part of a counted thing.
        (None, Some(noun)) => (
            Some(Pack {
                word: program.nouns.plural_name(noun).to_owned(),
                holds: Exact::ONE,
            }),
            false,
        ),
        (None, None) => (None, true),
    };
    let Some(pack) = pack else {
        return Ok(Bought {
            bought: needed.clone(),
            needed,
            per_net,
            allowance,
            packs: None,
        });
    };
    let count = needed.steps(&pack.holds, Rounding::Up)?;
    let bought = count.mul(&pack.holds)?;
    let word = match noun.filter(|_| !stated) {
        Some(noun) => program.nouns.plural(noun, &count).to_owned(),
        None => pack.word_after(&count),
    };
    let packs = Packs {
        word,
        holds: def.unit.from_base(&pack.holds)?,
        count,
        stated,
    };
    Ok(Bought {
        needed,
        per_net,
        allowance,
        packs: Some(packs),
        bought,
    })
}
