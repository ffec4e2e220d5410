//! Answers: what goes back to a browser, with the headers that every one of them has.

use http_body_util::{BodyExt, Full, combinators::UnsyncBoxBody};
use hyper::body::Bytes;
use hyper::header::{self, HeaderName, HeaderValue};
use hyper::{Response, StatusCode};
use std::convert::Infallible;

/// The body of any answer.
pub(super) type Body = UnsyncBoxBody<Bytes, Infallible>;

/// Nothing but our own style, script and stream; no frame around us, no form to elsewhere.
const POLICY: &str = "default-src 'none'; style-src 'self'; script-src 'self'; connect-src 'self'; form-action 'self'; \
                      base-uri 'none'; frame-ancestors 'none'";
/// The sheet brings its style with it and runs nothing.
const POLICY_OF_THE_SHEET: &str = "default-src 'none'; style-src 'unsafe-inline'; form-action 'none'; base-uri 'none'; frame-ancestors 'none'";

/// An answer before it is sent.
#[derive(Debug)]
pub(super) struct Answer {
    pub(super) status: StatusCode,
    pub(super) kind: &'static str,
    pub(super) body: Vec<u8>,
    pub(super) headers: Vec<(HeaderName, String)>,
}

/// The content type of an HTML page in UTF-8.
pub(super) const PLAIN: HeaderValue = HeaderValue::from_static("text/html; charset=utf-8");

impl Answer {
    pub(super) fn html(page: String) -> Self {
        Self::of("text/html; charset=utf-8", page.into_bytes())
    }

    pub(super) fn of(kind: &'static str, body: Vec<u8>) -> Self {
        Self {
            status: StatusCode::OK,
            kind,
            body,
            headers: Vec::new(),
        }
    }

    pub(super) fn text(status: StatusCode, text: &str) -> Self {
        Self {
            status,
            ..Self::of("text/plain; charset=utf-8", format!("{text}\n").into_bytes())
        }
    }

    /// The sheet for the clinic, as one page.
    pub(super) fn sheet(page: Vec<u8>) -> Self {
        Self::of("text/html; charset=utf-8", page)
            .with(header::CONTENT_SECURITY_POLICY, POLICY_OF_THE_SHEET.to_owned())
    }

    /// After a form: look there, and let "reload" send nothing again.
    pub(super) fn see(place: &str) -> Self {
        Self {
            status: StatusCode::SEE_OTHER,
            ..Self::of("text/plain; charset=utf-8", Vec::new())
        }
        .with(header::LOCATION, place.to_owned())
    }

    #[must_use]
    pub(super) fn with(mut self, name: HeaderName, value: String) -> Self {
        self.headers.push((name, value));
        self
    }

    #[must_use]
    pub(super) fn status(mut self, status: StatusCode) -> Self {
        self.status = status;
        self
    }

    pub(super) fn into_response(self) -> Response<Body> {
        let mut response = Response::new(Full::new(Bytes::from(self.body)).boxed_unsync());
        *response.status_mut() = self.status;
        let headers = response.headers_mut();
        headers.insert(header::CONTENT_TYPE, HeaderValue::from_static(self.kind));
        for (name, value) in self.headers {
            if let Ok(value) = HeaderValue::from_str(&value) {
                headers.append(name, value);
            }
        }
        guard(response)
    }
}

/// For so long a browser comes back encrypted only (RFC 6797), without those under our name, who may have other
/// services: a month, own choice, so that a household that gives up its certificate is not locked out for a year.
const ONLY_ENCRYPTED: &str = "max-age=2592000";

/// What an answer over our own TLS says besides.
pub(super) fn encrypted(mut response: Response<Body>) -> Response<Body> {
    let headers = response.headers_mut();
    headers.insert(
        header::STRICT_TRANSPORT_SECURITY,
        HeaderValue::from_static(ONLY_ENCRYPTED),
    );
    response
}

/// What every answer says to the browser.
pub(super) fn guard(mut response: Response<Body>) -> Response<Body> {
    let headers = response.headers_mut();
    let always = [
        (header::CONTENT_SECURITY_POLICY, POLICY),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::X_FRAME_OPTIONS, "DENY"),
        // Not "no-referrer": with it a browser hides the origin of our own forms from us.
        (header::REFERRER_POLICY, "same-origin"),
        (header::CACHE_CONTROL, "no-store"),
        (
            HeaderName::from_static("cross-origin-opener-policy"),
            "same-origin",
        ),
        (
            HeaderName::from_static("cross-origin-resource-policy"),
            "same-origin",
        ),
        (
            HeaderName::from_static("permissions-policy"),
            "camera=(), microphone=(), geolocation=()",
        ),
    ];
    for (name, value) in always {
        headers.entry(name).or_insert(HeaderValue::from_static(value));
    }
    response
}
