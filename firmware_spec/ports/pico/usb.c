#include "usb.h"

#include "rp2040.h"
#include "start.h"
#include "usb_text.h"

enum { ROOM = 1024, SETUP_BYTES = 8, LINE_CODING_BYTES = 7, PLACES = 6 };
enum { CONTROL_PLACES = 1 << USB_CONTROL_IN | 1 << USB_CONTROL_OUT, DATA_PLACES = 1 << USB_NOTICE_IN | 1 << USB_DATA_IN | 1 << USB_DATA_OUT };
enum { EVER_ON = USB_INTERRUPT_BUFFER | USB_INTERRUPT_RESET | USB_INTERRUPT_SETUP, INTERRUPTS = EVER_ON | USB_INTERRUPT_RESUME };

/* `in` is the giver's, `out` the taker's, one of which is the interrupt; both count modulo 2^32. */
struct ring {
    volatile uint32_t in, out;
    volatile uint8_t bytes[ROOM];
};

/* What a SETUP packet asks for (USB 2.0, 9.3). */
struct setup {
    uint8_t type, code;
    uint16_t value, index, length;
};

static struct {
    struct ring received, waiting;
    volatile uint8_t configuration; /* 0: not set up */
    volatile bool suspended, full;  /* full: no packet is taken until the program has taken bytes */
    bool sending, ends_packet;      /* a packet waits for the computer; a packet of full length was the last so far */
    uint8_t sent_bytes, data1, halted; /* of the last packet; a bit a place: the next packet is DATA1; endpoint is halted */
    uint8_t address, address_next;  /* the next one counts once the computer has seen that it was taken */
    bool takes_line_coding, listened;
    const uint8_t *reply;
    uint16_t reply_bytes;
    bool reply_ends_short; /* an empty packet has to say that there is no more */
    uint8_t scratch[2 + 2 * USB_SERIAL_MOST]; /* of a reply that is made up */
    uint8_t line_coding[LINE_CODING_BYTES];
    char serial[USB_SERIAL_MOST + 1];
} usb;

static uint32_t filled(const struct ring *ring)
{
    return ring->in - ring->out;
}

/* Gives a buffer to the controller, with what follows last carrying the other kind of DATA. The controller's clock is slower than the
 * processor's: AVAILABLE has to come a period of it after the rest (4.1.2.5.3), which is 2.6 of the processor's. */
static void give(uint32_t place, uint32_t control)
{
    control |= (usb.data1 & BIT(place)) != 0 ? USB_BUFFER_DATA1 : 0;
    usb.data1 ^= (uint8_t)BIT(place);
    USB_BUFFER(place) = control;
    __asm volatile("nop\n\tnop\n\tnop\n\tnop\n\tnop\n\tnop");
    USB_BUFFER(place) = control | USB_BUFFER_AVAILABLE;
}

static uint32_t buffer_of(uint32_t place)
{
    return 0x100 + 0x40 * place;
}

/* Endpoint 0 has one buffer for both ways. */
static void send_reply(void)
{
    uint32_t count = usb.reply_bytes < USB_CONTROL_PACKET ? usb.reply_bytes : USB_CONTROL_PACKET;
    for (uint32_t i = 0; i < count; i++) {
        USB_BYTE(buffer_of(USB_CONTROL_IN) + i) = usb.reply[i];
    }
    usb.reply += count;
    usb.reply_bytes = (uint16_t)(usb.reply_bytes - count);
    usb.reply_ends_short = usb.reply_ends_short && count == USB_CONTROL_PACKET;
    give(USB_CONTROL_IN, USB_BUFFER_FULL | count);
}

/* Answers with at most as many bytes as the computer asked for, and takes the empty packet by which it ends the transfer: that may come
 * early (8.5.3). */
static bool reply(const struct setup *setup, const uint8_t *bytes, uint32_t count)
{
    usb.reply = bytes;
    usb.reply_bytes = (uint16_t)(count < setup->length ? count : setup->length);
    usb.reply_ends_short = count < setup->length;
    if (setup->length > 0) {
        send_reply();
        give(USB_CONTROL_OUT, 0);
    }
    return true;
}

