//! The journal: the truth of the shop, one record an event, on the disk before anybody is told.
//!
//! May live here: opening, appending, reading events. May not: what events mean.

use super::draft::Draft;
use super::fault::LedgerFault;
use super::folder;
use super::frame::{self, PAYLOAD_MOST};
use super::pages::{FilePages, Pages};
use super::scan::{self, Place, Reader, Scanned};
use chargehand_types::event::{EVENT_VERSION, Event, UpcastFault, upcast};
use chargehand_types::id::Seq;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use std::io::Write;
use std::path::Path;

/// Events in one append at most.
pub const APPEND_MOST: usize = 1_000;
/// Events in one reading at most.
pub const READ_MOST: usize = 10_000;

/// Record 0: what the file is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Header {
    /// The journal's own name, by chance; event ids begin with it.
    pub journal: String,
    /// Which program made it.
    pub made_by: String,
}

/// An open journal.
#[derive(Debug)]
pub struct Journal<P> {
    pages: P,
    header: Header,
    places: Vec<Place>,
    end: u64,
    latched: Option<LedgerFault>,
}

/// Events as they will be, their bytes, and where their records will lie.
#[derive(Default)]
struct Framed {
    events: Vec<Event>,
    bytes: Vec<u8>,
    places: Vec<Place>,
}

/// Writes an empty journal: whole under its name, or not there.
///
/// # Errors
/// When the folder cannot be written.
pub fn create(path: &Path, header: &Header) -> Result<(), LedgerFault> {
    let bytes = header.framed();
    folder::write_whole(path, |file| file.write_all(&bytes))
}

impl Header {
    /// The bytes an empty journal consists of.
    #[must_use]
    pub fn framed(&self) -> Vec<u8> {
        let mut bytes = Vec::new();
        // two short texts: this cannot fail, and an empty payload would be refused on opening
        let payload = serde_json::to_vec(self).unwrap_or_default();
        frame::write(&mut bytes, 0, 0, &payload);
        bytes
    }
}

impl<P: Pages> Journal<P> {
    /// Reads a journal through and cuts off a torn tail, with a word about it.
    ///
    /// # Errors
    /// When it is damaged, newer, or cannot be used.
    pub fn open(mut pages: P) -> Result<(Self, Vec<String>), LedgerFault> {
        let known = pages.known();
        let scanned = scan::scan_beyond(&pages, known)?;
        let header = serde_json::from_slice(&scanned.header)
            .map_err(|e| scan::damaged(&pages, 0, format!("its header cannot be read: {e}")))?;
        let words = cut_torn_tail(&mut pages, &scanned)?;
        let Scanned { places, end, .. } = scanned;
        Ok((Self { pages, header, places, end, latched: None }, words))
    }

    /// The journal's own name.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.header.journal
    }

    /// The last event's place; 0 when there is none.
    #[must_use]
    pub fn last(&self) -> Seq {
        Seq(self.places.len() as u64)
    }

    /// Bytes up to the end of the last whole append.
    #[must_use]
    pub const fn end(&self) -> u64 {
        self.end
    }

    /// The checksum of an event's record.
    #[must_use]
    pub fn crc(&self, seq: Seq) -> Option<u32> {
        self.place(seq).map(|p| p.crc)
    }

    /// Appends events, all or none; they are on the disk when this returns. After a failure nothing more is taken
    /// until the journal is opened again.
    ///
    /// # Errors
    /// When the disk does not take them, or an event is beyond a limit or cannot be written so that it reads back.
    pub fn append(&mut self, drafts: Vec<Draft>) -> Result<Vec<Event>, LedgerFault> {
        if let Some(fault) = &self.latched {
            return Err(fault.latched());
        }
        if drafts.is_empty() {
            return Ok(Vec::new());
        }
        let Framed { events, bytes, places } = self.framed(drafts)?;
        if let Err(e) = self.pages.append(&bytes).and_then(|()| self.pages.sync()) {
            let fault = LedgerFault::io("writing the journal", self.pages.path(), &e);
            self.latched = Some(fault.clone());
            // Nobody was told of these events; take them back if the disk still lets us. If not, opening will find
            // either a torn tail or events that nobody waits for any more.
            let _ = self.pages.cut(self.end);
            return Err(fault);
        }
        self.places.extend(places);
        self.end = self.end.saturating_add(bytes.len() as u64);
        Ok(events)
    }

    fn framed(&self, drafts: Vec<Draft>) -> Result<Framed, LedgerFault> {
        let count = drafts.len();
        if count > APPEND_MOST {
            let (found, most) = (count as u64, APPEND_MOST as u64);
            return Err(LedgerFault::TooLarge { what: "one append (in events)", found, most });
        }
        let Framed { mut events, mut bytes, mut places } = Framed::default();
        for (nth, draft) in drafts.into_iter().enumerate() {
            let seq = Seq((self.places.len() + nth + 1) as u64);
            let event = draft.at_place(seq, &self.header.journal);
            let payload = payload(&event)?;
            let rest = u16::try_from(count - nth - 1).unwrap_or(u16::MAX);
            let from = bytes.len();
            frame::write(&mut bytes, rest, seq.0, &payload);
            let written = bytes.get(from..).unwrap_or_default();
            let crc = frame::head(written).map(|h| h.crc).unwrap_or_default();
            places.push(Place { offset: self.end.saturating_add(from as u64), crc });
            events.push(event);
        }
        Ok(Framed { events, bytes, places })
    }

    /// The events after a place, oldest first, at most `limit` and never more than [`READ_MOST`].
    ///
    /// # Errors
    /// When the journal cannot be read, or an event in it not understood.
    pub fn events_after(&self, seq: Seq, limit: usize) -> Result<Vec<Event>, LedgerFault> {
        let mut reader = Reader::new(&self.pages)?;
        let skip = usize::try_from(seq.0).unwrap_or(usize::MAX);
        self.places
            .iter()
            .enumerate()
            .skip(skip)
            .take(limit.min(READ_MOST))
            .map(|(nth, place)| self.event(&mut reader, Seq(nth as u64 + 1), place.offset))
            .collect()
    }

    fn event(&self, reader: &mut Reader<'_, P>, seq: Seq, at: u64) -> Result<Event, LedgerFault> {
        let (_, payload) =
            reader.frame(at)?.map_err(|why| scan::damaged(&self.pages, at, format!("record {seq}: {why}")))?;
        let event = event_of(payload).map_err(|why| match why {
            NoEvent::Newer(found) => LedgerFault::Newer {
                what: format!("record {seq} of the journal {}", self.pages.path().display()),
                found,
                known: u64::from(EVENT_VERSION),
            },
            NoEvent::Unreadable(what) => {
                scan::damaged(&self.pages, at, format!("record {seq} is not understood: {what}"))
            }
        })?;
        if event.seq == seq {
            Ok(event)
        } else {
            Err(scan::damaged(&self.pages, at, format!("record {seq} calls itself {}", event.seq)))
        }
    }

    fn place(&self, seq: Seq) -> Option<&Place> {
        let nth = usize::try_from(seq.0).ok()?.checked_sub(1)?;
        self.places.get(nth)
    }
}

