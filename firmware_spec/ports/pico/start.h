/* What start.c gives to the others: the way to main, interrupts, time, the watchdog, the way out. */
#ifndef START_H
#define START_H

#include <stdint.h>

enum {
    BEAT_ALARM = 0, NAP_ALARM, /* of the timer's four; the others are free */
    WATCHDOG_US = 2000000 /* without watchdog_feed for so long the chip is reset, and all pins are inputs again */
};

int main(void);

/* Puts a handler into the vectors and turns its interrupt on, with the highest priority. */
void interrupt_on(uint32_t irq, void (*handler)(void));

uint32_t time_us(void);
uint32_t time_ms(void); /* from the main loop only */
void nap(uint32_t us); /* sleeps until the next interrupt, but no longer than this */
void watchdog_feed(void);

/* Leaves the firmware for the boot loader of the ROM, which shows itself as a USB drive. Does not return. */
void enter_boot_loader(void);

#endif
