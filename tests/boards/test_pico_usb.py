"""The RP2040's USB serial port, as a computer sees it at the wire: usb.c runs in an emulated chip
with a controller as its data sheet has it. Numbers of sections are of the USB 2.0 specification
unless another paper is named; CDC is "Class Definitions for Communications Devices" 1.2, PSTN its
"Subclass for PSTN Devices" 1.2. All three from memory.
"""

import random
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest
from pico_board import IMAGE, SERIAL_NUMBER, EmulatedBoard, active_table, unpacked
from pico_usb import ADDRESS, HERE, PORT, Bus, Program, build, request
from usb_protocol.types.descriptors import cdc, standard

from fxseq.link import hello, open_port, push
from fxseq.link.messages import table_crc
from fxseq.runs import load_prop
from fxseq.sequence import LinkError

FXSEQ = Path(sys.executable).with_name("fxseq")
FIRST_LIGHT = Path(__file__).parents[2] / "demo_assets" / "first_light.toml"
SERIAL = "0123456789ABCDEF0123456789ABCDE"
"""What usb_echo.c gives, cut off at 31 letters: a descriptor of 64 bytes, a whole packet."""
ROOM = 1024
SENT_PACKET = 32
ON_USB = ("--usb", "--speed", "8")

DEVICE = bytes(
    [
        *(18, 1),  # 9.6.1, table 9-8: bLength, bDescriptorType
        *(0x00, 0x02),  # bcdUSB
        *(0xEF, 2, 1),  # class of a device with an association (ECN, table Z)
        64,  # bMaxPacketSize0: 8, 16, 32 or 64 at full speed (5.5.3)
        *(0x09, 0x12, 0x01, 0x00),  # idVendor, idProduct: pid.codes, trials in private
        *(0x00, 0x01),  # bcdDevice
        *(1, 2, 3, 1),  # iManufacturer, iProduct, iSerialNumber, bNumConfigurations
    ]
)
CONFIGURATION = bytes(
    [
        *(9, 2, 75, 0, 2, 1, 0, 0x80, 250),  # 9.6.3: total, interfaces, number, bus-powered, 500 mA
        *(8, 11, 0, 2, 2, 2, 0, 0),  # ECN: from interface 0 on, 2 of them, CDC ACM
        *(9, 4, 0, 0, 1, 2, 2, 0, 0),  # 9.6.5; CDC 4.2, 4.3: class 2, subclass 2 (ACM)
        *(5, 0x24, 0, 0x20, 0x01),  # CDC 5.2.3.1: header, 1.20
        *(5, 0x24, 1, 0, 1),  # PSTN 5.3.1: call management
        *(4, 0x24, 2, 0x02),  # PSTN 5.3.2: ACM takes line coding and state
        *(5, 0x24, 6, 0, 1),  # CDC 5.2.3.2: union of interfaces 0 and 1
        *(7, 5, 0x81, 3, 8, 0, 255),  # 9.6.6: interrupt, 8 bytes, each 255 ms
        *(9, 4, 1, 0, 2, 10, 0, 0, 0),  # CDC 4.5: class 10, data
        *(7, 5, 0x02, 2, 64, 0, 0),  # bulk to the board
        *(7, 5, 0x82, 2, SENT_PACKET, 0, 0),  # bulk from it: 8, 16, 32 or 64 (5.8.3)
    ]
)


@pytest.fixture(scope="module")
def program(tmp_path_factory: pytest.TempPathFactory) -> Program:
    return build(tmp_path_factory.mktemp("pico-usb"))


@pytest.fixture(scope="module")
def wire(program: Program) -> Iterator[Bus]:
    with Bus(program) as bus:
        yield bus


@pytest.fixture
def bus(wire: Bus) -> Iterator[Bus]:
    """Switched on, seen, and without an address."""
    wire.power()
    wire.reset()
    yield wire
    assert wire.do("broken") == []


@pytest.fixture
def port(bus: Bus) -> Bus:
    """Set up, and opened by a program."""
    bus.enumerate()
    bus.open()
    return bus


