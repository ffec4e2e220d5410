//! What wakes whoever follows the journal, such as the page's thread: a bell that others ring, and the kernel's word that
//! the journal was written.
//!
//! The word comes from inotify(7) on the journal's directory: any process that commits, whichever program it
//! is, writes to the file beside the journal whose name ends in `-wal` (<https://www.sqlite.org/wal.html>).
//! The kernel tells of the write, and what is written shows to others only when the commit is over, a few
//! milliseconds later on most disks. So a word is followed by looks that grow rarer ([`Wary`]).

use rustix::event::{EventfdFlags, PollFd, PollFlags, Timespec, eventfd, poll};
use rustix::fs::inotify::{self, CreateFlags, ReadFlags, Reader, WatchFlags};
use std::io;
use std::mem::MaybeUninit;
use std::os::fd::{BorrowedFd, OwnedFd};
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};

/// Between the first two looks behind a write.
const SOON: Duration = Duration::from_millis(1);
/// Looks behind a write in its first second are never further apart: what was committed is on the screen in a
/// tenth.
const NEVER_LATER: Duration = Duration::from_millis(40);
/// The disk has said by then whether it takes what is written.
const OVER: Duration = Duration::from_secs(10);

/// Rings the bell.
#[derive(Clone, Debug)]
pub(crate) struct Bell(Arc<OwnedFd>);

impl Bell {
    pub(crate) fn ring(&self) {
        // A counter that is full has been rung.
        let _ = rustix::io::write(&*self.0, &1_u64.to_ne_bytes());
    }
}

/// The bell and the kernel's word.
pub(crate) struct Wake {
    bell: Bell,
    writes: Option<OwnedFd>,
}

impl Wake {
    /// Listens for writes to the journal in this directory. Where the kernel has no more watches to give, it
    /// says so, and [`Wake::hears`] is false.
    pub(crate) fn of(directory: &Path) -> io::Result<Self> {
        let bell = eventfd(0, EventfdFlags::CLOEXEC | EventfdFlags::NONBLOCK)?;
        let writes = writes(directory)
            .inspect_err(|error| {
                tracing::warn!(
                    "the kernel does not tell of writes ({error}), so the journal is looked at all the time; raise \
                     fs.inotify.max_user_instances with sysctl"
                );
            })
            .ok();
        Ok(Self {
            bell: Bell(Arc::new(bell)),
            writes,
        })
    }

    pub(crate) fn bell(&self) -> Bell {
        self.bell.clone()
    }

    /// Whether the kernel tells of writes.
    pub(crate) fn hears(&self) -> bool {
        self.writes.is_some()
    }

    /// Waits until the bell rings, the journal is written, or `limit` is over. True where it was written.
    pub(crate) fn wait(&self, limit: Duration) -> bool {
        self.wait_beside(limit, None)
    }

    /// The same, or until something else can be read.
    pub(crate) fn wait_beside(&self, limit: Duration, other: Option<BorrowedFd<'_>>) -> bool {
        let mut on = vec![PollFd::new(&*self.bell.0, PollFlags::IN)];
        on.extend(other.map(|other| PollFd::from_borrowed_fd(other, PollFlags::IN)));
        on.extend(self.writes.iter().map(|fd| PollFd::new(fd, PollFlags::IN)));
        let limit = Timespec::try_from(limit).unwrap_or(Timespec {
            tv_sec: 60,
            tv_nsec: 0,
        });
        if let Err(error) = poll(&mut on, Some(&limit)) {
            tracing::debug!("poll: {error}");
        }
        let mut rung = [0; 8];
        let _ = rustix::io::read(&*self.bell.0, &mut rung);
        self.writes.as_ref().is_some_and(was_written)
    }
}

fn writes(directory: &Path) -> io::Result<OwnedFd> {
    let fd = inotify::init(CreateFlags::CLOEXEC | CreateFlags::NONBLOCK)?;
    inotify::add_watch(&fd, directory, WatchFlags::MODIFY | WatchFlags::CREATE)?;
    Ok(fd)
}

/// Takes every word that waits.
fn was_written(fd: &OwnedFd) -> bool {
    let mut buffer = [const { MaybeUninit::uninit() }; 4096];
    let mut reader = Reader::new(fd, &mut buffer);
    let mut written = false;
    loop {
        match reader.next() {
            Ok(event) => {
                let log = event
                    .file_name()
                    .is_some_and(|name| name.to_bytes().ends_with(b"-wal"));
                written |= log || event.events().contains(ReadFlags::QUEUE_OVERFLOW);
            }
            Err(rustix::io::Errno::INTR) => {}
            Err(_) => return written,
        }
    }
}

/// When to look again behind a write.
#[derive(Default, Debug)]
pub(crate) struct Wary(Option<(Instant, Instant)>);

impl Wary {
    /// The journal was written.
    pub(crate) fn written(&mut self, now: Instant) {
        self.0 = Some((now, now + SOON));
    }

    /// How long until the next look is due, if one is.
    pub(crate) fn wait(&self, now: Instant) -> Option<Duration> {
        self.0.map(|(_, next)| next.saturating_duration_since(now))
    }

    /// A look was taken.
    pub(crate) fn looked(&mut self, now: Instant) {
        self.0 = self.0.and_then(|(since, next)| {
            if now < next {
                return Some((since, next));
            }
            let past = now.duration_since(since);
            let apart = if past < Duration::from_secs(1) {
                (past / 2).min(NEVER_LATER)
            } else {
                past / 4
            };
            (past < OVER).then(|| (since, now + apart.max(SOON)))
        });
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::journal::Journal;

    /// A commit of another connection is heard of, whoever makes it, and nothing is while nothing is written.
    #[test]
    fn the_kernel_tells_of_a_commit() {
        let dir = tempfile::tempdir().unwrap();
        let mut writer = Journal::open(dir.path()).unwrap();
        let reader = Journal::open(dir.path()).unwrap();
        let wake = Wake::of(dir.path()).unwrap();
        assert!(wake.hears());
        // What opening wrote.
        while wake.wait(Duration::ZERO) {}
        assert!(!wake.wait(Duration::from_millis(50)));
        let before = reader.data_version().unwrap();
        let statement = crate::household::Statement::Zone {
            zone: "UTC".to_owned(),
            from: None,
        };
        writer.state(jiff::Timestamp::UNIX_EPOCH, &[statement]).unwrap();
        assert!(wake.wait(Duration::from_secs(5)));
        assert_ne!(reader.data_version().unwrap(), before);
        wake.bell().ring();
        assert!(!wake.wait(Duration::from_secs(5)), "a bell is no write");
    }

    /// Looks behind a write: soon, in the first second at most 40 ms apart, and none after ten seconds.
    #[test]
    fn looks_behind_a_write_grow_rarer_and_end() {
        let mut wary = Wary::default();
        let begun = Instant::now();
        wary.written(begun);
        let (mut now, mut looks) = (begun, 0);
        while let Some(wait) = wary.wait(now) {
            assert!(
                wait <= NEVER_LATER || now >= begun + Duration::from_secs(1),
                "{wait:?}"
            );
            now += wait;
            wary.looked(now);
            looks += 1;
        }
        assert!(now >= begun + OVER, "a slow disk is waited for");
        assert!(looks < 60, "{looks}");
    }
}
