//! Messages over MLLP (HL7's Minimal Lower Layer Protocol, release 1): each in a frame of its own, each answered by
//! one.
//!
//! What was sent counts for nothing before its acknowledgement is there, under its own control id. A connection on
//! which anything went wrong is not used again: what comes late on it would answer something else.

use super::answer::Trouble;
use super::receipt::{self, Receipt};
use crate::outbound::OutboundError;
use crate::outbound::stream::{Caller, OpenConnection, StreamPeer};
use std::fmt;
use std::time::Duration;

/// The schemes of a receiver's address: with TLS, and without. They are ours; no register has one.
pub const SCHEMES: [&str; 2] = ["mllps", "mllp"];
/// The port that IANA gave to HL7.
pub const PORT: u16 = 2575;

/// The longest time for an acknowledgement (own choice; a receiver stores one result in less).
const ANSWER_TIME: Duration = Duration::from_secs(30);
/// The longest acknowledgement, in octets: ordinary ones have some hundred, those with many errors some thousand.
const ANSWER_OCTETS_MAX: usize = 64 * 1024;
/// So many acknowledgements of something else are passed over.
const OTHERS_MAX: usize = 8;

const BEGIN: u8 = 0x0b;
const END: [u8; 2] = [0x1c, 0x0d];

/// Takes a message to the receiver and brings what it said to it.
pub trait Exchange: fmt::Debug + Send {
    /// Sends a message once, and waits for the acknowledgement of this control id.
    fn exchange(&mut self, message: &str, control_id: &str) -> Result<Receipt, Trouble>;

    /// Ends the connection; the next message opens another.
    fn hang_up(&mut self);
}

/// A receiver over the network.
#[derive(Debug)]
pub struct Mllp {
    caller: Caller,
    peer: StreamPeer,
    patience: Duration,
    connection: Option<OpenConnection>,
}

impl Mllp {
    /// Nothing is connected yet.
    pub fn new(caller: Caller, peer: StreamPeer) -> Self {
        Self {
            caller,
            peer,
            patience: ANSWER_TIME,
            connection: None,
        }
    }

    /// Connects, where nothing is, and says nothing.
    pub fn connect(&mut self) -> Result<&mut OpenConnection, OutboundError> {
        if self.connection.is_none() {
            self.connection = Some(self.caller.connect(&self.peer)?);
        }
        self.connection
            .as_mut()
            .ok_or_else(|| OutboundError::Unreachable {
                to: self.peer.to_string(),
                why: "there is no connection".to_owned(),
            })
    }

    fn ask(&mut self, message: &str, control_id: &str) -> Result<Receipt, Trouble> {
        let patience = self.patience;
        let connection = self.connect()?;
        connection.within(patience);
        let mut frame = vec![BEGIN];
        frame.extend_from_slice(message.as_bytes());
        frame.extend(END);
        connection.send(&frame)?;
        let mut answers = Answers::default();
        for _ in 0..OTHERS_MAX {
            let answer = answers.next(connection)?;
            match receipt::read(&answer, control_id).map_err(Trouble::NoReceipt)? {
                Receipt::Another => {}
                receipt => return Ok(receipt),
            }
        }
        Err(Trouble::NoReceipt(
            "it acknowledges other messages than the one that was sent".to_owned(),
        ))
    }
}

impl Exchange for Mllp {
    fn exchange(&mut self, message: &str, control_id: &str) -> Result<Receipt, Trouble> {
        // A receiver may close after each acknowledgement, and that is only seen when the next message goes.
        let used = self.connection.is_some();
        let asked = match self.ask(message, control_id) {
            Err(Trouble::Unreachable(_)) if used => {
                self.hang_up();
                self.ask(message, control_id)
            }
            asked => asked,
        };
        if asked.is_err() {
            self.hang_up();
        }
        asked
    }

    fn hang_up(&mut self) {
        self.connection = None;
    }
}

impl From<OutboundError> for Trouble {
    fn from(error: OutboundError) -> Self {
        Self::Unreachable(error.to_string())
    }
}

/// The frames that come back.
#[derive(Default)]
struct Answers {
    read: Vec<u8>,
}

impl Answers {
    /// The content of the next frame.
    fn next(&mut self, connection: &mut OpenConnection) -> Result<Vec<u8>, Trouble> {
        let mut piece = [0; 4096];
        loop {
            if let Some(content) = self.whole()? {
                return Ok(content);
            }
            if self.read.len() > ANSWER_OCTETS_MAX {
                return Err(Trouble::NoReceipt(format!(
                    "it answers with more than {ANSWER_OCTETS_MAX} octets"
                )));
            }
            let count = connection.receive(&mut piece)?;
            if count == 0 {
                return Err(Trouble::Unreachable(
                    "the receiver closed the connection before it had acknowledged the message".to_owned(),
                ));
            }
            self.read.extend(piece.iter().take(count));
        }
    }

