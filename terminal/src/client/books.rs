//! The routes of the books: corrections, lots, rests, physical bits.
//!
//! May live here: one method a route. May not: what a person types.

use super::{Api, ClientFault, JUDGING_PATIENCE, PATIENCE, segment};
use crate::outside;
use chargehand_types::bits::{BeginBit, BitFigures, BitList, MeasureBit, ScrapBit};
use chargehand_types::brought::{BringIn, BroughtIn, BroughtRow};
use chargehand_types::id::{BitName, BitNumber, SheetId};
use chargehand_types::quantity::Metres;
use chargehand_types::queue::Done;
use chargehand_types::record::{CorrectSheet, Fix, LeftGone, LeftList, NameLot};
use chargehand_types::upkeep::{UpkeepDone, UpkeepList};

impl Api {
    /// Says how a record of a sheet should have read.
    ///
    /// # Errors
    /// See [`ClientFault`]; the same for every method here.
    pub async fn correct_sheet(&self, id: &SheetId, fix: Fix, why: String) -> Result<Done, ClientFault> {
        let request = CorrectSheet { command_id: outside::command_id(), fix, why };
        self.post(&format!("/v1/sheets/{}/corrections", segment(&id.0)), &request, PATIENCE).await
    }

    /// Says from which lot a sheet is.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn name_lot(&self, id: &SheetId, lot: String) -> Result<Done, ClientFault> {
        let request = NameLot { command_id: outside::command_id(), lot };
        self.post(&format!("/v1/sheets/{}/lot", segment(&id.0)), &request, PATIENCE).await
    }

    /// Rests that are there.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn left(&self) -> Result<LeftList, ClientFault> {
        self.get("/v1/stock/left").await
    }

    /// Says that a rest is there no more.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn left_gone(&self, id: &SheetId, why: String) -> Result<Done, ClientFault> {
        let request = LeftGone { command_id: outside::command_id(), why };
        self.post(&format!("/v1/stock/left/{}/gone", segment(&id.0)), &request, PATIENCE).await
    }

    /// What is to be kept up.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn upkeep(&self) -> Result<UpkeepList, ClientFault> {
        self.get("/v1/upkeep").await
    }

    /// Says that something of the upkeep was done.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn upkeep_done(&self, name: &str) -> Result<Done, ClientFault> {
        let request = UpkeepDone { command_id: outside::command_id() };
        self.post(&format!("/v1/upkeep/{}/done", segment(name)), &request, PATIENCE).await
    }

    /// Takes in sheets that were cut before.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn bring_in(&self, rows: Vec<BroughtRow>, only_look: bool) -> Result<BroughtIn, ClientFault> {
        let request = BringIn { command_id: outside::command_id(), rows, only_look };
        self.post("/v1/history/brought", &request, JUDGING_PATIENCE).await
    }

    /// Every physical bit.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn numbered_bits(&self) -> Result<BitList, ClientFault> {
        self.get("/v1/bits").await
    }

    /// Gives a physical bit its number.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn begin_bit(&self, bit: BitName, figures: BitFigures, used: Metres) -> Result<Done, ClientFault> {
        let request = BeginBit { command_id: outside::command_id(), bit, figures, used };
        self.post("/v1/bits", &request, PATIENCE).await
    }

    /// Takes measures of a physical bit.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn measure_bit(
        &self,
        number: BitNumber,
        figures: BitFigures,
        reground: bool,
    ) -> Result<Done, ClientFault> {
        let request = MeasureBit { command_id: outside::command_id(), figures, reground };
        self.post(&format!("/v1/bits/{number}/measures"), &request, PATIENCE).await
    }

    /// Takes a physical bit out of use.
    ///
    /// # Errors
    /// See [`ClientFault`].
    pub async fn scrap_bit(&self, number: BitNumber, why: String) -> Result<Done, ClientFault> {
        let request = ScrapBit { command_id: outside::command_id(), why };
        self.post(&format!("/v1/bits/{number}/scrap"), &request, PATIENCE).await
    }
}
