//! The loop: keys, events, answers and time go in, screens and requests come out. The terminal is restored however
//! it ends.
//!
//! May live here: waiting and drawing. May not: what an input means (`model`).

use super::guide::Guide;
use super::keys::Press;
use super::model::{Input, Intent, Millis, Model};
use super::past::Records;
use super::settings::{Colours, Settings};
use crate::client::{Api, ClientFault, Heard};
use crate::outside::Stopwatch;
use chargehand_types::check::Drawing;
use chargehand_types::history::HistoryQuery;
use chargehand_types::id::CardName;
use chrono::{DateTime, Utc};
use futures_util::StreamExt;
use ratatui::backend::CrosstermBackend;
use ratatui::crossterm::cursor::Show;
use ratatui::crossterm::event::{Event, EventStream, KeyCode, KeyEvent, KeyEventKind, KeyModifiers};
use ratatui::crossterm::execute;
use ratatui::crossterm::style::force_color_output;
use ratatui::crossterm::terminal::{
    BeginSynchronizedUpdate, EndSynchronizedUpdate, EnterAlternateScreen, LeaveAlternateScreen, disable_raw_mode,
    enable_raw_mode,
};
use ratatui::{DefaultTerminal, Terminal};
use std::io;
use std::sync::Once;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;
use tokio::signal::unix::{Signal, SignalKind, signal};
use tokio::sync::mpsc;

/// Counters on the screen are drawn anew this often.
const TICK: Duration = Duration::from_millis(500);
/// No more than ten frames a second, but for keys.
const FRAME_MS: Millis = 100;
/// With nothing on the screen that counts by itself, it is drawn anew this seldom: the clock has minutes.
const QUIET_MS: Millis = 10_000;
/// Inputs that wait; more than any burst of events brings.
const INPUTS_AT_MOST: usize = 1024;

/// Runs the screens until the person leaves or the system asks; answers with what to say then. `names` are people who
/// may sign in, beside those who did before.
///
/// # Errors
/// When the terminal cannot be set up, drawn on or read.
pub async fn run(api: Api, settings: Settings, names: &[&str]) -> io::Result<String> {
    opened(api, Model::new(settings), names).await
}

/// The same with a guide through a first sheet, for the practice shop.
///
/// # Errors
/// As [`run`].
pub async fn run_guided(api: Api, settings: Settings, names: &[&str]) -> io::Result<String> {
    let mut model = Model::new(settings);
    model.guide = Some(Guide::default());
    opened(api, model, names).await
}

async fn opened(api: Api, mut model: Model, names: &[&str]) -> io::Result<String> {
    if model.settings.colours == Colours::None {
        // crossterm 0.29 would answer NO_COLOR with sequences that also take bold and reverse away
        force_color_output(true);
    }
    let mut end = Signals::new()?;
    let (restored, terminal) = take_line()?;
    model.names = names.iter().map(|n| (*n).to_owned()).collect();
    let farewell = rounds(terminal, api, model, &mut end).await;
    drop(restored);
    farewell
}

/// Whether the line is ours now: raw, with the second screen on it.
static TAKEN: AtomicBool = AtomicBool::new(false);

/// Takes the line; it is given back when the first value goes, and before a panic is told.
fn take_line() -> io::Result<(Restored, DefaultTerminal)> {
    static HOOK: Once = Once::new();
    HOOK.call_once(|| {
        let before = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |info| {
            give_line_back();
            before(info);
        }));
    });
    TAKEN.store(true, Ordering::SeqCst);
    let restored = Restored;
    enable_raw_mode()?;
    execute!(io::stdout(), EnterAlternateScreen)?;
    Ok((restored, Terminal::new(CrosstermBackend::new(io::stdout()))?))
}

/// Once only: leaving the second screen a second time would put the cursor back over whatever was told since.
fn give_line_back() {
    if TAKEN.swap(false, Ordering::SeqCst) {
        // nobody can be told on a line that is gone
        let _ = disable_raw_mode();
        let _ = execute!(io::stdout(), EndSynchronizedUpdate, LeaveAlternateScreen, Show);
    }
}

