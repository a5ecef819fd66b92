//! Chargehand's terminal at the machine and its command line.
//!
//! Both talk to the daemon over its API like anybody else and know it only by `chargehand-types`; nothing here
//! decides what may move. The order of the rooms: [`outside`] (environment, clock, files), [`client`] (the API),
//! [`walker`] (an operator played by rule), [`words`] and [`exit`] (how figures and ends are said), [`day`] (the plan of the day as text), [`trouble`] (the short
//! cards), [`ui`] (the screens), [`demo`] (the practice shop), [`cli`] (the verbs).

pub mod cli;
pub mod client;
pub mod day;
pub mod demo;
pub mod exit;
pub mod outside;
pub mod report;
pub mod trouble;
pub mod ui;
pub mod walker;
pub mod words;
