//! A problem made small and fast: numbers for names, routes as rows of steps, and for each minute the first window.

use super::model::{Objective, Problem, Sheet, Unfit};
use super::order::Place;
use super::routes;
use crate::calendar::Windows;
use chargehand_types::id::BitName;
use chargehand_types::plan::{Minute, Minutes};

/// Sheets a plan can hold.
pub const SHEETS_AT_MOST: usize = 2000;
/// The largest weight.
pub const WEIGHT_AT_MOST: f64 = 1000.0;
/// No bit: the spindle's is not known, or a sheet needs none.
const NO_BIT: u8 = u8::MAX;
/// A due time that is never missed.
const WHENEVER: u32 = u32::MAX;
/// The end of the last window, beyond all calendars: what does not fit earlier lands there and counts as unplaced.
const BEYOND: u32 = u32::MAX / 2;

/// A stretch of a table is two to this many minutes.
const STRETCH: u32 = 4;

/// Which hours a step needs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Need {
    /// A person's hands.
    Hands,
    /// Cutting, somebody there.
    Attended,
    /// Cutting, nobody needed.
    Alone,
}

/// One step of a route.
#[derive(Debug, Clone, Copy)]
pub struct Span {
    pub minutes: u32,
    pub need: Need,
    /// The operation it cuts, by its number on the sheet; a bit change names the operation it is for.
    pub what: Part,
}

/// What a step is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Part {
    Load,
    Change(u8),
    Cut(u8),
    Cleanup,
}

/// One order of a sheet's operations, as steps.
#[derive(Debug)]
pub struct Route {
    pub spans: Vec<Span>,
    /// Where in the steps the change before the first operation stands; it is left out when the bit is in already.
    first_change: usize,
    first_bit: u8,
    last_bit: u8,
    /// Changes besides the first.
    inner_changes: u32,
}

/// A sheet as numbers.
#[derive(Debug)]
pub struct Compiled {
    pub due: u32,
    /// In thousandths.
    pub weight: u64,
    pub routes: Vec<Route>,
}

/// Where the machine is between two sheets.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct State {
    pub at: u32,
    pub bit: u8,
    pub changes: u32,
    /// In thousandths.
    pub tardiness: u64,
}

impl State {
    /// The measure of a plan that ends here.
    pub const fn objective(self) -> Objective {
        Objective { tardiness: self.tardiness, finish: Minute(self.at), changes: self.changes }
    }
}

/// For each stretch of sixteen minutes the first window that has not ended at its beginning: small enough to stay in the
/// processor's nearest cache, and never more than a few windows off.
#[derive(Debug)]
struct Table {
    first: Vec<u16>,
    windows: Vec<(u32, u32)>,
}

impl Table {
    fn new(windows: &Windows, horizon: u32) -> Self {
        let mut all: Vec<(u32, u32)> = windows.all().iter().map(|w| (w.from.0, w.to.0)).collect();
        // beyond everybody's calendar one window without end, so that every order has an end
        all.push((horizon, BEYOND));
        all.truncate(usize::from(u16::MAX));
        let mut first = Vec::with_capacity((horizon >> STRETCH) as usize + 1);
        let mut number = 0u16;
        for stretch in 0..=horizon >> STRETCH {
            let minute = stretch << STRETCH;
            while all.get(usize::from(number)).is_some_and(|w| w.1 <= minute) {
                number += 1;
            }
            first.push(number);
        }
        Self { first, windows: all }
    }

    /// The earliest start, not before `at`, of something that long.
    #[inline]
    fn fit(&self, at: u32, minutes: u32) -> u32 {
        let mut number = match self.first.get((at >> STRETCH) as usize) {
            Some(n) => usize::from(*n),
            None => return at,
        };
        while let Some(&(from, to)) = self.windows.get(number) {
            // a window that has ended holds nothing, not even something without length
            let start = from.max(at);
            if start + minutes <= to && at < to {
                return start;
            }
            number += 1;
        }
        at
    }
}

/// The problem made small.
#[derive(Debug)]
pub struct Kernel {
    pub sheets: Vec<Compiled>,
    pub start: State,
    /// The end of all calendars: what starts later is not placed.
    pub horizon: u32,
    bits: Vec<BitName>,
    hands: Table,
    /// None when cutting with somebody there has the hours of hands.
    attended: Option<Table>,
    alone: Option<Table>,
}

