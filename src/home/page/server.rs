//! The socket, TLS and HTTP: who may connect, how slowly, and how much they may say.

use super::answer::{Answer, Body, guard};
use super::settings::Settings;
use super::shared::Shared;
use super::{door, routes};
use crate::home::live::Desk;
use http_body_util::{BodyExt, Limited};
use hyper::body::Incoming;
use hyper::service::service_fn;
use hyper::{Method, Request, Response, StatusCode};
use hyper_util::rt::{TokioIo, TokioTimer};
use std::convert::Infallible;
use std::net::{IpAddr, SocketAddr};
use std::path::Path;
use std::sync::Arc;
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{OwnedSemaphorePermit, Semaphore};
use tokio::time::timeout;
use tokio_rustls::TlsAcceptor;
use tokio_rustls::rustls::ServerConfig;
use tokio_rustls::rustls::pki_types::pem::PemObject;
use tokio_rustls::rustls::pki_types::{CertificateDer, PrivateKeyDer};

/// Connections at once: a household's screens, each with a stream and two more, and room for a hundred open
/// pages.
const CONNECTIONS_MAX: usize = 256;
/// A request's head has to come in this time, and the next one on a connection that is kept.
const HEAD_LIMIT: Duration = Duration::from_secs(5);
/// A form has to come in this time.
const FORM_LIMIT: Duration = Duration::from_secs(3);
/// A form has a few short fields.
const FORM_OCTETS_MAX: usize = 16 * 1024;
/// An answer of which nothing was taken for so long, in milliseconds, ends the connection.
const ANSWER_LIMIT_MS: u32 = 30_000;
/// A handshake has to end in this time.
const TLS_LIMIT: Duration = Duration::from_secs(10);
/// Sheets made at once: each reads a whole history.
const SHEETS_MAX: usize = 2;
/// A request's head, and how much of an answer waits for a slow reader. The smallest that hyper takes.
const BUFFER_OCTETS: usize = 8 * 1024;

/// Why the page cannot be served.
#[derive(Debug, thiserror::Error)]
pub enum ServeError {
    /// It would show everything to the network in the clear.
    #[error(
        "the page would be sent unencrypted to other machines: give `tls-certificate` and `tls-key` under [page], or say \
         `plain-http-to-others = true` there if that is what you want"
    )]
    Plain,
    /// The address is taken, or not ours.
    #[error("cannot listen on {0}: {1}; choose another address with `listen` under [page]")]
    Listen(SocketAddr, std::io::Error),
    /// The certificate cannot be used.
    #[error("the certificate {0}: {1}")]
    Certificate(String, String),
}

/// Serves until `stop` ends. `ready` is told the address once it listens.
pub async fn serve(
    settings: Settings,
    desk: Desk,
    ready: impl FnOnce(SocketAddr),
    alive: impl Fn(),
    stop: impl Future<Output = ()>,
) -> Result<(), ServeError> {
    if !settings.listen.ip().is_loopback() && settings.tls.is_none() && !settings.plain_http_to_others {
        return Err(ServeError::Plain);
    }
    let tls = match &settings.tls {
        Some((certificate, key)) => Some(acceptor(certificate, key)?),
        None => None,
    };
    let listener = TcpListener::bind(settings.listen)
        .await
        .map_err(|e| ServeError::Listen(settings.listen, e))?;
    if let Ok(address) = listener.local_addr() {
        ready(address);
    }
    let shared = Arc::new(Shared {
        settings,
        desk,
        tries: door::Tries::default(),
        sheets: Semaphore::new(SHEETS_MAX),
    });
    let places = Arc::new(Semaphore::new(CONNECTIONS_MAX));
    tokio::pin!(stop);
    let mut beats = shared.desk.turns().beats;
    loop {
        let (place, stream, peer) = tokio::select! {
            () = &mut stop => return Ok(()),
            // Whoever watches the page is told that it lives when its one thread on the journal does.
            Ok(()) = beats.changed() => {
                alive();
                continue;
            }
            accepted = next(&listener, &places) => match accepted {
                Ok(accepted) => accepted,
                Err(error) => {
                    // Out of file descriptors, most likely: it passes.
                    tracing::warn!("the page's socket: {error}");
                    tokio::time::sleep(Duration::from_millis(200)).await;
                    continue;
                }
            },
        };
        // What is sent is small and wanted at once, and who takes nothing of it for so long gives the place
        // back.
        let _ = stream.set_nodelay(true);
        let _ = rustix::net::sockopt::set_tcp_user_timeout(&stream, ANSWER_LIMIT_MS);
        let (shared, tls) = (shared.clone(), tls.clone());
        tokio::spawn(async move {
            let _place = place;
            match tls {
                None => talk(stream, peer.ip(), shared).await,
                Some(tls) => match timeout(TLS_LIMIT, tls.accept(stream)).await {
                    Ok(Ok(stream)) => talk(stream, peer.ip(), shared).await,
                    Ok(Err(error)) => tracing::debug!("TLS with {}: {error}", peer.ip()),
                    Err(_) => tracing::debug!("TLS with {}: too slow", peer.ip()),
                },
            }
        });
    }
}