static void acknowledge(void)
{
    give(USB_CONTROL_IN, USB_BUFFER_FULL);
}

/* As UTF-16 (9.6.7). */
static bool reply_text(const struct setup *setup, const char *text)
{
    uint32_t count = 2;
    for (; *text != 0; text++) {
        usb.scratch[count++] = (uint8_t)*text;
        usb.scratch[count++] = 0;
    }
    usb.scratch[0] = (uint8_t)count;
    usb.scratch[1] = 3;
    return reply(setup, usb.scratch, count);
}

/* By the value of a request: type and number (9.4.3). One without a length is a text. */
static const struct {
    uint16_t value;
    uint8_t bytes;
    const void *what;
} descriptors[] = {
    { 0x0100, USB_DEVICE_BYTES, usb_device },
    { 0x0200, USB_CONFIGURATION_BYTES, usb_configuration },
    { 0x0300, USB_LANGUAGES_BYTES, usb_languages },
    { 0x0301, 0, usb_maker },
    { 0x0302, 0, usb_product },
    { 0x0303, 0, usb.serial },
};

static bool get_descriptor(const struct setup *setup)
{
    for (uint32_t i = 0; i < sizeof descriptors / sizeof *descriptors; i++) {
        if (descriptors[i].value == setup->value && descriptors[i].bytes > 0) {
            return reply(setup, descriptors[i].what, descriptors[i].bytes);
        }
        if (descriptors[i].value == setup->value) {
            return reply_text(setup, descriptors[i].what);
        }
    }
    return false;
}

static bool set_address(const struct setup *setup)
{
    usb.address_next = (uint8_t)setup->value;
    return setup->value < 128;
}

/* Takes a packet as soon as the ring has room for a whole one; until then the controller puts the computer off. */
static void receive(void)
{
    usb.full = filled(&usb.received) > ROOM - USB_RECEIVED_PACKET;
    if (!usb.full) {
        give(USB_DATA_OUT, USB_RECEIVED_PACKET);
    }
}

static void take_received(void)
{
    uint32_t count = USB_BUFFER(USB_DATA_OUT) & USB_BUFFER_LENGTH;
    for (uint32_t i = 0; i < count && i < USB_RECEIVED_PACKET; i++) {
        usb.received.bytes[usb.received.in % ROOM] = USB_BYTE(buffer_of(USB_DATA_OUT) + i);
        usb.received.in++;
    }
    receive();
}

/* Sends the next packet of what waits. A packet of full length with nothing behind it is followed by an empty one: without it a computer
 * may go on waiting for the rest (5.8.3). */
static void send(void)
{
    uint32_t count = filled(&usb.waiting);
    count = count < USB_SENT_PACKET ? count : USB_SENT_PACKET;
    if (usb.sending || (usb.halted & BIT(USB_DATA_IN)) != 0 || usb.suspended || (count == 0 && !usb.ends_packet)) {
        return;
    }
    for (uint32_t i = 0; i < count; i++) {
        USB_BYTE(buffer_of(USB_DATA_IN) + i) = usb.waiting.bytes[usb.waiting.out % ROOM];
        usb.waiting.out++;
    }
    usb.sending = true;
    usb.ends_packet = count == USB_SENT_PACKET;
    usb.sent_bytes = (uint8_t)count;
    give(USB_DATA_IN, USB_BUFFER_FULL | count);
}

static void drop_waiting(void)
{
    usb.waiting.out = usb.waiting.in;
}

/* Begins anew with DATA0, as after setting up, and with the packet that the computer has not yet taken (9.4.5). */
static void restart(uint32_t place)
{
    usb.halted &= (uint8_t)~BIT(place);
    usb.data1 &= (uint8_t)~BIT(place);
    USB_BUFFER(place) = 0;
    if (place == USB_DATA_OUT) {
        receive();
    } else if (place == USB_DATA_IN && usb.sending) {
        give(USB_DATA_IN, USB_BUFFER_FULL | usb.sent_bytes);
    }
}

