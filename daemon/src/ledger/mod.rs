//! Room `ledger`: what happened in the shop, kept so that neither `kill -9` nor a power cut loses a record that
//! somebody was told of. May live here: the store folder, its formats, the fold of events. May not: any decision.
//!
//! # Two layers
//!
//! The **journal** is the truth: an append-only file of events, on the disk before anybody is told. The **state** is
//! the fold of its events ([`State`]); the **index** keeps that state in sled so that opening is quick, and can be
//! thrown away. Replay never acts: folding is a pure function.
//!
//! Order of every command: decide, [`Ledger::append`] (write, sync), then publish, answer, act.
//!
//! # The store folder
//!
//! | name | what | when it is harmed |
//! |---|---|---|
//! | `lock` | locked while a daemon has the store; holds its process number | a second daemon is refused |
//! | `journal` | the events | torn tail: cut off, kept aside, told; anything else: refused, see `rescue` |
//! | `sealed/000001` … | what the journal held before, packed (`sealed`) | refused, see `rescue` |
//! | `journal-N.torn` | torn tails, kept | never read again |
//! | `programs/ab/cdef…` | programs by SHA-256 ([`shelf`]) | that program is refused, adding it again mends it |
//! | `progress` | how far the last cut had come ([`progress`]) | the older slot, or nothing |
//! | `restoring` | a backup is being written into the folder ([`mod@restore`]) | refused until that is done again |
//! | `index/` | sled: the folded state ([`index`]) | moved to `index.damaged/`, built anew, told |
//!
//! # The journal, byte by byte
//!
//! Frames one after the other, numbers big-endian ([`frame`]):
//!
//! | bytes | what |
//! |---|---|
//! | 0-3 | magic `FF 43 48 4A`; `FF` occurs in no UTF-8 text, so in no payload |
//! | 4-5 | format version, 1 |
//! | 6-7 | frames of the same append that follow: an append counts whole or not at all |
//! | 8-15 | sequence: 0 the header, then 1, 2, 3 … without a gap |
//! | 16-19 | length of the payload |
//! | 20-23 | CRC-32 (IEEE 802.3) over bytes 4-19 and the payload |
//! | 24- | payload: JSON |
//!
//! Record 0's payload is [`journal::Header`]; it is written with the file, whole, under a temporary name. Every
//! other payload is one `Event` with its own version `v`; older ones are brought up to date by
//! `chargehand_types::event::upcast`. The first 24 bytes and what the CRC covers stay the same in every format.
//!
//! Once it is long, everything up to its end is packed into `sealed/` and the file `journal` begins anew with a link (a
//! frame of format 2, sequence 0, whose payload is the place of the journal at which the file's own bytes begin). Offsets
//! and records are the same before and after; on opening, the sealed stretches' own tables say where records lie.
//!
//! On opening ([`scan`]) a bad frame is a torn tail only if no whole frame follows anywhere behind it. A torn tail
//! can only be what was never acknowledged, since every append is synced before its answer (or the very last record
//! went bad on the disk afterwards, which looks the same; so it is kept aside, and told).
//!
//! # The index, key by key
//!
//! Trees `cards`, `batches`, `sheets` (by id), `bits` (by number), `answered` (by sequence), `rest`, each value JSON in pieces with their
//! own CRC-32; and `meta`, one record: version of the fold, the journal's name, the last event folded in, that
//! event's checksum in the journal, and the sum of the checksums of all pieces. What an append changes and the new
//! `meta` are one transaction. An index of another fold version or journal, ahead of the journal, unlike it, or whose
//! sum is wrong, is thrown away.
//!
//! # Choices not taken
//!
//! Sled alone: its flush is not durable across power cuts. Starting from the journal alone: right, but slower each
//! year. Truncating a torn tail without keeping it: it may be all that is left of the last minute.

pub mod backup;
pub mod brought;
pub mod draft;
pub mod fault;
pub mod fold;
mod folder;
pub mod frame;
pub mod index;
pub mod journal;
mod lock;
pub mod pages;
pub mod progress;
pub mod rescue;
pub mod restore;
pub mod scan;
mod sealed;
pub mod shelf;
mod store;
pub mod thread;

pub use draft::Draft;
pub use fault::LedgerFault;
pub use fold::State;
pub use progress::Progress;
pub use rescue::{Rescued, rescue};
pub use shelf::sha256_of;
pub use thread::{Ledger, Opening, Reply};

#[cfg(test)]
#[allow(clippy::disallowed_methods, reason = "the tests of an I/O room use the real thing")]
mod tests;
