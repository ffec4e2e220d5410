//! `quietcuff decode`: what the bytes of a characteristic say.

use crate::gatt::{self, Characteristic, DecodeError, Decoded, NotACharacteristic};
use serde::Serialize;
use std::io::{self, BufRead, BufReader, IsTerminal, Read, Write};
use std::process::ExitCode;

/// The longest value that the Attribute Protocol allows (Core Vol 3 Part F 3.2.9).
const VALUE_OCTETS_MAX: usize = 512;

/// The longest line of standard input that is looked at: a full UUID, the longest value with a separator between
/// its octets, and as much again for generous blanks. What is beyond is skipped without being kept.
const LINE_OCTETS_MAX: u64 = 4096;

/// How many octets of one field the text form shows; a longer field is a text or something unknown.
const SHOWN_OCTETS_MAX: usize = 8;

/// sysexits EX_DATAERR: a frame could not be decoded.
const BAD_DATA: u8 = 65;
/// sysexits EX_IOERR: reading or writing failed.
const IO_ERROR: u8 = 74;

/// Say what the bytes of a characteristic mean.
#[derive(clap::Args, Debug)]
pub struct DecodeArgs {
    /// Print one JSON object a frame.
    #[arg(long)]
    pub json: bool,

    /// UUID:HEX, for example 2a35:04780050005d004800. With none, lines `UUID HEX` are read from standard input.
    #[arg(value_name = "FRAME")]
    pub frames: Vec<String>,
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
pub fn run(args: &DecodeArgs) -> ExitCode {
    let mut output = Output {
        out: io::BufWriter::new(io::stdout().lock()),
        json: args.json,
        all_good: true,
    };
    let done = if args.frames.is_empty() {
        let stdin = io::stdin();
        if stdin.is_terminal() {
            // Advice only: if it cannot be shown, nothing is lost.
            let _ = writeln!(
                io::stderr(),
                "Type UUID HEX and Enter, such as 2a19 64; Ctrl-D ends."
            );
        }
        output.lines(&mut BufReader::new(stdin.lock()))
    } else {
        args.frames.iter().try_for_each(|text| output.frame(parse(text)))
    };
    match done.and_then(|()| output.out.flush()) {
        Ok(()) if output.all_good => ExitCode::SUCCESS,
        Ok(()) => ExitCode::from(BAD_DATA),
        // Whoever read the output has had enough, as `head` does: that is no failure of ours.
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => ExitCode::SUCCESS,
        Err(error) => {
            let _ = writeln!(io::stderr(), "quietcuff: decoding stopped: {error}");
            ExitCode::from(IO_ERROR)
        }
    }
}

/// Where the frames go, and whether all of them could be decoded.
struct Output<W> {
    out: W,
    json: bool,
    all_good: bool,
}

impl<W: Write> Output<W> {
    /// Every line of the input is a frame, except blank ones. What is decoded goes out before more input is waited for.
    fn lines<R: Read>(&mut self, input: &mut BufReader<R>) -> io::Result<()> {
        let mut line = Vec::new();
        loop {
            if input.buffer().is_empty() {
                self.out.flush()?;
            }
            line.clear();
            if input
                .by_ref()
                .take(LINE_OCTETS_MAX)
                .read_until(b'\n', &mut line)?
                == 0
            {
                return Ok(());
            }
            let frame = if !line.ends_with(b"\n") && !at_end(input)? {
                input.skip_until(b'\n')?;
                Err(NotAFrame::LineTooLong)
            } else {
                match std::str::from_utf8(&line).map(str::trim) {
                    Ok("") => continue,
                    Ok(text) => parse(text),
                    Err(_) => Err(NotAFrame::NotUtf8),
                }
            };
            self.frame(frame)?;
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

fn at_end(input: &mut impl BufRead) -> io::Result<bool> {
    input.fill_buf().map(<[u8]>::is_empty)
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

    /// What goes out, and whether all was good.
    fn decoded(input: &[u8], json: bool) -> (String, bool) {
        let mut output = Output {
            out: Vec::new(),
            json,
            all_good: true,
        };
        output.lines(&mut BufReader::with_capacity(64, input)).unwrap();
        (String::from_utf8(output.out).unwrap(), output.all_good)
    }
}