def descriptor(bus: Bus, value: int, length: int = 255, language: int = 0) -> bytes:
    return bus.ask(request(0x80, 6, value, language, length))


def text(bus: Bus, number: int) -> str:
    data = descriptor(bus, 0x0300 + number, language=0x0409)
    assert data[:2] == bytes([len(data), 3])  # 9.6.7
    return data[2:].decode("utf-16-le")


def status(bus: Bus, endpoint: int) -> bytes:
    return bus.ask(request(0x82, 0, 0, endpoint, 2))


def hold_interrupts(bus: Bus) -> None:
    """For the next 25 ms and more. The program looks at it when it wakes, 50 times a second."""
    bus.write("busy_us", 50_000)
    bus.run_us(25_000)


# What the board says of itself


def test_descriptors(bus: Bus) -> None:
    assert descriptor(bus, 0x0100) == DEVICE
    assert descriptor(bus, 0x0200) == CONFIGURATION
    assert descriptor(bus, 0x0300) == bytes([4, 3, 0x09, 0x04])  # 9.6.7: languages
    assert [text(bus, number) for number in (1, 2, 3)] == ["fxseq", "fxseq pico", SERIAL]


def test_another_parser_reads_the_descriptors(bus: Bus) -> None:
    device = standard.DeviceDescriptor.parse(descriptor(bus, 0x0100))
    assert (device.idVendor, device.idProduct, device.bcdUSB) == (0x1209, 1, 2.0)
    rest = descriptor(bus, 0x0200)
    whole = standard.ConfigurationDescriptor.parse(rest)
    assert whole.wTotalLength == len(rest)
    kinds = {
        (2, None): standard.ConfigurationDescriptor,
        (4, None): standard.InterfaceDescriptor,
        (5, None): standard.EndpointDescriptor,
        (11, None): standard.InterfaceAssociationDescriptor,
        (0x24, 0): cdc.HeaderDescriptor,
        (0x24, 1): None,
        (0x24, 2): cdc.ACMFunctionalDescriptor,
        (0x24, 6): cdc.UnionFunctionalDescriptor,
    }
    found = []
    while rest:
        parser = kinds[rest[1], rest[2] if rest[1] == 0x24 else None]
        found.append(parser.parse(rest[: rest[0]]) if parser else None)
        rest = rest[rest[0] :]
    interfaces = [part for part in found if part and "bInterfaceNumber" in part]
    assert [part.bInterfaceClass for part in interfaces] == [2, 10]
    assert sum(part.bNumEndpoints for part in interfaces) == 3
    assert whole.bNumInterfaces == len(interfaces)
    endpoints = [part for part in found if part and "bEndpointAddress" in part]
    assert [part.bEndpointAddress for part in endpoints] == [0x81, 0x02, 0x82]


@pytest.mark.parametrize("length", [1, 8, 9, 18, 63, 64, 65, 74, 75, 76, 128, 255, 65535])
def test_a_reply_is_as_long_as_asked_for(bus: Bus, length: int) -> None:
    assert descriptor(bus, 0x0200, length) == CONFIGURATION[:length]


def test_a_reply_of_whole_packets_ends_with_an_empty_one_where_more_was_asked_for(
    bus: Bus,
) -> None:
    bus.setup(request(0x80, 6, 0x0303, 0x0409, 255))
    assert len(bus.control_in(True)) == 64
    assert bus.control_in(False) == b""  # 8.5.3.2
    bus.control_out(b"")
    bus.setup(request(0x80, 6, 0x0303, 0x0409, 64))
    assert len(bus.control_in(True)) == 64
    assert bus.once_in(0) == "nak"
    bus.control_out(b"")


def test_a_computer_may_end_a_reply_early(bus: Bus) -> None:
    bus.setup(request(0x80, 6, 0x0200, 0, 75))
    assert len(bus.control_in(True)) == 64
    bus.control_out(b"")  # 8.5.3.1
    assert bus.once_in(0) == "nak"
    assert descriptor(bus, 0x0100) == DEVICE


# Address and configuration


