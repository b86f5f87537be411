//! The encodings of text files: declared, or shown by a byte order mark, never guessed in silence.
//!
//! Everything behind [`Decoder`] is UTF-8. What stands for no character in its encoding comes through as one byte that is
//! no UTF-8, so that whoever reads the text finds it at its place.

use std::fmt;
use std::io::{self, Read};
use std::sync::LazyLock;

/// An encoding in which banks are kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Encoding {
    /// The usual one.
    #[default]
    Utf8,
    /// As old spreadsheets write "Unicode text".
    Utf16Le,
    /// The same with the bytes exchanged.
    Utf16Be,
    /// As Windows programs of Western Europe and America wrote text.
    Windows1252,
    /// ISO 8859-1.
    Latin1,
}

impl Encoding {
    /// All encodings by the names under which options and profiles know them; the first name of each is its own.
    pub const NAMES: &'static [(&'static str, Self)] = &[
        ("utf-8", Self::Utf8),
        ("utf8", Self::Utf8),
        ("utf-16le", Self::Utf16Le),
        ("utf-16", Self::Utf16Le),
        ("utf-16be", Self::Utf16Be),
        ("windows-1252", Self::Windows1252),
        ("cp1252", Self::Windows1252),
        ("latin-1", Self::Latin1),
        ("latin1", Self::Latin1),
        ("iso-8859-1", Self::Latin1),
    ];

    /// The encoding with this name, whatever its case.
    #[must_use]
    pub fn from_name(name: &str) -> Option<Self> {
        Self::NAMES.iter().find(|(own, _)| own.eq_ignore_ascii_case(name.trim())).map(|(_, encoding)| *encoding)
    }

    /// Its own name.
    #[must_use]
    pub fn name(self) -> &'static str {
        Self::NAMES.iter().find(|(_, own)| *own == self).map_or("utf-8", |(name, _)| name)
    }

    /// How many bytes of a file in this encoding the decoded bytes stand for, as [`Decoder`] gives them.
    #[must_use]
    pub fn length_in_file(self, decoded: &[u8]) -> usize {
        let characters = |width: fn(char) -> usize, bad: usize| {
            let chunks = decoded.utf8_chunks();
            chunks.map(|own| own.valid().chars().map(width).sum::<usize>() + own.invalid().len() * bad).sum()
        };
        match self {
            Self::Utf8 => decoded.len(),
            Self::Utf16Le | Self::Utf16Be => characters(|own| own.len_utf16() * 2, 2),
            Self::Windows1252 | Self::Latin1 => characters(|_| 1, 1),
        }
    }

    /// The text in this encoding; the first character that it does not have, if there is one.
    ///
    /// # Errors
    /// The encoding has no such character.
    pub fn encode(self, text: &str) -> Result<Vec<u8>, char> {
        let units = |bytes: fn(u16) -> [u8; 2]| text.encode_utf16().flat_map(bytes).collect();
        match self {
            Self::Utf8 => Ok(text.as_bytes().to_vec()),
            Self::Utf16Le => Ok(units(u16::to_le_bytes)),
            Self::Utf16Be => Ok(units(u16::to_be_bytes)),
            Self::Windows1252 | Self::Latin1 => text.chars().map(|own| self.byte(own).ok_or(own)).collect(),
        }
    }

    /// The byte of a character in an encoding of single bytes.
    fn byte(self, character: char) -> Option<u8> {
        if character.is_ascii() {
            return u8::try_from(character).ok();
        }
        (0x80..=0xff_u8).find(|byte| self.character(*byte) == Some(character))
    }

    /// The character of a byte in an encoding of single bytes; `None` where there is none.
    fn character(self, byte: u8) -> Option<char> {
        match (self, byte) {
            (Self::Windows1252, 0x80..) => WINDOWS_1252.get(usize::from(byte) - 0x80).copied().flatten(),
            // The control characters of ISO 6429 stand in no bank: such a file is Windows-1252 under a wrong name.
            (_, 0..=0x7f) | (Self::Latin1, 0xa0..) => Some(char::from(byte)),
            _ => None,
        }
    }
}

