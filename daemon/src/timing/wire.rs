//! What the serial line itself needs.
//!
//! May live here: bytes and baud as seconds. May not: flow control, which is the link's.

use chargehand_types::quantity::Seconds;

/// Bits on the wire for a byte: a start bit, eight of data, a stop bit (8N1).
pub const BITS_A_BYTE: f64 = 10.0;

/// The least time this many bytes need on a line of this rate. A rate of 0 is no serial line and needs none.
#[must_use]
pub fn wire_time(bytes: u64, baud: u32) -> Seconds {
    if baud == 0 {
        return Seconds::ZERO;
    }
    #[expect(clippy::cast_precision_loss, reason = "programs are far below 2^53 bytes")]
    let bits = bytes as f64 * BITS_A_BYTE;
    Seconds::of(bits / f64::from(baud))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bytes_take_their_time() {
        // trade-facts 7.1, line_time_ms and bytes_per_s (8N1)
        assert!((wire_time(27, 115_200).value() * 1000.0 - 2.3438).abs() < 1.0e-4);
        assert!((wire_time(80, 9_600).value() * 1000.0 - 83.333).abs() < 1.0e-3);
        assert!((wire_time(11_520, 115_200).value() - 1.0).abs() < 1.0e-12);
        assert_eq!(wire_time(1000, 0), Seconds::ZERO);
    }
}
