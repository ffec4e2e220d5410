//! One person's record at the clinic, opened and closed for whoever sits before the page: the page cannot reach the clinic,
//! so delivery does it, asked at its own socket. The key never comes to the page.
//!
//! One at a time. What is secret of a launch is in memory only, for as long as a person may need, and is taken from the
//! browser alone that began it.

use super::StartError;
use crate::delivery::launch::{Begun, LaunchError};
use crate::delivery::opening::{Opener, OpeningError, WAIT, close};
use crate::delivery::{Clinic, DeliveryError};
use crate::journal::Journal;
use crate::socket;
use crate::socket::opening::{Opening, OpeningFault, Opens};
use crate::socket::speech::{Answer, Request};
use jiff::Timestamp;
use std::os::unix::net::UnixListener;
use std::path::PathBuf;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// How often it is looked whether what was begun has run out.
const LOOK: Duration = Duration::from_secs(30);

/// The opening that goes on, if one does.
#[derive(Clone)]
pub(super) struct Openings {
    /// The directory of the journal.
    state: PathBuf,
    /// As the configuration has it, with that directory.
    clinic: Arc<Clinic>,
    now: Arc<Mutex<Now>>,
}

#[derive(Default)]
struct Now {
    /// Who began.
    holder: String,
    step: Opening,
    begun: Option<Begun>,
    /// Since when; what is older than anybody waits is forgotten.
    since: Option<Instant>,
}

impl Now {
    /// Somebody at the clinic is being asked: nothing else is begun meanwhile.
    const fn is_busy(&self) -> bool {
        matches!(self.step, Opening::Asking | Opening::Taking | Opening::Closing)
    }

    fn expire(&mut self) {
        if self.since.is_some_and(|since| since.elapsed() > WAIT) {
            *self = Self::default();
        }
    }

    /// What whoever asks may know.
    fn shown_to(&self, holder: &str) -> Opening {
        if self.holder == holder {
            self.step.clone()
        } else if self.is_busy() || self.begun.is_some() {
            Opening::Elsewhere
        } else {
            Opening::None
        }
    }
}

impl Openings {
    pub(super) fn new(state: PathBuf, clinic: Clinic) -> Self {
        Self {
            state,
            clinic: Arc::new(clinic),
            now: Arc::default(),
        }
    }

    fn lock(&self) -> MutexGuard<'_, Now> {
        let mut now = self.now.lock().unwrap_or_else(PoisonError::into_inner);
        now.expire();
        now
    }

    fn answer(&self, request: Request) -> Answer {
        let Request::Opening { holder, does } = request else {
            return Answer::Refused {
                error: "delivery opens and closes a record for the page, and answers nothing else".to_owned(),
            };
        };
        let step = match does {
            Opens::Look => self.lock().shown_to(&holder),
            Opens::Begin => self.start(holder, Opening::Asking, |this| {
                let begun = this
                    .opener()
                    .and_then(|opener| Ok(opener.begin(&this.clinic.redirect_url, Timestamp::now())?))?;
                let url = begun.url.clone();
                this.lock().begun = Some(begun);
                Ok(Opening::Waits { url, missed: false })
            }),
            Opens::Take { answer } => self.take(holder, &answer),
            Opens::Close => self.start(holder, Opening::Closing, |this| {
                let closed = close(&this.clinic, Timestamp::now())?;
                Ok(Opening::Closed {
                    why: closed.and_then(|closed| closed.open_there),
                })
            }),
        };
        Answer::Opening { step }
    }

    fn opener(&self) -> Result<Opener, OpeningError> {
        let household = Journal::read(&self.state).and_then(|journal| journal.household());
        Ok(Opener::of(
            &self.clinic,
            &household.map_err(DeliveryError::from)?,
        )?)
    }

    /// The answer with which a browser came back. One that is none to this launch does not end the waiting.
    fn take(&self, holder: String, answer: &str) -> Opening {
        let mut now = self.lock();
        let Some(begun) = now.begun.as_ref().filter(|_| now.holder == holder) else {
            return now.shown_to(&holder);
        };
        let code = match begun.code(answer) {
            Ok(code) => code,
            Err(LaunchError::NotOurs(_)) => {
                let url = begun.url.clone();
                now.step = Opening::Waits { url, missed: true };
                return now.step.clone();
            }
            Err(error) => {
                now.begun = None;
                now.step = failed(&error.into());
                return now.step.clone();
            }
        };
        let Some(begun) = now.begun.take() else {
            return now.step.clone();
        };
        drop(now);
        self.start(holder, Opening::Taking, move |this| {
            this.opener()?.finish(begun, &code, Timestamp::now())?;
            Ok(Opening::Open)
        })
    }

    /// Does something that asks the clinic, on a thread of its own: the page shows how far it is meanwhile.
    fn start(
        &self,
        holder: String,
        step: Opening,
        work: impl FnOnce(&Self) -> Result<Opening, OpeningError> + Send + 'static,
    ) -> Opening {
        let mut now = self.lock();
        if now.is_busy() {
            return now.shown_to(&holder);
        }
        *now = Now {
            holder,
            step,
            begun: None,
            since: Some(Instant::now()),
        };
        let this = self.clone();
        let thread = std::thread::Builder::new()
            .name("opening".to_owned())
            .spawn(move || {
                let step = work(&this).unwrap_or_else(|error| failed(&error));
                this.lock().step = step;
            });
        if let Err(error) = thread {
            let (fault, why) = (OpeningFault::Here, StartError(error).to_string());
            now.step = Opening::Failed { fault, why };
        }
        now.step.clone()
    }
}

/// Nothing of the person, and no key, is in these words.
fn failed(error: &OpeningError) -> Opening {
    tracing::warn!("a record was not opened: {error}");
    let fault = match error {
        OpeningError::Launch(LaunchError::Declined) => OpeningFault::Declined,
        OpeningError::Launch(LaunchError::Refused(_)) => OpeningFault::Refused,
        OpeningError::Launch(LaunchError::Server(_)) => OpeningFault::Server,
        OpeningError::Launch(LaunchError::Lacking(_)) => OpeningFault::Lacking,
        OpeningError::Launch(LaunchError::NotOurs(_)) | OpeningError::Delivery(_) => OpeningFault::Here,
    };
    Opening::Failed {
        fault,
        why: error.to_string(),
    }
}

/// Answers at the socket for as long as it is polled.
pub(super) async fn serve(listener: UnixListener, openings: Openings) {
    let asked = openings.clone();
    let answered = async move {
        match tokio::net::UnixListener::from_std(listener) {
            Ok(listener) => {
                socket::serve(listener, move |request| {
                    let openings = asked.clone();
                    async move { openings.answer(request) }
                })
                .await;
            }
            Err(error) => {
                tracing::warn!("the local socket: {error}");
                std::future::pending::<()>().await;
            }
        }
    };
    let forgets = async {
        loop {
            tokio::time::sleep(LOOK).await;
            drop(openings.lock());
        }
    };
    tokio::select! { () = answered => {}, () = forgets => {} }
}
