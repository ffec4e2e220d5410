//! One person: adds somebody, or changes what is known of them. Whoever looks after the whole household may.

use super::answer::Answer;
use super::ask::{Ask, Wrong};
use super::frame::{self, encoded, token};
use super::versions::{self, CONDITIONS, born_said};
use crate::home::live::Book;
use crate::household::{Arm, Condition, ID_CHARS_MAX, Person, PersonId, PersonTarget, Statement, Window};
use crate::monitoring::person::{self, ARM_CM, BORN_MIN, LABEL_CHARS_MAX, NotAPerson};
use crate::monitoring::protocols::DEFAULT;
use crate::monitoring::stated::Stated;
use crate::monitoring::titles::of_protocol;
use crate::sitting::Windows;
use crate::words::Words;
use hyper::StatusCode;
use jiff::civil::{Date, Time};
use maud::{Markup, html};

const ARMS: [(&str, Arm); 2] = [("left", Arm::Left), ("right", Arm::Right)];

/// Who the form is about: somebody of the household, or somebody new.
fn subject(ask: &Ask, book: &mut Book) -> Result<Option<PersonId>, Wrong> {
    if !ask.viewer.cares() {
        return Err(Wrong::NotYours);
    }
    match ask.field("person") {
        Some(_) => ask.person(book),
        None => Ok(None),
    }
}

pub(super) fn page(ask: &Ask, book: &mut Book) -> Result<Answer, Wrong> {
    let who = subject(ask, book)?;
    let known = book.known()?;
    let details = details_of(&known, who.as_ref());
    let today = known.zones.civil(ask.now).date();
    shown(
        ask,
        book,
        who.as_ref(),
        (&details, &Typed::of(&details).today(&details, today)),
        None,
    )
}

/// Takes the form. One that does not hold is shown again as it was typed, with what is wrong.
pub(super) fn save(ask: &Ask, book: &mut Book) -> Result<Answer, Wrong> {
    /// How often it is tried again because somebody else stated something in the same moment.
    const TRIES: usize = 3;
    for _ in 0..TRIES {
        if let Some(answer) = try_to_save(ask, book)? {
            return Ok(answer);
        }
    }
    Err(Wrong::Changed)
}

/// `None` where somebody stated something between looking and saving.
fn try_to_save(ask: &Ask, book: &mut Book) -> Result<Option<Answer>, Wrong> {
    let who = subject(ask, book)?;
    let known = book.known()?;
    let typed = Typed::sent(ask);
    let base = begun(ask, &known, who.as_ref())?;
    let today = known.zones.civil(ask.now).date();
    let details = typed.over(&base, today, ask.words).and_then(|details| {
        person::check(
            who.as_ref(),
            &details,
            &known.household,
            &known.protocols,
            ask.now,
        )
        .map_err(|wrong| said(&wrong, ask.words))?;
        Ok(details)
    });
    let details = match details {
        Ok(details) => details,
        Err(why) => {
            let wrong = html! { p.notice role="alert" { (why) } };
            let answer = shown(ask, book, who.as_ref(), (&base, &typed), Some(wrong))?;
            return Ok(Some(answer.status(StatusCode::UNPROCESSABLE_ENTITY)));
        }
    };
    let now = details_of(&known, who.as_ref());
    if base != now {
        // What the form changed goes on top of what is so now, and is looked at before it is saved.
        let versions = versions::both(ask, &known, &base, &now, &details);
        let changed = now.with_changes(&base, &details);
        let typed = Typed::of(&changed).today(&changed, today);
        let answer = shown(ask, book, who.as_ref(), (&now, &typed), Some(versions))?;
        return Ok(Some(answer.status(StatusCode::CONFLICT)));
    }
    let (id, statements) = match who {
        Some(id) => {
            let changes = now.changes_to(&details);
            let stated = (!changes.is_empty()).then(|| Statement::PersonChanged {
                person: id.clone(),
                changes,
            });
            (id, stated)
        }
        None => {
            let taken = |id: &PersonId| known.household.people.contains_key(id);
            let id =
                person::id_for(&details.label, taken).ok_or_else(|| Wrong::Value(details.label.clone()))?;
            let person = id.clone();
            (id, Some(Statement::Person { person, details }))
        }
    };
    let place = format!("/people#p-{}", encoded(&id));
    let kept = match statements {
        Some(statement) => book.state_if_known(&known, &[statement])?,
        None => true,
    };
    Ok(kept.then(|| Answer::see(&place)))
}