static void set_endpoints(uint32_t on)
{
    USB_ENDPOINT(USB_NOTICE_IN) = on | USB_ENDPOINT_TYPE(USB_INTERRUPT) | buffer_of(USB_NOTICE_IN);
    USB_ENDPOINT(USB_DATA_IN) = on | USB_ENDPOINT_TYPE(USB_BULK) | buffer_of(USB_DATA_IN);
    USB_ENDPOINT(USB_DATA_OUT) = on | USB_ENDPOINT_TYPE(USB_BULK) | buffer_of(USB_DATA_OUT);
}

/* Takes the board out of use, or sets it up. */
static void configure(uint8_t configuration)
{
    drop_waiting();
    usb.configuration = configuration;
    usb.sending = false;
    usb.ends_packet = false;
    usb.listened = false;
    usb.full = false;
    set_endpoints(configuration != 0 ? USB_ENDPOINT_ON : 0);
    for (uint32_t place = USB_NOTICE_IN; place < PLACES; place++) {
        USB_BUFFER(place) = 0;
    }
    USB_FINISHED = DATA_PLACES;
    if (configuration != 0) {
        restart(USB_NOTICE_IN);
        restart(USB_DATA_IN);
        restart(USB_DATA_OUT);
    }
}

static bool set_configuration(const struct setup *setup)
{
    if (setup->value > 1 || usb.address == 0) {
        return false;
    }
    configure((uint8_t)setup->value);
    return true;
}

static bool get_configuration(const struct setup *setup)
{
    usb.scratch[0] = usb.configuration;
    return reply(setup, usb.scratch, 1);
}

/* The interfaces have one setting each. */
static bool get_interface(const struct setup *setup)
{
    usb.scratch[0] = 0;
    return usb.configuration != 0 && setup->index < 2 && reply(setup, usb.scratch, 1);
}

/* Which place an endpoint's address names; PLACES where there is no such endpoint now. */
static uint32_t place_of(uint32_t address)
{
    uint32_t place = 2 * (address & 0x0F) + ((address & 0x80) == 0);
    bool there = place < PLACES && (DATA_PLACES & BIT(place)) != 0 && usb.configuration != 0;
    return there && (address & ~UINT32_C(0x8F)) == 0 ? place : PLACES;
}

static bool reply_status(const struct setup *setup, uint8_t status)
{
    usb.scratch[0] = status;
    usb.scratch[1] = 0;
    return reply(setup, usb.scratch, 2);
}

/* Fed by the bus, and never wakes the computer. */
static bool get_device_status(const struct setup *setup)
{
    return reply_status(setup, 0);
}

static bool get_interface_status(const struct setup *setup)
{
    return usb.configuration != 0 && setup->index < 2 && reply_status(setup, 0);
}

static bool get_endpoint_status(const struct setup *setup)
{
    if ((setup->index & ~0x80) == 0) {
        return reply_status(setup, 0);
    }
    uint32_t place = place_of(setup->index);
    return place < PLACES && reply_status(setup, (usb.halted & BIT(place)) != 0);
}

/* The only feature of an endpoint is HALT, which is 0. */
static bool set_endpoint_feature(const struct setup *setup)
{
    uint32_t place = place_of(setup->index);
    if (place == PLACES || setup->value != 0) {
        return false;
    }
    usb.halted |= (uint8_t)BIT(place);
    USB_BUFFER(place) = USB_BUFFER_STALL;
    return true;
}

static bool clear_endpoint_feature(const struct setup *setup)
{
    uint32_t place = place_of(setup->index);
    if (place == PLACES || setup->value != 0) {
        return false;
    }
    restart(place);
    return true;
}

