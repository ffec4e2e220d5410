//! A pairing that is asked for through the socket, such as from the page, which has no Bluetooth: the same commands that
//! a person runs on a terminal, `monitors find` and `monitors add`, with their questions handed on. One at a time.

use crate::socket::{HeardMonitor, Pairing, Question};
use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::Stdio;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use tokio::io::{AsyncBufReadExt, AsyncReadExt, AsyncWriteExt, BufReader};
use tokio::process::Command;
use tokio::sync::mpsc;
use tokio::task::AbortHandle;

/// A whole pairing, with a person who reads six digits and walks to a screen.
const LIMIT: Duration = Duration::from_mins(4);
/// Monitors that a house can hear; more are a neighbour's joke.
const HEARD_MAX: usize = 20;
/// What a command says on one line, and of its error.
const SAID_OCTETS_MAX: u64 = 64 * 1024;

/// The pairing that goes on, if one does.
#[derive(Clone)]
pub(super) struct Pairings {
    program: PathBuf,
    everywhere: Vec<String>,
    now: Arc<Mutex<Now>>,
}

#[derive(Default)]
struct Now {
    state: Pairing,
    digits: Option<mpsc::Sender<String>>,
    running: Option<AbortHandle>,
}

impl Pairings {
    pub(super) fn new(program: &Path, state: &Path, config: Option<&Path>) -> Self {
        let mut everywhere = vec!["--state".to_owned(), state.to_string_lossy().into_owned()];
        if let Some(config) = config {
            everywhere.extend(["--config".to_owned(), config.to_string_lossy().into_owned()]);
        }
        Self {
            program: program.to_owned(),
            everywhere,
            now: Arc::default(),
        }
    }

    /// Answers what is asked of pairings; each answer says how far it is.
    pub(super) fn answer(&self, question: Question) -> Value {
        match question {
            Question::Find => {
                self.start(
                    Pairing::Looking,
                    ["monitors", "find", "--json"].map(str::to_owned).into(),
                );
            }
            Question::Pair { address, person } => {
                let mut words = vec!["monitors".to_owned(), "add".to_owned(), "--relay".to_owned()];
                words.extend(
                    person
                        .iter()
                        .flat_map(|person| ["--person".to_owned(), person.to_string()]),
                );
                // Neither can be taken for an option: an address is six pairs of digits, a person begins with a letter.
                words.push(address.to_string());
                self.start(Pairing::Working, words);
            }
            Question::Passkey { digits } => self.passkey(digits),
            Question::StopPairing => self.stop(),
            _ => {}
        }
        let state = self.lock().state.clone();
        serde_json::to_value(state).unwrap_or_default()
    }

    fn lock(&self) -> std::sync::MutexGuard<'_, Now> {
        self.now.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn stop(&self) {
        let mut now = self.lock();
        if let Some(running) = now.running.take() {
            // The command is killed with it; BlueZ cancels a pairing whose agent has gone.
            running.abort();
        }
        *now = Now::default();
    }

    fn start(&self, state: Pairing, words: Vec<String>) {
        self.stop();
        let (digits, typed) = mpsc::channel(1);
        let this = self.clone();
        let mut now = self.lock();
        now.state = state;
        now.digits = Some(digits);
        let running = tokio::spawn(async move {
            let ended = tokio::time::timeout(LIMIT, this.run(&words, typed)).await;
            this.lock().state = match ended {
                Ok(Ok(state)) => state,
                Ok(Err(error)) => Pairing::Failed {
                    why: error.to_string(),
                },
                Err(_) => Pairing::Failed {
                    why: "it took too long".to_owned(),
                },
            };
        });
        now.running = Some(running.abort_handle());
    }

    fn passkey(&self, digits: String) {
        let mut now = self.lock();
        if now.state == Pairing::Asks {
            let sent = now.digits.as_ref().is_some_and(|to| to.try_send(digits).is_ok());
            if sent {
                now.state = Pairing::Working;
            }
        }
    }