/// The place first: behind the last one a visitor waits in the kernel's queue, not in our memory.
async fn next(
    listener: &TcpListener,
    places: &Arc<Semaphore>,
) -> std::io::Result<(OwnedSemaphorePermit, TcpStream, SocketAddr)> {
    let place = places
        .clone()
        .acquire_owned()
        .await
        .map_err(std::io::Error::other)?;
    let (stream, peer) = listener.accept().await?;
    Ok((place, stream, peer))
}

fn acceptor(certificate: &Path, key: &Path) -> Result<TlsAcceptor, ServeError> {
    let wrong = |path: &Path, why: &dyn std::fmt::Display| {
        ServeError::Certificate(path.display().to_string(), why.to_string())
    };
    let chain = CertificateDer::pem_file_iter(certificate)
        .and_then(Iterator::collect::<Result<Vec<_>, _>>)
        .map_err(|e| wrong(certificate, &e))?;
    let private = PrivateKeyDer::from_pem_file(key).map_err(|e| wrong(key, &e))?;
    let mut config = ServerConfig::builder()
        .with_no_client_auth()
        .with_single_cert(chain, private)
        .map_err(|e| wrong(certificate, &e))?;
    config.alpn_protocols = vec![b"http/1.1".to_vec()];
    Ok(TlsAcceptor::from(Arc::new(config)))
}

async fn talk<S>(stream: S, peer: IpAddr, shared: Arc<Shared>)
where
    S: AsyncRead + AsyncWrite + Unpin + Send + 'static,
{
    let service = service_fn(move |request| {
        let shared = shared.clone();
        async move { Ok::<_, Infallible>(answer(request, peer, &shared).await) }
    });
    let served = hyper::server::conn::http1::Builder::new()
        .timer(TokioTimer::new())
        .header_read_timeout(HEAD_LIMIT)
        .max_buf_size(BUFFER_OCTETS)
        .serve_connection(TokioIo::new(stream), service)
        .await;
    if let Err(error) = served {
        tracing::debug!("{peer}: {error}");
    }
}

async fn answer(request: Request<Incoming>, peer: IpAddr, shared: &Arc<Shared>) -> Response<Body> {
    let writes = match *request.method() {
        Method::GET | Method::HEAD => false,
        Method::POST => true,
        _ => return Answer::text(StatusCode::METHOD_NOT_ALLOWED, "GET, HEAD or POST").into_response(),
    };
    if let Err(refused) = door::look(&shared.settings, request.headers(), writes) {
        let status = match refused {
            door::Refused::Name => StatusCode::MISDIRECTED_REQUEST,
            door::Refused::Proxy | door::Refused::Elsewhere => StatusCode::FORBIDDEN,
        };
        return Answer::text(status, refused.words()).into_response();
    }
    let (head, body) = request.into_parts();
    let form = if writes {
        match timeout(FORM_LIMIT, Limited::new(body, FORM_OCTETS_MAX).collect()).await {
            Ok(Ok(form)) => form.to_bytes().to_vec(),
            Ok(Err(_)) => {
                return Answer::text(StatusCode::PAYLOAD_TOO_LARGE, "That is too long.").into_response();
            }
            Err(_) => {
                return Answer::text(StatusCode::REQUEST_TIMEOUT, "That took too long.").into_response();
            }
        }
    } else {
        Vec::new()
    };
    guard(routes::answer(head, form, peer, shared).await)
}
