//! Messages as a file: one batch (chapter 2, section 2.10.3), written as they come.

use super::message::{Head, control_id};
use super::order::{Order, OrderWriter};
use super::status::Status;
use super::text::Segment;
use std::io::{self, Write};

/// A file that is being written.
pub struct Batch<W: Write> {
    out: W,
    written: String,
    messages: u64,
}

impl<W: Write> Batch<W> {
    /// Begins a file, written at that moment in the standard's form.
    pub fn begin(mut out: W, orders: &OrderWriter<'_>, written: String) -> io::Result<Self> {
        for name in ["FHS", "BHS"] {
            write!(out, "{}", orders.header(name, &written))?;
        }
        Ok(Self {
            out,
            written,
            messages: 0,
        })
    }

    /// Writes one message. What was withdrawn is said to be, because it may have been sent before; nobody knows what a
    /// file corrects.
    pub fn write(&mut self, order: &Order, status: Status) -> io::Result<()> {
        let head = Head {
            control_id: &control_id(order, status, None),
            status,
            written: &self.written,
        };
        self.messages += 1;
        self.out.write_all(order.message(head).as_bytes())
    }

    /// Ends it; how many messages it holds.
    pub fn end(mut self) -> io::Result<u64> {
        let count = Segment::new("BTS").with(1, self.messages.to_string());
        write!(self.out, "{count}{}", Segment::new("FTS").with(1, "1"))?;
        self.out.flush()?;
        Ok(self.messages)
    }
}
