//! A list of a fixed number of entries. An array of `serde` reads its first entries and never looks whether more
//! follow; here a list too long is a fault like one too short.

use serde::{Deserialize, Deserializer, de::Error};

/// Exactly `N` entries.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Row<T, const N: usize>(pub [T; N]);

impl<'de, T: Deserialize<'de>, const N: usize> Deserialize<'de> for Row<T, N> {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let list = Vec::<T>::deserialize(d)?;
        let found = list.len();
        <[T; N]>::try_from(list)
            .map(Self)
            .map_err(|_| D::Error::invalid_length(found, &format!("an array of length {N}").as_str()))
    }
}
