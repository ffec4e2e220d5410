"""The rules of rules.json by the Python package fhirpathpy: one resource a line on standard input, the keys of the rules
that it breaks as a JSON list a line on standard output."""

import json
import sys
from decimal import Decimal
from pathlib import Path

import fhirpathpy
from fhirpathpy.models import models

R4 = models["r4"]
RULES = [
    (rule["key"], fhirpathpy.compile(rule["applies"], R4), fhirpathpy.compile(rule["expr"], R4))
    for rule in json.loads(Path(__file__).with_name("rules.json").read_text())["rules"]
]


def broken(resource):
    for key, applies, expr in RULES:
        try:
            if applies(resource) == [True] and expr(resource) != [True]:
                yield key
        except Exception:  # what cannot be evaluated does not hold
            yield key


out, sys.stdout = sys.stdout, sys.stderr  # the engine prints what it traces
for line in sys.stdin:
    print(json.dumps(list(broken(json.loads(line, parse_float=Decimal)))), file=out)
