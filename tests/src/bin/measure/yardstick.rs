//! The outside yardsticks: general-purpose crates that take the same text apart, and do nothing with it.

use futures_util::{FutureExt as _, stream};
use gcode::core::{
    BlockVisitor, CommandVisitor, ControlFlow, Diagnostics, HasDiagnostics, Noop, Number, ProgramVisitor,
};
use gcode::core::{Span, Value};

/// Tokens of async-gcode 0.3, which takes a stream of bytes.
pub fn tokens(text: &[u8]) -> u64 {
    let bytes = stream::iter(text.iter().map(|b| Ok::<u8, async_gcode::Error>(*b)));
    let mut parser = async_gcode::Parser::new(bytes);
    let counted = async {
        let mut tokens = 0;
        while let Some(token) = parser.next().await {
            tokens += u64::from(token.is_ok());
        }
        tokens
    };
    counted.now_or_never().unwrap_or_default()
}

/// Words of gcode 0.7 through its visitor, which allocates nothing.
pub fn words(text: &str) -> u64 {
    let mut counter = Counter { words: 0, diagnostics: Noop };
    gcode::core::parse(text, &mut counter);
    counter.words
}

struct Counter {
    words: u64,
    diagnostics: Noop,
}

/// A block or a command that is being visited.
struct Inside<'a>(&'a mut Counter);

impl HasDiagnostics for Counter {
    fn diagnostics(&mut self) -> &mut dyn Diagnostics {
        &mut self.diagnostics
    }
}

impl HasDiagnostics for Inside<'_> {
    fn diagnostics(&mut self) -> &mut dyn Diagnostics {
        &mut self.0.diagnostics
    }
}

#[allow(refining_impl_trait, reason = "what is visited is private here")]
impl ProgramVisitor for Counter {
    fn start_block(&mut self) -> ControlFlow<Inside<'_>> {
        ControlFlow::Continue(Inside(self))
    }
}

impl Inside<'_> {
    fn command(&mut self) -> ControlFlow<Inside<'_>> {
        self.0.words += 1;
        ControlFlow::Continue(Inside(self.0))
    }
}

#[allow(refining_impl_trait, reason = "what is visited is private here")]
impl BlockVisitor for Inside<'_> {
    fn start_general_code(&mut self, _: Number) -> ControlFlow<Inside<'_>> {
        self.command()
    }

    fn start_miscellaneous_code(&mut self, _: Number) -> ControlFlow<Inside<'_>> {
        self.command()
    }

    fn start_tool_change_code(&mut self, _: Number) -> ControlFlow<Inside<'_>> {
        self.command()
    }

    fn word_address(&mut self, _: char, _: Value<'_>, _: Span) {
        self.0.words += 1;
    }
}

impl CommandVisitor for Inside<'_> {
    fn argument(&mut self, _: char, _: Value<'_>, _: Span) {
        self.0.words += 1;
    }
}
