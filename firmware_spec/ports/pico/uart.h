/* UART0 on GP0 (out) and GP1 (in): 115 200 baud until it is told another speed, 8 data bits, no parity, 1 stop bit. */
#ifndef UART_H
#define UART_H

#include <stdbool.h>
#include <stdint.h>

enum { UART_BAUD_MOST = 2000000 }; /* 125 MHz / 16 / 2 MHz is 250 / 64 to the clock; lower ones are kept to 0.2 % */

void uart_open(void);
void uart_speed(uint32_t baud); /* 115 200 .. UART_BAUD_MOST, behind what has been put: waits as uart_flush */
bool uart_get(uint8_t *byte);
bool uart_can_put(void);
void uart_put(uint8_t byte);
void uart_flush(void); /* waits until all is on the line: at most 3 ms */

#endif
