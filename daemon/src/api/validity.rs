//! From when until when a certificate holds, read from its DER (RFC 5280, section 4.1): the library that serves TLS
//! compares a peer's, and does not tell of one's own.
//!
//! May live here: these two moments. May not: judging anything else of a certificate.

use chrono::{DateTime, NaiveDate, Utc};

const SEQUENCE: u8 = 0x30;
const VERSION: u8 = 0xA0;
const UTC_TIME: u8 = 0x17;
const GENERALIZED_TIME: u8 = 0x18;

/// Not before, and not after; none when the bytes are no certificate.
#[must_use]
pub(super) fn validity(der: &[u8]) -> Option<(DateTime<Utc>, DateTime<Utc>)> {
    let (certificate, _) = inside(der, SEQUENCE)?;
    let (mut fields, _) = inside(certificate, SEQUENCE)?;
    if fields.first() == Some(&VERSION) {
        fields = element(fields)?.2;
    }
    // serial number, signature algorithm, issuer
    for _ in 0..3 {
        fields = element(fields)?.2;
    }
    let (times, _) = inside(fields, SEQUENCE)?;
    let (tag, from, times) = element(times)?;
    let from = moment(tag, from)?;
    let (tag, to, _) = element(times)?;
    Some((from, moment(tag, to)?))
}

/// An element: its tag, what is in it, what follows it.
fn element(der: &[u8]) -> Option<(u8, &[u8], &[u8])> {
    let (tag, rest) = der.split_first()?;
    let (first, rest) = rest.split_first()?;
    let (length, rest) = match first {
        0..=0x7F => (usize::from(*first), rest),
        0x81..=0x84 => {
            let (bytes, rest) = rest.split_at_checked(usize::from(first & 0x7F))?;
            (bytes.iter().try_fold(0_usize, |sum, b| sum.checked_mul(256)?.checked_add(usize::from(*b)))?, rest)
        }
        _ => return None,
    };
    let (content, rest) = rest.split_at_checked(length)?;
    Some((*tag, content, rest))
}

fn inside(der: &[u8], wanted: u8) -> Option<(&[u8], &[u8])> {
    element(der).filter(|(tag, ..)| *tag == wanted).map(|(_, content, rest)| (content, rest))
}

/// `YYMMDDHHMMSSZ` with years 1950 to 2049, or `YYYYMMDDHHMMSSZ` (sections 4.1.2.5.1 and 4.1.2.5.2).
fn moment(tag: u8, text: &[u8]) -> Option<DateTime<Utc>> {
    let digits = text.strip_suffix(b"Z")?;
    if !digits.iter().all(u8::is_ascii_digit) {
        return None;
    }
    let number = |part: &[u8]| part.iter().fold(0_u32, |n, d| n * 10 + u32::from(d - b'0'));
    let (year, rest) = match tag {
        UTC_TIME => {
            let (year, rest) = digits.split_at_checked(2)?;
            let year = number(year);
            (if year < 50 { 2000 + year } else { 1900 + year }, rest)
        }
        GENERALIZED_TIME => {
            let (year, rest) = digits.split_at_checked(4)?;
            (number(year), rest)
        }
        _ => return None,
    };
    let [month, day, hour, minute, second] = rest.chunks(2).map(number).collect::<Vec<_>>().try_into().ok()?;
    let day = NaiveDate::from_ymd_opt(i32::try_from(year).ok()?, month, day)?;
    Some(day.and_hms_opt(hour, minute, second)?.and_utc())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn der(not_before: (i32, u8, u8), not_after: (i32, u8, u8)) -> Vec<u8> {
        let mut params = rcgen::CertificateParams::new(vec!["shop.example".to_owned()]).unwrap();
        params.not_before = rcgen::date_time_ymd(not_before.0, not_before.1, not_before.2);
        params.not_after = rcgen::date_time_ymd(not_after.0, not_after.1, not_after.2);
        params.self_signed(&rcgen::KeyPair::generate().unwrap()).unwrap().der().to_vec()
    }

    fn day(text: &str) -> DateTime<Utc> {
        format!("{text}T00:00:00Z").parse().unwrap()
    }

    /// What another library writes is read back: both forms of a year, on both sides of where they change.
    #[test]
    fn the_times_of_another_librarys_certificates_are_read() {
        let read = |from, to| validity(&der(from, to)).unwrap();
        assert_eq!(read((2026, 1, 2), (2049, 12, 31)), (day("2026-01-02"), day("2049-12-31")));
        assert_eq!(read((1999, 6, 30), (2050, 1, 1)), (day("1999-06-30"), day("2050-01-01")));
        assert_eq!(read((1950, 1, 1), (9999, 12, 31)), (day("1950-01-01"), day("9999-12-31")));
    }

    #[test]
    fn what_is_no_certificate_is_none() {
        let whole = der((2026, 1, 2), (2027, 1, 2));
        assert!((0..whole.len()).all(|n| validity(&whole[..n]).is_none()), "no part of one is one");
        for bad in [&b""[..], &[0x30], &[0x30, 0x84, 0xFF, 0xFF, 0xFF, 0xFF], &[0x30, 0x80, 0, 0], &[0xFF; 64]] {
            assert_eq!(validity(bad), None);
        }
        for at in 0..whole.len() {
            for bit in [1_u8, 0x80] {
                let mut torn = whole.clone();
                torn[at] ^= bit;
                // read or not, it is no panic
                let _ = validity(&torn);
            }
        }
    }
}
