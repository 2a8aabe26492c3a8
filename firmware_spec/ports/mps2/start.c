/* From reset to main, and what a compiler may ask for in a freestanding program. */
#include <stdint.h>

#include "memory.h"
#include "mps2.h"
#include "semihost.h"

extern uint32_t data_begin, data_end, data_load, bss_begin, bss_end, stack_top;

void reset(void);

/* Not to be turned into calls of themselves. */
__attribute__((optimize("no-tree-loop-distribute-patterns"))) void *memcpy(void *restrict to, const void *restrict from, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        ((uint8_t *)to)[i] = ((const uint8_t *)from)[i];
    }
    return to;
}

__attribute__((optimize("no-tree-loop-distribute-patterns"))) void *memset(void *to, int value, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        ((uint8_t *)to)[i] = (uint8_t)value;
    }
    return to;
}

void reset(void)
{
    memcpy(&data_begin, &data_load, (size_t)((uint8_t *)&data_end - (uint8_t *)&data_begin));
    memset(&bss_begin, 0, (size_t)((uint8_t *)&bss_end - (uint8_t *)&bss_begin));
    main();
    host_exit(0);
}

static void fault(void)
{
    host_say("fxp_mps2: the processor met a fault, or an interrupt that nobody wants\n");
    host_exit(3);
}

/* A program without one of these does not turn that interrupt on. */
__attribute__((weak)) void on_tick(void)
{
    fault();
}

__attribute__((weak)) void on_byte(void)
{
    fault();
}

struct vectors {
    void *stack;
    void (*handlers[17])(void);
};

/* 1 reset, 2 to 14 faults and calls of a system, 15 SysTick, 16 UART0 has received. */
__attribute__((section(".vectors"), used)) static const struct vectors vectors = {
    &stack_top,
    {reset, fault, fault, fault, fault, fault, fault, fault, fault, fault, fault, fault, fault, fault, on_tick, on_byte, fault}
};
