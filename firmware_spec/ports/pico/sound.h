/* Sound: samples leave by DMA, to an I2S amplifier or as the width of pulses, and their pace is that of the frames. */
#ifndef SOUND_H
#define SOUND_H

#include <stdbool.h>
#include <stdint.h>

#include "joints.h"

/* Whether frames of so many samples fit the buffers (README.md). */
bool sound_fits(uint16_t rate_hz, uint16_t samples_per_frame, const struct joints *joints);

/* Gets ready for such frames, with or without something that sounds. What is put out falls to rest first; where nothing changes it goes on from there. */
void sound_open(uint16_t rate_hz, uint16_t samples_per_frame, const struct joints *joints);

/* Room for the samples of the next frame; 0 while it is not yet time. sound_give once they are there. */
int16_t *sound_room(void);
void sound_give(void);

/* Lets what is heard fall to rest, which takes some 40 ms, and stays there however long the next frame takes. */
void sound_rest(void);

#endif