impl fmt::Display for Encoding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Utf8 => "UTF-8",
            Self::Utf16Le => "UTF-16 (little end first)",
            Self::Utf16Be => "UTF-16 (big end first)",
            Self::Windows1252 => "Windows-1252",
            Self::Latin1 => "Latin-1",
        })
    }
}

/// The upper half of Windows-1252. What the web's standard maps to control characters (81, 8D, 8F, 90, 9D) has no character.
static WINDOWS_1252: LazyLock<[Option<char>; 128]> = LazyLock::new(|| {
    std::array::from_fn(|at| {
        let byte = [at as u8 + 0x80];
        let (text, _) = encoding_rs::WINDOWS_1252.decode_without_bom_handling(&byte);
        text.chars().next().filter(|own| !own.is_control())
    })
});

/// Bytes of a file that are looked at to find its encoding.
pub const START: usize = 256;

/// Reads the first bytes of a file, [`START`] or all that there are.
///
/// # Errors
/// Whatever the reader reports.
pub fn start_of(reader: &mut impl Read) -> io::Result<Vec<u8>> {
    let mut start = Vec::with_capacity(START);
    reader.take(START as u64).read_to_end(&mut start)?;
    Ok(start)
}

/// The encoding of a file that starts like this: what its byte order mark says, else what was declared, else what an XML
/// declaration says, else UTF-8.
///
/// # Errors
/// The sentence that says what the file looks like, where it can be none of these.
pub fn settle(start: &[u8], declared: Option<Encoding>) -> Result<Encoding, String> {
    let marks = [
        (&b"\xef\xbb\xbf"[..], Encoding::Utf8),
        (&b"\xff\xfe"[..], Encoding::Utf16Le),
        (&b"\xfe\xff"[..], Encoding::Utf16Be),
    ];
    if let Some((_, marked)) = marks.iter().find(|(mark, _)| start.starts_with(mark)) {
        return Ok(*marked);
    }
    if let Some(declared) = declared.or_else(|| declared_in_xml(start)) {
        return Ok(declared);
    }
    // Every bank begins with characters of ASCII, which UTF-16 writes beside a zero.
    let looks_like = match start {
        [low, 0, other, 0, ..] if *low > 0 && *other > 0 => Encoding::Utf16Le,
        [0, low, 0, other, ..] if *low > 0 && *other > 0 => Encoding::Utf16Be,
        _ => return Ok(Encoding::Utf8),
    };
    Err(format!("it looks like UTF-16 without a byte order mark: name its encoding, --encoding {}", looks_like.name()))
}

/// The encoding that an XML declaration names, where it is one that needs decoding.
fn declared_in_xml(start: &[u8]) -> Option<Encoding> {
    let end = memchr::memchr(b'>', start)?;
    let declaration = std::str::from_utf8(start.get(..end)?).ok()?.strip_prefix("<?xml")?;
    let (_, behind) = declaration.split_once("encoding")?;
    let value = behind.trim_start().strip_prefix('=')?.trim_start();
    let name = value.split(['"', '\'']).nth(1)?;
    // A declaration that can be read byte by byte is no UTF-16, whatever it says.
    Encoding::from_name(name).filter(|own| matches!(own, Encoding::Windows1252 | Encoding::Latin1))
}

/// What to say of a byte that stands for no character.
#[must_use]
pub fn complaint(byte: u8, encoding: Encoding) -> String {
    match encoding {
        Encoding::Utf8 => {
            let other = Encoding::Windows1252.character(byte);
            let would_be = other.map(|own| format!(" (in Windows-1252 it would be '{own}')")).unwrap_or_default();
            format!(
                "the byte 0x{byte:02X} is not UTF-8{would_be}: save the file as UTF-8, or name its encoding, \
                 --encoding windows-1252"
            )
        }
        Encoding::Utf16Le | Encoding::Utf16Be => {
            "half a character of UTF-16: the file is damaged here, or its encoding is another one".to_owned()
        }
        Encoding::Latin1 => {
            let advice = if Encoding::Windows1252.character(byte).is_some() { ": try windows-1252" } else { "" };
            format!("the byte 0x{byte:02X} stands for no character in Latin-1{advice}")
        }
        Encoding::Windows1252 => format!(
            "the byte 0x{byte:02X} stands for no character in Windows-1252: the file is damaged here, or its encoding is \
             another one"
        ),
    }
}

