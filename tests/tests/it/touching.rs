//! The Z zero from a touch plate, whole: hands at the wire, the bit coming down, the zero that comes of it; and the ways
//! out when the plate is not met.

use chargehand_daemon::practice::{Habits, Hand};
use chargehand_daemon::simulator::Simulator;
use chargehand_tests::client::Client;
use chargehand_tests::operator::Operator;
use chargehand_tests::port::machine;
use chargehand_tests::workshop::{CARD, Workshop};
use chargehand_types::act::{Act, Axis};
use chargehand_types::checklist::Ask;
use chargehand_types::event::What;
use chargehand_types::now::{Motion, Now};
use chargehand_types::problem::ProblemKind;
use chargehand_types::quantity::Length;
use chargehand_types::stage::{Grade, Stage};
use std::thread::sleep;
use std::time::Duration;

/// Longer than the time between two reports of a machine that stands still (twice a second by its profile).
const SEEN: Duration = Duration::from_millis(1300);
/// The config's plate when it names none.
const PLATE: Length = Length::whole_mm(15);
/// Where the plate's face is put, in machine coordinates; the bit stands at 0 and may look 40 mm down for it.
pub const FACE: Length = Length::whole_mm(-30);

pub fn touches(now: &Now) -> bool {
    now.task.as_ref().is_some_and(|t| matches!(t.step.ask, Ask::TouchZ { .. }))
}

/// It touches, and the bit stands over the place for it.
fn over_the_place(now: &Now) -> bool {
    now.task.as_ref().is_some_and(|t| t.step.ask == Ask::TouchZ { leg: None }) && now.machine.motion == Motion::Still
}

pub fn note(now: &Now) -> String {
    now.task.as_ref().and_then(|t| t.note.clone()).unwrap_or_default()
}

/// A shop with its machine at a real port, at the step that wants the Z zero, with the bit over the place for it.
pub fn at_the_touch() -> (Workshop, Simulator, Client) {
    let mut shop = Workshop::at_real_time();
    let name = shop.path("by-name");
    let machine = machine(&name, Habits::default());
    let client = shop.start_with(&["--port", &name.to_string_lossy()]);
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 2).unwrap();
    Operator::owner(&client).walk("the zero is wanted", |_, n| over_the_place(n));
    (shop, machine, client)
}

/// The plate is held against the bit and taken off again, long enough to be seen.
pub fn test_the_wire(machine: &Simulator) {
    machine.hand(Hand::TouchWire);
    sleep(SEEN);
    machine.hand(Hand::LeaveWire);
    sleep(SEEN);
}

/// The Z zeros taken, in machine coordinates.
fn zeros(client: &Client) -> Vec<Length> {
    let set = |what| if let What::ZeroSet { machine_z } = what { machine_z } else { None };
    client.all_events().into_iter().filter_map(|e| set(e.what)).collect()
}

/// The zero lies the plate's thickness below its face, as near as a slow touch tells.
fn near_the_face(zero: Length) {
    assert!((zero - (FACE - PLATE)).abs() < Length(50_000), "{} mm", zero.mm());
}

#[test]
fn a_plate_is_touched_from_the_command_line_and_the_sheet_is_cut() {
    let (shop, machine, client) = at_the_touch();
    let touch = || shop.says(&shop.path(""), &["machine", "touch", "--who", "Solveig"]);
    let moved = machine.seen().tally.motions;
    touch().refused(4, &["Test the wire first"]);
    machine.hand(Hand::TouchWire);
    sleep(SEEN);
    touch().refused(4, &["wire is closed"]);
    machine.hand(Hand::LeaveWire);
    sleep(SEEN);
    assert_eq!(machine.seen().tally.motions, moved, "nothing went down before the wire was tested");
    machine.hand(Hand::LayPlate(FACE));
    let told = touch();
    assert_eq!(told.code, Some(0), "{told:?}");
    assert!(told.said.contains("Keep a hand at the red"), "{told:?}");
    client.until("the zero is taken", |n| !touches(n) && n.machine.motion == Motion::Still);
    let zeros = zeros(&client);
    near_the_face(*zeros.last().unwrap());
    assert!(machine.seen().at.z > FACE, "the bit is off the plate");
    machine.hand(Hand::TakePlate);
    let mut owner = Operator::owner(&client);
    owner.walk_sheets(1);
    assert_eq!(client.history().sheets[0].grade, Some(Grade::Good));
}

#[test]
fn only_hold_and_stop_are_taken_while_the_bit_comes_down() {
    let (_shop, machine, client) = at_the_touch();
    test_the_wire(&machine);
    machine.hand(Hand::LayPlate(FACE));
    let answer = client.act(Act::TouchPlate).unwrap();
    let refused = client.act_seen(answer.now.version, Act::TouchPlate).unwrap_err();
    assert_eq!(refused.kind, ProblemKind::NotNow, "{refused:?}");
    client.act(Act::Stop).unwrap();
    let before = zeros(&client).len();
    client.until("it stands", |n| n.machine.motion != Motion::Moving && n.machine.motion != Motion::HoldAsked);
    sleep(SEEN);
    let at = machine.seen().at.z;
    sleep(SEEN);
    assert_eq!((machine.seen().at.z, zeros(&client).len()), (at, before), "it stands, and no zero was taken");
    // a wire tested before a stop is not believed after it
    machine.hand(Hand::TakePlate);
    let mut owner = Operator::owner(&client);
    owner.walk("the zero is wanted again", |_, n| touches(n) && n.machine.position_known);
    let refused = client.act(Act::TouchPlate).unwrap_err();
    assert_eq!(refused.kind, ProblemKind::StartCondition, "{refused:?}");
}

