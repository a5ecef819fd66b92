//! The command line as it is typed.

use super::line::*;
use super::*;
use clap::CommandFactory;

fn typed(words: &[&str]) -> Result<Line, clap::Error> {
    Line::try_parse_from([&["chargehand"], words].concat())
}

#[test]
fn the_line_is_sound() {
    Line::command().debug_assert();
}

#[test]
fn nothing_typed_opens_the_terminal() {
    assert!(typed(&[]).unwrap().verb.is_none());
}

#[test]
fn the_place_may_stand_before_or_after() {
    for words in [["--socket", "/a", "machine"], ["machine", "--socket", "/a"]] {
        assert_eq!(typed(&words).unwrap().socket.unwrap(), PathBuf::from("/a"));
    }
    let line = typed(&["sheet", "list", "--url", "http://h:1", "--socket", "/a"]).unwrap();
    assert_eq!(place(&line).unwrap_err().exit(), 2);
}

#[test]
fn every_verb_of_the_plan_is_there() {
    for words in [
        "demo",
        "demo --hands-free",
        "demo --keep /tmp/shop",
        "check a.card.toml --thickness 17.8 --bit-used c635=420 --bit-used u3=1.5 --json",
        "people add Ada --role owner",
        "people add Bo --role helper --no-pin --as Ada",
        "people pin Bo --as Ada",
        "people remove Bo",
        "people list --json",
        "people refusals",
        "token add phone --role helper --expires 2026-12-31",
        "token list",
        "token revoke phone --as Ada",
        "card add a.card.toml",
        "card list",
        "card show tray --revision 2",
        "batch add tray --sheets 4 --due 2026-03-14 --weight 2",
        "batch list",
        "batch show B1",
        "batch cancel B1",
        "machine",
        "machine status",
        "machine home",
        "machine hold",
        "machine hold --at-lift",
        "machine resume",
        "machine raise",
        "machine stop",
        "sheet list",
        "sheet show B1-1",
        "sheet decide B1-1 re-enter --line 20",
        "sheet decide B1-1 restart",
        "sheet decide B1-1 set-aside",
        "sheet decide B1-1 end",
        "history",
        "report B1 -o b1.html",
        "sheet fit B1-1 slot --slot 18.02 --mate 18.1 --bit c635",
        "history sheets --since 2026-03-14 --json",
        "history revisions --card tray --json",
        "history bits --since 2026-03-14",
        "history sheets --card tray --batch B1 --bit c635 --grade scrap --newest 20 --csv",
        "card new tray a.nc b.nc --answer thickness=18 --replace --json",
        "card show tray --changes --revision 2",
        "backup shop.backup",
        "restore shop.backup --store /var/lib/chargehand/store",
        "restore shop.backup --check",
        "doctor",
        "events --since 7",
    ] {
        let words: Vec<&str> = words.split(' ').collect();
        assert!(typed(&words).is_ok(), "{words:?}: {:?}", typed(&words).err().map(|e| e.to_string()));
    }
}

#[test]
fn wrong_use_is_exit_two() {
    for words in [
        "batch add tray",
        "batch add tray --sheets 0",
        "batch add tray --sheets 2 --due soon",
        "check a --thickness thick",
        "check a --thickness -3",
        "check a --bit-used c635",
        "sheet decide B1-1 forget",
        "fly",
    ] {
        let words: Vec<&str> = words.split(' ').collect();
        assert_eq!(typed(&words).unwrap_err().exit_code(), 2, "{words:?}");
    }
}

#[tokio::test]
async fn no_daemon_is_exit_three() {
    let folder = tempfile::tempdir().unwrap();
    let socket = folder.path().join("api.sock");
    for words in [vec!["sheet", "list"], vec!["machine"], vec!["events"], vec!["card", "list"]] {
        let mut words = words;
        words.extend(["--socket", socket.to_str().unwrap()]);
        let end = run(typed(&words).unwrap()).await.unwrap_err();
        assert_eq!(end.exit(), 3, "{words:?}");
        assert!(end.message().unwrap().contains("chargehand-daemon --config"));
    }
}
