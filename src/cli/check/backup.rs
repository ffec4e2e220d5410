//! Whether there is a good backup, and how old it is.

use super::super::failure;
use super::finding::{Finding, advised, failed, needed, ok};
use crate::config::Config;
use crate::journal::Journal;
use crate::monitoring::reminders::BACKUP_OLD;
use jiff::Timestamp;

/// How old the last good backup is.
pub(super) fn age(config: &Config, journal: &Journal) -> Finding {
    const CHECK: &str = "backup";
    let last = match journal.last_backup() {
        Ok(last) => last,
        Err(error) => return failed(CHECK, &error.into()),
    };
    let by_hand = "`quietcuff backup --to DIR` makes one now";
    let Some(place) = &config.backup.to else {
        let todo = "name a directory on another disk with `to` under [backup] of the configuration";
        return match last {
            Some(last) => advised(
                CHECK,
                format!(
                    "the last good one is of {}, and none is made by itself",
                    last.made.strftime("%F")
                ),
                todo,
            ),
            None => advised(CHECK, "none was made, and none is made by itself", todo),
        };
    };
    if !place.is_dir() {
        return needed(
            CHECK,
            failure::CANNOT_CREATE,
            format!("there is no directory {}", place.display()),
            "connect its disk, or make it, or name another with `to` under [backup]",
        );
    }
    let Some(last) = last else {
        return advised(
            CHECK,
            format!("none was made in {} yet", place.display()),
            by_hand,
        );
    };
    let how = if last.encrypted {
        "encrypted"
    } else {
        "plain: whoever has it can read it"
    };
    let found = format!(
        "the last good one is of {}, {how}: {}",
        last.made.strftime("%F"),
        last.file
    );
    if Timestamp::now().duration_since(last.made) >= BACKUP_OLD {
        advised(CHECK, found, by_hand)
    } else {
        ok(CHECK, found)
    }
}
