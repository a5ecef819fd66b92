//! Room `app`: everything wired. The only place that knows every room, and the one that translates between them:
//! link reports into happenings of the floor, deeds of the floor into commands of the link, events into answers.
//!
//! May live here: wiring, translation, wording, the one clock. May not: a rule that another room should keep.

mod acts;
mod air;
mod allowance;
mod awake;
mod backup;
mod books;
mod bow;
mod brought;
mod by_hand;
mod cards;
mod clock;
mod closing;
mod corrections;
mod day_due;
mod day_lists;
mod deeds;
mod desk;
mod doctor;
mod drafts;
mod effort;
mod fits;
mod foreman;
mod hand_run;
mod hearing;
mod keeper;
mod lapsing;
mod lists;
mod network;
mod numbered;
mod orders;
mod outward;
mod overrides;
mod past;
mod people;
mod planning;
mod plate;
mod premises;
mod programs;
mod re_entry;
mod replanning;
mod report;
mod rests;
mod revisions;
mod running;
mod service;
mod stepping_away;
mod stopwatch;
mod stretch;
mod surroundings;
mod talk;
mod tried;
mod upkeep;
mod view;
mod wording;
mod work;

pub use by_hand::{ByHand, practice_machine};
pub use clock::MachineClock;
pub use network::{identity as network_identity, make_certificate};
pub use premises::{Options, Premises, PremisesFault, read as read_premises, store_folder};
pub use running::{RunFault, run};
pub use talk::{own_profiles, talk};
