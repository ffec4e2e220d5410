//! What comes from behind a monitor's Record Access Control Point on one connection: the answer to the
//! procedure that was asked for last, and the records of it, each put together.

use crate::gatt::{Characteristic, Feature, RecordAccess, Segments, UNKNOWN_USER, WholeRecord};
use std::collections::BTreeMap;
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};
use tokio::sync::{Notify, oneshot};
use tokio::time::timeout;

/// What is subscribed to before the control point is written: the records, and its answers.
pub(super) const STORED: [Characteristic; 2] = [
    Characteristic::BLOOD_PRESSURE_RECORD,
    Characteristic::RECORD_ACCESS_CONTROL_POINT,
];
const CONTROL_POINT: Characteristic = Characteristic::RECORD_ACCESS_CONTROL_POINT;

/// So many segments and answers on one connection; more are not kept. A monitor stores some hundred records,
/// each in two segments at the least MTU.
const VALUES_MAX: u32 = 2048;
/// Answers to something else than what was asked; a monitor that gives more does not know what it says.
const STRAYS_MAX: u32 = 8;

/// How long a monitor is waited for.
#[derive(Clone, Copy, Debug)]
pub(super) struct WaitLimits {
    /// Between two segments, and before an answer: as long as for any question of the Attribute Protocol (Core
    /// Vol 3 Part F 3.3.3).
    pub(super) silence: Duration,
    /// For one procedure, whatever comes meanwhile (own choice): 2048 values at two hundred milliseconds.
    pub(super) procedure: Duration,
    /// For the answer to an abort, whatever comes meanwhile.
    pub(super) abort: Duration,
    /// Before a monitor that was busy is asked again.
    pub(super) busy: Duration,
}

impl Default for WaitLimits {
    fn default() -> Self {
        Self {
            silence: Duration::from_secs(30),
            procedure: Duration::from_mins(7),
            abort: Duration::from_secs(5),
            busy: Duration::from_secs(2),
        }
    }
}

/// The op codes and operators that are used, and how answers count (GATT Specification Supplement, Record
/// Access Control Point).
pub(super) mod code {
    pub(crate) const REPORT: u8 = 0x01;
    pub(crate) const ABORT: u8 = 0x03;
    pub(crate) const COUNT: u8 = 0x04;
    pub(crate) const COUNTED: u8 = 0x05;
    pub(crate) const NULL: u8 = 0x00;
    pub(crate) const ALL: u8 = 0x01;
    pub(crate) const NEWEST: u8 = 0x06;
    pub(crate) const SUCCESS: u8 = 0x01;
    pub(crate) const NONE_FOUND: u8 = 0x06;
    pub(crate) const NOT_COMPLETED: u8 = 0x08;
    pub(crate) const BUSY: u8 = 0x0a;
}

/// How a monitor answered.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum StoredAnswer {
    Count(u16),
    Code(u8),
}

/// One procedure under way, as it is heard. Pure: values and time come in.
#[derive(Debug)]
struct Procedure {
    asked: u8,
    since: Instant,
    heard: Instant,
    answer: Option<StoredAnswer>,
    putting: Segments,
    whole: u32,
    broken: u32,
    strays: u32,
    newest: Option<WholeRecord>,
}

/// What there is to do about a procedure.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Verdict {
    Answered(StoredAnswer),
    Wait(Duration),
    Failed(&'static str),
}

impl Procedure {
    fn begin(asked: u8, checked: bool, now: Instant) -> Self {
        Self {
            asked,
            since: now,
            heard: now,
            answer: None,
            putting: Segments::new(checked),
            whole: 0,
            broken: 0,
            strays: 0,
            newest: None,
        }
    }

    fn heard(&mut self, kind: Characteristic, value: &[u8], now: Instant) {
        if kind != CONTROL_POINT {
            self.heard = now;
            let brought = self.putting.take(value);
            self.broken += u32::from(brought.unfinished.is_some());
            match brought.record {
                Some(Ok(record)) => {
                    self.whole += 1;
                    self.newest = Some(record);
                }
                Some(Err(_)) => self.broken += 1,
                None => {}
            }
            return;
        }
        let said = RecordAccess::decode(value).ok();
        let answer = said.and_then(|said| match (said.response(), said.count()) {
            (Some((to, code)), _) if to == self.asked => Some(StoredAnswer::Code(code)),
            (None, Some(count)) if self.asked == code::COUNT && said.op_code == code::COUNTED => {
                Some(StoredAnswer::Count(count))
            }
            _ => None,
        });
        match answer {
            Some(_) => {
                self.broken += u32::from(self.putting.unfinished().is_some());
                self.answer = self.answer.or(answer);
            }
            // It does not put the end of the patience off.
            None => self.strays += 1,
        }
    }

