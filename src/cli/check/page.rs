//! What the page needs: a certificate that holds, with a key that nobody else reads.

use super::super::failure::{self, Failure};
use super::finding::{Finding, advised, failed, needed, ok};
use crate::config::Config;
use crate::home::page::validity;
use crate::roles::page::PageError;
use jiff::{SignedDuration, Timestamp};

/// Time to have a new certificate made, by hand or by a renewal that has stopped. Own choice.
const EXPIRES_SOON: SignedDuration = SignedDuration::from_hours(24 * 21);

/// The household's own certificate, where the page has one.
pub(super) fn certificate(config: &Config) -> Option<Finding> {
    const CHECK: &str = "page certificate";
    let files = config
        .page
        .tls_certificate
        .clone()
        .zip(config.page.tls_key.clone())?;
    let shown = files.0.display();
    let (from, until) = match validity(&files) {
        Ok(validity) => validity,
        Err(error) => return Some(failed(CHECK, &Failure::from(PageError::Serve(error)))),
    };
    let now = Timestamp::now();
    let day = |time: Timestamp| time.strftime("%F").to_string();
    let renew = "put a new one in its place, with its chain, then `systemctl restart quietcuff-page`";
    Some(if now >= until {
        let over = format!(
            "{shown} has not held since {}: browsers refuse the page",
            day(until)
        );
        needed(CHECK, failure::CONFIG, over, renew)
    } else if now < from {
        let early = format!(
            "{shown} holds only from {} on: browsers refuse the page",
            day(from)
        );
        let todo = "look at this machine's clock, or wait, or put another one in its place";
        needed(CHECK, failure::CONFIG, early, todo)
    } else if until.duration_since(now) < EXPIRES_SOON {
        advised(CHECK, format!("{shown} holds until {} only", day(until)), renew)
    } else {
        ok(CHECK, format!("{shown} holds until {}", day(until)))
    })
}