def test_an_address_counts_from_the_end_of_the_transfer(bus: Bus) -> None:
    bus.setup(request(0x00, 5, ADDRESS))  # 9.4.6
    bus.address = ADDRESS
    assert bus.once_in(0) == "none"
    bus.address = 0
    assert bus.once_in(0, lost=True) == (True, b"")
    assert bus.control_in(True) == b""
    assert bus.once_in(0) == "none"
    bus.address = ADDRESS
    assert descriptor(bus, 0x0100) == DEVICE


def test_an_address_counts_though_the_next_setup_follows_at_once(bus: Bus) -> None:
    bus.setup(request(0x00, 5, ADDRESS))
    hold_interrupts(bus)
    assert bus.once_in(0) == (True, b"")
    bus.setup(request(0x80, 6, 0x0100, 0, 18))
    bus.run_us(50_000)
    bus.address = ADDRESS
    assert bus.control_in(True) == DEVICE


def test_an_address_that_was_taken_back_does_not_count(bus: Bus) -> None:
    bus.setup(request(0x00, 5, ADDRESS))
    assert descriptor(bus, 0x0100) == DEVICE
    bus.address = ADDRESS
    assert bus.once_in(0) == "none"


def test_setting_up(bus: Bus) -> None:
    bus.tell(request(0x00, 5, ADDRESS))
    bus.address = ADDRESS
    assert bus.ask(request(0x80, 8, length=1)) == b"\0"
    assert bus.once_in(0x82) == "none" and bus.once_out(0x02, False, b"x") == "none"
    assert bus.read("awake") == 0
    bus.tell(request(0x00, 9, 1))
    assert bus.ask(request(0x80, 8, length=1)) == b"\1"
    assert bus.once_in(0x81) == "nak" and bus.once_in(0x82) == "nak"
    assert bus.once_in(0x83) == "none" and bus.once_out(0x01, False, b"x") == "none"
    assert bus.read("awake") == 1
    bus.tell(request(0x00, 9, 0))
    assert bus.once_in(0x82) == "none"
    assert bus.read("awake") == 0


def test_status(port: Bus) -> None:
    assert port.ask(request(0x80, 0, length=2)) == b"\0\0"  # 9.4.5: fed by the bus
    assert port.ask(request(0x81, 0, 0, 1, 2)) == b"\0\0"
    assert status(port, 0) == status(port, 0x80) == b"\0\0"
    assert port.ask(request(0x81, 10, 0, 1, 1)) == b"\0"


UNKNOWN = {
    "a descriptor of another speed (9.6.2)": request(0x80, 6, 0x0600, 0, 10),
    "a second configuration": request(0x80, 6, 0x0201, 0, 9),
    "a text there is not": request(0x80, 6, 0x0304, 0x0409, 255),
    "a configuration there is not": request(0x00, 9, 2),
    "an address above 127": request(0x00, 5, 128),
    "an address with data": request(0x00, 5, 5, length=1),
    "setting a descriptor": request(0x00, 7, 0x0100, 0, 18),
    "waking the computer": request(0x00, 3, 1),
    "a test of the line": request(0x00, 3, 2),
    "another setting of an interface": request(0x01, 11, 1, 1),
    "an interface there is not": request(0x81, 10, 0, 2, 1),
    "status of an interface there is not": request(0x81, 0, 0, 2, 2),
    "status of an endpoint there is not": request(0x82, 0, 0, 0x01, 2),
    "status of an endpoint with stray bits": request(0x82, 0, 0, 0x0182, 2),
    "halting an endpoint there is not": request(0x02, 3, 0, 0x83),
    "another feature of an endpoint": request(0x02, 3, 1, 0x82),
    "frames of an endpoint": request(0x82, 12, 0, 0x82, 2),
    "a break (PSTN 6.3.13)": request(0x21, 0x23, 100),
    "line coding of the other interface": request(0x21, 0x20, 0, 1, 7),
    "a line coding that is too short": request(0x21, 0x20, 0, 0, 6),
    "a line coding that is too long": request(0x21, 0x20, 0, 0, 8),
    "no line coding": request(0x21, 0x20),
    "another class's request": request(0xA1, 0x01, length=4),
    "a vendor's request": request(0xC0, 0x01, length=4),
    "nonsense": bytes([0xFF] * 8),
}


