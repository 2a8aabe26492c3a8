/* Stand-in. */
#ifndef SOUND_H
#define SOUND_H

#include "joints.h"

bool sound_open(uint16_t rate_hz, uint16_t samples_per_frame, const struct joints *joints);
int16_t *sound_room(void);
void sound_give(void);
void sound_rest(void);

#endif
