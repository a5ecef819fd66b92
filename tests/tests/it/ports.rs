//! Ports as they are, with the real daemon at one end: devices that go and come back under another number, hang-ups,
//! programs beside ours, greetings that are lost.

use chargehand_daemon::practice::{Habits, OnOpen};
use chargehand_tests::client::Client;
use chargehand_tests::operator::Operator;
use chargehand_tests::port::{ByHand, machine};
use chargehand_tests::workshop::{CARD, Workshop, command_line, daemon, repository};
use chargehand_types::act::Act;
use chargehand_types::event::What;
use chargehand_types::now::{LinkNow, Now};
use chargehand_types::problem::ProblemKind;
use chargehand_types::queue::{Doctor, Verdict};
use chargehand_types::stage::{Decision, Grade, Stage, StopCause};
use std::fs::{File, OpenOptions};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::Duration;

/// Long enough for a daemon to do what it should not.
const A_WHILE: Duration = Duration::from_millis(700);

/// Devices until one gets a number that was free a moment ago.
const MANY: usize = 200;

const REPORT: &str = "<Idle|MPos:0.000,0.000,0.000|WCO:10.000,10.000,-60.000>\r\n";

fn stage(now: &Now) -> Option<Stage> {
    now.sheet.as_ref().map(|s| s.stage)
}

/// Why the line is down, where it is.
fn down(now: &Now) -> Option<&str> {
    match &now.machine.link {
        LinkNow::Down { why } => Some(why),
        LinkNow::Up | LinkNow::Opening => None,
    }
}

fn shop() -> Workshop {
    Workshop::at_real_time()
}

fn start_at(shop: &mut Workshop, port: &Path) -> Client {
    shop.start_with(&["--port", &port.to_string_lossy()])
}

/// Waits until the daemon believes a controller that answers whenever it is asked.
fn up(client: &Client, controller: &ByHand) {
    client.until("up", |n| {
        controller.answer("?", REPORT);
        n.machine.link == LinkNow::Up
    });
}

/// A daemon with the short card at a machine whose port has this name, in the cut.
fn in_cut(shop: &mut Workshop, port: &Path) -> Client {
    let client = start_at(shop, port);
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    Operator::owner(&client).walk_into_cut();
    client
}

/// Another program with the port open; it cares about no lock.
struct Other(Child);

impl Other {
    fn at(device: &Path) -> Self {
        let port = OpenOptions::new().read(true).write(true).open(device).unwrap();
        Self(Command::new("sleep").arg("600").stdin(Stdio::from(port)).spawn().unwrap())
    }
}

