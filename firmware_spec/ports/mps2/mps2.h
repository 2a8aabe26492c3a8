/* The machine: registers of the MPS2 with AN385 (Arm DAI 0385; the timer and UART are those of Arm's CMSDK), and the interrupts. */
#ifndef MPS2_H
#define MPS2_H

#include <stdint.h>

#define MPS2_REGISTER(address) (*(volatile uint32_t *)(address))
#define CLOCK_HZ UINT32_C(25000000)

#define TIMER0_CTRL MPS2_REGISTER(0x40000000)
#define TIMER0_VALUE MPS2_REGISTER(0x40000004)
#define TIMER0_RELOAD MPS2_REGISTER(0x40000008)

#define UART0_DATA MPS2_REGISTER(0x40004000)
#define UART0_STATE MPS2_REGISTER(0x40004004)
#define UART0_CTRL MPS2_REGISTER(0x40004008)
#define UART0_INT MPS2_REGISTER(0x4000400C)
#define UART0_BAUD MPS2_REGISTER(0x40004010)

#define SYSTICK_CTRL MPS2_REGISTER(0xE000E010)
#define SYSTICK_RELOAD MPS2_REGISTER(0xE000E014)
#define SYSTICK_VALUE MPS2_REGISTER(0xE000E018)
#define NVIC_ENABLE MPS2_REGISTER(0xE000E100)

/* Memory that reset does not clear. */
#define IN_PSRAM __attribute__((section(".psram")))

int main(void);
void on_tick(void);
void on_byte(void);

static inline void interrupts_off(void)
{
    __asm__ volatile("cpsid i" ::: "memory");
}

static inline void interrupts_on(void)
{
    __asm__ volatile("cpsie i" ::: "memory");
}

/* Sleeps until an interrupt is pending, even where interrupts are off. */
static inline void wait_for_interrupt(void)
{
    __asm__ volatile("wfi" ::: "memory");
}

#endif
