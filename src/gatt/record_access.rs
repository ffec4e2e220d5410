//! Record Access Control Point (0x2A52): the requests to a monitor for its stored records, and the monitor's
//! answers.

use super::octets::{DecodeError, Octets, Watch, hex};

/// A request or an answer. The content of the operand depends on the service, so the operand stays as it
/// came.
#[derive(Clone, Copy, PartialEq, Eq, Hash, Debug)]
pub struct RecordAccess<'a> {
    /// The op code: what is asked or answered.
    pub op_code: u8,
    /// The operator: which of the stored records are meant.
    pub operator: u8,
    /// The operand: the filter of a request, or the content of an answer.
    pub operand: &'a [u8],
}

impl<'a> RecordAccess<'a> {
    /// Decodes a Record Access Control Point value (0x2A52). The error is `Truncated` below 2 octets.
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

    /// The name of the op code; `reserved` where it is not defined.
    pub const fn op_code_name(self) -> &'static str {
        op_code_name(self.op_code)
    }

    /// The name of the operator; `reserved` where it is not defined.
    pub const fn operator_name(self) -> &'static str {
        operator_name(self.operator)
    }

    /// The name of a response code; `reserved` where it is not defined.
    pub const fn response_name(code: u8) -> &'static str {
        response_name(code)
    }

    /// The op code that a response answers, and the response code; `None` for everything but a response.
    pub const fn response(self) -> Option<(u8, u8)> {
        match (self.op_code, self.operand) {
            (0x06, [to, code, ..]) => Some((*to, *code)),
            _ => None,
        }
    }

    /// The number of records that an answer gives; `None` for everything but such an answer.
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
