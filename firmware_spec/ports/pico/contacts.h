/* Stand-in. */
#ifndef CONTACTS_H
#define CONTACTS_H

#include "joints.h"

void contacts_open(const struct joints *joints);
void contacts_read(uint32_t *closed, uint32_t *struck);
bool contacts_position(uint8_t selector, uint8_t *position);
bool contacts_volume(uint16_t *wanted);

#endif
