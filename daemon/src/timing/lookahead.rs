//! The look-ahead: how fast each joint is passed, so that every later limit is still met, over a bounded window.
//!
//! May live here: the forward and the backward pass and when a joint is settled. May not: where limits come from.
//!
//! A joint's speed is the lesser of what can be reached from behind and what can be braked from to rest at the newest
//! end. Later pieces can only raise the second: where the first is already the lesser, the joint is settled, and all
//! before it can be given out.

use super::ramp::Ramp;

/// Pieces held back at most. A window this long is only ever full where thousands of pieces together are shorter than
/// the way to rest; then its older half is given out as if the newest end were a stop.
const MOST_PIECES: usize = 8192;
/// Pieces gathered before joints are looked at again.
const FEWEST_PIECES: usize = 32;

/// A piece of one move.
#[derive(Debug, Clone, Copy)]
pub(super) struct Piece {
    /// Its way and limits.
    pub(super) ramp: Ramp,
    /// The square of the speed its beginning may be passed with.
    pub(super) entry2: f64,
    /// The source line of its move.
    pub(super) line: u32,
    /// Whether it is the last of its move.
    pub(super) ends_move: bool,
}

/// Takes the time of a piece.
pub(super) trait Sink {
    /// A piece takes this many seconds. Called in order.
    fn piece(&mut self, piece: &Piece, seconds: f64);
}

/// The pieces whose speeds are still open.
#[derive(Debug)]
pub(super) struct Window {
    /// Moves that are known at a time, the one being run included.
    most_moves: usize,
    /// Moves whose end lies in the window.
    moves: usize,
    pieces: Vec<Piece>,
    /// Of each piece, the square of the speed its beginning can be reached with; overwritten by the settled one.
    reach2: Vec<f64>,
    /// The square of the speed the newest end can be reached with.
    end2: f64,
    /// Length at which joints are looked at next.
    next_look: usize,
}

impl Window {
    /// Empty, at rest. A controller that knows fewer than two moves at a time would never get going.
    pub(super) fn of(most_moves: usize) -> Self {
        Self {
            most_moves: most_moves.max(2),
            moves: 0,
            pieces: Vec::new(),
            reach2: Vec::new(),
            end2: 0.0,
            next_look: FEWEST_PIECES,
        }
    }

    /// Adds a piece after the newest.
    pub(super) fn push(&mut self, piece: Piece, sink: &mut impl Sink) {
        let reach2 = self.end2.min(piece.entry2).min(piece.ramp.ceiling2);
        self.end2 = (reach2 + piece.ramp.gain()).min(piece.ramp.ceiling2);
        self.pieces.push(piece);
        self.reach2.push(reach2);
        self.moves += usize::from(piece.ends_move);
        if self.moves >= self.most_moves {
            self.make_room(sink);
        } else if self.pieces.len() >= self.next_look {
            self.look(sink);
        }
    }

    /// As many moves are known as can be: the first is run as far as it can with the newest end a stop.
    fn make_room(&mut self, sink: &mut impl Sink) {
        self.look(sink);
        if self.moves >= self.most_moves {
            let first = self.pieces.iter().position(|piece| piece.ends_move);
            self.cut(first.map_or(0, |at| at + 1), sink);
        }
    }

    /// Comes to rest at the newest end and gives everything out.
    pub(super) fn rest(&mut self, sink: &mut impl Sink) {
        self.give(self.pieces.len(), 0.0, sink);
        self.end2 = 0.0;
    }

    fn look(&mut self, sink: &mut impl Sink) {
        let full = self.pieces.len() >= MOST_PIECES;
        let mut braked2 = 0.0_f64;
        for (at, (piece, reach2)) in self.pieces.iter().zip(&self.reach2).enumerate().rev() {
            braked2 = (braked2 + piece.ramp.gain()).min(piece.ramp.ceiling2);
            if braked2 >= *reach2 {
                let settled2 = *reach2;
                self.give(at, settled2, sink);
                break;
            }
        }
        // a full window that stays nearly full would be looked through again at every piece
        if full && self.pieces.len() > MOST_PIECES / 2 {
            self.cut(self.pieces.len() / 2, sink);
        }
        self.next_look = (self.pieces.len() * 2).clamp(FEWEST_PIECES, MOST_PIECES);
    }

