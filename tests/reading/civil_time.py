"""The household's wall clock by Python's zoneinfo: the oracle for civil_time.rs.

Reads lines `civil ZONE YYYY-MM-DDTHH:MM:SS` and `moment ZONE SECONDS`. Writes for the first
`once T`, `twice T T` or `never T` in seconds since 1970, for the second the offset from UTC in seconds.
PEP 495 says how a gap and a fold are told: https://peps.python.org/pep-0495/
"""

import sys
from datetime import datetime, timezone
from functools import cache
from zoneinfo import ZoneInfo

zone = cache(ZoneInfo)


def civil(name, text):
    naive = datetime.fromisoformat(text)
    first, second = (naive.replace(tzinfo=zone(name), fold=fold) for fold in (0, 1))
    moments = [int(moment.timestamp()) for moment in (first, second)]
    back = first.astimezone(timezone.utc).astimezone(zone(name)).replace(tzinfo=None)
    if back != naive:
        return f"never {moments[0]}"
    if moments[0] == moments[1]:
        return f"once {moments[0]}"
    return f"twice {moments[0]} {moments[1]}"


def moment(name, text):
    at = datetime.fromtimestamp(int(text), zone(name))
    return str(int(at.utcoffset().total_seconds()))


for line in sys.stdin:
    kind, name, text = line.split()
    print(civil(name, text) if kind == "civil" else moment(name, text))
