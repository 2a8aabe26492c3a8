/* What the board tells a computer about itself: the descriptors of chapter 9 of the USB 2.0 specification and of CDC 1.2 with PSTN 1.2. */
#ifndef USB_TEXT_H
#define USB_TEXT_H

#include <stdint.h>

enum { USB_CONTROL_PACKET = 64, USB_RECEIVED_PACKET = 64, USB_SENT_PACKET = 32, USB_NOTICE_PACKET = 8 };
enum { USB_BULK = 2, USB_INTERRUPT = 3 }; /* types of endpoints (USB 2.0, table 9-13) */

/* Places of the endpoints in the controller, as in rp2040.h. */
enum { USB_CONTROL_IN = 0, USB_CONTROL_OUT = 1, USB_NOTICE_IN = 2, USB_DATA_IN = 4, USB_DATA_OUT = 5 };

enum { USB_DEVICE_BYTES = 18, USB_CONFIGURATION_BYTES = 75, USB_LANGUAGES_BYTES = 4 };
extern const uint8_t usb_device[USB_DEVICE_BYTES];
extern const uint8_t usb_configuration[USB_CONFIGURATION_BYTES];
extern const uint8_t usb_languages[USB_LANGUAGES_BYTES];
extern const char usb_maker[];
extern const char usb_product[];

#endif
