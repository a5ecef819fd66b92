//! Physical bits: numbered, measured, scrapped; and the shop's bits as they are with the ones at hand.
//!
//! May live here: those. May not: how far one has cut, which the records tell.

use super::corrections::words;
use super::desk::FrontDesk;
use crate::api::Answer;
use crate::api::desk::Caller;
use crate::ledger::State as Fold;
use chargehand_types::SCHEMA;
use chargehand_types::bits::{BeginBit, BitFigures, BitList, MeasureBit, NumberedBit, ScrapBit};
use chargehand_types::card::{Bit, Stores};
use chargehand_types::event::What;
use chargehand_types::id::{BitName, BitNumber};
use chargehand_types::problem::{Problem, ProblemKind};
use chargehand_types::quantity::{Length, Metres, plain};
use chargehand_types::queue::Done;
use std::collections::BTreeMap;

/// A bit that measures less of what it was sold as is another bit, and one that measures more too (common practice, no
/// source: grinding takes a tenth or two).
const LEAST_SHARE: f64 = 0.7;
const MOST_SHARE: f64 = 1.05;
/// No bit of a small router is longer.
const LONGEST: Length = Length::whole_mm(300);

/// The shop's bits with the measures of the physical ones at hand.
#[must_use]
pub fn stores_now(stores: &Stores, fold: &Fold) -> Stores {
    let mut now = stores.clone();
    for (key, bit) in &mut now.bits {
        if let Some(own) = fold.bit_at_hand(&BitName(key.clone())) {
            bit.measured = own.figures;
        }
    }
    now
}

/// Way each bit has cut, by its key: of the physical one at hand since it was new or ground anew, where it has a number.
#[must_use]
pub fn bits_used(fold: &Fold) -> BTreeMap<String, Metres> {
    let mut used: BTreeMap<String, Metres> = fold.bits().iter().map(|(bit, way)| (bit.0.clone(), *way)).collect();
    for own in fold.numbered_bits().filter(|bit| bit.scrapped.is_none()) {
        if let Some(at_hand) = fold.bit_at_hand(&own.bit) {
            used.insert(own.bit.0.clone(), at_hand.since_grind);
        }
    }
    used
}

fn bad(text: String) -> Problem {
    Problem::new(ProblemKind::BadRequest, text)
}

impl FrontDesk {
    /// Every physical bit.
    ///
    /// # Errors
    /// When the state cannot be read.
    pub(super) fn physical_bits(&self) -> Answer<BitList> {
        let bits = self.fold(|f| f.numbered_bits().cloned().collect())?;
        Ok(BitList { schema: SCHEMA, bits })
    }

    /// Gives a physical bit its number.
    ///
    /// # Errors
    /// When the shop has no such kind, or the measures are none of it.
    pub(super) async fn bit_begun(&self, caller: Caller, request: BeginBit) -> Answer<Done> {
        if let Some(done) = self.repeated(&request.command_id).await? {
            return Ok(done);
        }
        let by = self.sayer(&caller)?;
        let kind = self.kind(&request.bit)?;
        measured(kind, &request.figures)?;
        if request.used < Metres::ZERO {
            return Err(bad("A bit has not cut less than nothing.".to_owned()));
        }
        let _numbering = self.numbering.lock().await;
        if let Some(done) = self.repeated(&request.command_id).await? {
            return Ok(done);
        }
        let number = self.fold(Fold::next_bit)?;
        let said = format!("A {} has number {number} from now on. Write it on its tag or its box.", request.bit);
        let BeginBit { command_id, bit, figures, used } = request;
        let draft = self.draft(&command_id, What::BitBegan { number, bit, figures, used }).by(by);
        self.record(draft, command_id, told(said, number)).await
    }