/* Speed and format mean nothing here, but a computer wants to read what it has set. */
static bool set_line_coding(const struct setup *setup)
{
    usb.takes_line_coding = usb.configuration != 0 && setup->index == 0;
    if (usb.takes_line_coding) {
        give(USB_CONTROL_OUT, LINE_CODING_BYTES);
    }
    return usb.takes_line_coding;
}

static bool get_line_coding(const struct setup *setup)
{
    return usb.configuration != 0 && setup->index == 0 && reply(setup, usb.line_coding, LINE_CODING_BYTES);
}

/* DTR rises where a program opens the port and falls where it closes it: what waits was meant for another one. */
static bool set_line_state(const struct setup *setup)
{
    bool listened = (setup->value & 1) != 0;
    if (usb.configuration == 0 || setup->index != 0) {
        return false;
    }
    if (listened != usb.listened) {
        drop_waiting();
    }
    usb.listened = listened;
    return true;
}

/* All that is understood (9.4; CDC PSTN 1.2, 6.3); to the rest, the answer is STALL. A type from 0x80 on asks for data, the others bring
 * `bytes`. */
static const struct {
    uint8_t type, code, bytes;
    bool (*answer)(const struct setup *setup);
} requests[] = {
    { 0x80, 0, 0, get_device_status },
    { 0x81, 0, 0, get_interface_status },
    { 0x82, 0, 0, get_endpoint_status },
    { 0x02, 1, 0, clear_endpoint_feature },
    { 0x02, 3, 0, set_endpoint_feature },
    { 0x00, 5, 0, set_address },
    { 0x80, 6, 0, get_descriptor },
    { 0x80, 8, 0, get_configuration },
    { 0x00, 9, 0, set_configuration },
    { 0x81, 10, 0, get_interface },
    { 0x21, 0x20, LINE_CODING_BYTES, set_line_coding },
    { 0xA1, 0x21, 0, get_line_coding },
    { 0x21, 0x22, 0, set_line_state },
};

static bool answer(const struct setup *setup)
{
    for (uint32_t i = 0; i < sizeof requests / sizeof *requests; i++) {
        if (requests[i].type == setup->type && requests[i].code == setup->code) {
            return (setup->type >= 0x80 || setup->length == requests[i].bytes) && requests[i].answer(setup);
        }
    }
    return false;
}

static void stall_control(void)
{
    USB_STALL_ARM = CONTROL_PLACES;
    USB_BUFFER(USB_CONTROL_IN) = USB_BUFFER_STALL;
    USB_BUFFER(USB_CONTROL_OUT) = USB_BUFFER_STALL;
}

static uint16_t setup_half(uint32_t offset)
{
    return (uint16_t)(USB_BYTE(offset) | USB_BYTE(offset + 1) << 8);
}

/* A SETUP ends whatever the last one began, finished or not (8.5.3). */
static void begin_control(void)
{
    USB_EVENTS = USB_EVENT_SETUP; /* first: one that comes meanwhile raises it anew */
    USB_FINISHED = CONTROL_PLACES;
    USB_BUFFER(USB_CONTROL_IN) = 0;
    USB_BUFFER(USB_CONTROL_OUT) = 0;
    usb.data1 |= CONTROL_PLACES;
    usb.takes_line_coding = false;
    usb.address_next = usb.address;
    usb.reply_bytes = 0;
    usb.reply_ends_short = false;
    struct setup setup = { USB_BYTE(0), USB_BYTE(1), setup_half(2), setup_half(4), setup_half(6) };
    if (!answer(&setup)) {
        stall_control();
    } else if (setup.length == 0) {
        acknowledge();
    }
}

/* An address counts from the end of the transfer that gave it (9.4.6). */
static void take_address(void)
{
    usb.address = usb.address_next;
    USB_ADDRESS = usb.address;
}

static void go_on_sending(void)
{
    take_address();
    if (usb.reply_bytes > 0 || usb.reply_ends_short) {
        send_reply();
    }
}

