//! Symptoms by their words in any catalogue: whoever types one as a page of theirs names it has chosen it.

use super::symptoms::{NONE, SYMPTOMS};
use crate::words::Language;

/// The name of the symptom that one of the catalogues calls by exactly these words. Part of a sentence is no choice.
pub fn symptom_called(words: &str) -> Option<&'static str> {
    let plain = |text: &str| {
        let lower = text.to_lowercase();
        lower.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    let words = plain(words);
    let names = || SYMPTOMS.iter().map(|symptom| symptom.name).chain([NONE]);
    Language::ALL.into_iter().find_map(|language| {
        let catalogue = language.words();
        names().find(|name| plain(&catalogue.say(&format!("symptom-{name}"))) == words)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_symptom_is_known_in_every_language_and_a_denial_in_none() {
        for language in Language::ALL {
            for symptom in &SYMPTOMS {
                let words = language.words().say(&format!("symptom-{}", symptom.name));
                assert_eq!(
                    symptom_called(&format!(" {words}  ")),
                    Some(symptom.name),
                    "{words}"
                );
            }
        }
        assert_eq!(symptom_called("सीने में दर्द"), Some("chest-pain"));
        assert_eq!(symptom_called("सीने में दर्द नहीं"), None);
        assert_eq!(symptom_called("Brustschmerzen"), Some("chest-pain"));
        assert_eq!(symptom_called("keine Brustschmerzen"), None);
        assert_eq!(symptom_called("நெஞ்சு வலி"), Some("chest-pain"));
    }
}
