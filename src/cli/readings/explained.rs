//! Why a reading stands where it does, in the language of whoever reads; programs are told the same in English.

use crate::export::report::words::{capital, doubted, effect, reason, source};
use crate::household::{Household, Posed};
use crate::reading::Precision;
use crate::reading::owner::doubt;
use crate::technique::{Disposition, JudgedReading, Reason, Rule, contradicted};
use crate::words::Words;

/// One paragraph each: the verdict, every reason, and what was ignored.
pub(super) fn explained(judged: &JudgedReading, household: &Household, words: &Words) -> Vec<String> {
    let (reading, judgement) = (&judged.reading, &judged.judgement);
    let verdict = match judgement.disposition {
        Disposition::Counted => "explain-counted",
        Disposition::Marked if judgement.reasons.posed() != Posed::Seated => "explain-apart",
        Disposition::Marked => "explain-marked",
        Disposition::SetAside => "explain-set-aside",
    };
    let mut said = vec![words.say(verdict)];
    said.extend(
        judgement
            .reasons
            .iter()
            .map(|because| of_rule(because.rule(), words)),
    );
    if let Some(doubt) = doubt(household, reading) {
        said.push(doubted(words, doubt, reading));
    }
    if let Some(own) = &reading.discarded {
        said.push(words.with("explain-own-words", &[("text", own.as_str().into())]));
    }
    if judgement.is_by_strict() {
        said.push(words.say("explain-strict"));
    }
    for ignored in contradicted(reading).iter() {
        let flag = reason(words, Reason::name(ignored));
        said.push(words.with("explain-ignored", &[("flag", flag.into())]));
    }
    let mean = reading.mean_arterial_pressure;
    if judgement.mean_arterial_pressure.is_none() && mean.special().is_none() {
        let mean = words.decimal(&mean.to_string());
        said.push(words.with("explain-mean", &[("mean", mean.into())]));
    }
    if reading.time.precision == Precision::Minute {
        said.push(words.say("explain-minute"));
    }
    said
}

fn of_rule(rule: &Rule, words: &Words) -> String {
    let name = rule.reason.name();
    let disposition = match rule.disposition {
        Disposition::SetAside => "set-aside",
        Disposition::Marked => "cell-marked",
        Disposition::Counted => "counted",
    };
    let basis = words.say(&format!("basis-{}", rule.basis.name().replace(' ', "-")));
    let said = [
        format!(
            "{} ({basis}, {}):",
            capital(&reason(words, name)),
            words.say(disposition)
        ),
        words.say(&format!("reason-{name}")),
        source(words, rule.source),
        rule.effect.map_or_else(String::new, |of| effect(words, &of)),
    ];
    said.join(" ").trim_end().to_owned()
}
