//! How long nobody's PIN is looked at after wrong ones. The wait grows, so that a PIN of four digits holds.
//!
//! May live here: the waits. May not: counting whose they are.

use std::time::Duration;

/// Wrong PINs that cost nothing: fingers slip.
pub const FREE: u32 = 3;
/// The wait after the first one that does.
const FIRST: Duration = Duration::from_secs(30);
/// The longest.
const LONGEST: Duration = Duration::from_secs(3600);

/// How long no PIN of a person is looked at after so many wrong ones in a row; none while they cost nothing.
#[must_use]
pub fn wait_after(wrong: u32) -> Option<Duration> {
    let over = wrong.checked_sub(FREE)?;
    Some(FIRST.saturating_mul(2_u32.saturating_pow(over)).min(LONGEST))
}
