//! `chargehand bit`: physical bits by their numbers.
//!
//! May live here: sending and showing. May not: how far one may cut.

use super::end::End;
use super::line::BitVerb;
use super::page::{cut, fold, json, say, table};
use super::person;
use crate::client::Api;
use crate::words;
use chargehand_types::bits::NumberedBit;
use chargehand_types::id::BitNumber;
use chargehand_types::quantity::{Length, plain};

pub(super) async fn run(api: &Api, verb: BitVerb) -> Result<(), End> {
    let done = match verb {
        BitVerb::List { json: true, .. } => return json(&api.numbered_bits().await?),
        BitVerb::List { all, json: false } => {
            let mut bits = api.numbered_bits().await?.bits;
            bits.retain(|bit| all || bit.scrapped.is_none());
            return say(&list(&bits));
        }
        BitVerb::New { bit, figures, used, who } => {
            person::sign_in(api, who).await?;
            api.begin_bit(bit.into(), figures.into(), used.unwrap_or_default()).await?
        }
        BitVerb::Measure { number, figures, reground, who } => {
            person::sign_in(api, who).await?;
            api.measure_bit(BitNumber(number), figures.into(), reground).await?
        }
        BitVerb::Scrap { number, because } => {
            person::sign_in(api, because.who).await?;
            api.scrap_bit(BitNumber(number), because.why).await?
        }
    };
    say(&fold("", &done.said, 0))
}

fn list(bits: &[NumberedBit]) -> String {
    if bits.is_empty() {
        return "No bit has a number yet. Give one its own with: chargehand bit new NAME\n".to_owned();
    }
    let heads = ["no.", "bit", "across", "out", "edges", "cut", "since ground", "ground", "stands"];
    let mut rows = vec![heads.map(str::to_owned).to_vec()];
    let read = |length: Option<Length>| length.map_or_else(|| "?".to_owned(), |read| plain(read.mm()));
    for bit in bits {
        rows.push(vec![
            bit.number.to_string(),
            cut(&bit.bit.0, 12),
            read(bit.figures.diameter),
            read(bit.figures.stick_out),
            read(bit.figures.cutting_length),
            words::way(bit.cut),
            words::way(bit.since_grind),
            words::count(bit.regrinds.into(), "time"),
            bit.scrapped.as_ref().map_or_else(|| "in use".to_owned(), |end| cut(&format!("scrap: {}", end.why), 12)),
        ]);
    }
    table(&rows)
}

#[cfg(test)]
mod tests {
    use super::*;
    use chargehand_types::bits::{BitFigures, Scrapped};
    use chargehand_types::quantity::Metres;

    #[test]
    fn bits_are_listed_in_eighty_columns() {
        let at = chrono::DateTime::from_timestamp(1_780_000_000, 0).unwrap();
        let bit = |number, scrapped: Option<&str>| NumberedBit {
            number: BitNumber(number),
            bit: "c635".into(),
            began: at,
            by: None,
            figures: BitFigures { diameter: Length::from_mm(6.31).ok(), ..BitFigures::default() },
            diameters: Vec::new(),
            regrinds: 1,
            cut: Metres::of(1240.5),
            since_grind: Metres::of(240.5),
            last: None,
            scrapped: scrapped.map(|why| Scrapped { at, by: None, why: why.to_owned() }),
        };
        let text = list(&[bit(1, Some("chipped by a screw in the board")), bit(12, None)]);
        assert!(text.lines().all(|line| line.chars().count() <= 80), "{text}");
        for words in ["6.31", "1240.5 m", "240.5 m", "scrap: ch", "in use"] {
            assert!(text.contains(words), "{words}: {text}");
        }
        assert!(list(&[]).contains("chargehand bit new"));
    }
}
