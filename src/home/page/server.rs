//! The socket, TLS and HTTP: who may connect, how slowly, and how much they may say.

use super::answer::{Answer, Body, encrypted, guard};
use super::error::ServeError;
use super::places::{Places, Seat};
use super::settings::Settings;
use super::shared::{Begun, Shared};
use super::{door, routes, tls};
use crate::home::live::Desk;
use http_body_util::{BodyExt, Limited};
use hyper::body::Incoming;
use hyper::service::service_fn;
use hyper::{Method, Request, Response, StatusCode};
use hyper_util::rt::{TokioIo, TokioTimer};
use std::convert::Infallible;
use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;
use tokio::io::{AsyncRead, AsyncWrite};
use tokio::net::TcpListener;
use tokio::sync::Semaphore;
use tokio::time::timeout;

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
        Some(files) => Some(tls::acceptor(files)?),
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
        places: Arc::default(),
        begun: Begun::default(),
    });
    tokio::pin!(stop);
    let mut beats = shared.desk.turns().beats;
    loop {
        let (stream, peer) = tokio::select! {
            () = &mut stop => return Ok(()),
            // Whoever watches the page is told that it lives when its one thread on the journal does.
            Ok(()) = beats.changed() => {
                alive();
                continue;
            }
            accepted = listener.accept() => match accepted {
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
        let seat = Places::take(&shared.places, peer.ip(), shared.settings.behind_proxy);
        let (shared, tls) = (shared.clone(), tls.clone());
        tokio::spawn(async move {
            let leave = seat.leave.clone();
            let visit = async move {
                match tls {
                    None => talk(stream, seat, shared).await,
                    Some(tls) => match timeout(TLS_LIMIT, tls.accept(stream)).await {
                        Ok(Ok(stream)) => talk(stream, seat, shared).await,
                        Ok(Err(error)) => tracing::debug!("TLS with {}: {error}", peer.ip()),
                        Err(_) => tracing::debug!("TLS with {}: too slow", peer.ip()),
                    },
                }
            };
            tokio::select! {
                () = visit => {}
                () = leave.notified() => tracing::debug!("{}: its place was needed", peer.ip()),
            }
        });
    }
}

async fn talk<S>(stream: S, seat: Arc<Seat>, shared: Arc<Shared>)
where
    S: AsyncRead + AsyncWrite + Unpin + Send + 'static,
{
    let peer = seat.from;
    let service = service_fn(move |request| {
        let (shared, seat) = (shared.clone(), seat.clone());
        async move {
            let answered = answer(request, &seat, &shared).await;
            Ok::<_, Infallible>(if shared.settings.tls.is_some() {
                encrypted(answered)
            } else {
                answered
            })
        }
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

async fn answer(request: Request<Incoming>, seat: &Seat, shared: &Arc<Shared>) -> Response<Body> {
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
    guard(routes::answer(head, form, seat, shared).await)
}
