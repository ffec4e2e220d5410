//! `quietcuff decode`: what the bytes of a characteristic say.

use super::failure::{self, Failure, Outcome};
use crate::frame::VALUE_OCTETS_MAX;
use crate::gatt::{self, Characteristic, DecodeError, Decoded, NotACharacteristic};
use serde::Serialize;
use std::io::{self, BufRead, BufReader, IsTerminal, Read, Write};
use std::process::ExitCode;

/// The longest line of standard input that is looked at: a full UUID, the longest value with a separator between
/// its octets, and as much again for generous blanks. What is beyond is skipped without being kept.
const LINE_OCTETS_MAX: u64 = 4096;

/// How many octets of one field the text form shows; a longer field is a text or something unknown.
const SHOWN_OCTETS_MAX: usize = 8;

/// Which frames, and how.
#[derive(clap::Args, Debug)]
pub(crate) struct DecodeArgs {
    /// Print one JSON object a frame
    #[arg(long)]
    json: bool,
    /// UUID:HEX, such as 2a35:04780050005d004800; with none, lines `UUID HEX` are read from standard input
    #[arg(value_name = "FRAME")]
    frames: Vec<String>,
}

/// Why a text is no frame.
#[derive(Debug, PartialEq, Eq, thiserror::Error)]
enum NotAFrame {
    #[error("the line is longer than {LINE_OCTETS_MAX} octets")]
    LineTooLong,
    #[error("the line is not UTF-8 text")]
    NotUtf8,
    #[error(transparent)]
    Uuid(#[from] NotACharacteristic),
    #[error("{0:?} is not a hexadecimal digit: give the value as pairs of digits, such as 1e7800")]
    Digit(char),
    #[error("the value ends with half an octet: give the value as pairs of hexadecimal digits")]
    OddDigits,
    #[error("the value has more than {VALUE_OCTETS_MAX} octets, which no attribute has")]
    TooLong,
}

/// A frame that came out of a text, or as much of it as was understood.
struct Frame {
    characteristic: Characteristic,
    value: Result<Vec<u8>, NotAFrame>,
}

/// Decodes the frames that were given, or those on standard input.
pub(crate) fn run(args: &DecodeArgs) -> Outcome {
    let mut output = Output {
        out: io::BufWriter::new(io::stdout().lock()),
        json: args.json,
        all_good: true,
    };
    if args.frames.is_empty() {
        let stdin = io::stdin();
        if stdin.is_terminal() {
            eprintln!("Type UUID HEX and Enter, such as 2a19 64; Ctrl-D ends.");
        }
        output.lines(&mut BufReader::new(stdin.lock()))?;
    }
    for text in &args.frames {
        output.frame(parse(text))?;
    }
    output.out.flush()?;
    Ok(if output.all_good {
        ExitCode::SUCCESS
    } else {
        ExitCode::from(failure::DATA)
    })
}

/// Where the frames go, and whether all of them could be decoded.
struct Output<W> {
    out: W,
    json: bool,
    all_good: bool,
}

impl<W: Write> Output<W> {
    /// Every line of the input is a frame, except blank ones. What is decoded goes out before more input is waited for.
    fn lines<R: Read>(&mut self, input: &mut BufReader<R>) -> Result<(), Failure> {
        let mut line = Vec::new();
        loop {
            if input.buffer().is_empty() {
                self.out.flush()?;
            }
            match take_line(input, &mut line)
                .map_err(|error| Failure::new(failure::IO, format!("cannot read standard input: {error}")))?
            {
                Line::None => return Ok(()),
                Line::TooLong => self.frame(Err(NotAFrame::LineTooLong))?,
                Line::Whole => match std::str::from_utf8(&line).map(str::trim) {
                    Ok("") => {}
                    Ok(text) => self.frame(parse(text))?,
                    Err(_) => self.frame(Err(NotAFrame::NotUtf8))?,
                },
            }
        }
    }