impl Kernel {
    /// A problem made small.
    ///
    /// # Errors
    /// When it contradicts itself, or a step fits no window at all.
    pub fn new(problem: &Problem) -> Result<Self, Unfit> {
        if problem.sheets.len() > SHEETS_AT_MOST {
            return Err(Unfit::TooManySheets(problem.sheets.len()));
        }
        if problem.frozen > problem.sheets.len() {
            return Err(Unfit::HeadTooLong { frozen: problem.frozen, sheets: problem.sheets.len() });
        }
        let mut bits = Vec::new();
        let mut sheets = Vec::new();
        for sheet in &problem.sheets {
            windows_long_enough(problem, sheet)?;
            sheets.push(compile(problem, sheet, &mut bits)?);
        }
        let bit = problem.bit_on_machine.as_ref().and_then(|b| number_of(b, &mut bits)).unwrap_or(NO_BIT);
        let hours = &problem.hours;
        let last = [hours.hands.end(), hours.attended.end()].into_iter().chain(hours.alone.as_ref().map(Windows::end));
        let horizon = last.max().unwrap_or_default().max(problem.now).0;
        Ok(Self {
            sheets,
            start: State { at: problem.now.0, bit, changes: 0, tardiness: 0 },
            horizon,
            bits,
            hands: Table::new(&hours.hands, horizon),
            attended: (hours.attended != hours.hands).then(|| Table::new(&hours.attended, horizon)),
            alone: hours.alone.as_ref().map(|w| Table::new(w, horizon)),
        })
    }

    /// Bits there are.
    pub const fn bits(&self) -> usize {
        self.bits.len()
    }

    /// A place's route.
    #[inline]
    pub fn route(&self, place: Place) -> &Route {
        &self.sheets[usize::from(place.sheet)].routes[usize::from(place.route)]
    }

    /// The earliest start of a step.
    #[inline]
    pub fn fit(&self, at: u32, span: Span) -> u32 {
        match span.need {
            Need::Hands => self.hands.fit(at, span.minutes),
            Need::Attended => self.attended.as_ref().unwrap_or(&self.hands).fit(at, span.minutes),
            Need::Alone => self.alone.as_ref().map_or(at, |table| table.fit(at, span.minutes)),
        }
    }

    /// Is the bit the first operation needs in already?
    #[inline]
    pub const fn bit_serves(route: &Route, bit: u8) -> bool {
        route.first_bit == NO_BIT || route.first_bit == bit
    }

    /// The steps of a route that are done when the machine has that bit.
    pub fn spans(route: &Route, bit: u8) -> impl Iterator<Item = Span> + '_ {
        let skipped = Self::bit_serves(route, bit).then_some(route.first_change);
        route.spans.iter().enumerate().filter(move |(i, _)| Some(*i) != skipped).map(|(_, s)| *s)
    }

    /// The state after a sheet.
    #[inline]
    pub fn after(&self, before: State, place: Place) -> State {
        let sheet = &self.sheets[usize::from(place.sheet)];
        let route = &sheet.routes[usize::from(place.route)];
        let serves = Self::bit_serves(route, before.bit);
        let mut at = before.at;
        for (number, span) in route.spans.iter().enumerate() {
            if serves && number == route.first_change {
                continue;
            }
            at = self.fit(at, *span) + span.minutes;
        }
        State {
            at,
            bit: if route.last_bit == NO_BIT { before.bit } else { route.last_bit },
            changes: before.changes + route.inner_changes + u32::from(!serves),
            tardiness: before.tardiness + sheet.weight * u64::from(at.saturating_sub(sheet.due)),
        }
    }

    /// The state after a whole order.
    pub fn run(&self, order: &[Place]) -> State {
        order.iter().fold(self.start, |state, place| self.after(state, *place))
    }

    /// The earliest a sheet could end were it the next, its first bit in the spindle already.
    pub fn soonest(&self, at: u32, sheet: usize) -> u32 {
        let number = |route: usize| Place { sheet: small(sheet), route: small(route) };
        let routes = &self.sheets[sheet].routes;
        let ends = routes
            .iter()
            .enumerate()
            .map(|(i, r)| self.after(State { at, bit: r.first_bit, changes: 0, tardiness: 0 }, number(i)).at);
        ends.min().unwrap_or(at)
    }

    /// Minutes of a sheet end to end, without a first bit change.
    pub fn work(&self, sheet: usize) -> u32 {
        let route = &self.sheets[sheet].routes[0];
        Self::spans(route, route.first_bit).map(|s| s.minutes).sum()
    }
}

/// A number that is known to be small (sheets and routes are counted when a kernel is made).
pub fn small(number: usize) -> u16 {
    u16::try_from(number).unwrap_or(u16::MAX)
}

