"""What the bench asks of the program, one function a situation. The journal is the witness: see `Scene.kept`."""
import asyncio
import signal

from bench import expect, scenario, until
from monitor import JUST_WORKS, OPEN, PASSKEY

AT_ONCE = 0.02      # seconds from the last confirmation to the hang-up: the hastiest monitor


@scenario
async def first_pairing_just_works(scene):
    """A new monitor is found, paired without a passkey while the daemon runs, and its first readings arrive."""
    await scene.daemon()
    monitor = await scene.monitor(pairing=JUST_WORKS)
    looked_for = asyncio.create_task(monitor.visit(patience=30, stays=True))
    found = await scene.objects('monitors find --json --seconds 5')
    expect(any(monitor.address in str(m) for m in found), f'monitors find did not find {monitor.address}: {found}')
    monitor.dismissed.set()
    await looked_for
    await scene.enrol(monitor)
    monitor.store(2)
    visit = await monitor.visit()
    expect(len(visit.confirmed) == 2, f'the monitor could send {len(visit.confirmed)} of 2 records')
    await scene.kept()
    await scene.one_reading_each(2)
    expect(len(await scene.objects('monitors list --json')) == 1, 'monitors list does not show one monitor')
    scene.alive()


@scenario
async def passkey(scene):
    """A monitor that shows a passkey, which the person types."""
    monitor = await scene.enrolled(pairing=PASSKEY)
    await scene.daemon()
    monitor.store(2)
    visit = await monitor.visit()
    expect(len(visit.confirmed) == 2, f'the monitor could send {len(visit.confirmed)} of 2 records')
    await scene.kept()


@scenario
async def burst_of_twenty(scene):
    """Twenty stored records, then the monitor hangs up at once."""
    monitor = await scene.enrolled()
    await scene.daemon()
    monitor.store(20)
    visit = await monitor.visit(linger=AT_ONCE)
    expect(len(visit.confirmed) == 20, f'the monitor could send {len(visit.confirmed)} of 20 records')
    await scene.kept()
    await scene.one_reading_each(20)