    fn frame(&mut self, frame: Result<Frame, NotAFrame>) -> io::Result<()> {
        match frame {
            Err(error) => self.undecodable(None, &error),
            Ok(Frame {
                characteristic,
                value: Err(error),
            }) => self.undecodable(Some(characteristic), &error),
            Ok(Frame {
                characteristic,
                value: Ok(value),
            }) => match (Decoded::new(characteristic, &value), self.json) {
                (Ok(decoded), true) => self.object(&decoded),
                (Err(error), true) => self.undecodable(Some(characteristic), &error),
                (decoded, false) => self.table(characteristic, &value, decoded.err()),
            },
        }
    }

    fn object(&mut self, object: &impl Serialize) -> io::Result<()> {
        serde_json::to_writer(&mut self.out, object)?;
        writeln!(self.out)
    }

    fn undecodable(
        &mut self,
        characteristic: Option<Characteristic>,
        error: &dyn std::error::Error,
    ) -> io::Result<()> {
        #[derive(Serialize)]
        struct Undecodable {
            characteristic: Option<String>,
            error: String,
        }
        self.all_good = false;
        if self.json {
            return self.object(&Undecodable {
                characteristic: characteristic.map(|c| c.to_string()),
                error: error.to_string(),
            });
        }
        let what = characteristic.map_or_else(|| "Not a frame".to_owned(), Characteristic::described);
        writeln!(self.out, "{what}\n  error: {error}\n")
    }

