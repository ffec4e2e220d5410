//! What keeps readings from arriving, from being dated or from going on, in the household's words, with since when.

use crate::home::live::Book;
use crate::journal::JournalError;
use crate::monitoring::listening::said;
use crate::monitoring::stated::Stated;
use crate::words::Words;
use jiff::Timestamp;
use maud::{Markup, html};

/// A notice for each; nothing where all is well.
pub(super) fn notices(
    book: &mut Book,
    known: &Stated,
    words: &Words,
    now: Timestamp,
) -> Result<Markup, JournalError> {
    let troubles = book.troubles(now)?;
    Ok(html! {
        @for trouble in &troubles {
            p.notice data-trouble=(trouble.what.name()) { (said(trouble, &known.zones, words)) }
        }
    })
}
