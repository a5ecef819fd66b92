//! Hold-down of every card: proposals against every point of the path without any index, places against the truth's
//! samples, and odd questions.

use super::cases::{Known, Shop, folder, known, names, shop};
use chargehand_daemon::findings::{Case, Question, check, hold_down};
use chargehand_daemon::program::motion::Doing;
use chargehand_daemon::program::steps;
use chargehand_daemon::program::way::Way;
use chargehand_daemon::shop::config::{Rectangle, WasteBoard};
use chargehand_tests::client::{Client, files};
use chargehand_tests::operator::Operator;
use chargehand_tests::workshop::{CARD, Workshop};
use chargehand_types::act::Act;
use chargehand_types::checklist::{Ask, StepAnswer};
use chargehand_types::finding::Severity;
use chargehand_types::holddown::{AirAnswer, AirRequest, HoldDownAnswer, HoldDownRequest, Paper, PlaceMeasured};
use chargehand_types::now::Now;
use chargehand_types::quantity::{Length, Spot};
use chargehand_types::stage::Role;
use std::collections::BTreeMap;

fn mm(v: f64) -> Length {
    Length::from_mm(v).unwrap()
}

fn spot(x: f64, y: f64) -> Spot {
    Spot { x: mm(x), y: mm(y) }
}

fn asked(known: &Known, shop: &Shop, wanted: &Question<'_>) -> HoldDownAnswer {
    let used = BTreeMap::new();
    let thickness = known.truth["given"]["measured_thickness"].as_f64().unwrap();
    let case = Case {
        card: &known.card,
        programs: &known.programs,
        stores: &shop.stores,
        bench: &shop.bench,
        thickness: Some(mm(thickness)),
        bit_used: &used,
        pool: &shop.pool,
        window: false,
    };
    hold_down(&case, wanted).unwrap()
}

/// Points of all paths below a level, with half the bit: found by stepping along every move.
fn path(known: &Known, shop: &Shop, level: f64) -> Vec<([f64; 2], f64)> {
    let mut points = Vec::new();
    for operation in &known.card.operations {
        let mut bit = &shop.stores.bits[&operation.bit];
        for step in steps(&known.programs[&operation.program], shop.bench.start()) {
            match &step.doing {
                Doing::BitChange { tool } => {
                    bit = shop.stores.bits.values().find(|b| b.tool == *tool).unwrap_or(bit);
                }
                Doing::Move(mv) => {
                    let (way, half) = (Way::of(mv), bit.diameter.mm() / 2.0);
                    way.below(level, |t0, t1| {
                        let count = (way.length() * (t1 - t0) / 0.2).ceil().max(1.0);
                        let mut n = 0.0;
                        while n <= count {
                            let [x, y, _] = way.at(t0 + (t1 - t0) * n / count);
                            points.push(([x, y], half));
                            n += 1.0;
                        }
                    });
                }
                _ => {}
            }
        }
    }
    points
}