    /// One line a field: which octets, their hexadecimal digits, the field's name, what it says.
    fn table(
        &mut self,
        characteristic: Characteristic,
        value: &[u8],
        error: Option<DecodeError>,
    ) -> io::Result<()> {
        let unit = if value.len() == 1 { "octet" } else { "octets" };
        writeln!(self.out, "{}, {} {unit}", characteristic.described(), value.len())?;
        for labelled in gatt::label(characteristic, value) {
            let (first, last) = (labelled.range.start, labelled.range.end.saturating_sub(1));
            let place = if first == last {
                first.to_string()
            } else {
                format!("{first}-{last}")
            };
            let octets = value.get(labelled.range).unwrap_or_default();
            let shown: String = octets
                .iter()
                .take(SHOWN_OCTETS_MAX)
                .map(|octet| format!("{octet:02x}"))
                .collect();
            let cut = if octets.len() > SHOWN_OCTETS_MAX {
                "…"
            } else {
                ""
            };
            writeln!(
                self.out,
                "  {place:<6} {:<17} {:<22} {}",
                shown + cut,
                labelled.field,
                labelled.text
            )?;
        }
        if let Some(error) = error {
            self.all_good = false;
            writeln!(self.out, "  error: {error}")?;
        }
        writeln!(self.out)
    }
}

enum Line {
    None,
    Whole,
    TooLong,
}

/// Takes one line, with its end. One that is too long is skipped, not kept.
fn take_line(input: &mut impl BufRead, line: &mut Vec<u8>) -> io::Result<Line> {
    line.clear();
    if input.by_ref().take(LINE_OCTETS_MAX).read_until(b'\n', line)? == 0 {
        return Ok(Line::None);
    }
    if line.ends_with(b"\n") || input.fill_buf()?.is_empty() {
        return Ok(Line::Whole);
    }
    input.skip_until(b'\n')?;
    Ok(Line::TooLong)
}

/// Reads `UUID:HEX` or `UUID HEX`. No value at all is a value of no octets, which GATT allows.
fn parse(text: &str) -> Result<Frame, NotAFrame> {
    let (uuid, value) = text
        .split_once(|c: char| c == ':' || c.is_whitespace())
        .unwrap_or((text, ""));
    Ok(Frame {
        characteristic: uuid.parse()?,
        value: parse_value(value),
    })
}

/// Pairs of hexadecimal digits; between pairs, blanks, colons and dashes may stand, as other tools print them.
fn parse_value(text: &str) -> Result<Vec<u8>, NotAFrame> {
    let mut octets = Vec::new();
    let mut high = None;
    for c in text.chars() {
        let between = c.is_whitespace() || c == ':' || c == '-';
        let digit = match c.to_digit(16).and_then(|digit| u8::try_from(digit).ok()) {
            Some(digit) => digit,
            None if between && high.is_none() => continue,
            None if between => return Err(NotAFrame::OddDigits),
            None => return Err(NotAFrame::Digit(c)),
        };
        high = match high {
            None => Some(digit),
            Some(_) if octets.len() == VALUE_OCTETS_MAX => return Err(NotAFrame::TooLong),
            Some(high) => {
                octets.push(high << 4 | digit);
                None
            }
        };
    }
    match high {
        None => Ok(octets),
        Some(_) => Err(NotAFrame::OddDigits),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What goes out, and whether all was good. The reader's buffer is small, so that lines straddle it.
    fn decoded(input: &[u8]) -> (String, bool) {
        let mut output = Output {
            out: Vec::new(),
            json: true,
            all_good: true,
        };
        output.lines(&mut BufReader::with_capacity(16, input)).unwrap();
        (String::from_utf8(output.out).unwrap(), output.all_good)
    }

    #[test]
    fn a_value_in_the_writings_of_other_tools() {
        for text in [
            "2a19 64",
            "2A19:64",
            "0x2a19\t64",
            "00002a19-0000-1000-8000-00805f9b34fb 64",
        ] {
            let line = "{\"characteristic\":\"2a19\",\"level\":100}\n";
            assert_eq!(decoded(text.as_bytes()), (line.to_owned(), true), "{text}");
        }
        for text in ["8103", "81 03", "81-03", "81:03", " 81  03 "] {
            assert_eq!(parse_value(text), Ok(vec![0x81, 0x03]), "{text}");
        }
    }

    #[test]
    fn no_frame_says_why() {
        assert_eq!(parse_value("8"), Err(NotAFrame::OddDigits));
        assert_eq!(parse_value("8 1"), Err(NotAFrame::OddDigits));
        assert_eq!(parse_value("8g"), Err(NotAFrame::Digit('g')));
        assert_eq!(parse_value("８1"), Err(NotAFrame::Digit('８')));
        assert_eq!(parse_value(&"00".repeat(512)).map(|v| v.len()), Ok(512));
        assert_eq!(parse_value(&"00".repeat(513)), Err(NotAFrame::TooLong));
        assert!(matches!(parse("64"), Err(NotAFrame::Uuid(_))));
    }

    #[test]
    fn a_line_without_end_is_not_kept() {
        let limit = usize::try_from(LINE_OCTETS_MAX).unwrap();
        let mut line = Vec::new();
        let mut endless = io::repeat(b'x').take(1 << 30);
        assert!(matches!(
            take_line(&mut BufReader::new(&mut endless), &mut line),
            Ok(Line::TooLong)
        ));
        assert!(line.capacity() <= 2 * limit, "{}", line.capacity());

        let long = format!("2a19 64\n{}\n2a19 63\n", "0".repeat(2 * limit));
        let (out, all_good) = decoded(long.as_bytes());
        let lines: Vec<_> = out.lines().collect();
        assert!(!all_good);
        assert_eq!(lines.len(), 3);
        assert!(lines[1].contains("longer than 4096"), "{}", lines[1]);
        assert!(lines[2].contains("99"), "{}", lines[2]);
    }

    /// A reader that is asked for more only when what it gave has been answered.
    #[test]
    fn a_frame_is_answered_before_the_next_is_waited_for() {
        use std::cell::RefCell;
        use std::rc::Rc;

        #[derive(Clone, Default)]
        struct Shown(Rc<RefCell<Vec<u8>>>);
        impl Write for Shown {
            fn write(&mut self, octets: &[u8]) -> io::Result<usize> {
                self.0.borrow_mut().write(octets)
            }
            fn flush(&mut self) -> io::Result<()> {
                Ok(())
            }
        }
        struct Asking(Shown, usize);
        impl Read for Asking {
            fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
                let answered = self.0.0.borrow().iter().filter(|octet| **octet == b'\n').count();
                assert_eq!(answered, self.1, "answered before the next was asked for");
                self.1 += 1;
                let line: &[u8] = if self.1 <= 3 { b"2a19 64\n" } else { b"" };
                into[..line.len()].copy_from_slice(line);
                Ok(line.len())
            }
        }
        let shown = Shown::default();
        let mut output = Output {
            out: io::BufWriter::new(shown.clone()),
            json: true,
            all_good: true,
        };
        output.lines(&mut BufReader::new(Asking(shown, 0))).unwrap();
    }
}