    /// Takes a whole frame out of what was read.
    fn whole(&mut self) -> Result<Option<Vec<u8>>, Trouble> {
        match self.read.first() {
            None => return Ok(None),
            Some(&BEGIN) => {}
            Some(_) => {
                return Err(Trouble::NoReceipt(
                    "it answers with something that is no frame of MLLP".to_owned(),
                ));
            }
        }
        let Some(end) = self.read.windows(END.len()).position(|two| two == END) else {
            return Ok(None);
        };
        let content = self.read.get(1..end).unwrap_or_default().to_vec();
        self.read.drain(..end + END.len());
        Ok(Some(content))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::{Read, Write};
    use std::net::TcpListener;
    use std::thread::JoinHandle;

    const MESSAGE: &str = "MSH|^~\\&|a|b|||20260301||ORU^R01^ORU_R01|C1|P|2.5.1\r";

    fn ack(control_id: &str) -> Vec<u8> {
        format!("\u{b}MSH|^~\\&|x|y|||2026||ACK|1|P|2.5.1\rMSA|AA|{control_id}\r\u{1c}\r").into_bytes()
    }

    /// A receiver that answers each message of each connection with these octets, and closes after them; with none it
    /// is silent. What it received.
    fn receiver(answers: Vec<Vec<Option<Vec<u8>>>>) -> (Mllp, JoinHandle<Vec<u8>>) {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let address = format!("mllp://{}", listener.local_addr().unwrap());
        // A machine with much to do answers late, and only who is silent is to be given up soon.
        let silent = answers.iter().flatten().any(Option::is_none);
        let served = std::thread::spawn(move || {
            let mut all = Vec::new();
            for answers in answers {
                let (mut stream, _) = listener.accept().unwrap();
                for answer in answers {
                    let mut octet = [0];
                    let mut frame = Vec::new();
                    while !frame.ends_with(&END) && stream.read(&mut octet).unwrap() == 1 {
                        frame.push(octet[0]);
                    }
                    all.extend(frame);
                    match answer {
                        // The peer may have heard enough.
                        Some(answer) => drop(stream.write_all(&answer)),
                        None => while matches!(stream.read(&mut octet), Ok(1)) {},
                    }
                }
            }
            all
        });
        let peer = StreamPeer::parse(&address, SCHEMES, PORT, false)
            .unwrap()
            .unwrap();
        let mut mllp = Mllp::new(Caller::new(None).unwrap(), peer);
        mllp.patience = if silent {
            Duration::from_millis(300)
        } else {
            ANSWER_TIME
        };
        (mllp, served)
    }

    fn alone(answer: Option<Vec<u8>>) -> Result<Receipt, Trouble> {
        let (mut mllp, _) = receiver(vec![vec![answer]]);
        mllp.exchange(MESSAGE, "C1")
    }

    #[test]
    fn only_an_acknowledgement_of_the_message_itself_counts() {
        assert_eq!(alone(Some(ack("C1"))), Ok(Receipt::Accepted));
        let both = [ack("C0"), ack("C1")].concat();
        assert_eq!(
            alone(Some(both)),
            Ok(Receipt::Accepted),
            "the one before came late"
        );
        assert!(matches!(alone(Some(ack("C0"))), Err(Trouble::Unreachable(_))));
        let many = ack("C0").repeat(OTHERS_MAX);
        assert!(matches!(alone(Some(many)), Err(Trouble::NoReceipt(_))));
    }

    #[test]
    fn silence_half_an_answer_garbage_and_an_endless_one_are_no_acknowledgement() {
        let silent = alone(None).unwrap_err();
        assert!(silent.to_string().contains("did not answer in time"), "{silent}");
        let half = alone(Some(ack("C1")[..40].to_vec())).unwrap_err();
        assert!(half.to_string().contains("before it had acknowledged"), "{half}");
        for garbage in [
            b"HTTP/1.1 400 Bad Request\r\n\r\n".to_vec(),
            b"\x0bhello\x1c\r".to_vec(),
        ] {
            assert!(matches!(alone(Some(garbage)), Err(Trouble::NoReceipt(_))));
        }
        let endless = [vec![BEGIN], vec![b'x'; 10 * ANSWER_OCTETS_MAX]].concat();
        let endless = alone(Some(endless)).unwrap_err();
        assert!(
            endless.to_string().contains("more than 65536 octets"),
            "{endless}"
        );
    }

    #[test]
    fn a_receiver_may_close_after_each_acknowledgement() {
        let (mut mllp, served) = receiver(vec![vec![Some(ack("C1"))], vec![Some(ack("C1"))]]);
        assert_eq!(mllp.exchange(MESSAGE, "C1"), Ok(Receipt::Accepted));
        assert_eq!(mllp.exchange(MESSAGE, "C1"), Ok(Receipt::Accepted));
        drop(mllp);
        let frame = format!("\u{b}{MESSAGE}\u{1c}\r");
        assert_eq!(served.join().unwrap(), frame.repeat(2).into_bytes());
    }
}
