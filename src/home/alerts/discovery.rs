//! What home automation has to know to show the states as entities, by the convention of "MQTT discovery": for each
//! entity one retained JSON object at `PREFIX/COMPONENT/NODE/OBJECT/config`, which names the topic of its state. An
//! empty retained message there takes the entity away. Source: home-assistant.io/integrations/mqtt, "MQTT Discovery".
//!
//! Every entity that there could be has a row at each look, `null` where it is not to be there: of a person who was
//! removed, a monitor that was forgotten, and of values where the configuration publishes none.

use super::look::Look;
use super::message::name_of;
use crate::monitoring::names;
use crate::words::{Words, one_line};
use serde_json::{Map, Value, json};
use std::collections::BTreeMap;

/// What begins every name that we give.
const OWN: &str = "quietcuff";
/// Where nothing is retained, or an empty word, there is no `value_json`, and the entity is not available.
const IS_THERE: &str = "{{ 'online' if value_json is defined else 'offline' }}";

/// How entities are announced.
#[derive(Clone, Copy, Debug)]
pub struct Discovery<'a> {
    /// The topic that hubs look below.
    pub prefix: &'a str,
    /// The topic that the states stand below.
    pub topic: &'a str,
    /// Whether values are published, and names beyond ids.
    pub readings: bool,
    /// This installation among others.
    pub household: i64,
    /// In which language entities are named.
    pub words: &'a Words,
}

/// One entity, apart from what all of a device share.
struct Entity {
    component: &'static str,
    object: &'static str,
    /// The message that names it.
    name: &'static str,
    /// The part of its state that it shows.
    field: &'static str,
    /// Below the state's topic.
    below: &'static str,
    more: Value,
}

impl Discovery<'_> {
    /// Every topic with its word; `null` takes it back.
    pub fn announced(&self, look: &Look) -> BTreeMap<String, Value> {
        let mut all = BTreeMap::new();
        let home = json!({ "identifiers": [self.own()], "name": OWN });
        let collector = Entity {
            component: "binary_sensor",
            object: "collector",
            name: "entity-collector",
            field: "state",
            below: "",
            more: json!({
                "device_class": "connectivity", "entity_category": "diagnostic",
                "payload_on": "listening", "payload_off": "deaf",
            }),
        };
        self.add(&mut all, &collector, ("", "collector"), Some(&home));
        let shown = names::shown(&look.stated.household);
        for (id, (_, removed)) in &look.stated.household.people {
            let label = shown.get(id).map(|label| one_line(label));
            let name = label.filter(|label| self.readings && !label.is_empty());
            let device = self.device("person", id.as_str(), &name.unwrap_or_else(|| id.to_string()));
            for entity in of_person() {
                let there = !removed && (self.readings || entity.below.is_empty());
                let of = format!("person/{id}");
                self.add(&mut all, &entity, (id.as_str(), &of), there.then_some(&device));
            }
        }
        for (id, (_, forgotten)) in &look.stated.household.monitors {
            // Its state is written once it was heard or enrolled.
            let known = look.monitors.iter().any(|heard| heard.monitor == *id);
            let name = self
                .words
                .with("entity-monitor", &[("monitor", id.as_str().into())]);
            let device = self.device("monitor", id.as_str(), &name);
            for entity in of_monitor() {
                let of = format!("monitor/{id}");
                let there = known && !forgotten;
                self.add(&mut all, &entity, (id.as_str(), &of), there.then_some(&device));
            }
        }
        all
    }

    /// The name of this home among others.
    fn own(&self) -> String {
        let name = name_of(self.household, "", "discovery");
        format!("{OWN}-{}", name.get(..12).unwrap_or_default())
    }

    fn device(&self, kind: &str, id: &str, name: &str) -> Value {
        let own = self.own();
        json!({
            "identifiers": [format!("{own}-{kind}-{}", self.plain(id))], "name": name, "via_device": own,
        })
    }

    fn add(
        &self,
        all: &mut BTreeMap<String, Value>,
        entity: &Entity,
        (id, state): (&str, &str),
        device: Option<&Value>,
    ) {
        let own = self.own();
        let kind = state.split('/').next().unwrap_or_default();
        let object = match id {
            "" => entity.object.to_owned(),
            id => format!("{kind}-{}-{}", self.plain(id), entity.object),
        };
        let at = format!("{}/{}/{own}/{object}/config", self.prefix, entity.component);
        let Some(device) = device else {
            all.insert(at, Value::Null);
            return;
        };
        let topic = format!("{}/{state}{}", self.topic, entity.below);
        let mut word = Map::new();
        for (key, value) in [
            ("name", json!(self.words.say(entity.name))),
            ("unique_id", json!(format!("{own}-{object}"))),
            (
                "value_template",
                json!(format!(
                    "{{{{ value_json.{} if value_json is defined else none }}}}",
                    entity.field
                )),
            ),
            ("availability_mode", json!("all")),
            (
                "availability",
                json!([
                    { "topic": format!("{}/availability", self.topic) },
                    { "topic": topic, "value_template": IS_THERE },
                ]),
            ),
            ("state_topic", json!(topic)),
            ("device", device.clone()),
            (
                "origin",
                json!({ "name": OWN, "sw_version": env!("CARGO_PKG_VERSION") }),
            ),
        ] {
            word.insert(key.to_owned(), value);
        }
        word.extend(entity.more.as_object().cloned().unwrap_or_default());
        all.insert(at, word.into());
    }

    /// An id as the convention allows it in a topic: Latin letters, digits, `-` and `_`. Another becomes a digest
    /// behind a `_`, with which no id begins.
    fn plain(&self, id: &str) -> String {
        if id.is_ascii() {
            return id.to_owned();
        }
        let digest = name_of(self.household, "discovery", id);
        format!("_{}", digest.get(..12).unwrap_or_default())
    }
}

