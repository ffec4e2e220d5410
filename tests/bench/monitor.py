"""A virtual blood pressure monitor: bumble's host and GATT server with the habits of a real cuff.

It advertises when it has something to say (`visit`), is connected to, sends what it has stored as indications, and hangs
up. It keeps account of every indication: `sent`, and `confirmed` when the confirmation has come back, each with the
time. What was confirmed and is not in the journal is lost for good, for a real monitor deletes it then.

All measured values are invented.
"""
import asyncio
import dataclasses
import datetime
import secrets
import struct
import time

from bumble import hci
from bumble.att import ATT_Error, Attribute
from bumble.core import AdvertisingData, UUID
from bumble.device import Device, DeviceConfiguration, Peer
from bumble.gatt import (GATT_CLIENT_CHARACTERISTIC_CONFIGURATION_DESCRIPTOR, Characteristic, CharacteristicDeclaration,
                         CharacteristicValue, Descriptor, Service)
from bumble.host import Host
from bumble.keys import MemoryKeyStore
from bumble.pairing import PairingConfig, PairingDelegate
from bumble.transport.common import AsyncPipeSink

from air import RadioController

# How a monitor is paired, from the standard's input and output capabilities.
OPEN, JUST_WORKS, PASSKEY = 'open', 'just-works', 'passkey'
NEVER = 'never'         # refuses: Pairing Not Supported

APPEARANCE_ARM_CUFF = 0x0381        # Assigned Numbers: category 14 (blood pressure), 1 = arm
PATIENT = 90            # seconds to wait for what will come: a slow machine takes its time, and only what never comes takes this
INDICATE = b'\x02\x00'              # CCCD value


def measurement(systolic, diastolic, mean, pulse, stamp, user=1, status=0):
    """A 0x2A35 value in mmHg with every optional field (GATT Specification Supplement, Blood Pressure Measurement)."""
    return struct.pack('<BHHH', 0x1E, systolic, diastolic, mean) + date_time(stamp) + struct.pack(
        '<HBH', pulse, user, status)


def date_time(t):
    """A 0x2A08 Date Time."""
    return struct.pack('<HBBBBB', t.year, t.month, t.day, t.hour, t.minute, t.second)