impl Journal<FilePages> {
    /// Bytes that are not sealed yet.
    #[must_use]
    pub const fn unsealed(&self) -> u64 {
        self.pages.unsealed()
    }

    /// Packs everything up to the end away into sealed stretches. The events are the same before and after.
    ///
    /// # Errors
    /// When the disk does not take it; the journal is as it was then, and nothing more is taken until it is opened again.
    pub fn seal(&mut self) -> Result<(), LedgerFault> {
        if let Some(fault) = &self.latched {
            return Err(fault.latched());
        }
        let base = self.end.saturating_sub(self.pages.unsealed());
        let from = self.places.partition_point(|place| place.offset < base);
        let sealed = self.pages.seal(self.places.get(from..).unwrap_or_default());
        if let Err(fault) = &sealed {
            self.latched = Some(fault.clone());
        }
        sealed
    }
}

/// An event's bytes, after making sure that they read back as the same event: what cannot be read must never be
/// written (a number that is not finite would be).
fn payload(event: &Event) -> Result<Vec<u8>, LedgerFault> {
    let payload = serde_json::to_vec(event).map_err(|e| LedgerFault::Unwritable(e.to_string()))?;
    if payload.len() > PAYLOAD_MOST {
        let (found, most) = (payload.len() as u64, PAYLOAD_MOST as u64);
        return Err(LedgerFault::TooLarge { what: "one event (in bytes)", found, most });
    }
    match serde_json::from_slice::<Event>(&payload) {
        Ok(back) if back == *event => Ok(payload),
        Ok(_) => Err(LedgerFault::Unwritable("it reads back as something else".to_owned())),
        Err(e) => Err(LedgerFault::Unwritable(e.to_string())),
    }
}

/// Why a payload is no event of ours.
pub(super) enum NoEvent {
    /// Of a later version.
    Newer(u64),
    /// Not understood.
    Unreadable(String),
}

/// Only the version of an event.
#[derive(Deserialize)]
struct Version {
    v: Option<u64>,
}

/// The event in a payload, brought up to date if it is an older one.
pub(super) fn event_of(payload: &[u8]) -> Result<Event, NoEvent> {
    let unreadable = |e: serde_json::Error| NoEvent::Unreadable(e.to_string());
    // nearly every one is of this build's version, and is read once
    if let Ok(event) = serde_json::from_slice::<Event>(payload)
        && event.v == EVENT_VERSION
    {
        return Ok(event);
    }
    let Version { v } = serde_json::from_slice(payload).map_err(unreadable)?;
    if v == Some(u64::from(EVENT_VERSION)) {
        return serde_json::from_slice(payload).map_err(unreadable);
    }
    let value: Value = serde_json::from_slice(payload).map_err(unreadable)?;
    let value = upcast(value).map_err(|e| match e {
        UpcastFault::Newer(v) => NoEvent::Newer(v),
        UpcastFault::NoVersion => NoEvent::Unreadable(e.to_string()),
    })?;
    serde_json::from_value(value).map_err(unreadable)
}

/// Keeps a torn tail aside, then cuts it off.
fn cut_torn_tail<P: Pages>(pages: &mut P, scanned: &Scanned) -> Result<Vec<String>, LedgerFault> {
    let Some(why) = scanned.torn else {
        return Ok(Vec::new());
    };
    let length = pages.length().map_err(|e| scan::unreadable(pages, &e))?;
    let size = length.saturating_sub(scanned.end);
    let mut tail = vec![0; usize::try_from(size).unwrap_or(usize::MAX)];
    pages.read(scanned.end, &mut tail).map_err(|e| scan::unreadable(pages, &e))?;
    let kept = pages
        .keep_aside(&tail)
        .and_then(|kept| pages.cut(scanned.end).map(|()| kept))
        .map_err(|e| LedgerFault::io("cutting off a torn tail", pages.path(), &e))?;
    Ok(vec![format!(
        "The last write to the journal was not finished ({why}): {size} bytes after record {} were cut off and kept in {kept}. A crash or a power cut does that, and nobody was told that they were stored; without one, look at the disk.",
        scanned.places.len()
    )])
}
