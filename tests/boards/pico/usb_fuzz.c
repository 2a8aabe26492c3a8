/* usb_fuzz SEED STEPS: usb.c on this machine, against a controller that keeps to its data sheet and a computer that keeps to nothing:
 * any requests in any order, resets, suspensions, packets of any length, and a processor that looks when it likes. The chip's addresses
 * are mapped, so usb.c is as it is on the chip. Built with sanitizers. Ends with 0 and a line of counts, or says what is wrong. */
#define _GNU_SOURCE
#define main main_of_the_board
#include "usb.c"
#undef main

#include <stdio.h>
#include <stdlib.h>
#include <sys/mman.h>

enum { PAGES = 0x4000, SETUPS = 0, COUNTS = 6 };

static uint32_t state, events, finished;
static uint32_t counts[COUNTS];
static uint8_t put_next, heard_next, sent_next, got_next; /* bytes both ways count up */
static uint32_t heard_gaps, got_gaps; /* may be in them: before and behind a packet that was under way when the rest was dropped */
static uint32_t asked, answered;                          /* bytes of a control transfer */

static uint32_t any(uint32_t below)
{
    state = state * 1664525u + 1013904223u;
    return (state >> 8) % below;
}

static void must(bool holds, const char *rule)
{
    if (!holds) {
        printf("broken: %s\n", rule);
        exit(1);
    }
}

static void follow(uint8_t byte, uint8_t *next, uint32_t *gaps, const char *rule)
{
    if (byte != *next) {
        must(*gaps > 0, rule);
        --*gaps;
    }
    *next = (uint8_t)(byte + 1);
}

static void map(uintptr_t address, size_t bytes)
{
    void *got = mmap((void *)address, bytes, PROT_READ | PROT_WRITE, MAP_PRIVATE | MAP_ANONYMOUS | MAP_FIXED_NOREPLACE, -1, 0);
    must(got == (void *)address, "the chip's addresses can be mapped");
}

void interrupt_on(uint32_t irq, void (*handler)(void))
{
    must(irq == IRQ_USB && handler == usb_irq, "the handler is that of USB");
}

/* Whether what is waited for has to be under way. */
static void check_alive(void)
{
    bool in_halted = (usb.halted & BIT(USB_DATA_IN)) != 0, out_halted = (usb.halted & BIT(USB_DATA_OUT)) != 0;
    must(filled(&usb.received) <= ROOM && filled(&usb.waiting) <= ROOM, "no ring holds more than it has room for");
    if (usb.configuration == 0) {
        return;
    }
    if (!in_halted && !usb.suspended && filled(&usb.waiting) > 0) {
        must((USB_BUFFER(USB_DATA_IN) & USB_BUFFER_AVAILABLE) != 0, "what waits is being sent");
    }
    if (!out_halted && filled(&usb.received) <= ROOM - USB_RECEIVED_PACKET) {
        must((USB_BUFFER(USB_DATA_OUT) & USB_BUFFER_AVAILABLE) != 0, "where there is room, a packet is taken");
    }
}

static void interrupt(void)
{
    static const uint32_t of[][2] = {
        { USB_EVENT_RESET, USB_INTERRUPT_RESET }, { USB_EVENT_SUSPEND, USB_INTERRUPT_SUSPEND }, { USB_EVENT_RESUME, USB_INTERRUPT_RESUME },
        { USB_EVENT_SETUP, USB_INTERRUPT_SETUP },
    };
    uint32_t pending = finished != 0 ? USB_INTERRUPT_BUFFER : 0;
    for (int i = 0; i < 4; i++) {
        pending |= (events & of[i][0]) != 0 ? of[i][1] : 0;
    }
    pending = (pending & USB_ENABLED) | USB_FORCED;
    if (pending == 0) {
        return;
    }
    USB_PENDING = pending;
    USB_EVENTS = events;
    USB_FINISHED = finished;
    if ((events & (USB_EVENT_RESET | USB_EVENT_SUSPEND | USB_EVENT_RESUME | USB_EVENT_SETUP)) != 0) {
        heard_gaps = got_gaps = 2; /* bytes may be dropped by it */
    }
    usb_irq();
    must(USB_FORCED == 0, "a call of the interrupt is answered");
    events = finished = 0;
    check_alive();
}

/* A buffer of endpoint 0 stays offered after a SETUP until the interrupt takes it back: nothing can be done about that hole of the chip's. */
static bool is_on(uint32_t place)
{
    return place < 2 ? (events & USB_EVENT_SETUP) == 0 : (USB_ENDPOINT(place) & USB_ENDPOINT_ON) == USB_ENDPOINT_ON;
}

/* An IN: what is offered is sent. */
static void take(uint32_t place)
{
    uint32_t buffer = USB_BUFFER(place), count = buffer & USB_BUFFER_LENGTH;
    if (!is_on(place) || (buffer & USB_BUFFER_STALL) != 0 || (buffer & USB_BUFFER_AVAILABLE) == 0 || (buffer & USB_BUFFER_FULL) == 0) {
        return;
    }
    must(count <= (place == USB_CONTROL_IN ? USB_CONTROL_PACKET : USB_SENT_PACKET), "a packet is no longer than its endpoint's");
    must(place != USB_NOTICE_IN, "nothing is sent as a notice");
    if (place == USB_CONTROL_IN) {
        answered += count;
        must(answered <= asked, "a reply is no longer than what was asked for");
    }
    for (uint32_t i = 0; place == USB_DATA_IN && i < count; i++) {
        uint8_t byte = USB_BYTE(buffer_of(place) + i);
        follow(byte, &heard_next, &heard_gaps, "the computer hears what was put, in order");
        counts[1]++;
    }
    USB_BUFFER(place) = buffer & ~(uint32_t)(USB_BUFFER_AVAILABLE | USB_BUFFER_FULL);
    finished |= BIT(place);
}

