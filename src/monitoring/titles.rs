//! Titles of the program's own protocols, and the sources that begin with one, in each language.

use super::period::SET_BY_CLINIC;
use crate::words::Words;

/// A title or a name out of the program's own protocols; one of a protocol of the household's stands as it is.
pub fn of_protocol(words: &Words, text: &str) -> String {
    let letters = text.to_lowercase();
    let parts = letters.split(|c: char| !c.is_ascii_alphanumeric());
    let parts: Vec<&str> = parts.filter(|part| !part.is_empty()).collect();
    let name = format!("protocol-{}", parts.join("-"));
    if words.has(&name) {
        words.say(&name)
    } else {
        text.to_owned()
    }
}

/// Where a threshold comes from: the protocol's title in the language, and behind it the source as it stands.
pub fn of_source(words: &Words, source: &str) -> String {
    match source.split_once("; ") {
        _ if source == SET_BY_CLINIC => words.say("sheet-set-by-clinic"),
        Some((title, rest)) => format!("{}; {rest}", of_protocol(words, title)),
        None => source.to_owned(),
    }
}
