//! The screens as pictures, and what the keys do.

mod colours;
mod keys;
mod languages;
pub mod picture;
mod pictures;
mod steps;

pub use picture::settings;
