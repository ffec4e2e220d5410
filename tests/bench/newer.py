"""Monitors of the Blood Pressure Service 1.1: what they measured stays with them, and is asked for by the Record Access
Control Point. Layouts as the GATT Specification Supplement has them; whether sequence number and UUID stand in each
segment is not settled there, so the monitor is given both ways."""
import asyncio
import datetime
import struct

from bumble.att import ATT_Error, Attribute
from bumble.gatt import Characteristic, CharacteristicValue

from bench import expect, scenario
from monitor import PATIENT, Monitor

EPOCH = datetime.datetime(2000, 1, 1)
REPORT, ABORT, COUNT = 0x01, 0x03, 0x04
ALL, NEWEST = 0x01, 0x06
SUCCESS, NO_RECORDS, BUSY = 0x01, 0x06, 0x0A
E2E_CRC = 1 << 6


def crc16(octets):
    """CRC-16/MCRF4XX, bit by bit from its definition: reflected 0x1021, from 0xFFFF."""
    register = 0xFFFF
    for octet in octets:
        for place in range(8):
            bit = (octet >> place ^ register) & 1
            register >>= 1
            if bit:
                register ^= 0x8408
    return register


def enhanced(systolic, diastolic, mean, pulse, stamp, user):
    """A 0x2B34 value in mmHg, seconds from 2000, with pulse, user, status and the time that is shown: 20 octets."""
    seconds = int((stamp - EPOCH).total_seconds())
    return struct.pack('<BHHHIHBHI', 0x7E, systolic, diastolic, mean, seconds, pulse, user, 0, seconds)


class Keeper(Monitor):
    """Nothing is indicated: `records` wait until they are asked for. `repeats` puts sequence and UUID into each segment.

    `wrong(monitor, request)` may answer in its place; it says whether it did."""
    FEATURE = Monitor.FEATURE | E2E_CRC
    size, repeats, wrong = 14, False, None

    def __init__(self, *args, **habits):
        self.records, self.requests, self.told, self.counter = [], [], [], 0
        super().__init__(*args, **habits)

    def _more(self, subscribable):
        P, A = Characteristic.Properties, Attribute.Permissions
        self.record = subscribable('2B36', P.NOTIFY)
        self.control = subscribable('2A52', P.WRITE | P.INDICATE, A.WRITEABLE | A.WRITE_REQUIRES_ENCRYPTION,
                                    CharacteristicValue(write=self._requested))
        return [self.record, self.control]

    def measure(self, count=1):
        """Keeps `count` new records to itself."""
        now = self.now()
        for i in range(count):
            n = len(self.records)
            stamp = now - datetime.timedelta(minutes=count - i)
            self.records.append(enhanced(118 + n % 40, 74 + n % 15, 88 + n % 20, 60 + n % 25, stamp, user=1))

    def segments(self, number):
        name = struct.pack('<HH', number, 0x2B34)
        value, parts = self.records[number] + b'\0\0', []
        while value or not parts:
            head = name if self.repeats or not parts else b''
            room = self.size - len(head)
            parts.append((head, value[:room]))
            value = value[room:]
        headers = [(self.counter + i) % 64 << 2 | (i == 0) | (i == len(parts) - 1) << 1 for i in range(len(parts))]
        self.counter = (self.counter + len(parts)) % 64
        # The checksum covers every octet but its own two, which may lie in two segments.
        whole = b''.join(bytes([h]) + head + part for h, (head, part) in zip(headers, parts))
        own, places, at = 2, [], len(whole)
        for head, part in reversed(parts):
            take = min(own, len(part))
            places += [at - 1 - i for i in range(take)]
            own, at = own - take, at - 1 - len(head) - len(part)
        crc = crc16(octet for i, octet in enumerate(whole) if i not in places)
        whole = bytearray(whole)
        whole[places[0]], whole[places[1]] = crc >> 8, crc & 0xFF
        cut = []
        for head, part in parts:
            length = 1 + len(head) + len(part)
            cut.append(bytes(whole[:length]))
            whole = whole[length:]
        return cut

    def _requested(self, link, value):
        self.log(f'{self.address} control point {value.hex()}')
        self.requests.append(value)
        asyncio.get_running_loop().create_task(self._procedure(link, value))

    async def _procedure(self, link, value):
        if self.wrong and await self.wrong(self, link, value):
            return
        op, which = value[0], value[1]
        if op == COUNT:
            return await self.answers(link, struct.pack('<BBH', 0x05, 0, len(self.records)))
        if op == REPORT:
            chosen = range(len(self.records)) if which == ALL else range(len(self.records))[-1:]
            for number in chosen:
                for segment in self.segments(number):
                    await self.sends(link, segment)
            return await self.answers(link, bytes([0x06, 0, op, SUCCESS if chosen else NO_RECORDS]))
        return await self.answers(link, bytes([0x06, 0, op, SUCCESS]))

    async def sends(self, link, segment):
        self.told.append(segment)
        await self.device.notify_subscriber(link, self.record, segment)
        await asyncio.sleep(0.005)

    async def answers(self, link, value):
        self.log(f'{self.address} answers {value.hex()}')
        await self.device.indicate_subscriber(link, self.control, value)


