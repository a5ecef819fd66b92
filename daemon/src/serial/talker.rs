//! What the thread drives.

use crate::link::Link;
use crate::link::wire::{Input, Output};
use chargehand_types::quantity::Tick;

/// A conversation that takes inputs and gives outputs. After every input all outputs are taken before the next.
pub trait Talker: Send {
    /// Takes one input.
    fn take(&mut self, now: Tick, input: Input<'_>);
    /// The next output; none once drained.
    fn next_output(&mut self) -> Option<Output>;
}

impl Talker for Link {
    fn take(&mut self, now: Tick, input: Input<'_>) {
        Self::take(self, now, input);
    }

    fn next_output(&mut self) -> Option<Output> {
        Self::next_output(self)
    }
}
