//! Tokens, passwords and private keys: text that must not be seen.
//!
//! - A secret comes from a file that others cannot read, or from a credential that systemd hands over
//!   (`LoadCredential=`); never from the configuration's text, the command line or the environment.
//! - Nothing prints a secret: `Debug` and `Display` write only that there is one. [`Secret::expose`] is the
//!   one way to its text.

use crate::whole::reason;
use std::fmt;
use std::io::Read;
use std::os::unix::fs::PermissionsExt;
use std::path::{Path, PathBuf};

/// The longest secret, in octets. A private key of 4096 bits as PEM has 3 KiB; what is longer is something
/// else.
const SECRET_OCTETS_MAX: u64 = 64 * 1024;

/// The permission bits that a secret's file must not have: others may do nothing with the file, and its group
/// may at most read it, as a service's group may.
const MODE_FORBIDDEN: u32 = 0o027;

/// The text that stands where a secret would.
const REDACTED: &str = "[secret]";

/// A text that is never printed.
#[derive(Clone, PartialEq, Eq)]
pub struct Secret(String);

/// The reason why a secret cannot be had.
#[derive(Debug, thiserror::Error)]
pub enum SecretError {
    /// The file cannot be read.
    #[error("cannot read {what} from {}: {why}; check its name and who may read it", path.display())]
    Unreadable {
        /// The purpose of the secret, in words.
        what: &'static str,
        /// The path of the file that cannot be read.
        path: PathBuf,
        /// The reason that the system gave, in its own words.
        why: String,
        /// Whether the file is there and this program may not read it.
        denied: bool,
    },
    /// More people than its owner can get at the file.
    #[error("{what} in {} can be read or changed by others (mode {mode:03o}); `chmod 600 {}` mends that", path.display(), path.display())]
    Exposed {
        /// The purpose of the secret, in words.
        what: &'static str,
        /// The path of the file that others can get at.
        path: PathBuf,
        /// The permission bits of the file.
        mode: u32,
    },
    /// The content cannot be a secret.
    #[error("{what} in {} is {why}", path.display())]
    Unusable {
        /// The purpose of the secret, in words.
        what: &'static str,
        /// The path of the file whose content is no secret.
        path: PathBuf,
        /// The fault of the content, without the content itself.
        why: &'static str,
    },
}

impl SecretError {
    /// The exit code of sysexits: 77 where a permission is wrong, 78 where the file or its content is.
    pub fn exit_code(&self) -> u8 {
        match self {
            Self::Exposed { .. } | Self::Unreadable { denied: true, .. } => 77,
            Self::Unreadable { .. } | Self::Unusable { .. } => 78,
        }
    }
}

impl Secret {
    /// A secret that is known already, such as a token that a server gave.
    pub fn new(text: impl Into<String>) -> Self {
        Self(text.into())
    }

    /// Reads the secret `what` from a file, without the line break at its end. Where systemd handed over a
    /// credential with the file's name, the credential is read instead.
    pub fn read(what: &'static str, path: &Path) -> Result<Self, SecretError> {
        let credentials = std::env::var_os("CREDENTIALS_DIRECTORY").map(PathBuf::from);
        Self::read_from(what, path, credentials.as_deref())
    }

    fn read_from(what: &'static str, path: &Path, credentials: Option<&Path>) -> Result<Self, SecretError> {
        let credential = credentials
            .zip(path.file_name())
            .map(|(directory, name)| directory.join(name))
            .filter(|credential| credential.exists());
        let path = credential.unwrap_or_else(|| path.to_owned());
        let unreadable = |error: std::io::Error| SecretError::Unreadable {
            what,
            path: path.clone(),
            why: reason(&error),
            denied: error.kind() == std::io::ErrorKind::PermissionDenied,
        };
        let unusable = |why| SecretError::Unusable {
            what,
            path: path.clone(),
            why,
        };
        let file = std::fs::File::open(&path).map_err(unreadable)?;
        // The open file is asked, not its name: the name may be another file's by the time it is read.
        let metadata = file.metadata().map_err(unreadable)?;
        if !metadata.is_file() {
            return Err(unusable("no file"));
        }
        let mode = metadata.permissions().mode() & 0o777;
        if mode & MODE_FORBIDDEN != 0 {
            return Err(SecretError::Exposed { what, path, mode });
        }
        let mut text = String::new();
        let read = file.take(SECRET_OCTETS_MAX + 1).read_to_string(&mut text);
        read.map_err(|error| match error.kind() {
            std::io::ErrorKind::InvalidData => unusable("no text"),
            _ => unreadable(error),
        })?;
        if u64::try_from(text.len()).unwrap_or(u64::MAX) > SECRET_OCTETS_MAX {
            return Err(unusable("longer than any secret"));
        }
        let end = text.trim_end_matches(['\r', '\n']).len();
        text.truncate(end);
        if text.trim().is_empty() {
            return Err(unusable("empty"));
        }
        Ok(Self(text))
    }

