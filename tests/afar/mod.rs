//! Two machines of one household, as processes of the real program: a listener hands on what it hears to the record.
//! What was heard is held against a household of one machine that heard the same. The oracles by others are GnuTLS, another
//! implementation of TLS with raw public keys (RFC 7250), and a reader of codes (zbar).

mod apart;
mod asked;
mod attacks;
mod clock;
mod handed;
mod houses;
mod killed;
mod let_go;
mod many;
mod network;
mod relay;
mod rooms;
mod scanned;
mod silent;