    fn verdict(&self, limits: WaitLimits, now: Instant) -> Verdict {
        if let Some(answer) = self.answer {
            return Verdict::Answered(answer);
        }
        if self.strays > STRAYS_MAX {
            return Verdict::Failed("its answers are to something else than what it was asked");
        }
        let abort = self.asked == code::ABORT;
        let most = if abort { limits.abort } else { limits.procedure };
        let Some(left) = most.checked_sub(now.duration_since(self.since)) else {
            return Verdict::Failed("it does not come to an end");
        };
        match limits.silence.checked_sub(now.duration_since(self.heard)) {
            Some(silence) => Verdict::Wait(left.min(silence).max(Duration::from_millis(1))),
            None => Verdict::Failed("it has stopped answering"),
        }
    }
}

/// What the connections of one monitor know of its records.
#[derive(Debug, Default)]
pub(super) struct Stored {
    state: Mutex<State>,
    told: Notify,
    pub(super) limits: WaitLimits,
}

#[derive(Debug)]
struct State {
    /// The monitor's Feature names a checksum at the end of each record.
    checked: bool,
    procedure: Option<Procedure>,
    /// Of this connection.
    values: u32,
    /// For each segment of the procedure: told once it is on the disk.
    kept: Vec<oneshot::Receiver<()>>,
    /// Whose records are asked for, where the monitor keeps its users apart.
    user: u8,
    /// By user.
    before: BTreeMap<u8, (u16, WholeRecord)>,
}

impl Default for State {
    fn default() -> Self {
        Self {
            checked: false,
            procedure: None,
            values: 0,
            kept: Vec::new(),
            user: UNKNOWN_USER,
            before: BTreeMap::new(),
        }
    }
}

impl Stored {
    fn state(&self) -> MutexGuard<'_, State> {
        self.state.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// A value came; `false` where there were too many on this connection, and it is not to be kept.
    pub(super) fn heard(&self, kind: Characteristic, value: &[u8]) -> bool {
        if !STORED.contains(&kind) {
            if kind == Characteristic::BLOOD_PRESSURE_FEATURE {
                let feature = Feature::decode(value);
                self.state().checked = feature.is_ok_and(|feature| feature.has(Feature::E2E_CRC));
            }
            return true;
        }
        let mut state = self.state();
        state.values += 1;
        if let Some(procedure) = &mut state.procedure {
            procedure.heard(kind, value, Instant::now());
        }
        self.told.notify_one();
        state.values <= VALUES_MAX
    }

    /// A procedure is asked for.
    pub(super) fn begin(&self, op_code: u8) {
        let mut state = self.state();
        state.procedure = Some(Procedure::begin(op_code, state.checked, Instant::now()));
        state.kept.clear();
    }

    /// How many records of the procedure came whole, and how many broken.
    pub(super) fn came(&self) -> (u32, u32) {
        let state = self.state();
        state.procedure.as_ref().map_or((0, 0), |p| (p.whole, p.broken))
    }

    /// The number of records and the newest, at the last transfer that was whole and kept.
    pub(super) fn before(&self) -> Option<(u16, WholeRecord)> {
        let state = self.state();
        state.before.get(&state.user).cloned()
    }

    /// A transfer was whole and kept, or nothing is known of that any more.
    pub(super) fn remember(&self, before: Option<(u16, WholeRecord)>) {
        let mut state = self.state();
        let user = state.user;
        match before {
            Some(before) => drop(state.before.insert(user, before)),
            None => drop(state.before.remove(&user)),
        }
    }

    /// From now on the records of this user are asked for.
    pub(super) fn of_user(&self, user: u8) {
        self.state().user = user;
    }

    /// A segment is on its way to the disk.
    pub(super) fn owed(&self) -> oneshot::Sender<()> {
        let (tell, told) = oneshot::channel();
        let mut state = self.state();
        if state.procedure.is_some() {
            state.kept.push(told);
        }
        tell
    }

    /// The connection has ended.
    pub(super) fn ended(&self) {
        let mut state = self.state();
        state.procedure = None;
        state.kept.clear();
        state.values = 0;
        state.user = UNKNOWN_USER;
    }

