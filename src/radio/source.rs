//! A file of frames, of either kind, told apart by what it begins with.

use super::capture::{self, Capture, CaptureError, CaptureSummary};
use super::json_lines::{self, FrameLineError, LineFault};
use crate::frame::Frame;
use crate::whole::reason;
use std::fs::File;
use std::io::{self, BufRead as _, BufReader};
use std::path::{Path, PathBuf};

/// Why a file gives no frames, or one line of it none.
#[derive(Debug, thiserror::Error)]
pub enum SourceError {
    /// It cannot be opened or read.
    #[error("{}: cannot be read: {}; {}", path.display(), reason(error), remedy(error))]
    Io {
        /// Path as it was given.
        path: PathBuf,
        /// What the system says.
        error: io::Error,
    },
    /// It is a capture of another kind.
    #[error(
        "{}: this is a pcap or pcapng capture; turn it into btsnoop first: \
         `editcap -F btsnoop {} capture.btsnoop`", path.display(), path.display()
    )]
    Pcap {
        /// Path as it was given.
        path: PathBuf,
    },
    /// It is a capture that cannot be read.
    #[error("{}: this capture cannot be read: {error}", path.display())]
    Capture {
        /// Path as it was given.
        path: PathBuf,
        /// What is wrong with it, and at which octet.
        error: CaptureError,
    },
    /// It is none of the two.
    #[error(
        "{}: this is neither a btsnoop capture nor frames as JSON Lines; give a file made by `btmon -w FILE` or by \
         `quietcuff frames --json`", path.display()
    )]
    Unknown {
        /// Path as it was given.
        path: PathBuf,
    },
    /// One line holds no frame; the lines after it are read all the same.
    #[error("{}: {error}", path.display())]
    Line {
        /// Path as it was given.
        path: PathBuf,
        /// Which line, and why.
        error: FrameLineError,
    },
}

/// What to do about a file that cannot be read.
fn remedy(error: &io::Error) -> &'static str {
    match error.kind() {
        io::ErrorKind::NotFound => "check its name",
        io::ErrorKind::PermissionDenied => "ask its owner for the right to read it",
        io::ErrorKind::IsADirectory => "name a file in it",
        io::ErrorKind::NotSeekable => "a capture has to be a file, not a pipe: save it first",
        _ => "copy it to another disk and try again",
    }
}

/// The frames of a file, one after the other, in memory that does not grow with the file.
pub struct Frames {
    path: PathBuf,
    kind: Kind,
}

enum Kind {
    JsonLines(json_lines::FrameLines<BufReader<File>>),
    Capture(Box<Capture<BufReader<File>>>),
}

/// Opens a file of frames. A capture is read through once here; JSON Lines may come from a pipe.
pub fn open(path: &Path) -> Result<Frames, SourceError> {
    let path = path.to_owned();
    let opened = File::open(&path).map(BufReader::new);
    let begun = opened.and_then(|mut input| {
        let start = input.fill_buf()?.to_vec();
        Ok((input, start))
    });
    let (input, start) = match begun {
        Ok(begun) => begun,
        Err(error) => return Err(SourceError::Io { path, error }),
    };
    let kind = if start.starts_with(&capture::MAGIC) {
        match Capture::open(input) {
            Ok(capture) => Kind::Capture(Box::new(capture)),
            Err(CaptureError::Io(error)) => return Err(SourceError::Io { path, error }),
            Err(error) => return Err(SourceError::Capture { path, error }),
        }
    } else if is_pcap(&start) {
        return Err(SourceError::Pcap { path });
    } else if start.contains(&0) {
        return Err(SourceError::Unknown { path });
    } else {
        Kind::JsonLines(json_lines::FrameLines::new(input))
    };
    Ok(Frames { path, kind })
}

/// The magic numbers of pcap (either byte order, micro- or nanoseconds) and pcapng.
fn is_pcap(start: &[u8]) -> bool {
    matches!(
        start,
        [0xa1, 0xb2, 0xc3 | 0x3c, 0xd4 | 0x4d, ..]
            | [0xd4 | 0x4d, 0xc3 | 0x3c, 0xb2, 0xa1, ..]
            | [0x0a, 0x0d, 0x0d, 0x0a, ..]
    )
}

impl Frames {
    /// What a capture held; `None` for JSON Lines.
    pub fn summary(&self) -> Option<&CaptureSummary> {
        match &self.kind {
            Kind::Capture(capture) => Some(capture.summary()),
            Kind::JsonLines(_) => None,
        }
    }
}

impl Iterator for Frames {
    type Item = Result<Frame, SourceError>;

    fn next(&mut self) -> Option<Self::Item> {
        let path = || self.path.clone();
        match &mut self.kind {
            Kind::JsonLines(lines) => lines.next().map(|line| {
                line.map_err(|error| match error.what {
                    LineFault::Io(error) => SourceError::Io { path: path(), error },
                    _ => SourceError::Line { path: path(), error },
                })
            }),
            Kind::Capture(capture) => capture
                .next()
                .map(|frame| frame.map_err(|error| SourceError::Io { path: path(), error })),
        }
    }
}
