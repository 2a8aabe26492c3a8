#include "usb_parts.h"

/* 1209:0001 is one of the numbers that pid.codes keeps for trials in private; README.md says what that means for boards that are given away. */
enum { VENDOR = 0x1209, PRODUCT = 0x0001, VERSION_BCD = 0x0100 };
enum { DEVICE = 1, CONFIGURATION, STRING, INTERFACE, ENDPOINT, ASSOCIATION = 11, CLASS_INTERFACE = 0x24 };
enum { TEXT_MAKER = 1, TEXT_PRODUCT, TEXT_SERIAL };
enum { MISCELLANEOUS = 0xEF, COMMUNICATIONS = 2, ABSTRACT_CONTROL = 2, DATA = 10 }; /* classes and a subclass */
enum { BUS_POWERED = 0x80, MOST_MA = 500 };

#define LOW(half) ((uint8_t)((half) & 0xFF))
#define HIGH(half) ((uint8_t)((half) >> 8))
#define HALF(half) LOW(half), HIGH(half)

/* The class of the device says that an association groups the interfaces of a function (USB ECN "Interface Association Descriptor"). */
const uint8_t usb_device[USB_DEVICE_BYTES] = {
    USB_DEVICE_BYTES, DEVICE, HALF(0x0200), MISCELLANEOUS, 2, 1, USB_CONTROL_PACKET,
    HALF(VENDOR), HALF(PRODUCT), HALF(VERSION_BCD), TEXT_MAKER, TEXT_PRODUCT, TEXT_SERIAL, 1
};

const uint8_t usb_configuration[USB_CONFIGURATION_BYTES] = {
    9, CONFIGURATION, HALF(USB_CONFIGURATION_BYTES), 2, 1, 0, BUS_POWERED, MOST_MA / 2,
    8, ASSOCIATION, 0, 2, COMMUNICATIONS, ABSTRACT_CONTROL, 0, 0,
    9, INTERFACE, 0, 0, 1, COMMUNICATIONS, ABSTRACT_CONTROL, 0, 0,
    5, CLASS_INTERFACE, 0, HALF(0x0120), /* header: CDC 1.2 */
    5, CLASS_INTERFACE, 1, 0, 1,         /* call management: none */
    4, CLASS_INTERFACE, 2, 2,            /* abstract control: line coding and state */
    5, CLASS_INTERFACE, 6, 0, 1,         /* union: interface 0 controls 1 */
    7, ENDPOINT, 0x81, USB_INTERRUPT, HALF(USB_NOTICE_PACKET), 255,
    9, INTERFACE, 1, 0, 2, DATA, 0, 0, 0,
    7, ENDPOINT, 0x02, USB_BULK, HALF(USB_RECEIVED_PACKET), 0,
    7, ENDPOINT, 0x82, USB_BULK, HALF(USB_SENT_PACKET), 0
};

const uint8_t usb_languages[USB_LANGUAGES_BYTES] = { USB_LANGUAGES_BYTES, STRING, HALF(0x0409) }; /* English (United States) */
const char usb_maker[] = "fxseq";
const char usb_product[] = "fxseq pico";
