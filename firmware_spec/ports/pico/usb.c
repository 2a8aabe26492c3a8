#include "usb.h"

#include "rp2040.h"
#include "start.h"
#include "usb_parts.h"

enum { ROOM = 1024 /* a power of two */ };
enum { EVER_ON = USB_INTERRUPT_BUFFER | USB_INTERRUPT_RESET | USB_INTERRUPT_SETUP };

/* `in` is the giver's, `out` the taker's, one of which is the interrupt; both count modulo 2^32. */
struct ring {
    volatile uint32_t in, out;
    volatile uint8_t bytes[ROOM];
};

static struct {
    struct ring received, waiting;
    volatile bool suspended;
    volatile bool full; /* no packet is taken until the program has taken bytes */
    bool sending;       /* a packet waits for the computer */
    bool ends_whole;    /* the last packet was of full length */
    uint8_t sent_bytes; /* in it */
    bool listens;       /* a program has the port open */
} port;

struct usb_state usb;

static uint32_t filled(const struct ring *ring)
{
    return ring->in - ring->out;
}

/* Packets */

/* The controller's clock is slower than the processor's: AVAILABLE has to come a period of it after the rest (4.1.2.5.3 of the chip's data
 * sheet), which is 2.6 of the processor's. */
void usb_give(uint32_t place, uint32_t control)
{
    control |= (usb.data1 & BIT(place)) != 0 ? USB_BUFFER_DATA1 : 0;
    usb.data1 ^= (uint8_t)BIT(place);
    USB_BUFFER(place) = control;
    __asm volatile("nop\n\tnop\n\tnop\n\tnop\n\tnop\n\tnop");
    USB_BUFFER(place) = control | USB_BUFFER_AVAILABLE;
}

/* Takes a packet as soon as the ring has room for a whole one; until then the controller puts the computer off. */
static void receive(void)
{
    port.full = filled(&port.received) > ROOM - USB_RECEIVED_PACKET;
    if (!port.full) {
        usb_give(USB_DATA_OUT, USB_RECEIVED_PACKET);
    }
}

static void take_received(void)
{
    uint32_t count = USB_BUFFER(USB_DATA_OUT) & USB_BUFFER_LENGTH;
    for (uint32_t i = 0; i < count && i < USB_RECEIVED_PACKET; i++) {
        port.received.bytes[port.received.in % ROOM] = USB_BYTE(usb_packet(USB_DATA_OUT) + i);
        port.received.in++;
    }
    receive();
}

/* Sends the next packet of what waits. One of full length with nothing behind it is followed by an empty one: without it a computer may go
 * on waiting for the rest (5.8.3). */
static void send(void)
{
    uint32_t count = filled(&port.waiting);
    count = count < USB_SENT_PACKET ? count : USB_SENT_PACKET;
    bool may = !port.sending && (usb.halted & BIT(USB_DATA_IN)) == 0;
    if (!may || (count == 0 && !port.ends_whole)) {
        return;
    }
    for (uint32_t i = 0; i < count; i++) {
        USB_BYTE(usb_packet(USB_DATA_IN) + i) = port.waiting.bytes[port.waiting.out % ROOM];
        port.waiting.out++;
    }
    port.sending = true;
    port.sent_bytes = (uint8_t)count;
    port.ends_whole = count == USB_SENT_PACKET;
    usb_give(USB_DATA_IN, USB_BUFFER_FULL | count);
}

/* What a computer has not taken when it goes or another program comes was not meant for what follows. */
static void drop_waiting(void)
{
    port.waiting.out = port.waiting.in;
}

/* What a computer may set */

void usb_halt(uint32_t place)
{
    usb.halted |= (uint8_t)BIT(place);
    USB_BUFFER(place) = USB_BUFFER_STALL;
}

void usb_restart(uint32_t place)
{
    usb.halted &= (uint8_t)~BIT(place);
    usb.data1 &= (uint8_t)~BIT(place);
    USB_BUFFER(place) = 0;
    if (place == USB_DATA_OUT) {
        receive();
    } else if (place == USB_DATA_IN && port.sending) {
        usb_give(USB_DATA_IN, USB_BUFFER_FULL | port.sent_bytes);
    }
}

static void set_endpoints(uint32_t on)
{
    USB_ENDPOINT(USB_NOTICE_IN) = on | USB_ENDPOINT_TYPE(USB_INTERRUPT) | usb_packet(USB_NOTICE_IN);
    USB_ENDPOINT(USB_DATA_IN) = on | USB_ENDPOINT_TYPE(USB_BULK) | usb_packet(USB_DATA_IN);
    USB_ENDPOINT(USB_DATA_OUT) = on | USB_ENDPOINT_TYPE(USB_BULK) | usb_packet(USB_DATA_OUT);
}

