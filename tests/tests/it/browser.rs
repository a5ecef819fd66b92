//! The phone's page in a real browser without a window, where one is installed: at a phone's and a desktop's width, light and
//! dark. The pictures stay in `target/pictures`, for somebody to look at; what can be told without eyes is asserted.

use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop, repository};
use chargehand_types::act::Act;
use std::io::{Read, Write};
use std::net::{Shutdown, TcpListener, TcpStream};
use std::os::unix::net::UnixStream;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};
use std::thread::spawn;

/// The paper of each scheme, as job-card.css has it.
const PAPERS: [(&str, [u8; 3]); 2] = [("light", [0xfb, 0xfa, 0xf6]), ("dark", [0x19, 0x18, 0x15])];
const WIDTHS: [(&str, u32, u32); 2] = [("phone", 390, 1600), ("desktop", 1280, 900)];

fn browser() -> Option<PathBuf> {
    let names = ["/usr/bin/chromium", "/usr/bin/chromium-browser", "/usr/bin/google-chrome"];
    names.iter().map(PathBuf::from).find(|p| p.exists())
}

/// Lends the socket to a browser, which speaks TCP alone; gives the address.
fn lent(socket: PathBuf) -> String {
    fn pass(mut from: impl Read, mut to: impl Write, then: impl FnOnce()) {
        let _ = std::io::copy(&mut from, &mut to);
        then();
    }
    let listener = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = format!("http://{}/", listener.local_addr().unwrap());
    spawn(move || {
        for outer in listener.incoming().map_while(Result::ok) {
            let Ok(inner) = UnixStream::connect(&socket) else { return };
            let (a, b): (TcpStream, UnixStream) = (outer.try_clone().unwrap(), inner.try_clone().unwrap());
            spawn(move || pass(&outer, &inner, || drop(inner.shutdown(Shutdown::Write))));
            spawn(move || pass(&b, &a, || drop(a.shutdown(Shutdown::Write))));
        }
    });
    address
}

fn run(browser: &Path, home: &Path, url: &str, dark: bool, more: &[String]) -> Output {
    let mut command = Command::new(browser);
    command.args(["--headless=new", "--no-sandbox", "--disable-gpu", "--hide-scrollbars", "--no-first-run"]);
    command.args(["--enable-logging=stderr", "--timeout=20000"]);
    // 0 is dark, 1 light (the engine's own enumeration of preferred colour schemes)
    command.arg(format!("--blink-settings=preferredColorScheme={}", u8::from(!dark)));
    command.arg(format!("--user-data-dir={}", home.display())).args(more).arg(url).stdin(Stdio::null());
    command.output().unwrap()
}

/// A picture's size and the colour of its first spot.
fn picture(path: &Path) -> ([u32; 2], [u8; 3]) {
    let file = std::io::BufReader::new(std::fs::File::open(path).unwrap_or_else(|e| panic!("{}: {e}", path.display())));
    let mut reader = png::Decoder::new(file).read_info().unwrap();
    let mut bytes = vec![0; reader.output_buffer_size().unwrap()];
    let info = reader.next_frame(&mut bytes).unwrap();
    ([info.width, info.height], [bytes[0], bytes[1], bytes[2]])
}

#[test]
fn the_page_is_whole_in_a_browser() {
    let Some(browser) = browser() else {
        eprintln!("skipped: no browser is installed (Debian: chromium)");
        return;
    };
    let mut shop = Workshop::new(1.0);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    let mut operator = Operator::owner(&client);
    operator.sign_in();
    operator.walk_into_cut();
    let url = lent(shop.socket());
    let pictures = repository().join("target/pictures");
    std::fs::create_dir_all(&pictures).unwrap();
    for (scheme, paper) in PAPERS {
        for (name, width, height) in WIDTHS {
            let path = pictures.join(format!("page-{name}-{scheme}.png"));
            let _ = std::fs::remove_file(&path);
            let more = [format!("--window-size={width},{height}"), format!("--screenshot={}", path.display())];
            let output = run(&browser, &shop.path("browser"), &url, scheme == "dark", &more);
            let said = String::from_utf8_lossy(&output.stderr).into_owned();
            // what the page's own policy refuses, and every fault of its script, is told on the console
            assert!(!said.contains("CONSOLE"), "{said}");
            assert_eq!(picture(&path), ([width, height], paper), "{name} {scheme}\n{said}");
            println!("{}", path.display());
        }
    }
    // with its script at work: the page is the browser's own, and not cut off from the shop
    let output = run(&browser, &shop.path("browser"), &url, false, &["--dump-dom".to_owned()]);
    let page = String::from_utf8_lossy(&output.stdout).into_owned();
    for words in ["Hold at the next lift", "until about", "<svg", "as of "] {
        assert!(page.contains(words), "{words} is not in {page}");
    }
    assert!(!page.contains("Cut off from the shop"), "{page}");
    client.act(Act::Stop).unwrap();
    shop.end();
}
