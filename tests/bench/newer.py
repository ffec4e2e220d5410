"""Monitors of the Blood Pressure Service 1.1: what they measured stays with them, and is asked for by the Record Access
Control Point. Layouts as the GATT Specification Supplement has them; whether sequence number and UUID stand in each
segment is not settled there, so the monitor is given both ways."""
import asyncio
import datetime
import re
import struct

from bumble.att import ATT_Error, Attribute
from bumble.gatt import Characteristic, CharacteristicValue, Service

from bench import expect, scenario
from monitor import NEVER, PATIENT, Monitor

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


MOST = 2048             # segments and answers that are kept of one visit
QUIET = 20.0            # seconds without a question after which such a monitor leaves; a slow guest takes its time


async def _read(scene, monitor, count):
    """One visit, after which there are so many readings."""
    await monitor.visit(idle=QUIET)
    for _ in range(4 * PATIENT):
        readings = await scene.objects('readings --json')
        if len(readings) >= count:
            break
        await asyncio.sleep(0.25)
    expect(len(readings) == count, f'{len(readings)} readings of {count} records')
    return readings


async def _asked(scene, monitor, count):
    """One visit, after which everything that it keeps is a reading, once, and each segment is a frame."""
    readings = await _read(scene, monitor, count)
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
        for n in range(3 * MOST):
            if monitor.gone.is_set():
                break
            await monitor.device.notify_subscriber(link, monitor.record, bytes([n % 64 << 2 | 3]) + struct.pack('<HH', n, 0x2B34)
                                                   + bytes([0, 120, 0, 80, 0, 93, 0, n & 255, n >> 8]))
            if n % 4 == 0:                  # as fast as a link carries them
                await asyncio.sleep(0.02)
        return True

    honest, taken = await scene.enrolled(), 0
    await scene.daemon()
    for wrong, left in ((flipped, False), (busy, False), (elsewhere, True), (endless, True)):
        monitor = await scene.enrolled(kind=Keeper)
        monitor.honest, monitor.wrong, monitor.spoilt = False, wrong, False
        monitor.measure(3)
        visit = asyncio.create_task(monitor.visit(idle=120 if left else QUIET, patience=300))
        honest.store(2)
        expect(len((await honest.visit()).confirmed) == 2, f'{wrong.__name__}: the honest monitor was not served')
        if left:
            for _ in range(4 * 300):
                if visit.done() or monitor.visit_now.ended:
                    break
                await asyncio.sleep(0.25)
            expect(monitor.visit_now.ended, f'{wrong.__name__}: the link was not ended')
            monitor.dismissed.set()
        await visit
        frames = await scene.quietcuff(f'frames --json --monitor {monitor.address}', timeout=4 * PATIENT)
        stored = frames.out.count('"characteristic":"2b36"')
        expect(stored <= MOST, f'{wrong.__name__}: {stored} segments were kept')
        if not left:
            taken += 2 + len(monitor.records)
            await scene.one_reading_each(taken)
        scene.alive()
    await scene.kept()


@scenario
async def cannot_pair(scene):
    """A monitor that answers "pairing not supported": no passkey is blamed, nothing is added unasked, and where the
    person wants it without, it is added and heard."""
    monitor = await scene.monitor(pairing=NEVER)
    done = await scene.enrol(monitor, succeeds=False)
    expect(done.code == 77 and 'asked for no passkey' in done.text and '--no-pairing' in done.text,
           f'monitors add ended with {done.code}:\n{done.text}')
    expect(await scene.objects('monitors list --json') == [], 'a monitor is enrolled')
    await scene.enrol(monitor, how='--no-pairing')
    await scene.daemon()
    for _ in range(2):
        monitor.store(2)
        visit = await monitor.visit()
        expect(len(visit.confirmed) == 2, f'the monitor could send {len(visit.confirmed)} of 2 records')
    await scene.kept()


# ---- clocks

class WaitsForTime(Monitor):
    """It sends nothing before it is given the time: once in its life where its clock is unset, or on each connection."""
    each = False

    async def _business(self, *arguments):
        before = self.clock_writes
        while self.clock_writes == (before if self.each else 0):
            await asyncio.sleep(0.05)
        await super()._business(*arguments)