    /// Waits for the answer; the error says why none will do.
    pub(super) async fn answered(&self) -> Result<StoredAnswer, &'static str> {
        loop {
            let verdict = {
                let state = self.state();
                let Some(procedure) = &state.procedure else {
                    return Err("the connection has ended");
                };
                match procedure.verdict(self.limits, Instant::now()) {
                    Verdict::Wait(_) if state.values > VALUES_MAX && procedure.asked != code::ABORT => {
                        Verdict::Failed("it sends more than any monitor stores")
                    }
                    verdict => verdict,
                }
            };
            match verdict {
                Verdict::Answered(answer) => return Ok(answer),
                Verdict::Failed(why) => return Err(why),
                Verdict::Wait(most) => {
                    let _ = timeout(most, self.told.notified()).await;
                }
            }
        }
    }

    /// The last whole record of the procedure.
    pub(super) fn newest(&self) -> Option<WholeRecord> {
        let state = self.state();
        state
            .procedure
            .as_ref()
            .and_then(|procedure| procedure.newest.clone())
    }

    /// Nothing came in the procedure that is under way.
    pub(super) fn is_silent(&self) -> bool {
        let state = self.state();
        state
            .procedure
            .as_ref()
            .is_none_or(|p| p.whole + p.broken + p.strays == 0 && !p.putting.is_open())
    }

    /// Waits until every segment of the procedure is on the disk; `false` where one never is.
    pub(super) async fn all_kept(&self) -> bool {
        let owed = std::mem::take(&mut self.state().kept);
        for kept in owed {
            if kept.await.is_err() {
                return false;
            }
        }
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RECORD: Characteristic = Characteristic::BLOOD_PRESSURE_RECORD;

    fn asked(op_code: u8) -> (Procedure, Instant) {
        let now = Instant::now();
        (Procedure::begin(op_code, false, now), now)
    }

    fn after(now: Instant, seconds: u64) -> Instant {
        now + Duration::from_secs(seconds)
    }

    #[test]
    fn only_its_own_answer_ends_a_procedure() {
        let (mut procedure, now) = asked(code::COUNT);
        for stray in [
            &[6, 0, 1, 1][..],
            &[8, 0, 9, 0],
            &[5],
            &[],
            &[9, 9, 9],
            &[5, 0, 1],
        ] {
            procedure.heard(CONTROL_POINT, stray, now);
            assert!(matches!(
                procedure.verdict(WaitLimits::default(), now),
                Verdict::Wait(_)
            ));
        }
        procedure.heard(CONTROL_POINT, &[5, 0, 3, 1], now);
        let counted = Verdict::Answered(StoredAnswer::Count(0x103));
        assert_eq!(procedure.verdict(WaitLimits::default(), now), counted);
        procedure.heard(CONTROL_POINT, &[6, 0, 4, 6], now);
        assert_eq!(
            procedure.verdict(WaitLimits::default(), now),
            counted,
            "the first one stands"
        );

        let (mut procedure, now) = asked(code::REPORT);
        procedure.heard(CONTROL_POINT, &[6, 0, 1, 6], now);
        let none = Verdict::Answered(StoredAnswer::Code(code::NONE_FOUND));
        assert_eq!(procedure.verdict(WaitLimits::default(), now), none);
    }

    #[test]
    fn strays_silence_and_what_never_ends_have_a_limit() {
        let limits = WaitLimits::default();
        let (mut procedure, now) = asked(code::REPORT);
        for _ in 0..=STRAYS_MAX {
            assert!(matches!(procedure.verdict(limits, now), Verdict::Wait(_)));
            procedure.heard(CONTROL_POINT, &[6, 0, 2, 1], after(now, 1));
        }
        assert!(matches!(procedure.verdict(limits, now), Verdict::Failed(_)));

        let (mut procedure, now) = asked(code::REPORT);
        procedure.heard(RECORD, &[3, 0, 0, 0x35, 0x2a, 0], after(now, 20));
        procedure.heard(CONTROL_POINT, &[6, 0, 2, 1], after(now, 40));
        assert_eq!(
            procedure.verdict(limits, after(now, 45)),
            Verdict::Wait(Duration::from_secs(5))
        );
        assert!(matches!(
            procedure.verdict(limits, after(now, 51)),
            Verdict::Failed(_)
        ));

        let (mut procedure, now) = asked(code::REPORT);
        for second in 0..421 {
            procedure.heard(RECORD, &[3, 0, 0, 0x35, 0x2a, 0], after(now, second));
        }
        assert!(matches!(
            procedure.verdict(limits, after(now, 421)),
            Verdict::Failed(_)
        ));
        let (procedure, now) = asked(code::ABORT);
        assert!(matches!(
            procedure.verdict(limits, after(now, 6)),
            Verdict::Failed(_)
        ));
    }

    #[test]
    fn more_than_any_monitor_stores_is_not_kept() {
        let stored = Stored::default();
        let kept = (0..VALUES_MAX + 100).filter(|_| stored.heard(RECORD, &[3, 0, 0, 0x35, 0x2a, 0]));
        assert_eq!(kept.count(), usize::try_from(VALUES_MAX).unwrap());
        assert!(stored.heard(Characteristic::BLOOD_PRESSURE_MEASUREMENT, &[]));
        stored.ended();
        assert!(stored.heard(RECORD, &[3, 0, 0, 0x35, 0x2a, 0]));
    }
}
