//! Calls on the desktop of whoever wants them there, by a stand-in for the desktop's own program (notify-send(1) of
//! libnotify, which speaks the Desktop Notifications Specification of freedesktop.org).

use chargehand_tests::client::COMES_WITHIN;
use chargehand_tests::listeners::Beside;
use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{Workshop, command_line};
use chargehand_types::act::Act;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::process::{Command, Stdio};
use std::thread::sleep;
use std::time::{Duration, Instant};

fn desktop(shop: &Workshop, programs: &Path) -> Command {
    let mut command = Command::new(command_line());
    command.arg("--socket").arg(shop.socket()).args(["notices", "desktop"]).env("PATH", programs);
    command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::piped());
    command
}

fn shown(shop: &Workshop, messages: usize) -> Vec<String> {
    let begun = Instant::now();
    loop {
        let list = std::fs::read_to_string(shop.path("list")).unwrap_or_default();
        let lines: Vec<String> = list.lines().map(str::to_owned).collect();
        if lines.len() >= messages {
            return lines;
        }
        assert!(begun.elapsed() < COMES_WITHIN, "{lines:?}\n{}", shop.log());
        sleep(Duration::from_millis(20));
    }
}

#[test]
fn a_call_is_shown_on_the_desktop_once_and_a_daemon_that_is_gone_too() {
    let mut shop = Workshop::new(20.0);
    let bin = shop.path("bin");
    std::fs::create_dir(&bin).unwrap();
    let program = bin.join("notify-send");
    // one line a message, its words apart
    let list = shop.path("list").display().to_string();
    let shows = format!("#!/bin/sh\nprintf '%s|' \"$@\" >>{list}\necho >>{list}\n");
    let install = |script: &str| {
        // in one step, so that it is never found half written
        let new = bin.join("new");
        std::fs::write(&new, script).unwrap();
        std::fs::set_permissions(&new, std::fs::Permissions::from_mode(0o755)).unwrap();
        std::fs::rename(&new, &program).unwrap();
    };
    install(&shows);
    let client = shop.start();
    client.act(Act::Trouble).unwrap();
    let stands = client.now().calls;
    assert_eq!(stands.len(), 1, "{stands:?}");
    let _desktop = Beside(desktop(&shop, &bin).spawn().unwrap());
    let first = shown(&shop, 2);
    assert!(first[0].starts_with("--app-name=Chargehand|--urgency=low|--|"), "{first:?}");
    assert!(first[1].starts_with("--app-name=Chargehand|--urgency=critical|--|"), "{first:?}");
    assert!(first[1].contains(&stands[0].text), "{first:?}");
    shop.kill();
    let gone = shown(&shop, 3);
    assert!(gone[2].contains("--urgency=critical") && gone[2].contains("nothing is heard of it"), "{gone:?}");
    let client = shop.start();
    let back = shown(&shop, 4);
    assert!(back[3].contains("answers again"), "{back:?}");
    // a desktop that fails once is told, and what is called next is shown; what stood is not shown once more
    install(&format!("#!/bin/sh\necho failed >>{list}\nexit 1\n"));
    Operator::owner(&client).sign_in();
    let again = || {
        for call in client.now().calls {
            client.act(Act::AnswerCall { number: call.number }).unwrap();
        }
        client.act(Act::Trouble).unwrap();
    };
    again();
    assert_eq!(shown(&shop, 5)[4..], ["failed"]);
    install(&shows);
    again();
    let all = shown(&shop, 6);
    assert!(all.len() == 6 && all[5].contains(&stands[0].text), "{all:?}");
    shop.end();
}

#[test]
fn without_the_desktops_program_it_says_what_to_install() {
    let mut shop = Workshop::new(20.0);
    let _client = shop.start();
    let none = shop.path("bin");
    std::fs::create_dir(&none).unwrap();
    let done = desktop(&shop, &none).output().unwrap();
    let said = String::from_utf8_lossy(&done.stderr);
    assert!(!done.status.success(), "{said}");
    assert!(said.contains("libnotify-bin"), "{said}");
    shop.end();
}