    /// The text of the secret, for the place where it is needed.
    pub fn expose(&self) -> &str {
        &self.0
    }

    /// The text of somebody else, such as a server's answer, without this secret in it.
    pub fn scrub(&self, text: &str) -> String {
        text.replace(&self.0, REDACTED)
    }
}

impl fmt::Debug for Secret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(REDACTED)
    }
}

impl fmt::Display for Secret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(REDACTED)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn file(name: &str, content: &[u8], mode: u32) -> (tempfile::TempDir, PathBuf) {
        let dir = tempfile::tempdir().unwrap();
        let path = dir.path().join(name);
        std::fs::write(&path, content).unwrap();
        std::fs::set_permissions(&path, std::fs::Permissions::from_mode(mode)).unwrap();
        (dir, path)
    }

    #[test]
    fn it_is_read_without_its_line_break_and_never_printed() {
        let (_dir, path) = file("token", b"tell nobody\r\n", 0o600);
        let secret = Secret::read_from("the token", &path, None).unwrap();
        assert_eq!(secret.expose(), "tell nobody");
        assert_eq!(format!("{secret} {secret:?}"), "[secret] [secret]");
        assert_eq!(secret.scrub("you sent `tell nobody`"), "you sent `[secret]`");
    }

    #[test]
    fn a_credential_of_the_same_name_comes_first() {
        let (_dir, path) = file("token", b"from the file", 0o600);
        let (credentials, _) = file("token", b"from systemd", 0o440);
        let read = |credentials: &Path| {
            Secret::read_from("the token", &path, Some(credentials))
                .unwrap()
                .expose()
                .to_owned()
        };
        assert_eq!(read(credentials.path()), "from systemd");
        assert_eq!(read(tempfile::tempdir().unwrap().path()), "from the file");
    }

    #[test]
    fn what_others_can_read_is_refused_and_not_quoted() {
        for mode in [0o604, 0o666, 0o620, 0o601] {
            let (_dir, path) = file("token", b"hunter2", mode);
            let error = Secret::read_from("the token", &path, None).unwrap_err();
            assert_eq!(error.exit_code(), 77);
            let said = format!("{error} {error:?}");
            assert!(said.contains("chmod 600") && !said.contains("hunter2"), "{said}");
        }
        let (_dir, path) = file("token", b"hunter2", 0o640);
        assert!(Secret::read_from("the token", &path, None).is_ok());
    }

    #[test]
    fn what_is_no_secret_is_refused() {
        let long = vec![b'x'; usize::try_from(SECRET_OCTETS_MAX).unwrap() + 1];
        for (content, why) in [
            (&b""[..], "empty"),
            (b" \n", "empty"),
            (b"\xff", "no text"),
            (&long, "longer"),
        ] {
            let (_dir, path) = file("token", content, 0o600);
            let error = Secret::read_from("the token", &path, None).unwrap_err();
            assert_eq!(error.exit_code(), 78);
            assert!(error.to_string().contains(why), "{error}");
        }
        let missing = Secret::read_from("the token", Path::new("/nowhere/token"), None).unwrap_err();
        assert_eq!(missing.exit_code(), 78);
        assert!(missing.to_string().contains("/nowhere/token"), "{missing}");
    }
}
