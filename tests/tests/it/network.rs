//! The API over a network, with the real daemon, real TLS and a client that shares no code with it: who is let in, how
//! far, and what becomes of those who only hold the door.

use chargehand_tests::client::Client;
use chargehand_tests::tls::{Answered, TlsClient};
use chargehand_tests::workshop::{Workshop, command_line};
use chargehand_types::act::{Act, ActRequest};
use chargehand_types::people::{MakeToken, RefusalKind, RefusalList, RevokeToken, TokenList, TokenMade};
use chargehand_types::queue::{Doctor, Verdict};
use chargehand_types::stage::Role;
use chrono::{TimeDelta, Utc};
use serde_json::{Value, json};
use std::io::{Read, Write};
use std::net::{SocketAddr, TcpListener, TcpStream};
use std::os::unix::fs::PermissionsExt;
use std::process::{Command, Stdio};
use std::time::Duration;

/// A workshop that listens on a free port, with a certificate made by the daemon itself.
fn listening() -> (Workshop, SocketAddr) {
    let shop = Workshop::new(1.0);
    // free until somebody takes it: the daemon does, a moment later
    let address = TcpListener::bind("127.0.0.1:0").and_then(|l| l.local_addr()).unwrap();
    shop.edit("daemon.toml", |text| format!("{text}\n[api]\nlisten = \"{address}\"\n"));
    let made = shop.run_to_end(&["--make-certificate", "localhost", "127.0.0.1"]);
    assert_eq!(made.code, Some(0), "{made:?}");
    (shop, address)
}

fn tls(shop: &Workshop, address: SocketAddr) -> TlsClient {
    TlsClient::trusting(&shop.path("chargehand.crt"), address)
}

fn token(client: &Client, name: &str, role: Role) -> String {
    let expires = Utc::now() + TimeDelta::days(1);
    let request = MakeToken { by: None, name: name.to_owned(), role, expires };
    let made: TokenMade = client.post("/v1/tokens", &request).unwrap();
    made.token.shown().to_owned()
}

fn bearer(token: &str) -> String {
    format!("Bearer {token}")
}

fn get(tls: &TlsClient, path: &str, token: &str) -> Answered {
    tls.ask("GET", path, &[("authorization", &bearer(token))], "").unwrap()
}

fn act(tls: &TlsClient, token: &str, act: Act, more: &[(&str, &str)]) -> Answered {
    let command_id = chargehand_tests::client::fresh();
    let request = ActRequest { command_id, terminal: "phone".into(), seen: None, act };
    let given = bearer(token);
    let headers = [&[("authorization", given.as_str()), ("content-type", "application/json")], more].concat();
    tls.ask("POST", "/v1/acts", &headers, &serde_json::to_string(&request).unwrap()).unwrap()
}

fn refusals(client: &Client) -> RefusalList {
    client.get("/v1/people/refusals").unwrap()
}

/// The listening TCP sockets of a process, from what the system tells of both (proc(5)).
fn listens(pid: u32) -> usize {
    let links = std::fs::read_dir(format!("/proc/{pid}/fd")).unwrap().flatten();
    let sockets: Vec<String> =
        links.filter_map(|l| Some(std::fs::read_link(l.path()).ok()?.display().to_string())).collect();
    let tables = ["tcp", "tcp6"].map(|t| std::fs::read_to_string(format!("/proc/{pid}/net/{t}")).unwrap_or_default());
    let rows = tables.iter().flat_map(|t| t.lines().skip(1)).map(|l| l.split_whitespace().collect::<Vec<_>>());
    // state 0A is listening; the tenth column is the socket's number
    rows.filter(|r| r.get(3) == Some(&"0A"))
        .filter(|r| r.get(9).is_some_and(|inode| sockets.contains(&format!("socket:[{inode}]"))))
        .count()
}

#[test]
fn nobody_listens_unless_config_asks_for_it() {
    let mut shop = Workshop::new(1.0);
    shop.start();
    assert_eq!(listens(shop.pid()), 0);
    shop.end();
    let (mut shop, _) = listening();
    shop.start();
    assert_eq!(listens(shop.pid()), 1, "and this way of looking finds one that does");
}