@pytest.mark.parametrize("setup", UNKNOWN.values(), ids=UNKNOWN)
def test_what_is_not_understood_is_answered_by_stall(port: Bus, setup: bytes) -> None:
    port.setup(setup)
    assert port.once_in(0) == "stall" and port.once_out(0, True, b"") == "stall"  # 8.5.3.4
    assert descriptor(port, 0x0100) == DEVICE
    assert port.send(b"goes on") == 7 and port.receive() == [b"goes on"]


def test_before_it_is_set_up_there_are_no_endpoints_to_ask_for(bus: Bus) -> None:
    bus.tell(request(0x00, 5, ADDRESS))
    bus.address = ADDRESS
    for setup in (
        request(0x82, 0, 0, 0x82, 2),
        request(0x81, 0, 0, 0, 2),
        request(0x81, 10, 0, 0, 1),
        request(0xA1, 0x21, length=7),
        request(0x21, 0x20, length=7),
    ):
        bus.setup(setup)
        assert bus.once_in(0) == "stall"


# The serial line


def test_line_coding_is_kept(port: Bus) -> None:
    assert port.ask(request(0xA1, 0x21, length=7)) == (115_200).to_bytes(4, "little") + b"\0\0\x08"
    port.tell(request(0x21, 0x20, length=7), bytes([1, 2, 3, 4, 2, 1, 7]))
    assert port.ask(request(0xA1, 0x21, length=7)) == bytes([1, 2, 3, 4, 2, 1, 7])


def test_a_line_coding_in_too_few_bytes_is_refused(port: Bus) -> None:
    port.setup(request(0x21, 0x20, length=7))
    port.control_out(b"\1\2\3")
    assert port.once_in(0) == "stall"
    assert port.ask(request(0xA1, 0x21, length=7))[:3] == (115_200).to_bytes(3, "little")


@pytest.mark.parametrize("count", [1, 31, 32, 33, 63, 64, 65, 96, 200])
def test_what_is_sent_ends_with_a_short_packet(port: Bus, count: int) -> None:
    data = bytes(range(count))
    port.write("deaf", 1)
    assert port.send(data) == count
    port.write("deaf", 0)
    port.run_us(25_000)
    packets = port.receive()
    assert b"".join(packets) == data
    assert len(packets[-1]) < SENT_PACKET  # 5.8.3
    assert b"" not in packets[:-1] and (packets[-1] != b"" or len(packets[-2]) == SENT_PACKET)


def test_whole_packets_are_sent_unasked_and_the_rest_on_request(port: Bus) -> None:
    port.write("patient", 1)
    port.write("speech", SENT_PACKET - 1)
    port.run_us(25_000)
    assert port.receive() == []
    port.write("speech", 1)
    port.run_us(25_000)
    assert port.receive() == [bytes(range(SENT_PACKET)), b""]


def test_a_packet_that_was_lost_comes_again(port: Bus) -> None:
    port.send(b"once")
    assert port.once_in(0x82, lost=True) == (False, b"once")
    assert port.once_in(0x82, lost=True) == (False, b"once")
    assert port.receive() == [b"once"]
    port.send(b"twice")
    assert port.once_in(0x82) == (True, b"twice")  # 8.6


def test_nothing_is_lost_where_the_board_takes_nothing(port: Bus) -> None:
    data = random.Random(1).randbytes(5000)
    port.write("deaf", 1)
    taken = port.send(data, turns=100)
    assert ROOM - 64 < taken <= ROOM
    assert port.once_out(0x02, port.data1[0x02], b"more") == "nak"
    assert descriptor(port, 0x0100) == DEVICE
    port.write("deaf", 0)
    port.run_us(25_000)
    heard = b"".join(port.receive())
    while taken < len(data):
        taken += port.send(data[taken:], turns=8)
        heard += b"".join(port.receive())
    assert heard == data


