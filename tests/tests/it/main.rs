//! Whole-program tests.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::disallowed_methods,
    reason = "a test fails by panicking, and uses the real clock, files and sockets"
)]

mod at_screen;
mod awake;
mod backed_up;
mod bad_input;
mod booked;
mod browser;
mod cases;
mod clearance;
mod closing_touch;
mod day;
mod day_lists;
mod days;
mod days_bite;
mod documented;
mod drafting;
mod drafts;
mod explored;
mod first_article;
mod going_on;
mod hand_run;
mod held_ahead;
mod holddown;
mod holding;
mod house;
mod hovering;
mod interrupted;
mod judged;
mod killed;
mod lots;
mod network;
mod on_desktop;
mod outward;
mod packaged;
mod past;
mod people;
mod plans;
mod ports;
mod practised;
mod re_entry;
mod reported;
mod revised;
mod sets;
mod shipped;
mod step_places;
mod stepping_away;
mod store_faults;
mod thrown;
mod time_step;
mod touching;
mod trajectory;
mod upgraded;
mod whole_sheet;