@scenario
async def waits_for_the_time(scene):
    """A monitor whose clock was never set sends nothing until it is; another wants the time on each connection, and gets
    it from its second visit on, for at the first nothing shows that it waits."""
    unset, each = await scene.enrolled(kind=WaitsForTime), await scene.enrolled(kind=WaitsForTime)
    each.each = True
    await scene.daemon()
    unset.clock_ahead = datetime.datetime(2000, 1, 1) - unset.now()
    unset.clock_writes = 0
    await asyncio.sleep(1)
    unset.store(2)
    visit = await unset.visit()
    expect(len(visit.confirmed) == 2, f'the one that was never set could send {len(visit.confirmed)} of 2')
    expect(abs(unset.clock_ahead.total_seconds() - scene.guest.ahead) < 5, f'its clock is {unset.clock_ahead} ahead')
    each.store(2)
    first = await each.visit(idle=QUIET)
    expect(not first.confirmed, 'it was given the time before anything showed that it waits')
    second = await each.visit()
    expect(len(second.confirmed) == 2, f'at its second visit it could send {len(second.confirmed)} of 2')
    each.store(1)
    third = await each.visit()
    expect(len(third.confirmed) == 1, 'at its third visit it was not given the time')
    await scene.kept()
    scene.alive()


class DeviceTimed(Monitor):
    """Its clock is a Device Time that says it is at fault, until a proposal of the time comes to its control point."""
    status, base, proposals = 0x11, 0, 0        # time fault; epoch 2000
    SERVICES = -1                               # no Current Time

    def _services(self, subscribable):
        P, A = Characteristic.Properties, Attribute.Permissions
        may = A.WRITEABLE | A.WRITE_REQUIRES_ENCRYPTION
        self.proposed = subscribable('2B91', P.WRITE | P.INDICATE, may, CharacteristicValue(write=self._propose))
        return [Service('1847', [
            Characteristic('2B8E', P.READ, A.READABLE, struct.pack('<H', 1 << 10)),
            Characteristic('2B90', P.READ, A.READABLE, CharacteristicValue(read=self._device_time)),
            self.proposed])]

    def _device_time(self, _link):
        return struct.pack('<IbBH', self.base, 0, 0, self.status)

    def _propose(self, link, value):
        self.log(f'{self.address} time proposed {value.hex()}')
        op, _flags, base, _zone, _dst, _source, _accuracy = struct.unpack('<BHIbBBB', value)
        self.base, self.status, self.proposals = base, 0x12, self.proposals + 1
        asyncio.get_running_loop().create_task(
            self.device.indicate_subscriber(link, self.proposed, bytes([0x09, op, 0x01])))


@scenario
async def device_time_is_set(scene):
    """A monitor of the Device Time Service whose clock says that it is at fault is given the time, once."""
    monitor = await scene.enrolled(kind=DeviceTimed)
    await scene.daemon()
    monitor.status, monitor.base, monitor.proposals = 0x11, 0, 0
    for _ in range(2):
        monitor.store(1)
        await monitor.visit(idle=QUIET)
    shown = EPOCH + datetime.timedelta(seconds=monitor.base)
    now = datetime.datetime.now(datetime.timezone.utc).replace(tzinfo=None)
    off = (shown - now).total_seconds() - scene.guest.ahead
    expect(monitor.proposals == 1, f'the time was proposed {monitor.proposals} times')
    expect(abs(off) < 90, f'its clock is {off:.0f} s off')
    await scene.kept()
    scene.alive()


# ---- generic health sensors

class HealthSensor(Monitor):
    """A Generic Health Sensor (0x1840) without a Blood Pressure service: its live observations are notified."""
    SERVICE, told = '1840', 0

    def advertise(self, names_service=True):
        super().advertise(names_service)
        self.device.advertising_data = self.device.advertising_data.replace(bytes.fromhex('1018'), bytes.fromhex('4018'))

    def _of_the_service(self, subscribable):
        P = Characteristic.Properties
        self.observations = subscribable('2B8B', P.NOTIFY)
        self.observations.on('subscription', lambda _link, notify, _indicate: self.may_send.set() if notify else None)
        return [self.observations]

    async def _business(self, visit, link, linger, *_):
        await self.may_send.wait()
        for n in range(3):
            self.told += 1
            await self.device.notify_subscriber(link, self.observations, bytes([n << 2 | 3, *range(12)]))
        await asyncio.sleep(linger)


