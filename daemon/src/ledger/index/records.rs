//! How the state lies in the index, record by record.
//!
//! Trees: `cards`, `batches`, `sheets` by id, `bits` by number (u32 big-endian), `answered` by sequence (u64 big-endian), `rest` under one name. A value
//! is JSON, cut into pieces of at most [`PIECE`] bytes so that sled keeps them in its own pages; the key of a piece is
//! the id and the piece's number (u16 big-endian); each piece begins with the CRC-32 of key and content.
//!
//! May live here: keys, pieces, which parts of the state an event changes. May not: sled.

use super::IndexFault;
use crate::ledger::fold::State;
use crate::ledger::fold::card::{BatchState, CardState};
use crate::ledger::fold::sheet::SheetState;
use chargehand_types::bits::NumberedBit;
use chargehand_types::event::{Event, What};
use chargehand_types::id::{BatchId, BitNumber, CardName, CommandId, Seq, SheetId};
use chargehand_types::stage::Stage;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// The largest piece of a value, with its checksum.
pub const PIECE: usize = 16 * 1024;
const REST: &[u8] = b"rest";

/// The parts of the state.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    Cards,
    Batches,
    Sheets,
    Bits,
    Answered,
    Rest,
}

/// Every part, in the order of its tree.
pub const KINDS: [Kind; 6] = [Kind::Cards, Kind::Batches, Kind::Sheets, Kind::Bits, Kind::Answered, Kind::Rest];

impl Kind {
    pub const fn tree(self) -> &'static [u8] {
        match self {
            Self::Cards => b"cards",
            Self::Batches => b"batches",
            Self::Sheets => b"sheets",
            Self::Bits => b"bits",
            Self::Answered => b"answered",
            Self::Rest => b"rest",
        }
    }

    pub const fn place(self) -> usize {
        match self {
            Self::Cards => 0,
            Self::Batches => 1,
            Self::Sheets => 2,
            Self::Bits => 3,
            Self::Answered => 4,
            Self::Rest => 5,
        }
    }

    /// Puts one value back into the state.
    pub fn read(self, state: &mut State, value: &[u8]) -> Result<(), IndexFault> {
        match self {
            Self::Cards => {
                let card: CardState = serde_json::from_slice(value)?;
                state.cards.insert(card.name.clone(), card);
            }
            Self::Batches => {
                let batch: BatchState = serde_json::from_slice(value)?;
                state.batches.insert(batch.id.clone(), batch);
            }
            Self::Sheets => take_sheet(state, serde_json::from_slice(value)?),
            Self::Bits => {
                let bit: NumberedBit = serde_json::from_slice(value)?;
                state.numbered.insert(bit.number, bit);
            }
            Self::Answered => {
                let (seq, command): (Seq, CommandId) = serde_json::from_slice(value)?;
                state.answered.remember(&command, seq);
            }
            Self::Rest => state.rest = serde_json::from_slice(value)?,
        }
        Ok(())
    }
}

fn take_sheet(state: &mut State, sheet: SheetState) {
    state.lookup.note(&sheet);
    state.sheets.insert(sheet.id.clone(), Arc::new(sheet));
}

/// Puts the sheets back into the state: there are years of them, and several threads read their values.
pub fn read_sheets(state: &mut State, values: &[&[u8]]) -> Result<(), IndexFault> {
    let threads = std::thread::available_parallelism().map_or(1, usize::from);
    let share = values.len().div_ceil(threads).max(1);
    let read = |some: &[&[u8]]| some.iter().map(|value| serde_json::from_slice(value)).collect();
    let shares: Vec<Result<Vec<SheetState>, _>> = std::thread::scope(|scope| {
        let begun: Vec<_> = values.chunks(share).map(|some| scope.spawn(move || read(some))).collect();
        let ended = begun.into_iter().map(|thread| thread.join());
        ended.map(|read| read.unwrap_or_else(|cause| std::panic::resume_unwind(cause))).collect()
    });
    for sheets in shares {
        sheets?.into_iter().for_each(|sheet| take_sheet(state, sheet));
    }
    Ok(())
}

/// One value to be written.
#[derive(Debug)]
pub struct Change {
    pub kind: Kind,
    pub id: Vec<u8>,
    /// Empty when the value is to be removed.
    value: Vec<u8>,
}

