"""Reads a calendar with the package icalendar, which knows nothing of the program that wrote it:  ics.py FILE

Prints one object a line for each event; errors that the parser notes end the run.
"""
import json
import sys

from icalendar import Calendar

with open(sys.argv[1], "rb") as file:
    calendar = Calendar.from_ical(file.read())
assert calendar["VERSION"] == "2.0" and calendar["PRODID"]
for event in calendar.walk("VEVENT"):
    assert not event.errors, event.errors
    start, end = event.decoded("DTSTART"), event.decoded("DTEND")
    alarms = [[str(alarm["ACTION"]), alarm.decoded("TRIGGER").total_seconds()] for alarm in event.walk("VALARM")]
    print(json.dumps({
        "uid": str(event["UID"]),
        "stamp": event.decoded("DTSTAMP").isoformat(),
        "start": start.isoformat(),
        "minutes": (end - start).total_seconds() / 60,
        "summary": str(event["SUMMARY"]),
        "alarms": alarms,
    }))
