//! Asks a monitor for the records that it keeps behind its Record Access Control Point (Blood Pressure Service
//! 1.1): how many there are, all of them, and again what came broken.
//!
//! Every record is asked for each time, but where the count and the newest record are what they were at the
//! last whole transfer: sequence numbers are counted for each user, so that "from this number on" would miss
//! another user's, and what comes again is one reading all the same. Nothing is ever deleted on the monitor
//! (own choice): another gateway may want it, and the oldest give way by themselves.

use super::line::MonitorLine;
use super::questions::Askable;
use super::stored::{STORED, StoredAnswer, code};
use crate::gatt::{Characteristic, RecordAccess};
use tokio::time::sleep;

const CONTROL_POINT: Characteristic = Characteristic::RECORD_ACCESS_CONTROL_POINT;

/// Rounds on one connection: what came broken is asked for again, and a busy monitor too.
const ROUNDS_MAX: u32 = 3;

/// Whether the connection is worth staying on.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub(super) enum AfterFetch {
    /// It is.
    Stay,
    /// The monitor cannot be made to stop.
    Leave,
}

/// How a round of questions ended.
enum Round {
    Done,
    Again(Pause, String),
    GivenUp(String),
    Leave(&'static str),
}

/// What comes before the next round.
enum Pause {
    None,
    Busy,
}

/// Asks for what is stored, where the monitor can be asked.
pub(super) async fn fetch(monitor: &impl Askable, line: &MonitorLine) -> AfterFetch {
    if !STORED.iter().all(|kind| monitor.has(*kind)) {
        return AfterFetch::Stay;
    }
    if let Err(error) = monitor.listen_to(&STORED).await {
        line.users.refuses();
        tracing::warn!(monitor = %line.monitor(), "its stored records cannot be asked for: {error}");
        return AfterFetch::Stay;
    }
    for number in 1..=ROUNDS_MAX {
        match round(monitor, line).await {
            Round::Done => return AfterFetch::Stay,
            Round::Again(pause, why) if number < ROUNDS_MAX => {
                tracing::debug!(monitor = %line.monitor(), "its stored records are asked for again: {why}");
                if matches!(pause, Pause::Busy) {
                    sleep(line.stored.limits.busy).await;
                }
            }
            Round::Again(_, why) | Round::GivenUp(why) => {
                tracing::warn!(
                    monitor = %line.monitor(),
                    "its stored records did not all come: {why}; it is asked again at its next visit"
                );
                return AfterFetch::Stay;
            }
            Round::Leave(why) => {
                tracing::warn!(
                    monitor = %line.monitor(),
                    "its stored records: {why}, and it cannot be stopped; the link is ended"
                );
                return AfterFetch::Leave;
            }
        }
    }
    AfterFetch::Stay
}

async fn round(monitor: &impl Askable, line: &MonitorLine) -> Round {
    let count = match ask(monitor, line, code::COUNT, code::ALL).await {
        Ok(StoredAnswer::Count(count)) => Some(count),
        Ok(StoredAnswer::Code(code::NONE_FOUND)) => Some(0),
        Ok(StoredAnswer::Code(code @ (code::NOT_COMPLETED | code::BUSY))) => return again(code),
        // One that cannot count may hand out all the same.
        Ok(StoredAnswer::Code(_)) => None,
        Err(round) => return round,
    };
    tracing::debug!(monitor = %line.monitor(), ?count, "records that it has stored");
    if count == Some(0) {
        return Round::Done;
    }
    let before = line.stored.before();
    if before.as_ref().map(|(count, _)| *count) == count
        && let Some((_, newest)) = before
    {
        match ask(monitor, line, code::REPORT, code::NEWEST).await {
            Ok(StoredAnswer::Code(code::SUCCESS)) if line.stored.newest() == Some(newest) => {
                return Round::Done;
            }
            Ok(_) => {}
            Err(round) => return round,
        }
    }
    line.stored.remember(None);
    match ask(monitor, line, code::REPORT, code::ALL).await {
        Ok(StoredAnswer::Code(code::SUCCESS)) => came(line, count).await,
        Ok(StoredAnswer::Code(code::NONE_FOUND)) => Round::Done,
        Ok(StoredAnswer::Code(code @ (code::NOT_COMPLETED | code::BUSY))) => again(code),
        Ok(StoredAnswer::Code(code)) => {
            Round::GivenUp(format!("it says \"{}\"", RecordAccess::response_name(code)))
        }
        Ok(StoredAnswer::Count(_)) => Round::GivenUp("it counts instead of reporting".to_owned()),
        Err(round) => round,
    }
}

/// A transfer has ended well: whether all came, and is kept.
async fn came(line: &MonitorLine, count: Option<u16>) -> Round {
    let ((whole, broken), newest) = (line.stored.came(), line.stored.newest());
    if broken > 0 {
        let why = format!("{broken} came broken, {whole} whole");
        return Round::Again(Pause::None, why);
    }
    if let Some(count) = count.filter(|count| whole < u32::from(*count)) {
        return Round::Again(Pause::None, format!("{whole} came of {count}"));
    }
    if !line.stored.all_kept().await {
        return Round::GivenUp("the journal could not keep them".to_owned());
    }
    tracing::debug!(monitor = %line.monitor(), whole, "its stored records are kept");
    if let (Some(count), Some(newest)) = (count, newest) {
        line.stored.remember(Some((count, newest)));
    }
    Round::Done
}

fn again(code: u8) -> Round {
    Round::Again(
        Pause::Busy,
        format!("it says \"{}\"", RecordAccess::response_name(code)),
    )
}

/// Writes a request and waits for its answer. What fails is aborted.
async fn ask(
    monitor: &impl Askable,
    line: &MonitorLine,
    op_code: u8,
    operator: u8,
) -> Result<StoredAnswer, Round> {
    if let Err(refused) = write(monitor, line, op_code, operator).await {
        line.users.refuses();
        // The monitor may be at a procedure of the connection before.
        let _ = abort(monitor, line).await;
        return Err(Round::Again(Pause::Busy, refused));
    }
    let why = match line.stored.answered().await {
        Ok(answer) => return Ok(answer),
        Err(why) => why,
    };
    match abort(monitor, line).await {
        Ok(StoredAnswer::Code(code::SUCCESS)) => Err(Round::GivenUp(why.to_owned())),
        // A monitor that says nothing does no harm; it may yet measure.
        _ if line.stored.is_silent() => Err(Round::GivenUp(why.to_owned())),
        _ => Err(Round::Leave(why)),
    }
}

async fn abort(monitor: &impl Askable, line: &MonitorLine) -> Result<StoredAnswer, String> {
    write(monitor, line, code::ABORT, code::NULL).await?;
    line.stored.answered().await.map_err(str::to_owned)
}

async fn write(monitor: &impl Askable, line: &MonitorLine, op_code: u8, operator: u8) -> Result<(), String> {
    line.stored.begin(op_code);
    match monitor.write(CONTROL_POINT, vec![op_code, operator]).await {
        Some(Ok(())) => Ok(()),
        Some(Err(error)) => Err(error),
        None => Err("its control point cannot be written".to_owned()),
    }
}

#[cfg(test)]
mod tests;
