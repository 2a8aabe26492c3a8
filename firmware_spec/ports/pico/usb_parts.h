/* What the files of the USB port share; usb.h is for the rest of the firmware.
 *
 *     usb.c            the serial port: the endpoints that carry bytes, what happens on the bus, the interrupt
 *     usb_control.c    endpoint 0: what a computer may ask for and set
 *     usb_text.c       the descriptors
 *
 * Numbers of sections and tables are of the USB 2.0 specification, unless another is named: CDC is "Class Definitions for Communications
 * Devices" 1.2, PSTN its "Subclass for PSTN Devices" 1.2; all three from memory. */
#ifndef USB_PARTS_H
#define USB_PARTS_H

#include "rp2040.h"
#include "usb.h"

#include <stdbool.h>
#include <stdint.h>

enum { USB_CONTROL_PACKET = 64, USB_RECEIVED_PACKET = 64, USB_SENT_PACKET = 32, USB_NOTICE_PACKET = 8 };
enum { USB_BULK = 2, USB_INTERRUPT = 3 }; /* types of endpoints (table 9-13) */

/* Places of the endpoints in the controller (rp2040.h). */
enum { USB_CONTROL_IN = 0, USB_CONTROL_OUT = 1, USB_NOTICE_IN = 2, USB_DATA_IN = 4, USB_DATA_OUT = 5, USB_PLACES = 6 };
enum {
    USB_CONTROL_BOTH = 1 << USB_CONTROL_IN | 1 << USB_CONTROL_OUT,
    USB_DATA_ALL = 1 << USB_NOTICE_IN | 1 << USB_DATA_IN | 1 << USB_DATA_OUT,
};

/* usb_text.c */

enum { USB_DEVICE_BYTES = 18, USB_CONFIGURATION_BYTES = 75, USB_LANGUAGES_BYTES = 4 };
extern const uint8_t usb_device[USB_DEVICE_BYTES];
extern const uint8_t usb_configuration[USB_CONFIGURATION_BYTES];
extern const uint8_t usb_languages[USB_LANGUAGES_BYTES];
extern const char usb_maker[];
extern const char usb_product[];

/* usb.c, for requests of the computer. All of it, like what is below, is called by the interrupt. */

struct usb_state {
    volatile uint8_t configuration; /* 0: not set up */
    uint8_t data1;                  /* a bit a place: the next packet is DATA1 */
    uint8_t halted;                 /* a bit a place */
};
extern struct usb_state usb;

/* Where the packet of a place is in the controller's memory. Endpoint 0 has one for both ways, that of its place 0. */
static inline uint32_t usb_packet(uint32_t place)
{
    return 0x100 + 0x40 * place;
}

/* Gives the controller a packet to send, or room for one; what follows is the other kind of DATA. control: length, and FULL for what is
 * to be sent. */
void usb_give(uint32_t place, uint32_t control);

void usb_configure(uint8_t configuration);
void usb_halt(uint32_t place);

/* Ends a halt, and begins with DATA0 (9.4.5) and with the packet that the computer has not yet taken. */
void usb_restart(uint32_t place);

/* A program has opened the port or closed it. */
void usb_listen(bool listens);

/* usb_control.c, for what happens at endpoint 0 */

void control_open(const char *serial_number); /* before the interrupt is on */
void control_reset(void);
void control_begin(void); /* there is a SETUP */
void control_sent(void);
void control_received(void);
void control_take_address(void); /* the computer has seen the end of SET_ADDRESS, if that is what was sent */

#endif
