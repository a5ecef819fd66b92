//! Tests of the room.

mod book;
mod pins;
mod places;