/* The data of SET_LINE_CODING, or the end of a reply. */
static void take_control(void)
{
    if (!usb.takes_line_coding) {
        usb.reply_bytes = 0;
        usb.reply_ends_short = false;
        USB_BUFFER(USB_CONTROL_IN) = 0;
        return;
    }
    usb.takes_line_coding = false;
    if ((USB_BUFFER(USB_CONTROL_OUT) & USB_BUFFER_LENGTH) != LINE_CODING_BYTES) {
        stall_control();
        return;
    }
    for (uint32_t i = 0; i < LINE_CODING_BYTES; i++) {
        usb.line_coding[i] = USB_BYTE(buffer_of(USB_CONTROL_IN) + i);
    }
    acknowledge();
}

/* Buffers that the controller has done with. What endpoint 0 still said of the last transfer is void once there is a SETUP, but for the
 * end of SET_ADDRESS. */
static void take_finished(bool setup)
{
    uint32_t finished = USB_FINISHED;
    USB_FINISHED = finished;
    if ((finished & BIT(USB_CONTROL_IN)) != 0) {
        if (setup) {
            take_address();
        } else {
            go_on_sending();
        }
    }
    if ((finished & BIT(USB_CONTROL_OUT)) != 0 && !setup) {
        take_control();
    }
    if ((finished & BIT(USB_DATA_OUT)) != 0) {
        take_received();
    }
    if ((finished & BIT(USB_DATA_IN)) != 0) {
        usb.sending = false;
    }
}

/* Suspension is also what an unplugged board sees that lives on from its cells. Its interrupt is off until it is over: the controller may
 * go on raising it. */
static void set_suspended(bool suspended)
{
    USB_EVENTS = USB_EVENT_SUSPEND | USB_EVENT_RESUME;
    USB_ENABLED = EVER_ON | (suspended ? USB_INTERRUPT_RESUME : USB_INTERRUPT_SUSPEND);
    usb.suspended = suspended;
    drop_waiting();
}

static void reset_bus(void)
{
    USB_EVENTS = USB_EVENT_RESET;
    USB_BUFFER(USB_CONTROL_IN) = 0;
    USB_BUFFER(USB_CONTROL_OUT) = 0;
    USB_FINISHED = CONTROL_PLACES;
    usb.address_next = 0;
    usb.reply_bytes = 0;
    usb.reply_ends_short = false;
    take_address();
    configure(0);
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
    } else if (usb.suspended && (why & INTERRUPTS) != 0) {
        set_suspended(false);
    }
    if (setup) {
        begin_control();
    }
    if (usb.configuration != 0) {
        if (usb.full && (usb.halted & BIT(USB_DATA_OUT)) == 0) {
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
    if (filled(&usb.received) == 0) {
        return false;
    }
    *byte = usb.received.bytes[usb.received.out % ROOM];
    usb.received.out++;
    if (usb.full && filled(&usb.received) <= ROOM - USB_RECEIVED_PACKET) {
        rouse();
    }
    return true;
}

bool usb_awake(void)
{
    return usb.configuration != 0 && !usb.suspended;
}

bool usb_can_put(void)
{
    return filled(&usb.waiting) < ROOM || !usb_awake();
}

void usb_put(uint8_t byte)
{
    if (!usb_awake()) {
        return;
    }
    usb.waiting.bytes[usb.waiting.in % ROOM] = byte;
    usb.waiting.in++;
    if (usb.waiting.in % USB_SENT_PACKET == 0) {
        rouse();
    }
}

void usb_flush(void)
{
    if (filled(&usb.waiting) > 0) {
        rouse();
    }
}

/* 115200 baud, 8 bits, no parity, one stop bit (PSTN 1.2, table 17), until a computer sets something else. */
static void set_first_line_coding(void)
{
    usb.line_coding[1] = 0xC2;
    usb.line_coding[2] = 0x01;
    usb.line_coding[6] = 8;
}

void usb_open(const char *serial_number)
{
    set_first_line_coding();
    for (uint32_t i = 0; i < USB_SERIAL_MOST && serial_number[i] != 0; i++) {
        usb.serial[i] = serial_number[i];
    }
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
