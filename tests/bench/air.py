"""The air between the guest's adapter and the virtual monitors, and the adapter itself.

    guest kernel ── HCI over a serial line ── Adapter ── Air ── a controller and host for each monitor

bumble brings all of it; what is overridden here is where bumble 0.0.236 is further from a real radio than the tests
can bear. Each override says what it mends.
"""
import asyncio

from bumble import hci, ll
from bumble.controller import Controller
from bumble.core import PhysicalTransport
from bumble.link import LocalLink
from bumble.transport import open_transport

ADAPTER_ADDRESS, UPSTAIRS_ADDRESS = '00:11:22:33:44:55', '00:11:22:33:44:66'

# One way, seconds. About a connection interval of a cuff. With no latency at all Linux meets a race after pairing that
# no radio is fast enough to provoke: the retried CCCD write never leaves the kernel.
LATENCY = 0.02

# A link whose other end went silent is declared dead after this, seconds (BlueZ asks for 420 ms).
SUPERVISION_TIMEOUT = 0.42

# What a plain Bluetooth 4.2 adapter has: legacy advertising, no resolving in the controller (bumble's does not resolve).
FEATURES = hci.LeFeatureMask.LE_ENCRYPTION | hci.LeFeatureMask.PERIPHERAL_INITIATED_FEATURE_EXCHANGE


class Air(LocalLink):
    """Carries packets with a latency, in order. A packet for somebody who has left is lost, as it is on the air."""

    def send_acl_data(self, sender_controller, destination_address, transport, data):
        # bumble names the sender by its random address even on a connection made with the public one, which is what
        # Linux does, and the receiver then drops the data.
        link = sender_controller.le_connections.get(destination_address)
        receiver = self.find_le_controller(destination_address)
        if link and receiver:
            self._later(receiver.on_link_acl_data, link.self_address, PhysicalTransport.LE, data)

    def send_ll_control_pdu(self, sender_address, receiver_address, packet):
        # bumble delivers these at once, so that a hang-up would overtake the data sent before it.
        self._later(self._deliver_control, sender_address, receiver_address, packet)

    def _deliver_control(self, sender_address, receiver_address, packet):
        receiver = self.find_le_controller(receiver_address)
        if receiver and sender_address in receiver.le_connections:
            receiver.on_ll_control_pdu(sender_address, packet)

    @staticmethod
    def _later(call, *args):
        asyncio.get_running_loop().call_later(LATENCY, call, *args)


class RadioController(Controller):
    """A controller, which takes its time to hang up.

    bumble's has disconnected in the moment it is told to. A real one waits until the other end has acknowledged."""
    le_features = FEATURES
    directed = False        # advertises to the adapter that it knows, and to nobody else

    def on_hci_disconnect_command(self, command):
        link = self.find_le_connection_by_handle(command.connection_handle)
        if not link:
            return super().on_hci_disconnect_command(command)
        self._send_hci_command_status(hci.HCI_COMMAND_STATUS_PENDING, command.op_code)
        link.send_ll_control_pdu(ll.TerminateInd(command.reason))
        asyncio.get_running_loop().call_later(2 * LATENCY, self._acknowledged, link)

    def _acknowledged(self, link):
        if self.le_connections.get(link.peer_address) is link:
            self.on_le_disconnected(link, hci.HCI_ErrorCode.CONNECTION_TERMINATED_BY_LOCAL_HOST_ERROR)


