//! The computer is kept from sleeping while a sheet is cut, on a real port (a pseudo-terminal), by a stand-in for the
//! system's own program. It has to let go however the daemon ends.

use chargehand_tests::client::{COMES_WITHIN, Client};
use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop, controller};
use chargehand_types::act::Act;
use chargehand_types::stage::Decision;
use std::os::unix::fs::PermissionsExt;
use std::thread::sleep;
use std::time::{Duration, Instant};

/// Writes down what it is told and when its input ends, as `systemd-inhibit … cat` lives and ends with `cat`
/// (systemd-inhibit(1)).
const STAND_IN: &str = "#!/bin/sh\necho \"held $*\" >>LIST\ncat >/dev/null\necho let-go >>LIST\n";

fn list(shop: &Workshop) -> Vec<String> {
    std::fs::read_to_string(shop.path("list")).unwrap_or_default().lines().map(str::to_owned).collect()
}

fn until(shop: &Workshop, lines: usize) -> Vec<String> {
    let begun = Instant::now();
    while list(shop).len() < lines {
        assert!(begun.elapsed() < COMES_WITHIN, "{:?}\n{}", list(shop), shop.log());
        sleep(Duration::from_millis(20));
    }
    list(shop)
}

fn cutting(client: &Client) {
    let mut operator = Operator::owner(client);
    operator.sign_in();
    operator.walk_into_cut();
}

#[test]
fn the_computer_stays_awake_while_a_sheet_is_cut_and_no_longer() {
    let mut shop = Workshop::new(10.0);
    let machine = controller();
    shop.edit("daemon.toml", |t| {
        let (before, _) = t.split_once("[practice]").unwrap();
        before
            .replace("\"simulated\"", &format!("{:?}", machine.path()))
            .replace("run_down_s = 12.0", "run_down_s = 1.0")
            + "[bench]\nscripted_operator = true\n"
    });
    std::fs::create_dir(shop.path("bin")).unwrap();
    let program = shop.path("bin/systemd-inhibit");
    std::fs::write(&program, STAND_IN.replace("LIST", &shop.path("list").display().to_string())).unwrap();
    std::fs::set_permissions(&program, std::fs::Permissions::from_mode(0o755)).unwrap();
    shop.look_first_in(shop.path("bin"));
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    assert_eq!(list(&shop), [""; 0], "a machine that stands still lets the computer sleep");
    cutting(&client);
    let held = until(&shop, 1);
    // systemd-inhibit(1): what, how, who, why, and the program whose end is the lock's end
    for word in ["--what=sleep:shutdown:idle", "--mode=block", "--who=Chargehand", "--why=", " cat"] {
        assert!(held[0].contains(word), "{held:?}");
    }
    client.act(Act::Stop).unwrap();
    assert_eq!(until(&shop, 2)[1], "let-go");
    // once more, and the daemon is gone from one instruction to the next
    let mut operator = Operator::owner(&client);
    let asked = operator.walk("the first question is answered", |_, n| {
        n.sheet.as_ref().and_then(|s| s.stopped.as_ref()).is_some_and(|s| s.choices.contains(&Decision::Restart))
    });
    let sheet = asked.sheet.unwrap().id;
    client.act(Act::Decide { sheet, decision: Decision::Restart, line: None }).unwrap();
    operator.walk_into_cut();
    until(&shop, 3);
    shop.kill();
    assert_eq!(until(&shop, 4)[3], "let-go");
}
