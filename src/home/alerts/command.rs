//! A program of the household's own: a light, a loudspeaker, a gateway that we do not know.
//!
//! It is run without a shell. It finds the message as one JSON object on its standard input, and the most
//! needed of it in its environment, which holds nothing else but what a program needs to start. After
//! [`LIMIT`] it is killed, and everything that it started with it.

use super::error::ChannelError;
use super::message::Message;
use rustix::process::{Pid, Signal, kill_process_group};
use std::process::Stdio;
use std::time::Duration;
use tokio::io::AsyncWriteExt;
use tokio::process::{Child, Command};

/// A program that has not handed over a line in a minute hangs.
pub const LIMIT: Duration = Duration::from_secs(60);
/// What of our own environment a program may need to start.
const INHERITED: [&str; 5] = ["PATH", "HOME", "LANG", "TZ", "XDG_RUNTIME_DIR"];

/// A program with its arguments.
#[derive(Debug)]
pub struct Program {
    words: Vec<String>,
    limit: Duration,
}

impl Program {
    /// The first word is the program.
    pub fn new(words: Vec<String>) -> Self {
        Self { words, limit: LIMIT }
    }

    /// The same with another limit.
    pub fn within(self, limit: Duration) -> Self {
        Self { limit, ..self }
    }

    /// Runs it with a message.
    pub async fn run(&self, route: &str, message: &Message) -> Result<(), ChannelError> {
        let failed = |why: String| ChannelError::Command(why);
        let (program, arguments) = self
            .words
            .split_first()
            .ok_or_else(|| failed("is empty".to_owned()))?;
        let mut command = Command::new(program);
        command
            .args(arguments)
            .env_clear()
            .envs(
                INHERITED
                    .iter()
                    .filter_map(|name| Some((name, std::env::var_os(name)?))),
            )
            .envs(environment(route, message))
            .stdin(Stdio::piped())
            .stdout(Stdio::null())
            // A group of its own, so that all of it can be ended.
            .process_group(0)
            .kill_on_drop(true);
        let child = command
            .spawn()
            .map_err(|e| failed(format!("{program} cannot be started: {e}")))?;
        let mut group = Group::of(child);
        let said = serde_json::to_vec(message).map_err(|e| failed(e.to_string()))?;
        let ended = tokio::time::timeout(self.limit, async {
            if let Some(mut input) = group.child.stdin.take() {
                // A program that does not want it closes it; that is its business.
                let _ = input.write_all(&said).await;
            }
            group.child.wait().await
        })
        .await;
        match ended {
            Ok(Ok(status)) if status.success() => {
                group.id = None;
                Ok(())
            }
            Ok(Ok(status)) => Err(failed(format!("{program} ended with {status}"))),
            Ok(Err(error)) => Err(failed(format!("{program}: {error}"))),
            Err(_) => Err(failed(format!(
                "{program} did not end within {} s and was killed",
                self.limit.as_secs()
            ))),
        }
    }
}

/// A program with what it started, killed when this goes unless it ended well.
struct Group {
    child: Child,
    id: Option<Pid>,
}

impl Group {
    fn of(child: Child) -> Self {
        let id = child
            .id()
            .and_then(|id| i32::try_from(id).ok())
            .and_then(Pid::from_raw);
        Self { child, id }
    }
}

impl Drop for Group {
    fn drop(&mut self) {
        if let Some(id) = self.id {
            let _ = kill_process_group(id, Signal::KILL);
        }
    }
}

fn environment<'a>(route: &'a str, message: &'a Message) -> [(&'static str, String); 7] {
    let person = message
        .person
        .as_ref()
        .map(ToString::to_string)
        .unwrap_or_default();
    [
        ("QUIETCUFF_ROUTE", route.to_owned()),
        ("QUIETCUFF_KEY", message.key.clone()),
        ("QUIETCUFF_KIND", message.kind.to_owned()),
        ("QUIETCUFF_URGENT", u8::from(message.urgent).to_string()),
        ("QUIETCUFF_PERSON", person),
        ("QUIETCUFF_SUBJECT", message.subject.replace('\0', " ")),
        ("QUIETCUFF_TEXT", message.text.replace('\0', " ")),
    ]
}