/// Gives the text of a file as UTF-8, and fails behind a number of its bytes.
pub struct Decoder<R> {
    reader: R,
    encoding: Encoding,
    /// Bytes of the file that may still be read, and how many there were at first.
    left: u64,
    limit: u64,
    decoded: Vec<u8>,
    given: usize,
    /// Bytes of a character whose other bytes are still to come.
    waiting: Vec<u8>,
    ended: bool,
}

/// Bytes that are decoded at a time.
const PIECE: usize = 1 << 15;

impl<R: Read> Decoder<R> {
    /// Decodes what `reader` gives, at most `limit` bytes of it.
    pub fn new(reader: R, encoding: Encoding, limit: u64) -> Self {
        let (decoded, waiting) = (Vec::new(), Vec::new());
        Self { reader, encoding, left: limit, limit, decoded, given: 0, waiting, ended: false }
    }

    /// Reads bytes of the file.
    fn read_raw(&mut self, target: &mut [u8]) -> io::Result<usize> {
        let count = self.reader.read(target)?;
        self.left = self.left.checked_sub(count as u64).ok_or_else(|| {
            let limit = self.limit;
            io::Error::other(format!("the file passes the limit `file-bytes` of {limit}: split it, or raise the limit"))
        })?;
        Ok(count)
    }

    fn decode_piece(&mut self) -> io::Result<()> {
        self.decoded.clear();
        self.given = 0;
        let mut piece = std::mem::take(&mut self.waiting);
        let waiting = piece.len();
        piece.resize(PIECE, 0);
        let count = self.read_raw(&mut piece[waiting..])?;
        piece.truncate(waiting + count);
        self.ended = count == 0;
        match self.encoding {
            Encoding::Utf8 => self.decoded = piece,
            Encoding::Windows1252 | Encoding::Latin1 => {
                for byte in piece {
                    match self.encoding.character(byte) {
                        Some(own) => push(&mut self.decoded, own),
                        None => self.decoded.push(byte),
                    }
                }
            }
            Encoding::Utf16Le => self.decode_units(piece, u16::from_le_bytes),
            Encoding::Utf16Be => self.decode_units(piece, u16::from_be_bytes),
        }
        Ok(())
    }

    fn decode_units(&mut self, mut piece: Vec<u8>, unit: fn([u8; 2]) -> u16) {
        // A pair of units or of bytes that the piece cuts through waits for the next one.
        let mut whole = piece.len() / 2 * 2;
        let last = piece.get(whole.wrapping_sub(2)..whole).and_then(|own| <[u8; 2]>::try_from(own).ok());
        if last.is_some_and(|own| (0xd800..0xdc00).contains(&unit(own))) {
            whole -= 2;
        }
        if self.ended {
            whole = piece.len() / 2 * 2;
        }
        let units = piece[..whole].chunks_exact(2).map(|own| unit([own[0], own[1]]));
        for own in char::decode_utf16(units) {
            match own {
                Ok(own) => push(&mut self.decoded, own),
                Err(_) => self.decoded.push(0xff),
            }
        }
        if self.ended && whole < piece.len() {
            self.decoded.push(0xff);
        } else {
            self.waiting = piece.split_off(whole);
        }
    }
}

fn push(target: &mut Vec<u8>, character: char) {
    target.extend_from_slice(character.encode_utf8(&mut [0; 4]).as_bytes());
}

impl<R: Read> Read for Decoder<R> {
    fn read(&mut self, target: &mut [u8]) -> io::Result<usize> {
        if self.encoding == Encoding::Utf8 {
            return self.read_raw(target);
        }
        while self.given == self.decoded.len() && !self.ended {
            self.decode_piece()?;
        }
        let ready = &self.decoded[self.given..];
        let count = ready.len().min(target.len());
        target[..count].copy_from_slice(&ready[..count]);
        self.given += count;
        Ok(count)
    }
}

/// The text of a whole file as UTF-8, as [`Decoder`] gives it.
#[must_use]
pub fn decode(bytes: &[u8], encoding: Encoding) -> Vec<u8> {
    let mut decoded = Vec::with_capacity(bytes.len());
    // Reading from memory does not fail, and there is no limit to pass.
    let _ = Decoder::new(bytes, encoding, u64::MAX).read_to_end(&mut decoded);
    decoded
}

