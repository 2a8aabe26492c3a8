/* UART0 on GP0 (out) and GP1 (in): 115 200 baud, 8 data bits, no parity, 1 stop bit. */
#ifndef UART_H
#define UART_H

#include <stdbool.h>
#include <stdint.h>

void uart_open(void);
bool uart_get(uint8_t *byte);
bool uart_can_put(void);
void uart_put(uint8_t byte);
void uart_flush(void); /* waits until all is on the line: at most 3 ms */

#endif
