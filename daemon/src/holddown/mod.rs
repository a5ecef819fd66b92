//! Room `holddown`: what the bit sweeps, fasteners and the waste board in; where fasteners can stand, what they hold, and
//! what is needed out.
//!
//! May live here: the strength of fasteners, their room on the sheet, the proposal, its drawing. May not: reading cards
//! or programs, findings, what a person does about a place.
//!
//! Inside this room lengths are `f64` in millimetres and forces in newtons, in the work frame of the moves.

mod drawing;
mod footing;
mod free;
mod hold;
mod marking;
mod proposal;
mod strength;
mod struck;

pub use drawing::{Sheetful, draw_sheet};
pub use footing::Footing;
pub use free::{FreeCircle, largest_free};
pub use hold::{Board, Hold, Pull, held, needed, penetration};
pub use marking::{Dimple, Over, hover, mark};
pub use proposal::{Ask, CORNERS, HOLE, LoosePiece, Placed, Proposal, Trouble, Why, propose};
pub use strength::{lateral_group, nail_lateral, nail_withdrawal, screw_in_board, screw_in_wood, screw_lateral};
pub use struck::{Levels, Stand, Struck, struck, struck_by};
