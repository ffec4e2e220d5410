//! What the machine's owner decides about the page.

use crate::keys::KeySecret;
use serde::{Deserialize, Serialize};
use std::net::{IpAddr, Ipv4Addr, Ipv6Addr, SocketAddr};
use std::path::PathBuf;

/// Where the household's page is served, and how it is protected there.
#[derive(Clone, PartialEq, Eq, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields, default)]
pub struct PageSettings {
    /// Address and port. A key is asked for, or a link that `quietcuff keys link` prints.
    pub listen: SocketAddr,
    /// The certificate, with its chain, as PEM. A relative path is meant from beside this file.
    pub tls_certificate: Option<PathBuf>,
    /// Its private key, as PEM.
    pub tls_key: Option<PathBuf>,
    /// Serve other machines without TLS all the same.
    pub plain_http_to_others: bool,
    /// It is reached through a proxy, which does TLS.
    pub behind_proxy: bool,
    /// Whoever reaches it on the machine itself is let in: everybody who has an account there, and whoever comes
    /// through a proxy that does not say so.
    pub open_on_this_machine: bool,
    /// Names under which it is reached. An address needs none.
    pub names: Vec<String>,
}

impl PageSettings {
    /// Where somebody on the machine itself opens it.
    pub fn address(&self) -> String {
        if let (true, Some(name)) = (self.behind_proxy, self.names.first()) {
            return format!("https://{name}");
        }
        let scheme = if self.tls_certificate.is_some() {
            "https"
        } else {
            "http"
        };
        let mut at = self.listen;
        match at.ip() {
            IpAddr::V4(any) if any.is_unspecified() => at.set_ip(Ipv4Addr::LOCALHOST.into()),
            IpAddr::V6(any) if any.is_unspecified() => at.set_ip(Ipv6Addr::LOCALHOST.into()),
            _ => {}
        }
        format!("{scheme}://{at}")
    }
}

impl PageSettings {
    /// Where another machine opens it; `None` where it does not, or the configuration does not say under which name.
    pub fn elsewhere(&self) -> Option<String> {
        if let Some(name) = self.names.first() {
            let scheme = if self.behind_proxy || self.tls_certificate.is_some() {
                "https"
            } else {
                "http"
            };
            let port = if self.behind_proxy {
                String::new()
            } else {
                format!(":{}", self.listen.port())
            };
            return Some(format!("{scheme}://{name}{port}/"));
        }
        let here = self.listen.ip().is_loopback() || self.listen.ip().is_unspecified();
        (!here).then(|| format!("{}/", self.address()))
    }
}

impl Default for PageSettings {
    fn default() -> Self {
        Self {
            listen: SocketAddr::from(([127, 0, 0, 1], 8417)),
            tls_certificate: None,
            tls_key: None,
            plain_http_to_others: false,
            behind_proxy: false,
            open_on_this_machine: false,
            names: Vec::new(),
        }
    }
}

/// How the page is served.
#[derive(Clone, Debug)]
pub struct Settings {
    /// Where it listens.
    pub listen: SocketAddr,
    /// The user's own certificate and its key.
    pub tls: Option<(PathBuf, PathBuf)>,
    /// It may be served without TLS to other machines.
    pub plain_http_to_others: bool,
    /// It stands behind a proxy, which may let anybody in.
    pub behind_proxy: bool,
    /// Whoever reaches it on the machine itself is let in.
    pub open_on_this_machine: bool,
    /// Names under which it is reached, beside addresses.
    pub names: Vec<String>,
    /// Of this run alone: what forms are bound to where there are no sessions.
    pub own: KeySecret,
}

impl Settings {
    /// Whether anybody who reaches it may look: only on the machine itself, and only where its owner said so. A proxy
    /// that says nothing of itself looks like the machine.
    pub(crate) fn is_open(&self) -> bool {
        self.open_on_this_machine && self.listen.ip().is_loopback() && !self.behind_proxy
    }

    /// Whether browsers reach it encrypted.
    pub(crate) fn secure(&self) -> bool {
        self.tls.is_some() || (self.behind_proxy && !self.plain_http_to_others)
    }
}