@scenario
async def generic_health_sensor(scene):
    """It is found and named, paired like any other, and what it sends is kept as it came; no reading is made of it."""
    monitor = await scene.monitor(kind=HealthSensor)
    looked_for = asyncio.create_task(monitor.visit(idle=30))
    found = await scene.finds(monitor)
    expect('"generic_health_sensor":true' in found.out, f'monitors find does not name it:\n{found.text}')
    monitor.dismissed.set()
    await looked_for
    await scene.enrol(monitor)
    await scene.daemon()
    await monitor.visit(linger=3)
    for _ in range(PATIENT):
        frames = [f for f in await scene.objects('frames --json') if f['characteristic'] == '2b8b']
        if len(frames) == monitor.told:
            break
        await asyncio.sleep(0.25)
    # Those of its first meeting, while it was added, as well.
    expect(len(frames) == monitor.told >= 3, f'{len(frames)} of {monitor.told} observations were kept')
    expect(await scene.objects('readings --json') == [], 'a reading was made of it')
    scene.alive()


# ---- users

REGISTER, CONSENT, RESPONSE = 0x01, 0x02, 0x20
DONE, FULL, NOT_AUTHORIZED = 0x01, 0x04, 0x05
NOT_PERMITTED = 0x80    # User Data Service: User Data Access Not Permitted
CODES = {1: 4711, 2: 8053}
USERS_MAX = 3
UDS = 1 << 7            # of the Blood Pressure Feature


class OfUsers(Keeper):
    """A monitor with the User Data Service: it hands out the readings of the user who consented on this connection. What it
    indicates is of its user 1; records it keeps of each. `guards`: until somebody consented it refuses the subscription to
    its measurements as well."""
    FEATURE, guards = Keeper.FEATURE | UDS, True

    def __init__(self, *args, **habits):
        self.users, self.of, self.current, self.said = dict(CODES), {}, None, []
        self.consented = asyncio.Event()
        super().__init__(*args, **habits)

    def measure(self, user, count=1):
        self.records = self.of.setdefault(user, [])
        first = len(self.records)
        super().measure(count)
        for n in range(first, len(self.records)):       # the user stands behind flags, pressures, stamp and pulse
            record = bytearray(self.records[n])
            record[13], record[1] = user, record[1] + 10 * user
            self.records[n] = bytes(record)
        self.records = []

    def _services(self, subscribable):
        P, A = Characteristic.Properties, Attribute.Permissions
        self.user_control = subscribable('2A9F', P.WRITE | P.INDICATE, A.WRITEABLE | A.WRITE_REQUIRES_ENCRYPTION,
                                         CharacteristicValue(write=self._user_control))
        return [Service('181C', [
            Characteristic('2A99', P.READ, A.READABLE, struct.pack('<I', 7)),
            Characteristic('2A9A', P.READ, A.READABLE, CharacteristicValue(read=lambda _: bytes([self.current or 0xFF]))),
            self.user_control])]

    def _add_services(self):
        super()._add_services()
        subscription = self.measurements.descriptors[0].value
        takes = subscription.write

        def guarded(link, value):
            if self.guards and self.current is None and value != b'\0\0':
                self.log(f'{self.address} refuses the subscription')
                raise ATT_Error(NOT_PERMITTED)
            return takes(link, value)
        subscription.write = guarded

    def _on_connection(self, link):
        self.current, self.records = None, []
        self.consented.clear()
        super()._on_connection(link)

    def _user_control(self, link, value):
        self.log(f'{self.address} user control point {value.hex()}')
        self.said.append(value)
        asyncio.get_running_loop().create_task(self._let_in(link, value))

    async def _let_in(self, link, value):
        op, answer = value[0], bytes([NOT_AUTHORIZED])
        if op == REGISTER:
            user = max(self.users) + 1
            answer = bytes([FULL]) if len(self.users) >= USERS_MAX else bytes([DONE, user])
            if len(answer) > 1:
                self.users[user] = struct.unpack('<H', value[1:])[0]
        elif op == CONSENT:
            user, code = struct.unpack('<BH', value[1:])
            if self.users.get(user) == code:
                self.current, self.records, answer = user, self.of.get(user, []), bytes([DONE])
        await self.device.indicate_subscriber(link, self.user_control, bytes([RESPONSE, op]) + answer)
        if self.current == 1:
            self.consented.set()

    async def _business(self, *arguments):
        await self.consented.wait()
        await super()._business(*arguments)


