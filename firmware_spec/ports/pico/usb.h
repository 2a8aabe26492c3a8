/* A serial port over USB: CDC ACM, which a computer knows without a driver. Full speed; one configuration; README.md has its numbers.
 *
 *     usb_open("E66038B713587A29");     the computer sees it from now on
 *     ... usb_irq is the handler of interrupt IRQ_USB ...
 *     if (usb_get(&byte)) { ... }
 *     if (usb_can_put()) { usb_put(byte); }
 *     usb_flush();                      after the last byte of an answer
 *
 * No call waits. All that talks to the controller happens in usb_irq. Bytes for which there is no room stay with the computer, which asks
 * again. */
#ifndef USB_H
#define USB_H

#include <stdbool.h>
#include <stdint.h>

enum { USB_SERIAL_MOST = 31 }; /* letters of a serial number; what is longer is cut off */

/* Attaches the board to the bus. serial_number: ASCII; by it a computer gives the same board the same port again. Needs the 48 MHz of
 * PLL_USB. */
void usb_open(const char *serial_number);

/* Takes the next byte that the computer has sent, if there is one. */
bool usb_get(uint8_t *byte);

/* Whether usb_put has room. Always while no computer is there, since bytes are then dropped: what waits for a computer that has gone
 * must not hold up the board. False for as long as a computer does not read. */
bool usb_can_put(void);

/* Puts a byte behind those that wait to be sent; only where usb_can_put says so. */
void usb_put(uint8_t byte);

/* Sends what waits, though it fills no packet. */
void usb_flush(void);

/* Whether a computer has set the board up and neither sleeps nor is unplugged. */
bool usb_awake(void);

/* Interrupt IRQ_USB. */
void usb_irq(void);

#endif