impl Change {
    fn put(kind: Kind, id: &[u8], value: &impl Serialize) -> Result<Self, IndexFault> {
        Ok(Self { kind, id: id.to_vec(), value: serde_json::to_vec(value)? })
    }

    fn remove(seq: Seq) -> Self {
        Self { kind: Kind::Answered, id: seq.0.to_be_bytes().to_vec(), value: Vec::new() }
    }

    fn card(card: &CardState) -> Result<Self, IndexFault> {
        Self::put(Kind::Cards, card.name.0.as_bytes(), card)
    }

    fn batch(batch: &BatchState) -> Result<Self, IndexFault> {
        Self::put(Kind::Batches, batch.id.0.as_bytes(), batch)
    }

    fn sheet(sheet: &SheetState) -> Result<Self, IndexFault> {
        Self::put(Kind::Sheets, sheet.id.0.as_bytes(), sheet)
    }

    fn bit(bit: &NumberedBit) -> Result<Self, IndexFault> {
        Self::put(Kind::Bits, &bit.number.0.to_be_bytes(), bit)
    }

    fn answered(seq: Seq, command: &CommandId) -> Result<Self, IndexFault> {
        Self::put(Kind::Answered, &seq.0.to_be_bytes(), &(seq, command))
    }

    /// What the events changed in the state, and commands that are no longer remembered.
    pub fn after(state: &State, events: &[Event], outlived: &[Seq]) -> Result<Vec<Self>, IndexFault> {
        let touched = Touched::by(state, events);
        let cards = touched.cards.into_iter().filter_map(|id| state.cards.get(id));
        let batches = touched.batches.into_iter().filter_map(|id| state.batches.get(id));
        let sheets = touched.sheets.into_iter().filter_map(|id| state.sheets.get(id));
        let bits = touched.bits.into_iter().filter_map(|number| state.numbered.get(&number));
        let answered = events.iter().filter_map(|e| state.answered.command_at(e.seq).map(|c| (e.seq, c)));
        cards
            .map(Self::card)
            .chain(batches.map(Self::batch))
            .chain(sheets.map(|sheet| Self::sheet(sheet)))
            .chain(bits.map(Self::bit))
            .chain(answered.map(|(seq, command)| Self::answered(seq, command)))
            .chain(outlived.iter().map(|seq| Ok(Self::remove(*seq))))
            .chain([Self::put(Kind::Rest, REST, &state.rest)])
            .collect()
    }

    /// The whole state.
    pub fn all(state: &State) -> Result<Vec<Self>, IndexFault> {
        let answered = state.answered.all();
        (state.cards.values().map(Self::card))
            .chain(state.batches.values().map(Self::batch))
            .chain(state.sheets.values().map(|sheet| Self::sheet(sheet)))
            .chain(state.numbered.values().map(Self::bit))
            .chain(answered.map(|(seq, command)| Self::answered(seq, command)))
            .chain([Self::put(Kind::Rest, REST, &state.rest)])
            .collect()
    }

    /// Keys and pieces as they lie in the tree.
    pub fn records(&self) -> impl Iterator<Item = (Vec<u8>, Vec<u8>)> {
        (0_u16..).zip(self.value.chunks(PIECE - 4)).map(|(number, piece)| {
            let key = key(&self.id, number);
            let mut record = check(&key, piece).to_be_bytes().to_vec();
            record.extend(piece);
            (key, record)
        })
    }
}

/// The key of a piece.
pub fn key(id: &[u8], number: u16) -> Vec<u8> {
    let mut key = id.to_vec();
    key.extend(number.to_be_bytes());
    key
}

/// The sequence in a key of the tree `answered`.
pub fn seq_of(key: &[u8]) -> Option<Seq> {
    key.first_chunk::<8>().map(|bytes| Seq(u64::from_be_bytes(*bytes)))
}

/// The checksum of a key with its value.
pub fn check(key: &[u8], value: &[u8]) -> u32 {
    let mut crc = crc32fast::Hasher::new();
    crc.update(key);
    crc.update(value);
    crc.finalize()
}

/// Pieces joined to whole values again.
#[derive(Debug, Default)]
pub struct Joined {
    values: BTreeMap<Vec<u8>, Vec<u8>>,
    pieces: BTreeMap<Vec<u8>, u16>,
}

