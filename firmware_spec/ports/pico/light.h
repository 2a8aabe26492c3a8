/* Stand-in. */
#ifndef LIGHT_H
#define LIGHT_H

#include "joints.h"

bool light_open(const struct joints *joints);
void light_show(const uint16_t *duties, uint8_t channels, uint8_t bits);
void light_off(void);

#endif