#[test]
fn every_route_wants_a_token_and_says_nothing_without() {
    let (mut shop, address) = listening();
    let client = shop.start();
    let tls = tls(&shop, address);
    let described: Value = client.get("/openapi.json").unwrap();
    let paths = described["paths"].as_object().unwrap();
    assert!(paths.len() > 30);
    let there = paths.iter().flat_map(|(path, item)| {
        item.as_object().unwrap().keys().map(move |method| (method.to_uppercase(), path.replace(['{', '}'], "x")))
    });
    for (method, path) in there.chain([("GET".to_owned(), "/no/such/route".to_owned())]) {
        let answer = tls.ask(&method, &path, &[], "{}").unwrap();
        // the first ones are told what is missing, later ones that it is too much
        assert!(matches!(answer.status, 401 | 429), "{method} {path}: {answer:?}");
        assert!(answer.body.contains("/problems/not-permitted") && answer.body.len() < 500, "{answer:?}");
    }
    let first = &refusals(&client).refusals[0];
    assert_eq!((first.kind, first.from.as_str()), (RefusalKind::BadToken, "127.0.0.1"));
    let good = token(&client, "phone", Role::Helper);
    assert_eq!(get(&tls, "/v1/now", &good).status, 200, "the right one counts beside whoever guesses");
}

#[test]
fn a_missing_token_is_told_as_the_standard_says() {
    let (mut shop, address) = listening();
    let client = shop.start();
    let tls = tls(&shop, address);
    // RFC 6750, section 3, and RFC 9110, section 11.6.1
    let answer = tls.ask("GET", "/v1/now", &[], "").unwrap();
    assert!(answer.status == 401 && answer.head.contains("www-authenticate: bearer"), "{answer:?}");
    let good = token(&client, "phone", Role::Helper);
    for wrong in [format!("Basic {good}"), good.clone(), format!("Bearer {}", &good[..good.len() - 1])] {
        assert!(matches!(tls.ask("GET", "/v1/now", &[("authorization", &wrong)], "").unwrap().status, 401 | 429));
    }
    // the machine's own token is none here
    let own = std::fs::read_to_string(shop.socket().with_file_name("terminal-token")).unwrap();
    let answer = tls.ask("GET", "/v1/now", &[("chargehand-token", own.trim())], "").unwrap();
    assert!(matches!(answer.status, 401 | 429));
}

#[test]
fn without_tls_nothing_is_answered() {
    let (mut shop, address) = listening();
    shop.start();
    let mut plain = TcpStream::connect(address).unwrap();
    plain.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
    plain.write_all(b"GET /v1/now HTTP/1.1\r\nhost: localhost\r\n\r\n").unwrap();
    let mut answer = Vec::new();
    let _ = plain.read_to_end(&mut answer);
    assert!(!String::from_utf8_lossy(&answer).contains("HTTP"), "{answer:?}");
    // whoever trusts another certificate does not take this daemon for theirs
    let (other, _) = listening();
    let fault = TlsClient::trusting(&other.path("chargehand.crt"), address).ask("GET", "/", &[], "").unwrap_err();
    assert!(fault.to_string().contains("certificate"), "{fault}");
}

#[test]
fn over_a_network_only_a_hold_reaches_the_machine() {
    let (mut shop, address) = listening();
    let client = shop.start();
    let tls = tls(&shop, address);
    let (helper, owner) = (token(&client, "phone", Role::Helper), token(&client, "office", Role::Owner));
    client.act(Act::SignIn { who: "Solveig".into(), pin: None }).unwrap();
    let own = std::fs::read_to_string(shop.socket().with_file_name("terminal-token")).unwrap();
    for given in [&helper, &owner] {
        for moves in [
            Act::Home,
            Act::BitFree,
            Act::CycleStart,
            Act::Resume,
            Act::Raise,
            Act::TouchPlate,
            Act::Approach,
            Act::ConfirmZero,
            Act::TakeSheet { sheet: None },
            Act::SignIn { who: "Solveig".into(), pin: None },
            Act::SignOut,
        ] {
            let answer = act(&tls, given, moves.clone(), &[("chargehand-token", own.trim())]);
            assert_eq!(answer.status, 403, "{moves:?}: {answer:?}");
            assert!(answer.body.contains("Nothing is moved over a network"), "{answer:?}");
        }
        for holds in [Act::Hold, Act::HoldAtLift, Act::Stop, Act::Trouble] {
            let answer = act(&tls, given, holds.clone(), &[]);
            // nothing moves, so the floor may say that there is nothing to hold: but nobody is turned away
            assert!(!matches!(answer.status, 401 | 403 | 429), "{holds:?}: {answer:?}");
        }
    }
    let list = refusals(&client);
    let afar = list.refusals.iter().filter(|r| r.kind == RefusalKind::FromAfar && r.from == "127.0.0.1");
    let asked: Vec<_> = afar.map(|r| (r.who.as_deref().unwrap_or_default(), r.asked.as_str())).collect();
    assert!(asked.contains(&("phone", "home")) && asked.contains(&("office", "cycle-start")), "{asked:?}");
}

