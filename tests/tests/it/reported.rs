//! The page of a batch, read as a browser reads it and held against the records it is of.
//!
//! The parser is a general-purpose one for HTML (html5ever, which follows the WHATWG standard and tells parse errors).

use chargehand_tests::client::Client;
use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop};
use chargehand_types::history::{EffortHistory, SheetRecord};
use chargehand_types::stage::{Grade, Reason};
use scraper::{ElementRef, Html, Selector};

/// Machine seconds to a real one.
const RATE: f64 = 60.0;

fn all<'a>(page: &'a Html, what: &str) -> Vec<ElementRef<'a>> {
    page.select(&Selector::parse(what).unwrap()).collect()
}

fn text(page: &Html, id: &str) -> String {
    let found = all(page, &format!("#{id}"));
    assert_eq!(found.len(), 1, "one #{id}");
    found[0].text().collect()
}

fn number(of: ElementRef<'_>, attribute: &str) -> f64 {
    of.value().attr(attribute).unwrap_or_else(|| panic!("{attribute}: {}", of.html())).parse().unwrap()
}

fn near(a: f64, b: f64) -> bool {
    (a - b).abs() <= 1.0e-6 * a.abs().max(b.abs()).max(1.0)
}

#[test]
fn a_batch_is_told_on_one_page() {
    let mut shop = Workshop::new(RATE);
    shop.edit("daemon.toml", |text| text + "\n[rates]\nmachine_hour = 12.0\nhand_hour = 30.0\n");
    shop.edit("label-board.card.toml", |text| {
        text + "\n[[fit]]\nname = \"slot\"\nwidth = 12.2\nmate = \"board\"\nclearance = [0.1, 0.3]\n"
    });
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 3).unwrap();
    let here = shop.path(".");
    let file = shop.path("page.html");
    let report = |batch: &str| shop.says(&here, &["report", batch, "-o", file.to_str().unwrap()]);
    assert_eq!(report("B7").code, Some(5), "there is no such batch");
    assert_eq!(report("B1").code, Some(0), "a batch that nobody has begun has a page too");
    let empty = Html::parse_document(&std::fs::read_to_string(&file).unwrap());
    assert_eq!(empty.errors, Vec::<String>::new());
    assert_eq!(text(&empty, "parts-good"), "0");

    let mut operator = Operator::owner(&client);
    let _ = operator.walk_sheets(1);
    operator.grading = |i| if i == 0 { (Grade::Good, None) } else { (Grade::Scrap, Some(Reason::TornFace)) };
    let _ = operator.walk_sheets(1);
    joint(&shop, &client);
    assert_eq!(report("B1").code, Some(0));
    let written = std::fs::read_to_string(&file).unwrap();
    let page = Html::parse_document(&written);
    assert_eq!(page.errors, Vec::<String>::new(), "a parser finds nothing wrong");
    assert!(all(&page, "script, link, img, iframe").is_empty() && !written.contains("url("), "one self-contained page");
    assert!(written.contains("prefers-color-scheme:dark") && written.contains("@media print"));

    let sheets = client.history().sheets;
    outcomes(&page, &sheets);
    times(&page, &sheets);
    spent(&page, &sheets);
    assert_eq!(all(&page, "[data-mark='torn face']").len(), 1, "one torn face on the map");
    assert_eq!(number(all(&page, "[data-mark]")[0], "data-count"), 1.0);
    let cut: f64 = sheets.iter().flat_map(|s| &s.operations).map(|o| o.cut.value()).sum();
    let bars: f64 = all(&page, "rect[data-bit='c635']").into_iter().map(|b| number(b, "data-metres")).sum();
    assert!(near(bars, cut), "{bars} {cut}");
    let effort: EffortHistory = client.get("/v1/history/effort").unwrap();
    let cost = effort.batches[0].cost.unwrap();
    assert_eq!(text(&page, "cost-total"), format!("{:.2}", cost.total));
    assert_eq!(text(&page, "cost-each"), format!("{:.2}", cost.each.unwrap()));
}

