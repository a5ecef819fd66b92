//! The socket's file: whose it is, who may open it, and what becomes of one left behind.

use super::desk::served;
use crate::api::{ApiFault, Door};
use std::os::unix::fs::PermissionsExt;
use std::os::unix::net::UnixListener;
use std::path::Path;

fn mode(path: &Path) -> u32 {
    std::fs::metadata(path).unwrap().permissions().mode() & 0o777
}

#[test]
fn socket_and_folder_have_their_modes() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("a/b/chargehand.sock");
    let door = Door::open(&path).unwrap();
    assert_eq!((mode(&path), mode(path.parent().unwrap())), (0o660, 0o770));
    drop(door);
    assert!(!path.exists(), "the file goes with the daemon");
}

#[test]
fn a_folder_that_is_there_keeps_its_mode() {
    let dir = tempfile::tempdir().unwrap();
    let before = mode(dir.path());
    let _door = Door::open(&dir.path().join("s")).unwrap();
    assert_eq!(mode(dir.path()), before);
}

#[test]
fn one_daemon_to_a_socket() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("s");
    let door = Door::open(&path).unwrap();
    let fault = Door::open(&path).unwrap_err();
    assert!(matches!(fault, ApiFault::Busy { .. }));
    assert!(fault.to_string().starts_with("a daemon already serves this socket"), "{fault}");
    drop(door);
    Door::open(&path).unwrap();
}

#[test]
fn a_socket_somebody_answers_on_is_left_alone() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("s");
    let other = UnixListener::bind(&path).unwrap();
    assert!(matches!(Door::open(&path).unwrap_err(), ApiFault::Busy { .. }));
    assert!(path.exists());
    // left behind by a daemon that is gone, nobody answers on it any more
    drop(other);
    assert!(path.exists());
    let door = Door::open(&path).unwrap();
    assert_eq!(mode(door.path()), 0o660);
}

#[test]
fn a_file_that_is_no_socket_is_left_alone() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("s");
    std::fs::write(&path, "notes").unwrap();
    assert!(matches!(Door::open(&path).unwrap_err(), ApiFault::NoSocket { .. }));
    assert_eq!(std::fs::read_to_string(&path).unwrap(), "notes");
}

#[test]
fn a_path_beyond_the_systems_limit_is_told() {
    let path = Path::new("/tmp").join("x".repeat(120));
    let fault = Door::open(&path).unwrap_err();
    assert!(fault.to_string().contains("has 125 bytes, at most 103 fit"), "{fault}");
}

#[test]
fn a_name_taken_over_is_not_removed() {
    let dir = tempfile::tempdir().unwrap();
    let path = dir.path().join("s");
    let door = Door::open(&path).unwrap();
    std::fs::remove_file(&path).unwrap();
    std::fs::write(&path, "somebody else's").unwrap();
    drop(door);
    assert!(path.exists());
}

#[tokio::test]
async fn the_end_gives_the_socket_back() {
    let mut served = served();
    assert_eq!(served.client().await.ask("GET /v1/cards", &[], "").await.status, 200);
    let socket = served.socket.clone();
    served.end();
    let _dir = served.ended().await;
    assert!(!socket.exists());
}
