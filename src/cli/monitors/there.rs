//! `--at LISTENER`: what is asked of a listener, by the record's door.

use crate::cli::failure::{self, Failure, Outcome};
use crate::cli::output::json_line;
use crate::cli::place::Everywhere;
use crate::gatt::printable;
use crate::household::{MonitorAddress, Statement};
use crate::journal::Listener;
use crate::socket::speech::{Answer, Pairing, Request};
use crate::socket::{self, AskError};
use std::io::Write;
use std::path::PathBuf;
use std::process::ExitCode;
use std::time::Duration;

/// How often it is asked how far the search is.
const LOOK: Duration = Duration::from_millis(500);

/// A listener, and the socket of the record's door.
pub(super) struct There {
    door: PathBuf,
    /// The listener's id.
    pub(super) listener: String,
}

impl There {
    /// The listener that is called so, by its id or by where it stands.
    pub(super) fn of(here: &Everywhere, named: &str) -> Result<Self, Failure> {
        let listeners = here.read_journal()?.listeners()?;
        let mut open = listeners.into_iter().filter(Listener::is_open);
        let found = open.find(|listener| listener.id == named || listener.label == named);
        let listener = found.ok_or_else(|| {
            Failure::new(
                failure::USAGE,
                format!("there is no listener {named:?}; `quietcuff listeners list` shows them"),
            )
        })?;
        Ok(Self {
            door: socket::door_path(&here.state()?),
            listener: listener.id,
        })
    }

    pub(super) fn ask(&self, request: Request) -> Result<Answer, Failure> {
        let request = Request::At {
            listener: self.listener.clone(),
            request: Box::new(request.without_people()),
        };
        let unavailable = |why: String| Failure::new(failure::UNAVAILABLE, why);
        match socket::ask(&self.door, &request) {
            Ok(Some(answer)) => Ok(answer),
            Ok(None) => Err(unavailable(
                "the program that takes in what listeners hand on does not run, so none can be asked; `quietcuff listeners \
                 receive`, or `systemctl enable --now quietcuff-receive`"
                    .to_owned(),
            )),
            Err(AskError::Refused(why)) => Err(unavailable(why)),
            Err(error) => Err(unavailable(format!("the record's door: {error}"))),
        }
    }

    fn pairing(&self, request: Request) -> Result<Pairing, Failure> {
        match self.ask(request)? {
            Answer::Pairing { step, .. } => Ok(step),
            other => Err(Failure::new(
                failure::UNAVAILABLE,
                format!("the listener answers something else: {other:?}"),
            )),
        }
    }

    /// Has it look for monitors, and prints those that it heard.
    pub(super) async fn find(&self, json: bool) -> Outcome {
        let mut step = self.pairing(Request::Find)?;
        let monitors = loop {
            step = match step {
                Pairing::Heard { monitors } => break monitors,
                Pairing::Failed { why, code } => return Err(Failure::new(code, why)),
                Pairing::Looking => {
                    tokio::time::sleep(LOOK).await;
                    self.pairing(Request::Pairing)?
                }
                _ => {
                    return Err(Failure::new(
                        failure::UNAVAILABLE,
                        "somebody began something else at that listener; try again",
                    ));
                }
            };
        };
        let mut out = std::io::stdout().lock();
        if monitors.is_empty() && !json {
            writeln!(
                out,
                "No blood pressure monitor was heard there. Start its pairing mode and try again."
            )?;
        }
        for monitor in monitors {
            if json {
                json_line(
                    &mut out,
                    &serde_json::json!({
                        "address": monitor.address, "name": monitor.name, "listener": self.listener,
                    }),
                )?;
            } else {
                let name = printable(monitor.name.as_deref().unwrap_or("(no name)")).to_string();
                writeln!(out, "{}  {name}", monitor.address)?;
            }
        }
        Ok(ExitCode::SUCCESS)
    }

    /// Has it forget a monitor, which the household then knows.
    pub(super) fn forget(&self, here: &Everywhere, address: &MonitorAddress) -> Outcome {
        let listener = &self.listener;
        match self.ask(Request::ForgetAt {
            address: address.clone(),
        })? {
            Answer::Done => {}
            other => {
                return Err(Failure::new(
                    failure::UNAVAILABLE,
                    format!("the listener answers something else: {other:?}"),
                ));
            }
        }
        let mut journal = here.journal()?;
        let monitor = journal.household()?.monitor_at(address);
        let forgotten = Statement::MonitorForgottenAt {
            monitor,
            listener: listener.clone(),
        };
        journal.state(jiff::Timestamp::now(), &[forgotten])?;
        writeln!(
            std::io::stdout(),
            "Listener {listener} no longer listens to {address}; its readings stay."
        )?;
        Ok(ExitCode::SUCCESS)
    }
}
