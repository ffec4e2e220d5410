//! Whose the numbers of the monitors are, and what a change of that moves.

use crate::cli::failure;
use crate::cli::failure::Failure;
use crate::household::{Household, MonitorId, Statement};
use crate::journal::Journal;

/// An error that names the monitors there are.
pub(super) fn monitors_known<'a>(
    journal: &mut Journal,
    household: &Household,
    wanted: impl Iterator<Item = &'a MonitorId>,
) -> Result<(), Failure> {
    let heard = journal.monitors_heard()?;
    for monitor in wanted {
        if household.monitors.contains_key(monitor) || heard.contains(monitor) {
            continue;
        }
        let mut there: Vec<&str> = household
            .monitors
            .keys()
            .chain(&heard)
            .map(MonitorId::as_str)
            .collect();
        there.sort_unstable();
        there.dedup();
        let there = if there.is_empty() {
            "none was heard yet".to_owned()
        } else {
            format!("there are: {}", there.join(", "))
        };
        return Err(Failure::new(
            failure::USAGE,
            format!("there is no monitor {monitor}; {there}"),
        ));
    }
    Ok(())
}

/// Says what the statements move, and refuses where that takes a number from somebody and the count was not
/// confirmed.
pub(super) fn confirmed(
    journal: &mut Journal,
    statements: &[Statement],
    confirmed: Option<u64>,
) -> Result<Option<String>, Failure> {
    if statements.is_empty() {
        return Ok(None);
    }
    let moves = journal.moves(statements)?;
    let readings = |count: u64| {
        if count == 1 {
            "1 reading".to_owned()
        } else {
            format!("{count} readings")
        }
    };
    let found = (moves.found > 0).then(|| format!("{} that waited for an owner", readings(moves.found)));
    if moves.from.is_empty() {
        return Ok(found.map(|found| format!("It takes {found}.")));
    }
    let taken = moves.taken();
    let parts: Vec<String> = moves
        .from
        .iter()
        .map(|(person, count)| format!("{} of {person}", readings(*count)))
        .chain(found)
        .collect();
    let doubted = match moves.doubted {
        0 => String::new(),
        count => format!(
            " {count} of these would be nobody's: each may be from before the number changed hands, or from after that."
        ),
    };
    if confirmed == Some(taken) {
        return Ok(Some(format!("It takes {}.{doubted}", parts.join(" and "))));
    }
    let people: Vec<String> = moves.from.keys().map(ToString::to_string).collect();
    let before = match confirmed {
        Some(other) => format!(", not {other}"),
        None => String::new(),
    };
    Err(Failure::new(
        failure::USAGE,
        format!(
            "the number is {}'s, and this would move {}{before}; nothing was changed.{doubted} Add `--moves {taken}` to \
             confirm that, or `--from` with the moment from which it holds",
            people.join("'s and "),
            parts.join(" and "),
        ),
    ))
}
