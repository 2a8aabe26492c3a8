/* For tests of usb.c: sends back what comes, in packets as they come; the test steers it by these. */
#include "rp2040.h"
#include "start.h"
#include "usb.h"

volatile uint32_t deaf;   /* takes no byte */
volatile uint32_t speech; /* so many bytes of its own are still to be sent, counted up from 0 */
volatile uint32_t patient; /* does not ask for what waits to be sent */
volatile uint32_t busy_us; /* interrupts are held back for so long, as while flash memory is written; once */
volatile uint32_t rounds, refused, awake;

static bool has_byte;
static uint8_t byte;

static void echo(void)
{
    while (usb_can_put() && (has_byte || (!deaf && usb_get(&byte)))) {
        usb_put(byte);
        has_byte = false;
    }
}

static void speak(void)
{
    static uint8_t next;
    while (speech > 0 && usb_can_put()) {
        usb_put(next++);
        speech--;
    }
    refused += speech > 0;
}

static void be_busy(void)
{
    uint32_t begun = time_us();
    uint32_t before = hold_interrupts();
    while (time_us() - begun < busy_us) {
    }
    busy_us = 0;
    restore_interrupts(before);
}

/* Until something happens, unless a byte has come since it was last looked for. */
static void rest(void)
{
    uint32_t before = hold_interrupts();
    has_byte = has_byte || (!deaf && usb_get(&byte));
    if (!has_byte || !usb_can_put()) {
        wait_for_interrupt();
    }
    restore_interrupts(before);
}

int main(void)
{
    usb_open("0123456789ABCDEF0123456789ABCDEF-too-long");
    for (;;) {
        echo();
        speak();
        if (!patient) {
            usb_flush();
        }
        be_busy();
        awake = usb_awake();
        rounds++;
        watchdog_feed();
        rest();
    }
}