fn number_of(bit: &BitName, bits: &mut Vec<BitName>) -> Option<u8> {
    let number = bits.iter().position(|b| b == bit).unwrap_or_else(|| {
        bits.push(bit.clone());
        bits.len() - 1
    });
    u8::try_from(number).ok().filter(|n| *n != NO_BIT)
}

/// Can that sheet be cut at all as the hours are?
pub fn judge(problem: &Problem, sheet: &Sheet) -> Result<(), Unfit> {
    windows_long_enough(problem, sheet)?;
    compile(problem, sheet, &mut Vec::new()).map(|_| ())
}

/// A step longer than every window it may lie in would never be done.
fn windows_long_enough(problem: &Problem, sheet: &Sheet) -> Result<(), Unfit> {
    let hours = &problem.hours;
    let judge = |step: &str, needs: Minutes, windows: &Windows| {
        let longest = windows.within(problem.now, Minute(u32::MAX)).longest();
        if needs <= longest {
            Ok(())
        } else {
            Err(Unfit::NoWindow { sheet: sheet.id.clone(), step: step.to_owned(), needs, longest })
        }
    };
    judge("loading", sheet.load, &hours.hands)?;
    judge("clean-up", sheet.cleanup, &hours.hands)?;
    for operation in &sheet.operations {
        judge("a bit change", problem.bit_change, &hours.hands)?;
        match (operation.unattended, &hours.alone) {
            (true, None) => {}
            (true, Some(alone)) => judge(&operation.name, operation.minutes, alone)?,
            (false, _) => judge(&operation.name, operation.minutes, &hours.attended)?,
        }
    }
    Ok(())
}

fn compile(problem: &Problem, sheet: &Sheet, bits: &mut Vec<BitName>) -> Result<Compiled, Unfit> {
    let weight = sheet.weight;
    if !(0.0..=WEIGHT_AT_MOST).contains(&weight) {
        return Err(Unfit::Weight { sheet: sheet.id.clone(), weight: weight.to_string() });
    }
    let too_much = || Unfit::TooMuch { sheet: sheet.id.clone() };
    let work: u64 = sheet.operations.iter().map(|o| u64::from(o.minutes.0)).sum();
    let whole = work + u64::from(sheet.load.0) + u64::from(sheet.cleanup.0);
    if sheet.operations.len() >= usize::from(NO_BIT) || whole > u64::from(BEYOND / 4096) {
        return Err(too_much());
    }
    let mut numbers = Vec::new();
    for operation in &sheet.operations {
        numbers.push(number_of(&operation.bit, bits).ok_or_else(too_much)?);
    }
    let mut orders = routes::of(sheet)?;
    let place = problem.sheets.iter().position(|s| std::ptr::eq(s, sheet));
    if place.is_some_and(|p| p < problem.frozen) {
        orders.truncate(1);
    }
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 0 and a million")]
    let weight = (weight * 1000.0).round() as u64;
    let routes = orders.into_iter().map(|order| route(problem, sheet, &numbers, &order)).collect();
    Ok(Compiled { due: sheet.due.map_or(WHENEVER, |d| d.0), weight, routes })
}

fn route(problem: &Problem, sheet: &Sheet, bits: &[u8], order: &[u8]) -> Route {
    let hands = |minutes: Minutes, what: Part| Span { minutes: minutes.0, need: Need::Hands, what };
    let mut spans = Vec::new();
    if sheet.load.0 > 0 {
        spans.push(hands(sheet.load, Part::Load));
    }
    let first_change = spans.len();
    let mut bit = NO_BIT;
    let mut changes = 0;
    for number in order {
        let operation = &sheet.operations[usize::from(*number)];
        if bits[usize::from(*number)] != bit {
            bit = bits[usize::from(*number)];
            spans.push(hands(problem.bit_change, Part::Change(*number)));
            changes += 1;
        }
        let need = if operation.unattended { Need::Alone } else { Need::Attended };
        spans.push(Span { minutes: operation.minutes.0, need, what: Part::Cut(*number) });
    }
    if sheet.cleanup.0 > 0 {
        spans.push(hands(sheet.cleanup, Part::Cleanup));
    }
    let first_bit = order.first().map_or(NO_BIT, |n| bits[usize::from(*n)]);
    let first_change = if order.is_empty() { usize::MAX } else { first_change };
    Route { spans, first_change, first_bit, last_bit: bit, inner_changes: u32::max(changes, 1) - 1 }
}