/// What the form was begun from: it says so itself. One that does not was begun from nothing that is known.
fn begun(ask: &Ask, known: &Stated, who: Option<&PersonId>) -> Result<Person, Wrong> {
    match (who, ask.field("base")) {
        (None, _) => Ok(details_of(known, None)),
        (Some(_), Some(base)) => serde_json::from_str(base).map_err(|_| Wrong::Changed),
        (Some(_), None) => Ok(Person::default()),
    }
}

fn details_of(known: &Stated, who: Option<&PersonId>) -> Person {
    let stated = who.and_then(|id| known.household.people.get(id));
    let mut details = stated.map(|(person, _)| person.clone()).unwrap_or_default();
    if let Some(id) = who.filter(|_| details.label.trim().is_empty()) {
        details.label = id.to_string();
    }
    details
}

fn said(wrong: &NotAPerson, words: &Words) -> String {
    match wrong {
        NotAPerson::Label { .. } => words.with(
            "person-wrong-label",
            &[("most", LABEL_CHARS_MAX.to_string().into())],
        ),
        NotAPerson::SameLabel { label, .. } => {
            words.with("person-wrong-same", &[("label", label.as_str().into())])
        }
        NotAPerson::Invisible { .. } => words.say("person-wrong-invisible"),
        NotAPerson::LooksLike { seen, .. } => {
            words.with("person-wrong-alike", &[("label", seen.as_str().into())])
        }
        NotAPerson::Born { this_year, .. } => words.with(
            "person-wrong-born",
            &[
                ("first", BORN_MIN.to_string().into()),
                ("last", this_year.to_string().into()),
            ],
        ),
        NotAPerson::ArmCm { .. } => words.with(
            "person-wrong-arm-cm",
            &[
                ("least", ARM_CM.start().to_string().into()),
                ("most", ARM_CM.end().to_string().into()),
            ],
        ),
        NotAPerson::GaveBirth { .. } => words.say("person-wrong-birth"),
        NotAPerson::BornOn { .. } => words.say("person-wrong-born-on"),
        NotAPerson::RecordNumber => words.with(
            "person-wrong-record-number",
            &[("most", LABEL_CHARS_MAX.to_string().into())],
        ),
        NotAPerson::Group => words.with("person-wrong-group", &[("most", ID_CHARS_MAX.to_string().into())]),
        NotAPerson::TargetWords => words.with(
            "person-wrong-target-line",
            &[("most", LABEL_CHARS_MAX.to_string().into())],
        ),
        NotAPerson::Protocol(unknown) => {
            words.with("error-value", &[("value", unknown.name.as_str().into())])
        }
        NotAPerson::Overlap { at } => words.with("person-wrong-overlap", &[("time", words.time(*at).into())]),
    }
}

/// What stands in the fields of the form, good or not.
#[derive(Default)]
struct Typed {
    label: String,
    /// A year or a day.
    born: String,
    record_number: String,
    group: String,
    arm: String,
    arm_cm: String,
    /// First and last minute of morning and evening.
    windows: [[String; 2]; 2],
    protocol: String,
    threshold: [String; 2],
    /// The numbers of the target, who chose it, and where that is written.
    target: [String; 4],
    conditions: Vec<Condition>,
    gave_birth: String,
    strict: bool,
}

/// The fields of the windows and the threshold.
const WINDOWS: [[&str; 2]; 2] = [["morning-from", "morning-to"], ["evening-from", "evening-to"]];
const THRESHOLD: [&str; 2] = ["threshold-systolic", "threshold-diastolic"];
/// The same of the target, with its words behind them.
const TARGET: [&str; 4] = [
    "target-systolic",
    "target-diastolic",
    "target-by",
    "target-source",
];

