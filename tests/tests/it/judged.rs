//! What the fuzz targets hold of any bytes, on programs made by chance and on the corpus.

use chargehand_tests::judge;
use proptest::prelude::*;

/// Lines of words, codes and odd numbers, as the fuzz targets' dictionary has them.
fn text() -> impl Strategy<Value = Vec<u8>> {
    let dictionary: Vec<String> = include_str!("../../fuzz/language.dict")
        .lines()
        .filter_map(|line| line.strip_prefix('"')?.strip_suffix('"'))
        .filter(|word| !word.contains('\\'))
        .map(str::to_owned)
        .collect();
    let word = prop_oneof![
        8 => prop::sample::select(dictionary).prop_map(String::into_bytes),
        2 => ("[XYZIJKRFPQ]", -20_000_i32..20_000).prop_map(|(l, n)| format!("{l}{}", f64::from(n) / 100.0).into_bytes()),
        1 => prop::collection::vec(any::<u8>(), 1..3),
        6 => prop::sample::select(vec!["\n", " ", "\r\n"]).prop_map(|s| s.as_bytes().to_vec()),
    ];
    (any::<u8>(), prop::collection::vec(word, 0..120)).prop_map(|(first, words)| {
        let mut all = vec![first];
        all.extend(words.concat());
        all
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn reading_is_total_and_pieces_change_nothing(data in text()) {
        judge::reading(&data);
    }

    #[test]
    fn sent_motion_is_written_motion(data in text()) {
        judge::sending(&data);
    }
}

#[test]
fn the_corpus_holds() {
    let corpus = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz/corpus");
    let judged = |target: &str, judge: fn(&[u8])| {
        let files = std::fs::read_dir(corpus.join(target)).unwrap();
        files.map(|file| judge(&std::fs::read(file.unwrap().path()).unwrap())).count()
    };
    assert!(judged("reading", judge::reading) >= 6);
    assert!(judged("sending", judge::sending) >= 6);
}