def test_nothing_is_lost_while_flash_memory_holds_interrupts_back(port: Bus) -> None:
    data = random.Random(2).randbytes(640)
    hold_interrupts(port)
    taken = port.send(data, turns=20)
    assert taken == 64  # the buffer that was ready; from then on, NAK
    port.setup(request(0x80, 6, 0x0100, 0, 18))
    assert port.once_in(0) == "nak"
    port.run_us(50_000)
    assert port.control_in(True) == DEVICE
    port.control_out(b"")
    assert port.send(data[taken:]) == len(data) - taken
    assert b"".join(port.receive()) == data


def test_a_computer_that_never_reads_holds_nothing_up(port: Bus) -> None:
    port.write("speech", 3000)
    port.run_us(100_000)
    left, rounds = port.read("speech"), port.read("rounds")
    assert 3000 - ROOM - SENT_PACKET <= left < 3000 - ROOM + SENT_PACKET
    port.run_us(100_000)
    assert port.read("speech") == left and port.read("rounds") > rounds
    port.write("deaf", 1)
    assert port.send(bytes(500)) == 500  # it goes on listening
    assert b"".join(port.receive()) == bytes(i % 256 for i in range(3000))


def test_what_waits_for_a_computer_that_has_gone_is_dropped(port: Bus) -> None:
    port.write("speech", 500)
    port.run_us(25_000)
    port.do("suspend")  # what an unplugged board sees (data sheet, 4.1.2.6.4)
    port.run_us(1000)
    assert port.read("awake") == 0
    port.write("speech", 100_000)
    port.run_us(100_000)
    assert port.read("speech") == 0
    port.enumerate()
    port.open()
    assert port.receive() == []
    assert port.send(b"back") == 4 and port.receive() == [b"back"]


def test_suspension_ends(port: Bus) -> None:
    port.write("speech", 500)
    port.run_us(25_000)
    port.do("suspend")
    port.run_us(100)
    port.do("resume")
    port.run_us(25_000)
    assert port.read("awake") == 1
    assert port.read("speech") == 0
    assert b"".join(port.receive()) == bytes(range(SENT_PACKET))  # the rest has been dropped
    assert port.send(b"awake") == 5 and port.receive() == [b"awake"]
    port.do("suspend")
    port.run_us(25_000)
    assert port.read("awake") == 0
    port.send(b"a packet wakes it too")
    assert b"".join(port.receive()) == b"a packet wakes it too"


def test_what_waits_is_not_given_to_the_next_program(port: Bus) -> None:
    port.write("speech", 500)
    port.run_us(25_000)
    port.tell(request(0x21, 0x22, 0))
    port.tell(request(0x21, 0x22, 3))
    heard = b"".join(port.receive())
    assert heard == bytes(range(SENT_PACKET))  # the packet that was already given to the controller
    assert port.send(b"anew") == 4 and port.receive() == [b"anew"]


# Halting


def test_halting_what_the_board_sends(port: Bus) -> None:
    port.send(b"first")
    port.receive()  # so that DATA1 is next
    port.send(b"waits")
    port.tell(request(0x02, 3, 0, 0x82))
    assert status(port, 0x82) == b"\1\0"
    assert port.once_in(0x82) == "stall"
    port.send(b" and more")
    assert port.once_in(0x82) == "stall"
    port.tell(request(0x02, 1, 0, 0x82))
    port.data1[0x82] = False  # 9.4.5
    assert status(port, 0x82) == b"\0\0"
    assert b"".join(port.receive()) == b"waits and more"


def test_what_is_halted_stays_so_when_there_is_something_to_send(port: Bus) -> None:
    port.tell(request(0x02, 3, 0, 0x82))
    port.send(b"waits")
    assert port.once_in(0x82) == "stall"
    port.tell(request(0x02, 1, 0, 0x82))
    assert port.receive() == [b"waits"]


def test_halting_what_the_board_takes(port: Bus) -> None:
    port.send(b"first")
    assert port.receive() == [b"first"]
    port.tell(request(0x02, 3, 0, 0x02))
    assert status(port, 0x02) == b"\1\0"
    assert port.once_out(0x02, True, b"lost") == "stall"
    port.tell(request(0x02, 1, 0, 0x02))
    port.data1[0x02] = False
    assert port.send(b"second") == 6 and port.receive() == [b"second"]