impl Typed {
    fn of(person: &Person) -> Self {
        let window = |window: Option<Window>| match window {
            Some(Window { from, to }) => [from, to].map(|time| time.strftime("%H:%M").to_string()),
            None => Default::default(),
        };
        Self {
            label: person.label.clone(),
            born: born_said(person).unwrap_or_default(),
            record_number: person.record_number.clone().unwrap_or_default(),
            group: person.group.clone().unwrap_or_default(),
            arm: ARMS
                .iter()
                .find(|(_, arm)| person.arm == Some(*arm))
                .map(|(name, _)| (*name).to_owned())
                .unwrap_or_default(),
            arm_cm: person.arm_cm.map(|cm| cm.to_string()).unwrap_or_default(),
            windows: [window(person.morning), window(person.evening)],
            protocol: person.protocol.clone().unwrap_or_else(|| DEFAULT.to_owned()),
            threshold: person.threshold.map_or_else(Default::default, |t| {
                [t.systolic.to_string(), t.diastolic.to_string()]
            }),
            target: person.target.as_ref().map_or_else(Default::default, |t| {
                let text = |text: &Option<String>| text.clone().unwrap_or_default();
                [
                    t.systolic.to_string(),
                    t.diastolic.to_string(),
                    text(&t.by),
                    text(&t.source),
                ]
            }),
            conditions: person.conditions.clone(),
            gave_birth: person.gave_birth.map(|day| day.to_string()).unwrap_or_default(),
            strict: person.strict,
        }
    }

    /// The same as the form shows it: a pregnancy that is over is none any more, and another one begins anew.
    fn today(mut self, person: &Person, today: Date) -> Self {
        if person.pregnancy_ends().is_some_and(|end| end <= today) {
            self.conditions
                .retain(|condition| *condition != Condition::Pregnancy);
            self.gave_birth.clear();
        }
        self
    }

    fn sent(ask: &Ask) -> Self {
        let text = |name: &str| ask.field(name).unwrap_or_default().to_owned();
        Self {
            label: text("label"),
            born: text("born").trim().to_owned(),
            record_number: text("record-number").trim().to_owned(),
            group: text("group").trim().to_owned(),
            arm: text("arm"),
            arm_cm: text("arm-cm"),
            windows: WINDOWS.map(|pair| pair.map(text)),
            protocol: text("protocol"),
            threshold: THRESHOLD.map(text),
            target: TARGET.map(|name| text(name).trim().to_owned()),
            conditions: CONDITIONS
                .iter()
                .filter(|(name, _)| ask.field(name).is_some())
                .map(|(_, condition)| *condition)
                .collect(),
            gave_birth: text("gave-birth"),
            strict: ask.field("strict").is_some(),
        }
    }

    /// The target with who chose it and where that is written, which a new one has to say.
    fn target(&self, before: &Person, words: &Words) -> Result<Option<PersonTarget>, String> {
        let [systolic, diastolic, by, source] = &self.target;
        if self.target.iter().all(String::is_empty) {
            return Ok(None);
        }
        let numbers = person::threshold_of(&format!("{systolic}/{diastolic}"))
            .map_err(|_| words.say("person-wrong-target"))?;
        let text = |text: &String| Some(text.clone()).filter(|text| !text.is_empty());
        let target = PersonTarget {
            systolic: numbers.systolic,
            diastolic: numbers.diastolic,
            by: text(by),
            source: text(source),
        };
        // One that was stated on the command line without words may stay as it is.
        let whole = target.by.is_some() && target.source.is_some();
        if whole || before.target.as_ref() == Some(&target) {
            Ok(Some(target))
        } else {
            Err(words.say("person-wrong-target-words"))
        }
    }

    /// The year, and the day where it was said.
    fn born(&self, words: &Words) -> Result<(Option<i16>, Option<Date>), String> {
        if !self.born.contains('-') {
            return Ok((number(&self.born, words)?, None));
        }
        let day: Date = self.born.parse().map_err(|_| words.say("person-wrong-born-on"))?;
        Ok((Some(day.year()), Some(day)))
    }

