//! The phone's page, the page of a batch and the job card in a real browser without a window, where one is installed: at a
//! phone's and a desktop's width, light and dark, and printed. The pictures stay in `target/pictures`, for somebody to look at; what can be told without eyes is asserted.

use chargehand_terminal::words::REASONS;
use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop, repository};
use chargehand_types::act::Act;
use chargehand_types::history::{BitHistory, LostTo};
use chargehand_types::report::BatchReport;
use chargehand_types::stage::{Grade, Reason};
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

/// Prints a page as a browser does; gives the sides, and keeps the file beside the pictures.
fn printed(browser: &Path, home: &Path, page: &Path, name: &str) -> usize {
    let pdf = repository().join(format!("target/pictures/{name}.pdf"));
    let _ = std::fs::remove_file(&pdf);
    let more = [format!("--print-to-pdf={}", pdf.display()), "--no-pdf-header-footer".to_owned()];
    let output = run(browser, home, &format!("file://{}", page.display()), false, &more);
    let bytes = std::fs::read(&pdf).unwrap_or_else(|e| panic!("{e}: {}", String::from_utf8_lossy(&output.stderr)));
    println!("{}", pdf.display());
    // a side is an object of type Page; the tree of them, of type Pages, is another
    let text = String::from_utf8_lossy(&bytes);
    text.match_indices("/Type /Page").filter(|(at, sign)| !text[at + sign.len()..].starts_with('s')).count()
}

/// The batch's page as it could be at its worst: everything it shows is there more often than it has room for.
fn at_its_fullest(mut of: BatchReport, bits: &BitHistory) -> BatchReport {
    let pattern = of.sheets.iter().max_by_key(|s| s.corrections.len()).unwrap().clone();
    of.sheets = (1..=60)
        .map(|n| {
            let mut sheet = pattern.clone();
            sheet.sheet = format!("B1-{n}").as_str().into();
            sheet.grade = Some(Grade::Rework);
            sheet
                .notes
                .push(format!("sheet {n}: the far edge is fuzzy where the grain runs out, sanded by hand; ").repeat(3));
            for correction in &mut sheet.corrections {
                correction.why = "looked at once more by daylight, with the light from the side and a glass".repeat(2);
            }
            sheet
        })
        .collect();
    if let Some(sum) = &mut of.sum {
        use LostTo::{Held, NothingOn, Securing, Starting, Stopped, TakingOff, Tooling};
        sum.lost = [Securing, Tooling, Starting, Held, Stopped, TakingOff, NothingOn].map(|to| (to, 31.0)).to_vec();
    }
    of.reasons = REASONS.iter().map(|r| (Some(*r), [3, 4])).chain([(None, [1, 0])]).collect();
    let bit = of.bits[0].clone();
    of.bits = (0..4)
        .map(|n| {
            let mut bit = bit.clone();
            bit.bit = format!("bit-{n}").as_str().into();
            bit
        })
        .collect();
    of.physical = bits.physical.iter().cycle().take(9).cloned().collect();
    of
}

/// One page, on paper two sides, however much there is to tell; the job card is one side.
#[test]
fn what_is_printed_fits_its_paper() {
    let Some(browser) = browser() else {
        eprintln!("skipped: no browser is installed (Debian: chromium)");
        return;
    };
    let mut shop = Workshop::new(60.0);
    shop.edit("daemon.toml", |text| text + "\n[rates]\nmachine_hour = 12.0\nhand_hour = 30.0\n");
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 3).unwrap();
    let (here, home) = (shop.path("."), shop.path("browser"));
    let says = |arguments: &[&str]| {
        let told = shop.says(&here, arguments);
        assert_eq!(told.code, Some(0), "{told:?}");
    };
    says(&["bit", "new", "c635", "--diameter", "6.34", "--used", "100", "--who", "Solveig"]);
    let mut operator = Operator::owner(&client);
    let _ = operator.walk_sheets(1);
    operator.grading =
        |i| if i == 0 { (Grade::Rework, Some(Reason::Fuzzy)) } else { (Grade::Scrap, Some(Reason::TornFace)) };
    let _ = operator.walk_sheets(1);
    says(&[
        "sheet",
        "correct",
        "B1-1",
        "part",
        "1",
        "--grade",
        "scrap",
        "--reason",
        "torn-face",
        "--why",
        "seen by daylight",
    ]);
    let [usual, card, fullest] = ["batch.html", "card.html", "fullest.html"].map(|name| shop.path(name));
    says(&["report", "B1", "-o", usual.to_str().unwrap()]);
    says(&["sheet", "print", "B1-3", "-o", card.to_str().unwrap()]);
    let full = at_its_fullest(client.get("/v1/batches/B1/report").unwrap(), &client.get("/v1/history/bits").unwrap());
    let page =
        chargehand_terminal::report::page(&full, chrono::Utc::now(), &|at| at.format("%Y-%m-%d %H:%M").to_string());
    std::fs::write(&fullest, page).unwrap();

    let pictures = repository().join("target/pictures");
    std::fs::create_dir_all(&pictures).unwrap();
    for (file, name, sides) in [(&usual, "batch", 2), (&fullest, "batch-full", 2), (&card, "job-card", 1)] {
        assert_eq!(printed(&browser, &home, file, name), sides, "{name}: sides of A4");
        for (scheme, paper) in [("light", [0xff, 0xff, 0xff]), ("dark", [0x15, 0x19, 0x1a])] {
            let path = pictures.join(format!("{name}-{scheme}.png"));
            let _ = std::fs::remove_file(&path);
            let more = ["--window-size=1100,2200".to_owned(), format!("--screenshot={}", path.display())];
            let output = run(&browser, &home, &format!("file://{}", file.display()), scheme == "dark", &more);
            let said = String::from_utf8_lossy(&output.stderr).into_owned();
            assert!(!said.contains("CONSOLE"), "{said}");
            assert_eq!(picture(&path), ([1100, 2200], paper), "{name} {scheme}");
            println!("{}", path.display());
        }
    }
}
