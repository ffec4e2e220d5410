"""What the scenarios stand on: one guest, one air, and for each scenario a scene with its own state folder and monitors."""
import asyncio
import collections
import json
import time

from monitor import PASSKEY, PATIENT, Monitor

SCENARIOS = {}
IDLE = 15.0             # seconds without a request after which a monitor leaves that was just paired and is not dismissed
STOPPING_TIME = 30      # seconds from SIGTERM to the end, a slow machine's too; systemd would wait three times as long
LATER = 3.0             # seconds in which BlueZ may still tell of what the second ear has heard already


class Failed(Exception):
    """The program under test did not do what the scenario asks."""


def expect(condition, message):
    if not condition:
        raise Failed(message)


def scenario(function):
    """Registers a coroutine `name(scene)`. It raises Failed, or passes; it may return lines to print below its name."""
    SCENARIOS[function.__name__.replace('_', '-')] = function
    return function


class Scene:
    def __init__(self, name, number, guest, air, log, unoptimised, run=None):
        """`run` has the sizes, and the way that monitors are linked; the package's test has no use for them."""
        if run:
            self.bearer, self.kills, self.cuts, self.new_adapters = run.way, run.kills, run.cuts, run.new_adapters
        self.fate = (0, 0, 0, 0)        # sent, confirmed, kept, confirmed and not kept
        self.name, self.number, self.guest, self.air, self.log = name, number, guest, air, log
        self.unoptimised = unoptimised
        self.state = f'/tmp/state-{name}'
        self.monitors, self.daemons = [], []
        self.ear, self.unheard, self.confirmed = None, collections.Counter(), 0

    # -- the monitors
    async def monitor(self, kind=Monitor, **habits):
        # the two highest bits of a static random address are ones
        address = f'C2:00:00:00:{self.number:02X}:{len(self.monitors) + 1:02X}'
        monitor = kind(self.air, address, log=self.log, **habits)
        self.monitors.append(monitor)
        return await monitor.start()

    async def enrolled(self, **habits):
        """A new monitor, paired and enrolled by `monitors add`."""
        monitor = await self.monitor(**habits)
        await self.enrol(monitor)
        return monitor

    async def enrol(self, monitor, passkey=None, succeeds=True, how=''):
        """Runs `monitors add` for a monitor that advertises meanwhile, types the passkey that it shows, or another."""
        visit = asyncio.create_task(monitor.visit(idle=IDLE))
        await asyncio.sleep(0.1)
        add = await self.guest.spawn(f'exec quietcuff --state {self.state} monitors add {monitor.on_air} --json {how}',
                                     takes_input=True)
        if monitor.pairing == PASSKEY:
            expect(await add.until('asskey', PATIENT), f'monitors add asked for no passkey:\n{add.text}')
            await until(lambda: monitor.passkey, PATIENT)
            await add.send(passkey(monitor.passkey) if passkey else monitor.passkey)
        done = await add.wait(2 * PATIENT)
        monitor.dismissed.set()
        await visit
        if succeeds:
            expect(done.code == 0, f'monitors add ended with {done.code}:\n{done.text}')
        return done

    # -- the program under test
    async def quietcuff(self, arguments, timeout=PATIENT, code=0):
        """Runs a command to its end; returns its result, having checked the exit code (None: any)."""
        done = await self.guest.run(f'quietcuff --state {self.state} {arguments}', timeout)
        if code is not None:
            expect(done.code == code, f'quietcuff {arguments} ended with {done.code}, not {code}:\n{done.text}')
        return done

    async def objects(self, arguments):
        """A command's JSON lines."""
        return [json.loads(line) for line in (await self.quietcuff(arguments)).out.splitlines()]

    async def daemon(self, scans=True):
        daemon = await self.guest.spawn(f'exec quietcuff --state {self.state} run')
        self.daemons.append(daemon)
        if scans:
            expect(await daemon.until('scanning', PATIENT), f'quietcuff run does not scan:\n{daemon.text}')
        return daemon

    async def overhear(self):
        """Starts the second ear, with CAP_NET_RAW and no other capability, as its unit does."""
        self.ear = await self.guest.spawn(f'exec /usr/bin/setpriv --bounding-set=-all,+net_raw --inh-caps=-all --no-new-privs '
                                          f'quietcuff --state {self.state} overhear')
        expect(await self.ear.until('overhearing', PATIENT), f'quietcuff overhear does not listen:\n{self.ear.text}')

    # -- what must be in the journal
    async def frames(self):
        return [f for f in await self.objects('frames --json') if f['characteristic'] == '2a35']

    async def kept(self, within=PATIENT):
        """The rule of the bench: what a monitor got a confirmation for is in the journal, and by neither way is anything
        there more often than it was sent. What BlueZ confirmed and told nobody, so that only the second ear kept it, is
        no loss: it is counted in `unheard`."""
        honest = [m for m in self.monitors if m.honest]
        addresses = {m.address for m in honest}
        confirmed, sent = (collections.Counter((m.address, v.hex()) for m in honest for _, v in account(m))
                           for account in (lambda m: m.confirmed, lambda m: m.sent))
        begun = time.monotonic()
        while True:
            frames = await self.frames()
            told, overheard = (collections.Counter((f['monitor'], f['value'].lower()) for f in frames
                                                   if f['monitor'] in addresses and f.get('overheard', False) == way)
                               for way in (False, True))
            missing = confirmed - (told | overheard)
            self.unheard, waited = confirmed - told, time.monotonic() - begun
            if not self.unheard or (not missing and waited > LATER) or waited > within:
                break
            await asyncio.sleep(0.2)
        there = told | overheard
        self.fate = sent.total(), confirmed.total(), (there & sent).total(), missing.total()
        expect(not missing, f'{missing.total()} of {confirmed.total()} confirmed are not in the journal: {list(missing)}')
        for way, there in (('told', told), ('overheard', overheard)):
            more = there - sent
            expect(not more, f'{way} more often than sent: {dict(more)}')
        self.confirmed = confirmed.total()
        await self.one_reading_each_kept(set(told | overheard))
        return frames

    async def one_reading_each_kept(self, values):
        """Whatever was heard of what the monitors measured has made one reading, and no more than one."""
        measured = {(m.address, v.hex()) for m in self.monitors for v in m.measured}
        if not all(m.honest for m in self.monitors):
            return
        readings = await self.objects('readings --json')
        expect(len(readings) >= len(measured & values), f'{len(readings)} readings of {len(measured & values)} measurements')
        asked_for = any(getattr(m, 'told', None) for m in self.monitors)      # what it handed out is a reading besides
        if measured >= values and not asked_for:
            expect(len(readings) == len(values), f'{len(readings)} readings of {len(values)} measurements')

    async def one_reading_each(self, count):
        """Each of `count` different measurements makes one reading, however often it was sent."""
        readings = await self.objects('readings --json')
        expect(len(readings) == count, f'{len(readings)} readings of {count} measurements')

    def alive(self):
        expect(self.daemons[-1].running, f'quietcuff run has ended:\n{self.daemons[-1].text}')

    async def finds(self, monitor):
        """Looks for a monitor that advertises, until it is found: what one look of two seconds hears is chance."""
        for _ in range(PATIENT // 2):
            if monitor.address in (done := await self.quietcuff('monitors find --json --seconds 2', code=None)).out:
                return done
        raise Failed(f'monitors find did not find {monitor.address}:\n{done.text}')

    # -- the end
    async def close(self):
        for monitor in self.monitors:
            await monitor.switch_off()
        if self.ear:
            expect(self.ear.running, f'quietcuff overhear has ended:\n{self.ear.text}')
            done = await self.ear.kill(timeout=STOPPING_TIME)
            expect(done.code == 0, f'after SIGTERM quietcuff overhear ended with {done.code}:\n{done.text}')
        for daemon in self.daemons:
            if daemon.running:
                begun = time.monotonic()
                done = await daemon.kill(timeout=STOPPING_TIME)
                expect(time.monotonic() - begun < STOPPING_TIME, f'{STOPPING_TIME} s after SIGTERM quietcuff run still ran')
                expect(done.code == 0, f'after SIGTERM quietcuff run ended with {done.code}')


async def until(condition, timeout):
    """Waits until `condition()` is true; says whether it was."""
    deadline = time.monotonic() + timeout
    while not condition():
        if time.monotonic() > deadline:
            return False
        await asyncio.sleep(0.02)
    return True