    /// What is known of the person after this. What the form does not show stays.
    fn over(&self, before: &Person, today: Date, words: &Words) -> Result<Person, String> {
        let window = |[from, to]: &[String; 2]| match (from.as_str(), to.as_str()) {
            ("", "") => Ok(None),
            // Some browsers send seconds.
            (from, to) => {
                let minute = |text: &str| text.get(..5).unwrap_or_default().to_owned();
                person::window_of(&format!("{}-{}", minute(from), minute(to)))
                    .map(Some)
                    .map_err(|_| words.say("person-wrong-window"))
            }
        };
        let threshold = match &self.threshold {
            [systolic, diastolic] if systolic.is_empty() && diastolic.is_empty() => None,
            [systolic, diastolic] => Some(
                person::threshold_of(&format!("{systolic}/{diastolic}"))
                    .map_err(|_| words.say("person-wrong-threshold"))?,
            ),
        };
        let chosen = Some(self.protocol.clone()).filter(|name| !name.is_empty());
        let mut gave_birth = match self.gave_birth.as_str() {
            "" => None,
            day => Some(day.parse().map_err(|_| words.say("person-wrong-birth"))?),
        };
        let mut conditions = self.conditions.clone();
        let over = before.pregnancy_ends().is_some_and(|end| end <= today);
        if over && gave_birth.is_none() && !conditions.contains(&Condition::Pregnancy) {
            // What ended by itself stays as it was: what was told then was told by its levels.
            conditions.clone_from(&before.conditions);
            conditions.retain(|condition| {
                *condition == Condition::Pregnancy || self.conditions.contains(condition)
            });
            let new = self
                .conditions
                .iter()
                .filter(|condition| !before.conditions.contains(condition));
            conditions.extend(new);
            gave_birth = before.gave_birth;
        }
        let [morning, evening] = &self.windows;
        let (born, born_on) = self.born(words)?;
        Ok(Person {
            label: self.label.clone(),
            born,
            born_on,
            record_number: Some(self.record_number.clone()).filter(|number| !number.is_empty()),
            group: Some(self.group.clone()).filter(|group| !group.is_empty()),
            arm_cm: number(&self.arm_cm.replace(',', "."), words)?,
            arm: ARMS
                .iter()
                .find(|(name, _)| *name == self.arm)
                .map(|(_, arm)| *arm),
            morning: window(morning)?,
            evening: window(evening)?,
            // Whoever never chose stays with the default, whichever that is.
            protocol: chosen.filter(|name| before.protocol.is_some() || name != DEFAULT),
            threshold,
            conditions,
            gave_birth,
            strict: self.strict,
            target: self.target(before, words)?,
        }
        .as_a_birth_says())
    }
}

fn number<T: std::str::FromStr>(text: &str, words: &Words) -> Result<Option<T>, String> {
    if text.is_empty() {
        return Ok(None);
    }
    text.parse()
        .map(Some)
        .map_err(|_| words.say("person-wrong-number"))
}

fn shown(
    ask: &Ask,
    book: &mut Book,
    who: Option<&PersonId>,
    (base, typed): (&Person, &Typed),
    wrong: Option<Markup>,
) -> Result<Answer, Wrong> {
    let known = book.known()?;
    let title = ask.say(if who.is_some() {
        "person-change"
    } else {
        "person-add"
    });
    let body = html! {
        h1 { (title) @if let Some(id) = who { " · " bdi { (known.label(id)) } } }
        @if let Some(wrong) = wrong { (wrong) }
        (form(ask, &known, who, base, typed))
    };
    frame::of_household(ask, book, &title, &body)
}