#[test]
fn a_token_reaches_as_far_as_its_role_and_until_it_is_over() {
    let (mut shop, address) = listening();
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    let tls = tls(&shop, address);
    let (helper, owner) = (token(&client, "phone", Role::Helper), token(&client, "office", Role::Owner));
    let batch = |given: &str| {
        let body = json!({ "command_id": chargehand_tests::client::fresh(), "card": "label-board", "sheets": 1 });
        let headers = [("authorization", bearer(given)), ("content-type", "application/json".to_owned())];
        let headers: Vec<(&str, &str)> = headers.iter().map(|(n, v)| (*n, v.as_str())).collect();
        tls.ask("POST", "/v1/batches", &headers, &body.to_string()).unwrap()
    };
    let no = batch(&helper);
    assert!(no.status == 403 && no.body.contains("owner's"), "{no:?}");
    assert_eq!(batch(&owner).status, 200);
    for (path, of_helper, of_owner) in
        [("/v1/now", 200, 200), ("/metrics", 200, 200), ("/v1/people/refusals", 403, 200)]
    {
        assert_eq!(get(&tls, path, &helper).status, of_helper, "{path}");
        assert_eq!(get(&tls, path, &owner).status, of_owner, "{path}");
    }
    let body = json!({ "name": "more", "role": "owner", "expires": "2099-01-01T00:00:00Z" }).to_string();
    let given = bearer(&owner);
    let no = tls.ask("POST", "/v1/tokens", &[("authorization", &given)], &body).unwrap();
    assert_eq!(no.status, 403, "no token makes another");

    let _: Value = client.post("/v1/tokens/phone/revoke", &RevokeToken::default()).unwrap();
    assert_eq!(get(&tls, "/v1/now", &helper).status, 401);
    let soon =
        MakeToken { by: None, name: "brief".into(), role: Role::Helper, expires: Utc::now() + TimeDelta::seconds(2) };
    let brief: TokenMade = client.post("/v1/tokens", &soon).unwrap();
    while get(&tls, "/v1/now", brief.token.shown()).status == 200 {
        std::thread::sleep(Duration::from_millis(100));
    }
    let list: TokenList = client.get("/v1/tokens").unwrap();
    assert!(list.tokens.iter().any(|t| t.name == "brief" && t.expired), "{list:?}");
    assert!(refusals(&client).refusals.iter().any(|r| r.who.as_deref() == Some("brief")), "the record names it");
}

#[test]
fn a_token_is_in_no_file_and_the_key_in_no_log() {
    let (mut shop, address) = listening();
    let client = shop.start();
    let given = token(&client, "phone", Role::Owner);
    let tls = tls(&shop, address);
    assert_eq!(get(&tls, "/v1/now", &given).status, 200);
    let wrong = format!("{}x", &given[..given.len() - 1]);
    assert_eq!(get(&tls, "/v1/now", &wrong).status, 401);
    let _ = client.all_events();
    shop.end();
    for secret in [&given, &wrong] {
        assert_eq!(shop.files_holding(secret), Vec::<std::path::PathBuf>::new());
    }
    let key = std::fs::read_to_string(shop.path("chargehand.key")).unwrap();
    let line = key.lines().nth(1).unwrap();
    assert_eq!(shop.files_holding(line), [shop.path("chargehand.key")]);
}

/// Half-open clients: they take their address's share and no more, the machine's socket is not touched by it, and they
/// are hung up on.
#[test]
fn who_only_holds_the_door_is_hung_up_on() {
    let (mut shop, address) = listening();
    let client = shop.start();
    let given = token(&client, "phone", Role::Helper);
    let silent: Vec<TcpStream> = (0..16).map(|_| TcpStream::connect(address).unwrap()).collect();
    let tls = tls(&shop, address);
    // the seventeenth from one address is one too many, once the sixteen were taken
    while tls.ask("GET", "/v1/now", &[("authorization", &bearer(&given))], "").is_ok() {
        std::thread::sleep(Duration::from_millis(20));
    }
    client.act(Act::Hold).map_or_else(|p| assert_ne!(p.status, 403, "{p:?}"), |_| ());
    assert!(client.now().seq.0 > 0, "the machine's own socket answers all the while");
    for mut stream in silent {
        stream.set_read_timeout(Some(Duration::from_secs(60))).unwrap();
        let mut bytes = Vec::new();
        let ended = stream.read_to_end(&mut bytes);
        assert!(ended.is_ok() || ended.is_err_and(|e| e.kind() == std::io::ErrorKind::ConnectionReset));
    }
    assert_eq!(get(&tls, "/v1/now", &given).status, 200, "and there is room again");
}

