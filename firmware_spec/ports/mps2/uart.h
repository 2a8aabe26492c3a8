/* UART 0: received by interrupt into a ring, sent when the line takes a byte. */
#ifndef UART_H
#define UART_H

#include <stdbool.h>
#include <stdint.h>

void uart_start(void);
bool uart_waiting(void);
uint8_t uart_first(void); /* of the bytes that wait */
void uart_drop_first(void);
bool uart_takes_byte(void);
void uart_send(uint8_t byte);

#endif
