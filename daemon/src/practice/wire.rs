//! The serial line's own time: a byte takes ten bits of baud (8N1: a start bit, eight of data, a stop bit), each way.
//! Seconds of machine time.

use std::collections::VecDeque;

/// Bytes that the receiving end takes off the system's hands before they are on the wire: an adapter's own buffer.
const ADAPTER_BYTES: usize = 64;

/// Seconds a byte takes.
fn byte_seconds(baud: u32) -> f64 {
    10.0 / f64::from(baud.max(1))
}

/// Towards the controller.
#[derive(Debug)]
pub(in crate::practice) struct Arriving {
    byte_seconds: f64,
    /// When the line is free again.
    free: f64,
    on_the_way: VecDeque<(f64, u8)>,
}

impl Arriving {
    pub fn new(baud: u32) -> Self {
        Self { byte_seconds: byte_seconds(baud), free: 0.0, on_the_way: VecDeque::new() }
    }

    /// Puts bytes on the line.
    pub fn put(&mut self, now: f64, bytes: &[u8]) {
        self.free = self.free.max(now);
        for &byte in bytes {
            self.free += self.byte_seconds;
            self.on_the_way.push_back((self.free, byte));
        }
    }

    /// Bytes it takes now without letting more wait than an adapter holds.
    pub fn room(&self) -> usize {
        ADAPTER_BYTES.saturating_sub(self.on_the_way.len())
    }

    /// When about half of what waits has arrived, so that more can be given before it runs dry.
    pub fn half_empty(&self) -> Option<f64> {
        let over = self.on_the_way.len().checked_sub(ADAPTER_BYTES / 2)?;
        self.on_the_way.get(over.saturating_sub(1)).map(|(at, _)| *at)
    }

    /// The next byte that has arrived by now.
    pub fn take(&mut self, now: f64) -> Option<u8> {
        self.on_the_way.front().filter(|(at, _)| *at <= now)?;
        self.on_the_way.pop_front().map(|(_, byte)| byte)
    }

    /// When the next byte arrives.
    pub fn next(&self) -> Option<f64> {
        self.on_the_way.front().map(|(at, _)| *at)
    }

    /// When the next byte arrives that makes it do something: the end of a line, or a byte that acts at once.
    pub fn next_of_note(&self) -> Option<f64> {
        let note =
            self.on_the_way.iter().find(|(_, b)| matches!(b, b'\n' | b'\r' | b'?' | b'!' | b'~' | 0x18 | 0x80..));
        note.or(self.on_the_way.back()).map(|(at, _)| *at)
    }

    /// Everything on the way is lost.
    pub fn clear(&mut self) {
        self.on_the_way.clear();
    }
}

/// From the controller, in lines: a line is handed over once its last byte is through.
#[derive(Debug)]
pub(in crate::practice) struct Leaving {
    byte_seconds: f64,
    free: f64,
    lines: VecDeque<(f64, Vec<u8>)>,
}

impl Leaving {
    pub fn new(baud: u32) -> Self {
        Self { byte_seconds: byte_seconds(baud), free: 0.0, lines: VecDeque::new() }
    }

    pub fn put(&mut self, now: f64, bytes: Vec<u8>) {
        self.free = self.free.max(now) + self.byte_seconds * bytes.len() as f64;
        self.lines.push_back((self.free, bytes));
    }

    /// What is through by now.
    pub fn take(&mut self, now: f64) -> Vec<u8> {
        let mut through = Vec::new();
        while self.lines.front().is_some_and(|(at, _)| *at <= now) {
            through.extend(self.lines.pop_front().unwrap_or_default().1);
        }
        through
    }

    pub fn next(&self) -> Option<f64> {
        self.lines.front().map(|(at, _)| *at)
    }

    pub fn clear(&mut self) {
        self.lines.clear();
    }
}