/// What was corrected, which physical bits cut, and what time was lost to.
#[test]
fn the_page_tells_corrections_numbers_and_lost_time() {
    let mut shop = Workshop::new(RATE);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 2).unwrap();
    let (here, file) = (shop.path("."), shop.path("page.html"));
    let says = |arguments: &[&str]| {
        let told = shop.says(&here, arguments);
        assert_eq!(told.code, Some(0), "{told:?}");
        told
    };
    for diameter in ["6.34", "6.36"] {
        says(&["bit", "new", "c635", "--diameter", diameter, "--used", "100", "--who", "Solveig"]);
    }
    let mut operator = Operator::owner(&client);
    let _ = operator.walk_sheets(1);
    let page = || {
        says(&["report", "B1", "-o", file.to_str().unwrap()]);
        let page = Html::parse_document(&std::fs::read_to_string(&file).unwrap());
        assert_eq!(page.errors, Vec::<String>::new(), "a parser finds nothing wrong");
        page
    };
    assert!(all(&page(), "tr[data-correction]").is_empty(), "nothing was corrected yet");
    let why = "seen by <daylight> & \"glass\"";
    says(&["sheet", "correct", "B1-1", "part", "1", "--grade", "scrap", "--reason", "torn-face", "--why", why]);
    let page = page();

    let sheets = client.history().sheets;
    let cells = |row: ElementRef<'_>| -> Vec<String> {
        row.select(&Selector::parse("td").unwrap()).map(|td| td.text().collect()).collect()
    };
    let corrections = &sheets[0].corrections;
    assert_eq!(corrections.len(), 2, "the part, and with it the sheet");
    let rows = all(&page, "tr[data-correction]");
    assert_eq!(rows.len(), corrections.len());
    for (row, correction) in rows.into_iter().zip(corrections) {
        assert_eq!(number(row, "data-correction"), correction.by_record.0 as f64);
        let told = cells(row);
        assert_eq!((told[0].as_str(), told[2].as_str()), ("B1-1", why), "{told:?}");
        assert!(told[1].contains("was good") && told[3].ends_with(", Solveig"), "{told:?}");
    }
    outcomes(&page, &sheets);

    // the operator takes the first of the two; only it is on the page
    let rows = all(&page, "tr[data-number]");
    assert_eq!(rows.len(), 1);
    let cut: f64 = sheets.iter().flat_map(|s| &s.operations).map(|o| o.cut.value()).sum();
    let told = cells(rows[0]);
    let in_all = format!("{:.1} m", 100.0 + cut);
    assert_eq!(told[..4], ["c635 no. 1".to_owned(), format!("{cut:.1} m"), in_all.clone(), in_all]);
    assert_eq!(told[5], "1 of 1", "the corrected grade counts");

    let effort: EffortHistory = client.get("/v1/history/effort").unwrap();
    let lost = &effort.batches[0].lost;
    let bars = all(&page, "rect[data-lost]");
    assert!(lost.len() > 2 && bars.len() == lost.len(), "{lost:?}");
    let most = lost.iter().map(|(_, minutes)| *minutes).fold(0.0, f64::max);
    let room = number(bars[0], "width");
    for (bar, (_, minutes)) in bars.iter().zip(lost) {
        assert!(near(number(*bar, "data-minutes"), *minutes));
        assert!((number(*bar, "width") - minutes / most * room).abs() < 0.02);
    }
}

/// A joint that was measured says what to do, and the sheet's record keeps it.
fn joint(shop: &Workshop, client: &Client) {
    let measure = |fit: &str, more: &[&str]| {
        let asked = [&["sheet", "fit", "B1-1", fit, "--slot", "12.0", "--mate", "12.05"], more].concat();
        shop.says(&shop.path("."), &asked)
    };
    let told = measure("slot", &[]);
    // worked by hand: 0.05 too little and 0.1 wanted; the operator read the bit back at its nominal size
    assert_eq!(
        told.said.split_whitespace().collect::<Vec<_>>().join(" "),
        "slot has -0.05 mm of air: 0.15 tight. Open the slot by 0.15 to 0.35 mm in the drawing."
    );
    let notes = client.sheet("B1-1").notes;
    assert!(notes.len() == 1 && notes[0].contains("0.15 tight") && notes[0].contains("board 12.05"), "{notes:?}");
    assert_ne!(measure("no such", &[]).code, Some(0));
    assert_ne!(measure("slot", &["--bit", "no-such"]).code, Some(0));
}

fn outcomes(page: &Html, sheets: &[SheetRecord]) {
    for (grade, word) in [(Grade::Good, "good"), (Grade::Rework, "rework"), (Grade::Scrap, "scrap")] {
        let of_sheets = sheets.iter().filter(|s| s.grade == Some(grade)).count();
        let of_parts = sheets.iter().flat_map(|s| &s.parts).filter(|p| p.grade == grade).count();
        assert_eq!(text(page, &format!("sheets-{word}")), of_sheets.to_string());
        assert_eq!(text(page, &format!("parts-{word}")), of_parts.to_string());
    }
    let torn = all(page, "[data-reason='torn face'][data-grade='scrap']");
    let counted = sheets.iter().flat_map(|s| &s.parts).filter(|p| p.reason == Some(Reason::TornFace)).count();
    assert_eq!((torn.len(), number(torn[0], "data-count")), (1, counted as f64));
}