/// The entities of a person; those of values have a topic of their own.
fn of_person() -> [Entity; 8] {
    let entity = |object, name, field, below, more| Entity {
        component: "sensor",
        object,
        name,
        field,
        below,
        more,
    };
    // No device class: that of pressure is the air's, which hubs turn into other units.
    let number = |unit, digits| json!({ "unit_of_measurement": unit, "state_class": "measurement", "suggested_display_precision": digits });
    let (reading, average) = ("/reading", "/average");
    [
        entity(
            "systolic",
            "entity-systolic",
            "systolic_mmhg",
            reading,
            number("mmHg", 0),
        ),
        entity(
            "diastolic",
            "entity-diastolic",
            "diastolic_mmhg",
            reading,
            number("mmHg", 0),
        ),
        entity("pulse", "entity-pulse", "pulse_rate", reading, number("/min", 0)),
        entity(
            "measured-at",
            "entity-measured-at",
            "measured_at",
            reading,
            json!({ "device_class": "timestamp" }),
        ),
        entity(
            "average-systolic",
            "entity-average-systolic",
            "systolic",
            average,
            number("mmHg", 1),
        ),
        entity(
            "average-diastolic",
            "entity-average-diastolic",
            "diastolic",
            average,
            number("mmHg", 1),
        ),
        entity(
            "session",
            "entity-session",
            "session",
            "",
            json!({ "device_class": "enum", "options": ["none", "due", "half-done", "missed"] }),
        ),
        Entity {
            component: "binary_sensor",
            object: "urgent",
            name: "entity-urgent",
            field: "urgent",
            below: "",
            more: json!({ "device_class": "problem", "payload_on": "True", "payload_off": "False" }),
        },
    ]
}

fn of_monitor() -> [Entity; 2] {
    let entity = |object, name, field, more| Entity {
        component: "sensor",
        object,
        name,
        field,
        below: "",
        more,
    };
    [
        entity(
            "battery",
            "entity-battery",
            "battery_percent",
            json!({
                "device_class": "battery", "unit_of_measurement": "%", "state_class": "measurement",
                "entity_category": "diagnostic",
            }),
        ),
        entity(
            "last-heard",
            "entity-last-heard",
            "last_heard",
            json!({ "device_class": "timestamp", "entity_category": "diagnostic" }),
        ),
    ]
}
