//! Cards and batches: judged off the foreman's task, then handed to it to be written down.

use super::behind::behind;
use super::foreman::Shared;
use super::judging::JudgedWith;
use super::numbered::{bits_used, stores_now};
use super::premises::Premises;
use super::work::JudgedCard;
use crate::findings::{self, Bench, Case, Question};
use crate::ledger::Ledger;
use crate::shop::{card, fault};
use base64::Engine as _;
use chargehand_types::card::{Card, Stores};
use chargehand_types::check::{CardFiles, CheckReport, CheckRequest};
use chargehand_types::holddown::{HoldDownAnswer, HoldDownRequest, PlaceMeasured};
use chargehand_types::id::SheetId;
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::quantity::{Length, Metres, Spot};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Reads a card sent by a client.
///
/// # Errors
/// Every fault of the card, or a program that is missing.
pub fn read(files: &CardFiles, premises: &Premises) -> Result<(Card, BTreeMap<String, Vec<u8>>), Problem> {
    let card = card::read(&files.file, &files.text, &premises.stores).map_err(|faults| {
        let told = faults.iter().map(ToString::to_string).collect();
        let text = format!("{} cannot be read:\n{}", files.file, fault::told(&faults));
        Problem::new(ProblemKind::Malformed, text).with_faults(told)
    })?;
    let mut programs = BTreeMap::new();
    for operation in &card.operations {
        let Some(text) = files.programs.get(&operation.program) else {
            let text = format!(
                "{}: the program {} of operation `{}` is missing. Put it beside the card.",
                files.file, operation.program, operation.name
            );
            return Err(Problem::new(ProblemKind::Malformed, text));
        };
        let bytes = base64::engine::general_purpose::STANDARD.decode(text).map_err(|e| {
            Problem::new(ProblemKind::BadRequest, format!("the program {} is not base 64: {e}", operation.program))
        })?;
        programs.insert(operation.program.clone(), bytes);
    }
    Ok((card, programs))
}

/// Judges a card off the async threads.
///
/// # Errors
/// When the card names something that is not there.
pub async fn judge(
    premises: &Arc<Premises>,
    card: Card,
    programs: BTreeMap<String, Vec<u8>>,
    with: JudgedWith,
) -> Result<Arc<JudgedCard>, Problem> {
    let premises = Arc::clone(premises);
    let judged = behind(move || JudgedCard::of(card, programs, with, &premises));
    match judged.await {
        Ok(Ok(judged)) => Ok(judged),
        Ok(Err(e)) => Err(Problem::new(ProblemKind::Malformed, e.to_string())),
        Err(e) => Err(Problem::new(ProblemKind::OurFault, e.to_string())),
    }
}

/// Answers a check off the async threads, with how far its answer holds.
///
/// # Errors
/// When the card names something that is not there; a shift the card does not allow; more readings than corners.
pub async fn check(
    premises: &Arc<Premises>,
    bench: Bench,
    card: Card,
    programs: BTreeMap<String, Vec<u8>>,
    request: CheckRequest,
    (used, stores): (BTreeMap<String, Metres>, Stores),
) -> Result<CheckReport, Problem> {
    let shift = request.z_shift.unwrap_or_default();
    let most = card.sheet.z_shift_max;
    if shift > most || shift < -most {
        let text = format!(
            "the card `{}` lets work zero be shifted by {most} at most (z_shift_max), not by {shift}",
            card.name
        );
        return Err(Problem::new(ProblemKind::BadRequest, text));
    }
    if request.corners.len() > 4 {
        let text = format!("a sheet has four corners; {} readings were given", request.corners.len());
        return Err(Problem::new(ProblemKind::BadRequest, text));
    }
    let premises = Arc::clone(premises);
    let bench = bench.shifted(shift);
    let judged = behind(move || {
        let (card, programs, stores, bit_used) = (&card, &programs, &stores, &used);
        let (bench, pool, thickness) = (&bench, premises.crew.now(), request.thickness);
        let case = Case { card, programs, stores, bench, thickness, bit_used, pool, window: true };
        findings::check_corners(&case, &request.corners)
            .map_err(|e| Problem::new(ProblemKind::Malformed, e.to_string()))
    });
    judged.await.unwrap_or_else(|e| Err(Problem::new(ProblemKind::OurFault, e.to_string()))).map(|j| j.report)
}