#[test]
fn too_many_requests_are_put_off_and_a_hold_is_not() {
    let (mut shop, address) = listening();
    let client = shop.start();
    let given = token(&client, "phone", Role::Helper);
    let tls = tls(&shop, address);
    let answers = tls.ask_often("/no/such/route", &[("authorization", &bearer(&given))], 300).unwrap();
    assert_eq!(answers.len(), 300);
    let put_off = answers.iter().filter(|s| **s == 429).count();
    assert!(answers[0] == 404 && put_off > 100, "{put_off} of 300 were put off");
    for _ in 0..5 {
        let held = act(&tls, &given, Act::HoldAtLift, &[]);
        assert_ne!(held.status, 429, "{held:?}");
    }
}

#[test]
fn a_certificate_that_cannot_be_used_is_told_and_the_machine_is_served_all_the_same() {
    let (mut shop, _) = listening();
    let again = shop.run_to_end(&["--make-certificate", "localhost"]);
    again.refused(5, &["chargehand.crt", "not written over"]);
    assert_eq!(shop.run_to_end(&["--check"]).code, Some(0));
    std::fs::set_permissions(shop.path("chargehand.key"), std::fs::Permissions::from_mode(0o644)).unwrap();
    shop.run_to_end(&["--check"]).refused(5, &["stands open", "chmod o="]);
    std::fs::remove_file(shop.path("chargehand.key")).unwrap();
    shop.run_to_end(&["--check"]).refused(5, &["no file", "chargehand.key", "--make-certificate"]);

    let client = shop.start();
    assert_eq!(listens(shop.pid()), 0);
    let doctor: Doctor = client.get("/v1/doctor").unwrap();
    let look = doctor.looks.iter().find(|l| l.what == "network").unwrap();
    assert!(look.verdict == Verdict::Wrong && look.text.contains("chargehand.key"), "{look:?}");
}

#[test]
fn a_login_over_a_network_moves_nothing_as_far_as_it_can_be_told() {
    let mut shop = Workshop::new(1.0);
    shop.edit("daemon.toml", |text| text.replace("[practice]", "[practice]\nrefuse_remote_login = true"));
    let client = shop.start();
    // a shell under the name of the program that lets logins in over a network
    std::fs::copy("/bin/sh", shop.path("sshd")).unwrap();
    let under_sshd = |arguments: &str| {
        let line = format!("{} --socket {} {arguments}; exit $?", command_line().display(), shop.socket().display());
        let mut command = Command::new(shop.path("sshd"));
        command.args(["-c", &line]).stdin(Stdio::null()).output().unwrap()
    };
    let moved = under_sshd("machine home --way-clear --who Solveig");
    assert_eq!(moved.status.code(), Some(4), "{moved:?}");
    let held = under_sshd("machine hold");
    assert_ne!(held.status.code(), Some(3), "{held:?}");
    assert!(!String::from_utf8_lossy(&held.stderr).contains("Not from here"), "{held:?}");
    let list = refusals(&client);
    let refused = list.refusals.iter().find(|r| r.kind == RefusalKind::FromAfar).unwrap();
    assert!(refused.from.contains("started under sshd"), "{refused:?}");
    client.act(Act::SignIn { who: "Solveig".into(), pin: None }).unwrap();
}

#[test]
fn the_command_line_speaks_over_the_network() {
    let (mut shop, address) = listening();
    let client = shop.start();
    let made = shop.says_typing(&["token", "add", "phone", "--role", "helper", "--expires", "2099-01-01"], "");
    assert_eq!(made.code, Some(0), "{made:?}");
    shop.write("phone.token", made.said.as_bytes());
    let from_afar = |arguments: &[&str]| {
        let mut command = Command::new(command_line());
        command.arg("--url").arg(format!("https://localhost:{}", address.port())).args(arguments).stdin(Stdio::null());
        command.env("CHARGEHAND_TOKEN_FILE", shop.path("phone.token"));
        command.env("CHARGEHAND_CERTIFICATE", shop.path("chargehand.crt"));
        command.output().unwrap()
    };
    let status = from_afar(&["machine", "status"]);
    assert!(status.status.success(), "{status:?}");
    assert!(String::from_utf8_lossy(&status.stdout).contains("red button"), "{status:?}");
    let moved = from_afar(&["machine", "home", "--way-clear"]);
    assert_eq!(moved.status.code(), Some(4), "{moved:?}");
    assert!(refusals(&client).refusals.iter().any(|r| r.who.as_deref() == Some("phone")));
}
