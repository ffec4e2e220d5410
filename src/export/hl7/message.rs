//! An order as the message that leaves: its header, its status, and its name for acknowledgements.

use super::order::Order;
use super::status::Status;
use super::text::{END, Segment};
use sha2::{Digest, Sha256};

/// What a message says of itself.
#[derive(Clone, Copy, Debug)]
pub struct Head<'a> {
    /// Names the message: the same when it is repeated, another as soon as it says something else (MSH-10).
    pub control_id: &'a str,
    /// What it says of its observations.
    pub status: Status,
    /// When it was written, in the standard's form (MSH-7).
    pub written: &'a str,
}

/// The name of a message: made of what it is about, what it says, and which message of the same order went before it.
/// So a repeat has the same, and a value that is changed and changed back has another one each time. Twenty characters,
/// which is the most that MSH-10 may have.
pub fn control_id(order: &Order, status: Status, before: Option<&str>) -> String {
    id(&order.name, &order.digest(), status, before)
}

fn id(name: &str, digest: &[u8], status: Status, before: Option<&str>) -> String {
    let digest = Sha256::new_with_prefix(name)
        .chain_update([0])
        .chain_update(digest)
        .chain_update(status.of_observation())
        .chain_update(before.unwrap_or_default())
        .finalize();
    digest
        .iter()
        .take(10)
        .map(|octet| format!("{octet:02X}"))
        .collect()
}

/// The message that withdraws what an earlier message of ours said, with its name. `text` is that message, as it went.
pub fn withdrawn(name: &str, text: &str, written: &str) -> (String, String) {
    let before = named(text).unwrap_or_default();
    let control_id = id(name, &Sha256::digest(text), Status::Withdrawn, Some(before));
    let mut out = String::with_capacity(text.len());
    for segment in text.split_terminator(END) {
        let mut fields: Vec<&str> = segment.split('|').collect();
        let mut put = |at: usize, value| {
            if let Some(field) = fields.get_mut(at) {
                *field = value;
            }
        };
        match segment.get(..3) {
            // The separator after MSH is its first field, so that each number is one less here.
            Some("MSH") => {
                put(6, written);
                put(9, &control_id);
            }
            Some("OBR") => put(25, Status::Withdrawn.of_order()),
            Some("OBX") if segment.split('|').nth(11) != Some("X") => {
                put(11, Status::Withdrawn.of_observation());
            }
            _ => {}
        }
        out.push_str(&fields.join("|"));
        out.push(END);
    }
    (control_id, out)
}

/// The name of a message of ours.
pub fn named(text: &str) -> Option<&str> {
    field(text, "MSH", 9)
}

/// A field of the first segment of that name; of MSH one less than the standard's number.
fn field<'t>(text: &'t str, segment: &str, number: usize) -> Option<&'t str> {
    let found = text
        .split_terminator(END)
        .find(|one| one.get(..3) == Some(segment))?;
    found.split('|').nth(number)
}

impl Order {
    /// The whole message.
    pub fn message(&self, head: Head<'_>) -> String {
        // The first segment's separator is its own first field.
        let header = Segment::new("MSH")
            .with(1, r"^~\&")
            .with(2, &self.envelope.sending_application)
            .with(3, &self.envelope.sending_facility)
            .with(4, &self.envelope.receiving_application)
            .with(5, &self.envelope.receiving_facility)
            .with(6, head.written)
            .with(8, "ORU^R01^ORU_R01")
            .with(9, head.control_id)
            .with(10, "P")
            .with(11, "2.5.1")
            // No acknowledgement of receipt, always one of the application: as IHE PCD-01 has it.
            .with(14, "NE")
            .with(15, "AL")
            .with(17, "UNICODE UTF-8");
        let mut text = header.to_string();
        self.write_body(&mut text, head.status);
        text
    }
}