/// Home lies beside the sheet, and the card counts from the sheet's face: no zero is taken there, with paper or plate.
#[test]
fn no_zero_of_the_face_is_taken_beside_the_sheet() {
    let mut shop = Workshop::new(60.0);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    let mut owner = Operator::owner(&client);
    owner.walk("the zero is wanted", |_, n| touches(n) && n.machine.motion == Motion::Still);
    let now = client.now();
    let (at, task) = (now.machine.at.unwrap(), now.task.unwrap());
    assert!(at.x < Length::ZERO && at.y < Length::ZERO, "beside the sheet, whose corner is the zero: {at:?}");
    let taken = zeros(&client).len();
    let here = Act::ZeroHere { axis: Axis::Z, above: Length::ZERO };
    for act in [here, Act::TouchPlate] {
        let refused = client.act(act).unwrap_err();
        assert_eq!(refused.kind, ProblemKind::StartCondition, "{refused:?}");
        assert!(refused.detail.contains("beside the sheet"), "{refused:?}");
    }
    assert!(touches(&client.now()) && zeros(&client).len() == taken);

    // the key leads there: up, then along one axis at a time, and it stays up, for how far down is not known
    let mut axes = Vec::new();
    loop {
        let now = client.until("it stands", |n| n.machine.motion == Motion::Still);
        let Some(Ask::TouchZ { leg }) = now.task.map(|t| t.step.ask) else { panic!("no step for it") };
        let Some(leg) = leg else { break };
        axes.push((leg.axis, leg.by > Length::ZERO));
        assert!(axes.len() < 5, "{axes:?}");
        client.act(Act::Approach).unwrap();
    }
    let sideways: Vec<_> = axes.iter().filter(|(axis, _)| *axis != Axis::Z).collect();
    assert_eq!(sideways, [&(Axis::X, true), &(Axis::Y, true)]);
    assert!(axes.iter().all(|(axis, up)| *axis != Axis::Z || *up), "never down: {axes:?}");
    let (spot, at) = (task.step.spot.unwrap(), client.now().machine.at.unwrap());
    assert!((at.x - spot.x).mm().hypot((at.y - spot.y).mm()) < 0.1, "{at:?} {spot:?}");
    assert_eq!(client.act(Act::Approach).unwrap_err().kind, ProblemKind::NotNow, "it is there");
    owner.walk_sheets(1);
    assert_eq!(client.history().sheets[0].grade, Some(Grade::Good));
}

/// A shop whose plate always lies at one place of the sheet is led there; where that is beside the sheet, to the place
/// that is proposed.
#[test]
fn the_shops_own_place_is_told_where_it_lies_on_the_sheet() {
    let spot = |own: &str| {
        let mut shop = Workshop::new(60.0);
        shop.edit("daemon.toml", |text| {
            text.replace("[machine]\n", &format!("[machine]\nplate = {{ spot = {own} }}\n"))
        });
        let client = shop.start();
        client.add_card(&shop.card()).unwrap();
        client.add_batch(CARD, 1).unwrap();
        Operator::owner(&client).walk("the zero is wanted", |_, n| touches(n));
        let step = client.now().task.unwrap().step;
        (step.spot.unwrap(), step.text)
    };
    let mm = Length::whole_mm;
    let (own, text) = spot("[40.0, 30.0]");
    assert_eq!((own.x, own.y), (mm(40), mm(30)));
    assert!(text.contains("at 40 and 30 mm from left and front"), "{text}");
    let (proposed, text) = spot("[-40.0, 30.0]");
    assert!(proposed.x > Length::ZERO && text.contains("stays uncut"), "{proposed:?} {text}");
}

/// The plate was forgotten: the bit went as far down as it may and met nothing. The person is told, finds the way
/// again, and touches the plate that now lies there.
#[test]
fn a_forgotten_plate_is_told_and_the_way_goes_on() {
    let (_shop, machine, client) = at_the_touch();
    test_the_wire(&machine);
    client.act(Act::TouchPlate).unwrap();
    let told = client.until("told", |n| note(n).contains("not touched"));
    assert!(note(&told).contains("touched nothing"), "{}", note(&told));
    assert_eq!(told.sheet.as_ref().map(|s| s.stage), Some(Stage::Tooling), "the sheet is where it was");
    assert!(zeros(&client).is_empty(), "no zero comes of it");
    assert!(note(&told).contains("find home"), "{}", note(&told));
    assert_eq!(told.machine.motion, Motion::Faulted);
    let step = client.act(Act::HandMove { axis: Axis::Z, by: Length::whole_mm(1) }).unwrap_err();
    assert!(step.detail.contains("Find home"), "{step:?}");
    client.act(Act::BitFree).unwrap();
    client.act(Act::Home).unwrap();
    client.until("home is found", |n| n.machine.motion == Motion::Still && n.machine.position_known);
    let mut owner = Operator::owner(&client);
    owner.walk("the zero is wanted again", |_, n| over_the_place(n) && n.machine.zero_confirmed);
    let refused = client.act(Act::TouchPlate).unwrap_err();
    assert!(refused.detail.contains("Test the wire first"), "{refused:?}");
    test_the_wire(&machine);
    machine.hand(Hand::LayPlate(FACE));
    client.act(Act::TouchPlate).unwrap();
    client.until("the zero is taken", |n| !touches(n) && n.machine.motion == Motion::Still);
    near_the_face(*zeros(&client).last().unwrap());
    machine.hand(Hand::TakePlate);
    owner.walk_sheets(1);
    assert_eq!(client.history().sheets[0].grade, Some(Grade::Good));
}
