//! The screens at the machine: Now, Sheets, Day, History and Shop.
//!
//! One loop ([`run`]) turns keys, events and answers into [`Input`]s; [`Model::take`] is pure and answers with
//! [`Intent`]s; [`draw`] turns a model into cells and changes nothing else. May live here: that order. May not: any
//! rule about what may move. Every action shown comes from the daemon's own list.

mod acting;
mod answering;
mod draw;
mod guide;
mod hand;
mod hearing;
mod keys;
mod language;
mod map;
mod model;
mod page;
mod past;
mod placing;
mod round;
#[cfg(test)]
pub(crate) mod samples;
mod settings;
#[cfg(test)]
mod tests;
mod theme;
mod units;

pub use draw::draw;
pub use keys::Press;
pub use model::{Input, Intent, Model, Screen};
#[cfg(test)]
pub(crate) use page::fold;
pub use round::{run, run_guided};
pub use settings::{Colours, Settings, Symbols, Zone};
pub use units::Units;
