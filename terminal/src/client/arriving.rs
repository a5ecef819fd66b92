//! The history as it comes in: each sheet of it is read as soon as it is there, while the daemon still writes the rest.
//!
//! May live here: that reading. May not: asking for it.

use super::ClientFault;
use chargehand_types::history::{SheetHistory, SheetRecord};

/// How the document begins, before its first sheet, whatever stands before in it.
const LIST: &[u8] = b"\"sheets\":[";

/// A history of which a part is there.
#[derive(Debug, Default)]
pub(super) struct Arriving {
    /// What came in and is not read yet.
    waiting: Vec<u8>,
    /// The document without its sheets, as far as it came in.
    rest: Vec<u8>,
    sheets: Vec<SheetRecord>,
    /// One was read.
    any: bool,
    at: At,
}

/// What comes next in the document.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum At {
    #[default]
    Head,
    Sheets,
    Tail,
}

impl Arriving {
    /// Takes in what came.
    ///
    /// # Errors
    /// When it is no history.
    pub fn take(&mut self, bytes: &[u8]) -> Result<(), ClientFault> {
        if self.at == At::Tail {
            self.rest.extend_from_slice(bytes);
            return Ok(());
        }
        self.waiting.extend_from_slice(bytes);
        if self.at == At::Head {
            let Some(found) = self.waiting.windows(LIST.len()).position(|w| w == LIST) else { return Ok(()) };
            self.rest.extend(self.waiting.drain(..found + LIST.len()));
            self.at = At::Sheets;
        }
        let read = self.read_sheets()?;
        self.waiting.drain(..read);
        if self.at == At::Tail {
            self.rest.append(&mut self.waiting);
        }
        Ok(())
    }

    /// Reads every sheet that is whole; answers with how much of what waits was read.
    fn read_sheets(&mut self) -> Result<usize, ClientFault> {
        let mut from = 0;
        while let Some(next) = self.waiting.get(from) {
            match next {
                b',' if self.any => from += 1,
                b' ' | b'\n' | b'\r' | b'\t' => from += 1,
                b']' => {
                    self.at = At::Tail;
                    break;
                }
                _ => {
                    let text = self.waiting.get(from..).unwrap_or_default();
                    let mut one = serde_json::Deserializer::from_slice(text).into_iter::<SheetRecord>();
                    match one.next() {
                        Some(Ok(sheet)) => {
                            from += one.byte_offset();
                            self.sheets.push(sheet);
                            self.any = true;
                        }
                        Some(Err(e)) if e.is_eof() => break,
                        Some(Err(e)) => return Err(garbled(&e)),
                        None => break,
                    }
                }
            }
        }
        Ok(from)
    }

    /// What was read since this was asked last; it is not in the whole any more.
    pub fn read(&mut self) -> impl Iterator<Item = SheetRecord> {
        self.sheets.drain(..)
    }

    /// The whole, once nothing more comes.
    ///
    /// # Errors
    /// When it is no history, or ends too early.
    pub fn whole(mut self) -> Result<SheetHistory, ClientFault> {
        // what never came to its end is told by the reader of the rest
        self.rest.append(&mut self.waiting);
        let mut history: SheetHistory = serde_json::from_slice(&self.rest).map_err(|e| garbled(&e))?;
        if self.at == At::Tail {
            history.sheets = self.sheets;
        }
        Ok(history)
    }
}

fn garbled(why: &serde_json::Error) -> ClientFault {
    ClientFault::Garbled { why: why.to_string() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ui::samples;

    fn in_parts(text: &[u8], size: usize) -> Result<SheetHistory, ClientFault> {
        let mut arriving = Arriving::default();
        for part in text.chunks(size) {
            arriving.take(part)?;
        }
        arriving.whole()
    }

    fn histories() -> Vec<SheetHistory> {
        let mut odd = samples::records().sheets;
        odd[0].notes = vec!["brackets ]}[{ and \"quotes\", \\ and }, {\"sheets\":[ in a note; ñ".to_owned()];
        let of = |sheets, older| SheetHistory { schema: 1, sheets, older };
        vec![of(Vec::new(), 0), of(odd.clone(), 7), of(odd.into_iter().cycle().take(40).collect(), 0)]
    }

    /// Taken one by one as they come, they are the same sheets in the same order.
    #[test]
    fn sheets_taken_as_they_come_are_the_same() {
        for history in histories() {
            for text in [
                serde_json::to_string(&history).unwrap(),
                format!("{{ \"sheets\" : {} , \"schema\":1}}", serde_json::to_string(&history.sheets).unwrap()),
            ] {
                for size in [1, 7, 300, 4096, text.len()] {
                    let (mut arriving, mut taken) = (Arriving::default(), Vec::new());
                    for part in text.as_bytes().chunks(size) {
                        arriving.take(part).unwrap();
                        taken.extend(arriving.read());
                    }
                    taken.extend(arriving.whole().unwrap().sheets);
                    assert_eq!(taken, history.sheets, "in parts of {size}");
                }
            }
        }
    }

    /// However it is cut up on its way, it is what it is read at once.
    #[test]
    fn a_history_in_parts_is_the_same_history() {
        for history in histories() {
            let text = serde_json::to_vec(&history).unwrap();
            for size in (1..=64).chain([977, 4096, text.len()]) {
                assert_eq!(in_parts(&text, size).unwrap(), history, "in parts of {size}");
            }
        }
    }

    #[test]
    fn one_in_another_order_or_form_is_read_too() {
        let history = histories().remove(1);
        let sheets = serde_json::to_string(&history.sheets).unwrap();
        for text in [
            format!("{{\"older\":7,\"sheets\":{sheets},\"schema\":1}}"),
            format!("{{ \"schema\": 1, \"sheets\": {sheets}, \"older\": 7 }}"),
            format!(
                "{{\"schema\":1,\"sheets\":{},\"older\":7}}",
                sheets.replace("},{\"sheet\"", "} ,\n{\"sheet\"").replace("}]", "} ]")
            ),
        ] {
            assert_eq!(in_parts(text.as_bytes(), 100).unwrap(), history);
        }
    }

    #[test]
    fn one_that_is_cut_off_or_wrong_is_a_fault() {
        let history = histories().remove(1);
        let text = serde_json::to_vec(&history).unwrap();
        for end in [0, 1, 20, 30, 400, text.len() - 20, text.len() - 1] {
            assert!(in_parts(&text[..end], 64).is_err(), "cut off after {end}");
        }
        for wrong in
            ["{\"schema\":1,\"sheets\":[{}]}", "{\"schema\":1,\"sheets\":[,]}", "[]", "{\"schema\":1,\"sheets\":[7]}"]
        {
            assert!(in_parts(wrong.as_bytes(), 3).is_err(), "{wrong}");
        }
    }
}