#[test]
fn proposals_for_every_card_are_safe() {
    let folder = folder();
    let mut shop = shop(&folder);
    shop.bench = shop.bench.clone().on(&WasteBoard {
        material: Some("mdf".to_owned()),
        thickness: mm(18.0),
        keep_out: vec![Rectangle { from: spot(0.0, 0.0), to: spot(30.0, 30.0) }],
    });
    for name in names(&folder)
        .iter()
        .filter(|name| !["frame-units", "rail-set-syntax", "garden-relief"].contains(&name.as_str()))
    {
        let known = known(&folder, name, &shop);
        // naming the fastener asks for a proposal where the card gives places
        let answer = asked(&known, &shop, &Question { fastener: Some("screw-4x30"), ..Question::default() });
        let sheet = &known.card.sheet;
        let thickness = mm(known.truth["given"]["measured_thickness"].as_f64().unwrap());
        let path = path(&known, &shop, sheet.face_z(thickness).mm());
        assert!(answer.places.len() >= 4, "{name}: {:?}", answer.places);
        for place in &answer.places {
            let at = [place.at.x.mm(), place.at.y.mm()];
            let air =
                path.iter().map(|(p, half)| (p[0] - at[0]).hypot(p[1] - at[1]) - half).fold(f64::INFINITY, f64::min);
            // half the head and the margin; the path's points are 0.2 mm apart
            assert!(air >= 8.0 - 1.0e-6, "{name}: {place:?} has {air} mm of air");
            assert!((air - place.clearance_mm.unwrap()).abs() < 0.01, "{name}: {place:?} has {air} mm of air");
            let from = place.tape.map(Length::mm);
            assert!(
                from.iter().zip(sheet.size).all(|(f, size)| *f >= 12.0 && *f <= size.mm() - 12.0),
                "{name}: {place:?}"
            );
            assert!(!(at[0] <= 30.0 && at[1] <= 30.0), "{name}: {place:?} lies in the keep-out");
        }
        for (cut, _) in path.iter().step_by(50) {
            let off = answer.places.iter().map(|p| (p.at.x.mm() - cut[0]).hypot(p.at.y.mm() - cut[1]));
            let off = off.fold(f64::INFINITY, f64::min);
            let on_sheet = [0, 1].iter().all(|a: &usize| {
                let low = [sheet.corner.x.mm(), sheet.corner.y.mm()][*a];
                cut[*a] >= low && cut[*a] <= low + sheet.size[*a].mm()
            });
            // cuts are looked at every 20 mm
            assert!(off <= 410.0 || !on_sheet || !answer.troubles.is_empty(), "{name}: {cut:?} is {off} mm off");
        }
        let (holds, needs) = (answer.holds_n.unwrap(), answer.needs_n.unwrap());
        assert!(holds >= needs, "{name}");
        println!("{name:22} {} places, {holds:.0} of {needs:.0}, {:?}", answer.places.len(), answer.troubles);
    }
}

#[test]
fn places_are_measured_as_known() {
    let folder = folder();
    let shop = shop(&folder);
    let mut worst = 0.0_f64;
    for name in names(&folder) {
        let known = known(&folder, &name, &shop);
        let told = &known.truth["clearance"];
        let points: Vec<[f64; 4]> = serde_json::from_value(told["points"].clone()).unwrap();
        let at: Vec<Spot> = points.iter().map(|p| spot(p[0], p[1])).collect();
        for (fastener, column, half) in [("screw-4x30", 2, 4.0), ("clamp-15", 3, 18.0)] {
            let answer = asked(&known, &shop, &Question { fastener: Some(fastener), at: &at, ..Question::default() });
            for (point, place) in points.iter().zip(&answer.asked) {
                let off = (place.clearance_mm.unwrap() - point[column]).abs();
                // readable moves of a program that cannot be read to its end are left out here as in the truth
                assert!(off < 0.0022, "{name}: {place:?} should have {}", point[column]);
                let limit = half + known.card.holddown.margin.mm();
                assert!(
                    place.ok == (point[column] >= limit) || (point[column] - limit).abs() < 0.01,
                    "{name}: {place:?}"
                );
                worst = worst.max(off);
            }
            let circle = &told["circle"][if column == 2 { "flush" } else { "clamp15" }];
            let radius = answer.largest_free.unwrap().radius.mm();
            assert!((radius - circle["radius"].as_f64().unwrap()).abs() < 0.025, "{name}: {radius} and {circle}");
        }
    }
    println!("farthest off {worst:.5} mm");
}

#[test]
fn odd_questions_get_clear_answers() {
    let folder = folder();
    let shop = shop(&folder);
    let mut known = known(&folder, "plant-stand-sides", &shop);
    let outside =
        asked(&known, &shop, &Question { at: &[spot(-50.0, 3000.0), spot(2.0, 600.0)], ..Question::default() });
    assert!(!outside.asked[0].ok && outside.asked[0].notes[0].contains("outside the sheet"), "{:?}", outside.asked);
    assert!(outside.asked[1].notes[0].contains("over the sheet's edge"), "{:?}", outside.asked);
    // 500 given places, some in the way
    let place = known.card.holddown.places[0].clone();
    known.card.holddown.places = (0..500)
        .map(|n| {
            let mut place = place.clone();
            place.at = spot(15.0 + f64::from(n % 20) * 30.0, 15.0 + f64::from(n / 20) * 48.0);
            place
        })
        .collect();
    let many = asked(&known, &shop, &Question { drawing: Some(Paper::default()), ..Question::default() });
    let hit = many.places.iter().filter(|p| p.hit).count();
    assert!(many.places.len() == 500 && hit > 10 && hit < 400, "{hit}");
    assert!(many.svg.unwrap().contains("lines more"));
    // a sheet smaller than the screw's head
    known.card.holddown.places.clear();
    known.card.sheet.size = [mm(6.0), mm(6.0)];
    let tiny = asked(&known, &shop, &Question::default());
    assert!(tiny.places.is_empty() && tiny.troubles[0].contains("no place on this sheet"), "{:?}", tiny.troubles);
}

