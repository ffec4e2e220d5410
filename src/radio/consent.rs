//! Gives a monitor that keeps its users apart (User Data Service) the consents that the household gave, at each visit
//! and before the records are asked for; with several users, one after the other, and the records of each.
//!
//! A new user is registered only where a person asked for that, and nothing of a user is ever deleted on a monitor.

use super::fetch::{self, AfterFetch};
use super::line::{MonitorLine, SUBSCRIBE};
use super::questions::Askable;
use crate::gatt::{Characteristic, UserControl};
use crate::journal::{Entry, UserConsent};
use std::collections::VecDeque;
use std::time::Duration;
use tokio::time::sleep;

const CONTROL_POINT: Characteristic = Characteristic::USER_CONTROL_POINT;

/// Before the next user's consent the monitor is to have said everything of the one before: it has been silent for so
/// long (own choice; a burst pauses for some connection intervals).
const SILENCE: Duration = Duration::from_secs(2);
/// ... or is not waited for any longer.
const SILENCE_LIMIT: Duration = Duration::from_secs(60);

/// The consents that are still to be given on a connection.
pub(super) type Left = VecDeque<UserConsent>;

/// Gives the first consent that the monitor accepts, and gives those that are left.
pub(super) async fn begin(monitor: &impl Askable, line: &MonitorLine) -> Left {
    let mut left = Left::new();
    if !monitor.has(CONTROL_POINT) {
        return left;
    }
    line.users.has();
    left.extend(line.users.to_give());
    if left.is_empty() {
        return left;
    }
    if let Err(error) = monitor.listen_to(&[CONTROL_POINT]).await {
        tracing::warn!(monitor = %line.monitor(), "its users' consents cannot be given: {error}");
        left.clear();
    }
    next(monitor, line, &mut left).await;
    left
}

/// Asks for the stored records, where there are several users for those of each.
pub(super) async fn fetch_all(monitor: &impl Askable, line: &MonitorLine, mut left: Left) -> AfterFetch {
    loop {
        if fetch::fetch(monitor, line).await == AfterFetch::Leave {
            return AfterFetch::Leave;
        }
        if left.is_empty() {
            return AfterFetch::Stay;
        }
        line.silent_for(SILENCE, SILENCE_LIMIT).await;
        if !next(monitor, line, &mut left).await {
            return AfterFetch::Stay;
        }
    }
}

/// Stays until nothing more is expected of the monitor. A consent that comes meanwhile is given at once.
pub(super) async fn stay(monitor: &impl Askable, line: &MonitorLine) {
    while let Some(left) = line.patience() {
        tokio::select! {
            () = sleep(left) => {}
            () = line.users.changed() => {
                let before = line.users.accepted_so_far();
                let left = begin(monitor, line).await;
                if line.users.accepted_so_far() > before && fetch_all(monitor, line, left).await == AfterFetch::Leave {
                    return;
                }
            }
        }
    }
}

/// Gives consents until the monitor accepts one; whether it did.
async fn next(monitor: &impl Askable, line: &MonitorLine, left: &mut Left) -> bool {
    while let Some(consent) = left.pop_front() {
        match give(monitor, line, consent).await {
            Ok(user) => {
                tracing::info!(monitor = %line.monitor(), user, "it gives this user's readings");
                line.users.accepted(user);
                line.stored.of_user(user);
                subscribe_again(monitor, line).await;
                return true;
            }
            Err(why) => tracing::warn!(
                monitor = %line.monitor(), user = ?consent.user, "a user's consent was not accepted: {why}"
            ),
        }
    }
    false
}

/// Gives one consent; the user whose it was.
async fn give(monitor: &impl Askable, line: &MonitorLine, consent: UserConsent) -> Result<u8, String> {
    let request = match consent.user {
        Some(user) => UserControl::consent(user, consent.code).to_vec(),
        None => UserControl::register(consent.code).to_vec(),
    };
    line.users.begin(request.first().copied().unwrap_or_default());
    match monitor.write(CONTROL_POINT, request).await {
        Some(Ok(())) => {}
        Some(Err(error)) => return Err(error),
        None => return Err("its control point cannot be written".to_owned()),
    }
    let said = line.users.answered().await.ok_or("it does not answer")?;
    match (said.value, consent.user, said.registered) {
        (UserControl::SUCCESS, Some(user), _) => Ok(user),
        (UserControl::SUCCESS, None, Some(user)) => {
            line.users.registered(consent, user);
            line.hand_over(Entry::Registered(line.monitor().clone(), user))
                .await;
            // It lets nobody at the new user's data before the consent, as at any other's.
            let consent = UserConsent {
                user: Some(user),
                ..consent
            };
            Box::pin(give(monitor, line, consent)).await
        }
        (value, ..) => {
            line.users.not_accepted(consent);
            Err(format!("it says \"{}\"", UserControl::response_name(value)))
        }
    }
}

/// What the monitor refused before the consent is asked for once more.
async fn subscribe_again(monitor: &impl Askable, line: &MonitorLine) {
    if line.has_subscribed() {
        return;
    }
    let offered: Vec<Characteristic> = SUBSCRIBE.into_iter().filter(|kind| monitor.has(*kind)).collect();
    match monitor.listen_to(&offered).await {
        Ok(()) => line.subscribed(),
        Err(error) => {
            tracing::warn!(monitor = %line.monitor(), "it does not let itself be subscribed to after the consent: {error}");
        }
    }
}

#[cfg(test)]
mod tests;