fn form(ask: &Ask, known: &Stated, who: Option<&PersonId>, base: &Person, typed: &Typed) -> Markup {
    let base = serde_json::to_string(base).unwrap_or_default();
    let [morning, evening] = Windows::of(None).hours();
    let usual = |(_, from, to): (_, Time, Time)| {
        let (from, to) = (ask.words.time(from).into(), ask.words.time(to).into());
        ask.words.with("person-usual", &[("from", from), ("to", to)])
    };
    html! {
        form.facts method="post" action="/person" {
            (token(ask))
            @if let Some(id) = who {
                input type="hidden" name="person" value=(id);
                input type="hidden" name="base" value=(base);
            }
            label for="label" { (ask.say("person-label")) }
            input #label name="label" type="text" maxlength=(LABEL_CHARS_MAX) autocomplete="off" value=(typed.label) required;
            (field("born", &ask.say("person-born-ask"), &typed.born, "text"))
            (belongs(ask, known, typed))
            fieldset.choice {
                legend { (ask.say("person-arm")) }
                @for (name, say) in [("left", "arm-left"), ("right", "arm-right"), ("", "arm-either")] {
                    label { input type="radio" name="arm" value=(name) checked[typed.arm == name]; " " (ask.say(say)) }
                }
            }
            (field("arm-cm", &format!("{} (cm)", ask.say("person-arm-cm")), &typed.arm_cm, "decimal"))
            @for (place, (name, hours)) in [("person-morning", morning), ("person-evening", evening)].into_iter().enumerate() {
                fieldset.pair {
                    legend { (ask.say(name)) }
                    @if let (Some(fields), Some(values)) = (WINDOWS.get(place), typed.windows.get(place)) {
                        @for ((field, value), say) in fields.iter().zip(values).zip(["person-from", "person-to"]) {
                            label { (ask.say(say)) " " input type="time" name=(field) value=(value); }
                        }
                    }
                    p.small { (usual(hours)) }
                }
            }
            label for="protocol" { (ask.say("person-protocol")) }
            select #protocol name="protocol" {
                @for protocol in known.protocols.iter() {
                    option value=(protocol.name) selected[protocol.name == typed.protocol] { (of_protocol(ask.words, &protocol.title)) }
                }
            }
            fieldset.pair {
                legend { (ask.say("person-threshold")) " (mmHg)" }
                @for ((field, value), say) in THRESHOLD.iter().zip(&typed.threshold).zip(["person-systolic", "person-diastolic"]) {
                    label { (ask.say(say)) " " input type="text" inputmode="decimal" size="5" name=(field) value=(value); }
                }
                p.small { (ask.say("person-threshold-say")) }
            }
            (target(ask, typed))
            fieldset.choice {
                legend { (ask.say("person-conditions")) }
                @for (name, condition) in CONDITIONS {
                    label {
                        input type="checkbox" name=(name) value="yes" checked[typed.conditions.contains(&condition)];
                        " " (ask.say(name))
                    }
                }
                p.small { (ask.say("person-conditions-say")) }
            }
            label for="gave-birth" { (ask.say("person-gave-birth")) }
            input #gave-birth type="date" name="gave-birth" value=(typed.gave_birth);
            p.small { (ask.say("person-gave-birth-say")) }
            fieldset.choice {
                legend { (ask.say("person-strict")) }
                label { input type="checkbox" name="strict" value="yes" checked[typed.strict]; " " (ask.say("person-strict-say")) }
            }
            button.accent type="submit" { (ask.say("person-save")) }
        }
    }
}

/// Where they belong, in the clinic's records and in the household; the groups that there are are offered.
fn belongs(ask: &Ask, known: &Stated, typed: &Typed) -> Markup {
    html! {
        label for="record-number" { (ask.say("person-record-number-ask")) }
        input #record-number name="record-number" type="text" maxlength=(LABEL_CHARS_MAX) autocomplete="off" value=(typed.record_number);
        label for="group" { (ask.say("person-group-ask")) }
        input #group name="group" type="text" list="groups" maxlength=(ID_CHARS_MAX) autocomplete="off"
            autocapitalize="none" value=(typed.group);
        datalist #groups { @for group in known.household.groups() { option value=(group) {} } }
    }
}

fn target(ask: &Ask, typed: &Typed) -> Markup {
    let says = [
        "person-systolic",
        "person-diastolic",
        "person-target-by",
        "person-target-source",
    ];
    html! {
        fieldset.pair {
            legend { (ask.say("person-target")) " (mmHg)" }
            @for (place, ((field, value), say)) in TARGET.iter().zip(&typed.target).zip(says).enumerate() {
                label {
                    (ask.say(say)) " "
                    @if place < 2 {
                        input type="text" inputmode="decimal" size="5" name=(field) value=(value);
                    } @else {
                        input type="text" maxlength=(LABEL_CHARS_MAX) autocomplete="off" name=(field) value=(value);
                    }
                }
            }
            p.small { (ask.say("person-target-say")) }
        }
    }
}

/// A number, as people write it.
fn field(name: &str, said: &str, value: &str, mode: &str) -> Markup {
    html! {
        label for=(name) { (said) }
        input id=(name) name=(name) type="text" inputmode=(mode) maxlength="10" autocomplete="off" value=(value);
    }
}
