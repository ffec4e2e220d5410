"""The guest: one QEMU with Debian's kernel and BlueZ, and a way to run commands in it.

A command is a shell script; its output goes to files in the run's folder on the host, as it is written. One boot serves
all scenarios: what a scenario needs anew (bluetoothd with empty storage, the adapter plugged in) is `afresh`.
"""
import asyncio
import dataclasses
import os
import signal
import subprocess
import time
from pathlib import Path

BOOT_TIME = 300         # seconds; about 5 on an idle machine, software emulation on a busy one is slow
DISK_OCTETS = 64 << 20  # what outlives a power cut
COMMAND_TIME = 180      # seconds, for a command that says nothing else


class GuestError(Exception):
    """The guest did not do what was asked: a fault of the bench, not of the program under test."""


@dataclasses.dataclass
class Done:
    code: int
    out: str
    err: str

    @property
    def text(self):
        return self.out + self.err


class Process:
    """A script running in the guest."""

    def __init__(self, guest, id, takes_input):
        self.guest, self.id, self.takes_input = guest, id, takes_input
        self.out_path, self.err_path = guest.folder / f'{id}.out', guest.folder / f'{id}.err'
        self.started = asyncio.get_running_loop().create_future()
        self.ended = asyncio.get_running_loop().create_future()

    @property
    def running(self):
        return not self.ended.done()

    @property
    def text(self):
        """What it has printed so far, standard output first."""
        return ''.join(p.read_text(errors='replace') for p in (self.out_path, self.err_path) if p.exists())

    async def wait(self, timeout=COMMAND_TIME):
        code = await asyncio.wait_for(asyncio.shield(self.ended), timeout)
        return Done(code, *(p.read_text(errors='replace') for p in (self.out_path, self.err_path)))

    async def until(self, needle, timeout=COMMAND_TIME, after=0):
        """Waits until its output, from character `after` on, holds `needle`; true if it does."""
        deadline = time.monotonic() + timeout
        while True:
            ended = not self.running
            if needle in self.text[after:]:
                return True
            if ended or time.monotonic() > deadline:
                return False
            await asyncio.sleep(0.02)

    async def send(self, line):
        """Types a line into its standard input."""
        assert self.takes_input
        (self.guest.folder / f'{self.id}.line').write_text(line + '\n')
        await self.guest.run(f'cat /mnt/{self.id}.line >/tmp/{self.id}.in')

    async def kill(self, sig=signal.SIGTERM, timeout=COMMAND_TIME):
        """Signals it and waits for its end; SIGKILL if that does not come."""
        pid = await self.started
        for number in dict.fromkeys((int(sig), int(signal.SIGKILL))):
            if self.running:
                await self.guest.run(f'kill -{number} {pid}')
                try:
                    return await self.wait(timeout)
                except asyncio.TimeoutError:
                    continue
        return await self.wait(timeout)


