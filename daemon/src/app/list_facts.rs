//! What the shop, the card and the machine put into the steps of a list.

use super::foreman::Foreman;
use super::upkeep;
use crate::floor::AtStage;
use crate::floor::state::SpindleKind;
use crate::shop::checklist::{self, Facts, HandOn, Only};
use crate::shop::config::PlateSpot;
use chargehand_types::card::{Leaves, ZZero};
use chargehand_types::id::{BitName, BitNumber};

impl Foreman {
    /// What is filled into the lists.
    pub(super) fn facts(&self) -> Facts {
        let config = &self.premises.config;
        let manual = self.floor.machine.setup.spindle == SpindleKind::Manual;
        let mut facts = Facts {
            button: Some(config.machine.red_button.clone()),
            mark: config.stop.mark,
            spindle: if manual { HandOn::Manual } else { HandOn::Controlled },
            run_down: config.machine.spindle.run_down(),
            run_down_left: self.run_down_left(),
            ..Facts::default()
        };
        if let Ok(fold) = self.shared.fold.read() {
            facts.calls = u32::try_from(fold.calls().count()).ok();
            facts.sheet_number = fold.on_machine().map(|s| s.number);
        }
        self.facts_of_upkeep(&mut facts);
        if facts.sheet_number.is_some() {
            facts.holds.insert(Only::SheetOn);
        }
        facts.touched_at = self.touched_at();
        let Some(work) = &self.work else { return facts };
        let card = &work.judged.card;
        facts.card = Some(card.title.clone());
        facts.label = chargehand_types::label::label(&work.sheet);
        facts.thickness = Some(card.sheet.thickness);
        facts.thickness_window = self.premises.allowances.of(work.judged.revision()).map(|window| window.thickness);
        facts.face.clone_from(&card.sheet.face);
        facts.grain.clone_from(&card.sheet.grain);
        facts.fastener = self.premises.stores.fasteners.get(&card.holddown.fastener).map(|f| f.title.clone());
        // as they were made; else the card's own, or as proposed
        let proposed = || work.judged.judged.report.holddown.as_ref().map(|h| h.places.clone());
        facts.places = work.made.clone().or_else(proposed).unwrap_or_default();
        facts.places.extend(work.bow.filter(|bow| !facts.places.contains(bow)));
        facts.fasteners = work.fasteners_in;
        facts.parts = work.judged.part_names();
        facts.corner = Some(card.sheet.corner);
        facts.entry = work.entry;
        self.facts_of_touch(work, &mut facts);
        facts.cuts = checklist::cuts(
            &work.judged.judged.report.pieces,
            card.operations.iter().filter(|o| o.leaves == Some(Leaves::Skin)).find_map(|o| o.skin),
        );
        facts.hangs = checklist::places(&work.judged.judged.report.pieces, card.sheet.corner);
        let wanted = self.wanted_bit();
        facts.bit = wanted.as_ref().map(|(_, b)| b.title.clone());
        facts.bit_diameter = wanted.as_ref().map(|(_, b)| b.diameter);
        self.facts_of_numbers(wanted.as_ref().map(|(key, _)| key), work.bit_number, &mut facts);
        facts.rpm = self.rpm();
        facts.dial = facts.rpm.and_then(|rpm| config.machine.spindle.dial_for(rpm));
        self.facts_of_floor(work, wanted.map(|(key, _)| key), &mut facts);
        if let Ok(fold) = self.shared.fold.read()
            && let Some(sheet) = fold.sheet(&work.sheet)
        {
            facts.graded = sheet.parts.iter().map(|p| p.index).collect();
        }
        facts
    }

    /// Where the Z zero is to be touched: on what the card counts from; at the shop's own place if that lies there.
    fn facts_of_touch(&self, work: &super::work::Work, facts: &mut Facts) {
        let sheet = &work.judged.card.sheet;
        if sheet.z_zero == ZZero::Bed {
            facts.spot = Some(checklist::ON_THE_BOARD.to_owned());
            return;
        }
        let holddown = work.judged.judged.report.holddown.as_ref();
        (facts.spot, facts.spot_at) = match self.premises.config.machine.plate.spot {
            PlateSpot::At(own) if sheet.covers(own) => {
                (Some(checklist::from_edges(own, sheet.corner, &facts.places)), Some(own))
            }
            PlateSpot::At(_) | PlateSpot::Proposed => (
                holddown.and_then(|h| checklist::spot(h, sheet.corner)),
                holddown.and_then(|h| h.largest_free).map(|free| free.at),
            ),
        };
    }

    /// What of the upkeep is due.
    fn facts_of_upkeep(&self, facts: &mut Facts) {
        let all = &self.premises.config.upkeep;
        if all.is_empty() {
            facts.holds.insert(Only::UpkeepOnPaper);
        } else if let Ok(fold) = self.shared.fold.read() {
            facts.upkeep = upkeep::due(&upkeep::rows(all, &fold, self.clock.wall()));
        }
    }

    /// Which physical bits there are to choose from, and how wide the chosen one was last.
    fn facts_of_numbers(&self, wanted: Option<&String>, chosen: Option<BitNumber>, facts: &mut Facts) {
        let Ok(fold) = self.shared.fold.read() else { return };
        if let Some(kind) = wanted.map(|key| BitName(key.clone())) {
            facts.bit_numbers = fold.bits_in_use(&kind).map(|bit| bit.number).collect();
        }
        let chosen = chosen.and_then(|number| fold.numbered_bit(number));
        facts.bit_diameter = chosen.and_then(|bit| bit.figures.diameter).or(facts.bit_diameter);
    }

    fn facts_of_floor(&self, work: &super::work::Work, wanted: Option<String>, facts: &mut Facts) {
        let Some(on) = &self.floor.sheet else { return };
        facts.operation = work.operation(on.operation).map(|o| o.name.clone());
        let chain = self.floor.chain();
        facts.chain = chain.iter().filter_map(|p| Some(work.operation(*p)?.name.clone())).collect();
        let seconds: f64 = chain.iter().map(|p| self.predicted(*p).value()).sum();
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "minutes of one chain")]
        let minutes = (seconds / 60.0).ceil() as u32;
        facts.minutes = Some(minutes);
        let slots = work.judged.slots();
        let fitted = self.floor.machine.bit.and_then(|s| slots.get(usize::from(s.0)).cloned());
        if fitted.is_none() || fitted != wanted {
            facts.holds.insert(Only::BitChange);
        }
        // before another bit is fitted, and before the parts come off
        let ends = matches!(on.at, AtStage::TakingOff) || facts.holds.contains(&Only::BitChange);
        if facts.touched_at.is_some() && ends {
            facts.holds.insert(Only::Touched);
        }
        if on.done.is_empty() {
            facts.holds.insert(Only::FirstOperation);
        }
        match work.operation(on.operation).and_then(|o| o.leaves) {
            Some(Leaves::Tabs) => {
                facts.holds.insert(Only::Tabs);
            }
            Some(Leaves::Skin) => {
                facts.holds.insert(Only::Skin);
            }
            Some(Leaves::Through | Leaves::Pocket) | None => {}
        }
        if work.judged.card.operations.iter().any(|o| o.leaves == Some(Leaves::Tabs)) {
            facts.holds.insert(Only::Tabs);
        }
    }
}
