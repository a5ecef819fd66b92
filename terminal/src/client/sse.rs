//! Server-sent events, read from bytes as they come (WHATWG HTML, section 9.2.6, the fields this API uses).
//!
//! May live here: lines, fields, dispatch. May not: what an event means.

/// The longest event that is read; a card's text and a list of programs stay far below.
const EVENT_BYTES_AT_MOST: usize = 16 * 1024 * 1024;

/// One event as it stood on the line.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Frame {
    /// Its id, where it had one.
    pub id: Option<String>,
    /// Its name; empty for none.
    pub event: String,
    /// Its data, lines joined.
    pub data: String,
}

/// An event longer than any may be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("an event is longer than {EVENT_BYTES_AT_MOST} bytes")]
pub struct TooLong;

/// Takes bytes in, gives whole events out.
#[derive(Debug, Default)]
pub struct Frames {
    line: Vec<u8>,
    pending: Frame,
    has_data: bool,
    size: usize,
    after_cr: bool,
}

impl Frames {
    /// Feeds bytes and appends every event they complete.
    ///
    /// # Errors
    /// When an event grows beyond all measure.
    pub fn feed(&mut self, bytes: &[u8], out: &mut Vec<Frame>) -> Result<(), TooLong> {
        for &byte in bytes {
            let after_cr = std::mem::take(&mut self.after_cr);
            match byte {
                b'\n' if after_cr => {}
                b'\n' => self.line_ends(out),
                b'\r' => {
                    self.after_cr = true;
                    self.line_ends(out);
                }
                _ => {
                    self.size += 1;
                    if self.size > EVENT_BYTES_AT_MOST {
                        return Err(TooLong);
                    }
                    self.line.push(byte);
                }
            }
        }
        Ok(())
    }

    fn line_ends(&mut self, out: &mut Vec<Frame>) {
        let line = std::mem::take(&mut self.line);
        if line.is_empty() {
            self.size = 0;
            let frame = std::mem::take(&mut self.pending);
            if std::mem::take(&mut self.has_data) {
                out.push(frame);
            }
            return;
        }
        let text = String::from_utf8_lossy(&line);
        let (field, value) = match text.split_once(':') {
            Some((field, value)) => (field, value.strip_prefix(' ').unwrap_or(value)),
            None => (text.as_ref(), ""),
        };
        match field {
            "id" => self.pending.id = Some(value.to_owned()),
            "event" => value.clone_into(&mut self.pending.event),
            "data" => {
                if self.has_data {
                    self.pending.data.push('\n');
                }
                self.pending.data.push_str(value);
                self.has_data = true;
            }
            // a comment (empty field), `retry`, or a field of a later day
            _ => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(chunks: &[&str]) -> Vec<Frame> {
        let (mut frames, mut out) = (Frames::default(), Vec::new());
        for chunk in chunks {
            frames.feed(chunk.as_bytes(), &mut out).unwrap();
        }
        out
    }

    #[test]
    fn an_event_may_come_in_pieces() {
        let out = read(&["id: 7\nev", "ent: link.up\nda", "ta: {\"a\":1}\n", "\n"]);
        assert_eq!(out, [Frame { id: Some("7".into()), event: "link.up".into(), data: "{\"a\":1}".into() }]);
    }

    #[test]
    fn comments_are_no_events() {
        assert_eq!(read(&[": still here\n\n"]), []);
    }

    #[test]
    fn every_line_end_counts() {
        let out = read(&["data: a\r\ndata: b\r\n\r", "\ndata: c\r\r"]);
        assert_eq!(out.iter().map(|f| f.data.as_str()).collect::<Vec<_>>(), ["a\nb", "c"]);
    }

    #[test]
    fn an_endless_event_is_refused() {
        let (mut frames, mut out) = (Frames::default(), Vec::new());
        let lump = vec![b'x'; 1 << 20];
        let verdict = (0..20).try_for_each(|_| frames.feed(&lump, &mut out));
        assert_eq!(verdict, Err(TooLong));
    }
}
