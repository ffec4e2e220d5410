//! What the record asks of a listener that is connected: to find a monitor, to pair with it, to forget it. Nothing else
//! may be asked, which both ends look at; of what a listener answers nothing is taken that could be something else.

use crate::household::Monitor;
use crate::socket::speech::{Answer, HeardMonitor, Pairing, Request};
use rustix::event::{EventfdFlags, eventfd};
use serde_json::Value;
use std::collections::{BTreeMap, VecDeque};
use std::os::fd::{AsFd, BorrowedFd, OwnedFd};
use std::sync::mpsc::{RecvTimeoutError, SyncSender, sync_channel};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

/// A listener does what it is asked within this: it asks the collector beside it. Less than a local socket waits.
const DONE_WITHIN: Duration = Duration::from_secs(4);
/// Orders to one listener that may wait: they come from people.
const ORDERS_MAX: usize = 4;
/// The longest text of a listener that is shown to somebody.
const TEXT_CHARS_MAX: usize = 500;
/// What sysexits call failures, and the one where it is not known which.
const FAILURES: std::ops::RangeInclusive<u8> = 64..=78;
const UNAVAILABLE: u8 = 69;
/// As many monitors as a house can hear.
const HEARD_MAX: usize = 20;

/// Something that a listener is asked to do.
struct Order {
    request: Value,
    tell: SyncSender<Answer>,
}

/// The orders to one connection of a listener.
#[derive(Debug)]
pub struct Orders {
    bell: OwnedFd,
    waiting: Mutex<VecDeque<Order>>,
}

impl std::fmt::Debug for Order {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str("Order")
    }
}

impl Orders {
    fn lock(&self) -> MutexGuard<'_, VecDeque<Order>> {
        self.waiting.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// A listener that is connected, on its newest line.
#[derive(Debug, Default)]
struct Here {
    lines: u32,
    /// None where it does nothing that it is asked.
    orders: Option<Arc<Orders>>,
}

/// The listeners that are connected, by id.
#[derive(Clone, Debug, Default)]
pub struct Present(Arc<Mutex<BTreeMap<String, Here>>>);

impl Present {
    fn lock(&self) -> MutexGuard<'_, BTreeMap<String, Here>> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Their ids.
    pub fn ids(&self) -> Vec<String> {
        self.lock().keys().cloned().collect()
    }

    /// A listener comes, which may do what it is asked. It is there until the value ends.
    pub(super) fn comes(&self, id: &str, does: bool) -> Presence {
        let bell = eventfd(0, EventfdFlags::CLOEXEC | EventfdFlags::NONBLOCK).ok();
        let orders = bell.filter(|_| does).map(|bell| {
            Arc::new(Orders {
                bell,
                waiting: Mutex::default(),
            })
        });
        let mut all = self.lock();
        let here = all.entry(id.to_owned()).or_default();
        here.lines += 1;
        here.orders.clone_from(&orders);
        Presence {
            present: self.clone(),
            id: id.to_owned(),
            orders,
            number: 0,
            asked: BTreeMap::new(),
        }
    }