/// Where the fasteners of a card go, worked out off the async threads.
///
/// # Errors
/// When the card, or the question, names something that is not there; when the system gives no thread for the map.
pub async fn hold_down(
    premises: &Arc<Premises>,
    bench: &Bench,
    card: Card,
    programs: BTreeMap<String, Vec<u8>>,
    request: HoldDownRequest,
    stores: Stores,
) -> Result<HoldDownAnswer, Problem> {
    let (premises, bench) = (Arc::clone(premises), bench.clone());
    let found = behind(move || {
        let used = BTreeMap::new();
        let case = Case {
            card: &card,
            programs: &programs,
            stores: &stores,
            bench: &bench,
            thickness: request.thickness,
            bit_used: &used,
            pool: premises.crew.now(),
            window: false,
        };
        let wanted = Question {
            fastener: request.fastener.as_deref(),
            at: &request.at,
            bowed: request.bowed,
            programs: request.programs,
            drawing: request.drawing,
        };
        findings::hold_down(&case, &wanted).map_err(|e| Problem::new(ProblemKind::Malformed, e.to_string()))
    });
    found.await.unwrap_or_else(|e| Err(Problem::new(ProblemKind::OurFault, e.to_string())))
}

/// How far places on a sheet are from the bit, worked out off the async threads.
///
/// # Errors
/// When the card names something that is not there.
pub async fn measure(
    premises: &Arc<Premises>,
    bench: &Bench,
    card: Card,
    programs: BTreeMap<String, Vec<u8>>,
    thickness: Option<Length>,
    places: Vec<Spot>,
) -> Result<Vec<PlaceMeasured>, Problem> {
    let (premises, bench) = (Arc::clone(premises), bench.clone());
    let found = behind(move || {
        let (card, programs, stores, used) = (&card, &programs, &premises.stores, &BTreeMap::new());
        let pool = premises.crew.now();
        let case = Case { card, programs, stores, bench: &bench, thickness, bit_used: used, pool, window: false };
        findings::measure(&case, &places).map_err(|e| Problem::new(ProblemKind::Malformed, e.to_string()))
    });
    found.await.unwrap_or_else(|e| Err(Problem::new(ProblemKind::OurFault, e.to_string())))
}

/// A stored revision of a sheet's card, judged. The stored bytes are what runs, whatever lies on the disk now.
///
/// # Errors
/// When the store does not give it.
pub async fn load(
    premises: &Arc<Premises>,
    bench: &Bench,
    ledger: &Ledger,
    shared: &Shared,
    sheet: &SheetId,
) -> Result<Arc<JudgedCard>, Problem> {
    let (name, text, stored, used, old_holes, stores) = {
        let Ok(fold) = shared.fold.read() else {
            return Err(Problem::new(ProblemKind::OurFault, "the state cannot be read"));
        };
        let Some(sheet) = fold.sheet(sheet) else {
            return Err(Problem::new(ProblemKind::NotFound, format!("There is no sheet {sheet}.")));
        };
        let revision = fold.card(&sheet.card).and_then(|c| c.revision(&sheet.revision));
        let Some(revision) = revision else {
            return Err(Problem::new(ProblemKind::NotFound, format!("The card {} is not in the store.", sheet.card)));
        };
        (
            sheet.card.clone(),
            revision.text.clone(),
            revision.programs.clone(),
            bits_used(&fold),
            fold.holes(Some(&sheet.id)),
            stores_now(&premises.stores, &fold),
        )
    };
    let file = format!("{name}.card.toml");
    let card = card::read(&file, &text, &premises.stores).map_err(|faults| {
        let text = format!("the stored card {name} no longer fits what the shop owns:\n{}", fault::told(&faults));
        Problem::new(ProblemKind::Malformed, text)
    })?;
    let mut bytes = BTreeMap::new();
    for program in &stored {
        let found = ledger.program(&program.sha256).await;
        let found = found.map_err(|e| Problem::new(ProblemKind::MissingOrBusy, e.to_string()))?;
        bytes.insert(program.path.clone(), found);
    }
    let bench = Bench { old_holes, ..bench.clone() };
    let with = JudgedWith::to(&card, bench, None, used, stores);
    let judged = judge(premises, card, bytes, with).await?;
    Ok(JudgedCard::shelved(judged, ledger, &stored))
}
