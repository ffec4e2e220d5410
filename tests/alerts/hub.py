"""What a home-automation hub makes of what is retained at a broker:  hub.py PREFIX  <{"TOPIC": "WORD", …}

Each word below PREFIX goes through that hub's own code: the pattern of its topics, the schema of its component, the
table of device classes with their units, and its template engine over the states. Prints one JSON object an entity:
what it is called, of which device, its state and whether it is available. Fails where the hub would refuse a word, or
would leave out a part of it without a word.
"""
import asyncio
import json
import sys
import tempfile

from homeassistant.components.mqtt import binary_sensor, sensor
from homeassistant.components.mqtt.discovery import TOPIC_MATCHER
from homeassistant.components.sensor.const import DEVICE_CLASS_STATE_CLASSES, DEVICE_CLASS_UNITS
from homeassistant.core import HomeAssistant
from homeassistant.helpers.template import Template, attach
from homeassistant.util import dt

SCHEMAS = {"sensor": sensor.DISCOVERY_SCHEMA, "binary_sensor": binary_sensor.DISCOVERY_SCHEMA}


def plain(value):
    """A value that the schema made, as JSON has it."""
    if isinstance(value, Template):
        return value.template
    if isinstance(value, dict):
        return {str(key): plain(part) for key, part in value.items()}
    if isinstance(value, list):
        return [plain(part) for part in value]
    return getattr(value, "value", value)


def lost(ours, theirs, at):
    """The parts of what we wrote that the hub does not take."""
    if isinstance(ours, dict):
        gone = [f"{at}.{key}" for key in ours if key not in theirs]
        return gone + [part for key in ours if key in theirs for part in lost(ours[key], theirs[key], f"{at}.{key}")]
    if isinstance(ours, list):
        return [part for one, other in zip(ours, theirs, strict=True) for part in lost(one, other, at)]
    return [] if ours == theirs else [f"{at}: {ours!r} became {theirs!r}"]


def rendered(template, word):
    return str(template.async_render_with_possible_json_value(word, "ERROR"))


def checked(component, config, state):
    """A state as the kind of entity wants it."""
    kind = config.get("device_class")
    if component == "binary_sensor":
        return {config["payload_on"]: "on", config["payload_off"]: "off"}[state]
    if kind == "timestamp":
        return dt.parse_datetime(state).isoformat()
    if kind == "enum":
        assert state in config["options"], state
        return state
    return None if state == "None" else float(state)


async def main(folder):
    hub = HomeAssistant(folder)
    prefix, retained = sys.argv[1] + "/", json.load(sys.stdin)
    for topic, word in sorted(retained.items()):
        if not topic.startswith(prefix):
            continue
        found = TOPIC_MATCHER.match(topic.removeprefix(prefix))
        assert found, f"{topic} is no topic of the convention"
        component, ours = found.group("component"), json.loads(word)
        theirs = SCHEMAS[component](json.loads(word))
        attach(hub, theirs)
        # This version of the schema is older than the list of an enumeration's words, and leaves that out.
        known = {key: value for key, value in ours.items() if key != "options"}
        assert not lost(known, plain(theirs), topic), lost(known, plain(theirs), topic)
        kind, unit = theirs.get("device_class"), theirs.get("unit_of_measurement")
        if component == "sensor" and kind is not None:
            assert unit in DEVICE_CLASS_UNITS.get(kind, {None}), (topic, unit)
            classes = DEVICE_CLASS_STATE_CLASSES.get(kind, set())
            assert theirs.get("state_class") is None or theirs["state_class"] in classes, topic
        available = True
        for one in theirs["availability"]:
            said = retained.get(one["topic"], "")
            if "value_template" in one:
                said = rendered(one["value_template"], said)
            available &= said == one["payload_available"]
        state = None
        if available:
            state = checked(component, ours, rendered(theirs["value_template"], retained[theirs["state_topic"]]))
        else:
            assert rendered(theirs["value_template"], "") == "None", topic
        print(json.dumps({
            "id": theirs["unique_id"], "component": component, "name": theirs["name"], "unit": unit,
            "device": theirs["device"]["name"], "state": state, "available": available,
        }))
    await hub.async_stop(force=True)


with tempfile.TemporaryDirectory() as empty:
    asyncio.run(main(empty))
