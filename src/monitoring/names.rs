//! Names that look alike: whoever chooses between two of them chooses wrong.
//!
//! By the skeletons of Unicode Technical Standard 39, section 4: what a reader cannot tell apart has one skeleton, in
//! whichever alphabet it is written. Before that it is made lower-case, and what is not seen is left out.

use crate::household::{Household, Person, PersonId};
use std::collections::BTreeMap;
use unicode_security::skeleton;

/// Joiners and variation selectors, which some scripts and signs need inside a word.
const fn is_joiner(c: char) -> bool {
    matches!(c, '\u{200c}' | '\u{200d}' | '\u{fe00}'..='\u{fe0f}')
}

/// A character that nobody sees (Default_Ignorable_Code_Point of the Unicode Character Database, and the empty pattern
/// of Braille), and that turns letters around or makes two names of one.
const fn is_invisible(c: char) -> bool {
    matches!(
        c,
        '\u{ad}'
            | '\u{34f}'
            | '\u{61c}'
            | '\u{115f}'..='\u{1160}'
            | '\u{17b4}'..='\u{17b5}'
            | '\u{180b}'..='\u{180f}'
            | '\u{200b}'
            | '\u{200e}'..='\u{200f}'
            | '\u{202a}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}'
            | '\u{2800}'
            | '\u{3164}'
            | '\u{feff}'
            | '\u{ffa0}'
            | '\u{fff0}'..='\u{fff8}'
            | '\u{1bca0}'..='\u{1bca3}'
            | '\u{1d173}'..='\u{1d17a}'
            | '\u{e0000}'..='\u{e0fff}'
    )
}

/// The first character of a name that nobody sees.
pub fn invisible(name: &str) -> Option<char> {
    name.chars().find(|c| is_invisible(*c))
}

/// Whether a reader may take one name for the other.
pub fn alike(one: &str, other: &str) -> bool {
    looks(one) == looks(other)
}

/// What each person is called wherever one is chosen or read: the label, else the id; with a word behind it where a
/// reader may take it for somebody else's, because both were accepted before that was looked at.
pub fn shown(household: &Household) -> BTreeMap<PersonId, String> {
    let label = |id: &PersonId, person: &Person| match person.label.trim() {
        "" => id.to_string(),
        label => label.to_owned(),
    };
    let all: Vec<_> = household
        .people
        .iter()
        .map(|(id, (person, removed))| (id, label(id, person), *removed))
        .map(|(id, label, removed)| (id, looks(&label), label, removed))
        .collect();
    let mut shown = BTreeMap::new();
    for (id, look, label, removed) in &all {
        let alike: Vec<&PersonId> = all
            .iter()
            .filter(|(_, other, _, gone)| !gone && !removed && other == look)
            .map(|(other, ..)| *other)
            .collect();
        let word = match alike.iter().position(|other| other == id) {
            Some(_) if alike.len() < 2 => None,
            // Their ids may look alike as well.
            Some(place)
                if alike
                    .iter()
                    .any(|other| other != id && self::alike(other.as_str(), id.as_str())) =>
            {
                Some((place + 1).to_string())
            }
            Some(_) => Some(id.to_string()),
            None => None,
        };
        shown.insert(
            (*id).clone(),
            match word {
                Some(word) => format!("{label} ({word})"),
                None => label.clone(),
            },
        );
    }
    shown
}

fn looks(name: &str) -> String {
    let seen: String = name
        .chars()
        .filter(|c| !is_invisible(*c) && !is_joiner(*c))
        .collect();
    let words: Vec<&str> = seen.split_whitespace().collect();
    // A skeleton may hold capitals, such as O for the digit.
    let plain: String = skeleton(&words.join(" ").to_lowercase()).collect();
    plain.to_lowercase()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::household::Statement;

    #[test]
    fn two_that_were_accepted_before_are_shown_apart() {
        let person = |id: &str, label: &str| Statement::Person {
            person: id.parse().unwrap(),
            details: Person {
                label: label.to_owned(),
                ..Person::default()
            },
        };
        let mut statements = vec![
            person("asha", "Asha"),
            person("mother", "\u{410}sha"),
            person("ravi", "Ravi"),
            person("kiran", "Kiran"),
            person("k\u{456}ran", "K\u{456}ran"),
        ];
        let household = Household::after(&statements);
        let all: Vec<String> = shown(&household).into_values().collect();
        assert_eq!(
            all,
            [
                "Asha (asha)",
                "Kiran (1)",
                "K\u{456}ran (2)",
                "\u{410}sha (mother)",
                "Ravi"
            ]
        );
        // Nobody chooses between somebody and who was removed.
        statements.push(Statement::PersonRemoved {
            person: "mother".parse().unwrap(),
        });
        let household = Household::after(&statements);
        assert_eq!(shown(&household)[&"asha".parse::<PersonId>().unwrap()], "Asha");
    }

    /// The letters come from the table of confusables of Unicode itself, and not from this file.
    #[test]
    fn what_looks_alike_is_alike() {
        for (one, other) in [
            ("Asha", "asha"),
            ("Asha", "\u{410}sha"),            // Cyrillic A
            ("Asha", "A\u{455}ha"),            // Cyrillic dze
            ("Asha", "As\u{200b}ha"),          // zero width space
            ("Asha", "As\u{200d}ha"),          // joiner
            ("Asha", "Asha\u{fe0f}"),          // variation selector
            ("Asha D", "Asha\u{a0}\u{2003}D"), // other spaces
            ("Ola", "0la"),                    // digit
            ("Rosa", "R\u{3bf}sa"),            // Greek omicron
            ("Zo\u{eb}", "Zoe\u{308}"),        // decomposed
        ] {
            assert!(alike(one, other), "{one:?} {other:?}");
        }
        for (one, other) in [
            ("Asha", "Usha"),
            ("Asha", "Asha 2"),
            ("आशा", "उषा"),
            ("Anna", "Hanna"),
            ("Mum", "Mom"),
        ] {
            assert!(!alike(one, other), "{one:?} {other:?}");
        }
        assert_eq!(invisible("As\u{202e}ha"), Some('\u{202e}'));
        // A joiner inside a word of Hindi, and a sign with its selector.
        assert_eq!(invisible("क\u{94d}\u{200d}ष \u{2764}\u{fe0f}"), None);
    }
}