impl Drop for Other {
    fn drop(&mut self) {
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

#[test]
fn a_device_under_another_number_is_found_by_its_name() {
    let mut shop = shop();
    let name = shop.path("by-name");
    let machine = machine(&name, Habits::default());
    let client = in_cut(&mut shop, &name);
    let before = std::fs::read_link(&name).unwrap();
    machine.unplug();
    let stopped = client.until("stopped", |n| stage(n) == Some(Stage::Stopped) && down(n).is_some());
    let record = stopped.sheet.unwrap().stopped.unwrap().record;
    assert_eq!(record.cause, StopCause::LinkLost);
    client.until("told that the name leads nowhere", |n| down(n).is_some_and(|why| why.contains("there is no port")));
    // whatever comes next gets the number that is free now, and all others do before it if another test was quicker
    let mut others = vec![ByHand::new()];
    while others.last().unwrap().device != before && others.len() < MANY {
        std::thread::sleep(Duration::from_millis(20));
        others.push(ByHand::new());
    }
    machine.plug();
    let up = client.until("the line is open again", |n| n.machine.link == LinkNow::Up);
    let after = std::fs::read_link(&name).unwrap();
    assert_ne!(before, after, "it came back as another device");
    assert!(others.iter().all(|other| other.device != after));
    assert_eq!(stage(&up), Some(Stage::Stopped));
    assert!(!up.machine.zero_confirmed, "nothing of before is believed");
    let moved = machine.seen().tally.motions;
    std::thread::sleep(A_WHILE);
    assert_eq!((machine.seen().tally.motions, stage(&client.now())), (moved, Some(Stage::Stopped)), "nothing moves");
    let mut owner = Operator::owner(&client);
    let choices = |n: &Now| n.sheet.as_ref()?.stopped.as_ref().map(|s| s.choices.clone());
    owner.walk("restart can be chosen", |_, n| choices(n).is_some_and(|c| c.contains(&Decision::Restart)));
    let sheet = client.now().sheet.unwrap().id;
    client.act(Act::Decide { sheet, decision: Decision::Restart, line: None }).unwrap();
    owner.walk_sheets(1);
    assert_eq!(client.history().sheets[0].grade, Some(Grade::Good));
}

/// The other end is closed for good: every read is one of nothing, every write an error, every wait a hang-up.
#[test]
fn a_hung_up_port_is_told_and_not_hammered() {
    let (controller, mut shop) = (ByHand::new(), shop());
    let name = shop.path("by-name");
    std::os::unix::fs::symlink(&controller.device, &name).unwrap();
    let client = start_at(&mut shop, &name);
    up(&client, &controller);
    // its number is another one's as soon as it is gone, and this daemon is not to talk to that
    std::fs::remove_file(&name).unwrap();
    drop(controller);
    client.until("down", |n| down(n).is_some());
    let spent = processor_ticks(shop.pid());
    std::thread::sleep(Duration::from_secs(2));
    let spent = processor_ticks(shop.pid()) - spent;
    println!("{spent} of 200 ticks spent on a port that is hung up");
    assert!(spent < 100, "it waits for the port to come back, and does not spin: {spent} of 200 ticks");
    let downs = client.all_events().iter().filter(|e| matches!(e.what, What::LinkDown { .. })).count();
    assert!(downs <= 3, "one fault is written down once, not at every try: {downs}");
}

/// Processor time of a process in hundredths of a second (proc(5): fields 14 and 15, counted behind the name).
fn processor_ticks(pid: u32) -> u64 {
    let stat = std::fs::read_to_string(format!("/proc/{pid}/stat")).unwrap();
    let behind = stat.rsplit_once(')').unwrap().1;
    behind.split_whitespace().skip(11).take(2).map(|n| n.parse::<u64>().unwrap()).sum()
}

#[test]
fn nothing_is_believed_before_a_report() {
    let (controller, mut shop) = (ByHand::new(), shop());
    let client = start_at(&mut shop, &controller.device);
    // the greeting was lost before anybody listened: a report is asked for all the same
    let heard = controller.hears("?");
    assert_eq!(heard, "?", "and nothing else is said");
    for words in ["ok\r\n", "Own name 1.1 ['$' for help]\r\n", "\u{fffd}<Id", "le|MPos:\r\n"] {
        controller.say(words);
        let heard = controller.hears("?") + &controller.hears_for(A_WHILE);
        assert!(heard.chars().all(|c| c == '?'), "only reports are asked for: {heard:?}");
        let now = client.now();
        assert_ne!(now.machine.link, LinkNow::Up, "{words:?} is no report");
        assert_eq!((now.machine.at, now.machine.position_known), (None, false));
    }
    Operator::owner(&client).sign_in();
    let refused = client.act(Act::Home).unwrap_err();
    assert_eq!(refused.kind, ProblemKind::StartCondition, "{refused:?}");
    controller.say(REPORT);
    client.until("up", |n| n.machine.link == LinkNow::Up && n.machine.at.is_some());
    let heard = controller.hears_for(A_WHILE);
    assert!(heard.chars().all(|c| c == '?'), "nothing moves because it answers: {heard:?}");
}

/// A board that starts anew whenever its port is opened, in the middle of nothing.
#[test]
fn a_board_that_restarts_on_opening_comes_up() {
    let mut shop = shop();
    let name = shop.path("by-name");
    let habits = Habits { on_open: OnOpen::Restarts, boot_us: 8_000_000, ..Habits::default() };
    let machine = machine(&name, habits);
    let client = start_at(&mut shop, &name);
    let up = client.until("up", |n| n.machine.link == LinkNow::Up);
    assert!(!up.machine.position_known);
    assert_eq!(machine.seen().tally.motions, 0);
}

#[test]
fn a_program_on_the_port_is_told_as_such() {
    let (controller, mut shop) = (ByHand::new(), shop());
    let other = Other::at(&controller.device);
    let client = start_at(&mut shop, &controller.device);
    let now = client.until("down", |n| down(n).is_some());
    let why = down(&now).unwrap();
    assert!(why.contains("in use by another program") && why.contains("sleep"), "{why}");
    assert_eq!(controller.hears_for(A_WHILE), "", "not a byte is sent past the other one");
    let doctor: Doctor = client.get("/v1/doctor").unwrap();
    let owners = doctor.looks.iter().find(|l| l.what == "two owners").unwrap();
    assert_eq!(owners.verdict, Verdict::Wrong);
    drop(other);
    up(&client, &controller);
}

#[test]
fn two_daemons_do_not_share_a_port() {
    let (controller, mut first, mut second) = (ByHand::new(), shop(), shop());
    let one = start_at(&mut first, &controller.device);
    up(&one, &controller);
    let two = std::thread::scope(|scope| {
        let starting = scope.spawn(|| start_at(&mut second, &controller.device));
        while !starting.is_finished() {
            controller.answer("?", REPORT);
            std::thread::sleep(Duration::from_millis(5));
        }
        starting.join().unwrap()
    });
    let now = two.until("down", |n| {
        controller.answer("?", REPORT);
        down(n).is_some()
    });
    assert!(down(&now).unwrap().contains("in use by another program"), "{now:?}");
    let pid = first.pid().to_string();
    assert!(down(&now).unwrap().contains(&pid), "by its number: {now:?}");
    assert_eq!(one.now().machine.link, LinkNow::Up, "the first one is not disturbed");
}

/// The flag of exclusive use stays on a device for as long as anybody has it open, whoever set it.
#[test]
fn exclusive_use_that_outlives_its_owner_is_told() {
    let (controller, mut shop) = (ByHand::new(), shop());
    let port = OpenOptions::new().read(true).write(true).open(&controller.device).unwrap();
    rustix::termios::ioctl_tiocexcl(&port).unwrap();
    let left_over = left_with(&port);
    drop(port);
    let client = start_at(&mut shop, &controller.device);
    let now = client.until("down", |n| down(n).is_some());
    assert!(down(&now).unwrap().contains("in use by another program"), "{now:?}");
    drop(left_over);
    up(&client, &controller);
    // a daemon that is killed leaves nothing behind that its successor stumbles over
    shop.kill();
    let client = start_at(&mut shop, &controller.device);
    up(&client, &controller);
}

/// A controller of no family that ships: another byte asks it, and it puts its reports into other brackets.
#[test]
fn the_doctor_knows_the_shops_own_profile() {
    let (shop, controller) = (shop(), ByHand::new());
    let shipped = std::fs::read_to_string(repository().join("config/controllers/acknowledged-window.toml")).unwrap();
    let own = shipped.replace("report = \"?\"", "report = \"Q\"").replace("'^<(?P<state>", "'^\\{(?P<state>");
    let own = own.replace("(?P<fields>.*))?>$'", "(?P<fields>.*))?\\}$'");
    std::fs::create_dir(shop.path("controllers")).unwrap();
    shop.write("controllers/bench-mill.toml", own.as_bytes());
    // built before anybody waits for them
    let _ = (command_line(), daemon());
    let port = controller.device.to_string_lossy().into_owned();
    let answering = std::thread::spawn(move || {
        let heard = controller.hears("Q");
        controller.say("{Idle|MPos:1.000,2.000,-3.000}\r\n");
        (controller, heard)
    });
    let config = shop.path("daemon.toml");
    let arguments = ["doctor", "--port", &port, "--talk", "--config", &config.to_string_lossy()];
    let told = shop.says(&repository(), &arguments);
    let (controller, heard) = answering.join().unwrap();
    assert_eq!((told.code, heard.as_str()), (Some(0), "Q"), "{told:?}");
    for words in ["profile = \"bench-mill\"", "bench-mill.toml", "it stands still", "1.000 2.000 -3.000"] {
        assert!(told.said.contains(words), "{words:?} is not in: {}", told.said);
    }
    assert_eq!(controller.hears_for(A_WHILE), "", "nothing else was said to it");
}

/// A program that was handed an open port.
fn left_with(port: &File) -> Other {
    let port = port.try_clone().unwrap();
    Other(Command::new("sleep").arg("600").stdin(Stdio::from(port)).spawn().unwrap())
}