class Adapter(RadioController):
    """An adapter that Linux sees: it can be unplugged, reset, and told to give up connecting. Whoever is out of its reach is
    not heard by it."""
    plugged, out_of_reach = True, frozenset()

    @classmethod
    async def on_socket(cls, air, path, address):
        transport = await open_transport(f'unix-server:{path}')
        return cls('adapter', host_source=transport.source, host_sink=transport.sink, link=air, public_address=address)

    # -- the plug
    def unplug(self):
        self.plugged = False
        self._silence()

    def plug(self):
        self.plugged = True

    def on_packet(self, packet):
        if self.plugged:
            super().on_packet(packet)

    def send_hci_packet(self, packet):
        if self.plugged:
            super().send_hci_packet(packet)

    def on_hci_reset_command(self, command):
        # bumble forgets nothing on a reset.
        self._silence()
        return super().on_hci_reset_command(command)

    def _silence(self):
        """Stops scanning and connecting; the other ends notice only by their supervision time-out."""
        self.le_scan_enable = False
        self.pending_le_connection = None
        links, self.le_connections = self.le_connections, {}
        for link in links.values():
            asyncio.get_running_loop().call_later(SUPERVISION_TIMEOUT, self._lose, link)

    def _lose(self, link):
        other = self.link.find_le_controller(link.peer_address)
        back = other and other.le_connections.get(link.self_address)
        if back and link.peer_address not in self.le_connections:
            other.on_le_disconnected(back, hci.HCI_ErrorCode.CONNECTION_TIMEOUT_ERROR)

    # -- scanning
    def on_advertising_pdu(self, pdu):
        if str(pdu.advertiser_address).split('/')[0] in self.out_of_reach:
            return
        # bumble answers the scan request with the advertising data; the name is in the scan response.
        advertiser = self.link.find_le_controller(pdu.advertiser_address)
        if self.le_scan_enable and advertiser:
            report = hci.HCI_LE_Advertising_Report_Event.EventType
            answers = [(report.ADV_IND, pdu.data)]
            if advertiser.directed:             # to us, and without a word about what it is
                answers = [(report.ADV_DIRECT_IND, b'')]
            elif self.le_scan_type == 1:
                answers.append((report.SCAN_RSP, advertiser.le_legacy_advertiser.scan_response_data))
            for kind, data in answers:
                self.send_hci_packet(hci.HCI_LE_Advertising_Report_Event([hci.HCI_LE_Advertising_Report_Event.Report(
                    event_type=kind, address_type=pdu.advertiser_address.address_type,
                    address=pdu.advertiser_address, data=data, rssi=-50)]))
        pending = self.pending_le_connection
        if pending and pending.peer_address == pdu.advertiser_address:
            self.create_le_connection(pdu.advertiser_address)

    # -- connecting
    def create_le_connection(self, peer_address):
        super().create_le_connection(peer_address)
        link = self.le_connections.get(peer_address)
        if link:
            asyncio.get_running_loop().call_later(6 * LATENCY, self._was_heard, link)

    def _was_heard(self, link):
        """The monitor had stopped advertising in the same moment: a real controller says so after six intervals."""
        other = self.link.find_le_controller(link.peer_address)
        if self.le_connections.get(link.peer_address) is link and not (other and link.self_address in other.le_connections):
            self.on_le_disconnected(link, hci.HCI_ErrorCode.CONNECTION_FAILED_TO_BE_ESTABLISHED_ERROR)

    def on_hci_le_create_connection_cancel_command(self, command):
        # bumble says yes and goes on connecting.
        pending, self.pending_le_connection = self.pending_le_connection, None
        if not pending:
            return hci.HCI_StatusReturnParameters(hci.HCI_ErrorCode.COMMAND_DISALLOWED_ERROR)
        asyncio.get_running_loop().call_soon(self.send_hci_packet, hci.HCI_LE_Connection_Complete_Event(
            status=hci.HCI_ErrorCode.UNKNOWN_CONNECTION_IDENTIFIER_ERROR, connection_handle=0,
            role=hci.Role.CENTRAL, peer_address_type=pending.peer_address.address_type,
            peer_address=pending.peer_address, connection_interval=0, peripheral_latency=0, supervision_timeout=0,
            central_clock_accuracy=0))
        return hci.HCI_StatusReturnParameters(hci.HCI_ErrorCode.SUCCESS)
