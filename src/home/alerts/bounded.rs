//! A connection of which only so much is read: whoever speaks without end is cut off, and takes no memory.

use lettre::transport::smtp::client::AsyncTokioStream;
use std::io;
use std::net::SocketAddr;
use std::pin::Pin;
use std::task::{Context, Poll};
use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};

/// A stream that ends in an error once more came than is allowed.
#[derive(Debug)]
pub(super) struct Bounded<S> {
    stream: S,
    left: usize,
}

impl<S> Bounded<S> {
    pub(super) const fn new(stream: S, octets_max: usize) -> Self {
        Self {
            stream,
            left: octets_max,
        }
    }
}

impl<S: AsyncRead + Unpin> AsyncRead for Bounded<S> {
    fn poll_read(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        into: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        if self.left == 0 {
            return Poll::Ready(Err(io::Error::other(
                "the server says more than any server has to",
            )));
        }
        let before = into.filled().len();
        let read = Pin::new(&mut self.stream).poll_read(cx, into);
        let came = into.filled().len().saturating_sub(before);
        self.left = self.left.saturating_sub(came);
        read
    }
}

impl<S: AsyncWrite + Unpin> AsyncWrite for Bounded<S> {
    fn poll_write(mut self: Pin<&mut Self>, cx: &mut Context<'_>, octets: &[u8]) -> Poll<io::Result<usize>> {
        Pin::new(&mut self.stream).poll_write(cx, octets)
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_flush(cx)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(cx)
    }
}

/// What the mail library takes for a connection: any stream, with the address that it leads to.
#[derive(Debug)]
pub(super) struct Through<S> {
    stream: S,
    peer: SocketAddr,
}

impl<S> Through<S> {
    pub(super) const fn new(stream: S, peer: SocketAddr) -> Self {
        Self { stream, peer }
    }
}

impl<S: AsyncRead + Unpin> AsyncRead for Through<S> {
    fn poll_read(
        mut self: Pin<&mut Self>,
        cx: &mut Context<'_>,
        into: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_read(cx, into)
    }
}

impl<S: AsyncWrite + Unpin> AsyncWrite for Through<S> {
    fn poll_write(mut self: Pin<&mut Self>, cx: &mut Context<'_>, octets: &[u8]) -> Poll<io::Result<usize>> {
        Pin::new(&mut self.stream).poll_write(cx, octets)
    }

    fn poll_flush(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_flush(cx)
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, cx: &mut Context<'_>) -> Poll<io::Result<()>> {
        Pin::new(&mut self.stream).poll_shutdown(cx)
    }
}

impl<S> AsyncTokioStream for Through<S>
where
    S: AsyncRead + AsyncWrite + Send + Sync + Unpin + std::fmt::Debug,
{
    fn peer_addr(&self) -> io::Result<SocketAddr> {
        Ok(self.peer)
    }
}