/* An OUT of at most as many bytes as are taken. */
static void give_packet(uint32_t place)
{
    uint32_t buffer = USB_BUFFER(place), room = buffer & USB_BUFFER_LENGTH;
    if (!is_on(place) || (buffer & USB_BUFFER_STALL) != 0 || (buffer & USB_BUFFER_AVAILABLE) == 0 || (buffer & USB_BUFFER_FULL) != 0) {
        return;
    }
    must(room <= USB_RECEIVED_PACKET, "no more is taken than a packet");
    uint32_t count = any(4) == 0 ? any(room + 1) : room;
    for (uint32_t i = 0; i < count; i++) {
        USB_BYTE(buffer_of(place == USB_CONTROL_OUT ? USB_CONTROL_IN : place) + i) = place == USB_DATA_OUT ? sent_next++ : (uint8_t)any(256);
    }
    counts[2] += place == USB_DATA_OUT ? count : 0;
    USB_BUFFER(place) = (buffer & ~(uint32_t)(USB_BUFFER_AVAILABLE | USB_BUFFER_LENGTH)) | USB_BUFFER_FULL | count;
    finished |= BIT(place);
}

/* A request: one of those there are, one of them with something changed, or anything. */
static void ask(void)
{
    static const uint8_t known[][8] = {
        { 0x00, 5, 9, 0, 0, 0, 0, 0 }, { 0x00, 9, 1, 0, 0, 0, 0, 0 }, { 0x00, 9, 1, 0, 0, 0, 0, 0 }, { 0x80, 6, 0, 1, 0, 0, 64, 0 },
        { 0x80, 6, 0, 2, 0, 0, 255, 0 }, { 0x80, 6, 3, 3, 9, 4, 255, 0 }, { 0x80, 6, 1, 3, 9, 4, 255, 0 }, { 0x82, 0, 0, 0, 0x82, 0, 2, 0 },
        { 0x02, 3, 0, 0, 0x82, 0, 0, 0 }, { 0x02, 1, 0, 0, 0x82, 0, 0, 0 }, { 0x02, 3, 0, 0, 2, 0, 0, 0 }, { 0x02, 1, 0, 0, 2, 0, 0, 0 },
        { 0x21, 0x20, 0, 0, 0, 0, 7, 0 }, { 0xA1, 0x21, 0, 0, 0, 0, 7, 0 }, { 0x21, 0x22, 1, 0, 0, 0, 0, 0 }, { 0x21, 0x22, 0, 0, 0, 0, 0, 0 },
    };
    const uint8_t *like = known[any(sizeof known / sizeof *known)];
    uint32_t kind = any(4), changed = any(8);
    for (uint32_t i = 0; i < 8; i++) {
        bool is_changed = kind == 0 || (kind == 1 && i == changed);
        USB_BYTE(i) = is_changed ? (uint8_t)any(256) : like[i];
    }
    asked = (uint32_t)USB_BYTE(6) | (uint32_t)USB_BYTE(7) << 8;
    answered = 0;
    USB_STALL_ARM = 0;
    events |= USB_EVENT_SETUP;
    counts[SETUPS]++;
}

static void get(void)
{
    uint8_t byte;
    for (uint32_t i = any(200); i > 0 && usb_get(&byte); i--) {
        follow(byte, &got_next, &got_gaps, "the board gets what was sent, in order");
        counts[3]++;
    }
}

static void put(void)
{
    for (uint32_t i = any(100); i > 0 && usb_can_put(); i--) {
        heard_gaps = usb_awake() ? heard_gaps : 2;
        usb_put(put_next++);
    }
    if (any(2) == 0) {
        usb_flush();
    }
}

static void step(void)
{
    static const uint32_t rare[] = { USB_EVENT_RESET, USB_EVENT_SUSPEND, USB_EVENT_RESUME, USB_EVENT_RESUME };
    uint32_t what = any(64);
    if (what == 0) {
        uint32_t event = rare[any(4)];
        counts[4]++;
        events |= event;
    } else if (what < 6) {
        ask();
    } else if (what < 16) {
        take(USB_CONTROL_IN);
    } else if (what < 20) {
        give_packet(USB_CONTROL_OUT);
    } else if (what < 32) {
        take(USB_DATA_IN);
    } else if (what < 44) {
        give_packet(USB_DATA_OUT);
    } else if (what < 46) {
        take(USB_NOTICE_IN);
    } else if (what < 54) {
        get();
    } else {
        put();
    }
    if (any(3) > 0) {
        interrupt();
    }
}

int main(int count, char **values)
{
    must(count == 3, "usage: usb_fuzz SEED STEPS");
    state = (uint32_t)strtoul(values[1], 0, 10);
    map(0x4000C000, PAGES); /* resets, and their aliases */
    map(USB_MEMORY, 0x1000);
    map(USB, PAGES);
    RESETS_DONE = UINT32_MAX;
    usb_open("0123456789ABCDEF0123456789ABCDEF");
    for (uint32_t steps = (uint32_t)strtoul(values[2], 0, 10); steps > 0; steps--) {
        step();
    }
    printf("%u requests, %u bytes heard, %u sent, %u got, %u events\n", counts[0], counts[1], counts[2], counts[3], counts[4]);
    return 0;
}