/// Gives the line back when it goes.
struct Restored;

impl Drop for Restored {
    fn drop(&mut self) {
        give_line_back();
    }
}

/// The signals by which the system asks a program to end.
struct Signals([Signal; 3]);

impl Signals {
    fn new() -> io::Result<Self> {
        Ok(Self([signal(SignalKind::terminate())?, signal(SignalKind::hangup())?, signal(SignalKind::interrupt())?]))
    }

    async fn next(&mut self) {
        let [terminate, hangup, interrupt] = &mut self.0;
        tokio::select! {
            _ = terminate.recv() => {}
            _ = hangup.recv() => {}
            _ = interrupt.recv() => {}
        }
    }
}

async fn rounds(mut terminal: DefaultTerminal, api: Api, mut model: Model, end: &mut Signals) -> io::Result<String> {
    let (sender, mut inputs) = mpsc::channel(INPUTS_AT_MOST);
    let listening = tokio::spawn(listen(api.clone(), sender.clone()));
    let mut keys = EventStream::new();
    let watch = Stopwatch::start();
    let mut tick = tokio::time::interval(TICK);
    let mut drawn: Millis = 0;
    // something came in that is not on the screen yet
    let mut behind = false;
    frame(&mut terminal, &model)?;
    loop {
        let mut at_once = false;
        let input = tokio::select! {
            biased;
            () = end.next() => Some(Input::Key(Press::Leave)),
            event = keys.next() => match event {
                Some(Ok(Event::Key(key))) => { at_once = true; press(key).map(Input::Key) }
                Some(Ok(Event::Resize(_, _))) => { at_once = true; Some(Input::Tick) }
                Some(Ok(_)) => None,
                Some(Err(e)) => return Err(e),
                None => Some(Input::Key(Press::Leave)),
            },
            input = inputs.recv() => input,
            _ = tick.tick() => Some(Input::Tick),
        };
        let Some(input) = input else { continue };
        let time_alone = !at_once && matches!(input, Input::Tick);
        for intent in model.take(input, watch.ms()) {
            if let Intent::Leave(farewell) = intent {
                listening.abort();
                return Ok(farewell);
            }
            carry_out(&api, intent, &sender);
        }
        let busy = !at_once && !inputs.is_empty();
        behind |= !time_alone;
        let least = if behind || model.counts() { FRAME_MS } else { QUIET_MS };
        if at_once || (!busy && watch.ms().saturating_sub(drawn) >= least) {
            frame(&mut terminal, &model)?;
            drawn = watch.ms();
            behind = false;
        }
    }
}

fn frame(terminal: &mut DefaultTerminal, model: &Model) -> io::Result<()> {
    // a terminal that does not know these two sequences ignores them
    execute!(io::stdout(), BeginSynchronizedUpdate)?;
    terminal.draw(|frame| super::draw(model, frame.area(), frame.buffer_mut()))?;
    execute!(io::stdout(), EndSynchronizedUpdate)
}

/// A key of the terminal as one of ours.
fn press(key: KeyEvent) -> Option<Press> {
    if key.kind == KeyEventKind::Release {
        return None;
    }
    let plain = !key.modifiers.intersects(KeyModifiers::CONTROL | KeyModifiers::ALT);
    match key.code {
        KeyCode::Char('c') if key.modifiers.contains(KeyModifiers::CONTROL) => Some(Press::Leave),
        KeyCode::Char(c) if plain => Some(Press::Char(c)),
        KeyCode::Enter => Some(Press::Enter),
        KeyCode::Backspace | KeyCode::Delete => Some(Press::Back),
        KeyCode::Esc => Some(Press::Escape),
        KeyCode::Left => Some(Press::Left),
        KeyCode::Right => Some(Press::Right),
        KeyCode::Up => Some(Press::Up),
        KeyCode::Down => Some(Press::Down),
        KeyCode::PageUp => Some(Press::PageUp),
        KeyCode::PageDown => Some(Press::PageDown),
        _ => None,
    }
}