async def _given(scene, user, code, how=''):
    """Somebody types a code."""
    return await scene.guest.run(f'echo {code} | quietcuff --state {scene.state} monitors consent m1 {user} {how}', PATIENT)


async def _until_said(scene, command, words):
    for _ in range(PATIENT):
        said = (await scene.quietcuff(command, code=None)).text
        # Lines end where the terminal does.
        if words in ' '.join(said.split()):
            return
        await asyncio.sleep(0.25)
    raise AssertionError(f'{command} does not say {words!r}:\n{said}')


@scenario
async def users_with_a_code(scene):
    """A monitor that refuses everything until one of its users consents: without a code, and with a wrong one, a person is
    told what to do and the code is tried once; with the right one its readings come, and with a second user's theirs."""
    monitor = await scene.enrolled(kind=OfUsers)
    daemon = await scene.daemon()
    expect(await scene.objects('readings --json') == [], 'it handed something out without a consent')
    monitor.store(2)
    monitor.measure(1, 3)
    monitor.measure(2, 2)
    await monitor.visit(idle=QUIET)
    expect(not monitor.said, f'without a code something was written: {monitor.said}')
    await _until_said(scene, 'status', 'before one of them consents with a code')
    await _until_said(scene, 'check', 'monitors consent m1 NUMBER')
    await _given(scene, 1, 4712)
    await monitor.visit(idle=QUIET)
    await monitor.visit(idle=QUIET)
    expect(len(monitor.said) == 1, f'a wrong code was given {len(monitor.said)} times')
    await _until_said(scene, 'status', 'does not accept the code of its user 1')
    await _given(scene, 1, CODES[1])
    await _read(scene, monitor, 5)
    await _until_said(scene, 'status', 'readings of its user 1, with consent')
    await _given(scene, 2, CODES[2])
    await scene.quietcuff('people add asha --user m1=1')
    await scene.quietcuff('people add ravi --user m1=2')
    readings = await _read(scene, monitor, 7)
    whose = [reading['person'] for reading in readings]
    expect(whose.count('asha') == 5 and whose.count('ravi') == 2, f'whose they are: {whose}')
    expect(all(value[0] == CONSENT for value in monitor.said), f'something else was written: {monitor.said}')
    told = daemon.text + (await scene.quietcuff('status --json')).out + (await scene.quietcuff('monitors list --json')).out
    # A part of a longer number, such as a second's fraction, is no code.
    expect(not any(re.search(rf'(?<!\d){code}(?!\d)', told) for code in CODES.values()), f'a code is printed:\n{told}')
    await scene.kept()
    scene.alive()
    return [f'the subscription was {"" if monitor.guards else "not "}refused']


@scenario
async def users_whose_subscription_stands(scene):
    """The same without a guard before the subscription: the code is given when the monitor is added, and at each visit."""
    monitor = await scene.monitor(kind=OfUsers)
    monitor.guards = False
    await scene.enrol(monitor, how=f'--consent 1={CODES[1]}')
    await scene.daemon()
    for count in (2, 4):
        monitor.store(2)
        await _read(scene, monitor, count)
    monitor.measure(1, 1)
    await _read(scene, monitor, 5)
    await scene.kept()
    scene.alive()


@scenario
async def registers_a_user(scene):
    """A person lets the monitor register a new user; the index that it gives is kept with the code, and given from then on."""
    monitor = await scene.enrolled(kind=OfUsers)
    await scene.daemon()
    await _given(scene, '', 1234, '--register')
    await monitor.visit(idle=QUIET)
    for _ in range(PATIENT):
        [kept] = await scene.objects('monitors consent m1 --json')
        if kept['users']:
            break
        await asyncio.sleep(0.25)
    expect(kept == {'id': 'm1', 'registers': False, 'users': [3]}, f'kept is {kept}')
    monitor.measure(3, 2)
    await _read(scene, monitor, 2)
    expect([value[0] for value in monitor.said].count(REGISTER) == 1, f'written was {monitor.said}')
    await _given(scene, '', 5678, '--register')
    await monitor.visit(idle=QUIET)
    await _until_said(scene, 'status', 'did not register a new user')
    scene.alive()
