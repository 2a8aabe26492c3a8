/* Stand-in for USB. */
#include "usb.h"

void usb_open(const char *serial_number) { (void)serial_number; }
bool usb_get(uint8_t *byte) { (void)byte; return false; }
bool usb_can_put(void) { return true; }
void usb_put(uint8_t byte) { (void)byte; }
void usb_flush(void) {}
void usb_irq(void) {}