/// Every dot says what its sheet took, and stands as high as that.
fn times(page: &Html, sheets: &[SheetRecord]) {
    let mut at = Vec::new();
    for sheet in sheets {
        let of = |what: &str| {
            let found = all(page, &format!("circle.{what}[data-sheet='{}']", sheet.sheet));
            assert_eq!(found.len(), 1);
            (number(found[0], "data-seconds"), number(found[0], "cy"))
        };
        let (predicted, real) = (of("predicted"), of("real"));
        assert!(near(predicted.0, sheet.operations.iter().map(|o| o.predicted.value()).sum()));
        assert!(near(real.0, sheet.operations.iter().map(|o| o.real.unwrap().value()).sum()));
        at.extend([predicted, real]);
    }
    let (least, most) = (at.iter().min_by(|a, b| a.0.total_cmp(&b.0)), at.iter().max_by(|a, b| a.0.total_cmp(&b.0)));
    let (&(s0, y0), &(s1, y1)) = (least.unwrap(), most.unwrap());
    for (s, y) in at {
        let wanted = y0 + (s - s0) / (s1 - s0).max(1.0e-9) * (y1 - y0);
        assert!((y - wanted).abs() < 0.03, "{s} s stands at {y}, not at {wanted}");
    }
}

/// The bar of time spent is as long as it should be, each part of it too, and no time of the records is lost.
fn spent(page: &Html, sheets: &[SheetRecord]) {
    let bars = all(page, "rect[data-stage]");
    let told: f64 = bars.iter().map(|b| number(*b, "data-seconds")).sum();
    let known: f64 = sheets.iter().flat_map(|s| &s.spent).map(|(_, time)| time.value()).sum();
    assert!(bars.len() >= 5 && near(told, known), "{told} {known}");
    for bar in &bars {
        let wanted = number(*bar, "data-seconds") / told * 720.0;
        assert!((number(*bar, "width") - wanted).abs() < 0.02);
    }
    // in motion is no longer than the stage in which it moves; both are machine time
    let motion: f64 = sheets.iter().flat_map(|s| &s.operations).map(|o| o.real.unwrap().value()).sum();
    let cutting: f64 = all(page, "rect[data-stage='cutting']").into_iter().map(|b| number(b, "data-seconds")).sum();
    assert!(cutting > motion * 0.95, "{cutting} {motion}");
}

/// The code on the page, dark module by dark module.
fn decoded(page: &Html) -> String {
    let drawn = all(page, ".qr svg");
    assert_eq!(drawn.len(), 1);
    let side: usize = drawn[0].value().attr("viewBox").unwrap().split(' ').nth(2).unwrap().parse().unwrap();
    let path = all(page, ".qr path.dark")[0].value().attr("d").unwrap().to_owned();
    let mut dark = vec![false; side * side];
    for module in path.split('M').filter(|m| !m.is_empty()) {
        let (x, rest) = module.split_once(' ').unwrap();
        let y = rest.split_once('h').unwrap().0;
        dark[y.parse::<usize>().unwrap() * side + x.parse::<usize>().unwrap()] = true;
    }
    // eight dots a module, as a printer would
    let dots = 8;
    let grey = |x: usize, y: usize| if dark[y / dots * side + x / dots] { 0 } else { 255 };
    let mut image = rqrr::PreparedImage::prepare_from_greyscale(side * dots, side * dots, grey);
    let grids = image.detect_grids();
    assert_eq!(grids.len(), 1, "one code on the page");
    grids[0].decode().unwrap().1
}

#[test]
fn a_job_card_goes_with_its_sheet() {
    let mut shop = Workshop::new(RATE);
    let client = shop.start();
    client.add_card(&shop.card()).unwrap();
    client.add_batch(CARD, 2).unwrap();
    let (here, file) = (shop.path("."), shop.path("card.html"));
    let print = |sheet: &str| shop.says(&here, &["sheet", "print", sheet, "-o", file.to_str().unwrap()]);
    assert_eq!(print("B7-1").code, Some(5), "there is no such sheet");
    for sheet in ["B1-1", "B1-2"] {
        let told = print(sheet);
        assert_eq!(told.code, Some(0), "{told:?}");
        let written = std::fs::read_to_string(&file).unwrap();
        let page = Html::parse_document(&written);
        assert_eq!(page.errors, Vec::<String>::new(), "a parser finds nothing wrong");
        assert!(all(&page, "script, link, img, iframe").is_empty() && !written.contains("url("), "self-contained");
        assert_eq!(text(&page, "label"), chargehand_types::label::label(&sheet.into()).unwrap());
        // a general-purpose reader of QR codes reads the same, and the command line takes it
        let read = decoded(&page);
        assert_eq!(read, text(&page, "label"));
        assert_eq!(chargehand_types::label::read(&read).unwrap(), sheet.into());
        assert_eq!(print(&read).code, Some(0));
        let named: Vec<&str> =
            all(&page, "tr[data-operation]").iter().map(|r| r.value().attr("data-operation").unwrap()).collect();
        assert_eq!(named, ["slots", "outlines"]);
        assert_eq!(all(&page, "circle[data-fastener]").len(), 4);
        assert!(all(&page, "path.cut").len() >= 2);
        assert!(text(&page, "size").contains("300 x 300"));
    }
}
