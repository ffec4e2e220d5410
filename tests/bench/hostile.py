"""What the bench asks when a monitor, or somebody who pretends to be one, means harm. Beside it an honest monitor is
served all the same; the daemon and the second ear stay up, and within the memory that is named here."""
import asyncio
import random
import struct

from bumble import hci
from bumble.core import AdvertisingData, UUID
from bumble.gatt import Characteristic, Service

from bench import expect, scenario, until
from monitor import PATIENT, Monitor, measurement
from scenarios import AT_ONCE, all_sent

GROWTH = 6 * 1024       # kB of resident memory that an attack may cost the daemon or the ear; a debug build's code included
NASTY = '\x1b]0;owned\x07\x1b[2J\r\n\u202eeveil'      # sets the title, clears the screen, begins a line, turns the text round
FLOOD = 1000            # values at once; a real link carries a few hundred a second
STRANGERS = 1000        # addresses, in ten seconds


class Hostile(Monitor):
    """A monitor that is enrolled like any other, and then does what `attack(monitor, link)` says instead of sending
    what it measured."""
    honest = False
    attack = None

    async def _business(self, visit, link, linger, *_):
        await self.may_send.wait()
        if self.attack:
            await self.attack(self, link)
        await asyncio.sleep(linger)

    def pdu(self, link, opcode, handle, value):
        self.device.gatt_server.send_gatt_pdu(link, struct.pack('<BH', opcode, handle) + value)

    def notify(self, link, handle, value):
        self.pdu(link, 0x1B, handle, value)

    def indicate(self, link, handle, value):
        """Without waiting for the confirmation of the one before."""
        self.pdu(link, 0x1D, handle, value)


async def _beside(scene, attack):
    """Enrols an honest monitor and a hostile one, lets the attack run while the honest one is served, and once more
    after it. Returns what it cost."""
    honest = await scene.enrolled()
    hostile = await scene.enrolled(kind=Hostile)
    daemon = await scene.daemon()
    honest.store(2)
    all_sent(await honest.visit(linger=AT_ONCE), 2)
    watched = {'quietcuff run': daemon, 'quietcuff overhear': scene.ear}
    before = {name: sum_of(await scene.guest.resident(process)) for name, process in watched.items() if process}
    hostile.attack = attack
    visit = asyncio.create_task(hostile.visit(linger=AT_ONCE))
    await _served(honest, 3)
    await visit
    await _served(honest, 2)
    await scene.kept()
    scene.alive()
    told = []
    for name, process in watched.items():
        if not process:
            continue
        after = sum_of(await scene.guest.resident(process))
        told.append(f'{name}: resident {before[name]} kB before, {after} kB after')
        expect(after - before[name] <= GROWTH, told[-1])
    spotless(daemon.text, 'the log of quietcuff run')
    if scene.ear:
        spotless(scene.ear.text, 'the log of quietcuff overhear')
    return told, hostile, visit.result()


async def _served(honest, count):
    """It gets rid of what it measured, if not at once then when it tries again, as a monitor does."""
    honest.store(count)
    for _ in range(3):
        await honest.visit(linger=AT_ONCE)
        if not honest.memory:
            return
    expect(False, f'the honest monitor still has {len(honest.memory)} of {count}')


def sum_of(resident):
    return next(iter(resident))


def spotless(text, what):
    """No control character and no change of direction: nothing that a terminal would obey. JSON is for programs: it has
    no control characters by its own rules, and keeps a name exactly."""
    turning = '' if '--json' in what else '\u202a\u202b\u202d\u202e\u2066\u2067'
    found = {c for c in text if (ord(c) < 32 and c not in '\n\t') or 0x7f <= ord(c) < 0xa0 or c in turning}
    expect(not found, f'{what} holds {sorted(map(hex, map(ord, found)))}:\n{text!r}')