/// The event stream as inputs, for as long as anybody listens.
async fn listen(api: Api, sender: mpsc::Sender<Input>) {
    let mut stream = api.events(None);
    loop {
        let input = match stream.next().await {
            Heard::Open => Input::Linked,
            Heard::Lost(_) => Input::LinkLost,
            Heard::Event(_) | Heard::Gap => Input::Happened,
            Heard::Position(tick) => Input::Position(tick),
            Heard::Plan(changed) => Input::PlanChanged(changed.changes),
        };
        if sender.send(input).await.is_err() {
            return;
        }
    }
}

/// Starts what an intent asks for; its result comes back as an input. A hold never waits for another request.
fn carry_out(api: &Api, intent: Intent, sender: &mpsc::Sender<Input>) {
    let (api, sender) = (api.clone(), sender.clone());
    tokio::spawn(async move {
        let input = match intent {
            Intent::Act(act, seen) => {
                let result = api.act(act.clone(), seen).await;
                Input::Answered(act, Box::new(result))
            }
            Intent::LookNow => Input::Now(Box::new(api.now().await)),
            Intent::LookSheets => Input::Sheets(Box::new(lists(&api).await)),
            Intent::LookPlan => Input::Plan(Box::new(api.plan(None, None).await)),
            Intent::LookRecords(since) => Input::Records(Box::new(records(&api, since).await)),
            Intent::LookShop => Input::Looks(Box::new(api.doctor().await.map(|d| d.looks))),
            Intent::LookNames => Input::Known(known(&api).await),
            Intent::LookAir(sheet, places) => {
                let answer = api.sheet_air(&sheet, places.clone()).await;
                Input::Air(places, Box::new(answer))
            }
            Intent::LookCard(card) => {
                let picture = picture(&api, &card).await;
                Input::Picture(card, Box::new(picture))
            }
            Intent::LookSheet(sheet, card) => {
                let picture = async {
                    let drawing = api.sheet_drawing(&sheet).await?;
                    Ok((drawing, names(&api, &card).await?))
                };
                let picture = picture.await;
                Input::SheetPicture(sheet, card, Box::new(picture))
            }
            Intent::Leave(_) => return,
        };
        // nobody listens any more only when the screens are closed
        let _ = sender.send(input).await;
    });
}

async fn lists(
    api: &Api,
) -> Result<(chargehand_types::queue::SheetList, chargehand_types::queue::CardList), ClientFault> {
    Ok((api.sheets().await?, api.cards().await?))
}

async fn records(api: &Api, since: Option<DateTime<Utc>>) -> Result<Records, ClientFault> {
    let asked = HistoryQuery::since(since);
    Ok(Records {
        sheets: api.history(&asked).await?.sheets,
        revisions: api.revision_history(&asked).await?.revisions,
        bits: api.bit_history(&asked).await?.bits,
        days: api.effort_history(&asked).await?.days,
    })
}

/// Sheets in which names are looked for.
const KNOWN_FROM: u32 = 500;

/// Whoever worked on a sheet, the latest first. It only saves typing: what cannot be had is left out.
async fn known(api: &Api) -> Vec<String> {
    let latest = HistoryQuery { newest: Some(KNOWN_FROM), ..HistoryQuery::default() };
    let Ok(history) = api.history(&latest).await else { return Vec::new() };
    history.sheets.iter().rev().flat_map(|r| r.operators.iter().map(|a| a.who.0.clone())).collect()
}

async fn picture(api: &Api, card: &CardName) -> Result<(Drawing, Vec<String>), ClientFault> {
    let drawing = api.card_drawing(card).await?;
    Ok((drawing, names(api, card).await?))
}

/// The operations of a card by name, in its order.
async fn names(api: &Api, card: &CardName) -> Result<Vec<String>, ClientFault> {
    let text = api.card(card, None).await?.text;
    let table = text.parse::<toml::Table>().unwrap_or_default();
    let operations = table.get("operation").and_then(toml::Value::as_array).cloned().unwrap_or_default();
    Ok(operations.iter().filter_map(|o| Some(o.get("name")?.as_str()?.to_owned())).collect())
}