def current_time(t):
    """A 0x2A2B Current Time: Exact Time 256 and the adjust reason."""
    return date_time(t) + bytes([t.isoweekday(), t.microsecond * 256 // 1_000_000, 0])


@dataclasses.dataclass
class Visit:
    """One appearance of a monitor: from the first advertisement to the end of the connection."""
    advertised: float
    connected: float = None
    encrypted: float = None
    subscribed: float = None
    ended: float = None
    reason: int = None
    sent: list = dataclasses.field(default_factory=list)            # (time, value)
    confirmed: list = dataclasses.field(default_factory=list)       # (time, value)
    gateway_time: bytes = None                                      # what the gateway's Current Time said
    fetched: tuple = None                                           # between which times it was asked for


class Monitor:
    honest = True           # what it sends is what it measured
    SERVICE = '1810'        # what carries what it measured
    SERVICES = None         # so many of its services; all
    FEATURE = 0b11111       # of the Blood Pressure Feature, all of the five detections

    def __init__(self, air, address, name='Bench cuff', pairing=JUST_WORKS, private=False, remembers=True, deletes=True,
                 advertises=True, indicates=True, readable=True, maker=b'Invented for the bench', log=lambda line: None):
        """`private`: a resolvable private address, a new one on each visit. `remembers`: keeps the subscription with
        the bond and indicates as soon as the link is encrypted, without waiting for a CCCD write. `deletes`: drops a
        record when it is confirmed; otherwise it sends all it has on every visit. `indicates`: otherwise it notifies, and
        asks for no confirmation. `readable`: otherwise it answers each read with an error."""
        self.indicates, self.readable = indicates, readable
        self.air, self.address, self.name, self.pairing, self.private = air, address, name, pairing, private
        self.remembers, self.deletes, self.maker, self.log = remembers, deletes, maker, log
        self.memory, self.sent, self.confirmed, self.measured = [], [], [], set()
        self.clock_ahead = datetime.timedelta(0)        # of UTC, which is the guest's time zone
        self.clock_reads = self.clock_writes = 0
        self.passkey = None                             # what its screen shows
        self.pairing_failures = []
        self.subscriptions = {}                         # by bond
        self.asked = 0                                  # when the gateway last asked for something
        self.visit_now = self.link = self.on_air = None     # on_air: the address of the present visit

    # -- what it measures
    def now(self):
        return datetime.datetime.now(datetime.timezone.utc).replace(tzinfo=None) + self.clock_ahead

    def store(self, count=1, apart=60):
        """Stores `count` measurements, the newest of now, the others `apart` seconds apart before it."""
        now = self.now()
        for i in range(count):
            n = len(self.memory) + len(self.confirmed)
            stamp = now - datetime.timedelta(seconds=apart * (count - 1 - i))
            self.memory.append(measurement(118 + n % 40, 74 + n % 15, 88 + n % 20, 60 + n % 25, stamp))
        self.measured.update(self.memory[-count:])
        return self.memory[-count:]

    # -- its Bluetooth
    async def start(self):
        self.controller, host = RadioController(self.name, link=self.air), Host()
        host.set_packet_sink(AsyncPipeSink(self.controller))
        self.controller.set_packet_sink(AsyncPipeSink(host))
        self.device = Device(host=host, config=DeviceConfiguration(
            name=self.name, address=hci.Address(self.address), le_privacy_enabled=self.private, le_rpa_timeout=0,
            irk=secrets.token_bytes(16), gap_service_enabled=False))
        self.device.keystore = MemoryKeyStore()
        self.device.pairing_config_factory = lambda link: PairingConfig(
            mitm=self.pairing == PASSKEY, delegate=Screen(self))
        self._add_services()
        answer = self.device.gatt_server.on_gatt_pdu

        def asked(link, pdu):
            self.asked = time.time()
            answer(link, pdu)
        self.device.gatt_server.on_gatt_pdu = asked
        self.device.on('connection', self._on_connection)
        self.advertise()
        self.device.scan_response_data = bytes(AdvertisingData([
            (AdvertisingData.COMPLETE_LOCAL_NAME, self.name.encode())]))
        await self.device.power_on()
        return self

    def advertise(self, names_service=True):
        """What it says on the air: that it is a blood pressure monitor, or only that it is there."""
        named = [(AdvertisingData.INCOMPLETE_LIST_OF_16_BIT_SERVICE_CLASS_UUIDS, bytes(UUID('1810'))),
                 (AdvertisingData.APPEARANCE, struct.pack('<H', APPEARANCE_ARM_CUFF))]
        self.device.advertising_data = bytes(AdvertisingData([
            (AdvertisingData.FLAGS, b'\x06'),           # general discoverable, no classic
            *(named if names_service else [])]))

    def _add_services(self):
        P, A = Characteristic.Properties, Attribute.Permissions
        guard_read = guard_write = A(0)
        if self.pairing not in (OPEN, NEVER):
            guard_read, guard_write = A.READ_REQUIRES_ENCRYPTION, A.WRITE_REQUIRES_ENCRYPTION
        if self.pairing == PASSKEY:
            guard_read, guard_write = guard_read | A.READ_REQUIRES_AUTHENTICATION, guard_write | A.WRITE_REQUIRES_AUTHENTICATION

        def says(uuid, value):
            return Characteristic(uuid, P.READ, A.READABLE, value if self.readable else CharacteristicValue(read=refuse_read))

        async def refuse_read(_link):
            raise ATT_Error(0x0E)                               # Unlikely Error

        def subscribable(uuid, how, may=A(0), value=b''):
            characteristic = Characteristic(uuid, how, may, value)
            characteristic.descriptors = (Descriptor(
                GATT_CLIENT_CHARACTERISTIC_CONFIGURATION_DESCRIPTOR, A.READABLE | A.WRITEABLE | guard_write,
                self.device.gatt_server.make_descriptor_value(characteristic)),)
            return characteristic

        self.measurements = subscribable('2A35', P.INDICATE if self.indicates else P.NOTIFY)
        self.cuff_pressure = subscribable('2A36', P.NOTIFY)
        serial = self.address.replace(':', '')
        clock = Characteristic('2A2B', P.READ | P.WRITE, A.READABLE | A.WRITEABLE | guard_read | guard_write,
                               CharacteristicValue(read=self._read_clock, write=self._write_clock))
        self.device.add_services([
            Service('1800', [says('2A00', self.name.encode()), says('2A01', struct.pack('<H', APPEARANCE_ARM_CUFF))]),
            Service(self.SERVICE, self._of_the_service(subscribable) if self.SERVICE != '1810' else [
                             self.measurements, self.cuff_pressure,
                             says('2A49', struct.pack('<H', self.FEATURE)), *self._more(subscribable)]),
            Service('180A', [says('2A29', self.maker), says('2A24', b'Bench cuff 1'),
                             says('2A25', serial.encode()), says('2A26', b'1.0'),
                             says('2A23', bytes.fromhex(serial)[::-1][:3] + b'\xfe\xff' + bytes.fromhex(serial)[::-1][3:]),
                             says('2A50', struct.pack('<BHHH', 1, 0xFFFF, 1, 0x0100))]),    # 0xFFFF: no company
            Service('180F', [says('2A19', bytes([87]))]),
            *self._services(subscribable),
            Service('1805', [clock])][:self.SERVICES])
        self.measurements.on('subscription', self._on_subscription)

        async def refuse(_bearer, _value):
            raise ATT_Error(0x03)                               # Write Not Permitted
        for attribute in self.device.gatt_server.attributes:
            # bumble 0.0.236 lets a client overwrite a declaration, as BlueZ does with a descriptor's old handle.
            if isinstance(attribute, (Service, CharacteristicDeclaration)):
                attribute.write_value = refuse

    def _of_the_service(self, _subscribable):
        """What stands in a service of another kind, in place of the Blood Pressure service's."""
        return []

    def _services(self, _subscribable):
        """What other services there are."""
        return []

    def _more(self, _subscribable):
        """What else there is in the Blood Pressure service."""
        return []

    def move(self, service):
        """Puts a service before its own, so that their handles move; the database hash moves with them."""
        server = self.device.gatt_server
        server.attributes.clear()
        server.attributes_by_handle.clear()
        server.services.clear()
        self.device.add_default_services(add_gap_service=False)
        self.device.add_services([service])
        self._add_services()

    def _read_clock(self, _link):
        self.clock_reads += 1
        self.log(f'{self.address} clock read')
        return current_time(self.now())

    def _write_clock(self, _link, value):
        self.log(f'{self.address} clock written {value.hex()}')
        try:
            year, month, day, hour, minute, second, _, fraction, _ = struct.unpack('<HBBBBBBBB', value)
            t = datetime.datetime(year, month, day, hour, minute, second, fraction * 1_000_000 // 256)
        except (struct.error, ValueError):
            raise ATT_Error(0x80) from None                # Current Time Service: Data Field Ignored
        self.clock_writes += 1
        self.clock_ahead += t - self.now()

    def _on_connection(self, link):
        visit, self.link = self.visit_now, link
        visit.connected = time.time()
        self.log(f'{self.address} connected')
        gone = self.gone

        def on_disconnection(reason):
            self.log(f'{self.address} disconnected, reason {reason:#04x}')
            visit.ended, visit.reason = time.time(), int(reason)
            gone.set()

        def on_encryption():
            if link.encryption:
                visit.encrypted = time.time()
                self.log(f'{self.address} encrypted, authenticated {link.authenticated}')
                if self.subscriptions.get(str(link.peer_address)):
                    self.device.gatt_server.subscribers.setdefault(link, {})[self.measurements.handle] = INDICATE
                    self.may_send.set()

        def on_failure(reason):
            self.log(f'{self.address} pairing failed: {reason!r}')
            self.pairing_failures.append(reason)

        link.on('disconnection', on_disconnection)
        link.on('connection_encryption_change', on_encryption)
        link.on('pairing', lambda keys: self.log(f'{self.address} paired'))
        link.on('pairing_failure', on_failure)

    def _on_subscription(self, link, notify, indicate):
        self.log(f'{self.address} subscription, notify {notify}, indicate {indicate}')
        self.visit_now.subscribed = self.visit_now.subscribed or time.time()
        if self.remembers and link.encryption:
            self.subscriptions[str(link.peer_address)] = indicate
        if indicate if self.indicates else notify:
            self.may_send.set()

    async def forget_bond(self):
        """What happens when somebody takes the batteries out, or pairs the monitor with a telephone."""
        await self.device.keystore.delete_all()
        self.subscriptions.clear()

    async def switch_off(self):
        """Ends its visit, if it is on one, and takes it from the air."""
        if self.visit_now:
            self.dismissed.set()
            await asyncio.sleep(0.1)
        await self.device.stop_advertising()
        self.air.remove_controller(self.controller)

    # -- what it does
    async def visit(self, patience=PATIENT, linger=1.0, hang_up_after=None, unconfirmed=False, idle=None, fetches_time=False,
                    cuff_frames=0, measures=0):
        """Advertises until it is connected to (at most `patience` seconds), sends its memory, and hangs up `linger`
        seconds after the last confirmation.

        `hang_up_after`: hangs up after so many confirmations although there is more; with `unconfirmed` it sends one
        more indication and leaves without waiting for the answer. `idle`: instead of leaving `linger` seconds
        after its business, it leaves when the gateway has asked for nothing for so long, as it does while it is being
        set up. `dismissed` ends a visit at once. `fetches_time`: reads the gateway's Current Time first. `cuff_frames`: so many
        Intermediate Cuff Pressure values before the measurements. `measures`: so many seconds without a word before them."""
        self.gone, self.may_send, self.dismissed = asyncio.Event(), asyncio.Event(), asyncio.Event()
        if self.private:
            self.device.random_address = hci.Address.generate_private_address(self.device.irk)
            await self.device.send_sync_command(hci.HCI_LE_Set_Random_Address_Command(
                random_address=self.device.random_address))
        self.on_air = str(self.device.random_address).split('/')[0]
        visit = self.visit_now = Visit(advertised=time.time())
        self.log(f'{self.address} advertises as {self.on_air}, {len(self.memory)} in memory')
        # bumble 0.0.236's controller takes the HCI value, in units of 0.625 ms, for milliseconds: 62.5 gives 100 ms.
        await self.device.start_advertising(advertising_interval_min=62.5, advertising_interval_max=62.5)
        deadline = time.monotonic() + patience
        while not visit.connected and time.monotonic() < deadline and not self.dismissed.is_set():
            await asyncio.sleep(0.01)
        if not visit.connected:
            await self.device.stop_advertising()
            self.log(f'{self.address} stops advertising, not connected to')
            return visit
        link = self.link
        business = asyncio.create_task(
            self._business(visit, link, linger, hang_up_after, unconfirmed, fetches_time, cuff_frames, measures))
        try:
            done = business if idle is None else self._silence(visit, idle)
            await self._first(self.gone.wait(), done, self.dismissed.wait(), timeout=patience + measures + 20)
        finally:
            if not self.gone.is_set():
                self.log(f'{self.address} hangs up')
                try:
                    await asyncio.wait_for(link.disconnect(), 5)
                except Exception as error:       # the other end was quicker
                    self.log(f'{self.address} hanging up: {error!r}')
                await self._first(self.gone.wait(), timeout=5)
            business.cancel()
            await asyncio.gather(business, return_exceptions=True)
        if not business.cancelled() and business.exception():
            self.log(f'{self.address} its business ended by {business.exception()!r}')
        return visit

    async def _business(self, visit, link, linger, hang_up_after, unconfirmed, fetches_time, cuff_frames, measures):
        await self.may_send.wait()
        await asyncio.sleep(measures)
        if fetches_time:
            asked = time.time()
            visit.gateway_time = await self._fetch_time(link)
            visit.fetched = asked, time.time()
        for i in range(cuff_frames):
            await self.device.notify_subscriber(link, self.cuff_pressure,
                                                struct.pack('<BHHH', 0, 40 + 30 * i, 0x07FF, 0x07FF))
        for number, value in enumerate(list(self.memory)):
            if number == hang_up_after and not unconfirmed:
                break
            self._account('sent', visit, value)
            if not self.indicates:
                await self.device.notify_subscriber(link, self.measurements, value)
                self.memory.remove(value)
                continue
            indication = asyncio.create_task(self.device.indicate_subscriber(link, self.measurements, value))
            if number == hang_up_after:
                await asyncio.sleep(0.01)
                indication.cancel()
                return
            await self._first(self.gone.wait(), indication, timeout=PATIENT)
            if not indication.done():
                indication.cancel()
                return
            indication.result()
            self._account('confirmed', visit, value)
            if self.deletes:
                self.memory.remove(value)
        await asyncio.sleep(linger)

    async def _silence(self, visit, idle):
        while not visit.encrypted or time.time() - max(self.asked, visit.encrypted) < idle:
            await asyncio.sleep(0.05)

    def _account(self, what, visit, value):
        self.log(f'{self.address} {what} {value.hex()}')
        entry = (time.time(), value)
        getattr(self, what).append(entry)
        getattr(visit, what).append(entry)

    async def _fetch_time(self, link):
        peer = Peer(link)
        for service in await peer.discover_service(UUID.from_16_bits(0x1805)):
            for characteristic in await service.discover_characteristics([UUID.from_16_bits(0x2A2B)]):
                return bytes(await characteristic.read_value())
        return None

    @staticmethod
    async def _first(*awaitables, timeout):
        """Waits for the first of them; those started here are cancelled, tasks passed in go on."""
        own = [asyncio.ensure_future(a) for a in awaitables]
        await asyncio.wait(own, timeout=timeout, return_when=asyncio.FIRST_COMPLETED)
        for given, task in zip(awaitables, own):
            if task is not given:
                task.cancel()


class Screen(PairingDelegate):
    """What a monitor can show and be told while it pairs: a passkey, or nothing at all."""

    def __init__(self, monitor):
        super().__init__(io_capability=PairingDelegate.IoCapability.DISPLAY_OUTPUT_ONLY if monitor.pairing == PASSKEY
                         else PairingDelegate.IoCapability.NO_OUTPUT_NO_INPUT)
        self.monitor = monitor

    async def accept(self):
        return self.monitor.pairing != NEVER

    async def generate_passkey(self):
        passkey = await super().generate_passkey()
        self.monitor.passkey = f'{passkey:06}'
        self.monitor.log(f'{self.monitor.address} shows passkey {passkey:06}')
        return passkey
