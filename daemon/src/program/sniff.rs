//! Telling a file that is no program by its first bytes.
//!
//! May live here: signatures and the look of binary data. May not: anything of the language.

use super::fault::NoProgram;

/// How many first bytes are looked at.
pub const LOOKED_AT: usize = 512;

/// What the file is, when its first bytes show that it is no program.
#[must_use]
pub fn sniff(head: &[u8]) -> Option<NoProgram> {
    const SIGNATURES: [(&[u8], NoProgram); 14] = [
        (b"%PDF", NoProgram::Pdf),
        (b"\x89PNG", NoProgram::Picture),
        (b"\xFF\xD8\xFF", NoProgram::Picture),
        (b"GIF8", NoProgram::Picture),
        (b"BM\x00", NoProgram::Picture),
        (b"II*\x00", NoProgram::Picture),
        (b"MM\x00*", NoProgram::Picture),
        (b"RIFF", NoProgram::Picture),
        (b"PK\x03\x04", NoProgram::Archive),
        (b"\x1F\x8B", NoProgram::Archive),
        (b"\x7FELF", NoProgram::Executable),
        (b"MZ\x90", NoProgram::Executable),
        (b"\xFF\xFE", NoProgram::Utf16),
        (b"\xFE\xFF", NoProgram::Utf16),
    ];
    if let Some((_, what)) = SIGNATURES.into_iter().find(|(bytes, _)| head.starts_with(bytes)) {
        return Some(what);
    }
    let text = head.strip_prefix(MARK).unwrap_or(head);
    if text.iter().find(|b| !b.is_ascii_whitespace()) == Some(&b'<') {
        return Some(NoProgram::Markup);
    }
    looks_binary(text)
}

/// The mark that UTF-8 text may begin with; it says nothing and is passed over.
pub const MARK: &[u8] = b"\xEF\xBB\xBF";

/// Control characters inside the text; zero bytes at its end are let pass, as old tape readers leave them.
fn looks_binary(text: &[u8]) -> Option<NoProgram> {
    let end = text.iter().rposition(|b| !matches!(b, 0 | 0x1A)).map_or(0, |n| n + 1);
    let text = text.get(..end).unwrap_or_default();
    let zeros = text.iter().filter(|b| **b == 0).count();
    let odd = text.iter().skip(1).step_by(2).filter(|b| **b == 0).count();
    let even = text.iter().step_by(2).filter(|b| **b == 0).count();
    if zeros * 3 > text.len() && (odd == 0 || even == 0) {
        return Some(NoProgram::Utf16);
    }
    let control = |b: &&u8| **b < 0x20 && !matches!(**b, b'\t' | b'\n' | b'\r' | 0x0C);
    (text.iter().filter(control).count() * 20 > text.len()).then_some(NoProgram::Binary)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn other_files_are_told_by_name() {
        assert_eq!(sniff(b"%PDF-1.7\n"), Some(NoProgram::Pdf));
        assert_eq!(sniff(b"\x89PNG\r\n\x1a\n"), Some(NoProgram::Picture));
        assert_eq!(sniff(b"\xFF\xFEG\x001\x00"), Some(NoProgram::Utf16));
        assert_eq!(sniff(b"G\x001\x00 \x00X\x001\x00\n\x00"), Some(NoProgram::Utf16));
        assert_eq!(sniff(b"<svg xmlns="), Some(NoProgram::Markup));
        assert_eq!(sniff(&[1, 2, 3, 200, 0, 7, 9]), Some(NoProgram::Binary));
    }

    #[test]
    fn programs_pass() {
        for text in
            [&b"%\nO1\nG21\n"[..], b"\xEF\xBB\xBFG21\n", b"(caf\xE9)\nG0 X1\n", b"G21\nM2\n\0\0\0\0\0\0\0\0", b""]
        {
            assert_eq!(sniff(text), None);
        }
    }
}
