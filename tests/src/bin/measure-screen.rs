//! What the terminal costs: a frame of Now with a map of 200,000 moves; the first screen, idling and the bytes drawn
//! while it cuts, on a pseudo-terminal with the real daemon.
//!
//! `cargo run --release -p chargehand-tests --bin measure-screen`. It prints figures and judges none.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::disallowed_methods,
    reason = "a measurement says what it misses by failing, and uses the real clock and files"
)]

use chargehand_terminal::ui::{Input, Model, Settings, draw};
use chargehand_tests::at_line::Screen;
use chargehand_tests::listeners::core_seconds;
use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop, command_line};
use chargehand_types::check::{CutPath, Drawing};
use chargehand_types::quantity::{Length, Spot};
use ratatui::Terminal;
use ratatui::backend::TestBackend;
use std::time::{Duration, Instant};

/// Legs of the drawing.
const MOVES: u32 = 200_000;
const FRAMES: u32 = 200;

fn main() {
    let mut shop = Workshop::new(1.0);
    let client = shop.start();
    client.add_card(&shop.card()).expect("the card is taken");
    client.add_batch(CARD, 1).expect("a batch is taken");
    first_screen(&shop);
    idle(&shop);
    let mut operator = Operator::owner(&client);
    let now = operator.walk_into_cut();
    frame(now);
    cutting(&shop);
}

/// A pocket cleared to and fro in legs of a tenth of a millimetre, the sheet's outline around it.
fn drawing() -> Drawing {
    let leg = |i: u32| [60.0 + (i % 8_000).abs_diff(4_000) as f32 * 0.1, 100.0 + i as f32 * 0.005];
    let mm = Length::whole_mm;
    Drawing {
        size: [mm(610), mm(1220)],
        corner: Spot { x: mm(0), y: mm(0) },
        paths: vec![CutPath {
            operation: 0,
            lines: [1, MOVES],
            through: false,
            points: (0..=MOVES).map(leg).collect(),
        }],
        fasteners: Vec::new(),
    }
}

fn frame(now: chargehand_types::now::Now) {
    let sheet = now.sheet.clone().expect("a sheet is cut");
    let names = vec![sheet.operation.clone().map(|o| o.name).unwrap_or_default()];
    let mut model = Model::new(Settings::of_environment(Some(chargehand_terminal::ui::Symbols::Braille), None, None));
    let _ = model.take(Input::Linked, 0);
    let _ = model.take(Input::Now(Box::new(Ok(now))), 0);
    let _ = model.take(Input::SheetPicture(sheet.id, sheet.card, Box::new(Ok((drawing(), names)))), 0);
    for (wide, high) in [(80, 24), (120, 40), (200, 60)] {
        let mut terminal = Terminal::new(TestBackend::new(wide, high)).expect("a test has a terminal");
        let mut times: Vec<f64> = (0..FRAMES)
            .map(|i| {
                let _ = model.take(Input::Tick, u64::from(i) * 100);
                let begun = Instant::now();
                terminal.draw(|f| draw(&model, f.area(), f.buffer_mut())).expect("a frame is drawn");
                begun.elapsed().as_secs_f64() * 1000.0
            })
            .collect();
        let first = times.remove(0);
        times.sort_by(f64::total_cmp);
        let at = |share: f64| times[(share * (times.len() - 1) as f64) as usize];
        println!(
            "a frame of Now at {wide}x{high}, {MOVES} moves: {:.2} ms median, {:.2} ms at worst of 99 %, the first {first:.2} ms",
            at(0.5),
            at(0.99)
        );
    }
}

fn first_screen(shop: &Workshop) {
    let mut times = Vec::new();
    // built before it is timed
    let _ = command_line();
    for _ in 0..5 {
        let begun = Instant::now();
        let screen = Screen::open(&shop.socket(), 80, 24);
        screen.until("RED BUTTON");
        times.push(begun.elapsed().as_secs_f64() * 1000.0);
    }
    times.sort_by(f64::total_cmp);
    println!("the first screen after {:.0} ms (median of {}, looked at every 20 ms at most)", times[2], times.len());
}

fn idle(shop: &Workshop) {
    let screen = Screen::open(&shop.socket(), 80, 24);
    screen.until("Sign in at the machine");
    std::thread::sleep(Duration::from_secs(15));
    let (used, bytes, begun) = (core_seconds(screen.pid()), screen.bytes(), Instant::now());
    std::thread::sleep(Duration::from_secs(60));
    let seconds = begun.elapsed().as_secs_f64();
    println!(
        "idle: {:.2} % of a core, {:.0} bytes a second over {seconds:.0} s",
        (core_seconds(screen.pid()) - used) / seconds * 100.0,
        (screen.bytes() - bytes) as f64 / seconds
    );
}

fn cutting(shop: &Workshop) {
    for (wide, high) in [(80, 24), (200, 60)] {
        let screen = Screen::open(&shop.socket(), wide, high);
        screen.until("left of");
        std::thread::sleep(Duration::from_secs(2));
        let (used, bytes, begun) = (core_seconds(screen.pid()), screen.bytes(), Instant::now());
        std::thread::sleep(Duration::from_secs(10));
        let seconds = begun.elapsed().as_secs_f64();
        println!(
            "cutting at {wide}x{high}: {:.0} bytes a second, {:.1} % of a core over {seconds:.0} s",
            (screen.bytes() - bytes) as f64 / seconds,
            (core_seconds(screen.pid()) - used) / seconds * 100.0
        );
    }
}