    /// Takes measures of a physical bit.
    ///
    /// # Errors
    /// When there is no such bit in use, or the measures are none of it.
    pub(super) async fn bit_measured(&self, caller: Caller, number: BitNumber, request: MeasureBit) -> Answer<Done> {
        if let Some(done) = self.repeated(&request.command_id).await? {
            return Ok(done);
        }
        let by = self.sayer(&caller)?;
        let own = self.in_use(number)?;
        measured(self.kind(&own.bit)?, &request.figures)?;
        if request.figures == BitFigures::default() && !request.reground {
            return Err(bad(
                "Nothing was measured: give --diameter, --stick-out, --tip or --cutting-length.".to_owned()
            ));
        }
        let mut said = format!("Bit {number} ({}): {}.", own.bit, figures_told(&own.figures.with(request.figures)));
        if request.reground {
            let way = plain((own.since_grind.value() * 10.0).round() / 10.0);
            said.push_str(&format!(" Ground anew after {way} m; its wear counts from here."));
        }
        let MeasureBit { command_id, figures, reground } = request;
        let draft = self.draft(&command_id, What::BitMeasured { number, figures, reground }).by(by);
        self.record(draft, command_id, told(said, number)).await
    }

    /// Takes a physical bit out of use.
    ///
    /// # Errors
    /// When there is no such bit in use.
    pub(super) async fn bit_scrapped(&self, caller: Caller, number: BitNumber, request: ScrapBit) -> Answer<Done> {
        if let Some(done) = self.repeated(&request.command_id).await? {
            return Ok(done);
        }
        let by = self.sayer(&caller)?;
        let why = words(&request.why, "Say why: dull, chipped, broken.")?;
        let own = self.in_use(number)?;
        let way = plain((own.cut.value() * 10.0).round() / 10.0);
        let said =
            format!("Bit {number} ({}) is used no more, after {way} m. Its number is never given again.", own.bit);
        let draft = self.draft(&request.command_id, What::BitScrapped { number, why }).by(by);
        self.record(draft, request.command_id, told(said, number)).await
    }

    fn kind(&self, key: &BitName) -> Answer<&Bit> {
        let bits = &self.premises.stores.bits;
        bits.get(&key.0).ok_or_else(|| {
            let known: Vec<&str> = bits.keys().map(String::as_str).collect();
            let text = format!("The shop has no bit `{}`; bits.toml has {}.", key.0.escape_debug(), known.join(", "));
            Problem::new(ProblemKind::NotFound, text)
        })
    }

    fn in_use(&self, number: BitNumber) -> Answer<NumberedBit> {
        let found = self.fold(|f| f.numbered_bit(number).cloned())?;
        match found {
            Some(bit) if bit.scrapped.is_none() => Ok(bit),
            Some(_) => Err(bad(format!("Bit {number} is scrapped. A new bit gets a new number: chargehand bit new."))),
            None => Err(Problem::new(ProblemKind::NotFound, format!("There is no bit {number}."))),
        }
    }
}

fn told(said: String, number: BitNumber) -> Done {
    Done { schema: SCHEMA, said, id: Some(number.to_string()), revision: None, findings: Vec::new(), changes: None }
}

/// Refuses measures that no bit of this kind can have.
fn measured(kind: &Bit, figures: &BitFigures) -> Answer<()> {
    let sold = kind.diameter.mm();
    if let Some(read) = figures.diameter.map(Length::mm)
        && !(sold * LEAST_SHARE..=sold * MOST_SHARE).contains(&read)
    {
        let text = format!(
            "{} mm across is no {}, which is sold as {} mm. Measure again.",
            plain(read),
            kind.title,
            plain(sold)
        );
        return Err(bad(text));
    }
    let lengths = [figures.stick_out, figures.tip, figures.cutting_length];
    if lengths.into_iter().flatten().any(|length| length <= Length::ZERO || length > LONGEST) {
        return Err(bad(format!("A length of a bit is above 0 and at most {} mm.", plain(LONGEST.mm()))));
    }
    if figures.tip.is_some() && kind.upcut_length.is_none() {
        return Err(bad(format!("Only a compression bit has an up-cutting tip; {} is none.", kind.title)));
    }
    Ok(())
}

/// Measures as words.
fn figures_told(figures: &BitFigures) -> String {
    let named = [
        ("across", figures.diameter),
        ("out of the collet", figures.stick_out),
        ("of up-cutting tip", figures.tip),
        ("of edges", figures.cutting_length),
    ];
    let told: Vec<String> =
        named.into_iter().filter_map(|(name, read)| Some(format!("{} mm {name}", plain(read?.mm())))).collect();
    if told.is_empty() { "nothing is measured".to_owned() } else { told.join(", ") }
}