    /// Runs a command and hands its questions on, until it ends.
    async fn run(&self, words: &[String], mut typed: mpsc::Receiver<String>) -> std::io::Result<Pairing> {
        let mut child = Command::new(&self.program)
            .args(&self.everywhere)
            .args(words)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .kill_on_drop(true)
            .spawn()?;
        let (Some(mut to), Some(from), Some(errors)) =
            (child.stdin.take(), child.stdout.take(), child.stderr.take())
        else {
            return Err(std::io::Error::other("the command has no pipes"));
        };
        let errors = tokio::spawn(async move {
            let mut said = String::new();
            let _ = errors.take(SAID_OCTETS_MAX).read_to_string(&mut said).await;
            said
        });
        let mut lines = BufReader::new(from.take(SAID_OCTETS_MAX)).lines();
        let mut heard = Vec::new();
        let mut enrolled = None;
        loop {
            tokio::select! {
                line = lines.next_line() => {
                    let Some(line) = line? else { break };
                    let Ok(said) = serde_json::from_str::<Value>(&line) else { continue };
                    match (said.get("ask"), said.get("show").and_then(Value::as_str), said.get("id")) {
                        (Some(_), ..) => self.lock().state = Pairing::Asks,
                        (_, Some(passkey), _) => {
                            self.lock().state = Pairing::Shows { passkey: passkey.to_owned() };
                        }
                        (.., Some(id)) => enrolled = id.as_str().map(str::to_owned),
                        _ => heard.extend(serde_json::from_value::<HeardMonitor>(said).ok()),
                    }
                }
                Some(digits) = typed.recv() => to.write_all(format!("{digits}\n").as_bytes()).await?,
            }
        }
        let status = child.wait().await?;
        if !status.success() {
            let said = errors.await.unwrap_or_default();
            let last = said
                .lines()
                .rfind(|line| !line.trim().is_empty())
                .unwrap_or_default();
            let why = last.trim_start_matches("quietcuff: ").to_owned();
            return Ok(Pairing::Failed { why });
        }
        heard.truncate(HEARD_MAX);
        Ok(match enrolled {
            Some(monitor) => Pairing::Done { monitor },
            None => Pairing::Heard { monitors: heard },
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pairings(script: &str) -> (tempfile::TempDir, Pairings) {
        use std::os::unix::fs::PermissionsExt;
        let dir = tempfile::tempdir().unwrap();
        let program = dir.path().join("stand-in");
        std::fs::write(&program, format!("#!/bin/sh\n{script}\n")).unwrap();
        std::fs::set_permissions(&program, std::fs::Permissions::from_mode(0o700)).unwrap();
        let pairings = Pairings::new(&program, dir.path(), None);
        (dir, pairings)
    }

    async fn until(pairings: &Pairings, wanted: fn(&Pairing) -> bool) -> Pairing {
        for _ in 0..400 {
            let state = pairings.lock().state.clone();
            if wanted(&state) {
                return state;
            }
            tokio::time::sleep(Duration::from_millis(10)).await;
        }
        panic!("it stays at {:?}", pairings.lock().state);
    }

    fn pair() -> Question {
        Question::Pair {
            address: "C0:FF:EE:00:00:01".parse().unwrap(),
            person: Some("asha".parse().unwrap()),
        }
    }

    #[tokio::test]
    async fn a_passkey_is_asked_for_and_handed_on() {
        let (_dir, pairings) = pairings(
            "echo '{\"ask\":\"passkey\"}'; read digits\n\
             echo \"{\\\"id\\\":\\\"m1-$digits-$#\\\"}\"",
        );
        assert_eq!(pairings.answer(pair())["pairing"], "working");
        until(&pairings, |state| *state == Pairing::Asks).await;
        let digits = "123456".to_owned();
        assert_eq!(
            pairings.answer(Question::Passkey { digits })["pairing"],
            "working"
        );
        let done = until(&pairings, |state| matches!(state, Pairing::Done { .. })).await;
        // The state directory and its option, then: monitors add --relay --person asha ADDRESS.
        assert_eq!(
            done,
            Pairing::Done {
                monitor: "m1-123456-8".to_owned()
            }
        );
    }

    #[tokio::test]
    async fn what_goes_wrong_is_told_and_a_pairing_can_be_given_up() {
        let (_dir, pairings) = pairings("echo 'quietcuff: not paired: the passkey was wrong' >&2; exit 77");
        pairings.answer(pair());
        let failed = until(&pairings, |state| matches!(state, Pairing::Failed { .. })).await;
        assert_eq!(
            failed,
            Pairing::Failed {
                why: "not paired: the passkey was wrong".to_owned()
            }
        );

        let (_dir, slow) = self::pairings("echo '{\"show\":\"012345\"}'; exec sleep 60");
        slow.answer(pair());
        let shows = until(&slow, |state| matches!(state, Pairing::Shows { .. })).await;
        assert_eq!(
            shows,
            Pairing::Shows {
                passkey: "012345".to_owned()
            }
        );
        assert_eq!(slow.answer(Question::StopPairing)["pairing"], "none");
    }

    #[tokio::test]
    async fn monitors_that_are_heard_are_listed() {
        let (_dir, pairings) =
            pairings("echo '{\"address\":\"C0:FF:EE:00:00:01\",\"name\":\"Invented\",\"monitor\":null}'");
        assert_eq!(pairings.answer(Question::Find)["pairing"], "looking");
        let heard = until(&pairings, |state| matches!(state, Pairing::Heard { .. })).await;
        let Pairing::Heard { monitors } = heard else {
            unreachable!()
        };
        assert_eq!(monitors.len(), 1);
        assert_eq!(monitors[0].name.as_deref(), Some("Invented"));
    }
}
