//! Cards drafted from programs, off the async threads; a draft with nothing missing is judged at once.

use super::behind::behind;
use super::cards;
use super::judging::JudgedWith;
use super::premises::Premises;
use crate::findings::{self, Bench, Drafted, Wanted};
use base64::Engine as _;
use chargehand_types::SCHEMA;
use chargehand_types::check::CardFiles;
use chargehand_types::draft::{Draft, DraftRequest};
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::quantity::Metres;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Drafts a card.
///
/// # Errors
/// When a program cannot be read, or an answer makes no sense.
pub async fn draft(
    premises: &Arc<Premises>,
    bench: &Bench,
    request: DraftRequest,
    used: BTreeMap<String, Metres>,
) -> Result<Draft, Problem> {
    let mut programs = Vec::new();
    for program in &request.programs {
        let bytes = base64::engine::general_purpose::STANDARD.decode(&program.bytes).map_err(|e| {
            Problem::new(ProblemKind::BadRequest, format!("the program {} is not base 64: {e}", program.path))
        })?;
        programs.push((program.path.clone(), bytes));
    }
    let (name, answers, shop, machine) = (request.name.clone(), request.answers, Arc::clone(premises), bench.clone());
    let drafted = behind(move || {
        let wanted = Wanted {
            name: &name.0,
            programs: &programs,
            answers: &answers,
            stores: &shop.stores,
            bench: &machine,
            pool: shop.crew.now(),
        };
        findings::draft(&wanted)
    });
    let Drafted { text, assumed, missing } = match drafted.await {
        Ok(Ok(drafted)) => drafted,
        Ok(Err(e)) => return Err(Problem::new(ProblemKind::Malformed, format!("No card can be drafted: {e}."))),
        Err(e) => return Err(Problem::new(ProblemKind::OurFault, e.to_string())),
    };
    let mut found = Vec::new();
    if missing.is_empty() {
        let programs = request.programs.into_iter().map(|p| (p.path, p.bytes)).collect();
        let files = CardFiles { file: format!("{}.card.toml", request.name), text: text.clone(), programs };
        let (card, programs) = cards::read(&files, premises)?;
        let with = JudgedWith::to(&card, bench.clone(), None, used, premises.stores.clone());
        found = cards::judge(premises, card, programs, with).await?.judged.report.findings.clone();
    }
    Ok(Draft { schema: SCHEMA, name: request.name, text, assumed, missing, findings: found })
}
