//! Packed files: gzip (RFC 1952) and Zstandard (RFC 8878), told by their first bytes whatever their names.

use flate2::read::MultiGzDecoder;
use ruzstd::decoding::StreamingDecoder;
use std::fmt::Display;
use std::io::{self, Read};

/// How a file is packed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Packing {
    /// gzip.
    Gzip,
    /// Zstandard.
    Zstandard,
}

impl Packing {
    /// The packing of a file that starts like this, if it is packed.
    #[must_use]
    pub fn of(start: &[u8]) -> Option<Self> {
        match start {
            [0x1f, 0x8b, ..] => Some(Self::Gzip),
            [0x28, 0xb5, 0x2f, 0xfd, ..] => Some(Self::Zstandard),
            _ => None,
        }
    }

    /// How people call it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Gzip => "gzip",
            Self::Zstandard => "Zstandard",
        }
    }

    /// The content of a packed file.
    #[must_use]
    pub fn unpacked(self, reader: Box<dyn Read + Send>) -> Box<dyn Read + Send> {
        match self {
            Self::Gzip => Box::new(Unpacked { inner: MultiGzDecoder::new(reader), packing: self }),
            Self::Zstandard => Box::new(Unpacked { inner: Frames::Between(reader), packing: self }),
        }
    }
}

/// Says of faults what was being done.
struct Unpacked<R> {
    inner: R,
    packing: Packing,
}

impl<R: Read> Read for Unpacked<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        self.inner.read(buffer).map_err(|error| {
            let what = format!("its {} packing is damaged or cut short ({error})", self.packing.name());
            io::Error::new(error.kind(), what)
        })
    }
}

type Frame = StreamingDecoder<Box<dyn Read + Send>, ruzstd::decoding::FrameDecoder>;

/// The frames of a Zstandard file, one behind the other.
enum Frames {
    /// Before a frame or at the end.
    Between(Box<dyn Read + Send>),
    Within(Box<Frame>),
    Ended,
}

fn damaged(error: impl Display) -> io::Error {
    io::Error::new(io::ErrorKind::InvalidData, error.to_string())
}

impl Read for Frames {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        loop {
            match std::mem::replace(self, Self::Ended) {
                Self::Ended => return Ok(0),
                Self::Between(mut reader) => {
                    let mut first = [0];
                    if reader.read(&mut first)? == 0 {
                        return Ok(0);
                    }
                    let whole: Box<dyn Read + Send> = Box::new(io::Cursor::new(first).chain(reader));
                    *self = Self::Within(Box::new(StreamingDecoder::new(whole).map_err(damaged)?));
                }
                Self::Within(mut frame) => {
                    let count = frame.read(buffer)?;
                    if count > 0 || buffer.is_empty() {
                        *self = Self::Within(frame);
                        return Ok(count);
                    }
                    let (said, is) = (frame.decoder.get_checksum_from_data(), frame.decoder.get_calculated_checksum());
                    if said.is_some() && said != is {
                        return Err(damaged("its checksum is another"));
                    }
                    *self = Self::Between(frame.into_inner());
                }
            }
        }
    }
}
