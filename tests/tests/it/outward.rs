//! The daemon and the shop around it, as a whole program: a job card and metrics while it cuts, a call that leaves the
//! shop, a reader of machine states, a broker, and what all of them cost. Figures are printed, not asserted.

use chargehand_tests::client::Client;
use chargehand_tests::http;
use chargehand_tests::listeners::{Beside, Listeners, core_seconds, free_port, mosquitto};
use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop};
use chargehand_types::act::Act;
use chargehand_types::stage::Stage;
use std::io::{BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::path::Path;
use std::process::Stdio;
use std::sync::atomic::Ordering;
use std::sync::mpsc;
use std::thread::{sleep, spawn};
use std::time::{Duration, Instant};

const SOON: Duration = Duration::from_secs(30);

fn text(shop: &Workshop, path: &str) -> (u16, String) {
    let answer = http::send(&shop.socket(), "GET", path, &[], None).unwrap();
    let status = answer.status;
    (status, answer.whole().unwrap())
}

/// A web receiver that takes everything and gives on its bodies.
fn receiver() -> (String, mpsc::Receiver<String>) {
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let url = format!("http://{}/calls", listener.local_addr().unwrap());
    let (told, got) = mpsc::channel();
    spawn(move || {
        for stream in listener.incoming() {
            let mut stream = BufReader::new(stream.unwrap());
            let mut length = 0;
            loop {
                let mut line = String::new();
                stream.read_line(&mut line).unwrap();
                if let Some(n) = line.to_lowercase().strip_prefix("content-length:") {
                    length = n.trim().parse().unwrap();
                }
                if line == "\r\n" || line.is_empty() {
                    break;
                }
            }
            let mut body = vec![0; length];
            stream.read_exact(&mut body).unwrap();
            let mut stream = stream.into_inner();
            stream.write_all(b"HTTP/1.1 204 No Content\r\nconnection: close\r\n\r\n").unwrap();
            if told.send(String::from_utf8(body).unwrap()).is_err() {
                return;
            }
        }
    });
    (url, got)
}

fn cutting(client: &Client) {
    client.add_batch(CARD, 1).unwrap();
    let mut operator = Operator::owner(client);
    operator.sign_in();
    operator.walk_into_cut();
    // pages and drawings take seconds on a busy computer: the sheet outlasts them
    client.act(Act::Override { feed: Some(10), rapid: None }).unwrap();
}

#[test]
fn a_hold_from_the_page_holds_calls_and_is_told_outside() {
    let (url, calls) = receiver();
    let adapter = free_port();
    let mut shop = Workshop::new(20.0);
    shop.edit("daemon.toml", |t| {
        format!("{t}\n[notices]\nadapter = \"127.0.0.1:{adapter}\"\n[[notices.webhook]]\nname = \"phone\"\nurl = \"{url}\"\n")
    });
    let client = shop.start();
    // a try of every way, by the command line
    let tried = shop.says(Path::new("/"), &["notices", "test"]);
    assert_eq!((tried.code, tried.said.as_str()), (Some(0), "in order  phone: the receiver took it\n"));
    assert!(calls.recv_timeout(SOON).unwrap().contains("This is a try"));
    client.add_card(&shop.card()).unwrap();
    cutting(&client);
    // a reader of machine states
    let mut reader = BufReader::new(TcpStream::connect(("127.0.0.1", adapter)).unwrap());
    reader.get_ref().set_read_timeout(Some(SOON)).unwrap();
    let mut heard = |wanted: &str| loop {
        let mut line = String::new();
        assert!(reader.read_line(&mut line).unwrap() > 0, "the adapter hung up before {wanted}");
        if line.contains(wanted) {
            return;
        }
    };
    heard("|exec|ACTIVE");
    let (status, page) = text(&shop, "/");
    assert_eq!(status, 200);
    assert!(page.contains("Hold at the next lift") && page.contains("until about") && page.contains("<svg"), "{page}");
    let files = page.len() + text(&shop, "/job-card.css").1.len() + text(&shop, "/job-card.js").1.len();
    println!("the job card with its style and script: {files} bytes");
    assert!(files < 60 * 1024, "{files}");
    let (_, metrics) = text(&shop, "/metrics");
    assert!(metrics.contains("chargehand_sheet_stage{stage=\"cutting\"} 1\n"), "{metrics}");
    let answer = http::send(&shop.socket(), "POST", "/hold", &[], Some(b"")).unwrap();
    assert_eq!(answer.status, 303);
    client.until("held or called", |n| n.sheet.as_ref().is_some_and(|s| s.stage == Stage::Held));
    let call = calls.recv_timeout(SOON).unwrap();
    assert!(call.contains("\"call.raised\"") && call.contains("held-from-afar"), "{call}");
    heard("|exec|FEED_HOLD");
    let (_, page) = text(&shop, "/");
    assert!(page.contains("Somebody is called") && !page.contains("<button>"), "{page}");
    client.act(Act::Stop).unwrap();
    shop.end();
}

#[test]
fn what_all_listeners_cost_while_cutting() {
    let (port, adapter) = (free_port(), free_port());
    let broker = mosquitto(port);
    // machine time as at a real machine
    let mut shop = Workshop::new(1.0);
    shop.edit("daemon.toml", |t| {
        format!("{t}\n[notices]\nadapter = \"127.0.0.1:{adapter}\"\n[notices.broker]\nhost = \"127.0.0.1\"\nport = {port}\ntopic = \"shop/router-1\"\n")
    });
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    cutting(&client);
    let listeners = Listeners::start(&shop.socket(), 4, adapter);
    sleep(Duration::from_millis(500));
    let pid = shop.pid();
    let (before, begun) = (core_seconds(pid), Instant::now());
    sleep(Duration::from_secs(8));
    let (used, real) = (core_seconds(pid) - before, begun.elapsed().as_secs_f64());
    println!(
        "while cutting, with 4 terminals, a page, a reader{}: {used:.2} core seconds in {real:.1} s, {:.1} % of a core",
        if broker.is_some() { " and a broker" } else { " (no broker: mosquitto is not installed)" },
        100.0 * used / real
    );
    let heard = listeners.heard.load(Ordering::Relaxed);
    assert!(heard > 1000, "every listener hears where the machine is: {heard} bytes");
    drop(listeners);
    client.act(Act::Stop).unwrap();
    shop.end();
}

#[test]
fn from_start_to_ready_with_an_empty_store() {
    let shop = Workshop::new(20.0);
    let listening = shop.path("told");
    let socket = std::os::unix::net::UnixDatagram::bind(&listening).unwrap();
    socket.set_read_timeout(Some(SOON)).unwrap();
    // the program may have to be built first
    let mut command = shop.command(&[]);
    let begun = Instant::now();
    let child = command
        .env("NOTIFY_SOCKET", &listening)
        .env("WATCHDOG_USEC", "600000")
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    let mut child = Beside(child);
    let heard = |wanted: &str| loop {
        let mut bytes = [0; 512];
        let n = socket.recv(&mut bytes).unwrap_or_else(|e| panic!("{wanted}: {e}"));
        if String::from_utf8_lossy(&bytes[..n]).lines().any(|l| l == wanted) {
            return begun.elapsed();
        }
    };
    println!("from start to ready with an empty store: {} ms", heard("READY=1").as_millis());
    // it is ready: whoever connects now is answered
    let answer = http::send(&shop.socket(), "GET", "/v1/now", &[], None).unwrap();
    assert_eq!(answer.status, 200);
    heard("WATCHDOG=1");
    heard("WATCHDOG=1");
    let pid = rustix::process::Pid::from_child(&child.0);
    rustix::process::kill_process(pid, rustix::process::Signal::TERM).unwrap();
    heard("STOPPING=1");
    assert!(child.0.wait().unwrap().success());
}
