//! Record Access Control Point (0x2A52): asking a monitor for its stored records, and its answers.

use super::octets::{DecodeError, Octets, Watch, hex};

/// A request or an answer. What an operand holds is the service's business, so it stays as it came.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct RecordAccess<'a> {
    /// What is asked or answered.
    pub op_code: u8,
    /// Which records.
    pub operator: u8,
    /// The filter of a request, the content of an answer.
    pub operand: &'a [u8],
}

impl<'a> RecordAccess<'a> {
    /// Decodes 0x2A52.
    pub fn decode(value: &'a [u8]) -> Result<Self, DecodeError> {
        Self::take(&mut Octets::new(value))
    }

    pub(super) fn take<W: Watch>(octets: &mut Octets<'a, W>) -> Result<Self, DecodeError> {
        let op_code = octets.u8("op code", |n| op_code_name(n).to_owned())?;
        let operator = octets.u8("operator", |n| operator_name(n).to_owned())?;
        let answer = Self {
            op_code,
            operator,
            operand: octets.rest(),
        };
        Ok(Self {
            operand: octets.remainder("operand", |operand| match (answer.response(), answer.count()) {
                (Some((to, code)), _) => format!("to {}: {}", op_code_name(to), response_name(code)),
                (None, Some(count)) => format!("{count} records"),
                (None, None) => hex(operand),
            }),
            ..answer
        })
    }

    /// The op code's name.
    pub const fn op_code_name(self) -> &'static str {
        op_code_name(self.op_code)
    }

    /// The operator's name.
    pub const fn operator_name(self) -> &'static str {
        operator_name(self.operator)
    }

    /// Of a response: the op code that it answers, and its code.
    pub const fn response(self) -> Option<(u8, u8)> {
        match (self.op_code, self.operand) {
            (0x06, [to, code, ..]) => Some((*to, *code)),
            _ => None,
        }
    }

    /// Of a number-of-records response: how many.
    pub const fn count(self) -> Option<u16> {
        match (self.op_code, self.operand) {
            (0x05 | 0x08, [low, high]) => Some(u16::from_le_bytes([*low, *high])),
            _ => None,
        }
    }
}

const fn op_code_name(op_code: u8) -> &'static str {
    match op_code {
        0x01 => "report stored records",
        0x02 => "delete stored records",
        0x03 => "abort",
        0x04 => "report number of stored records",
        0x05 => "number of stored records",
        0x06 => "response",
        0x07 => "combined report",
        0x08 => "combined report response",
        _ => "reserved",
    }
}

const fn operator_name(operator: u8) -> &'static str {
    match operator {
        0x00 => "null",
        0x01 => "all records",
        0x02 => "less than or equal to",
        0x03 => "greater than or equal to",
        0x04 => "within range",
        0x05 => "first record",
        0x06 => "last record",
        _ => "reserved",
    }
}

/// The name of a response code.
pub(super) const fn response_name(code: u8) -> &'static str {
    match code {
        0x01 => "success",
        0x02 => "op code not supported",
        0x03 => "invalid operator",
        0x04 => "operator not supported",
        0x05 => "invalid operand",
        0x06 => "no records found",
        0x07 => "abort unsuccessful",
        0x08 => "procedure not completed",
        0x09 => "operand not supported",
        0x0a => "server busy",
        _ => "reserved",
    }
}