#[test]
fn marks_are_operations_like_any_other() {
    let folder = folder();
    let shop = shop(&folder);
    let mut known = known(&folder, "plant-stand-sides", &shop);
    let programs = asked(&known, &shop, &Question { programs: true, ..Question::default() }).programs.unwrap();
    // put in the place of the card's own programs they are judged with all its rules
    known.card.holddown.places.clear();
    known.card.operations.truncate(1);
    known.card.operations[0].program = "mark.nc".to_owned();
    for text in [programs.mark, programs.hover] {
        known.programs = BTreeMap::from([("mark.nc".to_owned(), text.clone().into_bytes())]);
        let used = BTreeMap::new();
        let case = Case {
            card: &known.card,
            programs: &known.programs,
            stores: &shop.stores,
            bench: &shop.bench,
            thickness: None,
            bit_used: &used,
            pool: &shop.pool,
            window: false,
        };
        let found = check(&case).unwrap().report;
        assert!(found.findings.iter().all(|f| f.severity == Severity::Tells), "{text}\n{:?}", found.findings);
        assert!(text.contains("X163 Y584.6"), "{text}");
    }
}

#[test]
fn a_helpers_own_places_are_checked() {
    let mut workshop = Workshop::new(60.0);
    let client = workshop.start();
    client.add_card(&workshop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    let places = |now: &Now| match now.task.as_ref().map(|t| &t.step.ask) {
        Some(Ask::Place { places, .. }) => Some(places.clone()),
        _ => None,
    };
    let now = Operator::owner(&client).walk("the fasteners", |_, now| places(now).is_some());
    let shown = places(&now).unwrap();
    let task = now.task.unwrap();
    let mut moved = shown.clone();
    // the middle of the board is cut: see the slots' first line
    let request = HoldDownRequest {
        files: files(&workshop.card()),
        thickness: None,
        fastener: None,
        at: (0..30).map(|n| spot(150.0, 10.0 * f64::from(n))).collect(),
        bowed: false,
        programs: false,
        drawing: None,
    };
    let measured: HoldDownAnswer = client.post("/v1/holddown", &request).unwrap();
    let bad = measured.asked.iter().find(|place| !place.ok).expect("the board is cut somewhere along its middle");
    moved[2] = bad.at;
    let answer = |places: Vec<Spot>| Act::Answer { step: task.step.id.clone(), answer: StepAnswer::Placed { places } };
    let refused = client.act_seen(now.version, answer(moved)).unwrap();
    let told = serde_json::to_string(&refused).unwrap();
    assert!(told.contains("Place 3") && told.contains("would be hit"), "{told}");
    assert_eq!(places(&refused.now), Some(shown.clone()), "the step is still asked");
    let taken = client.act_seen(refused.now.version, answer(shown)).unwrap();
    assert_eq!(places(&taken.now), None);
}

#[test]
fn the_daemon_answers_and_draws() {
    let mut workshop = Workshop::new(60.0);
    let client = workshop.start();
    let mut request = HoldDownRequest {
        files: files(&workshop.card()),
        thickness: None,
        fastener: None,
        at: vec![spot(20.0, 20.0)],
        bowed: false,
        programs: false,
        drawing: Some(Paper::default()),
    };
    let answer: HoldDownAnswer = client.post("/v1/holddown", &request).unwrap();
    let [PlaceMeasured { clearance_mm: Some(_), .. }] = answer.asked[..] else { panic!("{:?}", answer.asked) };
    let svg = answer.svg.unwrap();
    assert!(svg.starts_with("<svg") && svg.ends_with("</svg>\n"), "{svg}");
    for word in ["scale 1 : ", "from the front", "no safety device", "100 mm"] {
        assert!(svg.contains(word), "{word}");
    }
    request.fastener = Some("rope".to_owned());
    let refused = client.post::<HoldDownAnswer>("/v1/holddown", &request).unwrap_err();
    assert!(format!("{refused:?}").contains("rope"), "{refused:?}");
}

#[test]
fn a_place_moved_at_the_terminal_is_measured_at_once() {
    let mut workshop = Workshop::new(60.0);
    let client = workshop.start();
    client.add_card(&workshop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    let asked = |now: &Now| matches!(now.task.as_ref().map(|t| &t.step.ask), Some(Ask::Place { .. }));
    let now = Operator::owner(&client).walk("the fasteners", |_, now| asked(now));
    let sheet = now.sheet.as_ref().unwrap().id.0.clone();
    let route = format!("/v1/sheets/{sheet}/air");
    let air = |at: Vec<Spot>| client.post::<AirAnswer>(&route, &AirRequest { at });
    // along the near edge and over the first slot: never different from what is answered to the answer itself
    let row: Vec<Spot> = (0..60).map(|n| spot(20.0 + 4.0 * f64::from(n), 70.0)).collect();
    let first = air(row.clone()).unwrap();
    assert!(first.places.iter().any(|p| p.ok) && first.places.iter().any(|p| !p.ok), "{first:?}");
    let hit = first.places.iter().find(|p| !p.ok).unwrap();
    assert!(hit.operation.is_some() && hit.line.is_some());
    let mut times = Vec::new();
    for at in &row {
        let begun = std::time::Instant::now();
        let one = air(vec![*at]).unwrap();
        times.push(begun.elapsed().as_secs_f64() * 1000.0);
        let known = first.places.iter().find(|p| p.at == *at).unwrap();
        assert_eq!(one.places.as_slice(), std::slice::from_ref(known));
    }
    times.sort_by(f64::total_cmp);
    println!("one place measured: {:.2} ms in the middle, {:.2} ms at most (debug build)", times[30], times[59]);
    // what the screen calls hit the daemon refuses
    let step = now.task.unwrap().step.id;
    let answer = Act::Answer { step, answer: StepAnswer::Placed { places: vec![hit.at] } };
    client.act_seen(now.version, answer).unwrap();
    assert!(client.now().task.unwrap().note.is_some());
    let refused = air(vec![spot(1.0, 1.0); 501]).unwrap_err();
    assert!(format!("{refused:?}").contains("500"), "{refused:?}");
    let none = client.post::<AirAnswer>("/v1/sheets/B9-1/air", &AirRequest { at: Vec::new() }).unwrap_err();
    assert!(format!("{none:?}").contains("B9-1"), "{none:?}");
}

#[test]
fn a_bowed_sheet_gets_a_fastener_more() {
    let mut workshop = Workshop::new(60.0);
    let client = workshop.start();
    client.add_card(&workshop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    let step = |now: &Now| now.task.as_ref().map(|t| t.step.id.clone());
    // the window is searched beside the work: the step comes without it and has it a moment later
    Operator::owner(&client).walk("the caliper", |_, now| step(now).as_deref() == Some("thickness-near-left"));
    client.until("the window on the screen", |now| now.task.as_ref().is_some_and(|t| t.step.text.contains("will do")));
    let now = Operator::owner(&client).walk("the straight edge", |_, now| step(now).as_deref() == Some("bow"));
    let answer = |now: &Now, key: &str| {
        let answer = StepAnswer::Choice { key: key.to_owned() };
        client.act_seen(now.version, Act::Answer { step: "bow".to_owned(), answer }).unwrap();
        client.now()
    };
    let now = answer(&now, "too-bowed");
    assert_eq!(step(&now).as_deref(), Some("bow"));
    assert!(now.task.as_ref().unwrap().note.is_some(), "such a sheet is not held down");
    let now = answer(&now, "bowed");
    let Some(Ask::Place { places, .. }) = now.task.as_ref().map(|t| t.step.ask.clone()) else { panic!("{now:?}") };
    assert_eq!(places.len(), 5, "the card gives four");
    // where the gap between the others is wide, and out of the bit's way
    let far = |at: &Spot| (at.x - places[4].x).mm().hypot((at.y - places[4].y).mm());
    assert!(places[..4].iter().all(|at| far(at) > 50.0), "{places:?}");
    let route = format!("/v1/sheets/{}/air", now.sheet.as_ref().unwrap().id);
    let air: AirAnswer = client.post(&route, &AirRequest { at: places.clone() }).unwrap();
    assert!(air.places.iter().all(|p| p.ok), "{air:?}");
    let step = now.task.as_ref().unwrap().step.id.clone();
    client.act_seen(now.version, Act::Answer { step, answer: StepAnswer::Placed { places } }).unwrap();
    assert_eq!(client.sheet(&now.sheet.unwrap().id.0).fasteners.len(), 5);
}

#[test]
fn old_holes_are_avoided_until_the_board_is_renewed() {
    let mut workshop = Workshop::new(60.0);
    let client = workshop.start();
    client.add_card(&workshop.card()).unwrap();
    client.add_batch(CARD, 1).unwrap();
    let request = HoldDownRequest {
        files: files(&workshop.card()),
        thickness: None,
        // named: where the card gives places, a proposal is asked for all the same
        fastener: Some("screw-4x30".to_owned()),
        at: Vec::new(),
        bowed: false,
        programs: false,
        drawing: None,
    };
    let proposed = |client: &Client| -> Vec<Spot> {
        let answer: HoldDownAnswer = client.post("/v1/holddown", &request).unwrap();
        answer.places.iter().map(|place| place.at).collect()
    };
    // 8 mm: common practice, no source
    let near = |a: &Spot, b: &Spot| (a.x - b.x).mm().hypot((a.y - b.y).mm()) < 8.0;
    let first = proposed(&client);
    let asked = |now: &Now| matches!(now.task.as_ref().map(|t| &t.step.ask), Some(Ask::Place { .. }));
    let now = Operator::owner(&client).walk("the fasteners", |_, now| asked(now));
    let Some(Ask::Place { places: made, .. }) = now.task.as_ref().map(|t| t.step.ask.clone()) else { panic!() };
    assert!(first.iter().any(|place| made.iter().any(|hole| near(place, hole))), "{first:?} {made:?}");
    let step = now.task.unwrap().step.id;
    let answer = Act::Answer { step, answer: StepAnswer::Placed { places: made.clone() } };
    client.act_seen(now.version, answer).unwrap();
    let clear = |places: &[Spot]| !places.iter().any(|place| made.iter().any(|hole| near(place, hole)));
    let second = proposed(&client);
    assert!(!second.is_empty() && clear(&second), "{second:?} near {made:?}");
    let there = HoldDownRequest { at: made.iter().take(1).copied().collect(), ..request.clone() };
    let measured = client.post::<HoldDownAnswer>("/v1/holddown", &there).unwrap().asked;
    assert!(measured[0].notes.iter().any(|note| note.contains("old hole")), "{measured:?}");
    // the card's own places are where the holes are
    let own = HoldDownRequest { fastener: None, ..request.clone() };
    let troubles = client.post::<HoldDownAnswer>("/v1/holddown", &own).unwrap().troubles;
    assert!(troubles.iter().any(|t| t.contains("old holes")), "{troubles:?}");
    workshop.kill();
    let client = workshop.start();
    assert_eq!(proposed(&client), second, "the holes survive a restart");
    client.act(Act::SignOut).unwrap();
    Operator::helper(&client).sign_in();
    assert!(client.now().people.iter().all(|p| p.role != Role::Owner));
    let refused = client.act(Act::BoardRenewed).unwrap_err();
    assert!(format!("{refused:?}").contains("owner"), "{refused:?}");
    Operator::owner(&client).sign_in();
    client.act(Act::BoardRenewed).unwrap();
    assert_eq!(proposed(&client), first, "a new board has no holes");
}
