/* The second stage of the boot: the boot ROM copies the first 256 bytes of flash memory to the end of RAM and runs them there, if their
 * last four are the CRC of the others (image.py puts it there). It copies all the rest to RAM, where the firmware runs: nothing but
 * this and tables is ever read in place. No calls, no constants but its own. */
#include "ssi.h"

/* pico.ld: an image of whole words, vectors first, as it lies in flash memory and in RAM. */
extern const uint32_t image_load[], image_load_end[];
extern uint32_t image[];

__attribute__((section(".boot2"), used, noreturn)) void boot2(void)
{
    ssi_read_in_place();
    uint32_t *to = image;
    for (const uint32_t *from = image_load; from < image_load_end; from++, to++) {
        *to = *from;
    }
    VECTORS = (uint32_t)image;
    __asm volatile("msr msp, %0\n\tbx %1" ::"r"(image[0]), "r"(image[1]));
    __builtin_unreachable();
}
