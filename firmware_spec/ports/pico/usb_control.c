#include "usb_parts.h"

enum { LINE_CODING_BYTES = 7 };

/* What a SETUP packet asks for (9.3). */
struct setup {
    uint8_t type, code;
    uint16_t value, index, length;
};

static struct {
    uint8_t address, address_next; /* the next one counts once the computer has seen that it was taken */
    bool takes_line_coding;
    const uint8_t *reply; /* what is still to be sent */
    uint16_t reply_bytes;
    bool reply_ends_short; /* an empty packet has to say that there is no more */
    uint8_t scratch[2 + 2 * USB_SERIAL_MOST]; /* of a reply that is made up */
    uint8_t line_coding[LINE_CODING_BYTES];
    char serial_number[USB_SERIAL_MOST + 1];
} control;

/* Replies */

static void send_reply(void)
{
    uint32_t count = control.reply_bytes < USB_CONTROL_PACKET ? control.reply_bytes : USB_CONTROL_PACKET;
    for (uint32_t i = 0; i < count; i++) {
        USB_BYTE(usb_packet(USB_CONTROL_IN) + i) = control.reply[i];
    }
    control.reply += count;
    control.reply_bytes = (uint16_t)(control.reply_bytes - count);
    control.reply_ends_short = control.reply_ends_short && count == USB_CONTROL_PACKET;
    usb_give(USB_CONTROL_IN, USB_BUFFER_FULL | count);
}

static void end_reply(void)
{
    control.reply_bytes = 0;
    control.reply_ends_short = false;
    USB_BUFFER(USB_CONTROL_IN) = 0;
}

/* At most as many bytes as the computer asked for. It ends the transfer by an empty packet, which may come early (8.5.3). */
static bool reply(const struct setup *setup, const uint8_t *bytes, uint32_t count)
{
    control.reply = bytes;
    control.reply_bytes = (uint16_t)(count < setup->length ? count : setup->length);
    control.reply_ends_short = count < setup->length;
    if (setup->length > 0) {
        send_reply();
        usb_give(USB_CONTROL_OUT, 0);
    }
    return true;
}

/* As UTF-16 (9.6.7). */
static bool reply_text(const struct setup *setup, const char *text)
{
    uint32_t count = 2;
    for (; *text != 0; text++) {
        control.scratch[count++] = (uint8_t)*text;
        control.scratch[count++] = 0;
    }
    control.scratch[0] = (uint8_t)count;
    control.scratch[1] = 3;
    return reply(setup, control.scratch, count);
}

static bool reply_half(const struct setup *setup, uint8_t low)
{
    control.scratch[0] = low;
    control.scratch[1] = 0;
    return reply(setup, control.scratch, 2);
}

static bool reply_byte(const struct setup *setup, uint8_t byte)
{
    control.scratch[0] = byte;
    return reply(setup, control.scratch, 1);
}

static void acknowledge(void)
{
    usb_give(USB_CONTROL_IN, USB_BUFFER_FULL);
}

static void stall(void)
{
    USB_STALL_ARM = USB_CONTROL_BOTH;
    USB_BUFFER(USB_CONTROL_IN) = USB_BUFFER_STALL;
    USB_BUFFER(USB_CONTROL_OUT) = USB_BUFFER_STALL;
}

/* Requests: each says whether it is granted. */

/* By the value of a request: type and number (9.4.3). One without a length is a text. */
static const struct {
    uint16_t value;
    uint8_t bytes;
    const void *what;
} descriptors[] = {
    {0x0100, USB_DEVICE_BYTES, usb_device},
    {0x0200, USB_CONFIGURATION_BYTES, usb_configuration},
    {0x0300, USB_LANGUAGES_BYTES, usb_languages},
    {0x0301, 0, usb_maker},
    {0x0302, 0, usb_product},
    {0x0303, 0, control.serial_number},
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
    control.address_next = (uint8_t)setup->value;
    return setup->value < 128;
}

static bool set_configuration(const struct setup *setup)
{
    if (setup->value > 1) {
        return false;
    }
    usb_configure((uint8_t)setup->value);
    return true;
}

static bool get_configuration(const struct setup *setup)
{
    return reply_byte(setup, usb.configuration);
}

/* The interfaces have one setting each. */
static bool get_interface(const struct setup *setup)
{
    return usb.configuration != 0 && setup->index < 2 && reply_byte(setup, 0);
}

/* Fed by the bus, and never wakes the computer. */
static bool get_device_status(const struct setup *setup)
{
    return reply_half(setup, 0);
}

static bool get_interface_status(const struct setup *setup)
{
    return usb.configuration != 0 && setup->index < 2 && reply_half(setup, 0);
}

/* Which place an endpoint's address names; USB_PLACES where there is no such endpoint now. */
static uint32_t place_of(uint32_t address)
{
    uint32_t place = 2 * (address & 0x0F) + ((address & 0x80) == 0);
    bool there = place < USB_PLACES && (USB_DATA_ALL & BIT(place)) != 0 && usb.configuration != 0;
    return there && (address & ~UINT32_C(0x8F)) == 0 ? place : USB_PLACES;
}