@scenario
async def hostile_flood(scene):
    """A thousand cuff pressures and a hundred indications that wait for no confirmation."""
    async def attack(monitor, link):
        for n in range(FLOOD):
            monitor.notify(link, monitor.cuff_pressure.handle, struct.pack('<BHHH', 0, n % 300, 0x07FF, 0x07FF))
            if n % 10 == 0:
                monitor.indicate(link, monitor.measurements.handle, measurement(120 + n % 80, 80, 93, 60, monitor.now(), user=n % 7))
                await asyncio.sleep(0.005)
    told, hostile, visit = await _beside(scene, attack)
    expect(visit.connected, 'the hostile monitor was not connected to')
    frames = await scene.objects(f'frames --json --monitor {hostile.address}')
    return told + [f'{len(frames)} frames of the flood were kept']


@scenario
async def hostile_values(scene):
    """Values of every length up to the longest that the air allows, at handles that are none of a monitor's business, and
    packets that are no protocol."""
    async def attack(monitor, link):
        chance = random.Random(3)
        mine = monitor.measurements.handle
        for size in (0, 1, 6, 7, 19, 20, 200, 511, 512, 513, 514):
            for make in (bytes, chance.randbytes):
                monitor.indicate(link, mine, make(size))
                await asyncio.sleep(0.05)
        good = measurement(199, 99, 133, 60, monitor.now())
        for handle in (0, 1, mine - 1, mine + 1, monitor.cuff_pressure.handle, 0x7FFF, 0xFFFF):
            for send in (monitor.indicate, monitor.notify):
                send(link, handle, good)
                await asyncio.sleep(0.05)
        for opcode in (0x00, 0x01, 0x05, 0x09, 0x0B, 0x11, 0x17, 0x1E, 0x23, 0x52, 0x7F, 0xD2, 0xFF):
            for size in (0, 1, 2, 30):
                monitor.device.gatt_server.send_gatt_pdu(link, bytes([opcode]) + chance.randbytes(size))
                await asyncio.sleep(0.01)
    told, hostile, _ = await _beside(scene, attack)
    frames = await scene.objects(f'frames --json --monitor {hostile.address}')
    expect(all(len(f['value']) <= 2 * 512 for f in frames), 'a value longer than the protocol allows was kept')
    misread = [f for f in frames if f.get('overheard') and f['value'].startswith('1ec700')]
    expect(not misread, f'the ear took a value from a wrong handle: {misread}')
    return told


@scenario
async def hostile_names(scene):
    """A monitor whose name and description are commands to a terminal: they are shown, never obeyed."""
    honest = await scene.enrolled()
    hostile = await scene.monitor(kind=Hostile, name=NASTY, maker=NASTY.encode() * 8)
    looked_for = asyncio.create_task(hostile.visit(idle=30))
    spotless((await scene.finds(hostile)).text, 'monitors find --json')
    spotless((await scene.quietcuff('monitors find --seconds 2')).text, 'monitors find')
    hostile.dismissed.set()
    await looked_for
    spotless((await scene.enrol(hostile)).text, 'monitors add --json')
    daemon = await scene.daemon()
    await hostile.visit(linger=2)
    honest.store(2)
    all_sent(await honest.visit(), 2)
    await scene.kept()
    for command in ('monitors list', 'monitors list --json', 'status', 'check', 'frames', 'frames --json', 'readings'):
        spotless((await scene.quietcuff(command)).text, command)
    spotless(daemon.text, 'the log of quietcuff run')


@scenario
async def hostile_services(scene):
    """A monitor moves its services between visits, so that every handle means something else."""
    honest = await scene.enrolled()
    moving = await scene.enrolled(remembers=False)
    await scene.daemon()
    handles = []
    for number in range(4):
        moving.store(2)
        all_sent(await moving.visit(), 2)
        honest.store()
        all_sent(await honest.visit(linger=AT_ONCE), 1)
        handles.append(moving.measurements.handle)
        moving.move(Service(f'FFF{number}', [Characteristic(f'FF{number}{i}', Characteristic.Properties.READ,
                                                             Characteristic.Permissions.READABLE, b'') for i in range(number + 1)]))
    expect(len(set(handles)) == 4, 'the bench did not move the handles')
    await scene.kept()
    scene.alive()
    return [f'the measurement stood at the handles {", ".join(map(str, handles))}']