QUIET = 8.0             # seconds without a question after which such a monitor leaves; a slow guest takes its time


async def _asked(scene, monitor, count):
    """One visit, after which everything that it keeps is a reading, once, and each segment is a frame."""
    await monitor.visit(idle=QUIET)
    for _ in range(4 * PATIENT):
        readings = await scene.objects('readings --json')
        if len(readings) >= count:
            break
        await asyncio.sleep(0.25)
    expect(len(readings) == count, f'{len(readings)} readings of {count} records')
    stored = [f['value'].lower() for f in await scene.objects('frames --json') if f['characteristic'] == '2b36']
    missing = {segment.hex() for segment in monitor.told} - set(stored)
    expect(not missing, f'{len(missing)} segments are no frames')


@scenario
async def records_that_stay(scene):
    """A monitor that keeps its records until it is asked, and hands them out in segments: each becomes one reading, and
    the next time only what is new is asked for. Nothing is deleted on it."""
    monitor = await scene.enrolled(kind=Keeper)
    await scene.daemon()
    monitor.measure(5)
    await _asked(scene, monitor, 5)
    expect(bytes([REPORT, ALL]) in monitor.requests, f'it was asked {monitor.requests}')
    before = len(monitor.requests)
    await _asked(scene, monitor, 5)
    expect(bytes([REPORT, ALL]) not in monitor.requests[before:], 'all were asked for again though nothing was new')
    monitor.measure(2)
    monitor.repeats = True
    await _asked(scene, monitor, 7)
    expect(all(request[0] != 0x02 for request in monitor.requests), 'records were deleted on the monitor')
    scene.alive()
    return [f'asked {" ".join(request.hex() for request in monitor.requests)}']


@scenario
async def hostile_records(scene):
    """Records that come broken, answers to something else, a monitor that is busy or silent, and segments without end:
    each has its limit, and an honest monitor is served meanwhile."""
    async def flipped(monitor, link, value):
        if value[0] != REPORT or monitor.spoilt:
            return False
        monitor.spoilt = True
        segments = [s for number in range(len(monitor.records)) for s in monitor.segments(number)]
        segments[1] = segments[1][:-1] + bytes([segments[1][-1] ^ 1])      # its checksum is wrong
        del segments[-2]                                                    # a gap
        for segment in segments:
            await monitor.sends(link, segment)
        await monitor.answers(link, bytes([0x06, 0, REPORT, SUCCESS]))
        return True

    async def busy(monitor, link, value):
        if monitor.spoilt:
            return False
        monitor.spoilt = True
        await monitor.answers(link, bytes([0x06, 0, value[0], BUSY]))
        return True

    async def elsewhere(monitor, link, value):
        for _ in range(20):
            await monitor.answers(link, bytes([0x06, 0, 0x02, SUCCESS]))
        return True

    async def endless(monitor, link, value):
        if value[0] != REPORT:
            return False
        for n in range(20_000):
            await monitor.device.notify_subscriber(link, monitor.record, bytes([n % 64 << 2 | 3]) + struct.pack('<HH', n, 0x2B34)
                                                   + bytes([0, 120, 0, 80, 0, 93, 0, n & 255, n >> 8]))
            if n % 20 == 0:
                await asyncio.sleep(0.02)
        return True

    honest, taken = await scene.enrolled(), 0
    await scene.daemon()
    for wrong, left in ((flipped, False), (busy, False), (elsewhere, True), (endless, True)):
        monitor = await scene.enrolled(kind=Keeper)
        monitor.honest, monitor.wrong, monitor.spoilt = False, wrong, False
        monitor.measure(3)
        visit = asyncio.create_task(monitor.visit(idle=120 if left else QUIET))
        honest.store(2)
        expect(len((await honest.visit()).confirmed) == 2, f'{wrong.__name__}: the honest monitor was not served')
        if left:
            for _ in range(4 * 120):
                if visit.done() or monitor.visit_now.ended:
                    break
                await asyncio.sleep(0.25)
            expect(monitor.visit_now.ended, f'{wrong.__name__}: the link was not ended')
            monitor.dismissed.set()
        await visit
        frames = await scene.objects(f'frames --json --monitor {monitor.address}')
        stored = [f for f in frames if f['characteristic'] == '2b36']
        expect(len(stored) <= 4096, f'{wrong.__name__}: {len(stored)} segments were kept')
        if not left:
            taken += 2 + len(monitor.records)
            await scene.one_reading_each(taken)
        scene.alive()
    await scene.kept()
