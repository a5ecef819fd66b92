//! The screens as pictures, and what the keys do.

mod keys;
mod picture;
mod pictures;