static bool get_endpoint_status(const struct setup *setup)
{
    if ((setup->index & ~0x80) == 0) {
        return reply_half(setup, 0);
    }
    uint32_t place = place_of(setup->index);
    return place < USB_PLACES && reply_half(setup, (usb.halted & BIT(place)) != 0);
}

/* The only feature of an endpoint is HALT, which is 0. */
static bool set_endpoint_feature(const struct setup *setup)
{
    uint32_t place = place_of(setup->index);
    if (place == USB_PLACES || setup->value != 0) {
        return false;
    }
    usb_halt(place);
    return true;
}

static bool clear_endpoint_feature(const struct setup *setup)
{
    uint32_t place = place_of(setup->index);
    if (place == USB_PLACES || setup->value != 0) {
        return false;
    }
    usb_restart(place);
    return true;
}

/* Speed and format mean nothing here, but a computer wants to read what it has set. */
static bool set_line_coding(const struct setup *setup)
{
    control.takes_line_coding = usb.configuration != 0 && setup->index == 0;
    if (control.takes_line_coding) {
        usb_give(USB_CONTROL_OUT, LINE_CODING_BYTES);
    }
    return control.takes_line_coding;
}

static bool get_line_coding(const struct setup *setup)
{
    return usb.configuration != 0 && setup->index == 0 && reply(setup, control.line_coding, LINE_CODING_BYTES);
}

/* DTR rises where a program opens the port and falls where it closes it. */
static bool set_line_state(const struct setup *setup)
{
    if (usb.configuration == 0 || setup->index != 0) {
        return false;
    }
    usb_listen((setup->value & 1) != 0);
    return true;
}

/* All that is understood (9.4; PSTN 6.3); to the rest, the answer is STALL. A type from 0x80 on asks for data, the others bring `bytes`. */
static const struct {
    uint8_t type, code, bytes;
    bool (*grant)(const struct setup *setup);
} requests[] = {
    {0x80, 0, 0, get_device_status},
    {0x81, 0, 0, get_interface_status},
    {0x82, 0, 0, get_endpoint_status},
    {0x02, 1, 0, clear_endpoint_feature},
    {0x02, 3, 0, set_endpoint_feature},
    {0x00, 5, 0, set_address},
    {0x80, 6, 0, get_descriptor},
    {0x80, 8, 0, get_configuration},
    {0x00, 9, 0, set_configuration},
    {0x81, 10, 0, get_interface},
    {0x21, 0x20, LINE_CODING_BYTES, set_line_coding},
    {0xA1, 0x21, 0, get_line_coding},
    {0x21, 0x22, 0, set_line_state},
};

static bool grant(const struct setup *setup)
{
    for (uint32_t i = 0; i < sizeof requests / sizeof *requests; i++) {
        if (requests[i].type == setup->type && requests[i].code == setup->code) {
            return (setup->type >= 0x80 || setup->length == requests[i].bytes) && requests[i].grant(setup);
        }
    }
    return false;
}

/* Transfers */

/* Ends whatever the last one began, finished or not (8.5.3). */
static void take_back(void)
{
    end_reply();
    USB_BUFFER(USB_CONTROL_OUT) = 0;
    USB_FINISHED = USB_CONTROL_BOTH;
    usb.data1 |= USB_CONTROL_BOTH;
    control.takes_line_coding = false;
    control.address_next = control.address;
}

static uint16_t setup_half(uint32_t offset)
{
    return (uint16_t)(USB_BYTE(offset) | USB_BYTE(offset + 1) << 8);
}

void control_begin(void)
{
    USB_EVENTS = USB_EVENT_SETUP; /* first: one that comes meanwhile raises it anew */
    take_back();
    struct setup setup = {USB_BYTE(0), USB_BYTE(1), setup_half(2), setup_half(4), setup_half(6)};
    if (!grant(&setup)) {
        stall();
    } else if (setup.length == 0) {
        acknowledge();
    }
}

/* An address counts from the end of the transfer that gave it (9.4.6). */
void control_take_address(void)
{
    control.address = control.address_next;
    USB_ADDRESS = control.address;
}

void control_sent(void)
{
    control_take_address();
    if (control.reply_bytes > 0 || control.reply_ends_short) {
        send_reply();
    }
}

/* The data of SET_LINE_CODING, or the end of a reply. */
void control_received(void)
{
    if (!control.takes_line_coding) {
        end_reply();
        return;
    }
    control.takes_line_coding = false;
    if ((USB_BUFFER(USB_CONTROL_OUT) & USB_BUFFER_LENGTH) != LINE_CODING_BYTES) {
        stall();
        return;
    }
    for (uint32_t i = 0; i < LINE_CODING_BYTES; i++) {
        control.line_coding[i] = USB_BYTE(usb_packet(USB_CONTROL_IN) + i);
    }
    acknowledge();
}

void control_reset(void)
{
    control.address = 0;
    take_back();
    control_take_address();
}

void control_open(const char *serial_number)
{
    for (uint32_t i = 0; i < USB_SERIAL_MOST && serial_number[i] != 0; i++) {
        control.serial_number[i] = serial_number[i];
    }
    control.line_coding[1] = 0xC2; /* 0x1C200 baud, 115200; one stop bit, no parity, 8 bits (PSTN, table 17) */
    control.line_coding[2] = 0x01;
    control.line_coding[6] = 8;
}
