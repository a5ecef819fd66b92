//! The books of the API, each answered where it is kept.

use super::desk::FrontDesk;
use crate::api::books::Books;
use crate::api::desk::{Answer, Caller};
use chargehand_types::bits::{BeginBit, BitList, MeasureBit, ScrapBit};
use chargehand_types::brought::{BringIn, BroughtIn};
use chargehand_types::id::{BitNumber, SheetId};
use chargehand_types::queue::Done;
use chargehand_types::record::{CorrectSheet, LeftGone, LeftList, NameLot};
use chargehand_types::upkeep::{UpkeepDone, UpkeepList};

impl Books for FrontDesk {
    async fn correct_sheet(&self, caller: Caller, sheet: SheetId, request: CorrectSheet) -> Answer<Done> {
        self.corrected(caller, sheet, request).await
    }

    async fn name_lot(&self, caller: Caller, sheet: SheetId, request: NameLot) -> Answer<Done> {
        self.lot_named(caller, sheet, request).await
    }

    async fn left(&self, _: Caller) -> Answer<LeftList> {
        self.rests()
    }

    async fn left_gone(&self, caller: Caller, sheet: SheetId, request: LeftGone) -> Answer<Done> {
        self.rest_gone(caller, sheet, request).await
    }

    async fn upkeep(&self, _: Caller) -> Answer<UpkeepList> {
        self.upkeep_now()
    }

    async fn upkeep_done(&self, caller: Caller, name: String, request: UpkeepDone) -> Answer<Done> {
        self.upkeep_was_done(caller, name, request).await
    }

    async fn bring_in(&self, caller: Caller, request: BringIn) -> Answer<BroughtIn> {
        self.brought(caller, request).await
    }

    async fn numbered_bits(&self, _: Caller) -> Answer<BitList> {
        self.physical_bits()
    }

    async fn begin_bit(&self, caller: Caller, request: BeginBit) -> Answer<Done> {
        self.bit_begun(caller, request).await
    }

    async fn measure_bit(&self, caller: Caller, number: BitNumber, request: MeasureBit) -> Answer<Done> {
        self.bit_measured(caller, number, request).await
    }

    async fn scrap_bit(&self, caller: Caller, number: BitNumber, request: ScrapBit) -> Answer<Done> {
        self.bit_scrapped(caller, number, request).await
    }
}
