//! Frames: how one record lies in the journal, byte by byte. Pure.
//!
//! May live here: writing and reading one frame. May not: files, events.

/// The version of the journal's format that this build writes. The first 24 bytes and what the CRC covers are the
/// same in every version, so that an older build can tell "newer" from "damaged".
pub const FORMAT: u16 = 1;
/// `FF` never occurs in JSON text, so no payload looks like the begin of a frame.
pub const MAGIC: [u8; 4] = [0xFF, b'C', b'H', b'J'];
/// Bytes before the payload.
pub const HEAD: usize = 24;
/// The largest payload: a card's text with room to spare.
pub const PAYLOAD_MOST: usize = 8 * 1024 * 1024;

/// The fixed part of a frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Head {
    /// The format's version.
    pub format: u16,
    /// Frames of the same append that follow: an append counts whole or not at all.
    pub rest: u16,
    /// The record's place.
    pub sequence: u64,
    /// Bytes of payload.
    pub length: usize,
    /// CRC-32 (IEEE 802.3) over format, rest, sequence, length and payload.
    pub crc: u32,
}

/// Why bytes are no frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NoFrame {
    /// Too few bytes.
    #[error("the record ends early")]
    Short,
    /// Something else begins here.
    #[error("no record begins here")]
    Magic,
    /// No record is that long.
    #[error("a record of {0} bytes, and none is that long")]
    Length(u64),
    /// The bytes are not those that were written.
    #[error("the record's checksum is wrong")]
    Crc,
}

/// The format of the frame that a journal file begins with when what was before it is sealed: a build that knows no
/// sealed stretches says that a newer one wrote it.
pub const LINK: u16 = 2;

/// Adds a frame at the end of `into`. The payload is at most [`PAYLOAD_MOST`].
pub fn write(into: &mut Vec<u8>, rest: u16, sequence: u64, payload: &[u8]) {
    write_as(into, FORMAT, rest, sequence, payload);
}

/// A link: the journal file's own bytes begin at this place of the journal.
#[must_use]
pub fn link(base: u64) -> Vec<u8> {
    let mut bytes = Vec::new();
    write_as(&mut bytes, LINK, 0, 0, &base.to_be_bytes());
    bytes
}

/// The place that a journal file's own bytes begin at, and how long its link is; 0 and 0 for a file without one.
///
/// # Errors
/// When the file's begin is no whole frame.
pub fn linked(begin: &[u8]) -> Result<(u64, usize), NoFrame> {
    let of = head(begin)?;
    if of.format != LINK {
        return Ok((0, 0));
    }
    let (_, payload) = read(begin)?;
    let base = payload.first_chunk::<8>().ok_or(NoFrame::Short)?;
    Ok((u64::from_be_bytes(*base), HEAD + of.length))
}

fn write_as(into: &mut Vec<u8>, format: u16, rest: u16, sequence: u64, payload: &[u8]) {
    let length = u32::try_from(payload.len()).unwrap_or(u32::MAX);
    into.extend(MAGIC);
    let covered = into.len();
    into.extend(format.to_be_bytes());
    into.extend(rest.to_be_bytes());
    into.extend(sequence.to_be_bytes());
    into.extend(length.to_be_bytes());
    let crc = check(into.get(covered..).unwrap_or_default(), payload);
    into.extend(crc.to_be_bytes());
    into.extend(payload);
}

/// Reads the fixed part; the payload is not looked at.
///
/// # Errors
/// When it is too short, begins with something else or tells an impossible length.
pub fn head(bytes: &[u8]) -> Result<Head, NoFrame> {
    let rest = match bytes.split_first_chunk::<4>() {
        None => return Err(NoFrame::Short),
        Some((magic, _)) if *magic != MAGIC => return Err(NoFrame::Magic),
        Some((_, rest)) => rest,
    };
    let (format, rest) = rest.split_first_chunk::<2>().ok_or(NoFrame::Short)?;
    let (following, rest) = rest.split_first_chunk::<2>().ok_or(NoFrame::Short)?;
    let (sequence, rest) = rest.split_first_chunk::<8>().ok_or(NoFrame::Short)?;
    let (length, rest) = rest.split_first_chunk::<4>().ok_or(NoFrame::Short)?;
    let (crc, _) = rest.split_first_chunk::<4>().ok_or(NoFrame::Short)?;
    let told = u32::from_be_bytes(*length);
    match usize::try_from(told) {
        Ok(length) if length <= PAYLOAD_MOST => Ok(Head {
            format: u16::from_be_bytes(*format),
            rest: u16::from_be_bytes(*following),
            sequence: u64::from_be_bytes(*sequence),
            length,
            crc: u32::from_be_bytes(*crc),
        }),
        Ok(_) | Err(_) => Err(NoFrame::Length(u64::from(told))),
    }
}

/// Reads the whole frame at the begin of `bytes`, its CRC checked.
///
/// # Errors
/// When there is no whole and unharmed frame.
pub fn read(bytes: &[u8]) -> Result<(Head, &[u8]), NoFrame> {
    let head = head(bytes)?;
    let payload = bytes.get(HEAD..HEAD + head.length).ok_or(NoFrame::Short)?;
    let covered = bytes.get(MAGIC.len()..HEAD - 4).ok_or(NoFrame::Short)?;
    if check(covered, payload) == head.crc { Ok((head, payload)) } else { Err(NoFrame::Crc) }
}

fn check(covered: &[u8], payload: &[u8]) -> u32 {
    let mut crc = crc32fast::Hasher::new();
    crc.update(covered);
    crc.update(payload);
    crc.finalize()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_checksum_is_the_standards() {
        // The check value of CRC-32 (IEEE 802.3, ISO/IEC 3309) over the digits 1 to 9, as catalogues of CRCs list it.
        assert_eq!(check(b"1234", b"56789"), 0xCBF4_3926);
    }

    #[test]
    fn a_frame_lies_as_described() {
        let mut bytes = Vec::new();
        write(&mut bytes, 2, 7, b"{}");
        assert_eq!(bytes[..20], *b"\xFFCHJ\0\x01\0\x02\0\0\0\0\0\0\0\x07\0\0\0\x02");
        assert_eq!(bytes[24..], *b"{}");
        let (head, payload) = read(&bytes).unwrap();
        assert_eq!((head.format, head.rest, head.sequence, payload), (1, 2, 7, &b"{}"[..]));
    }

    #[test]
    fn every_flipped_bit_is_noticed() {
        let mut bytes = Vec::new();
        write(&mut bytes, 0, 1, b"{\"kind\":\"daemon.started\"}");
        for bit in 0..bytes.len() * 8 {
            bytes[bit / 8] ^= 1 << (bit % 8);
            assert!(read(&bytes).is_err(), "bit {bit}");
            bytes[bit / 8] ^= 1 << (bit % 8);
        }
    }

    #[test]
    fn every_short_frame_is_noticed() {
        let mut bytes = Vec::new();
        write(&mut bytes, 0, 1, b"{}");
        for length in 0..bytes.len() {
            assert_eq!(read(&bytes[..length]), Err(NoFrame::Short), "{length}");
        }
    }
}