def test_what_is_halted_stays_so_when_there_is_room_again(port: Bus) -> None:
    port.write("deaf", 1)
    port.send(bytes(2000), turns=50)
    port.tell(request(0x02, 3, 0, 0x02))
    port.write("deaf", 0)
    port.run_us(25_000)
    port.receive()
    assert port.once_out(0x02, False, b"lost") == "stall"
    port.tell(request(0x02, 1, 0, 0x02))
    assert port.once_out(0x02, False, b"taken") == "ack"


def test_clearing_what_is_not_halted_begins_with_data0_all_the_same(port: Bus) -> None:
    port.send(b"first")
    port.receive()
    port.send(b"second")
    port.tell(request(0x02, 1, 0, 0x82))
    port.tell(request(0x02, 1, 0, 0x02))
    port.data1 = {0x02: False, 0x82: False}
    assert port.receive() == [b"second"]
    assert port.send(b"third") == 5 and port.receive() == [b"third"]


def test_setting_up_again_ends_a_halt_and_begins_with_data0(port: Bus) -> None:
    port.send(b"odd")
    port.receive()
    port.tell(request(0x02, 3, 0, 0x82))
    port.tell(request(0x02, 3, 0, 0x02))
    port.tell(request(0x00, 9, 1))
    port.data1 = {0x02: False, 0x82: False}
    assert status(port, 0x82) == status(port, 0x02) == b"\0\0"
    assert port.send(b"even") == 4 and port.receive() == [b"even"]


# Interrupted


@pytest.mark.parametrize("packets", [0, 1, 2])
def test_a_reset_in_the_middle_of_a_reply(bus: Bus, packets: int) -> None:
    bus.setup(request(0x80, 6, 0x0200, 0, 75))
    for number in range(packets):
        bus.control_in(number == 0)
    bus.enumerate()
    assert descriptor(bus, 0x0200) == CONFIGURATION
    assert bus.send(b"well") == 4 and bus.receive() == [b"well"]


def test_a_reset_in_the_middle_of_everything(port: Bus) -> None:
    port.write("speech", 500)
    port.run_us(25_000)
    port.once_in(0x82)
    port.once_out(0x02, False, b"half")
    port.setup(request(0x21, 0x20, length=7))
    port.reset()
    assert port.once_in(0x82) == "none"
    port.enumerate()
    port.open()
    assert port.send(b"new") == 3
    assert b"".join(port.receive()).endswith(b"new")


@pytest.mark.parametrize("packets", [0, 1])
def test_a_setup_ends_the_transfer_before_it(port: Bus, packets: int) -> None:
    port.setup(request(0x80, 6, 0x0200, 0, 75))
    for _ in range(packets):
        port.control_in(True)
    port.setup(request(0x80, 6, 0x0100, 0, 18))  # 8.5.3
    assert port.control_in(True) == DEVICE
    port.control_out(b"")
    port.setup(request(0x21, 0x20, length=7))
    assert port.ask(request(0xA1, 0x21, length=7))[4:] == b"\0\0\x08"
    assert port.once_in(0) == "nak"


def test_a_setup_takes_back_what_was_offered_before_it(port: Bus) -> None:
    port.setup(request(0x80, 6, 0x0200, 0, 75))
    port.setup(request(0x21, 0x20, length=7))
    assert port.once_in(0) == "nak"
    port.setup(request(0x21, 0x22, 3))
    assert port.once_out(0, True, b"") == "nak"
    assert port.control_in(True) == b""


def test_a_setup_that_comes_with_the_end_of_a_packet(port: Bus) -> None:
    port.setup(request(0x80, 6, 0x0200, 0, 75))
    assert port.do("in", ADDRESS, 0, False)[0] is True  # the chip has had no time since
    port.setup(request(0x80, 6, 0x0100, 0, 18))
    assert port.control_in(True) == DEVICE
    port.control_out(b"")
    port.setup(request(0x21, 0x20, length=7))
    assert port.do("out", ADDRESS, 0, True, "00112233445566") == "ack"
    line_coding = port.ask(request(0xA1, 0x21, length=7))
    assert line_coding == (115_200).to_bytes(4, "little") + b"\0\0\x08"


