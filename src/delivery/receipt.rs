//! What a receiver of HL7 version 2 acknowledges (chapter 2, sections 2.9.2 and 2.14.8). Pure, and suspicious: an
//! answer in which anything is missing says nothing about anything.

use crate::export::hl7::unescaped;

/// How much of a receiver's words is kept for a person.
const WORDS_MAX: usize = 500;
/// Errors of one answer that are quoted.
const QUOTED_MAX: usize = 4;

/// What was said to a message.
#[derive(Clone, PartialEq, Eq, Debug)]
pub enum Receipt {
    /// It has it: AA, or CA, by which "the sending system is released from any obligation to resend".
    Accepted,
    /// It has it not, for a reason that lies in what the message says: AE or CE.
    Refused(String),
    /// It has it not, for a reason that lies in the receiver, or in what kind of message it is: AR or CR.
    Rejected(String),
    /// It is about another message.
    Another,
}

/// Reads an acknowledgement of the message with this control id; why it is none.
pub fn read(octets: &[u8], control_id: &str) -> Result<Receipt, String> {
    let text = String::from_utf8_lossy(octets);
    let segments: Vec<&str> = text.split(['\r', '\n']).filter(|one| !one.is_empty()).collect();
    let head = segments.first().and_then(|first| first.strip_prefix("MSH"));
    let mut signs = head.unwrap_or_default().chars();
    let (Some(separator), Some(component)) = (signs.next(), signs.next()) else {
        return Err("it answers with something that is no message".to_owned());
    };
    let named = |name: &str| -> Vec<Vec<&str>> {
        let fields = |one: &&'_ str| one.split(separator).next() == Some(name);
        segments
            .iter()
            .filter(|one| fields(one))
            .map(|one| one.split(separator).collect())
            .collect()
    };
    let receipts = named("MSA");
    let [receipt] = receipts.as_slice() else {
        return Err("it answers with a message that acknowledges nothing".to_owned());
    };
    let field = |at: usize| receipt.get(at).copied().unwrap_or_default();
    if field(2) != control_id {
        return Ok(Receipt::Another);
    }
    let code = field(1);
    let words = || {
        let mut said = vec![plain(field(3), component)];
        for error in named("ERR").iter().take(QUOTED_MAX) {
            // What for users, else what for technicians, else the code's own words (sections 2.14.5.3, 7 and 8).
            let place = [8, 7, 3].into_iter().find_map(|at| {
                let text = plain(error.get(at).copied().unwrap_or_default(), component);
                (!text.is_empty()).then_some(text)
            });
            said.extend(place);
        }
        said.dedup();
        said.retain(|words| !words.is_empty());
        let said = if said.is_empty() {
            "without a word".to_owned()
        } else {
            said.join("; ")
        };
        format!("{code}: {said}").chars().take(WORDS_MAX).collect()
    };
    match code {
        "AA" | "CA" => Ok(Receipt::Accepted),
        "AE" | "CE" => Ok(Receipt::Refused(words())),
        "AR" | "CR" => Ok(Receipt::Rejected(words())),
        _ => Err("it acknowledges with a code that the standard does not have".to_owned()),
    }
}

/// A field's words without its structure.
fn plain(field: &str, component: char) -> String {
    let parts: Vec<String> = field
        .split(component)
        .map(|part| unescaped(part.trim()))
        .filter(|part| !part.is_empty())
        .collect();
    let odd = |c: char| if c.is_control() { ' ' } else { c };
    parts.join(" ").chars().map(odd).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(rest: &str) -> Result<Receipt, String> {
        read(
            format!("MSH|^~\\&|x|y|||2026||ACK^R01|1|P|2.5.1\r{rest}\r").as_bytes(),
            "C1",
        )
    }

    #[test]
    fn each_code_says_whose_fault_it_is() {
        for good in ["MSA|AA|C1", "MSA|CA|C1", "MSA|AA|C1|all well\rZZZ|1"] {
            assert_eq!(said(good), Ok(Receipt::Accepted));
        }
        let refused = |words: &str| Ok(Receipt::Refused(words.to_owned()));
        assert_eq!(said("MSA|AE|C1"), refused("AE: without a word"));
        assert_eq!(said("MSA|CE|C1|unknown patient"), refused("CE: unknown patient"));
        assert_eq!(
            said("MSA|AE|C1\rERR||PID^1^3|204^Unknown key identifier^HL70357|E||||nobody is called 7\\F\\8"),
            refused("AE: nobody is called 7|8")
        );
        assert_eq!(
            said("MSA|AE|C1\rERR|||207^Application internal error^HL70357|E"),
            refused("AE: 207 Application internal error HL70357")
        );
        let rejected = said("MSA|AR|C1|unsupported version");
        assert_eq!(
            rejected,
            Ok(Receipt::Rejected("AR: unsupported version".to_owned()))
        );
    }

    #[test]
    fn what_is_about_something_else_says_nothing() {
        assert_eq!(said("MSA|AA|C2"), Ok(Receipt::Another));
        assert_eq!(said("MSA|AA"), Ok(Receipt::Another));
        assert_eq!(said("MSA|AA|c1"), Ok(Receipt::Another));
    }

    #[test]
    fn an_answer_that_does_not_add_up_counts_for_nothing() {
        for wrong in [
            "",
            "PID|1",
            "MSA|AA|C1\rMSA|AA|C1",
            "MSA|aa|C1",
            "MSA||C1",
            "MSA|OK|C1",
        ] {
            assert!(said(wrong).is_err(), "{wrong}");
        }
        for wrong in [&b""[..], b"MSH", b"MSA|AA|C1", b"\xff\xfe\x00", b"OK"] {
            assert!(read(wrong, "C1").is_err(), "{wrong:?}");
        }
    }

    #[test]
    fn a_receiver_may_separate_by_other_signs() {
        let answer = b"MSH#:~\\&#x#y###2026##ACK#1#P#2.5.1\rMSA#AE#C1#no: such patient\r";
        assert_eq!(
            read(answer, "C1"),
            Ok(Receipt::Refused("AE: no such patient".to_owned()))
        );
    }
}