    /// Has a listener do something, and waits for what comes of it.
    pub fn ask(&self, id: &str, request: &Request) -> Answer {
        let refused = |error: String| Answer::Refused { error };
        if !request.may_come_from_afar() {
            return refused(
                "a listener can be asked to find, pair and forget monitors, and nothing else".to_owned(),
            );
        }
        let Ok(request) = serde_json::to_value(request) else {
            return refused("this request cannot be said".to_owned());
        };
        let orders = match self.lock().get(id) {
            None => {
                return refused(format!(
                    "listener {id} is not connected; `quietcuff listeners list` says when it was last heard"
                ));
            }
            Some(here) => here.orders.clone(),
        };
        let Some(orders) = orders else {
            return refused(format!(
                "listener {id} runs an earlier version, which cannot be asked from here; bring it to the same version, or \
                 use `quietcuff monitors add` there"
            ));
        };
        let (tell, told) = sync_channel(1);
        {
            let mut waiting = orders.lock();
            if waiting.len() >= ORDERS_MAX {
                return refused(format!(
                    "listener {id} has not done yet what it was asked before; try again"
                ));
            }
            waiting.push_back(Order { request, tell });
        }
        // A counter that is full has been rung.
        let _ = rustix::io::write(&orders.bell, &1_u64.to_ne_bytes());
        match told.recv_timeout(DONE_WITHIN) {
            Ok(answer) => answer,
            Err(RecvTimeoutError::Timeout) => refused(format!("listener {id} does not answer; try again")),
            Err(RecvTimeoutError::Disconnected) => {
                refused(format!("the line to listener {id} broke; try again in a minute"))
            }
        }
    }
}

/// A listener is connected for as long as this is there.
pub(super) struct Presence {
    present: Present,
    id: String,
    orders: Option<Arc<Orders>>,
    number: u32,
    asked: BTreeMap<u32, SyncSender<Answer>>,
}

impl Presence {
    /// Something that can be read once there are orders.
    pub(super) fn bell(&self) -> Option<BorrowedFd<'_>> {
        self.orders.as_ref().map(|orders| orders.bell.as_fd())
    }

    /// The orders that wait, each with its number. Where nothing may be asked of the listener any more, they are refused.
    pub(super) fn orders(&mut self, open: bool) -> Vec<(u32, Value)> {
        let Some(orders) = &self.orders else {
            return Vec::new();
        };
        let mut rung = [0; 8];
        let _ = rustix::io::read(&orders.bell, &mut rung);
        let waiting = std::mem::take(&mut *orders.lock());
        let mut all = Vec::new();
        for order in waiting {
            if !open {
                let error = format!("listener {} was withdrawn", self.id);
                let _ = order.tell.try_send(Answer::Refused { error });
                continue;
            }
            // Nobody waits any more for what was asked long before.
            while self.asked.len() >= ORDERS_MAX {
                self.asked.pop_first();
            }
            self.number = self.number.wrapping_add(1);
            self.asked.insert(self.number, order.tell);
            all.push((self.number, order.request));
        }
        all
    }

    /// What came of an order, which is told to whoever gave it. One that was never given is passed over.
    pub(super) fn did(&mut self, number: u32, answer: Value) {
        if let Some(tell) = self.asked.remove(&number) {
            let _ = tell.try_send(taken(answer));
        }
    }
}

impl Drop for Presence {
    fn drop(&mut self) {
        let mut all = self.present.lock();
        match all.get_mut(&self.id) {
            Some(here) if here.lines > 1 => {
                here.lines -= 1;
                let ours =
                    |theirs: &Arc<Orders>| self.orders.as_ref().is_some_and(|own| Arc::ptr_eq(own, theirs));
                if here.orders.as_ref().is_some_and(ours) {
                    here.orders = None;
                }
            }
            _ => drop(all.remove(&self.id)),
        }
    }
}

/// What a listener answers, as far as it can be an answer to what it is asked. Nobody may bring other signs to a terminal
/// by it, or people into a household.
fn taken(answer: Value) -> Answer {
    let plain = |text: &str| -> String {
        let signs = text.chars().filter(|c| !c.is_control());
        signs.take(TEXT_CHARS_MAX).collect()
    };
    let otherwise = || Answer::Refused {
        error: "the listener answers what was not asked; bring both machines to the same version".to_owned(),
    };
    match serde_json::from_value(answer) {
        Ok(Answer::Done) => Answer::Done,
        Ok(Answer::Refused { error }) => Answer::Refused { error: plain(&error) },
        Ok(Answer::Pairing { number, step }) => {
            let step = match step {
                Pairing::Heard { monitors } => Pairing::Heard {
                    monitors: monitors
                        .into_iter()
                        .take(HEARD_MAX)
                        .map(|heard| HeardMonitor {
                            name: heard.name.as_deref().map(plain),
                            address: heard.address,
                        })
                        .collect(),
                },
                Pairing::Shows { passkey } => Pairing::Shows {
                    passkey: passkey.chars().filter(char::is_ascii_digit).take(6).collect(),
                },
                Pairing::WithoutPairing { why, enrolment } => {
                    if enrolment.person.is_some() || !enrolment.users.is_empty() {
                        return otherwise();
                    }
                    Pairing::WithoutPairing {
                        why: plain(&why),
                        enrolment,
                    }
                }
                Pairing::Failed { why, code } => Pairing::Failed {
                    why: plain(&why),
                    code: if FAILURES.contains(&code) {
                        code
                    } else {
                        UNAVAILABLE
                    },
                },
                Pairing::Done { monitor, told } => Pairing::Done {
                    monitor,
                    told: told.map(|told| Box::new(described(&told, plain))),
                },
                step => step,
            };
            Answer::Pairing { number, step }
        }
        _ => otherwise(),
    }
}