/// Makes text of bytes: each byte that is no UTF-8 becomes the character SUBSTITUTE, which is as long, and is listed with its
/// place.
#[must_use]
pub fn text_of(bytes: Vec<u8>) -> (String, Vec<(u32, u8)>) {
    let mut bytes = match String::from_utf8(bytes) {
        Ok(text) => return (text, Vec::new()),
        Err(error) => error.into_bytes(),
    };
    let mut bad = Vec::new();
    let mut at = 0;
    for chunk in bytes.utf8_chunks() {
        at += chunk.valid().len();
        bad.extend(chunk.invalid().iter().enumerate().map(|(behind, byte)| ((at + behind) as u32, *byte)));
        at += chunk.invalid().len();
    }
    for (at, _) in &bad {
        if let Some(byte) = bytes.get_mut(*at as usize) {
            *byte = 0x1a;
        }
    }
    (String::from_utf8(bytes).unwrap_or_default(), bad)
}

#[cfg(test)]
mod tests {
    use super::{Encoding, decode, settle, text_of};

    #[test]
    fn texts_come_back_from_every_encoding() {
        let text = "1 \u{2192} 2; caf\u{e9} \u{20ac} \u{1f9ea}\r\nend".repeat(4_000);
        let mut failures = Vec::new();
        for (_, encoding) in Encoding::NAMES {
            let single = matches!(encoding, Encoding::Windows1252 | Encoding::Latin1);
            let own = if single { text.replace(['\u{2192}', '\u{20ac}', '\u{1f9ea}'], "\u{fc}") } else { text.clone() };
            let encoded = encoding.encode(&own).unwrap_or_default();
            if decode(&encoded, *encoding) != own.as_bytes() {
                failures.push(format!("{encoding}"));
            }
            for cut in [0, 1, 9, 13, 14, 15, 400] {
                let whole = own.char_indices().nth(cut).map_or(0, |(at, _)| at);
                let start = encoding.encode(&own[..whole]).unwrap_or_default();
                if encoding.length_in_file(&own.as_bytes()[..whole]) != start.len() {
                    failures.push(format!("{encoding}: the length of {cut} characters"));
                }
            }
        }
        assert!(failures.is_empty(), "{}", failures.join("\n"));
    }

    #[test]
    fn the_euro_sign_is_where_windows_puts_it_and_bad_bytes_are_found() {
        // Unicode's mapping file CP1252.TXT: 80 is U+20AC, 9F is U+0178, 81 and 9D are undefined.
        assert_eq!(decode(b"\x80\x9f", Encoding::Windows1252), "\u{20ac}\u{178}".as_bytes());
        let cases = [
            (&b"a\xffb"[..], Encoding::Utf8, (1, 0xff)),
            (b"ab\x81c", Encoding::Windows1252, (2, 0x81)),
            (b"\x80a", Encoding::Latin1, (0, 0x80)),
            (b"a\0\x00\xd8b\0", Encoding::Utf16Le, (1, 0xff)),
            (b"a\0b", Encoding::Utf16Le, (1, 0xff)),
        ];
        for (bytes, encoding, expected) in cases {
            assert_eq!(text_of(decode(bytes, encoding)).1, [expected], "{bytes:?}");
        }
    }

    #[test]
    fn marks_come_before_what_is_declared() {
        let latin = Some(Encoding::Latin1);
        let cases: [(&[u8], Option<Encoding>, Option<Encoding>); 8] = [
            (b"id,start", None, Some(Encoding::Utf8)),
            (b"id,start", latin, latin),
            (b"\xef\xbb\xbfid", latin, Some(Encoding::Utf8)),
            (b"\xff\xfei\0", latin, Some(Encoding::Utf16Le)),
            (b"\xfe\xff\0i", None, Some(Encoding::Utf16Be)),
            (b"i\0d\0", None, None),
            (b"<?xml version='1.0' encoding='ISO-8859-1'?>", None, latin),
            (b"<?xml version=\"1.0\" encoding=\"UTF-8\"?>", None, Some(Encoding::Utf8)),
        ];
        for (start, declared, expected) in cases {
            assert_eq!(settle(start, declared).ok(), expected, "{start:?}");
        }
    }
}