def test_a_long_talk_over_a_bad_wire(port: Bus) -> None:
    """16 KB in packets of any length, with one in five of those from the board lost, requests and
    suspensions between them.
    """
    chance = random.Random(3)
    data = chance.randbytes(16_000)
    sent, heard = 0, b""
    while len(heard) < len(data):
        if sent < len(data) and chance.random() < 0.6:
            packet = data[sent : sent + chance.randint(1, 64)]
            if port.once_out(0x02, port.data1[0x02], packet) == "ack":
                port.data1[0x02] = not port.data1[0x02]
                sent += len(packet)
        else:
            lost = chance.random() < 0.2
            answer = port.once_in(0x82, lost)
            if not lost and answer != "nak":
                assert answer[0] == port.data1[0x82]
                port.data1[0x82] = not port.data1[0x82]
                heard += answer[1]
        if chance.random() < 0.02:
            assert descriptor(port, 0x0100) == DEVICE
    assert heard == data


# Whatever a computer does


@pytest.fixture(scope="module")
def fuzzer(tmp_path_factory: pytest.TempPathFactory) -> Path:
    file = tmp_path_factory.mktemp("pico-usb") / "usb_fuzz"
    warnings = "-Wall -Wextra -Wconversion -Wsign-conversion -Werror -Wno-int-to-pointer-cast"
    sources = [PORT / "usb_control.c", PORT / "usb_text.c", HERE / "usb_fuzz.c"]
    subprocess.run(
        [
            *("clang", "-std=c99", "-g", "-O1", *warnings.split(), f"-I{PORT}"),
            *("-fsanitize=address,undefined", "-fno-sanitize-recover=all"),
            *("-o", file, *sources),
        ],
        check=True,
    )
    return file


@pytest.mark.parametrize("seed", range(8))
def test_no_order_of_requests_packets_and_interrupts_upsets_it(fuzzer: Path, seed: int) -> None:
    done = subprocess.run([fuzzer, str(seed), "500000"], capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    requests, *_, got, events = (int(part.split()[0]) for part in done.stdout.split(","))
    assert requests > 10_000 and got > 100_000 and events > 1000


# The image


@pytest.fixture
def flash(tmp_path: Path) -> Path:
    """Flash memory of a new board with the image on it."""
    file = tmp_path / "flash"
    file.write_bytes(unpacked(IMAGE.read_bytes()))
    return file


def wait_until_set_up(board: EmulatedBoard, names: list[str]) -> None:
    end = time.monotonic() + 20
    while board.figures()["usbNames"] != names:
        assert time.monotonic() < end
        time.sleep(0.02)


def test_image_says_on_usb_which_board_it_is(flash: Path) -> None:
    with EmulatedBoard(flash, *ON_USB) as board:
        wait_until_set_up(board, ["fxseq", "fxseq pico", SERIAL_NUMBER])
        with open_port(board.where) as port:
            found = hello(port)
    assert found.name == "fxseq pico" and not found.takes_speed


def test_commands_push_and_prove_over_usb(flash: Path) -> None:
    with EmulatedBoard(flash, *ON_USB) as board:
        for command in ("push", "prove"):
            done = subprocess.run(
                [FXSEQ, command, FIRST_LIGHT, "--port", board.where], capture_output=True, text=True
            )
            assert done.returncode == 0, done.stderr


def test_a_push_that_is_unplugged_leaves_the_old_table_and_the_next_one_goes_through(
    flash: Path,
) -> None:
    table = load_prop(FIRST_LIGHT).compiled.data
    with EmulatedBoard(flash, *ON_USB) as board:
        with open_port(board.where) as port:
            hello(port)
            board.say("unplug")
            with pytest.raises(LinkError, match="no reply"):
                push(port, table)
            board.say("plug")
            time.sleep(0.2)
            assert active_table(port) == (0, 0)
        with open_port(board.where) as port:
            push(port, table)
            assert active_table(port) == (len(table), table_crc(table))