/// What a listener says of a monitor, without what only a household can know, and without its address: that was asked for.
fn described(told: &Monitor, plain: impl Fn(&str) -> String) -> Monitor {
    let text = |of: &Option<String>| of.as_deref().map(&plain);
    Monitor {
        name: text(&told.name),
        manufacturer: text(&told.manufacturer),
        model: text(&told.model),
        serial: text(&told.serial),
        system_id: text(&told.system_id),
        site: told.site,
        ..Monitor::default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn of_what_a_listener_answers_nothing_else_is_taken() {
        let escape = "\u{1b}[2J";
        for (answer, said) in [
            (json!({ "answer": "done" }), "Done"),
            (json!({ "answer": "refused", "error": escape }), "error: \"[2J\""),
            (
                json!({ "answer": "pairing", "number": 1, "step": { "pairing": "failed", "why": escape, "code": 1 } }),
                "why: \"[2J\"",
            ),
            (
                json!({ "answer": "pairing", "number": 1, "step": { "pairing": "shows", "passkey": "12\u{1b}3456789" } }),
                "passkey: \"123456\"",
            ),
            (
                json!({ "answer": "pairing", "number": 1, "step": { "pairing": "done", "monitor": "m1", "told":
                    { "name": escape, "address": "C0:FF:EE:00:00:01", "validated": "everywhere" } } }),
                "told: Some(Monitor { address: None, name: Some(\"[2J\"), manufacturer: None",
            ),
            (
                json!({ "answer": "collector", "report": {} }),
                "what was not asked",
            ),
            (json!({ "answer": "moon" }), "what was not asked"),
            (
                json!({ "answer": "pairing", "number": 1, "step": { "pairing": "without-pairing", "why": "", "enrolment":
                    { "address": "C0:FF:EE:00:00:01", "person": "asha", "seconds": 1 } } }),
                "what was not asked",
            ),
        ] {
            let taken = format!("{:?}", taken(answer));
            assert!(taken.contains(said), "{said}: {taken}");
        }
    }

    #[test]
    fn only_a_listener_that_is_there_and_does_so_is_asked() {
        let present = Present::default();
        let said = |request: &Request| format!("{:?}", present.ask("l1", request));
        assert!(said(&Request::Find).contains("not connected"));
        let old = present.comes("l1", false);
        assert!(said(&Request::Find).contains("earlier version"));
        drop(old);
        let mut new = present.comes("l1", true);
        assert!(said(&Request::Reload).contains("nothing else"));
        assert_eq!(new.orders(true), []);
        let asks = std::thread::spawn({
            let present = present.clone();
            move || present.ask("l1", &Request::Find)
        });
        let order = loop {
            if let Some(order) = new.orders(true).pop() {
                break order;
            }
        };
        assert_eq!(order, (1, json!({ "ask": "find" })));
        new.did(7, json!({ "answer": "done" }));
        new.did(1, json!({ "answer": "done" }));
        assert_eq!(asks.join().unwrap(), Answer::Done);
        drop(new);
        assert_eq!(present.ids(), Vec::<String>::new());
    }
}