impl Joined {
    /// Takes the next piece of a tree, in the order of keys.
    pub fn add(&mut self, key: &[u8], record: &[u8]) -> Result<(), IndexFault> {
        let (id, number) = key.split_last_chunk::<2>().ok_or(IndexFault::Damaged("a key is too short"))?;
        let (crc, piece) = record.split_first_chunk::<4>().ok_or(IndexFault::Damaged("a record is too short"))?;
        if check(key, piece) != u32::from_be_bytes(*crc) {
            return Err(IndexFault::Damaged("the checksum of a record is wrong"));
        }
        let next = self.pieces.entry(id.to_vec()).or_default();
        if *next != u16::from_be_bytes(*number) {
            return Err(IndexFault::Damaged("a piece of a record is missing"));
        }
        *next = next.saturating_add(1);
        self.values.entry(id.to_vec()).or_default().extend(piece);
        Ok(())
    }

    pub fn values(&self) -> impl Iterator<Item = &[u8]> {
        self.values.values().map(Vec::as_slice)
    }
}

/// Which parts of the state some events changed.
#[derive(Debug, Default)]
struct Touched<'a> {
    cards: BTreeSet<&'a CardName>,
    batches: BTreeSet<&'a BatchId>,
    sheets: BTreeSet<&'a SheetId>,
    bits: BTreeSet<BitNumber>,
}

impl<'a> Touched<'a> {
    fn by(state: &'a State, events: &'a [Event]) -> Self {
        let mut touched = Self::default();
        for event in events {
            touched.sheets.extend(&event.sheet);
            match &event.what {
                What::CardAdded { name: card, .. }
                | What::FindingSigned { card, .. }
                | What::ArticleApproved { card, .. } => {
                    touched.cards.insert(card);
                }
                What::BatchAdded { batch, .. } | What::BatchCancelled { batch } => {
                    touched.batches.insert(batch);
                    touched.sheets.extend(state.batches.get(batch).iter().flat_map(|b| &b.sheets));
                }
                What::SheetBrought { sheet, .. } => {
                    touched.sheets.insert(sheet);
                }
                What::TouchedAgain { .. } => {
                    let batch = event.sheet.as_ref().and_then(|id| state.sheets.get(id)).map(|s| &s.batch);
                    touched.batches.extend(batch);
                }
                What::DaemonStarted { .. } => {
                    let begun = state.sheets.values().filter(|s| s.stage != Stage::Closed && s.entered.is_some());
                    touched.sheets.extend(begun.map(|s| &s.id));
                }
                What::BitBegan { number, .. }
                | What::BitMeasured { number, .. }
                | What::BitScrapped { number, .. }
                | What::BitFitted { number: Some(number), .. }
                | What::OperationFinished { number: Some(number), .. } => {
                    touched.bits.insert(*number);
                }
                What::StockCounted { .. }
                | What::SheetLot { .. }
                | What::SheetRemains { .. }
                | What::LeftGone { .. }
                | What::UpkeepDone { .. }
                | What::PeopleChanged { .. }
                | What::Overridden { .. }
                | What::SheetStage { .. }
                | What::StepAnswered { .. }
                | What::JointMeasured { .. }
                | What::DayBegun { .. }
                | What::DaySigned { .. }
                | What::DayPassedOver { .. }
                | What::SheetSigned { .. }
                | What::SheetMeasured { .. }
                | What::SheetFastened { .. }
                | What::BoardRenewed
                | What::CautionsSigned { .. }
                | What::StillThereAsked { .. }
                | What::StillThereAnswered
                | What::BitFitted { number: None, .. }
                | What::ZeroSet { .. }
                | What::OperationStarted { .. }
                | What::OperationFinished { number: None, .. }
                | What::PartChecked { .. }
                | What::SheetDecided { .. }
                | What::SheetClosed { .. }
                | What::LinkUp { .. }
                | What::LinkDown { .. }
                | What::MachineHomed
                | What::PositionLost { .. }
                | What::ZeroConfirmed
                | What::PersonCame { .. }
                | What::PersonLeft { .. }
                | What::CallRaised { .. }
                | What::CallAnswered { .. }
                | What::SheetNoted { .. }
                | What::RecordCorrected { .. } => {}
            }
        }
        touched
    }
}
