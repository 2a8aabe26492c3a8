/* The limits of a build, which size the state. A table that is sound but goes beyond one of them is refused with FXP_TOO_MANY. State in bytes:
 * about 260, and for each channel 13, voice 76, input 8, trigger 8, counter 2, selector 1. Give other limits to the compiler: objects with different ones do not link. */
#ifndef FXP_CONFIG_H
#define FXP_CONFIG_H

#ifndef FXP_MAX_CHANNELS
#define FXP_MAX_CHANNELS 24 /* 1..255 */
#endif
#ifndef FXP_MAX_VOICES
#define FXP_MAX_VOICES 4 /* 1..16 */
#endif
#ifndef FXP_MAX_INPUTS
#define FXP_MAX_INPUTS 8 /* 1..32 */
#endif
#ifndef FXP_MAX_SELECTORS
#define FXP_MAX_SELECTORS 4 /* 1..16 */
#endif
#ifndef FXP_MAX_COUNTERS
#define FXP_MAX_COUNTERS 8 /* 1..16 */
#endif
#ifndef FXP_MAX_TRIGGERS
#define FXP_MAX_TRIGGERS 12 /* 1..64 */
#endif

/* 0 leaves out a coding that is dear on 8-bit chips: its code, and of a voice 12 bytes without LPC-Rice and 28 without both. A table whose forms name
 * it is then refused with FXP_TOO_MANY. */
#ifndef FXP_QOA
#define FXP_QOA 1
#endif
#ifndef FXP_RICE
#define FXP_RICE 1
#endif

/* Samples that are played at once, a multiple of 4 up to 48. Playing takes 14 bytes of stack for each; fewer cost time. */
#ifndef FXP_BLOCK
#define FXP_BLOCK 24
#endif

/* The names of fxp_open and fxp_open_summed in this build, with its limits in the order above. */
#define FXP_NAME_(name, a, b, c, d, e, f, g, h, i) name##_##a##_##b##_##c##_##d##_##e##_##f##_##g##_##h##_##i
#define FXP_NAME(name, a, b, c, d, e, f, g, h, i) FXP_NAME_(name, a, b, c, d, e, f, g, h, i)
#define FXP_OF_BUILD(name) \
    FXP_NAME(name, FXP_MAX_CHANNELS, FXP_MAX_VOICES, FXP_MAX_INPUTS, FXP_MAX_SELECTORS, FXP_MAX_COUNTERS, FXP_MAX_TRIGGERS, FXP_QOA, FXP_RICE, \
             FXP_BLOCK)
#define fxp_open FXP_OF_BUILD(fxp_open)
#define fxp_open_summed FXP_OF_BUILD(fxp_open_summed)

#endif