    /// Gives out the first `count` pieces, braking as if the newest end were a stop.
    fn cut(&mut self, count: usize, sink: &mut impl Sink) {
        let mut speed2 = 0.0_f64;
        for (piece, reach2) in self.pieces.iter().zip(&self.reach2).skip(count).rev() {
            speed2 = (speed2 + piece.ramp.gain()).min(*reach2);
        }
        self.give(count, speed2, sink);
        self.end2 = speed2;
        for (piece, reach2) in self.pieces.iter().zip(&mut self.reach2) {
            *reach2 = self.end2.min(*reach2);
            self.end2 = (*reach2 + piece.ramp.gain()).min(piece.ramp.ceiling2);
        }
    }

    /// Gives out the first `count` pieces, the last of them left with this speed (squared).
    fn give(&mut self, count: usize, exit2: f64, sink: &mut impl Sink) {
        if count == 0 {
            return;
        }
        let mut out2 = exit2;
        for (piece, reach2) in self.pieces.iter().zip(&mut self.reach2).take(count).rev() {
            *reach2 = (out2 + piece.ramp.gain()).min(*reach2);
            out2 = *reach2;
        }
        let exits = self.reach2.iter().take(count).skip(1).chain(std::iter::once(&exit2));
        for ((piece, in2), out2) in self.pieces.iter().zip(&self.reach2).zip(exits) {
            self.moves -= usize::from(piece.ends_move);
            sink.piece(piece, piece.ramp.seconds(*in2, *out2));
        }
        self.pieces.drain(..count);
        self.reach2.drain(..count);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Default)]
    struct Times(Vec<f64>);
    impl Sink for Times {
        fn piece(&mut self, _: &Piece, seconds: f64) {
            self.0.push(seconds);
        }
    }

    fn piece(length: f64, ceiling: f64, joint: f64) -> Piece {
        Piece {
            ramp: Ramp { length, acceleration: 400.0, ceiling2: ceiling * ceiling },
            entry2: joint * joint,
            line: 1,
            ends_move: true,
        }
    }

    fn run(pieces: &[Piece]) -> Vec<f64> {
        run_knowing(usize::MAX, pieces)
    }

    fn run_knowing(moves: usize, pieces: &[Piece]) -> Vec<f64> {
        let (mut window, mut times) = (Window::of(moves), Times::default());
        for p in pieces {
            window.push(*p, &mut times);
        }
        window.rest(&mut times);
        times.0
    }

    /// Length, ceiling, joint limit in and seconds of trade-facts 2.5 (solved there numerically two ways).
    const SEVEN: [(f64, f64, f64, f64); 7] = [
        (60.0, 50.0, 0.0, 1.3145),
        (46.0, 50.0, 4.3947, 0.9745),
        (2.0 * std::f64::consts::PI, 40.0, 40.0, 0.15708),
        (36.0, 50.0, 40.0, 0.7745),
        (15.0, 50.0, 4.3947, 0.39229),
        (std::f64::consts::SQRT_2, 50.0, 9.8538, 0.079454),
        (19.0, 50.0, 9.8538, 0.48279),
    ];

    #[test]
    fn seven_segments_take_4_1751_s() {
        let pieces = SEVEN.map(|(length, ceiling, joint, _)| piece(length, ceiling, joint));
        let times = run(&pieces);
        for (found, (.., expected)) in times.iter().zip(SEVEN) {
            assert!((found - expected).abs() < expected * 1.0e-3, "{found} s is not {expected}");
        }
        let total = times.iter().sum::<f64>();
        assert!((total - 4.1751).abs() < 4.1751e-3, "{total}");
    }

    #[test]
    fn exact_stops_take_4_521_s() {
        let stopped = SEVEN.map(|(length, ceiling, ..)| piece(length, ceiling, 0.0));
        let total = run(&stopped).iter().sum::<f64>();
        assert!((total - 4.521).abs() < 4.521e-3, "{total}");
    }

    #[test]
    fn streaming_changes_no_time() {
        // every joint settled early or late: the same as one pass over everything at once
        let pieces: Vec<_> = (0..3000_u32)
            .map(|i| {
                let k = f64::from(i.wrapping_mul(2_654_435_761) >> 8) / f64::from(1 << 24);
                piece(0.02 + 3.0 * k * k, 20.0 + 80.0 * k, 5.0 + 150.0 * (1.0 - k))
            })
            .collect();
        let mut reach = vec![0.0_f64; pieces.len() + 1];
        for (i, p) in pieces.iter().enumerate() {
            let cap = p.entry2.min(p.ramp.ceiling2);
            reach[i] = if i == 0 { 0.0 } else { reach[i].min(cap) };
            reach[i + 1] = (reach[i] + p.ramp.gain()).min(p.ramp.ceiling2);
        }
        reach[pieces.len()] = 0.0;
        for i in (0..pieces.len()).rev() {
            reach[i] = reach[i].min(reach[i + 1] + pieces[i].ramp.gain());
        }
        let whole: f64 = pieces.iter().zip(reach.windows(2)).map(|(p, v)| p.ramp.seconds(v[0], v[1])).sum();
        let streamed: f64 = run(&pieces).iter().sum();
        assert!((whole - streamed).abs() < whole * 1.0e-9, "{whole} and {streamed}");
    }

    /// Every move planned anew from those known when it begins: slow, and plain to see.
    fn one_move_at_a_time(known: usize, pieces: &[Piece]) -> Vec<f64> {
        let limit2 = |at: usize| {
            let entry2 = pieces.get(at).map_or(0.0, |p| p.entry2.min(p.ramp.ceiling2));
            pieces.get(at.wrapping_sub(1)).map_or(0.0, |p| entry2.min(p.ramp.ceiling2))
        };
        let mut in2 = 0.0;
        let mut times = Vec::new();
        for (at, piece) in pieces.iter().enumerate() {
            let stop = (at + known).min(pieces.len());
            let braked2 = (at + 1..stop).rev().fold(0.0_f64, |v2, k| (v2 + pieces[k].ramp.gain()).min(limit2(k)));
            let out2 = braked2.min(in2 + piece.ramp.gain());
            times.push(piece.ramp.seconds(in2, out2));
            in2 = out2;
        }
        times
    }

    #[test]
    fn few_known_moves_are_run_as_if_planned_one_by_one() {
        let pieces: Vec<_> = (0..700_u32)
            .map(|i| {
                let k = f64::from(i.wrapping_mul(2_654_435_761) >> 8) / f64::from(1 << 24);
                piece(0.02 + 0.5 * k * k, 20.0 + 80.0 * k, 5.0 + 150.0 * (1.0 - k))
            })
            .collect();
        for known in [2, 3, 7, 16, 120] {
            let (found, expected) = (run_knowing(known, &pieces), one_move_at_a_time(known, &pieces));
            assert_eq!(found.len(), expected.len());
            for (at, (found, expected)) in found.iter().zip(&expected).enumerate() {
                assert!((found - expected).abs() < expected * 1.0e-9, "{known}: {at} takes {found}, not {expected}");
            }
        }
    }

    #[test]
    fn short_moves_are_only_as_fast_as_what_is_known_can_be_braked_in() {
        // v^2 = 2 a d (constant acceleration): with 16 moves of 0.05 mm known, 15 of them are there to stop in
        let pieces = vec![piece(0.05, 100.0, 100.0); 4000];
        let times = run_knowing(16, &pieces);
        let even = &times[100..3900];
        // each joint is passed with v, and between two of them speed is gained and lost: t = 2 (sqrt(v^2 + a d) - v) / a
        let (v2, a, d) = (2.0_f64 * 400.0 * 15.0 * 0.05, 400.0, 0.05);
        let each = 2.0 * ((v2 + a * d).sqrt() - v2.sqrt()) / a;
        assert!(even.iter().all(|t| (t - each).abs() < each * 1.0e-9), "{each} s each, not {}", even[0]);
    }

    #[test]
    fn window_never_outgrows_its_bound() {
        // a way to rest longer than any window: the bound holds and every piece is still given out
        let (mut window, mut times) = (Window::of(usize::MAX), Times::default());
        for _ in 0..50_000 {
            window.push(piece(0.0001, 1000.0, 1000.0), &mut times);
            assert!(window.pieces.len() <= MOST_PIECES);
        }
        window.rest(&mut times);
        assert_eq!(times.0.len(), 50_000);
        let ideal = 2.0 * (5.0_f64 / 400.0).sqrt();
        let total: f64 = times.0.iter().sum();
        assert!(total >= ideal * 0.999 && total < ideal * 1.5, "{total} against {ideal}");
    }
}
