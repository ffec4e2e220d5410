//! What the tests from outside share: the real program in an empty folder, an invented household, a page that is served
//! to it, a browser, captures, and what is said where an oracle is missing.

pub(crate) mod browser;
pub(crate) mod command;
pub(crate) mod driver;
pub(crate) mod frames;
pub(crate) mod hapi;
pub(crate) mod left_out;
pub(crate) mod made;
pub(crate) mod page;
pub(crate) mod replayed;
pub(crate) mod script;
pub(crate) mod situations;
pub(crate) mod volume;
pub(crate) mod weeks;
