//! The first article of a revision: which one waits for the owner's approval, and the approval itself.
//!
//! May live here: finding it and writing the approval down. May not: what may not be done before it; that is `floor`.

use super::acts::Said;
use super::foreman::{Foreman, Source, refused};
use crate::floor::sheet::Approval;
use crate::floor::{By, Happening, Refusal};
use crate::ledger::State as Fold;
use chargehand_types::event::What;
use chargehand_types::id::{CardName, Revision, SheetId};
use chargehand_types::now::ToApprove;
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::stage::Role;

/// The approval of a revision's first article, as the floor needs it. One that was never cut good has none yet.
pub fn approval(fold: &Fold, card: &CardName, revision: &Revision) -> Approval {
    if fold.approved(card, revision).is_some() { Approval::Given } else { Approval::Awaited }
}

impl Foreman {
    /// The first article to approve: of the sheet on the machine, of the next one, or else of any that waits.
    pub(in crate::app) fn to_approve(&self) -> Option<ToApprove> {
        let fold = self.shared.fold.read().ok()?;
        let next = self.shared.next_sheet(&fold);
        let on = fold.on_machine().into_iter().chain(next.iter().filter_map(|id| fold.sheet(id)));
        let waiting = fold.waiting();
        let first = on.chain(waiting).find_map(|s| fold.to_approve(&s.card, &s.revision))?;
        let revision = fold.card(&first.card)?.revision(&first.revision)?.number;
        Some(ToApprove { sheet: first.id.clone(), card: first.card.clone(), revision })
    }

    /// The owner approves a first article.
    pub(in crate::app) async fn approve_article(
        &mut self,
        by: By,
        sheet: &SheetId,
        source: &Source,
    ) -> Result<Said, Problem> {
        owner(by).map_err(refused)?;
        let found = {
            let fold = self.shared.fold.read().map_err(|_| Problem::new(ProblemKind::OurFault, "the state is gone"))?;
            let known = fold.sheet(sheet);
            let (card, revision) = known.map(|s| (s.card.clone(), s.revision.clone())).unzip();
            let first = card.as_ref().zip(revision.as_ref()).and_then(|(c, r)| fold.to_approve(c, r));
            card.zip(revision).zip(first.map(|s| s.id.clone()))
        };
        let Some(((card, revision), first)) = found.filter(|(_, first)| first == sheet) else {
            let text = format!(
                "{sheet} is no first article that waits for approval: it is the first good sheet of a revision."
            );
            return Err(Problem::new(ProblemKind::NotNow, text));
        };
        let what = What::ArticleApproved { card: card.clone(), revision: revision.clone() };
        self.tell_of(&first, vec![what], source).await?;
        self.version.0 += 1;
        if self.work.as_ref().is_some_and(|w| w.judged.card.name == card && *w.judged.revision() == revision) {
            self.happen(Happening::ArticleApproved, source.clone(), Vec::new()).await?;
        }
        Ok(Said::of(format!("The first article of `{card}` is approved: {first}.")))
    }
}

/// Only the owner approves.
pub(in crate::app) const fn owner(by: By) -> Result<(), Refusal> {
    match by {
        By::AtMachine(Role::Owner) => Ok(()),
        By::AtMachine(Role::Helper) => Err(Refusal::OwnerApproves),
        By::AtMachineNobody => Err(Refusal::NobodyHere),
        By::Afar => Err(Refusal::FromAfar),
    }
}
