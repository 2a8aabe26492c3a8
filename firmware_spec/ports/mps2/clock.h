/* Two clocks: timer 0 counts all the time, SysTick says when a frame is due. */
#ifndef CLOCK_H
#define CLOCK_H

#include <stdbool.h>
#include <stdint.h>

void clock_start(void);
uint32_t clock_ticks(void); /* of 40 ns, modulo 2^32 */
uint32_t clock_ms(void);    /* modulo 2^32; to be called more than once in 170 s */

/* From now on a frame is due every samples_per_frame samples, exactly in the long run. */
void frames_start(uint32_t samples_per_frame, uint32_t sample_rate_hz);
bool frames_waiting(void);
/* Whether one is due; it is taken off the count. */
bool frames_take(void);

#endif