static void take_back(void)
{
    for (uint32_t place = USB_NOTICE_IN; place < USB_PLACES; place++) {
        USB_BUFFER(place) = 0;
    }
    USB_FINISHED = USB_DATA_ALL;
    port.sending = false;
    port.ends_whole = false;
    drop_waiting();
}

void usb_configure(uint8_t configuration)
{
    take_back();
    usb.configuration = configuration;
    port.listens = false;
    set_endpoints(configuration != 0 ? USB_ENDPOINT_ON : 0);
    if (configuration != 0) {
        usb_restart(USB_NOTICE_IN);
        usb_restart(USB_DATA_IN);
        usb_restart(USB_DATA_OUT);
    }
}

void usb_listen(bool listens)
{
    if (listens != port.listens) {
        drop_waiting();
    }
    port.listens = listens;
}

/* What happens on the bus */

/* Buffers that the controller has done with. What endpoint 0 still said of the last transfer is void once there is a SETUP, but for the
 * end of SET_ADDRESS. */
static void take_finished(bool setup)
{
    uint32_t finished = USB_FINISHED;
    USB_FINISHED = finished;
    if ((finished & BIT(USB_CONTROL_IN)) != 0 && setup) {
        control_take_address();
    } else if ((finished & BIT(USB_CONTROL_IN)) != 0) {
        control_sent();
    }
    if ((finished & BIT(USB_CONTROL_OUT)) != 0 && !setup) {
        control_received();
    }
    if ((finished & BIT(USB_DATA_OUT)) != 0) {
        take_received();
    }
    if ((finished & BIT(USB_DATA_IN)) != 0) {
        port.sending = false;
    }
}

/* Suspension is also what an unplugged board sees that lives on from its cells. Its interrupt is off until it is over: the controller may
 * go on raising it. */
static void set_suspended(bool suspended)
{
    USB_EVENTS = USB_EVENT_SUSPEND | USB_EVENT_RESUME;
    USB_ENABLED = EVER_ON | (suspended ? USB_INTERRUPT_RESUME : USB_INTERRUPT_SUSPEND);
    port.suspended = suspended;
    drop_waiting();
}

static void reset_bus(void)
{
    USB_EVENTS = USB_EVENT_RESET;
    control_reset();
    usb_configure(0);
}

void usb_irq(void)
{
    uint32_t why = USB_PENDING;
    USB_FORCED = 0;
    bool setup = (why & USB_INTERRUPT_SETUP) != 0;
    if ((why & USB_INTERRUPT_RESET) != 0) {
        reset_bus();
    } else if ((why & USB_INTERRUPT_BUFFER) != 0) {
        take_finished(setup);
    }
    if ((why & USB_INTERRUPT_SUSPEND) != 0) {
        set_suspended((USB_EVENTS & USB_EVENT_SUSPEND) != 0);
    } else if (port.suspended && (why & (EVER_ON | USB_INTERRUPT_RESUME)) != 0) {
        set_suspended(false);
    }
    if (setup) {
        control_begin();
    }
    if (usb.configuration != 0) {
        if (port.full && (usb.halted & BIT(USB_DATA_OUT)) == 0) {
            receive();
        }
        send();
    }
}

/* The rest of the program leaves the controller to the interrupt, which this raises. */
static void rouse(void)
{
    USB_FORCED = USB_INTERRUPT_ROUSED;
}

bool usb_get(uint8_t *byte)
{
    if (filled(&port.received) == 0) {
        return false;
    }
    *byte = port.received.bytes[port.received.out % ROOM];
    port.received.out++;
    if (port.full && filled(&port.received) <= ROOM - USB_RECEIVED_PACKET) {
        rouse();
    }
    return true;
}

bool usb_awake(void)
{
    return usb.configuration != 0 && !port.suspended;
}

bool usb_can_put(void)
{
    return filled(&port.waiting) < ROOM;
}

void usb_put(uint8_t byte)
{
    if (!usb_awake()) {
        return;
    }
    port.waiting.bytes[port.waiting.in % ROOM] = byte;
    port.waiting.in++;
    if (filled(&port.waiting) % USB_SENT_PACKET == 0) {
        rouse();
    }
}

void usb_flush(void)
{
    if (filled(&port.waiting) > 0) {
        rouse();
    }
}

void usb_open(const char *serial_number)
{
    control_open(serial_number);
    SET(RESETS) = RESET_USB;
    release(RESET_USB);
    for (uint32_t offset = 0; offset < 0x100; offset += 4) {
        USB_WORD(offset) = 0;
    }
    USB_PADS = USB_PADS_TO_PHY | USB_PADS_SOFTCON;
    USB_POWER = USB_POWER_PRESENT;
    USB_MAIN = 1;
    USB_LINE = USB_LINE_CONTROL_BUFFERS;
    USB_ENABLED = EVER_ON | USB_INTERRUPT_SUSPEND;
    interrupt_on(IRQ_USB, usb_irq);
    SET(USB_LINE) = USB_LINE_PULL_UP;
}
