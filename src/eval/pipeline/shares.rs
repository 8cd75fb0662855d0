//! Amounts shared out over rows: in each stretch of a pass, or over all rows at once where they are handed out in whole steps.

use super::Run;
use crate::eval::RunError;
use crate::eval::chunk::Piece;
use crate::eval::column::Column;
use crate::eval::rollup::Accounts;
use crate::eval::schedule::other_grain;
use crate::eval::share::{share, share_in_steps};
use crate::program::{Grain, Kind, NodeId};

impl Run<'_> {
    pub(super) fn share(
        &self,
        node: NodeId,
        whole: NodeId,
        operands: &[&Piece<'_>],
        grain: Grain,
        index: usize,
        len: usize,
    ) -> Result<Piece<'static>, RunError> {
        let lost = RunError::Unrelated(node);
        let weight = operands.first().ok_or(lost.clone())?;
        let sums = self.sums.get(&node).ok_or(lost.clone())?;
        let to = other_grain(self.program, node);
        let map = self.map(grain, to, node)?;
        let accounts = Accounts::new(&map, index, len, self.grains.rows(to));
        let at = self.at(node, len);
        match self.constants.get(&whole) {
            Some(whole) => Ok(share(at, whole, sums.whole(), weight, &accounts)),
            None => Ok(share(
                at,
                self.kept.get(&whole).ok_or(lost)?.whole(),
                sums.whole(),
                weight,
                &accounts,
            )),
        }
    }

    pub(super) fn in_steps(&self, node: NodeId) -> Result<Column, RunError> {
        let Kind::Share {
            whole,
            weight,
            step: Some(step),
        } = self.kind(node)
        else {
            return Err(RunError::Unrelated(node));
        };
        let whole_of = |id: &NodeId| match self.constants.get(id) {
            Some(piece) => Some(piece),
            None => self.kept.get(id).map(|column| column.whole()),
        };
        let lost = RunError::Unrelated(node);
        let (whole, weight) = (
            whole_of(whole).ok_or(lost.clone())?,
            whole_of(weight).ok_or(lost.clone())?,
        );
        let sums = self.sums.get(&node).ok_or(lost)?;
        let (grain, to) = (
            self.program.node(node).grain,
            other_grain(self.program, node),
        );
        let map = self.map(grain, to, node)?;
        let len = self.grains.rows(grain);
        let piece = share_in_steps(
            self.at(node, len),
            whole,
            sums.whole(),
            weight,
            (&map, self.grains.rows(to)),
            step,
        );
        Ok(Column::of_whole(len, &piece))
    }
}