@scenario
async def hostile_silence(scene):
    """A monitor that connects, and then answers nothing at all."""
    async def attack(_monitor, _link):
        await asyncio.sleep(20)

    honest = await scene.enrolled(remembers=False)
    mute = await scene.enrolled(kind=Hostile, remembers=False)
    await scene.daemon()
    mute.device.gatt_server.on_gatt_pdu = lambda *_: None
    mute.attack = attack
    visit = asyncio.create_task(mute.visit())
    expect(await until(lambda: mute.visit_now and mute.visit_now.connected, PATIENT), 'the mute monitor was not connected to')
    for _ in range(3):
        honest.store()
        all_sent(await honest.visit(linger=AT_ONCE), 1)
    mute.dismissed.set()
    await visit
    await asyncio.sleep(1)
    crashed = await scene.guest.revive()        # as in bond_deleted_on_the_monitor
    honest.store()
    all_sent(await honest.visit(linger=AT_ONCE), 1)
    await scene.kept()
    scene.alive()
    return ['known limit: the kernel took bluetoothd down when it hung up (hci_chan_del)'] * crashed


async def crowd(scene, chance, then=None):
    """A thousand strangers advertise; after a third of them, `then` happens beside. How many were listened to."""
    report = hci.HCI_LE_Advertising_Report_Event
    sent = 0
    for n in range(STRANGERS):
        data = bytes(AdvertisingData([
            (AdvertisingData.FLAGS, b'\x06'),
            (AdvertisingData.INCOMPLETE_LIST_OF_16_BIT_SERVICE_CLASS_UUIDS, bytes(UUID('1810'))),
            (AdvertisingData.SHORTENED_LOCAL_NAME, NASTY.encode()[:20])]))
        address = hci.Address(bytes([*chance.randbytes(5), 0xC0 | n & 0x3F]), hci.Address.RANDOM_DEVICE_ADDRESS)
        if scene.guest.adapter.le_scan_enable:
            sent += 1
            scene.guest.adapter.send_hci_packet(report([report.Report(
                event_type=report.EventType.ADV_IND, address_type=address.address_type, address=address, data=data,
                rssi=-70)]))
        if then and n == STRANGERS // 3:
            then()
        await asyncio.sleep(0.01)
    return sent


@scenario
async def hostile_advertisers(scene):
    """A thousand addresses advertise a blood pressure service and names that are commands to a terminal, then others:
    the first cost the daemon memory, the others next to none."""
    honest = await scene.enrolled()
    daemon = await scene.daemon()
    honest.store()
    all_sent(await honest.visit(linger=AT_ONCE), 1)
    chance = random.Random(5)
    visits = []

    def visit():
        honest.store(2)
        visits.append(asyncio.create_task(honest.visit(linger=AT_ONCE)))

    async def resident():
        return [sum_of(await scene.guest.resident(one)) for one in (daemon, scene.guest.bluetoothd)]

    sizes = [await resident()]
    sent = await crowd(scene, chance, visit)
    await visits[0]
    await _served(honest, 2)
    await scene.kept()
    sizes.append(await resident())
    sent += await crowd(scene, chance)
    scene.alive()
    sizes.append(await resident())
    ours, theirs = (' then '.join(map(str, of)) for of in zip(*sizes))
    told = f'{sent} advertisements heard; quietcuff run: resident {ours} kB; bluetoothd: {theirs} kB'
    expect(sent > STRANGERS // 5, f'the bench flooded nobody: {told}')
    (before, _), (first, _), (second, _) = sizes
    expect(first - before <= GROWTH and second - first <= GROWTH // 4, told)
    spotless(daemon.text, 'the log of quietcuff run')
    return [told]