class Guest:
    def __init__(self, folder, downstairs, upstairs=None):
        """`folder` takes the logs; the others are a controller and the socket before it, the second one not plugged in."""
        self.folder, (self.adapter, self.hci_socket), self.upstairs = Path(folder), downstairs, upstairs
        self.processes, self.count = {}, 0
        self.at_boot = []       # scripts, before bluetoothd starts
        self.disk = Path(f'{self.hci_socket}.disk')
        with open(self.disk, 'wb') as file:
            file.truncate(DISK_OCTETS)
        subprocess.run(['mke2fs', '-q', '-t', 'ext4', self.disk], check=True,
                       env={'PATH': os.environ['PATH'] + ':/usr/sbin:/sbin'})
        self.qemu = self.bluetoothd = self.btattach = self.attached_upstairs = None

    # -- the machine
    async def boot(self, kernel, initramfs):
        self.booted = kernel, initramfs
        control = f'{self.hci_socket}.control'
        log = open(self.folder / 'console.log', 'ab')
        second = () if not self.upstairs else (
            '-chardev', f'socket,id=upstairs,path={self.upstairs[1]}', '-device', 'isa-serial,chardev=upstairs,index=2,irq=5')
        self.qemu = await asyncio.create_subprocess_exec(
            'qemu-system-x86_64', '-accel', 'tcg,thread=multi', '-M', 'pc', '-cpu', 'max', '-m', '768', '-smp', '1',
            '-nodefaults', '-no-reboot', '-display', 'none', '-serial', 'stdio',
            '-kernel', kernel, '-initrd', initramfs,
            '-append', 'console=ttyS0 quiet panic=-1 tsc=reliable no_timer_check random.trust_cpu=on mitigations=off',
            '-virtfs', f'local,path={self.folder},mount_tag=logs,security_model=none',
            '-chardev', f'socket,id=hci,path={self.hci_socket}', '-device', 'isa-serial,chardev=hci', *second,
            '-chardev', f'socket,id=control,path={control},server=on,wait=off',
            # What the guest has not flushed is lost with it; what it has is handed to the host's own disk.
            '-drive', f'file={self.disk},format=raw,if=virtio,cache=writeback',
            '-device', 'virtio-serial-pci', '-device', 'virtserialport,chardev=control,name=control',
            stdin=asyncio.subprocess.DEVNULL, stdout=log, stderr=log)
        try:
            await asyncio.wait_for(self._meet(control), BOOT_TIME)
            for script in self.at_boot:
                if (done := await self.run(script)).code:
                    raise GuestError(f'{script}\n{done.text}')
            await self.plug()
            await self.start_bluetoothd()
        except (asyncio.TimeoutError, OSError) as error:
            raise GuestError(f'the guest never reached bluetoothd: {error!r}') from error

    async def _meet(self, control):
        while not os.path.exists(control):
            if self.qemu.returncode is not None:
                raise GuestError(f'QEMU ended with code {self.qemu.returncode}: see {self.folder}/console.log')
            await asyncio.sleep(0.05)
        reader, self.control = await asyncio.open_unix_connection(control)
        while (line := await reader.readline()).strip() != b'init ready 0':
            if not line:
                raise GuestError(f'the guest ended while it booted: see {self.folder}/console.log')
        self.listener = asyncio.create_task(self._listen(reader))
        await self._set_clock()

    async def _listen(self, reader):
        while line := await reader.readline():
            id, what, number = line.decode().split()
            process = self.processes[id]
            future = process.started if what == 'pid' else process.ended
            if not future.done():
                future.set_result(int(number))
        for process in self.processes.values():
            if not process.ended.done():
                process.ended.set_result(-1)

    async def _set_clock(self):
        """Sets the guest's clock to the host's, then measures what is left between them."""
        start = time.monotonic()
        await self.run('true')
        await self.run(f'gnu-date -s @{time.time() + (time.monotonic() - start) / 2:.3f}')
        tries = []
        for _ in range(4):
            before = time.time()
            guest = float((await self.run('gnu-date +%s.%N')).out)
            tries.append((time.time() - before, guest - (before + time.time()) / 2))
        round_trip, self.ahead = min(tries)
        self.clock_error = round_trip / 2

    async def off(self):
        if self.qemu and self.qemu.returncode is None:
            self.qemu.kill()
            await self.qemu.wait()

    async def cut_power(self, new_adapters):
        """The guest is gone in the middle of whatever it did, and boots again: only its disk is what it was."""
        self.qemu.kill()
        await self.qemu.wait()
        for adapter in (self.adapter, self.upstairs[0]):
            adapter.unplug()
            adapter.link.remove_controller(adapter)
        for process in self.processes.values():
            if not process.ended.done():
                process.ended.set_result(-1)
        (self.adapter, self.hci_socket), self.upstairs = await new_adapters()
        self.attached_upstairs = None
        await self.boot(*self.booted)

    def faults(self):
        """How often the guest's kernel has found a fault in itself."""
        return (self.folder / 'console.log').read_text(errors='replace').count('kernel BUG at')

    # -- commands
    async def spawn(self, script, takes_input=False):
        self.count += 1
        process = Process(self, f'{self.count:04}', takes_input)
        self.processes[process.id] = process
        (self.folder / f'{process.id}.sh').write_text(script + '\n')
        if takes_input:
            (self.folder / f'{process.id}.in').touch()
        self.control.write(f'{process.id}\n'.encode())
        await asyncio.wait_for(process.started, COMMAND_TIME)
        return process

    async def run(self, script, timeout=COMMAND_TIME):
        process = await self.spawn(script)
        try:
            return await process.wait(timeout)
        except asyncio.TimeoutError:
            await process.kill()
            raise GuestError(f'no end after {timeout} s: {script}') from None

    # -- the adapter
    async def plug(self):
        self.adapter.plug()
        self.btattach = await self.spawn('exec btattach -B /dev/ttyS1 -P h4')

    async def unplug(self):
        self.adapter.unplug()
        if not self.btattach.running:
            return
        await asyncio.sleep(0.2)        # what is on the line must not meet the next plug half-way through a packet
        await self.btattach.kill()

    async def plug_upstairs(self):
        """A second adapter, which BlueZ calls hci1; it stays until everything begins afresh."""
        self.upstairs[0].plug()
        self.attached_upstairs = await self.spawn('exec btattach -B /dev/ttyS2 -P h4')
        await self.adapter_ready('/org/bluez/hci1')

    async def unplug_upstairs(self):
        if self.attached_upstairs:
            self.upstairs[0].unplug()
            self.upstairs[0].out_of_reach = frozenset()
            await asyncio.sleep(0.2)
            await self.attached_upstairs.kill()
            self.attached_upstairs = None

    async def power(self, on):
        await self.run('dbus-send --system --print-reply --dest=org.bluez /org/bluez/hci0 '
                       'org.freedesktop.DBus.Properties.Set string:org.bluez.Adapter1 string:Powered '
                       f'variant:boolean:{str(on).lower()}')

    # -- bluetoothd
    async def start_bluetoothd(self):
        self.bluetoothd = await self.spawn('exec /usr/libexec/bluetooth/bluetoothd -n')
        await self.adapter_ready()

    async def adapter_ready(self, path='/org/bluez/hci0'):
        """Waits until bluetoothd shows an adapter."""
        # busybox's grep is a process too: one loop in the guest is cheaper than one request a try
        done = await self.run('i=0; until dbus-send --system --print-reply --dest=org.bluez / '
                              'org.freedesktop.DBus.ObjectManager.GetManagedObjects 2>/dev/null | '
                              f'grep -qF "{path}\\""; do usleep 50000; i=$((i+1)); [ $i -lt 1800 ] || exit 1; done')
        if done.code:
            raise GuestError(f'bluetoothd shows no adapter at {path}')

    async def restart_bluetoothd(self, sig=signal.SIGTERM, pause=0):
        await self.bluetoothd.kill(sig)
        await asyncio.sleep(pause)
        await self.start_bluetoothd()

    async def revive(self):
        """Brings bluetoothd back, with its memory, if the kernel has taken it down; says whether that was needed."""
        if self.bluetoothd.running:
            return False
        await self.unplug()
        await self.plug()
        await self.start_bluetoothd()
        return True

    async def afresh(self):
        """What every scenario starts from: bluetoothd without a memory, and the adapter just plugged in, for the kernel
        goes on discovering for a bluetoothd that was killed."""
        await self.bluetoothd.kill(signal.SIGKILL)
        await self.unplug()
        await self.unplug_upstairs()
        self.adapter.out_of_reach = frozenset()
        await self.run('rm -rf /var/lib/bluetooth/*')
        await self.plug()
        await self.start_bluetoothd()

    async def resident(self, process):
        """Resident memory of a running process, kB: all of it, and what is not backed by a file."""
        pid = await process.started
        return map(int, (await self.run(f"awk '/VmRSS|RssAnon/ {{print $2}}' /proc/{pid}/status")).out.split())
