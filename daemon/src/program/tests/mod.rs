//! Tests of the room as a whole.
