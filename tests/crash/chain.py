"""The digests of a journal made again, by Python's own SQLite and SHA-256: prints the last one."""
import hashlib
import sqlite3
import struct
import sys

COLUMNS = {
    'frame': 'id, received_us, offset_s, boot, uptime_us, given_to, monitor, connection, characteristic, value, overheard',
    'statement': 'id, stated_us, body',
    'gateway_clock': 'id, boot, uptime_us, wall_us, synchronized',
}


def part(value):
    if value is None:
        kind, octets = 0, b''
    elif isinstance(value, int):
        kind, octets = 1, struct.pack('<q', value)
    elif isinstance(value, str):
        kind, octets = 3, value.encode()
    else:
        kind, octets = 4, value
    return bytes([kind]) + struct.pack('<Q', len(octets)) + octets


db = sqlite3.connect(sys.argv[1])
before, rows = bytes(32), 0
for of, first, marks in db.execute('SELECT of, first, marks FROM link ORDER BY id'):
    link = hashlib.sha256(before + of.encode() + struct.pack('<q', first))
    for place in range(len(marks) // 8):
        row = db.execute(f'SELECT {COLUMNS[of]} FROM {of} WHERE id = ?', (first + place,)).fetchone()
        link.update(hashlib.sha256(b''.join(map(part, row))).digest())
        rows += 1
    before = link.digest()
print(before.hex(), rows)
