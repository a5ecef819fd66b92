//! How the parts of a sheet came out, one by one.
//!
//! May live here: taking the grades down. May not: what a grade means for the sheet (`ledger`), or when it is closed (`floor`).

use super::acts::{Done, Said};
use super::foreman::{Foreman, Source, refused};
use crate::floor::{Asked, By, Happening, Refusal};
use chargehand_types::checklist::{Ask, ListKind, StepAnswer};
use chargehand_types::event::What;
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::stage::{Grade, Reason};

impl Foreman {
    /// A part is graded; the last one closes the sheet.
    ///
    /// # Errors
    /// When no part is asked for now, or nobody is at the machine.
    pub(super) async fn grade_part(
        &mut self,
        by: By,
        what: (u32, Grade, Option<Reason>, Option<String>),
        source: &Source,
    ) -> Done {
        let (index, grade, reason, note) = what;
        let Some(task) = self.task().filter(|t| t.list == ListKind::Checking) else {
            return Err(refused(Refusal::OtherStage));
        };
        if !matches!(by, By::AtMachine(_)) {
            return Err(refused(Refusal::NobodyHere));
        }
        let Ask::Parts { names, .. } = &task.step.ask else {
            return Err(refused(Refusal::OtherStage));
        };
        let Some(name) = names.get(index as usize) else {
            return Err(Problem::new(ProblemKind::NotFound, format!("The card has {} parts.", names.len())));
        };
        let name = name.clone();
        let graded = What::PartChecked { index, name: name.clone(), grade, reason, note };
        self.tell(vec![graded], source).await?;
        self.version.0 += 1;
        let all = self.task().is_some_and(|t| match t.step.ask {
            Ask::Parts { names, graded } => graded.len() >= names.len(),
            _ => false,
        });
        if !all {
            return Ok(Said::of(format!("{name}: noted.")));
        }
        self.parts_graded(by, source).await?;
        self.taken(by, &task, StepAnswer::Done, Vec::new(), source).await?;
        Ok(Said::of("Every part is graded. The sheet is closed."))
    }

    /// Every part of the sheet is graded.
    ///
    /// # Errors
    /// When the floor refuses, or it cannot be written down.
    pub(super) async fn parts_graded(&mut self, by: By, source: &Source) -> Result<(), Problem> {
        self.happen(Happening::Act { by, what: Asked::PartsGraded }, source.clone(), Vec::new()).await?;
        self.note_remains(source).await
    }
}
