//! Bytes thrown at every face: a few thousand each from one seed. `throw-bytes` throws as many as wanted.

use chargehand_tests::throw::{Face, faces, throw};

const EXECUTIONS: u64 = 3000;

#[test]
fn every_face_holds_what_is_thrown_at_it() {
    for face in faces() {
        assert!(!face.samples.is_empty(), "{} has nothing to change", face.name);
        for sample in &face.samples {
            (face.holds)(sample);
        }
        let thrown = throw(&face, EXECUTIONS, 1);
        println!("{}: {} thrown", face.name, thrown.executions);
        let first = thrown.bad.first().map(|(input, said)| format!("{said}: {:?}", String::from_utf8_lossy(input)));
        assert!(thrown.bad.is_empty(), "{}: {}", face.name, first.unwrap_or_default());
    }
}

#[test]
fn what_was_found_once_holds() {
    let corpus = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz/corpus");
    for face in faces() {
        let Ok(files) = std::fs::read_dir(corpus.join(face.name)) else { continue };
        for file in files {
            (face.holds)(&std::fs::read(file.unwrap().path()).unwrap());
        }
    }
}

#[test]
fn a_face_that_falls_is_found() {
    // a reader that cannot stand a byte that no sample has
    let holds = |data: &[u8]| assert!(!data.contains(&0xff), "fell");
    let face = Face { name: "falls", holds, samples: vec![b"plain text, and 12 numbers of 7".to_vec()] };
    let thrown = throw(&face, 20_000, 1);
    assert_eq!(thrown.bad.first().map(|(_, said)| said.as_str()), Some("fell"));
}
