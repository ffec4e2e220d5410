//! The sheet for the clinic, made by the real binary and read by programs of others: poppler, qpdf and veraPDF read the
//! PDF, Chromium and axe-core the HTML. People, monitors and readings are invented.
//!
//! `tests/report/prepare` installs them. Where one is missing the test fails and says so; `QUIETCUFF_SKIP_ORACLES=1`
//! leaves these readers out.
mod accessible;
mod command;
mod html;
mod languages;
mod pdf;
mod readers;
mod scripts;
