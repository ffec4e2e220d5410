"""Two rooms: two listeners, each with an adapter of its own, and one record that both hand on to."""
import asyncio
import json

from air import UPSTAIRS_ADDRESS
from bench import expect, scenario
from monitor import PATIENT

RECORD = '127.0.0.1:8419'
HANDED_ON = 30          # seconds within which what was kept in a room is at the record


class Rooms:
    """The scene's own state folder is the record's; each room has one besides."""

    def __init__(self, scene):
        self.scene, self.adapters, self.roles = scene, {}, []

    async def begin(self):
        guest = self.scene.guest
        await guest.plug_upstairs()
        self.adapters = {'downstairs': guest.adapter, 'upstairs': guest.upstairs[0]}
        # The ear hears both adapters and belongs to no room.
        ear, self.scene.ear = self.scene.ear, None
        if ear:
            await ear.kill()
        await guest.run(f"printf '[radio]\\nbearer = \"{self.scene.bearer}\"\\nadapter = \"{UPSTAIRS_ADDRESS}\"\\n' "
                        f'>/tmp/upstairs.toml')
        door = await self.stays(f'--state {self.scene.state} listeners receive --listen {RECORD}')
        expect(await door.until(RECORD, PATIENT), f'the record does not listen:\n{door.text}')
        for room in self.adapters:
            code = (await self.scene.quietcuff(f'listeners invite --at {RECORD} --label {room}')).out.strip()
            await self.asked(room, f'record join {code}')
            await self.stays(f'--state {self.state(room)} record hand-on')

    def state(self, room):
        return f'{self.scene.state}-{room}'

    def options(self, room):
        return f'--state {self.state(room)}' + (' --config /tmp/upstairs.toml' if room == 'upstairs' else '')

    async def stays(self, arguments):
        role = await self.scene.guest.spawn(f'exec quietcuff {arguments}')
        self.roles.append(role)
        return role

    async def asked(self, room, arguments):
        done = await self.scene.guest.run(f'quietcuff {self.options(room)} {arguments}', PATIENT)
        expect(done.code == 0, f'{room}: quietcuff {arguments} ended with {done.code}:\n{done.text}')
        return done

    async def pair(self, room, monitor):
        """The monitor is paired in this room, and heard in no other meanwhile."""
        self.heard_in(monitor, room)
        visit = asyncio.create_task(monitor.visit(idle=15))
        await asyncio.sleep(0.1)
        await self.asked(room, f'monitors add {monitor.on_air} --json')
        monitor.dismissed.set()
        await visit

    async def listen(self, room):
        daemon = await self.scene.guest.spawn(f'exec quietcuff {self.options(room)} run')
        self.scene.daemons.append(daemon)
        expect(await daemon.until('scanning', PATIENT), f'{room}: quietcuff run does not scan:\n{daemon.text}')

    def heard_in(self, monitor, *rooms):
        """The monitor is where just these rooms hear it."""
        for room, adapter in self.adapters.items():
            away = {monitor.address}
            adapter.out_of_reach = adapter.out_of_reach - away if room in rooms else adapter.out_of_reach | away

    async def frames(self, room):
        done = await self.asked(room, 'frames --json')
        return [f for f in map(json.loads, done.out.splitlines()) if f['characteristic'] == '2a35']

    async def end(self):
        for role in self.roles:
            await role.kill()


async def _wanders(scene, rooms, monitor, places):
    """The monitor measures three times in each of these places, one after the other."""
    for place in places:
        rooms.heard_in(monitor, *place)
        monitor.store(3)
        for _ in range(3):
            if monitor.memory:
                await monitor.visit(patience=15)
        expect(not monitor.memory, f'heard {" and ".join(place)}: {len(monitor.memory)} records were not taken in three visits')


@scenario
async def carried_from_room_to_room(scene):
    """A monitor that is paired in two rooms is carried to and fro between them, also in the middle of a burst and where both
    hear it; beside it one that is paired in one room alone. What was confirmed is at the record, once, whoever heard it."""
    if scene.bearer != 'direct':
        return ['not asked of BlueZ: two that reach for one link at once bring down the older kernel (hci_chan_del)']
    rooms = Rooms(scene)
    await rooms.begin()
    try:
        both, one = await scene.monitor(), await scene.monitor()
        for room in rooms.adapters:
            await rooms.pair(room, both)
        await rooms.pair('downstairs', one)
        for room in rooms.adapters:
            await rooms.listen(room)
        down, up = ('downstairs',), ('upstairs',)
        await _wanders(scene, rooms, both, [down, up, down + up, down, down + up, up])
        await _wanders(scene, rooms, one, [down + up, down])
        # Taken away in the middle of its burst, with the rest in its memory.
        rooms.heard_in(both, 'upstairs')
        both.store(6)
        await both.visit(hang_up_after=3, linger=0)
        await _wanders(scene, rooms, both, [down])
        await scene.kept(within=HANDED_ON)
        heard = {room: [f for f in await rooms.frames(room) if f['monitor'] == both.address] for room in rooms.adapters}
        expect(all(heard.values()), f'one room heard nothing: { {room: len(frames) for room, frames in heard.items()} }')
        alone = [f for f in await rooms.frames('upstairs') if f['monitor'] == one.address]
        expect(not alone, f'upstairs took {len(alone)} values of a monitor that is not paired there')
        return [f'{len(heard["downstairs"])} values came by the one room and {len(heard["upstairs"])} by the other']
    finally:
        await rooms.end()
