//! The screens as pictures, and what the keys do.

mod keys;
mod languages;
mod picture;
mod pictures;
