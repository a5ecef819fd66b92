//! How much air fasteners at some places of a sheet would have: asked again with every key press at the terminal, so
//! what is swept is kept for the sheet asked about last.
//!
//! May live here: that. May not: distances.

use super::behind::behind;
use super::desk::FrontDesk;
use super::work::JudgedCard;
use crate::api::Answer;
use crate::findings::{Airs, Bench, CannotJudge, Case};
use crate::holddown::Footing;
use chargehand_types::SCHEMA;
use chargehand_types::holddown::{AirAnswer, AirRequest};
use chargehand_types::id::{Revision, SheetId};
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::quantity::Length;
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};

/// Places of one question at most.
const PLACES_AT_MOST: usize = 500;

/// What a card sweeps at a thickness.
#[derive(Debug, Default)]
pub struct Kept(Mutex<Option<(Revision, Option<Length>, Airs)>>);

impl FrontDesk {
    /// Answers a question about places of a sheet.
    ///
    /// # Errors
    /// When there is no such sheet, or too many places are asked about.
    pub(super) async fn air_beside(&self, sheet: SheetId, request: AirRequest) -> Answer<AirAnswer> {
        if request.at.len() > PLACES_AT_MOST {
            let text = format!("Ask about {PLACES_AT_MOST} places at most; {} were given.", request.at.len());
            return Err(Problem::new(ProblemKind::BadRequest, text));
        }
        let known = self.fold(|f| {
            let sheet = f.sheet(&sheet)?;
            let number = f.card(&sheet.card)?.revision(&sheet.revision)?.number;
            Some((sheet.card.clone(), number, sheet.thickness.iter().max().copied(), f.holes(Some(&sheet.id))))
        })?;
        let Some((card, number, thickness, old_holes)) = known else {
            return Err(Problem::new(ProblemKind::NotFound, format!("There is no sheet {sheet}.")));
        };
        let judged = self.judged(&card, Some(number)).await?;
        let bench = Bench { old_holes, ..self.bench.clone() };
        let (premises, kept) = (Arc::clone(&self.premises), Arc::clone(&self.airs));
        let answer = behind(move || {
            let (stores, pool, bit_used) = (&premises.stores, premises.crew.now(), &BTreeMap::new());
            let texts = judged.programs.all()?;
            let (card, programs, bench) = (&judged.card, texts.as_ref(), &bench);
            let case = Case { card, programs, stores, bench, thickness, bit_used, pool, window: false };
            kept.answer(&judged, &case, &request).map_err(|e| Problem::new(ProblemKind::Malformed, e.to_string()))
        });
        answer.await.unwrap_or_else(|e| Err(Problem::new(ProblemKind::OurFault, e.to_string())))
    }
}

impl Kept {
    /// Lets go of it: nobody asks about places while it is cut.
    pub fn forget(&self) {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = None;
    }

    fn answer(&self, judged: &JudgedCard, case: &Case<'_>, request: &AirRequest) -> Result<AirAnswer, CannotJudge> {
        let mut kept = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let own = (judged.revision().clone(), case.thickness);
        if kept.as_ref().is_none_or(|(revision, thickness, _)| (revision, *thickness) != (&own.0, own.1)) {
            *kept = Some((own.0, own.1, Airs::of(case)?));
        }
        let places = match kept.as_mut() {
            Some((_, _, airs)) => airs.measure(case, &request.at)?,
            None => Vec::new(),
        };
        let usual = case.stores.fasteners.get(&case.card.holddown.fastener);
        Ok(AirAnswer {
            schema: SCHEMA,
            margin: case.card.holddown.margin,
            reach: usual.map(|f| Footing::of(f).reach()).unwrap_or_default(),
            places,
        })
    }
}
