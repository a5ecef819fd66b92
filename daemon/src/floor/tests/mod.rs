//! Tests of the floor: the stored table, the life of a sheet, rules told twice, invariants on random and on all
//! reachable states, and that each of these bites.

mod bites;
mod decisions;
mod explore;
mod invariants;
mod life;
mod offered;
mod random;
mod scenes;
mod stops;
mod stored;
mod watching;
